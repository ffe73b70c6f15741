package desk_test

import (
	"context"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/engine/tariff"
)

// Who may do what: the permissions are the project's own (see desk.Role).
func TestOperatorsCallsByRole(t *testing.T) {
	m := newRoom(t)
	actors := []struct {
		name      string
		who       desk.Actor
		may, waiv bool
	}{
		{"operator everywhere", staffOf("a", desk.Operator, ""), true, false},
		{"operator of the branch", staffOf("b", desk.Operator, m.alder.ID), true, false},
		{"manager of the branch", staffOf("c", desk.Manager, m.alder.ID), true, true},
		{"reviewer of the branch", staffOf("d", desk.Reviewer, m.alder.ID), false, false},
		{"operator of another branch", staffOf("e", desk.Operator, m.birch.ID), false, false},
		{"manager of another branch", staffOf("f", desk.Manager, m.birch.ID), false, false},
		{"a patron", desk.APatron(), false, false},
		{"the clock", desk.Clockwork(), false, false},
		{"nobody", desk.Actor{}, false, false},
		{"staff without a role", desk.Actor{Kind: desk.ByStaff, Name: "g"}, false, false},
	}
	weigh := func(g float64) desk.WeighForm {
		return desk.WeighForm{Form: m.form(), Grams: []map[string]float64{{pla: g}}}
	}
	calls := []struct {
		name string
		call func(desk.Actor) error
	}{
		{"start", func(a desk.Actor) error {
			r := m.agreed(hours(1, 10))
			run, _, err := m.StartRun(m.ctx, a, desk.StartForm{Form: m.form(), Printer: m.mill.ID, Parts: platesOf(r), Spools: []desk.ID{m.red.ID}})
			if err == nil {
				m.weigh(run, 10)
			}
			return err
		}},
		{"finish", func(a desk.Actor) error {
			run := m.start(platesOf(m.agreed(hours(1, 10)))...)
			_, err := m.FinishRun(m.ctx, a, run.ID, 0, m.form())
			m.weigh(run, 10)
			return err
		}},
		{"fail", func(a desk.Actor) error {
			run := m.start(platesOf(m.agreed(hours(1, 10)))...)
			_, err := m.FailRun(m.ctx, a, run.ID, 0, desk.FailForm{Form: m.form(), Why: "came off", Blame: desk.MachineBlame})
			if err != nil {
				m.weigh(run, 10)
			}
			return err
		}},
		{"weigh", func(a desk.Actor) error {
			run := m.start(platesOf(m.agreed(hours(1, 10)))...)
			_, err := m.WeighRun(m.ctx, a, run.ID, 0, weigh(10))
			if err != nil {
				m.weigh(run, 10)
			}
			return err
		}},
		{"reprint", func(a desk.Actor) error {
			r := m.weighed(10, 10)
			_, err := m.Reprint(m.ctx, a, r.ID, r.Version, 0, desk.FailForm{Form: m.form(), Why: "broke", Blame: desk.PeopleBlame})
			return err
		}},
		{"shelve", func(a desk.Actor) error {
			r := m.weighed(10, 10)
			_, err := m.Shelve(m.ctx, a, r.ID, r.Version, "B3", m.form())
			return err
		}},
		{"call", func(a desk.Actor) error {
			r := m.shelved(10, 10)
			_, err := m.CallPatron(m.ctx, a, r.ID, r.Version, "by telephone", m.form())
			return err
		}},
		{"collect", func(a desk.Actor) error {
			r := m.shelved(10, 10)
			_, err := m.Collect(m.ctx, a, r.ID, r.Version, desk.CollectForm{Form: m.form(), Pay: "2.00", How: "cash"})
			return err
		}},
		{"pay", func(a desk.Actor) error {
			_, err := m.Pay(m.ctx, a, m.shelved(10, 10).ID, m.form(), "1.00", "cash")
			return err
		}},
		{"correct", func(a desk.Actor) error {
			_, err := m.Correct(m.ctx, a, m.shelved(10, 10).ID, m.form(), "0.50", "a box")
			return err
		}},
		{"slip", func(a desk.Actor) error { _, err := m.Slip(m.ctx, a, m.shelved(10, 10).ID); return err }},
		{"shelf", func(a desk.Actor) error { _, err := m.ShelfPage(m.ctx, a, m.alder.ID, false); return err }},
		{"printing", func(a desk.Actor) error { _, err := m.PrintingPage(m.ctx, a, m.alder.ID); return err }},
		{"spools", func(a desk.Actor) error {
			_, err := m.SpoolsPage(m.ctx, a, m.alder.ID, desk.SpoolFilter{})
			return err
		}},
		{"new spool", func(a desk.Actor) error {
			_, err := m.SaveSpool(m.ctx, a, desk.SpoolForm{Form: m.form(), Name: m.form(), Branch: m.alder.ID, Material: pla, Colour: "green", Full: 1000})
			return err
		}},
		{"count", func(a desk.Actor) error {
			_, err := m.CountSpool(m.ctx, a, m.red.ID, 0, 900, "weighed", m.form())
			return err
		}},
		{"load", func(a desk.Actor) error {
			_, err := m.LoadSpool(m.ctx, a, m.red.ID, 0, m.mill.ID, m.form())
			return err
		}},
	}
	for _, c := range calls {
		for _, a := range actors {
			kind := desk.NotYours
			if a.may {
				kind = ""
			}
			faultIs(t, c.name+" by "+a.name, c.call(a.who), kind)
		}
	}
	for _, a := range actors {
		kind := desk.NotYours
		if a.waiv {
			kind = ""
		}
		_, err := m.Waive(m.ctx, a.who, m.shelved(10, 10).ID, m.form(), "0.50", "kindness")
		faultIs(t, "waive by "+a.name, err, kind)
		lowers := kind
		if a.may && !a.waiv {
			lowers = desk.Wrong // said beside the amount
		}
		_, err = m.Correct(m.ctx, a.who, m.shelved(10, 10).ID, m.form(), "-0.50", "a scratch")
		faultIs(t, "correct below 0 by "+a.name, err, lowers)
		r := m.shelved(10, 10)
		_, err = m.LapseNow(m.ctx, a.who, r.ID, r.Version, "moved away", m.form())
		faultIs(t, "lapse before its days are over by "+a.name, err, kind)
	}
	m.reelsAgree()
}

// What can be done in which state (the states are those of the vocabulary).
func TestOperatorsCallsByState(t *testing.T) {
	m := newRoom(t)
	in := func(s desk.State) desk.Request {
		r := m.shelved(10, 10)
		m.write(func(tx desk.Tx) error {
			r.State = s
			return tx.SaveRequest(&r)
		})
		return r
	}
	calls := []struct {
		name string
		may  []desk.State
		call func(desk.Request) error
	}{
		{"shelve", []desk.State{desk.Printing}, func(r desk.Request) error {
			_, err := m.Shelve(m.ctx, m.operator(), r.ID, r.Version, "", m.form())
			return err
		}},
		{"call", []desk.State{desk.OnShelf}, func(r desk.Request) error {
			_, err := m.CallPatron(m.ctx, m.operator(), r.ID, r.Version, desk.ByMessage, m.form())
			return err
		}},
		{"collect", []desk.State{desk.OnShelf}, func(r desk.Request) error {
			_, err := m.Collect(m.ctx, m.operator(), r.ID, r.Version, desk.CollectForm{Form: m.form(), Unpaid: "pays later"})
			return err
		}},
		{"lapse", []desk.State{desk.OnShelf}, func(r desk.Request) error {
			_, err := m.LapseNow(m.ctx, m.manager(), r.ID, r.Version, "never came", m.form())
			return err
		}},
		{"reprint", []desk.State{desk.OnShelf, desk.Printing}, func(r desk.Request) error {
			_, err := m.Reprint(m.ctx, m.operator(), r.ID, r.Version, 0, desk.FailForm{Form: m.form(), Why: "broke", Blame: desk.MachineBlame})
			return err
		}},
		{"slip", []desk.State{desk.OnShelf, desk.Printing}, func(r desk.Request) error {
			_, err := m.Slip(m.ctx, m.operator(), r.ID)
			return err
		}},
	}
	for _, c := range calls {
		for _, s := range desk.States() {
			kind := desk.NotNow
			for _, ok := range c.may {
				if ok == s {
					kind = ""
				}
			}
			faultIs(t, c.name+" when "+string(s), c.call(in(s)), kind)
		}
	}
	for _, s := range desk.States() {
		kind := desk.NotNow
		if s == desk.Agreed || s == desk.Printing {
			kind = ""
		}
		r := m.agreedWith(func(r *desk.Request) { r.State = s }, hours(1, 10))
		run, _, err := m.StartRun(m.ctx, m.operator(), desk.StartForm{Form: m.form(), Printer: m.mill.ID, Parts: platesOf(r), Spools: []desk.ID{m.red.ID}})
		faultIs(t, "start when "+string(s), err, kind)
		if err == nil {
			m.weigh(run, 10)
		}
	}
}

// What may follow what on a run.
func TestRunsByState(t *testing.T) {
	m := newRoom(t)
	calls := map[string]func(desk.Run) error{
		"finish": func(run desk.Run) error { _, err := m.FinishRun(m.ctx, m.operator(), run.ID, 0, m.form()); return err },
		"fail": func(run desk.Run) error {
			_, err := m.FailRun(m.ctx, m.operator(), run.ID, 0, desk.FailForm{Form: m.form(), Why: "x", Blame: desk.MachineBlame})
			return err
		},
		"weigh": func(run desk.Run) error {
			_, err := m.WeighRun(m.ctx, m.operator(), run.ID, 0, desk.WeighForm{Form: m.form(), Grams: []map[string]float64{{pla: 10}}})
			return err
		},
	}
	for _, c := range []struct {
		call, after string
		kind        desk.Kind
	}{
		{"finish", "", ""}, {"fail", "", ""}, {"weigh", "", ""},
		{"finish", "finish", desk.NotNow}, {"fail", "finish", ""}, {"weigh", "finish", ""},
		{"finish", "fail", desk.NotNow}, {"fail", "fail", desk.NotNow}, {"weigh", "fail", desk.NotNow},
		{"finish", "weigh", desk.NotNow}, {"fail", "weigh", desk.NotNow}, {"weigh", "weigh", desk.NotNow},
	} {
		run := m.start(platesOf(m.agreed(hours(1, 10)))...)
		if c.after != "" {
			faultIs(t, c.after, calls[c.after](run), "")
		}
		faultIs(t, c.call+" after "+c.after, calls[c.call](run), c.kind)
		if c.after == "" && c.call == "finish" || c.after == "finish" && c.call == "finish" {
			calls["weigh"](run)
		}
	}
	m.reelsAgree()
}

func TestFailedThenReprinted(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(2, 23))
	run := m.start(platesOf(r)...)
	if got := m.request(r.ID).State; got != desk.Printing {
		t.Fatalf("a request on a printer is %s", got)
	}
	m.at = m.at.Add(time.Hour)
	run, err := m.FailRun(m.ctx, m.operator(), run.ID, run.Version, desk.FailForm{Form: m.form(), Why: "It came off the platform.", Blame: desk.MachineBlame,
		Grams: map[string]float64{pla: 7.5}, Tell: true})
	if err != nil {
		t.Fatal(err)
	}
	if run.State != desk.Spoiled || run.Failure.Grams != 7.5 || run.Spools[0].Taken != 7.5 {
		t.Fatalf("failed run: %+v", run)
	}
	if !m.told(r.ID, "failed", "attempt 2 of 2") {
		t.Errorf("history does not say what comes next: %+v", m.events(r.ID))
	}
	if b := m.balance(r.ID); b != "0.00" {
		t.Errorf("the patron owes %s for the machine's failure", b)
	}
	m.read(func(tx desk.Tx) error {
		all, err := tx.Messages(r.ID)
		if len(all) != 1 || !strings.Contains(all[0].Text, "It came off the platform.") {
			t.Errorf("messages after a failure: %+v", all)
		}
		return err
	})
	p, err := m.PrintingPage(m.ctx, m.operator(), m.alder.ID)
	if err != nil || len(p.Waiting) != 1 || p.Waiting[0].Attempts != 1 || p.Waiting[0].LastTime == nil {
		t.Fatalf("waiting after a failure: %+v, %v", p.Waiting, err)
	}
	run = m.start(platesOf(r)...)
	if run.Parts[0].Attempt != 2 {
		t.Errorf("second attempt is %d", run.Parts[0].Attempt)
	}
	m.weigh(run, 23)
	if b := m.balance(r.ID); b != "3.30" {
		t.Errorf("balance %s, want 3.30", b)
	}
	if s := m.request(r.ID); s.State != desk.Printing {
		t.Errorf("weighed and not shelved, it is %s", s.State)
	}
	m.read(func(tx desk.Tx) error {
		s, err := tx.Spool(m.red.ID)
		if s.Grams != 1000-7.5-23 {
			t.Errorf("%g g left", s.Grams)
		}
		return err
	})
	m.reelsAgree()
}

func TestAttemptsUsedUp(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 10))
	fail := func(run desk.Run) {
		if _, err := m.FailRun(m.ctx, m.operator(), run.ID, 0, desk.FailForm{Form: m.form(), Why: "spaghetti", Blame: desk.DesignBlame, Grams: map[string]float64{pla: 3}, Tell: true}); err != nil {
			t.Fatal(err)
		}
	}
	fail(m.start(platesOf(r)...))
	fail(m.start(platesOf(r)...))
	p, err := m.PrintingPage(m.ctx, m.operator(), m.alder.ID)
	if err != nil || len(p.Stuck) != 1 || len(p.Waiting) != 0 {
		t.Fatalf("after two of two attempts: %d stuck, %d waiting, %v", len(p.Stuck), len(p.Waiting), err)
	}
	if !m.told(r.ID, "failed", "someone must decide") {
		t.Error("history does not say that someone must decide")
	}
	m.read(func(tx desk.Tx) error {
		all, err := tx.Messages(r.ID)
		if len(all) != 1 {
			t.Errorf("%d messages: the second failure must not say that it is tried again", len(all))
		}
		return err
	})
	f := desk.StartForm{Form: m.form(), Printer: m.mill.ID, Parts: platesOf(r), Spools: []desk.ID{m.red.ID}}
	_, _, err = m.StartRun(m.ctx, m.manager(), f)
	faultIs(t, "third attempt without a reason", err, desk.Wrong)
	f.Anyway = "turned over, it will hold"
	_, _, err = m.StartRun(m.ctx, m.operator(), f)
	faultIs(t, "third attempt by an operator", err, desk.NotYours)
	if _, _, err = m.StartRun(m.ctx, m.manager(), f); err != nil {
		t.Errorf("third attempt by a manager: %v", err)
	}
	if !m.told(r.ID, "printing", "turned over, it will hold") {
		t.Error("the reason is not in the history")
	}
}

func TestSharedPlates(t *testing.T) {
	m := newRoom(t, func(r *desk.Rules, _ *tariff.Tariff) { r.PatronPays = []desk.Blame{desk.DesignBlame} })
	a, b := m.agreed(hours(1, 30)), m.agreed(hours(0.5, 10))
	run := m.start(append(platesOf(a), platesOf(b)...)...)
	if got := run.Expect.Sub(run.Started); got != 90*time.Minute {
		t.Errorf("expected to take %s", got)
	}
	// Wasted 20 g, shared 3 : 1 by what each was expected to take.
	if _, err := m.FailRun(m.ctx, m.operator(), run.ID, 0, desk.FailForm{Form: m.form(), Why: "thin walls", Blame: desk.DesignBlame, Grams: map[string]float64{pla: 20}}); err != nil {
		t.Fatal(err)
	}
	if x, y := m.balance(a.ID), m.balance(b.ID); x != "1.50" || y != "0.50" {
		t.Errorf("wasted material costs %s and %s, want 1.50 and 0.50", x, y)
	}
	m.weigh(m.start(append(platesOf(a), platesOf(b)...)...), 29.5, 11)
	// 1.00 + 30 × 0.10 (29.5 g rounded up, as quoted), 1.00 + the lower of 10 and 11 g.
	if x, y := m.balance(a.ID), m.balance(b.ID); x != "5.50" || y != "2.50" {
		t.Errorf("in all %s and %s, want 5.50 and 2.50", x, y)
	}
	m.reelsAgree()
	for _, e := range m.events(a.ID) {
		if strings.Contains(e.Say, string(b.Code)) {
			t.Errorf("one patron's history names another's request: %q", e.Say)
		}
	}
}

func TestPlatesThatCannotShare(t *testing.T) {
	m := newRoom(t)
	a := m.agreed(hours(1, 30))
	finer := m.agreedWith(func(r *desk.Request) {
		r.Agreement.Way.Parts[0].Settings.LayerHeightMM = 0.1
	}, hours(1, 30))
	other := m.agreed(plate(3600, map[string]float64{pla: 10, pva: 5}))
	onTwin := m.agreedWith(func(r *desk.Request) { r.Agreement.Way.Printer = "millrace-300-twin" }, hours(1, 30))
	for _, c := range []struct {
		name string
		refs []desk.PlateRef
		kind desk.Kind
	}{
		{"finer layers", append(platesOf(a), platesOf(finer)...), desk.Wrong},
		{"another material", append(platesOf(a), platesOf(other)...), desk.Wrong},
		{"another printer model", platesOf(onTwin), desk.Wrong},
		{"twice the same", append(platesOf(a), platesOf(a)...), desk.Wrong},
		{"no such plate", []desk.PlateRef{{Request: a.ID, Plate: 1}}, desk.Wrong},
		{"a plate below the first", []desk.PlateRef{{Request: a.ID, Plate: -1}}, desk.Wrong},
		{"none", nil, desk.Wrong},
		{"no such request", []desk.PlateRef{{Request: desk.NewID()}}, desk.NotFound},
		{"forty-one", make([]desk.PlateRef, 41), desk.Wrong},
	} {
		_, _, err := m.StartRun(m.ctx, m.operator(), desk.StartForm{Form: m.form(), Printer: m.mill.ID, Parts: c.refs, Spools: []desk.ID{m.red.ID}, Anyway: "x"})
		faultIs(t, c.name, err, c.kind)
	}
}

func TestWarningsBeforeARun(t *testing.T) {
	// Monday 9:00; Alder closes at 18:00. Longest print 8 h, reserve 20 g.
	m := newRoom(t)
	r := func(p desk.PlateWay, change ...func(*desk.Request)) []desk.PlateRef {
		return platesOf(m.agreedWith(func(r *desk.Request) {
			for _, c := range change {
				c(r)
			}
		}, p))
	}
	wish := func(colour string) func(*desk.Request) { return func(r *desk.Request) { r.Wish.Colour = colour } }
	// 400 g of the red spool are promised to a run that goes on.
	twin := m.agreedWith(func(r *desk.Request) { r.Agreement.Way.Printer = m.twin.Model }, hours(1, 400))
	if _, _, err := m.StartRun(m.ctx, m.operator(), desk.StartForm{Form: m.form(), Printer: m.twin.ID, Parts: platesOf(twin), Spools: []desk.ID{m.red.ID}}); err != nil {
		t.Fatal(err)
	}
	other := m.spool("PLA-03", m.alder, pla, "Red", 700)
	for _, c := range []struct {
		name   string
		parts  []desk.PlateRef
		spools []desk.ID
		kinds  string
		reason bool
	}{
		{"nothing to warn of", r(hours(8, 100)), []desk.ID{other.ID}, "", false},
		{"9 h 0 min ends as the branch closes, and is too long", r(hours(9, 100)), []desk.ID{other.ID}, "longest", true},
		{"9 h 1 min", r(hours(9+1.0/60, 100)), []desk.ID{other.ID}, "longest closing", true},
		{"exactly the reserve is left", r(hours(1, 680)), []desk.ID{other.ID}, "", false},
		{"under the reserve", r(hours(1, 680.5)), []desk.ID{other.ID}, "reserve", false},
		{"all of it", r(hours(1, 700)), []desk.ID{other.ID}, "reserve", false},
		{"more than there is", r(hours(1, 700.5)), []desk.ID{other.ID}, "runs out", true},
		{"two spools are enough", r(hours(1, 720)), []desk.ID{m.blue.ID, other.ID}, "change", false},
		{"two spools, the first is enough", r(hours(1, 30)), []desk.ID{m.blue.ID, other.ID}, "", false},
		{"two spools are not enough", r(hours(1, 741)), []desk.ID{m.blue.ID, other.ID}, "change runs out", true},
		{"the colour of the wish, in other letters", r(hours(1, 10), wish("red ")), []desk.ID{other.ID}, "", false},
		{"another colour", r(hours(1, 10), wish("green")), []desk.ID{other.ID}, "colour", false},
		{"collected elsewhere", r(hours(1, 10), func(r *desk.Request) { r.Branch = m.birch.ID }), []desk.ID{other.ID}, "branch", false},
		{"two plates", append(r(hours(1, 10)), r(hours(1, 10))...), []desk.ID{other.ID}, "together", false},
	} {
		run, warnings, err := m.TryRun(m.ctx, m.operator(), desk.StartForm{Printer: m.mill.ID, Parts: c.parts, Spools: c.spools})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var kinds []string
		reason := false
		for _, w := range warnings {
			kinds = append(kinds, w.Kind)
			reason = reason || w.Reason
			if w.Say == "" {
				t.Errorf("%s: a warning says nothing", c.name)
			}
		}
		if got := strings.Join(kinds, " "); got != c.kinds || reason != c.reason {
			t.Errorf("%s: warned of %q (a reason needed: %v), want %q (%v)", c.name, got, reason, c.kinds, c.reason)
		}
		expect, taken := 0.0, 0.0
		for _, p := range run.Parts {
			expect += p.Expect[pla]
		}
		for _, u := range run.Spools {
			taken += u.Expect
		}
		if math.Abs(expect-taken) > 1e-6 {
			t.Errorf("%s: %g g expected of the parts, %g of the spools", c.name, expect, taken)
		}
	}
	for _, c := range []struct {
		name   string
		spools []desk.ID
		kind   desk.Kind
	}{
		{"no spool", nil, desk.Wrong},
		{"another material", []desk.ID{m.petg.ID}, desk.Wrong},
		{"a spool of another branch", []desk.ID{m.farRed.ID}, desk.Wrong},
		{"the same spool twice", []desk.ID{other.ID, other.ID}, desk.Wrong},
		{"a spool that is being printed with", []desk.ID{m.red.ID}, desk.Wrong},
		{"no such spool", []desk.ID{desk.NewID()}, desk.NotFound},
	} {
		_, _, err := m.TryRun(m.ctx, m.operator(), desk.StartForm{Printer: m.mill.ID, Parts: r(hours(1, 10)), Spools: c.spools})
		faultIs(t, c.name, err, c.kind)
	}
	// On a closed day everything ends when nobody is there.
	m.at = m.at.AddDate(0, 0, -1)
	_, warnings, err := m.TryRun(m.ctx, m.operator(), desk.StartForm{Printer: m.mill.ID, Parts: r(hours(1, 10)), Spools: []desk.ID{other.ID}})
	if err != nil || len(warnings) != 1 || warnings[0].Kind != desk.WarnClosing {
		t.Errorf("on a Sunday: %+v, %v", warnings, err)
	}
	// A branch that never said its hours is not warned of them.
	_, warnings, err = m.TryRun(m.ctx, m.operator(), desk.StartForm{Printer: m.far.ID, Parts: r(hours(1, 10), func(r *desk.Request) { r.Branch = m.birch.ID }), Spools: []desk.ID{m.farRed.ID}})
	if err != nil || len(warnings) != 0 {
		t.Errorf("without hours: %+v, %v", warnings, err)
	}
}

func TestPrintersThatCannot(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 10))
	start := func() error {
		_, _, err := m.StartRun(m.ctx, m.operator(), desk.StartForm{Form: m.form(), Printer: m.mill.ID, Parts: platesOf(r), Spools: []desk.ID{m.red.ID}})
		return err
	}
	m.mill.Out = "nozzle blocked"
	m.write(func(tx desk.Tx) error { return tx.SavePrinter(&m.mill) })
	faultIs(t, "out of service", start(), desk.NotNow)
	m.mill.Out, m.mill.Retired = "", true
	m.write(func(tx desk.Tx) error { return tx.SavePrinter(&m.mill) })
	faultIs(t, "retired", start(), desk.NotNow)
	m.mill.Retired = false
	m.write(func(tx desk.Tx) error { return tx.SavePrinter(&m.mill) })
	faultIs(t, "in service", start(), "")
}

func TestWeighingLooksAtTheScale(t *testing.T) {
	m := newRoom(t)
	for _, c := range []struct {
		name  string
		grams []map[string]float64
		kind  desk.Kind
	}{
		{"as expected", []map[string]float64{{pla: 20}}, ""},
		{"half as much again", []map[string]float64{{pla: 30}}, ""},
		{"more than half off", []map[string]float64{{pla: 30.1}}, desk.Wrong},
		{"less than half", []map[string]float64{{pla: 9.9}}, desk.Wrong},
		{"not a number", []map[string]float64{{pla: math.NaN()}}, desk.Wrong},
		{"endless", []map[string]float64{{pla: math.Inf(1)}}, desk.Wrong},
		{"negative", []map[string]float64{{pla: -20}}, desk.Wrong},
		{"huge", []map[string]float64{{pla: 20001}}, desk.Wrong},
		{"nothing", []map[string]float64{{pla: 0}}, desk.Wrong},
		{"empty", []map[string]float64{{}}, desk.Wrong},
		{"a material that is not on the run", []map[string]float64{{pla: 20, pva: 1}}, desk.Wrong},
		{"no part", nil, desk.Wrong},
		{"a part too many", []map[string]float64{{pla: 20}, {pla: 20}}, desk.Wrong},
	} {
		run := m.start(platesOf(m.agreed(hours(1, 20)))...)
		_, err := m.WeighRun(m.ctx, m.operator(), run.ID, run.Version, desk.WeighForm{Form: m.form(), Grams: c.grams})
		faultIs(t, c.name, err, c.kind)
		if err != nil {
			m.weigh(run, 20)
		}
	}
	// What is off and sure is taken.
	run := m.start(platesOf(m.agreed(hours(1, 20)))...)
	if _, err := m.WeighRun(m.ctx, m.operator(), run.ID, run.Version, desk.WeighForm{Form: m.form(), Grams: []map[string]float64{{pla: 60}}, Sure: true}); err != nil {
		t.Errorf("sure of 60 g: %v", err)
	}
	m.reelsAgree()
}

func TestFailureMustBeSaid(t *testing.T) {
	m := newRoom(t)
	run := m.start(platesOf(m.agreed(hours(1, 20)))...)
	for _, c := range []struct {
		name string
		form desk.FailForm
	}{
		{"no reason", desk.FailForm{Blame: desk.MachineBlame}},
		{"white space for a reason", desk.FailForm{Why: " \n\t", Blame: desk.MachineBlame}},
		{"no blame", desk.FailForm{Why: "x"}},
		{"a blame there is none of", desk.FailForm{Why: "x", Blame: "weather"}},
		{"negative", desk.FailForm{Why: "x", Blame: desk.MachineBlame, Grams: map[string]float64{pla: -1}}},
		{"not a number", desk.FailForm{Why: "x", Blame: desk.MachineBlame, Grams: map[string]float64{pla: math.NaN()}}},
		{"another material", desk.FailForm{Why: "x", Blame: desk.MachineBlame, Grams: map[string]float64{"petg": 1}}},
		{"a novel", desk.FailForm{Why: strings.Repeat("x", 5000), Blame: desk.MachineBlame}},
	} {
		c.form.Form = m.form()
		_, err := m.FailRun(m.ctx, m.operator(), run.ID, run.Version, c.form)
		faultIs(t, c.name, err, desk.Wrong)
	}
}

// A form sent twice does its work once and answers the same; two people at
// once lose nothing.
func TestRepeatedAndCrossedForms(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 20))
	start := desk.StartForm{Form: m.form(), Printer: m.mill.ID, Parts: platesOf(r), Spools: []desk.ID{m.red.ID}}
	run, _, err := m.StartRun(m.ctx, m.operator(), start)
	if err != nil {
		t.Fatal(err)
	}
	again, _, err := m.StartRun(m.ctx, m.operator(), start)
	if err != nil || again.ID != run.ID {
		t.Errorf("the same start again: %v, run %s instead of %s", err, again.ID, run.ID)
	}
	start.Form = m.form()
	_, _, err = m.StartRun(m.ctx, staffOf("Olga", desk.Operator, ""), start)
	faultIs(t, "the same printer by another", err, desk.Stale)
	if !strings.Contains(err.Error(), "Otto") {
		t.Errorf("it does not say who was first: %v", err)
	}
	onFar := start
	onFar.Printer, onFar.Spools = m.far.ID, []desk.ID{m.farRed.ID}
	_, _, err = m.StartRun(m.ctx, m.operator(), onFar)
	faultIs(t, "the same plate on another printer", err, desk.Stale)

	weigh := desk.WeighForm{Form: m.form(), Grams: []map[string]float64{{pla: 20}}}
	one, err := m.WeighRun(m.ctx, m.operator(), run.ID, run.Version, weigh)
	if err != nil {
		t.Fatal(err)
	}
	two, err := m.WeighRun(m.ctx, m.operator(), run.ID, run.Version, weigh)
	if err != nil || two.Version != one.Version {
		t.Errorf("the same weighing again: %v, version %d after %d", err, two.Version, one.Version)
	}
	weigh.Form = m.form()
	_, err = m.WeighRun(m.ctx, m.operator(), run.ID, run.Version, weigh)
	faultIs(t, "a weighing of what another weighed", err, desk.Stale)
	if b := m.balance(r.ID); b != "3.00" {
		t.Errorf("balance %s, want 3.00 once", b)
	}

	r = m.request(r.ID)
	form := m.form()
	shelved, err := m.Shelve(m.ctx, m.operator(), r.ID, r.Version, "B3", form)
	if err != nil {
		t.Fatal(err)
	}
	if back, err := m.Shelve(m.ctx, m.operator(), r.ID, r.Version, "B3", form); err != nil || back.Version != shelved.Version {
		t.Errorf("the same shelving again: %v", err)
	}
	_, err = m.Collect(m.ctx, m.operator(), r.ID, r.Version, desk.CollectForm{Form: m.form(), Unpaid: "x"})
	faultIs(t, "handing over what another shelved meanwhile", err, desk.Stale)
	pay := m.form()
	for range 2 {
		if _, err := m.Pay(m.ctx, m.operator(), r.ID, pay, "1.00", "cash"); err != nil {
			t.Fatal(err)
		}
	}
	if b := m.balance(r.ID); b != "2.00" {
		t.Errorf("balance %s after paying 1.00 of 3.00 twice with one form", b)
	}
	collect := desk.CollectForm{Form: m.form(), Pay: "2.00", How: "card"}
	v := m.request(r.ID).Version
	for range 2 {
		if _, err := m.Collect(m.ctx, m.operator(), r.ID, v, collect); err != nil {
			t.Fatal(err)
		}
	}
	if b, s := m.balance(r.ID), m.request(r.ID); b != "0.00" || s.State != desk.Collected {
		t.Errorf("balance %s, %s", b, s.State)
	}
	m.read(func(tx desk.Tx) error {
		all, err := tx.Messages(r.ID)
		if len(all) != 1 {
			t.Errorf("%d messages", len(all))
		}
		return err
	})
	m.reelsAgree()
}

// A plate that turns out bad on the shelf is printed again; what was taken
// stays taken, the price stays that of what counts.
func TestBadOnTheShelf(t *testing.T) {
	m := newRoom(t)
	r := m.shelved(23, 20)
	if b := m.balance(r.ID); b != "3.00" {
		t.Fatalf("balance %s", b)
	}
	r, err := m.Reprint(m.ctx, m.operator(), r.ID, r.Version, 0, desk.FailForm{Form: m.form(), Why: "A layer came apart.", Blame: desk.MachineBlame})
	if err != nil {
		t.Fatal(err)
	}
	if r.State != desk.Printing || r.Shelf != nil {
		t.Fatalf("it is %s, %+v", r.State, r.Shelf)
	}
	_, err = m.Shelve(m.ctx, m.operator(), r.ID, 0, "", m.form())
	faultIs(t, "shelving what must be printed again", err, desk.NotNow)
	m.weigh(m.start(platesOf(r)...), 22)
	// 22 g weighed, 23 quoted: 3.20; 3.00 was booked.
	if b := m.balance(r.ID); b != "3.20" {
		t.Errorf("balance %s, want 3.20", b)
	}
	m.read(func(tx desk.Tx) error {
		s, err := tx.Spool(m.red.ID)
		if s.Grams != 1000-20-22 {
			t.Errorf("%g g left", s.Grams)
		}
		return err
	})
	m.reelsAgree()
}

// Printed at Birch, collected at Alder: whoever prints need not be of Alder.
func TestPrintedElsewhere(t *testing.T) {
	m := newRoom(t)
	far := staffOf("Faye", desk.Operator, m.birch.ID)
	r := m.agreed(hours(1, 20))
	p, err := m.PrintingPage(m.ctx, far, "")
	if err != nil || len(p.Others) != 1 || len(p.Waiting) != 0 || p.Branch.ID != m.birch.ID {
		t.Fatalf("Birch sees %d of others, %d of its own, %v", len(p.Others), len(p.Waiting), err)
	}
	if _, err := m.WorkSlip(m.ctx, far, r.ID, 0); err != nil {
		t.Errorf("work slip at the branch that prints: %v", err)
	}
	run, _, err := m.StartRun(m.ctx, far, desk.StartForm{Form: m.form(), Printer: m.far.ID, Parts: platesOf(r), Spools: []desk.ID{m.farRed.ID}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err = m.WeighRun(m.ctx, far, run.ID, 0, desk.WeighForm{Form: m.form(), Grams: []map[string]float64{{pla: 20}}}); err != nil {
		t.Fatal(err)
	}
	_, err = m.Shelve(m.ctx, far, r.ID, 0, "", m.form())
	faultIs(t, "shelving at Alder by Birch's operator", err, desk.NotYours)
	if _, err = m.Shelve(m.ctx, staffOf("Al", desk.Operator, m.alder.ID), r.ID, 0, "", m.form()); err != nil {
		t.Fatal(err)
	}
	if !m.told(r.ID, "shelved", "printed at Birch and moved here") || !m.told(r.ID, "printing", "at Birch") {
		t.Errorf("history does not say where it was: %+v", m.events(r.ID))
	}
}

// An agreement opened again and made anew: what was printed before does not
// count for the new plates, and only the difference is charged.
func TestAgreedAnew(t *testing.T) {
	m := newRoom(t)
	r := m.weighed(20, 20)
	m.at = m.at.Add(time.Hour)
	m.write(func(tx desk.Tx) error {
		r.Agreement.At = m.at
		return tx.SaveRequest(&r)
	})
	p, err := m.PrintingPage(m.ctx, m.operator(), m.alder.ID)
	if err != nil || len(p.Waiting) != 1 || p.Waiting[0].Attempts != 0 {
		t.Fatalf("after a new agreement %+v, %v", p.Waiting, err)
	}
	m.weigh(m.start(platesOf(r)...), 15)
	if b := m.balance(r.ID); b != "2.50" { // 1.00 + 15 × 0.10, of which 3.00 were booked
		t.Errorf("balance %s, want 2.50", b)
	}
}

// What is still on a printer of a request that ended is weighed, and costs
// nobody anything.
func TestRunOfWhatEnded(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 20))
	run := m.start(platesOf(r)...)
	m.write(func(tx desk.Tx) error {
		r, err := tx.Request(r.ID)
		if err != nil {
			return err
		}
		r.State = desk.Declined
		return tx.SaveRequest(&r)
	})
	m.weigh(run, 20)
	if b := m.balance(r.ID); b != "0.00" {
		t.Errorf("a declined request owes %s", b)
	}
	m.reelsAgree()
}

func TestPlatesAreSortedByNeed(t *testing.T) {
	m := newRoom(t)
	mk := func(needed string, later time.Duration) desk.Code {
		return m.agreedWith(func(r *desk.Request) { r.Wish.Needed, r.Agreement.At = needed, m.at.Add(later) }, hours(1, 10)).Code
	}
	d, c := mk("", time.Hour), mk("", 0)
	b, a := mk("2026-04-02", 0), mk("2026-04-01", time.Hour)
	p, err := m.PrintingPage(m.ctx, m.operator(), m.alder.ID)
	if err != nil {
		t.Fatal(err)
	}
	got := ""
	for _, w := range p.Waiting {
		got += fmt.Sprint(w.Request.Code, " ")
	}
	if want := fmt.Sprint(a, " ", b, " ", c, " ", d, " "); got != want {
		t.Errorf("waiting in the order %s, want %s", got, want)
	}
}

// Eight people press start at once: one run, and seven who are told who was
// first.
func TestStartedAtOnce(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 20))
	forms := make([]string, 8)
	for i := range forms {
		forms[i] = m.form()
	}
	errs := make(chan error)
	for i, form := range forms {
		go func() {
			_, _, err := m.StartRun(m.ctx, staffOf(fmt.Sprint("Staff ", i), desk.Operator, ""), desk.StartForm{Form: form, Printer: m.mill.ID, Parts: platesOf(r), Spools: []desk.ID{m.red.ID}})
			errs <- err
		}()
	}
	kinds := map[desk.Kind]int{}
	for range forms {
		kinds[desk.KindOf(<-errs)]++
	}
	if kinds[""] != 1 || kinds[desk.Stale] != 7 {
		t.Errorf("started at once: %v", kinds)
	}
	m.read(func(tx desk.Tx) error {
		runs, err := tx.RunsOf(r.ID)
		if len(runs) != 1 {
			t.Errorf("%d runs", len(runs))
		}
		return err
	})
}

// counted counts what a store is asked for, to see that a page asks for many
// things at once and not for each.
type counted struct {
	desk.Store
	asked int
}

type countedTx struct {
	desk.Tx
	asked *int
}

func (c *counted) Read(ctx context.Context, do func(desk.Tx) error) error {
	return c.Store.Read(ctx, func(tx desk.Tx) error { return do(countedTx{tx, &c.asked}) })
}

func (c countedTx) RunsOf(id desk.ID) ([]desk.Run, error) { *c.asked++; return c.Tx.RunsOf(id) }
func (c countedTx) ListRuns(f desk.RunFilter) ([]desk.Run, error) {
	*c.asked++
	return c.Tx.ListRuns(f)
}
func (c countedTx) Request(id desk.ID) (desk.Request, error)  { *c.asked++; return c.Tx.Request(id) }
func (c countedTx) Charges(id desk.ID) ([]desk.Charge, error) { *c.asked++; return c.Tx.Charges(id) }
func (c countedTx) Setting(k desk.SettingKind, v int) (desk.Setting, error) {
	*c.asked++
	return c.Tx.Setting(k, v)
}

// The printing page asks as often for fifty plates as for five.
func TestPrintingPageAsksAtOnce(t *testing.T) {
	m := newRoom(t)
	page := func(n int) int {
		for range n {
			m.agreed(hours(1, 10))
		}
		c := &counted{Store: m.Store}
		d := *m.Desk
		d.Store = c
		if _, err := d.PrintingPage(m.ctx, m.operator(), m.alder.ID); err != nil {
			t.Fatal(err)
		}
		return c.asked
	}
	if few, many := page(5), page(45); few != many {
		t.Errorf("asked %d times for five plates, %d for fifty", few, many)
	}
}
