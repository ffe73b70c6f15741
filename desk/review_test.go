package desk_test

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"platebook/desk"
	"platebook/engine/likeness"
	"platebook/engine/mesh"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// asked makes a request of Alder's in a state, with a checked file, ways found
// and every question answered fine.
func (m *room) asked(state desk.State, change ...func(*desk.Request)) desk.Request {
	m.t.Helper()
	m.forms++
	code := desk.Code(fmt.Sprintf("A%d-%03d", 2+m.forms/1000%8, m.forms%1000))
	way := func(id string, h float64) desk.Way {
		return desk.Way{ID: id, Printer: model, Material: []string{pla}, Plates: []desk.PlateWay{hours(h, 20)}, Grams: map[string]float64{pla: 20}, Seconds: h * 3600,
			Price: tariff.Price{Currency: "EUR", Total: "3.00"}, Parts: []desk.PartWay{{SizeMM: mesh.Vec{80, 40, 20}, Copies: 1}}}
	}
	r := desk.Request{ID: desk.NewID(), State: state, Branch: m.alder.ID, Code: code, Form: m.form(), Key: desk.HashOf([]byte(code)), Source: "page",
		Contact: desk.Contact{Name: "Sam Example", Surname: "Example", Email: "sam@example.org", Language: "en"},
		Wish:    desk.Wish{Copies: 1}, Asked: m.at, Changed: m.at,
		Ways:  []desk.Way{way("sensible", 3), way("finer", 7), way("largest", 9)},
		Basis: desk.Basis{State: desk.Done, Tariff: m.tariff, Rules: m.rules, Asked: 1}}
	for _, q := range desk.DefaultRules().Questions {
		r.Checklist = append(r.Checklist, desk.Judgement{Question: q.ID, Text: q.Text, Fine: true, By: "test", At: m.at})
	}
	q := &desk.Quote{Ways: r.Ways[:2], Best: "sensible", Sent: m.at, Until: m.at.AddDate(0, 0, 14), Tariff: m.tariff, Rules: m.rules}
	switch state {
	case desk.WithPatron:
		r.Quote = q
	case desk.Agreed, desk.Printing, desk.OnShelf, desk.Collected:
		r.Quote, r.Agreement = q, &desk.Agreement{Way: r.Ways[0], At: m.at, By: "patron", Tariff: m.tariff, Rules: m.rules}
	}
	if state == desk.OnShelf {
		r.Shelf = &desk.Shelved{Since: m.at, Until: m.at.AddDate(0, 0, 14), Branch: m.alder.ID}
	}
	if state.Over() {
		r.Closed = m.at
	}
	for _, c := range change {
		c(&r)
	}
	f := desk.File{ID: desk.NewID(), Request: r.ID, Name: "lamp-foot.stl", Hash: "h" + desk.Hash(code), Size: 1, Sent: m.at, Check: desk.Done,
		Result: &desk.Checked{Answer: quote.Answer{Format: "stl", SizeMM: mesh.Vec{40, 20, 10}, Printable: true}, Shape: boxShape(m.t, 40, 20, 10)}}
	m.write(func(tx desk.Tx) error {
		if err := tx.SaveRequest(&r); err != nil {
			return err
		}
		return tx.SaveFile(&f)
	})
	return r
}

var boxShapes sync.Map // taken once: prints take longer than all else in these tests

// boxShape is the print of a box's shape.
func boxShape(t testing.TB, x, y, z float64) string {
	t.Helper()
	if s, ok := boxShapes.Load([3]float64{x, y, z}); ok {
		return s.(string)
	}
	b := &mesh.Mesh{}
	for i := range 8 {
		b.V = append(b.V, mesh.Vec{x * float64(i&1), y * float64(i>>1&1), z * float64(i>>2)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		b.F = append(b.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	p, err := likeness.Of(b)
	if err != nil {
		t.Fatal(err)
	}
	text, err := p.MarshalText()
	if err != nil {
		t.Fatal(err)
	}
	boxShapes.Store([3]float64{x, y, z}, string(text))
	return string(text)
}

func (m *room) fileOf(r desk.Request) desk.ID {
	m.t.Helper()
	var all []desk.File
	m.read(func(tx desk.Tx) (err error) { all, err = tx.FilesOf(r.ID); return })
	return all[0].ID
}

func (m *room) planFor(r desk.Request) desk.Plan {
	return desk.Plan{Printer: model, Way: "standard", Materials: []string{pla}, Parts: []desk.PartPlan{{File: m.fileOf(r), Copies: 1, LongestMM: 80}}}
}

func (m *room) reviewer() desk.Actor { return staffOf("Rita", desk.Reviewer, m.alder.ID) }

// reviewCall is one thing a reviewer does; it is done right.
type reviewCall struct {
	name string
	from []desk.State // it is possible from
	do   func(m *room, by desk.Actor, r desk.Request, version int64) error
}

func reviewCalls() []reviewCall {
	open := []desk.State{desk.Received, desk.InReview, desk.WithPatron, desk.Agreed, desk.Printing}
	return []reviewCall{
		{"take", []desk.State{desk.Received}, func(m *room, by desk.Actor, r desk.Request, v int64) error {
			_, err := m.Take(m.ctx, by, r.ID, v)
			return err
		}},
		{"plan", []desk.State{desk.InReview}, func(m *room, by desk.Actor, r desk.Request, v int64) error {
			_, err := m.SetPlan(m.ctx, by, r.ID, v, m.planFor(r))
			return err
		}},
		{"judge", []desk.State{desk.InReview}, func(m *room, by desk.Actor, r desk.Request, v int64) error {
			_, err := m.Judge(m.ctx, by, r.ID, v, "weapon", false, "It looks like a grip.")
			return err
		}},
		{"offer", []desk.State{desk.InReview}, func(m *room, by desk.Actor, r desk.Request, v int64) error {
			_, err := m.SendOffer(m.ctx, by, r.ID, v, desk.OfferForm{Form: m.form(), Ways: []string{"sensible", "finer"}, Best: "sensible"})
			return err
		}},
		{"take back", []desk.State{desk.WithPatron, desk.Agreed, desk.Printing}, func(m *room, by desk.Actor, r desk.Request, v int64) error {
			_, err := m.TakeBack(m.ctx, by, r.ID, v, m.form(), "The size was a mistake of ours.")
			return err
		}},
		{"decline", open, func(m *room, by desk.Actor, r desk.Request, v int64) error {
			_, err := m.Decline(m.ctx, by, r.ID, v, desk.DeclineForm{Form: m.form(), Reason: "The walls are too thin."})
			return err
		}},
		{"move", open, func(m *room, by desk.Actor, r desk.Request, v int64) error {
			_, err := m.MoveBranch(m.ctx, by, r.ID, v, m.birch.ID)
			return err
		}},
		{"contact", desk.States(), func(m *room, by desk.Actor, r desk.Request, v int64) error {
			c := r.Contact
			c.Phone = "555 0100"
			_, err := m.EditContact(m.ctx, by, r.ID, v, c)
			return err
		}},
		{"reply", desk.States(), func(m *room, by desk.Actor, r desk.Request, v int64) error {
			_, err := m.Reply(m.ctx, by, r.ID, m.form(), "About it", "Hello.")
			return err
		}},
		{"set aside", desk.States(), func(m *room, by desk.Actor, r desk.Request, v int64) error {
			return m.SetAside(m.ctx, by, r.ID)
		}},
	}
}

// Who may do what where: a reviewer or manager of the request's branch, or of
// all, and nobody else. What is refused leaves no trace.
func TestWhoMayReview(t *testing.T) {
	m := newRoom(t)
	for _, c := range reviewCalls() {
		for _, who := range []struct {
			name string
			by   desk.Actor
			may  bool
		}{
			{"reviewer here", staffOf("R", desk.Reviewer, m.alder.ID), true},
			{"reviewer everywhere", staffOf("R", desk.Reviewer, ""), true},
			{"manager here", staffOf("M", desk.Manager, m.alder.ID), true},
			{"manager everywhere", staffOf("M", desk.Manager, ""), true},
			{"reviewer elsewhere", staffOf("R", desk.Reviewer, m.birch.ID), false},
			{"manager elsewhere", staffOf("M", desk.Manager, m.birch.ID), false},
			{"operator here", staffOf("O", desk.Operator, m.alder.ID), false},
			{"operator everywhere", staffOf("O", desk.Operator, ""), false},
			{"no grants", desk.Actor{Kind: desk.ByStaff, Name: "N"}, false},
			{"patron", desk.APatron(), false},
			{"nobody", desk.Actor{}, false},
			{"patron with grants", desk.Actor{Kind: desk.ByPatron, Grants: []desk.Grant{{Role: desk.Manager}}}, false},
		} {
			r := m.asked(c.from[0])
			err := c.do(m, who.by, r, r.Version)
			switch {
			case who.may && err != nil:
				t.Errorf("%s by %s: %v", c.name, who.name, err)
			case !who.may:
				faultIs(t, c.name+" by "+who.name, err, desk.NotYours)
				if len(m.events(r.ID)) != 0 || m.request(r.ID).Version != r.Version {
					t.Errorf("%s by %s was refused and left a trace", c.name, who.name)
				}
				// Nor does a stale version tell them what was done.
				var f *desk.Fault
				if err := c.do(m, who.by, r, 99); !errors.As(err, &f) || f.Kind != desk.NotYours || len(f.Since) > 0 {
					t.Errorf("%s by %s on another version: %v", c.name, who.name, err)
				}
			}
		}
	}
}

// Every call in every state: it is done and its history line says before and
// after, or it is refused with a sentence and nothing is changed.
func TestStatesOfReview(t *testing.T) {
	m := newRoom(t)
	for _, c := range reviewCalls() {
		for _, state := range desk.States() {
			name := fmt.Sprintf("%s while %s", c.name, state)
			r := m.asked(state)
			err := c.do(m, m.reviewer(), r, r.Version)
			if slices.Contains(c.from, state) {
				if err != nil {
					t.Errorf("%s: %v", name, err)
					continue
				}
				lines := m.events(r.ID)
				if c.name == "set aside" { // nothing was unanswered
					if len(lines) != 0 {
						t.Errorf("%s: %d lines", name, len(lines))
					}
					continue
				}
				if len(lines) != 1 || lines[0].Who != "Rita" || lines[0].Say == "" || lines[0].What == "" {
					t.Errorf("%s: history %+v", name, lines)
				} else if c.name != "reply" && (lines[0].After == "" || lines[0].Before == "" && c.name != "judge") {
					t.Errorf("%s: history line without before and after: %+v", name, lines[0])
				}
				continue
			}
			faultIs(t, name, err, desk.NotNow)
			var f *desk.Fault
			if errors.As(err, &f) && (len(f.Say) < 30 || !strings.HasSuffix(f.Say, ".")) {
				t.Errorf("%s: %q is no sentence", name, f.Say)
			}
			if got := m.request(r.ID); got.Version != r.Version || got.State != state || len(m.events(r.ID)) != 0 {
				t.Errorf("%s was refused and changed something", name)
			}
		}
	}
	// A run on a printer: neither taken back nor declined under it.
	r := m.agreed(hours(1, 10))
	m.start(platesOf(r)...)
	_, err := m.TakeBack(m.ctx, m.reviewer(), r.ID, 0, m.form(), "x")
	faultIs(t, "taken back while a run goes", err, desk.NotNow)
	_, err = m.Decline(m.ctx, m.reviewer(), r.ID, 0, desk.DeclineForm{Form: m.form(), Reason: "x"})
	faultIs(t, "declined while a run goes", err, desk.NotNow)
	// A forgotten request: nothing.
	for _, c := range reviewCalls() {
		r := m.asked(desk.Declined, func(r *desk.Request) { r.Forgotten = m.at })
		faultIs(t, c.name+" after forgetting", c.do(m, m.reviewer(), r, 0), desk.NotNow)
	}
}

// Two at once: the second is told what the first did, and what only background
// work did stands in nobody's way.
func TestTwoAtOnce(t *testing.T) {
	m := newRoom(t)
	for _, c := range reviewCalls() {
		if c.name == "reply" || c.name == "set aside" {
			continue // they change nothing another could miss
		}
		r := m.asked(c.from[0])
		if _, err := m.EditContact(m.ctx, staffOf("Una", desk.Reviewer, ""), r.ID, r.Version, desk.Contact{Name: "Samuel Example", Email: "s@example.org", Language: "en"}); err != nil {
			t.Fatal(err)
		}
		err := c.do(m, m.reviewer(), r, r.Version)
		faultIs(t, c.name, err, desk.Stale)
		var f *desk.Fault
		if !errors.As(err, &f) || len(f.Since) != 1 || f.Since[0].Who != "Una" {
			t.Errorf("%s: does not say what was done meanwhile: %+v", c.name, f)
		}
		if n := len(m.events(r.ID)); n != 1 {
			t.Errorf("%s: %d lines of history", c.name, n)
		}
		// The clock's own changes.
		r = m.asked(c.from[0])
		m.write(func(tx desk.Tx) error {
			now, err := tx.Request(r.ID)
			if err != nil {
				return err
			}
			if err := tx.SaveRequest(&now); err != nil {
				return err
			}
			return tx.AddEvent(&desk.Event{Request: r.ID, Version: now.Version, At: m.at, Kind: desk.ByClock, Who: "the clock", What: "checked", Say: "Checked."})
		})
		err = c.do(m, m.reviewer(), r, r.Version)
		if c.name == "offer" { // ways may be other ways by now
			faultIs(t, c.name+" after the clock", err, desk.Stale)
		} else if err != nil {
			t.Errorf("%s after the clock: %v", c.name, err)
		}
	}
}

// The same thing sent twice is done once, and both times it worked.
func TestSentTwice(t *testing.T) {
	m := newRoom(t)
	by := m.reviewer()
	for _, c := range []struct {
		name  string
		state desk.State
		do    func(r desk.Request) (desk.Request, error)
	}{
		{"take", desk.Received, func(r desk.Request) (desk.Request, error) { return m.Take(m.ctx, by, r.ID, r.Version) }},
		{"plan", desk.InReview, func(r desk.Request) (desk.Request, error) {
			return m.SetPlan(m.ctx, by, r.ID, r.Version, m.planFor(r))
		}},
		{"judge", desk.InReview, func(r desk.Request) (desk.Request, error) {
			return m.Judge(m.ctx, by, r.ID, r.Version, "harm", true, "")
		}},
		{"offer", desk.InReview, func(r desk.Request) (desk.Request, error) {
			return m.SendOffer(m.ctx, by, r.ID, r.Version, desk.OfferForm{Form: "once-" + string(r.ID), Ways: []string{"sensible"}})
		}},
		{"take back", desk.Agreed, func(r desk.Request) (desk.Request, error) {
			return m.TakeBack(m.ctx, by, r.ID, r.Version, "once-"+string(r.ID), "A mistake.")
		}},
		{"decline", desk.InReview, func(r desk.Request) (desk.Request, error) {
			return m.Decline(m.ctx, by, r.ID, r.Version, desk.DeclineForm{Form: "once-" + string(r.ID), Reason: "No.", Remember: true})
		}},
		{"reply", desk.InReview, func(r desk.Request) (desk.Request, error) {
			_, err := m.Reply(m.ctx, by, r.ID, "once-"+string(r.ID), "A", "B")
			return m.request(r.ID), err
		}},
	} {
		r := m.asked(c.state)
		first, err := c.do(r)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		lines := m.events(r.ID)
		second, err := c.do(r)
		if err != nil {
			t.Errorf("%s, again: %v", c.name, err)
			continue
		}
		if diff := cmp.Diff(first, second); diff != "" {
			t.Errorf("%s, again, gave another result:\n%s", c.name, diff)
		}
		if diff := cmp.Diff(lines, m.events(r.ID)); diff != "" {
			t.Errorf("%s, again, left a line:\n%s", c.name, diff)
		}
	}
	var shapes []desk.Shape
	m.read(func(tx desk.Tx) (err error) { shapes, err = tx.Shapes(); return })
	if len(shapes) != 1 {
		t.Errorf("%d shapes are remembered of one declined twice over", len(shapes))
	}
	for _, form := range []string{""} {
		r := m.asked(desk.InReview)
		_, err := m.Reply(m.ctx, by, r.ID, form, "A", "B")
		faultIs(t, "a reply without a token", err, desk.Wrong)
		_, err = m.Decline(m.ctx, by, r.ID, 0, desk.DeclineForm{Form: form, Reason: "x"})
		faultIs(t, "declined without a token", err, desk.Wrong)
	}
}

// What keeps an offer from being sent.
func TestOffersRefused(t *testing.T) {
	m := newRoom(t)
	for _, c := range []struct {
		name   string
		change func(*desk.Request)
		ways   []string
		best   string
		kind   desk.Kind
		say    string
	}{
		{"a question open", func(r *desk.Request) { r.Checklist = r.Checklist[1:] }, []string{"sensible"}, "", desk.NotNow, "not answered yet"},
		{"a question not fine", func(r *desk.Request) { r.Checklist[2].Fine = false }, []string{"sensible"}, "", desk.NotNow, "not fine"},
		{"never sought", func(r *desk.Request) { r.Basis, r.Ways = desk.Basis{}, nil }, []string{"sensible"}, "", desk.NotNow, "settle the plan"},
		{"being found", func(r *desk.Request) { r.Basis.State = desk.Checking }, []string{"sensible"}, "", desk.NotNow, "still being found"},
		{"failed", func(r *desk.Request) { r.Basis.State = desk.Failed }, []string{"sensible"}, "", desk.NotNow, "failed"},
		{"none found", func(r *desk.Request) { r.Ways = nil }, []string{"sensible"}, "", desk.NotNow, "No way was found"},
		{"another tariff by now", func(r *desk.Request) { r.Basis.Tariff-- }, []string{"sensible"}, "", desk.NotNow, "tariff changed"},
		{"longer than the longest print", nil, []string{"sensible", "largest"}, "", desk.Wrong, "longest print"},
		{"no way chosen", nil, nil, "", desk.Wrong, "at least one"},
		{"a way that is not there", nil, []string{"sensible", "golden"}, "", desk.Wrong, "not among those found"},
		{"a best that is not offered", nil, []string{"sensible"}, "finer", desk.Wrong, "one of those offered"},
		{"time not a number", func(r *desk.Request) { r.Ways[0].Plates = nil; r.Ways[0].Seconds = math.MaxFloat64 }, []string{"sensible"}, "", desk.Wrong, "longest print"},
	} {
		r := m.asked(desk.InReview, func(r *desk.Request) {
			if c.change != nil {
				c.change(r)
			}
		})
		_, err := m.SendOffer(m.ctx, m.reviewer(), r.ID, r.Version, desk.OfferForm{Form: m.form(), Ways: c.ways, Best: c.best})
		faultIs(t, c.name, err, c.kind)
		var f *desk.Fault
		if errors.As(err, &f) && !strings.Contains(f.Say, c.say) {
			t.Errorf("%s: %q does not say %q", c.name, f.Say, c.say)
		}
		if got := m.request(r.ID); got.State != desk.InReview || got.Quote != nil {
			t.Errorf("%s: was offered all the same", c.name)
		}
	}
	// 8 h is the longest; exactly that is offered.
	r := m.asked(desk.InReview, func(r *desk.Request) { r.Ways[0].Plates = []desk.PlateWay{hours(8, 20), hours(8, 20)} })
	if _, err := m.SendOffer(m.ctx, m.reviewer(), r.ID, r.Version, desk.OfferForm{Form: m.form(), Ways: []string{"sensible"}}); err != nil {
		t.Error(err)
	}
}

// A quote stands to the end of its last day on the library's clocks, whatever
// they do in between (IANA: Europe/Dublin goes forward on 29 March 2026).
func TestQuoteUntil(t *testing.T) {
	for _, c := range []struct {
		zone, sent, until string
		days              int
	}{
		{"UTC", "2026-03-02T09:00:00Z", "2026-03-16T23:59:59.999999Z", 14},
		{"UTC", "2026-03-02T09:00:00Z", "2026-03-02T23:59:59.999999Z", 0},
		{"Europe/Dublin", "2026-03-20T09:00:00Z", "2026-04-03T22:59:59.999999Z", 14},
		{"Europe/Dublin", "2026-06-01T23:30:00Z", "2026-06-03T22:59:59.999999Z", 1}, // 00:30 on the 2nd there
		{"America/St_Johns", "2026-11-25T02:00:00Z", "2026-11-26T03:29:59.999999Z", 1},
	} {
		m := newRoom(t, func(r *desk.Rules, _ *tariff.Tariff) { r.QuoteDays = c.days })
		m.setting(desk.LibrarySetting, desk.Library{Name: "Test Library", Locale: "en-IE", TimeZone: c.zone, Languages: []string{"en"}, Address: "https://desk.example"})
		m.at, _ = time.Parse(time.RFC3339, c.sent)
		r := m.asked(desk.InReview)
		r, err := m.SendOffer(m.ctx, m.reviewer(), r.ID, r.Version, desk.OfferForm{Form: m.form(), Ways: []string{"finer", "sensible"}, Best: "finer"})
		if err != nil {
			t.Fatal(err)
		}
		if got := r.Quote.Until.Format(time.RFC3339Nano); got != c.until {
			t.Errorf("%s, sent %s for %d days: until %s, want %s", c.zone, c.sent, c.days, got, c.until)
		}
		if r.Quote.Best != "finer" || len(r.Quote.Ways) != 2 || r.Quote.Ways[0].ID != "sensible" || r.Quote.Program != "test" || r.Quote.Tariff != m.tariff || r.Quote.Rules != m.rules || r.Quote.By != "Rita" {
			t.Errorf("quote %+v", r.Quote)
		}
		if !r.Due.Equal(r.Quote.Until) {
			t.Errorf("the clock looks again at %s", r.Due)
		}
	}
}

// What a message says when staff leave it as drafted, and what when they write
// it themselves. What patrons wrote counts as answered.
func TestAnswersAreWritten(t *testing.T) {
	m := newRoom(t)
	r := m.asked(desk.InReview)
	m.write(func(tx desk.Tx) error {
		return tx.SaveMessage(&desk.Message{Request: r.ID, From: desk.ByPatron, Who: "Sam", Text: "Hello?", At: m.at})
	})
	look := func() desk.RequestView {
		v, err := m.Look(m.ctx, m.reviewer(), r.ID)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	if v := look(); v.Unanswered().IsZero() {
		t.Error("looking answered the patron")
	}
	m.at = m.at.Add(time.Hour)
	if _, err := m.SendOffer(m.ctx, m.reviewer(), r.ID, 0, desk.OfferForm{Form: m.form(), Ways: []string{"finer"}}); err != nil {
		t.Fatal(err)
	}
	v := look()
	last := v.Messages[len(v.Messages)-1]
	if !v.Unanswered().IsZero() || last.From != desk.ByStaff || last.Who != "Rita" || !strings.Contains(last.Text, v.Link) || !strings.Contains(last.Text, "Finer") || strings.Contains(last.Text, "As we would print it") {
		t.Errorf("offer: %+v", last)
	}
	// Whoever only prints reads the letter, and cannot act as the patron by it.
	key := strings.TrimPrefix(v.Link[strings.LastIndex(v.Link, "/"):], "/")
	if v, err := m.Look(m.ctx, m.operator(), r.ID); err != nil || v.Link != "" || len(v.Messages) == 0 {
		t.Errorf("an operator's view: %v, link %q", err, v.Link)
	} else if last := v.Messages[len(v.Messages)-1]; !strings.Contains(last.Text, "Finer") || len(key) < 16 || strings.Contains(fmt.Sprintf("%+v", v.Messages)+fmt.Sprintf("%+v", v.Posted), key) {
		t.Errorf("an operator reads %q, the key is %q", last.Text, key)
	}
	m.at = m.at.Add(time.Hour)
	evil := "<script>alert(1)</script> {{.Link}} \r\nBcc: x\x00\u202e"
	if _, err := m.Decline(m.ctx, m.reviewer(), r.ID, 0, desk.DeclineForm{Form: m.form(), Reason: evil, Subject: "No\r\nBcc: all@example.org", Text: evil}); err != nil {
		t.Fatal(err)
	}
	v = look()
	last = v.Messages[len(v.Messages)-1]
	if last.Subject != "No Bcc: all@example.org" || strings.ContainsAny(last.Text, "\x00\u202e\r") || !strings.Contains(last.Text, "<script>alert(1)</script> {{.Link}}") {
		t.Errorf("what was written is kept as text, on one line where it must: %q %q", last.Subject, last.Text)
	}
	if v.Request.State != desk.Declined || v.Request.Closed.IsZero() || v.Request.Due.IsZero() {
		t.Errorf("declined: %+v", v.Request)
	}
	for _, c := range []struct {
		name string
		do   func(r desk.Request) error
	}{
		{"declined without a reason", func(r desk.Request) error {
			_, err := m.Decline(m.ctx, m.reviewer(), r.ID, 0, desk.DeclineForm{Form: m.form(), Reason: " \n\u200b"})
			return err
		}},
		{"taken back without a reason", func(r desk.Request) error {
			_, err := m.TakeBack(m.ctx, m.reviewer(), r.ID, 0, m.form(), "")
			return err
		}},
		{"an empty reply", func(r desk.Request) error {
			_, err := m.Reply(m.ctx, m.reviewer(), r.ID, m.form(), "x", " ")
			return err
		}},
		{"moved where it is", func(r desk.Request) error {
			_, err := m.MoveBranch(m.ctx, m.reviewer(), r.ID, 0, m.alder.ID)
			return err
		}},
		{"moved to nowhere", func(r desk.Request) error {
			_, err := m.MoveBranch(m.ctx, m.reviewer(), r.ID, 0, "nowhere")
			return err
		}},
	} {
		faultIs(t, c.name, c.do(m.asked(desk.WithPatron)), desk.Wrong)
	}
}

// A question answered with not fine needs a reason; one answered again keeps
// both answers in the history.
func TestChecklist(t *testing.T) {
	m := newRoom(t)
	r := m.asked(desk.InReview, func(r *desk.Request) { r.Checklist = nil })
	_, err := m.Judge(m.ctx, m.reviewer(), r.ID, r.Version, "weapon", false, "  ")
	faultIs(t, "no reason", err, desk.Wrong)
	_, err = m.Judge(m.ctx, m.reviewer(), r.ID, r.Version, "nonsense", true, "")
	faultIs(t, "no such question", err, desk.Wrong)
	if r, err = m.Judge(m.ctx, m.reviewer(), r.ID, r.Version, "weapon", false, "A grip."); err != nil {
		t.Fatal(err)
	}
	if r, err = m.Judge(m.ctx, m.manager(), r.ID, r.Version, "weapon", true, "It is a door handle."); err != nil {
		t.Fatal(err)
	}
	if len(r.Checklist) != 1 || !r.Checklist[0].Fine || r.Checklist[0].By != "Mina" || r.Checklist[0].Text != "Is it no weapon, nor part of one?" {
		t.Errorf("%+v", r.Checklist)
	}
	lines := m.events(r.ID)
	if e := lines[len(lines)-1]; !strings.Contains(e.Before, "A grip.") || !strings.Contains(e.After, "door handle") {
		t.Errorf("%+v", e)
	}
}

// A declined shape that was remembered is shown when it comes again, turned or
// scaled; one that was not is not.
func TestLikenessToDeclined(t *testing.T) {
	m := newRoom(t)
	r := m.asked(desk.InReview)
	if _, err := m.Decline(m.ctx, m.reviewer(), r.ID, 0, desk.DeclineForm{Form: m.form(), Reason: "Part of a weapon.", Remember: true}); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name  string
		shape string
		alike bool
	}{
		{"the same", boxShape(t, 40, 20, 10), true},
		{"twice as large", boxShape(t, 80, 40, 20), true},
		{"lying otherwise", boxShape(t, 10, 40, 20), true},
		{"a rod", boxShape(t, 200, 5, 5), false},
		{"no print at all", "AAAA", false},
		{"nothing", "", false},
	} {
		got, err := m.Resembles(m.ctx, c.shape)
		if err != nil || (len(got) == 1) != c.alike {
			t.Errorf("%s: %v %v", c.name, got, err)
		} else if c.alike && (got[0].Code != r.Code || got[0].Reason != "Part of a weapon." || !strings.Contains(got[0].Says, string(r.Code))) {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
	v, err := m.Look(m.ctx, m.reviewer(), m.asked(desk.Received).ID)
	if err != nil || len(v.Alike) != 1 || v.Alike[0].Alike[0].Reason != "Part of a weapon." {
		t.Errorf("%+v %v", v.Alike, err)
	}
}

func TestContacts(t *testing.T) {
	m := newRoom(t)
	r := m.asked(desk.InReview)
	for _, c := range []struct {
		name  string
		c     desk.Contact
		field string
	}{
		{"no name", desk.Contact{Email: "a@example.org", Language: "en"}, "name"},
		{"no address at all", desk.Contact{Name: "Sam", Language: "en"}, "email"},
		{"half an address", desk.Contact{Name: "Sam", Email: "sam@", Language: "en"}, "email"},
		{"two addresses", desk.Contact{Name: "Sam", Email: "a@example.org, b@example.org", Language: "en"}, "email"},
		{"a header", desk.Contact{Name: "Sam", Email: "a@example.org\r\nBcc: b@example.org", Language: "en"}, "email"},
		{"a language nobody chooses", desk.Contact{Name: "Sam", Email: "a@example.org", Language: "tlh"}, "language"},
	} {
		_, err := m.EditContact(m.ctx, m.reviewer(), r.ID, 0, c.c)
		var f *desk.Fault
		if !errors.As(err, &f) || f.Kind != desk.Wrong || f.Fields[c.field] == "" {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	got, err := m.EditContact(m.ctx, m.reviewer(), r.ID, 0, desk.Contact{Name: "Ada\r\nLove", Email: "ada@example.org", Language: "en"})
	if err != nil || got.Contact.Name != "Ada Love" || got.Contact.Surname != "Love" || got.Patron == r.Patron {
		t.Errorf("%+v %v", got.Contact, err)
	}
}
