package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// StaffForm is what a manager settles about an account. With an empty ID it
// makes a new one.
type StaffForm struct {
	ID      ID
	Version int64
	Name    string // to log in with; cannot be changed later
	Called  string
	Grants  []Grant
	Home    ID // empty is the first branch of the grants
	Active  bool
}

// AllStaff lists the accounts the manager may see: those with a grant at one
// of their branches, those without any, or all.
func (d *Desk) AllStaff(ctx context.Context, by Actor) ([]Staff, error) {
	if !by.Manages() {
		return nil, Faultf(NotYours, "Accounts are for managers. Ask a manager of your branch.")
	}
	var seen []Staff
	err := d.Store.Read(ctx, func(tx Tx) error {
		all, err := tx.AllStaff()
		seen = slices.DeleteFunc(all, func(s Staff) bool {
			return len(s.Grants) > 0 && !by.Everywhere() &&
				!slices.ContainsFunc(s.Grants, func(g Grant) bool { return g.Branch == "" || by.May(g.Branch) })
		})
		return err
	})
	return seen, err
}

// Manages says whether a is a manager of anything.
func (a Actor) Manages() bool {
	return a.Kind == ByStaff && slices.ContainsFunc(a.Grants, func(g Grant) bool { return g.Role == Manager })
}

// OneStaff is the account with what it was before, newest first, for a manager
// who may see it.
func (d *Desk) OneStaff(ctx context.Context, by Actor, id ID) (Staff, []Setting, error) {
	all, err := d.AllStaff(ctx, by)
	if err != nil {
		return Staff{}, nil, err
	}
	for _, s := range all {
		if s.ID == id {
			history, err := d.rowHistory(ctx, "staff", id)
			return s, history, err
		}
	}
	return Staff{}, nil, noSuchStaff()
}

func noSuchStaff() *Fault {
	return Faultf(NotFound, "There is no such account, or not at your branches. Go back to the list of staff.")
}

// SaveStaff makes or changes an account. A new one gets a one-time word, which
// is returned and kept nowhere: the manager hands it over.
//
// A manager gives and takes only what they hold themselves, at their own
// branches, and there is always one active manager of all branches.
func (d *Desk) SaveStaff(ctx context.Context, by Actor, f StaffForm) (Staff, string, error) {
	f.Called = tidy(f.Called)
	word, kept := "", ""
	if f.ID == "" {
		f.Name = loginName(f.Name)
		word = NewWord()
		free, err := hashSlot(ctx)
		if err != nil {
			return Staff{}, "", err
		}
		kept = hashPassword(bareWord(word), d.cost())
		free()
	}
	var s Staff
	err := d.Store.Write(ctx, func(tx Tx) error {
		var was Staff
		if f.ID == "" {
			was = Staff{ID: NewID(), Name: f.Name, Password: kept, OneTime: true, Made: d.now(), Renewed: d.now()}
			if err := mayMakeStaff(tx, by, f); err != nil {
				return err
			}
		} else {
			var err error
			if was, err = staffToChange(tx, by, f.ID, f.Version); KindOf(err) == Stale && sameStaff(f, was) {
				s = was // the same form sent twice is one saving
				return nil
			}
			if err != nil {
				return err
			}
		}
		if err := validStaff(tx, &f); err != nil {
			return err
		}
		if err := mayGrant(by, was.Grants, f.Grants); err != nil {
			return err
		}
		s = was
		s.Called, s.Grants, s.Home, s.Active = f.Called, f.Grants, f.Home, f.Active
		beyond := !holdsAll(by, was.Grants)
		if beyond && (s.Called != was.Called || s.Active != was.Active || s.Home != was.Home) {
			return Faultf(NotYours, "This account also works at branches that are not yours. You can give and take roles at your own; the rest is for a manager of all branches.")
		}
		if was.Version != 0 && !s.Active && was.ID == by.ID {
			return &Fault{Kind: Wrong, Say: "You cannot close your own account. Ask another manager to do it.",
				Fields: map[string]string{"active": "You cannot close your own account."}}
		}
		if was.Version != 0 && was.Active && !s.Active {
			s.renew(d.now()) // sessions are over, also if it is opened again
		}
		if err := tx.SaveStaff(&s); err != nil {
			return err
		}
		if err := aManagerIsLeft(tx); err != nil {
			return err
		}
		return d.keepRow(tx, by, "staff", s.ID, staffRow(s))
	})
	if err != nil {
		return Staff{}, "", err
	}
	return s, word, nil
}

// ResetPassword gives an account a one-time word instead of its password, and
// ends its sessions.
func (d *Desk) ResetPassword(ctx context.Context, by Actor, id ID, version int64) (Staff, string, error) {
	word := NewWord()
	free, err := hashSlot(ctx)
	if err != nil {
		return Staff{}, "", err
	}
	kept := hashPassword(bareWord(word), d.cost())
	free()
	var s Staff
	err = d.Store.Write(ctx, func(tx Tx) error {
		var err error
		if s, err = staffToChange(tx, by, id, version); err != nil {
			return err
		}
		// Whoever resets a password could then log in with all it opens.
		if !holdsAll(by, s.Grants) {
			return Faultf(NotYours, "This account also works at branches that are not yours, so only a manager of all branches can give it a new password.")
		}
		s.Password, s.OneTime = kept, true
		s.renew(d.now())
		if err := tx.SaveStaff(&s); err != nil {
			return err
		}
		return d.keepRow(tx, by, "staff", s.ID, staffRow(s))
	})
	if err != nil {
		return Staff{}, "", err
	}
	return s, word, nil
}

// SetPassword sets the password of whoever asks. All their sessions are over:
// the page that asked begins a new one.
func (d *Desk) SetPassword(ctx context.Context, by Actor, old, password string) (Staff, error) {
	var s Staff
	var library string
	err := d.Store.Read(ctx, func(tx Tx) error {
		set, err := settings(tx)
		if err != nil {
			return err
		}
		library = set.Library.Name
		if s, err = tx.Staff(by.ID); KindOf(err) == NotFound || by.Kind != ByStaff {
			return noSuchStaff()
		}
		return err
	})
	if err != nil {
		return Staff{}, err
	}
	if why := judgePassword(password, library, s.Name, s.Called); why != "" {
		return Staff{}, fieldFault("password", why)
	}
	free, err := hashSlot(ctx)
	if err != nil {
		return Staff{}, err
	}
	defer free()
	// A session left open must not be a place to guess at: the same tries count.
	if s, err = d.try(ctx, s.Name, old, by.From); err != nil {
		if KindOf(err) == Wrong {
			return Staff{}, &Fault{Kind: Wrong, Say: "Your present password is not right, so the new one was not set.", Err: err,
				Fields: map[string]string{"old": "This is not your present password."}}
		}
		return Staff{}, err
	}
	if old == password {
		return Staff{}, fieldFault("password", "This is the password you have. Choose another.")
	}
	kept := hashPassword(password, d.cost())
	seen := s.Version
	err = d.Store.Write(ctx, func(tx Tx) error {
		var err error
		if s, err = tx.Staff(by.ID); err != nil {
			return err
		}
		if s.Version != seen {
			return Faultf(Stale, "A manager changed your account at this moment. Send the new password again.")
		}
		s.Password, s.OneTime = kept, false
		s.renew(d.now())
		if err := tx.SaveStaff(&s); err != nil {
			return err
		}
		return d.keepRow(tx, s.actor(by.From), "staff", s.ID, staffRow(s))
	})
	return s, err
}

// Me is the account of whoever asks.
func (d *Desk) Me(ctx context.Context, by Actor) (Staff, error) {
	var s Staff
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		if s, err = tx.Staff(by.ID); KindOf(err) == NotFound || by.Kind != ByStaff {
			return noSuchStaff()
		}
		return err
	})
	return s, err
}

// SaveMe changes what people may change of their own account.
func (d *Desk) SaveMe(ctx context.Context, by Actor, version int64, called string, home ID) (Staff, error) {
	var s Staff
	err := d.Store.Write(ctx, func(tx Tx) error {
		var err error
		if s, err = tx.Staff(by.ID); KindOf(err) == NotFound || by.Kind != ByStaff {
			return noSuchStaff()
		} else if err != nil {
			return err
		}
		if version != 0 && version != s.Version {
			return staleRow("your account")
		}
		f := StaffForm{ID: s.ID, Name: s.Name, Called: tidy(called), Grants: s.Grants, Home: home}
		if err := validStaff(tx, &f); err != nil {
			return err
		}
		s.Called, s.Home = f.Called, f.Home
		if err := tx.SaveStaff(&s); err != nil {
			return err
		}
		return d.keepRow(tx, by, "staff", s.ID, staffRow(s))
	})
	return s, err
}

// staffToChange loads an account for a manager to change.
func staffToChange(tx Tx, by Actor, id ID, version int64) (Staff, error) {
	s, err := tx.Staff(id)
	if KindOf(err) == NotFound {
		return s, noSuchStaff()
	}
	if err != nil {
		return s, err
	}
	if !by.Manages() {
		return s, Faultf(NotYours, "Accounts are for managers. Ask a manager of your branch to do it.")
	}
	if version != 0 && version != s.Version {
		return s, staleRow("this account")
	}
	return s, nil
}

func sameStaff(f StaffForm, s Staff) bool {
	if len(f.Grants) != len(s.Grants) || f.Called != s.Called || f.Home != s.Home || f.Active != s.Active {
		return false
	}
	for _, g := range f.Grants {
		if !slices.Contains(s.Grants, g) {
			return false
		}
	}
	return true
}

func mayMakeStaff(tx Tx, by Actor, f StaffForm) error {
	if !by.Manages() {
		return Faultf(NotYours, "Accounts are for managers. Ask a manager of your branch to make one.")
	}
	if !nameForm.MatchString(f.Name) {
		return fieldFault("name", "Write a name to log in with: 2 to 60 letters, digits, or . _ @ + - with no spaces.")
	}
	switch _, err := tx.StaffByName(f.Name); KindOf(err) {
	case NotFound:
		return nil
	case "":
		return fieldFault("name", "There is an account of this name already. Choose another name.")
	default:
		return err
	}
}

// validStaff checks and tidies what is in the form.
func validStaff(tx Tx, f *StaffForm) error {
	fields := map[string]string{}
	if f.Called == "" || len([]rune(f.Called)) > 60 {
		fields["called"] = "Write the name colleagues and patrons see, at most 60 characters."
	}
	branches, err := tx.Branches()
	if err != nil {
		return err
	}
	isBranch := func(id ID) bool {
		return slices.ContainsFunc(branches, func(b Branch) bool { return b.ID == id })
	}
	var grants []Grant
	for _, g := range f.Grants {
		if !slices.Contains(Roles(), g.Role) || g.Branch != "" && !isBranch(g.Branch) {
			fields["grants"] = "One of the roles or branches is not there any more. Reload the page and choose again."
		}
		if !slices.Contains(grants, g) {
			grants = append(grants, g)
		}
	}
	slices.SortFunc(grants, func(a, b Grant) int {
		if c := strings.Compare(string(a.Branch), string(b.Branch)); c != 0 {
			return c
		}
		return slices.Index(Roles(), a.Role) - slices.Index(Roles(), b.Role)
	})
	f.Grants = grants
	if f.Home != "" && !isBranch(f.Home) {
		fields["home"] = "This branch is not there any more. Choose another."
	}
	if f.Home == "" {
		for _, g := range grants {
			if f.Home == "" {
				f.Home = g.Branch
			}
		}
	}
	if f.Home == "" && len(branches) > 0 {
		f.Home = branches[0].ID
	}
	return faultOf(fields)
}

// holds says whether a manager may give or take the grant.
func holds(by Actor, g Grant) bool {
	if g.Branch == "" {
		return by.Everywhere()
	}
	return by.May(g.Branch) // no role named: only a manager may
}

func holdsAll(by Actor, grants []Grant) bool {
	return !slices.ContainsFunc(grants, func(g Grant) bool { return !holds(by, g) })
}

// mayGrant says whether by may turn one set of grants into the other.
func mayGrant(by Actor, was, is []Grant) error {
	var changed []Grant
	for _, g := range is {
		if !slices.Contains(was, g) {
			changed = append(changed, g)
		}
	}
	for _, g := range was {
		if !slices.Contains(is, g) {
			changed = append(changed, g)
		}
	}
	if holdsAll(by, changed) {
		return nil
	}
	return &Fault{Kind: NotYours, Say: "You can give and take roles only at branches you manage. Leave the others as they are, or ask a manager of all branches.",
		Fields: map[string]string{"grants": "Roles at branches you do not manage stay as they are."}}
}

// aManagerIsLeft looks at the accounts as they would be.
func aManagerIsLeft(tx Tx) error {
	all, err := tx.AllStaff()
	if err != nil {
		return err
	}
	for _, s := range all {
		if s.Active && slices.Contains(s.Grants, Grant{Role: Manager}) {
			return nil
		}
	}
	return &Fault{Kind: Wrong, Say: "This is the last manager of all branches, and without one nobody could change the settings any more. Make another one first.",
		Fields: map[string]string{"grants": "The last manager of all branches stays one."}}
}

// staffRow is what the history of an account keeps: nothing of the password.
type staffAsKept struct {
	Name    string  `json:"name"`
	Called  string  `json:"called"`
	Grants  []Grant `json:"roles"`
	Home    ID      `json:"home"`
	Active  bool    `json:"active"`
	Renewed string  `json:"password_set"`
	OneTime bool    `json:"one_time_word"`
}

func staffRow(s Staff) staffAsKept {
	return staffAsKept{s.Name, s.Called, s.Grants, s.Home, s.Active, s.Renewed.Format("2006-01-02 15:04:05"), s.OneTime}
}

// tidy is text of one line as it is kept.
func tidy(s string) string { return CleanLine(s, 2000) }

func fieldFault(field, say string) *Fault {
	return &Fault{Kind: Wrong, Say: say, Fields: map[string]string{field: say}}
}

// faultOf is a Wrong fault of several fields, nil if there is none.
func faultOf(fields map[string]string) error {
	switch len(fields) {
	case 0:
		return nil
	case 1:
		for f, say := range fields {
			return fieldFault(f, say)
		}
	}
	return &Fault{Kind: Wrong, Say: fmt.Sprintf("%d things need another look; nothing was saved.", len(fields)), Fields: fields}
}

func staleRow(what string) *Fault {
	return Faultf(Stale, "Someone changed %s while you had it open. What you typed is still here; what it is now is shown beside it. Look at both, then save again.", what)
}
