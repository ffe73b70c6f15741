package desk_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"platebook/desk"
)

func anew(m *room, why string, grams ...float64) desk.WeighForm {
	f := desk.WeighForm{Form: m.form(), Why: why, Sure: true}
	for _, g := range grams {
		if math.IsNaN(g) { // stays
			f.Grams = append(f.Grams, nil)
			continue
		}
		f.Grams = append(f.Grams, map[string]float64{pla: g})
	}
	return f
}

func (m *room) left(s desk.Spool) float64 {
	m.t.Helper()
	m.read(func(tx desk.Tx) (err error) { s, err = tx.Spool(s.ID); return })
	return s.Grams
}

// 1234 g typed for 12.34 g: more than the spool held. Putting it right leaves
// price and spool as if it had never been typed (at 0.10 a gram, rounded up to
// whole grams, and 1.00 for setting up).
func TestWeighedAnew(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 30))
	run := m.weigh(m.start(platesOf(r)...), 1234)
	if b, g := m.balance(r.ID), m.left(m.red); b != "4.00" || g != 0 {
		t.Fatalf("typed wrongly, %s is owed and %g g are left", b, g)
	}
	version := run.Version
	run, err := m.WeighAnew(m.ctx, m.operator(), run.ID, version, anew(m, "the point was left out.", 12.34))
	if err != nil {
		t.Fatal(err)
	}
	if b, g := m.balance(r.ID), m.left(m.red); b != "2.30" || g != 1000-12.34 || run.Spools[0].Taken != 12.34 || run.Parts[0].Weighed[pla] != 12.34 {
		t.Errorf("put right, %s is owed, %g g are left and %+v was taken", b, g, run.Spools)
	}
	if !m.told(r.ID, "weighed", "Weighed anew: the point was left out. Plate 1: 12.34 g of PLA in place of 1234 g of PLA.") {
		t.Errorf("history: %+v", m.events(r.ID))
	}
	// The same form once more changes nothing; an old page is told.
	f := anew(m, "again", 13)
	for range 2 {
		if run, err = m.WeighAnew(m.ctx, m.operator(), run.ID, run.Version, f); err != nil {
			t.Fatal(err)
		}
	}
	if b, g := m.balance(r.ID), m.left(m.red); b != "2.30" || g != 1000-13 {
		t.Errorf("sent twice, %s is owed and %g g are left", b, g)
	}
	_, err = m.WeighAnew(m.ctx, m.operator(), run.ID, version, anew(m, "old page", 20))
	faultIs(t, "an old page", err, desk.Stale)
	m.reelsAgree()
}

func TestWhoWeighsAnew(t *testing.T) {
	m := newRoom(t)
	operator, manager := m.operator(), m.manager()
	elsewhere, reviewer := staffOf("e", desk.Manager, m.birch.ID), staffOf("r", desk.Reviewer, m.alder.ID)
	runOf := func(r desk.Request) (run desk.Run) {
		m.read(func(tx desk.Tx) error {
			all, err := tx.RunsOf(r.ID)
			run = all[len(all)-1]
			return err
		})
		return run
	}
	paid := func() desk.Request {
		r := m.weighed(20, 20)
		if _, err := m.Pay(m.ctx, operator, r.ID, m.form(), "1.00", "cash"); err != nil {
			t.Fatal(err)
		}
		return r
	}
	collected := func() desk.Request {
		r := m.shelved(20, 20)
		r, err := m.Collect(m.ctx, operator, r.ID, r.Version, desk.CollectForm{Form: m.form(), Unpaid: "pays next week"})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	bad := func() desk.Request {
		r := m.weighed(20, 20)
		r, err := m.Reprint(m.ctx, operator, r.ID, r.Version, 0, desk.FailForm{Form: m.form(), Why: "warped", Blame: desk.MachineBlame})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	for _, c := range []struct {
		name                     string
		make                     func() desk.Request
		operator, manager, other desk.Kind
		owed                     string // once it is put right
	}{
		{"weighed", func() desk.Request { return m.weighed(20, 20) }, "", "", desk.NotYours, "2.00"},
		{"paid in part", paid, desk.NotNow, "", desk.NotYours, "1.00"},
		{"on the shelf", func() desk.Request { return m.shelved(20, 20) }, desk.NotNow, "", desk.NotYours, "2.00"},
		{"collected", collected, desk.NotNow, desk.NotNow, desk.NotYours, ""},
		{"turned out bad", bad, desk.NotNow, desk.NotNow, desk.NotYours, ""},
	} {
		for who, want := range map[*desk.Actor]desk.Kind{&operator: c.operator, &manager: c.manager, &elsewhere: c.other, &reviewer: c.other} {
			r := c.make()
			run, version := runOf(r), m.request(r.ID).Version
			_, err := m.WeighAnew(m.ctx, *who, run.ID, run.Version, anew(m, "a slip", 10))
			faultIs(t, c.name+" by "+who.Name, err, want)
			if changed := m.request(r.ID).Version != version; changed != (want == "") {
				t.Errorf("%s by %s: changed %v", c.name, who.Name, changed)
			}
			if b := m.balance(r.ID); want == "" && b != c.owed {
				t.Errorf("%s by %s: %s is owed, want %s", c.name, who.Name, b, c.owed)
			}
			if v, err := m.RunView(m.ctx, *who, run.ID); err == nil && (v.Parts[0].Keeps == "") != (want == "") {
				t.Errorf("%s by %s: the page says %q", c.name, who.Name, v.Parts[0].Keeps)
			}
		}
	}
	run := m.start(platesOf(m.agreed(hours(1, 10)))...)
	_, err := m.WeighAnew(m.ctx, manager, run.ID, run.Version, anew(m, "a slip", 10))
	faultIs(t, "not weighed yet", err, desk.NotNow)
	run = m.weigh(run, 10)
	for name, f := range map[string]desk.WeighForm{
		"no reason": anew(m, " ", 11), "as it was": anew(m, "a slip", 10), "nothing": anew(m, "a slip", 0), "left as it was": anew(m, "a slip", math.NaN()),
		"no part": anew(m, "a slip"), "far off": {Form: m.form(), Why: "a slip", Grams: []map[string]float64{{pla: 100}}},
	} {
		_, err = m.WeighAnew(m.ctx, manager, run.ID, run.Version, f)
		faultIs(t, name, err, desk.Wrong)
	}
	m.reelsAgree()
}

// On a shared run the weight of one request is put right, and the other is none
// the wiser; a spool counted since stays as counted.
func TestWeighedAnewBesideAnother(t *testing.T) {
	m := newRoom(t)
	a, b := m.agreed(hours(1, 20)), m.agreed(hours(1, 20))
	run := m.weigh(m.start(append(platesOf(a), platesOf(b)...)...), 20, 29)
	a = m.request(a.ID)
	if _, err := m.Shelve(m.ctx, m.operator(), a.ID, a.Version, "", m.form()); err != nil {
		t.Fatal(err)
	}
	version := m.request(a.ID).Version
	m.at = m.at.Add(time.Minute)
	run, err := m.WeighAnew(m.ctx, m.operator(), run.ID, run.Version, anew(m, "the two were mixed up", math.NaN(), 19))
	if err != nil {
		t.Fatal(err)
	}
	if m.request(a.ID).Version != version || m.balance(a.ID) != "3.00" || m.balance(b.ID) != "2.90" || m.left(m.red) != 1000-39 {
		t.Errorf("a: %s, b: %s, %g g left", m.balance(a.ID), m.balance(b.ID), m.left(m.red))
	}
	m.at = m.at.Add(time.Minute)
	if _, err := m.CountSpool(m.ctx, m.operator(), m.red.ID, 0, 955, "weighed the reel", m.form()); err != nil {
		t.Fatal(err)
	}
	m.at = m.at.Add(time.Minute)
	if run, err = m.WeighAnew(m.ctx, m.operator(), run.ID, run.Version, anew(m, "once more", math.NaN(), 18)); err != nil {
		t.Fatal(err)
	}
	if m.left(m.red) != 955 || run.Spools[0].Taken != 38 {
		t.Errorf("counted as 955 g, %g g are left, %g g taken", m.left(m.red), run.Spools[0].Taken)
	}
	m.reelsAgree()
}

// However often and however wrongly a run is weighed, spool and price end as if
// the last weight had been the first.
func TestTheLastWeightCounts(t *testing.T) {
	fewer(t, "15")
	rapid.Check(t, func(rt *rapid.T) {
		m := newRoom(t)
		r := m.agreed(hours(1, 30))
		grams := rapid.SliceOfN(rapid.IntRange(1, 200_000), 2, 5).Draw(rt, "hundredths of a gram")
		run := m.weigh(m.start(platesOf(r)...), float64(grams[0])/100)
		for _, g := range grams[1:] {
			next, err := m.WeighAnew(m.ctx, m.operator(), run.ID, run.Version, anew(m, "a slip", float64(g)/100))
			if err != nil {
				if run.Parts[0].Weighed[pla] != float64(g)/100 {
					rt.Fatal(err)
				}
				continue
			}
			run = next
		}
		last := float64(grams[len(grams)-1]) / 100
		plain := newRoom(t)
		p := plain.agreed(hours(1, 30))
		plain.weigh(plain.start(platesOf(p)...), last)
		if m.balance(r.ID) != plain.balance(p.ID) || math.Abs(m.left(m.red)-plain.left(plain.red)) > 0.005 {
			rt.Fatalf("%v: %s owed and %g g left, want %s and %g g", grams, m.balance(r.ID), m.left(m.red), plain.balance(p.ID), plain.left(plain.red))
		}
		m.reelsAgree()
	})
}
