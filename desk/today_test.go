package desk_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"platebook/desk"
)

// Codes as people say, type and scan them.
func TestSpokenCodes(t *testing.T) {
	for _, c := range []struct {
		text string
		want desk.Code
	}{
		{"K7-204", "K7-204"}, {"k7-204", "K7-204"}, {"k7204", "K7-204"}, {"K7 204", "K7-204"}, {"K 7 2 0 4", "K7-204"}, {"k7–204", "K7-204"}, {"K7—204", "K7-204"},
		{"K7_204", "K7-204"}, {"k7.204", "K7-204"}, {"K7/204", "K7-204"}, {"*K7-204*", "K7-204"}, {"K7-204\r\n", "K7-204"}, {"\tK7-204", "K7-204"}, {"#k7-204", "K7-204"},
		{"Ｋ７－２０４", "K7-204"}, // full width, as some keyboards type (UAX #15, form KC)
		{"k7-2o4", "K7-204"}, {"K7-2O4", "K7-204"}, {"K7-l1I", "K7-111"}, {"O7-204", "O7-204"}, {"I7-204", "I7-204"},
		{"K1-204", ""}, {"K0-204", ""}, {"77-204", ""}, {"K7-20", ""}, {"K7-2044", ""}, {"K7-2a4", ""}, {"", ""}, {"K7-204 x", ""}, {"K7&204", ""}, {"Ada", ""}, {"É7-204", ""},
		{"<K7-204>", ""}, {"K7%204", ""}, {strings.Repeat(" ", 80) + "K7-204", ""},
	} {
		got, ok := desk.SpokenCode(c.text)
		if got != c.want || ok != (c.want != "") {
			t.Errorf("%q: %q %v, want %q", c.text, got, ok, c.want)
		}
	}
}

// What finds a request, and for whom.
func TestFind(t *testing.T) {
	m := newRoom(t)
	here := m.asked(desk.InReview, func(r *desk.Request) {
		r.Code, r.Contact.Name, r.Contact.Surname, r.Contact.Email = "K7-204", "Ada Østergård", "Østergård", "ada.o@example.org"
	})
	far := m.asked(desk.OnShelf, func(r *desk.Request) {
		r.Code, r.Branch, r.Contact.Name, r.Contact.Email = "T4-119", m.birch.ID, "Ada Birch", "birch@example.org"
	})
	gone := m.asked(desk.Collected, func(r *desk.Request) { r.Code, r.Forgotten, r.Contact = "R5-111", m.at, desk.Contact{} })
	_ = gone
	everywhere, rita, nobody := m.manager(), m.reviewer(), desk.Actor{Kind: desk.ByStaff, Name: "N"}
	for _, c := range []struct {
		by   desk.Actor
		text string
		want string // codes found; a star for one elsewhere
	}{
		{rita, "k7 204", "K7-204"}, {rita, "K72O4", "K7-204"}, {rita, "K7-2", "K7-204"},
		{rita, "ada", "K7-204"}, {rita, "ADA ØSTER", "K7-204"}, {rita, "østergård", "K7-204"}, {rita, "ada.o@example", "K7-204"}, {rita, "LAMP-FOOT", "K7-204"},
		{rita, "T4-119", "T4-119*"}, {rita, "t4 119", "T4-119*"},
		{rita, "T4-11", ""}, {rita, "Ada Birch", ""}, {rita, "birch@example.org", ""}, // no leafing through another branch
		{everywhere, "ada", "T4-119 K7-204"}, {everywhere, "t4119", "T4-119"},
		{rita, "R5-111", ""}, {everywhere, "R5-111", ""},
		{nobody, "K7-204", "K7-204*"}, {nobody, "ada", ""},
		{rita, "", ""}, {rita, "  \x00 ", ""}, {rita, "%", ""}, {rita, "_", ""}, {rita, `\`, ""}, {rita, "' OR 1=1 --", ""}, {rita, strings.Repeat("a", 100_000), ""},
	} {
		found, err := m.Find(m.ctx, c.by, c.text)
		if err != nil {
			t.Errorf("%s, %.30q: %v", c.by.Name, c.text, err)
			continue
		}
		var got []string
		for _, f := range found {
			code := string(f.Code)
			if f.Elsewhere {
				code += "*"
				if f.ID != "" || f.Name != "" || f.About != "" || f.Request.Contact.Name != "" || f.Branch == "" || f.State == "" {
					t.Errorf("%s, %q: of a request elsewhere it gives %+v", c.by.Name, c.text, f)
				}
			} else if f.ID == "" || f.Name == "" {
				t.Errorf("%s, %q: %+v", c.by.Name, c.text, f)
			}
			got = append(got, code)
		}
		if s := strings.Join(got, " "); s != c.want {
			t.Errorf("%s, %.30q: %q, want %q", c.by.Name, c.text, s, c.want)
		}
	}
	if f, _ := m.Find(m.ctx, rita, "lamp"); len(f) != 1 || f[0].About != "lamp-foot.stl" || f[0].Exact || f[0].Name != "Ada Ø." {
		t.Errorf("%+v", f)
	}
	for _, by := range []desk.Actor{desk.APatron(), {}} {
		_, err := m.Find(m.ctx, by, "ada")
		faultIs(t, "found by no staff", err, desk.NotYours)
	}
	// The same holds for looking.
	_, err := m.LookByCode(m.ctx, rita, far.Code)
	faultIs(t, "looked at elsewhere", err, desk.NotYours)
	if v, err := m.LookByCode(m.ctx, staffOf("O", desk.Operator, m.alder.ID), here.Code); err != nil || v.Reviews || !v.Operates {
		t.Errorf("an operator looks: %v", err)
	}
	_, err = m.LookByCode(m.ctx, everywhere, "R5-111")
	faultIs(t, "looked at what is forgotten", err, desk.NotFound)
}

func TestShortNames(t *testing.T) {
	for _, c := range []struct {
		c    desk.Contact
		want string
	}{
		{desk.Contact{Name: "Ada Østergård", Surname: "Østergård"}, "Ada Ø."},
		{desk.Contact{Name: "Ada van der Berg", Surname: "van der Berg"}, "Ada V."},
		{desk.Contact{Name: "Ada Berg"}, "Ada B."},
		{desk.Contact{Name: "Ada"}, "Ada"},
		{desk.Contact{Email: "someone.long.indeed@example.org"}, "someone.long"},
		{desk.Contact{}, ""},
		{desk.Contact{Name: strings.Repeat("x", 300)}, strings.Repeat("x", 24)},
	} {
		if got := desk.ShortName(c.c); got != c.want {
			t.Errorf("%+v: %q, want %q", c.c, got, c.want)
		}
	}
}

// What waits at a branch: each thing in its group with its next step, seen by
// whoever may do it, and nothing of another branch.
func TestToday(t *testing.T) {
	m := newRoom(t)
	fresh := m.asked(desk.Received, func(r *desk.Request) { r.Wish.Needed = "2026-03-04" })
	m.asked(desk.Received, func(r *desk.Request) { r.Branch = m.birch.ID })
	ready := m.asked(desk.InReview)
	open := m.asked(desk.InReview, func(r *desk.Request) { r.Checklist = nil })
	finding := m.asked(desk.InReview, func(r *desk.Request) { r.Ways, r.Basis.State = nil, desk.Checking })
	waiting := m.asked(desk.InReview)
	wrote := m.asked(desk.WithPatron)
	m.asked(desk.WithPatron) // the patron's turn
	m.write(func(tx desk.Tx) error {
		for _, x := range []desk.Message{
			{Request: waiting.ID, From: desk.ByPatron, Text: "Hello", At: m.at.Add(-3 * time.Hour), Seen: m.at},
			{Request: waiting.ID, From: desk.ByStaff, Text: "Which size?", At: m.at.Add(-2 * time.Hour)},
			{Request: wrote.ID, From: desk.ByPatron, Text: "More time, please", At: m.at.Add(-5 * time.Hour)},
			{Request: wrote.ID, From: desk.ByClock, Text: "A reminder", At: m.at.Add(-time.Hour)}, // answers nobody
		} {
			if err := tx.SaveMessage(&x); err != nil {
				return err
			}
		}
		return nil
	})
	agreed := m.agreed(hours(1, 10))
	going := m.agreed(hours(1, 10))
	m.start(platesOf(going)...)
	m.at = m.at.Add(2 * time.Hour)
	finished := m.agreed(hours(1, 10), hours(1, 10))
	// Mill is taken by the run that should have ended; Twin takes no plates of
	// Mill's model, so finish and weigh on Mill in turn.
	stop := func(r desk.Request) {
		t.Helper()
		var runs []desk.Run
		m.read(func(tx desk.Tx) (err error) { runs, err = tx.RunsOf(r.ID); return })
		last := runs[len(runs)-1]
		if _, err := m.FinishRun(m.ctx, m.operator(), last.ID, last.Version, m.form()); err != nil {
			t.Fatal(err)
		}
	}
	page := func(by desk.Actor, at desk.ID) map[desk.TodayKind]string {
		t.Helper()
		p, err := m.Today(m.ctx, by, at)
		if err != nil {
			t.Fatal(err)
		}
		got := map[desk.TodayKind]string{}
		for _, g := range p.Groups {
			var all []string
			for _, l := range g.Lines {
				say := string(l.Code) + " " + l.Next
				if l.Urgent != "" {
					say += " (" + l.Urgent + ")"
				}
				if l.Code == "" {
					say = l.Name + say
				}
				all = append(all, say)
			}
			got[g.Kind] = strings.Join(all, "; ")
			if g.Count < len(g.Lines) {
				t.Errorf("%s counts %d of %d", g.Kind, g.Count, len(g.Lines))
			}
		}
		return got
	}
	want := func(name string, got, want map[desk.TodayKind]string) {
		t.Helper()
		for k, w := range want {
			if got[k] != w {
				t.Errorf("%s, %s: %q, want %q", name, k, got[k], w)
			}
		}
		for k, g := range got {
			if _, ok := want[k]; !ok {
				t.Errorf("%s has %s: %q", name, k, g)
			}
		}
	}
	c := func(r desk.Request, next string) string { return string(r.Code) + " " + next }
	reviewing := map[desk.TodayKind]string{
		desk.TodayLetters: c(wrote, "Answer"),
		desk.TodayNew:     c(fresh, "Take it into review (needed by Wednesday 4 March)"),
		desk.TodayReview: strings.Join([]string{c(ready, "Send the offer"), c(open, "Go through the checklist"),
			c(finding, "Ways are being found"), c(waiting, "Waits for the patron’s answer")}, "; "),
	}
	want("a reviewer", page(m.reviewer(), ""), reviewing)
	operating := map[desk.TodayKind]string{
		desk.TodayPrint:  c(agreed, "Print") + "; " + c(finished, "Print"),
		desk.TodayGoing:  c(going, "See whether it came out well (should have ended)"),
		desk.TodaySpools: "PLA-02 Put up a new one",
	}
	want("an operator", page(staffOf("O", desk.Operator, m.alder.ID), m.alder.ID), operating)

	stop(going)
	operating[desk.TodayWeigh] = c(going, "Weigh")
	delete(operating, desk.TodayGoing)
	want("an operator, once it ended", page(m.operator(), m.alder.ID), operating)
	run := m.start(platesOf(finished)[:1]...)
	operating[desk.TodayPrint] = c(agreed, "Print") + "; " + c(finished, "Print")
	m.at = m.at.Add(10 * time.Minute)
	if got := page(m.operator(), m.alder.ID); got[desk.TodayPrint] != operating[desk.TodayPrint] || got[desk.TodayGoing] != "" {
		t.Errorf("one plate of two goes: %v", got)
	}
	for i := range 2 { // both attempts fail
		if i > 0 {
			run = m.start(platesOf(finished)[:1]...)
		}
		if _, err := m.FailRun(m.ctx, m.operator(), run.ID, run.Version, desk.FailForm{Form: m.form(), Why: "It came off.", Blame: desk.MachineBlame, Grams: map[string]float64{pla: 1}}); err != nil {
			t.Fatal(err)
		}
	}
	if got := page(m.operator(), m.alder.ID); got[desk.TodayDecide] != c(finished, "Decide: try again or decline") {
		t.Errorf("attempts used up: %v", got)
	}
	shelved := m.shelved(10, 9)
	if got := page(m.operator(), m.alder.ID); got[desk.TodayCall] != "" {
		t.Errorf("just shelved: %v", got)
	}
	m.at = m.at.AddDate(0, 0, 12)
	if got := page(m.operator(), m.alder.ID); got[desk.TodayCall] != c(shelved, "Call the patron") {
		t.Errorf("nearly over: %v", got)
	}
	m.at = m.at.AddDate(0, 0, 4)
	if got := page(m.operator(), m.alder.ID); got[desk.TodayCall] != c(shelved, "Take it off the shelf (its days are over)") {
		t.Errorf("over: %v", got)
	}

	// Another branch, and no branch at all.
	_, err := m.Today(m.ctx, m.reviewer(), m.birch.ID)
	faultIs(t, "another branch's day", err, desk.NotYours)
	_, err = m.Today(m.ctx, desk.Actor{Kind: desk.ByStaff}, "")
	faultIs(t, "a day without a branch", err, desk.NotYours)
	_, err = m.Today(m.ctx, desk.APatron(), m.alder.ID)
	faultIs(t, "a patron's day at the desk", err, desk.NotYours)
}

// Long lists say how many there are, and show those that waited longest.
func TestTodayLong(t *testing.T) {
	m := newRoom(t)
	var first desk.Request
	for i := range 35 {
		r := m.asked(desk.Received, func(r *desk.Request) {
			r.Asked = m.at.Add(time.Duration(i) * time.Minute)
			r.Code = desk.Code(fmt.Sprintf("C%d-%03d", 2+i%8, i))
		})
		if i == 0 {
			first = r
		}
	}
	p, err := m.Today(m.ctx, m.reviewer(), "")
	if err != nil || len(p.Groups) != 1 || p.Groups[0].Count != 35 || len(p.Groups[0].Lines) != 30 || p.Groups[0].Lines[0].Code != first.Code {
		t.Errorf("%+v %v", p.Groups, err)
	}
}

// How often a plate is tried is as the rules had it when it was agreed: Today
// and the page of printing say the same when the rules are others since.
func TestTodayGoesByTheRulesAgreed(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 10))
	for range 2 {
		run := m.start(platesOf(r)...)
		if _, err := m.FailRun(m.ctx, m.operator(), run.ID, 0, desk.FailForm{Form: m.form(), Why: "came off", Blame: desk.MachineBlame}); err != nil {
			t.Fatal(err)
		}
	}
	rules := desk.DefaultRules()
	rules.Attempts = 5
	m.setting(desk.RulesSetting, rules)
	p, err := m.PrintingPage(m.ctx, m.operator(), m.alder.ID)
	if err != nil || len(p.Stuck) != 1 {
		t.Fatalf("the page of printing has %d plates to decide about, %v", len(p.Stuck), err)
	}
	d, err := m.Today(m.ctx, m.operator(), m.alder.ID)
	if err != nil {
		t.Fatal(err)
	}
	kinds := map[desk.TodayKind]int{}
	for _, g := range d.Groups {
		kinds[g.Kind] = g.Count
	}
	if kinds[desk.TodayDecide] != 1 || kinds[desk.TodayPrint] != 0 {
		t.Errorf("Today has %v, where one waits to be decided about", kinds)
	}
}
