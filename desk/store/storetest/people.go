package storetest

import (
	"slices"
	"testing"
	"time"

	"platebook/desk"
)

func testStaff(t *testing.T, s desk.Store) {
	ann, zoe := desk.Staff{Name: "ann", Active: true}, desk.Staff{Name: "Zoë"}
	write(t, s, func(tx desk.Tx) error {
		if err := tx.SaveStaff(&zoe); err != nil {
			return err
		}
		return tx.SaveStaff(&ann)
	})
	for _, c := range []struct {
		name string
		want desk.ID
	}{
		{"ANN", ann.ID}, {" ann ", ann.ID}, {"zoë", zoe.ID}, {"ZOE\u0308", zoe.ID}, // decomposed, Unicode Standard Annex 15
		{"zoe", ""}, {"an", ""}, {"ann%", ""}, {"a\x00nnn", ""}, {"", ""},
	} {
		var got desk.Staff
		err := s.Read(t.Context(), func(tx desk.Tx) (err error) {
			got, err = tx.StaffByName(c.name)
			return err
		})
		if got.ID != c.want || (c.want == "") != (desk.KindOf(err) == desk.NotFound) {
			t.Errorf("account %q: %q, %v, want %q", c.name, got.ID, err, c.want)
		}
	}
	var names []string
	for _, a := range read(t, s, desk.Tx.AllStaff) {
		names = append(names, a.Name)
	}
	if !slices.Equal(names, []string{"ann", "Zoë"}) {
		t.Errorf("all staff: %v", names)
	}
	// A name in use is refused, for a new account and a renamed one, and the
	// transaction goes on.
	write(t, s, func(tx desk.Tx) error {
		second := desk.Staff{Name: "Ann"}
		if err := tx.SaveStaff(&second); desk.KindOf(err) != desk.Wrong {
			t.Errorf("a second account of a name: got %v, want Wrong", err)
		}
		renamed := zoe
		renamed.Name = "ANN"
		if err := tx.SaveStaff(&renamed); desk.KindOf(err) != desk.Wrong {
			t.Errorf("an account renamed to a name in use: got %v, want Wrong", err)
		}
		zoe.Name = "ZOË" // its own, written otherwise
		return tx.SaveStaff(&zoe)
	})
	stale := zoe
	stale.Version = 1
	refused(t, s, desk.Stale, func(tx desk.Tx) error { return tx.SaveStaff(&stale) })
}

func testLogIns(t *testing.T, s desk.Store) {
	write(t, s, func(tx desk.Tx) error {
		for i, l := range []desk.LogIn{
			{Name: "Ann", From: "192.0.2.1", OK: true},
			{Name: "ann", From: "192.0.2.2", Why: "password"},
			{Name: "bob", From: "192.0.2.1", Why: "unknown"},
			{Name: "ann", From: "192.0.2.1", Why: "password"},
		} {
			l.At = at(i)
			if err := tx.AddLogIn(l); err != nil {
				return err
			}
		}
		return nil
	})
	for _, c := range []struct {
		what, name, from string
		since            time.Time
		most             int
		want             []int // minutes
	}{
		{"all", "", "", time.Time{}, 0, []int{3, 2, 1, 0}},
		{"newest two", "", "", time.Time{}, 2, []int{3, 2}},
		{"since, that moment too", "", "", at(2), 0, []int{3, 2}},
		{"of a name however written", "ANN", "", time.Time{}, 0, []int{3, 1, 0}},
		{"from an address", "", "192.0.2.1", time.Time{}, 0, []int{3, 2, 0}},
		{"of both, since", "ann", "192.0.2.1", at(1), 0, []int{3}},
		{"of nobody", "eve", "", time.Time{}, 0, nil},
	} {
		var got []int
		for _, l := range read(t, s, func(tx desk.Tx) ([]desk.LogIn, error) { return tx.LogIns(c.since, c.name, c.from, c.most) }) {
			got = append(got, int(l.At.Sub(at(0)).Minutes()))
		}
		if !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.what, got, c.want)
		}
	}
	write(t, s, func(tx desk.Tx) error { return tx.DropLogIns(at(2)) })
	if left := read(t, s, func(tx desk.Tx) ([]desk.LogIn, error) { return tx.LogIns(time.Time{}, "", "", 0) }); len(left) != 2 {
		t.Errorf("%d log-ins left, want 2", len(left))
	}
}

func testSettings(t *testing.T, s desk.Store) {
	save := func(k desk.SettingKind, version int, body string) func(tx desk.Tx) error {
		return func(tx desk.Tx) error {
			return tx.SaveSetting(&desk.Setting{Kind: k, Version: version, Body: []byte(body), Since: at(version), By: "manager"})
		}
	}
	write(t, s, save(desk.RulesSetting, 1, `{"a":1}`))
	write(t, s, save(desk.RulesSetting, 2, `{"a":2}`))
	write(t, s, save(desk.TermsSetting, 1, `{}`))
	for _, v := range []int{0, 1, 2, 4, -1} {
		refused(t, s, desk.Stale, save(desk.RulesSetting, v, `{"a":9}`))
	}
	for v, want := range map[int]string{0: `{"a":2}`, 1: `{"a":1}`, 2: `{"a":2}`} {
		if got := read(t, s, func(tx desk.Tx) (desk.Setting, error) { return tx.Setting(desk.RulesSetting, v) }); string(got.Body) != want {
			t.Errorf("version %d: %s, want %s", v, got.Body, want)
		}
	}
	all := read(t, s, func(tx desk.Tx) ([]desk.Setting, error) { return tx.SettingVersions(desk.RulesSetting) })
	if len(all) != 2 || all[0].Version != 2 || all[1].Version != 1 {
		t.Errorf("versions, newest first: %+v", all)
	}
}

func testMemory(t *testing.T, s desk.Store) {
	first := desk.Tally{ID: "t1", Month: "2031-01", Grams: 12.5}
	write(t, s, func(tx desk.Tx) error {
		for _, x := range []desk.Tally{first, {ID: "t1", Month: "2031-01", Grams: 99}, {ID: "t2", Month: "2031-02"}, {ID: "t3", Month: "2031-03"}} {
			if err := tx.AddTally(&x); err != nil {
				return err
			}
		}
		for i, x := range []desk.Shape{{ID: "s2", Shape: "b"}, {ID: "s1", Shape: "a"}} {
			x.At = at(i)
			if err := tx.AddShape(&x); err != nil {
				return err
			}
		}
		return nil
	})
	months := func(from, to string) (all string) {
		for _, x := range read(t, s, func(tx desk.Tx) ([]desk.Tally, error) { return tx.Tallies(from, to) }) {
			all += x.Month[5:]
		}
		return all
	}
	for _, c := range [][3]string{{"", "", "010203"}, {"2031-02", "", "0203"}, {"", "2031-02", "0102"}, {"2031-02", "2031-02", "02"}, {"2032-01", "", ""}} {
		if got := months(c[0], c[1]); got != c[2] {
			t.Errorf("tallies from %q to %q: %q, want %q", c[0], c[1], got, c[2])
		}
	}
	if got := read(t, s, func(tx desk.Tx) ([]desk.Tally, error) { return tx.Tallies("2031-01", "2031-01") }); got[0] != first {
		t.Errorf("a tally of an ID that is there changed it: %+v", got)
	}
	if got := read(t, s, desk.Tx.Shapes); len(got) != 2 || got[0].Shape != "b" {
		t.Errorf("shapes, oldest first: %+v", got)
	}
}
