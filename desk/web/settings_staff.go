package web

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"platebook/desk"
)

var staffWords = map[string]string{"name": "Name to log in with", "called": "Name", "roles": "Roles", "home": "Begins at", "active": "Account is open",
	"password_set": "Password set", "one_time_word": "Has a one-time word", "role": "role", "branch": "branch"}

func (s *Site) staffIndex(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	all, err := s.desk.AllStaff(r.Context(), who)
	if err != nil {
		return err
	}
	branches, err := s.desk.Branches(r.Context())
	if err != nil {
		return err
	}
	v := listView{Title: "Staff", Places: places(who, "staff"), New: "/desk/settings/staff/new", NewSay: "A new account", OldSay: "Closed accounts"}
	for _, a := range all {
		item := listItem{Path: "/desk/settings/staff/" + string(a.ID), Name: a.Called, Rest: strings.Join(sayGrants(a.Grants, branches), ", "), End: a.Name}
		if item.Rest == "" {
			item.Rest = "no roles"
		}
		if a.OneTime {
			item.Rest += "; has a one-time word"
		}
		if a.Active {
			v.Items = append(v.Items, item)
		} else {
			v.Old = append(v.Old, item)
		}
	}
	return show(s, w, r, http.StatusOK, listPage, v)
}

// staffView is one account.
type staffView struct {
	Sheet sheet
	Word  string // to be handed over; shown this once
	Reset string // where the form for a new password is sent; empty where it may not be
	Days  int    // the word is good for
}

var staffPage = newPage[staffView](forStaff, "settings_staff.html")

var roleWords = map[desk.Role]string{
	desk.Reviewer: "reviewer: looks at requests, quotes, declines, answers",
	desk.Operator: "operator: prints, weighs, shelves, hands over",
	desk.Manager:  "manager: all of that, with settings, accounts and what is let off",
}

func (s *Site) staffParts(who desk.Actor, a desk.Staff, branches []desk.Branch) []sheetPart {
	first := sheetPart{Fields: []asked{{"text", Field{Name: "called", Label: "Name, as patrons and colleagues see it", Value: a.Called, Width: "mid"}}}}
	if a.ID == "" {
		first.Fields = append([]asked{{"text", Field{Name: "name", Label: "Name to log in with", Value: a.Name, Width: "mid", Auto: "off",
			Hint: "Letters, digits, or . _ @ + - with no spaces. It cannot be changed later."}}}, first.Fields...)
	}
	first.Fields = append(first.Fields, asked{"select", Field{Name: "home", Label: "Branch they begin at", Value: string(a.Home), Type: "select", Choices: branchChoices(branches)}})
	roles := sheetPart{Title: "Roles"}
	where := []desk.Branch{}
	if who.Everywhere() {
		where = append(where, desk.Branch{Name: "All branches"})
	}
	for _, b := range branches {
		if who.May(b.ID) {
			where = append(where, b)
		}
	}
	for _, b := range where {
		f := Field{Name: "at-" + string(b.ID), Label: b.Name}
		for _, role := range desk.Roles() {
			f.Choices = append(f.Choices, Choice{Value: string(role), Label: roleWords[role], Chosen: slices.Contains(a.Grants, desk.Grant{Role: role, Branch: b.ID})})
		}
		roles.Fields = append(roles.Fields, asked{"checks", f})
	}
	if kept := beyond(who, a.Grants); len(kept) > 0 {
		roles.Say = "Also " + strings.Join(sayGrants(kept, branches), ", ") + "; that stays as it is."
	}
	parts := []sheetPart{first, roles}
	if a.ID != "" && a.ID != who.ID {
		f := Field{Name: "active", Label: "The account is open", Hint: "Closed, its sessions end at once; what was done under it stays in the history."}
		if a.Active {
			f.Value = "yes"
		}
		parts = append(parts, sheetPart{Title: "Account", Fields: []asked{{"check", f}}})
	}
	return parts
}

// beyond are the roles someone cannot give or take.
func beyond(who desk.Actor, grants []desk.Grant) []desk.Grant {
	return slices.DeleteFunc(slices.Clone(grants), func(g desk.Grant) bool {
		return who.Everywhere() || g.Branch != "" && who.May(g.Branch)
	})
}

func (s *Site) aStaff(r *http.Request, who desk.Actor) (staffView, desk.Staff, []desk.Branch, []desk.Setting, error) {
	v := staffView{Sheet: sheet{Places: places(who, "staff"), Path: "/desk/settings/staff/" + r.PathValue("id"), Button: "Save the account", Title: "A new account"}, Days: 3}
	branches, err := s.desk.Branches(r.Context())
	if err != nil {
		return v, desk.Staff{}, nil, nil, err
	}
	if r.PathValue("id") == "new" {
		if !who.Manages() {
			return v, desk.Staff{}, nil, nil, desk.Faultf(desk.NotYours, "Accounts are for managers. Ask a manager of your branch to make one.")
		}
		v.Sheet.Button = "Make the account"
		return v, desk.Staff{Home: who.Home, Active: true}, branches, nil, nil
	}
	a, history, err := s.desk.OneStaff(r.Context(), who, desk.ID(r.PathValue("id")))
	if err != nil {
		return v, a, nil, nil, err
	}
	v.Sheet.Title, v.Sheet.Version, v.Sheet.Seen = a.Called, a.Version, len(history)
	v.Sheet.Lead = "Logs in as " + a.Name + "."
	if len(history) > 0 {
		v.Sheet.Saved, v.Sheet.History = savedNote(history, s.zone(r)), v.Sheet.Path+"/history"
	}
	if a.ID != who.ID && len(beyond(who, a.Grants)) == 0 {
		v.Reset = v.Sheet.Path + "/word"
	}
	return v, a, branches, history, nil
}

func (s *Site) staffForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, a, branches, _, err := s.aStaff(r, who)
	if err != nil {
		return err
	}
	v.Sheet.Parts = s.staffParts(who, a, branches)
	return show(s, w, r, http.StatusOK, staffPage, v)
}

func (s *Site) saveStaff(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, a, branches, history, err := s.aStaff(r, who)
	if err != nil {
		return err
	}
	f := desk.StaffForm{ID: a.ID, Version: number64(r, "version"), Name: r.PostFormValue("name"), Called: r.PostFormValue("called"),
		Home: desk.ID(r.PostFormValue("home")), Grants: beyond(who, a.Grants), Active: a.Active}
	if a.ID != "" && f.Version == 0 {
		f.Version = -1 // a form without a version was not ours
	}
	for _, b := range append([]desk.Branch{{}}, branches...) {
		for _, role := range r.PostForm["at-"+string(b.ID)] {
			f.Grants = append(f.Grants, desk.Grant{Role: desk.Role(role), Branch: b.ID})
		}
	}
	if a.ID != "" && a.ID != who.ID {
		f.Active = r.PostFormValue("active") != ""
	}
	saved, word, err := s.desk.SaveStaff(r.Context(), who, f)
	if err == nil && word == "" {
		s.say(r, "The account of "+saved.Called+" is saved.")
		return s.goTo(w, r, "/desk/settings/staff")
	}
	if err == nil {
		return show(s, w, r, http.StatusOK, staffPage, staffView{Word: word, Days: v.Days,
			Sheet: sheet{Title: saved.Called, Lead: "Logs in as " + saved.Name + ".", Places: v.Sheet.Places}})
	}
	a.Name, a.Called, a.Grants, a.Home, a.Active = f.Name, f.Called, f.Grants, f.Home, f.Active
	v.Sheet.Parts = s.staffParts(who, a, branches)
	k := desk.KindOf(err)
	if k == desk.Stale {
		v.Sheet.meanwhile(history, int(number64(r, "seen")), v.Sheet.Version, s.zone(r), naming(staffWords, branchNames(branches)))
	} else {
		v.Sheet.Version, v.Sheet.Seen = number64(r, "version"), int(number64(r, "seen"))
	}
	if !v.Sheet.fault(err) {
		return err
	}
	return show(s, w, r, statusOf(k), staffPage, v)
}

func (s *Site) resetPassword(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, a, branches, history, err := s.aStaff(r, who)
	if err != nil {
		return err
	}
	version := number64(r, "version")
	if version == 0 {
		version = -1 // a form without a version was not ours
	}
	saved, word, err := s.desk.ResetPassword(r.Context(), who, a.ID, version)
	if desk.KindOf(err) == desk.Stale {
		v.Sheet.Parts = s.staffParts(who, a, branches)
		v.Sheet.meanwhile(history, int(number64(r, "seen")), v.Sheet.Version, s.zone(r), naming(staffWords, branchNames(branches)))
		v.Sheet.fault(err)
		return show(s, w, r, http.StatusConflict, staffPage, v)
	}
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, staffPage, staffView{Word: word, Days: v.Days,
		Sheet: sheet{Title: saved.Called, Lead: "Logs in as " + saved.Name + ".", Places: v.Sheet.Places}})
}

func (s *Site) staffHistory(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, _, branches, history, err := s.aStaff(r, who)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, historyPage, historyView{Title: v.Sheet.Title, Places: v.Sheet.Places, Back: v.Sheet.Path,
		Entries: entries(history, s.zone(r), naming(staffWords, branchNames(branches)))})
}

// logInsView is the audit of log-ins.
type logInsView struct {
	Places []place
	Name   Field
	Days   int // back
	Lines  []logInLine
	More   bool // there are older ones than shown
}

type logInLine struct {
	At              time.Time
	Name, From, Say string
	OK              bool
}

var logInsPageOf = newPage[logInsView](forStaff, "settings_logins.html")

// mostLogIns is how many lines of the audit one page shows.
const mostLogIns = 300

func (s *Site) logInsPage(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	set, err := s.desk.Settings(r.Context())
	if err != nil {
		return err
	}
	name := r.URL.Query().Get("name")
	lines, err := s.desk.LogIns(r.Context(), who, s.now().AddDate(0, 0, -set.Rules.AuditDays), name, "", mostLogIns+1)
	if err != nil {
		return err
	}
	v := logInsView{Places: places(who, "log-ins"), Name: Field{Name: "name", Label: "Only of this name", Value: name, Optional: true, Width: "mid"}, Days: set.Rules.AuditDays}
	if len(lines) > mostLogIns {
		lines, v.More = lines[:mostLogIns], true
	}
	for _, l := range lines {
		say := "logged in"
		if !l.OK {
			say = "refused: " + l.Why
		}
		v.Lines = append(v.Lines, logInLine{local(l.At, set.Library.TimeZone), l.Name, l.From, say, l.OK})
	}
	return show(s, w, r, http.StatusOK, logInsPageOf, v)
}
