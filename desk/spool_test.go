package desk_test

import (
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"platebook/desk"
)

// Whatever is done with runs and spools, what is left on every spool is what
// its lines add up to, and what runs say they took is what their lines say.
func TestReelsAndRunsAgree(t *testing.T) {
	fewer(t, "25")
	m := newRoom(t)
	rapid.Check(t, func(rt *rapid.T) {
		grams := rapid.Custom(func(rt *rapid.T) float64 {
			return rapid.OneOf(rapid.Float64Range(0, 80), rapid.SampledFrom([]float64{0, 0.1, 0.005, 0.015, 19.99, 33.33, 1e-9, 1200})).Draw(rt, "g")
		})
		free := []desk.Spool{m.spool(m.form(), m.alder, pla, "red", 1+rapid.Float64Range(0, 60).Draw(rt, "full")), m.red}
		var run desk.Run
		for range rapid.IntRange(3, 12).Draw(rt, "steps") {
			var err error
			switch rapid.IntRange(0, 5).Draw(rt, "step") {
			case 0, 1:
				if run.State == desk.Going {
					continue
				}
				r := m.agreed(hours(1, grams.Draw(rt, "expect")+0.01))
				spools := []desk.ID{free[0].ID, free[1].ID}
				if rapid.Bool().Draw(rt, "turned") {
					slices.Reverse(spools)
				}
				var got desk.Run
				got, _, err = m.StartRun(m.ctx, m.manager(), desk.StartForm{Form: m.form(), Printer: m.mill.ID, Parts: platesOf(r),
					Spools: spools[:rapid.IntRange(1, 2).Draw(rt, "spools")], Anyway: "drawn"})
				if err == nil {
					run = got
				}
			case 2:
				if run.ID == "" {
					continue
				}
				f := desk.WeighForm{Form: m.form(), Sure: true, Grams: []map[string]float64{{pla: grams.Draw(rt, "weighed")}}}
				var got desk.Run
				got, err = m.WeighRun(m.ctx, m.operator(), run.ID, 0, f)
				if err == nil {
					run = got
				}
			case 3:
				if run.ID == "" {
					continue
				}
				var got desk.Run
				got, err = m.FailRun(m.ctx, m.operator(), run.ID, 0, desk.FailForm{Form: m.form(), Why: "x", Blame: desk.PeopleBlame, Grams: map[string]float64{pla: grams.Draw(rt, "wasted")}})
				if err == nil {
					run = got
				}
			case 4:
				_, err = m.CountSpool(m.ctx, m.operator(), free[0].ID, 0, grams.Draw(rt, "counted"), "counted", m.form())
			case 5:
				_, err = m.LoadSpool(m.ctx, m.operator(), free[0].ID, 0, rapid.SampledFrom([]desk.ID{"", m.mill.ID, m.twin.ID}).Draw(rt, "in"), m.form())
			}
			if k := desk.KindOf(err); k != "" && k != desk.Wrong && k != desk.NotNow && k != desk.Stale {
				rt.Fatal(err)
			}
		}
		if run.State == desk.Going || run.State == desk.Finished {
			m.weigh(run, 1)
		}
		m.read(func(tx desk.Tx) error {
			runs, err := tx.ListRuns(desk.RunFilter{Branches: []desk.ID{m.alder.ID}, Most: 12})
			if err != nil {
				return err
			}
			for _, run := range runs {
				for _, u := range run.Spools {
					lines, err := tx.SpoolLines(u.Spool, 100000)
					if err != nil {
						return err
					}
					taken := 0.0
					for _, l := range lines {
						if l.Run == run.ID && l.Grams < 0 {
							taken -= l.Grams
						}
					}
					if math.Abs(taken-u.Taken) > 1e-6 {
						rt.Errorf("run %s says it took %g g, the spool's lines %g", run.ID, u.Taken, taken)
					}
				}
			}
			return nil
		})
	})
	m.reelsAgree()
}

func TestSpoolsAsTyped(t *testing.T) {
	m := newRoom(t)
	good := desk.SpoolForm{Name: "PLA-20", Branch: m.alder.ID, Material: pla, Colour: "green", Hex: "#00aa00", Full: 1000}
	for _, c := range []struct {
		name   string
		change func(*desk.SpoolForm)
		kind   desk.Kind
		field  string
	}{
		{"no name", func(f *desk.SpoolForm) { f.Name = " " }, desk.Wrong, "name"},
		{"a name there is", func(f *desk.SpoolForm) { f.Name = "pla-01" }, desk.Wrong, "name"},
		{"no colour", func(f *desk.SpoolForm) { f.Colour = "" }, desk.Wrong, "colour"},
		{"a colour in words for pictures", func(f *desk.SpoolForm) { f.Hex = "green" }, desk.Wrong, "hex"},
		{"a material there is none of", func(f *desk.SpoolForm) { f.Material = "wood" }, desk.Wrong, "material"},
		{"empty when new", func(f *desk.SpoolForm) { f.Full = 0 }, desk.Wrong, "full"},
		{"not a number", func(f *desk.SpoolForm) { f.Full = math.NaN() }, desk.Wrong, "full"},
		{"a tonne", func(f *desk.SpoolForm) { f.Full = 1e6 }, desk.Wrong, "full"},
		{"a branch there is none of", func(f *desk.SpoolForm) { f.Branch = desk.NewID() }, desk.NotFound, ""},
		{"as it should be", func(*desk.SpoolForm) {}, "", ""},
	} {
		f := good
		f.Form = m.form()
		c.change(&f)
		_, err := m.SaveSpool(m.ctx, m.operator(), f)
		faultIs(t, c.name, err, c.kind)
		if fault, ok := err.(*desk.Fault); ok && c.field != "" && fault.Fields[c.field] == "" {
			t.Errorf("%s: no sentence at %q: %v", c.name, c.field, fault.Fields)
		}
	}
	f := good
	f.Name, f.Form = "PLA-21", m.form()
	a, err := m.SaveSpool(m.ctx, m.operator(), f)
	if err != nil {
		t.Fatal(err)
	}
	if b, err := m.SaveSpool(m.ctx, m.operator(), f); err != nil || b.ID != a.ID {
		t.Errorf("the same form again made another spool: %v", err)
	}
	for _, g := range []float64{math.NaN(), math.Inf(1), -1, 20001} {
		_, err := m.CountSpool(m.ctx, m.operator(), a.ID, a.Version, g, "weighed", m.form())
		faultIs(t, "counting what cannot be", err, desk.Wrong)
	}
	_, err = m.CountSpool(m.ctx, m.operator(), a.ID, a.Version, 900, "", m.form())
	faultIs(t, "counting without a reason", err, desk.Wrong)
	b, err := m.CountSpool(m.ctx, m.operator(), a.ID, a.Version, 812.345, "weighed", m.form())
	if err != nil || b.Grams != 812.35 {
		t.Errorf("counted: %g, %v", b.Grams, err)
	}
	_, err = m.CountSpool(m.ctx, m.operator(), a.ID, a.Version, 700, "weighed", m.form())
	faultIs(t, "counting what another counted", err, desk.Stale)
	v, err := m.SpoolView(m.ctx, m.operator(), a.ID)
	if err != nil || len(v.Lines) != 2 || v.Lines[0].Left != 812.35 || v.Lines[1].Left != 1000 {
		t.Errorf("lines: %+v, %v", v.Lines, err)
	}
	m.reelsAgree()
}

// A printer holds as many spools as it has tools; a spool that is printed with
// stays where it is and what it is.
func TestSpoolsInPrinters(t *testing.T) {
	m := newRoom(t)
	in := func(id desk.ID) desk.ID {
		var s desk.Spool
		m.read(func(tx desk.Tx) (err error) { s, err = tx.Spool(id); return })
		return s.Loaded
	}
	load := func(s desk.Spool, p desk.ID) error {
		_, err := m.LoadSpool(m.ctx, m.operator(), s.ID, 0, p, m.form())
		return err
	}
	faultIs(t, "load", load(m.red, m.mill.ID), "")
	faultIs(t, "load another", load(m.blue, m.mill.ID), "")
	if in(m.red.ID) != "" || in(m.blue.ID) != m.mill.ID {
		t.Error("one tool holds two spools")
	}
	for _, s := range []desk.Spool{m.red, m.pva, m.petg} {
		faultIs(t, "load the twin", load(s, m.twin.ID), "")
	}
	if n := len(slices.DeleteFunc([]desk.ID{in(m.red.ID), in(m.pva.ID), in(m.petg.ID)}, func(p desk.ID) bool { return p != m.twin.ID })); n != 2 || in(m.petg.ID) != m.twin.ID {
		t.Errorf("%d spools in two tools", n)
	}
	faultIs(t, "into a printer of another branch", load(m.red, m.far.ID), desk.Wrong)
	faultIs(t, "into no printer there is", load(m.red, desk.NewID()), desk.NotFound)

	run := m.start(platesOf(m.agreed(hours(1, 10)))...)
	faultIs(t, "taking out what is printed with", load(m.red, ""), desk.NotNow)
	faultIs(t, "putting another in its place", load(m.blue, m.mill.ID), desk.NotNow)
	form := desk.SpoolForm{ID: m.red.ID, Name: "PLA-01", Branch: m.alder.ID, Material: pla, Colour: "red", Full: 1000, Retired: true}
	_, err := m.SaveSpool(m.ctx, m.operator(), form)
	faultIs(t, "retiring what is printed with", err, desk.NotNow)
	form.Retired, form.Branch = false, m.birch.ID
	_, err = m.SaveSpool(m.ctx, m.operator(), form)
	faultIs(t, "moving what is printed with", err, desk.NotNow)
	m.weigh(run, 10)
	_, err = m.SaveSpool(m.ctx, m.operator(), form)
	faultIs(t, "moving it after", err, "")
	if in(m.red.ID) != "" {
		t.Error("moved to another branch, it is still in the printer")
	}
	m.reelsAgree()
}

// The watch says what waiting plates will take, low spools first.
func TestSpoolWatch(t *testing.T) {
	m := newRoom(t)
	m.agreedWith(func(r *desk.Request) { r.Wish.Colour = "Blue" }, hours(1, 15), hours(1, 10))
	m.agreed(plate(3600, map[string]float64{pla: 100, pva: 5}))
	m.start(platesOf(m.agreed(hours(1, 300)))...)
	p, err := m.SpoolsPage(m.ctx, m.operator(), m.alder.ID, desk.SpoolFilter{})
	if err != nil {
		t.Fatal(err)
	}
	if p.Spools[0].Low {
		t.Errorf("%s is low with %g g left, over the reserve and a tenth of a full spool", p.Spools[0].Name, p.Spools[0].Grams)
	}
	type row struct {
		material, colour string
		plates           int
		grams, left      float64
		short            bool
	}
	var got []row
	for _, d := range p.Demands {
		got = append(got, row{d.Material, d.Colour, d.Plates, d.Grams, d.Left, d.Short})
	}
	names := map[string]string{}
	for _, n := range p.Materials {
		names[n.ID] = n.Name
	}
	want := []row{
		{names[pla], "", 1, 100, 740, false},  // red 1000 − 300 promised, blue 40
		{names[pla], "blue", 2, 25, 40, true}, // 40 − reserve 20 < 25
		{names[pva], "", 1, 5, 500, false},    //
	}
	if !slices.Equal(got, want) {
		t.Errorf("demands %+v, want %+v", got, want)
	}
	if _, err := m.CountSpool(m.ctx, m.operator(), m.pva.ID, 0, 49, "weighed", m.form()); err != nil { // under a tenth of 500 g
		t.Fatal(err)
	}
	if p, err = m.SpoolsPage(m.ctx, m.operator(), m.alder.ID, desk.SpoolFilter{}); err != nil || p.Spools[0].ID != m.pva.ID || !p.Spools[0].Low {
		t.Errorf("the low one is not first: %+v, %v", p.Spools, err)
	}
	if f, err := m.SpoolsPage(m.ctx, m.operator(), m.alder.ID, desk.SpoolFilter{Material: pla, Colour: "BLUE"}); err != nil || len(f.Spools) != 1 || f.Spools[0].ID != m.blue.ID {
		t.Errorf("filtered: %+v, %v", f.Spools, err)
	}
}
