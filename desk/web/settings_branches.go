package web

import (
	"fmt"
	"net/http"
	"strings"
	"time"

	"platebook/desk"
)

// listView lists branches, printers or accounts.
type listView struct {
	Title  string
	Say    string
	Places []place
	Items  []listItem
	New    string // path; empty where nothing can be made
	NewSay string
	Old    []listItem // shut, retired, closed
	OldSay string
}

type listItem struct{ Path, Name, Rest, End string }

var listPage = newPage[listView](forStaff, "settings_list.html")

// week is the days in the order a week is written here.
var week = []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday, time.Saturday, time.Sunday}

var branchWords = func() map[string]string {
	words := map[string]string{"name": "Name", "place": "How to find it", "hours": "Hours", "closed": "Closed days", "shut": "Takes no requests any more", "date": "date", "why": "reason"}
	return words
}()

func (s *Site) branchesIndex(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	branches, err := s.desk.Branches(r.Context())
	if err != nil {
		return err
	}
	set, err := s.desk.Settings(r.Context())
	if err != nil {
		return err
	}
	v := listView{Title: "Branches", Places: places(who, "branches"), OldSay: "Shut"}
	if who.Everywhere() {
		v.New, v.NewSay = "/desk/settings/branches/new", "A new branch"
	}
	now, zone := s.now(), set.Library.Zone()
	for _, b := range branches {
		if !who.May(b.ID) {
			continue
		}
		item := listItem{Path: "/desk/settings/branches/" + string(b.ID), Name: b.Name, Rest: b.Place, End: "closed now"}
		if desk.OpenAt(b, now, zone) {
			item.End = "open now"
		} else if next, ok := desk.NextOpening(b, now, zone); ok {
			item.End = "opens " + next.From.In(zone).Format("Monday 15:04")
		} else {
			item.End = "no opening hours"
		}
		if b.Shut {
			item.End = ""
			v.Old = append(v.Old, item)
		} else {
			v.Items = append(v.Items, item)
		}
	}
	return show(s, w, r, http.StatusOK, listPage, v)
}

func branchParts(b desk.Branch, hours [7]string, closed string, all bool) []sheetPart {
	day := sheetPart{Title: "Opening hours", Row: true, Say: "Like 10:00-13:00, 14:00-18:00; empty is closed. By the clock on the branch’s wall, also when clocks change."}
	for _, d := range week {
		day.Fields = append(day.Fields, asked{"text", Field{Name: fmt.Sprintf("hours-%d", d), Label: d.String(), Value: hours[d]}})
	}
	parts := []sheetPart{
		{Fields: []asked{
			{"text", Field{Name: "name", Label: "Name", Value: b.Name, Width: "mid"}},
			{"text", Field{Name: "place", Label: "How to find the desk in it", Value: b.Place, Optional: true, Hint: "For messages, like: ground floor, by the stairs."}},
		}},
		day,
		{Title: "Closed days", Fields: []asked{{"area", Field{Name: "closed", Label: "Dates it is closed besides", Value: closed, Rows: 8, Optional: true,
			Hint: "One a line, the reason behind it: 2026-12-25 Christmas Day"}}}},
	}
	if all && b.ID != "" {
		f := Field{Name: "shut", Label: "The branch takes no requests any more", Hint: "What is open there goes on."}
		if b.Shut {
			f.Value = "yes"
		}
		parts = append(parts, sheetPart{Fields: []asked{{"check", f}}})
	}
	return parts
}

func saidBranch(b desk.Branch) (hours [7]string, closed string) {
	for i, spans := range b.Hours {
		if len(spans) > 0 {
			hours[i] = desk.SayHours(spans)
		}
	}
	var lines []string
	for _, c := range b.Closed {
		lines = append(lines, strings.TrimSpace(c.Date+" "+c.Why))
	}
	return hours, joined(lines)
}

// aBranch begins the page of the branch in the address; "new" is one to be made.
func (s *Site) aBranch(r *http.Request, who desk.Actor) (sheet, desk.Branch, []desk.Setting, error) {
	v := sheet{Places: places(who, "branches"), Path: "/desk/settings/branches/" + r.PathValue("id"), Button: "Save the branch", Title: "A new branch"}
	if r.PathValue("id") == "new" {
		if !who.Everywhere() {
			return v, desk.Branch{}, nil, desk.Faultf(desk.NotYours, "New branches are for managers of all branches. Ask one of them to make it.")
		}
		return v, desk.Branch{}, nil, nil
	}
	branches, err := s.desk.Branches(r.Context())
	if err != nil {
		return v, desk.Branch{}, nil, err
	}
	for _, b := range branches {
		if string(b.ID) != r.PathValue("id") {
			continue
		}
		history, err := s.desk.BranchHistory(r.Context(), who, b.ID)
		v.Title, v.Version, v.Seen = b.Name, b.Version, len(history)
		if len(history) > 0 {
			v.Saved, v.History = savedNote(history, s.zone(r)), v.Path+"/history"
		}
		return v, b, history, err
	}
	return v, desk.Branch{}, nil, notFound()
}

func (s *Site) branchForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, b, _, err := s.aBranch(r, who)
	if err != nil {
		return err
	}
	hours, closed := saidBranch(b)
	v.Parts = branchParts(b, hours, closed, who.Everywhere())
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) saveBranch(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, b, history, err := s.aBranch(r, who)
	if err != nil {
		return err
	}
	t := typedIn(r)
	b.Name, b.Place = t.text("name"), t.text("place")
	if b.Version = number64(r, "version"); b.ID != "" && b.Version == 0 {
		b.Version = -1 // a form without a version was not ours
	}
	if who.Everywhere() && b.ID != "" {
		b.Shut = t.ticked("shut")
	}
	var hours [7]string
	for i := range hours {
		name := fmt.Sprintf("hours-%d", i)
		hours[i] = t.text(name)
		spans, err := desk.ParseHours(hours[i])
		if err != nil {
			t.wrong[name] = time.Weekday(i).String() + ": " + faultOf(err).Say
		}
		b.Hours[i] = spans
	}
	closed := t.text("closed")
	b.Closed = nil
	for _, line := range splitLines(closed) {
		date, why, _ := strings.Cut(line, " ")
		b.Closed = append(b.Closed, desk.ClosedDay{Date: date, Why: strings.TrimSpace(why)})
	}
	if len(t.wrong) == 0 {
		var saved desk.Branch
		if saved, err = s.desk.SaveBranch(r.Context(), who, b); err == nil {
			s.say(r, saved.Name+" is saved.")
			return s.goTo(w, r, "/desk/settings/branches")
		}
	}
	err = t.fault(err)
	v.Parts = branchParts(b, hours, closed, who.Everywhere())
	return s.rowNotSaved(w, r, v, history, err, naming(branchWords, nil))
}

// rowNotSaved is notSaved for what is no document: v has the version that
// stands.
func (s *Site) rowNotSaved(w http.ResponseWriter, r *http.Request, v sheet, history []desk.Setting, err error, name func([]string, string) changed) error {
	if desk.KindOf(err) == desk.Stale {
		v.meanwhile(history, int(number64(r, "seen")), v.Version, s.zone(r), name)
	} else {
		v.Version, v.Seen = number64(r, "version"), int(number64(r, "seen"))
	}
	if !v.fault(err) {
		return err
	}
	return show(s, w, r, statusOf(desk.KindOf(err)), sheetPage, v)
}

func (s *Site) branchHistory(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, _, history, err := s.aBranch(r, who)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, historyPage, historyView{Title: v.Title, Places: v.Places, Back: v.Path, Entries: entries(history, s.zone(r), naming(branchWords, nil))})
}
