package desk_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
)

// office is a desk with a store of its own and a clock tests move.
type office struct {
	*desk.Desk
	t   *testing.T
	now time.Time
}

const (
	setUp    = "ABCD-EFHJ-KLMN-PRTV"
	password = "mauve teapots wander"
)

var quick = desk.PasswordCost{KiB: 64, Passes: 1, Lanes: 1}

func newOffice(t *testing.T) *office {
	t.Helper()
	o := &office{t: t, now: time.Date(2026, 5, 4, 9, 0, 0, 0, time.UTC)}
	s, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Now: func() time.Time { return o.now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	o.Desk = &desk.Desk{Store: s, Shelves: s.Shelves(), Now: func() time.Time { return o.now }, Secret: []byte("of this test"), SetUpWord: setUp, Passwords: quick}
	return o
}

func first() desk.FirstForm {
	return desk.FirstForm{Word: setUp, Library: "Larkmere Libraries", Address: "https://print.larkmere.example", TimeZone: "Europe/Dublin", Locale: "en-IE",
		Currency: "EUR", Branch: "Millgate", Name: "Rowan", Called: "Rowan", Password: password}
}

// manager makes the first account and returns it as an actor.
func (o *office) manager() desk.Actor {
	o.t.Helper()
	s, err := o.FirstManager(o.t.Context(), first())
	if err != nil {
		o.t.Fatal(err)
	}
	return o.as(s)
}

func (o *office) as(s desk.Staff) desk.Actor {
	o.t.Helper()
	a, err := o.ActorFor(o.t.Context(), s.ID, "192.0.2.1", o.now)
	if err != nil {
		o.t.Fatal(err)
	}
	return a
}

func (o *office) branch(by desk.Actor, name string) desk.Branch {
	o.t.Helper()
	b, err := o.SaveBranch(o.t.Context(), by, desk.Branch{Name: name})
	if err != nil {
		o.t.Fatal(err)
	}
	return b
}

// someone makes an account with a password of its own.
func (o *office) someone(by desk.Actor, name string, grants ...desk.Grant) desk.Staff {
	o.t.Helper()
	s, word, err := o.SaveStaff(o.t.Context(), by, desk.StaffForm{Name: name, Called: strings.ToUpper(name), Grants: grants, Active: true})
	if err != nil {
		o.t.Fatal(err)
	}
	if s, err = o.SetPassword(o.t.Context(), o.as(s), word, password); err != nil {
		o.t.Fatal(err)
	}
	return s
}

func want(t *testing.T, what string, err error, kind desk.Kind) {
	t.Helper()
	if got := desk.KindOf(err); got != kind {
		t.Errorf("%s: %q, want %q (%v)", what, got, kind, err)
	}
}

func TestFirstManager(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	if need, err := o.NeedsManager(ctx); err != nil || !need {
		t.Fatal(need, err)
	}
	for field, change := range map[string]func(*desk.FirstForm){
		"word":      func(f *desk.FirstForm) { f.Word = "ABCD-EFHJ-KLMN-PRTX" },
		"library":   func(f *desk.FirstForm) { f.Library = " " },
		"address":   func(f *desk.FirstForm) { f.Address = "http://print.larkmere.example" },
		"time_zone": func(f *desk.FirstForm) { f.TimeZone = "Europe/Larkmere" },
		"locale":    func(f *desk.FirstForm) { f.Locale = "!" },
		"currency":  func(f *desk.FirstForm) { f.Currency = "XXQ" },
		"branch":    func(f *desk.FirstForm) { f.Branch = "" },
		"name":      func(f *desk.FirstForm) { f.Name = "two words" },
		"called":    func(f *desk.FirstForm) { f.Called = "\x00\u202e" },
		"password":  func(f *desk.FirstForm) { f.Password = "larkmere2026" },
	} {
		f := first()
		change(&f)
		_, err := o.FirstManager(ctx, f)
		want(t, field, err, desk.Wrong)
		var fault *desk.Fault
		if !errors.As(err, &fault) || fault.Fields[field] == "" {
			t.Errorf("%s: nothing is said of the field: %v", field, err)
		}
		if need, _ := o.NeedsManager(ctx); !need {
			t.Fatalf("%s: there is an account now", field)
		}
	}
	// A desk nobody printed a word for takes none.
	o.SetUpWord = ""
	f := first()
	f.Word = ""
	_, err := o.FirstManager(ctx, f)
	want(t, "no word at all", err, desk.Wrong)
	o.SetUpWord = setUp

	// Ten at once: one gets it.
	var wg sync.WaitGroup
	var mu sync.Mutex
	made, late := 0, 0
	for i := range 10 {
		wg.Go(func() {
			f := first()
			f.Name, f.Branch = fmt.Sprintf("rowan%d", i), fmt.Sprintf("Branch %d", i)
			_, err := o.FirstManager(ctx, f)
			mu.Lock()
			defer mu.Unlock()
			switch desk.KindOf(err) {
			case "":
				made++
			case desk.NotNow:
				late++
			default:
				t.Error(err)
			}
		})
	}
	wg.Wait()
	if made != 1 || late != 9 {
		t.Errorf("%d made, %d too late", made, late)
	}
	branches, err := o.Branches(ctx)
	if err != nil || len(branches) != 1 {
		t.Errorf("%d branches, %v", len(branches), err)
	}
	s, err := o.Settings(ctx)
	if err != nil || s.Library.Name != "Larkmere Libraries" || s.Tariff.Currency != "EUR" || s.Versions[desk.LibrarySetting] != 1 || s.Library.Languages[0] != "en" {
		t.Errorf("%+v, %v", s.Library, err)
	}
}

func TestFirstTariffInEveryKindOfCurrency(t *testing.T) {
	for _, c := range []string{"EUR", "JPY", "KWD", "cad"} { // 2, 0, 3 decimals (ISO 4217)
		o := newOffice(t)
		f := first()
		f.Currency = c
		if _, err := o.FirstManager(t.Context(), f); err != nil {
			t.Errorf("%s: %v", c, err)
		}
	}
}

func TestLogIn(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	rowan := o.manager()
	s, err := o.LogIn(ctx, " ROWAN ", password, "192.0.2.9:1234")
	if err != nil || s.ID != rowan.ID {
		t.Fatal(s.ID, err)
	}
	_, unknown := o.LogIn(ctx, "nobody", password, "192.0.2.9")
	_, wrong := o.LogIn(ctx, "rowan", password+"!", "192.0.2.9")
	want(t, "an unknown name", unknown, desk.Wrong)
	want(t, "a wrong password", wrong, desk.Wrong)
	say := func(err error) string {
		var f *desk.Fault
		if !errors.As(err, &f) {
			t.Fatal(err)
		}
		return f.Say + fmt.Sprint(f.Fields)
	}
	if say(unknown) != say(wrong) {
		t.Errorf("names can be told: %q, %q", say(unknown), say(wrong))
	}
	for _, name := range []string{"", " ", "\x00"} {
		_, err := o.LogIn(ctx, name, password, "192.0.2.9")
		want(t, "an empty name", err, desk.Wrong)
	}
	lines, err := o.LogIns(ctx, rowan, o.now.Add(-time.Hour), "", "", 10)
	if err != nil || len(lines) != 3 || lines[2].Name != "rowan" || !lines[2].OK || lines[2].From != "192.0.2.9" || lines[1].Why != "no such name" || lines[0].Why != "wrong password" {
		t.Errorf("%+v, %v", lines, err)
	}
	for _, l := range lines {
		if strings.Contains(fmt.Sprint(l), password) {
			t.Error("the audit keeps a password")
		}
	}
}

// The work for a name that is not there is that for one that is: a try is
// hashed at the cost accounts have. It is counted, not timed.
func TestUnknownNamesAreHashed(t *testing.T) {
	o := newOffice(t)
	o.manager()
	o.Passwords = desk.PasswordCost{KiB: 64, Passes: 1, Lanes: 1}
	for _, name := range []string{"rowan", "nobody"} {
		n := desk.HashedWhile(func() {
			if _, err := o.LogIn(t.Context(), name, "not the password", "192.0.2.9"); err == nil {
				t.Error("let in")
			}
		})
		if n != 1 {
			t.Errorf("%s: hashed %d times", name, n)
		}
	}
}

func TestGuessingIsSlowedDown(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	o.manager()
	guess := func(name, from string) desk.Kind {
		_, err := o.LogIn(ctx, name, "a wrong password", from)
		return desk.KindOf(err)
	}
	for _, name := range []string{"rowan", "nobody"} { // the same for a name that is not there
		for i := range 5 {
			if k := guess(name, "192.0.2.9"); k != desk.Wrong {
				t.Fatalf("%s, guess %d: %s", name, i+1, k)
			}
		}
		_, err := o.LogIn(ctx, name, password, "192.0.2.9")
		want(t, name+", the right one, too soon", err, desk.TooMany)
		if err == nil || !strings.Contains(err.Error(), "15 seconds") {
			t.Errorf("it is not said how long to wait: %v", err)
		}
		o.now = o.now.Add(14 * time.Second)
		want(t, name+", 14 s on", kindErr(guess(name, "192.0.2.9")), desk.TooMany)
		o.now = o.now.Add(2 * time.Second)
		want(t, name+", 16 s on", kindErr(guess(name, "192.0.2.9")), desk.Wrong)
		o.now = o.now.Add(29 * time.Second)
		want(t, name+", 29 of 30 s", kindErr(guess(name, "192.0.2.9")), desk.TooMany)
		o.now = o.now.Add(2 * time.Second)
	}
	// Elsewhere the person gets in, and from then on there.
	if _, err := o.LogIn(ctx, "rowan", password, "198.51.100.4"); err != nil {
		t.Error(err)
	}
	// The longest wait is a quarter of an hour, so that nobody is kept out for good.
	for range 12 {
		guess("rowan", "192.0.2.9")
		o.now = o.now.Add(15*time.Minute + time.Second)
	}
	if _, err := o.LogIn(ctx, "rowan", password, "192.0.2.9"); err != nil {
		t.Error(err)
	}
	// After that the row of failures begins anew.
	want(t, "after a success", kindErr(guess("rowan", "192.0.2.9")), desk.Wrong)
}

func kindErr(k desk.Kind) error { return desk.Faultf(k, "of a test") }

func TestGuessingFromManyAddresses(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	o.manager()
	if _, err := o.LogIn(ctx, "rowan", password, "198.51.100.4"); err != nil {
		t.Fatal(err)
	}
	refused := 0
	for i := range 60 {
		if _, err := o.LogIn(ctx, "rowan", "a wrong password", fmt.Sprintf("203.0.113.%d", i)); desk.KindOf(err) == desk.TooMany {
			refused++
		}
	}
	if refused != 40 {
		t.Errorf("%d of 60 guesses from as many addresses were refused, want all after 20", refused)
	}
	// Who works there goes on working there.
	if _, err := o.LogIn(ctx, "rowan", password, "198.51.100.4"); err != nil {
		t.Errorf("shut out of their own place: %v", err)
	}
	_, err := o.LogIn(ctx, "rowan", password, "198.51.100.5")
	want(t, "from a new place", err, desk.TooMany)
}

func TestGuessingOnePasswordAtManyNames(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	refused := 0
	for i := range 60 {
		if _, err := o.LogIn(ctx, fmt.Sprintf("name%d", i), "Summer-2026-Summer", "203.0.113.7"); desk.KindOf(err) == desk.TooMany {
			refused++
		}
	}
	if refused != 20 {
		t.Errorf("%d of 60 were refused, want all after 40", refused)
	}
	lines, err := o.LogIns(ctx, by, time.Time{}, "", "203.0.113.7", 100)
	if err != nil || len(lines) != 40 {
		t.Errorf("%d lines of the audit, %v: what is turned away must not make it longer", len(lines), err)
	}
}

// Fifty at the same moment: no more are hashed than are free, and one for each
// slot.
func TestGuessingAtOnce(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	o.manager()
	var wg sync.WaitGroup
	n := desk.HashedWhile(func() {
		for range 50 {
			wg.Go(func() {
				if _, err := o.LogIn(ctx, "rowan", "a wrong password", "203.0.113.7"); err == nil {
					t.Error("let in")
				}
			})
		}
		wg.Wait()
	})
	if n < 5 || n > 6 {
		t.Errorf("%d guesses were looked at; 5 are free, and one more may be on its way", n)
	}
}

func TestSessionsEnd(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	mill := o.branch(by, "Saltholm")
	ash := o.someone(by, "ash", desk.Grant{Role: desk.Operator, Branch: mill.ID})
	began := o.now
	actor := func() error {
		_, err := o.ActorFor(ctx, ash.ID, "192.0.2.1", began)
		return err
	}
	if err := actor(); err != nil {
		t.Fatal(err)
	}
	// A manager's new word ends it at once, and the word opens nothing else.
	o.now = o.now.Add(time.Minute)
	ash, word, err := o.ResetPassword(ctx, by, ash.ID, ash.Version)
	if err != nil {
		t.Fatal(err)
	}
	want(t, "after a reset", actor(), desk.NotYours)
	_, err = o.LogIn(ctx, "ash", password, "192.0.2.1")
	want(t, "the old password", err, desk.Wrong)
	if _, err := o.LogIn(ctx, "ash", strings.ToLower(word), "192.0.2.1"); err != nil {
		t.Fatal(err)
	}
	began = o.now
	a, err := o.ActorFor(ctx, ash.ID, "192.0.2.1", began)
	if err != nil || !a.MustRenew || a.May(mill.ID, desk.Operator) {
		t.Errorf("with a one-time word: %+v, %v", a, err)
	}
	// So does a password of one's own.
	o.now = o.now.Add(time.Minute)
	if _, err = o.SetPassword(ctx, a, "not the word", "quiet lamps borrow rain"); desk.KindOf(err) != desk.Wrong {
		t.Error(err)
	}
	if ash, err = o.SetPassword(ctx, a, word, "quiet lamps borrow rain"); err != nil {
		t.Fatal(err)
	}
	want(t, "after a new password", actor(), desk.NotYours)
	began = o.now
	if a, err = o.ActorFor(ctx, ash.ID, "192.0.2.1", began); err != nil || a.MustRenew || !a.May(mill.ID, desk.Operator) {
		t.Errorf("%+v, %v", a, err)
	}
	// And closing the account; opening it again brings no session back.
	form := desk.StaffForm{ID: ash.ID, Version: ash.Version, Called: ash.Called, Grants: ash.Grants, Home: ash.Home}
	o.now = o.now.Add(time.Minute)
	if ash, _, err = o.SaveStaff(ctx, by, form); err != nil {
		t.Fatal(err)
	}
	want(t, "after closing", actor(), desk.NotYours)
	_, err = o.LogIn(ctx, "ash", "quiet lamps borrow rain", "192.0.2.1")
	want(t, "log-in of a closed account", err, desk.Wrong)
	form.Version, form.Active = ash.Version, true
	if _, _, err = o.SaveStaff(ctx, by, form); err != nil {
		t.Fatal(err)
	}
	want(t, "after opening again", actor(), desk.NotYours)
}

func TestOneTimeWordsRunOut(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	_, word, err := o.SaveStaff(ctx, by, desk.StaffForm{Name: "elm", Called: "Elm", Active: true})
	if err != nil {
		t.Fatal(err)
	}
	o.now = o.now.AddDate(0, 0, 3)
	if _, err := o.LogIn(ctx, "elm", word, "192.0.2.1"); err != nil {
		t.Errorf("on the third day: %v", err)
	}
	o.now = o.now.Add(time.Second)
	_, err = o.LogIn(ctx, "elm", word, "192.0.2.1")
	want(t, "after it", err, desk.Wrong)
}

// A password kept at a lower cost is hashed anew at the next log-in.
func TestCostIsRaisedAtLogIn(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	o.Passwords = desk.PasswordCost{KiB: 128, Passes: 2, Lanes: 1}
	before, err := o.Me(ctx, by)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := o.LogIn(ctx, "rowan", password+"x", "192.0.2.1"); err == nil {
		t.Fatal("let in")
	}
	if s, _ := o.Me(ctx, by); s.Password != before.Password {
		t.Error("a wrong password was hashed anew")
	}
	s, err := o.LogIn(ctx, "rowan", password, "192.0.2.1")
	if err != nil || !strings.HasPrefix(s.Password, "$argon2id$v=19$m=128,t=2,p=1$") {
		t.Fatal(s.Password, err)
	}
	if _, err := o.ActorFor(ctx, s.ID, "", o.now); err != nil {
		t.Errorf("it ended sessions: %v", err)
	}
	again, err := o.LogIn(ctx, "rowan", password, "192.0.2.1")
	if err != nil || again.Password != s.Password {
		t.Errorf("hashed anew each time: %v", err)
	}
}

// Who may do what to accounts: each row is tried by each role.
func TestWhoMayChangeStaff(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	boss := o.manager()
	mill, salt := o.branch(boss, "Northside"), o.branch(boss, "Saltholm")
	at := func(r desk.Role, b desk.Branch) desk.Grant { return desk.Grant{Role: r, Branch: b.ID} }
	all := func(r desk.Role) desk.Grant { return desk.Grant{Role: r} }
	actors := map[string]desk.Actor{
		"manager":        boss,
		"branch manager": o.as(o.someone(boss, "bm", at(desk.Manager, mill))),
		"operator":       o.as(o.someone(boss, "op", at(desk.Operator, mill), all(desk.Reviewer))),
		"patron":         desk.APatron(),
		"clock":          desk.Clockwork(),
		"nobody":         {},
	}
	target := map[string]desk.Staff{
		"of Northside":   o.someone(boss, "north", at(desk.Operator, mill)),
		"of both":        o.someone(boss, "both", at(desk.Operator, mill), at(desk.Operator, salt)),
		"of Saltholm":    o.someone(boss, "salt", at(desk.Reviewer, salt)),
		"of all":         o.someone(boss, "all", all(desk.Reviewer)),
		"second manager": o.someone(boss, "second", all(desk.Manager)),
	}
	type call = func(by desk.Actor) error
	form := func(who string, change func(*desk.StaffForm)) call {
		return func(by desk.Actor) error {
			s, _, err := o.OneStaff(ctx, boss, target[who].ID)
			if err != nil {
				return err
			}
			f := desk.StaffForm{ID: s.ID, Version: s.Version, Called: s.Called, Grants: append([]desk.Grant(nil), s.Grants...), Home: s.Home, Active: s.Active}
			change(&f)
			_, _, err = o.SaveStaff(ctx, by, f)
			return err
		}
	}
	give := func(g desk.Grant) func(*desk.StaffForm) {
		return func(f *desk.StaffForm) { f.Grants = append(f.Grants, g) }
	}
	n := 0
	made := func(g ...desk.Grant) call {
		return func(by desk.Actor) error {
			n++
			_, _, err := o.SaveStaff(ctx, by, desk.StaffForm{Name: fmt.Sprintf("new%d", n), Called: "New", Grants: g, Active: true})
			return err
		}
	}
	for _, c := range []struct {
		what          string
		do            call
		branchManager bool
	}{
		{"make an operator of Northside", made(at(desk.Operator, mill)), true},
		{"make a manager of Northside", made(at(desk.Manager, mill)), true},
		{"make an operator of Saltholm", made(at(desk.Operator, salt)), false},
		{"make an operator of both", made(at(desk.Operator, mill), at(desk.Operator, salt)), false},
		{"make a reviewer of all", made(all(desk.Reviewer)), false},
		{"make a manager of all", made(all(desk.Manager)), false},
		{"rename one of Northside", form("of Northside", func(f *desk.StaffForm) { f.Called += "x" }), true},
		{"give one of Northside a role there", form("of Northside", give(at(desk.Reviewer, mill))), true},
		{"give one of Saltholm a role in Northside", form("of Saltholm", give(at(desk.Operator, mill))), true},
		{"rename one of both", form("of both", func(f *desk.StaffForm) { f.Called += "x" }), false},
		{"close the account of one of both", form("of both", func(f *desk.StaffForm) { f.Active = !f.Active }), false},
		{"rename a second manager", form("second manager", func(f *desk.StaffForm) { f.Called += "x" }), false},
		{"take the second manager's role", form("second manager", func(f *desk.StaffForm) { f.Grants = nil }), false},
		{"new password for one of Northside", func(by desk.Actor) error {
			_, _, err := o.ResetPassword(ctx, by, target["of Northside"].ID, 0)
			return err
		}, true},
		{"new password for one of all branches", func(by desk.Actor) error { _, _, err := o.ResetPassword(ctx, by, target["of all"].ID, 0); return err }, false},
		{"new password for the manager", func(by desk.Actor) error { _, _, err := o.ResetPassword(ctx, by, boss.ID, 0); return err }, false},
		{"give one of Northside a role in Saltholm", form("of Northside", give(at(desk.Reviewer, salt))), false},
		{"give one of Northside a role everywhere", form("of Northside", give(all(desk.Operator))), false},
		{"take Saltholm from one of both", form("of both", func(f *desk.StaffForm) { f.Grants = []desk.Grant{at(desk.Operator, mill)} }), false},
		{"list accounts", func(by desk.Actor) error { _, err := o.AllStaff(ctx, by); return err }, true},
		{"read the audit", func(by desk.Actor) error { _, err := o.LogIns(ctx, by, time.Time{}, "", "", 1); return err }, false},
	} {
		// The manager last: what they do sticks.
		for _, who := range []string{"patron", "clock", "nobody", "operator", "branch manager", "manager"} {
			err := c.do(actors[who])
			may := who == "manager" || who == "branch manager" && c.branchManager
			if may && err != nil {
				t.Errorf("%s: the %s may not: %v", c.what, who, err)
			}
			if !may && desk.KindOf(err) != desk.NotYours {
				t.Errorf("%s: the %s: %v", c.what, who, err)
			}
		}
	}
	list, err := o.AllStaff(ctx, actors["branch manager"])
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range list {
		if s.Name == "nobodyhere" || len(s.Grants) == 1 && s.Grants[0].Branch == salt.ID {
			t.Errorf("the branch manager sees %s", s.Name)
		}
	}
}

func TestNobodyRaisesThemselves(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	boss := o.manager()
	mill := o.branch(boss, "Northside")
	me := o.someone(boss, "bm", desk.Grant{Role: desk.Manager, Branch: mill.ID})
	by := o.as(me)
	for _, g := range []desk.Grant{{Role: desk.Manager}, {Role: desk.Operator}, {Role: desk.Operator, Branch: boss.Home}} {
		_, _, err := o.SaveStaff(ctx, by, desk.StaffForm{ID: me.ID, Called: "x", Grants: append([]desk.Grant{g}, me.Grants...), Active: true})
		want(t, fmt.Sprint(g), err, desk.NotYours)
	}
	s, err := o.SaveMe(ctx, by, me.Version, "  Bee  Em ", mill.ID)
	if err != nil || s.Called != "Bee Em" || len(s.Grants) != 1 {
		t.Errorf("%+v, %v", s, err)
	}
	_, err = o.SaveMe(ctx, by, me.Version, "Late", mill.ID)
	want(t, "an old version", err, desk.Stale)
	_, err = o.SaveMe(ctx, desk.APatron(), 0, "x", "")
	want(t, "a patron", err, desk.NotFound)
}

func TestAManagerIsAlwaysLeft(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	boss := o.manager()
	s, err := o.Me(ctx, boss)
	if err != nil {
		t.Fatal(err)
	}
	form := desk.StaffForm{ID: s.ID, Version: s.Version, Called: s.Called, Home: s.Home, Active: true}
	_, _, err = o.SaveStaff(ctx, boss, form)
	want(t, "without the role", err, desk.Wrong)
	form.Grants, form.Active = s.Grants, false
	_, _, err = o.SaveStaff(ctx, boss, form)
	want(t, "closing one's own", err, desk.Wrong)
	second := o.someone(boss, "second", desk.Grant{Role: desk.Manager})
	_, _, err = o.SaveStaff(ctx, o.as(second), form)
	if err != nil {
		t.Fatalf("with a second manager: %v", err)
	}
	_, _, err = o.SaveStaff(ctx, o.as(second), desk.StaffForm{ID: second.ID, Called: "x", Active: true})
	want(t, "now that one is the last", err, desk.Wrong)
	// Two who take each other's role at once: one of them stays.
	form.Version, form.Active = 0, true
	if _, _, err = o.SaveStaff(ctx, o.as(second), form); err != nil {
		t.Fatal(err)
	}
	one, two := boss, o.as(second)
	var wg sync.WaitGroup
	for by, id := range map[*desk.Actor]desk.ID{&one: two.ID, &two: one.ID} {
		wg.Go(func() {
			_, _, err := o.SaveStaff(context.WithoutCancel(ctx), *by, desk.StaffForm{ID: id, Called: "x", Active: true})
			if k := desk.KindOf(err); k != "" && k != desk.Wrong {
				t.Error(err)
			}
		})
	}
	wg.Wait()
	all, err := o.AllStaff(ctx, one)
	if err != nil {
		t.Fatal(err)
	}
	left := 0
	for _, s := range all {
		if s.Active && len(s.Grants) == 1 && s.Grants[0] == (desk.Grant{Role: desk.Manager}) {
			left++
		}
	}
	if left != 1 {
		t.Errorf("%d managers are left", left)
	}
}
