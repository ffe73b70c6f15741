package desk_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"platebook/desk"
)

// days moves the clock.
func (m *room) days(n float64) { m.at = m.at.Add(time.Duration(n * 24 * float64(time.Hour))) }

func (m *room) round() {
	m.t.Helper()
	if err := m.LookRound(m.ctx); err != nil {
		m.t.Fatal(err)
	}
}

// quoted makes a request that is with the patron, its quote standing for days.
func (m *room) quoted(days int) desk.Request {
	m.t.Helper()
	return m.agreedWith(func(r *desk.Request) {
		r.State = desk.WithPatron
		r.Quote = &desk.Quote{Ways: []desk.Way{r.Agreement.Way}, Best: "sensible", Sent: m.at, Until: m.at.AddDate(0, 0, days), By: "Rita"}
		r.Agreement = nil
	}, hours(1, 10))
}

// messages counts those of the conversation by the first word of their form.
func (m *room) messages(id desk.ID) map[string]int {
	m.t.Helper()
	n := map[string]int{}
	m.read(func(tx desk.Tx) error {
		all, err := tx.Messages(id)
		for _, l := range all {
			word, _, _ := strings.Cut(l.Form, " ")
			n[word]++
			if l.Subject == "" || !strings.Contains(l.Text, "https://desk.example/my/") {
				m.t.Errorf("a message without subject or link: %+v", l)
			}
		}
		return err
	})
	return n
}

func (m *room) tallies() (all []desk.Tally) {
	m.t.Helper()
	m.read(func(tx desk.Tx) (err error) {
		all, err = tx.Tallies("0000-00", "9999-99")
		return err
	})
	return all
}

// A text of the library's own that cannot be filled in, as one kept by a program
// that knew more, keeps nothing from happening: the program's own stands in.
func TestTextsThatDoNotFillIn(t *testing.T) {
	m := newRoom(t)
	broken := desk.Text{Subject: "{{.Code}}", Body: "{{.Weather}} {{.Link}}"}
	m.setting(desk.TextsSetting, desk.Texts{"en": {desk.TextLapsed: broken, desk.TextReady: broken, desk.TextRemind: broken}})
	r := m.quoted(14)
	m.days(15)
	m.round()
	if r = m.request(r.ID); r.State != desk.Lapsed || m.messages(r.ID)["lapsed"] != 1 {
		t.Errorf("it is %s, with messages %v", r.State, m.messages(r.ID))
	}
	if r = m.shelved(10, 10); m.messages(r.ID)["ready"] != 1 {
		t.Errorf("messages %v", m.messages(r.ID))
	}
}

// A quote of 14 days, reminders 3 days before the end, as the rules have it;
// each row is a look round that long after the quote was sent.
func TestQuotesByTheClock(t *testing.T) {
	m := newRoom(t)
	r := m.quoted(14)
	sent := m.at
	for _, c := range []struct {
		after  string
		state  desk.State
		remind int
		lapsed int
	}{
		{"0s", desk.WithPatron, 0, 0},
		{"263h59m", desk.WithPatron, 0, 0}, // a minute before the eleventh day is over
		{"264h", desk.WithPatron, 1, 0},
		{"300h", desk.WithPatron, 1, 0},
		{"336h", desk.WithPatron, 1, 0}, // it stands until the last moment
		{"336h1s", desk.Lapsed, 1, 1},
		{"340h", desk.Lapsed, 1, 1},
	} {
		d, err := time.ParseDuration(c.after)
		if err != nil {
			t.Fatal(err)
		}
		m.at = sent.Add(d)
		m.round()
		m.round()
		got, said := m.request(r.ID), m.messages(r.ID)
		if got.State != c.state || said["remind"] != c.remind || said["lapsed"] != c.lapsed {
			t.Errorf("after %s it is %s, messages %v; want %s, %d, %d", c.after, got.State, said, c.state, c.remind, c.lapsed)
		}
	}
	tallies := m.tallies()
	if len(tallies) != 1 || tallies[0].State != desk.Lapsed || tallies[0].Month != "2026-03" || tallies[0].Branch != m.alder.ID {
		t.Errorf("counted as %+v", tallies)
	}
	if !m.told(r.ID, "reminded", "reminded") || !m.told(r.ID, "lapsed", "ended") {
		t.Errorf("history %+v", m.events(r.ID))
	}
	got := m.request(r.ID)
	if got.Reason == "" || got.Closed != m.at.Add(-4*time.Hour+time.Second) || got.Due != got.Closed.AddDate(0, 0, 30) {
		t.Errorf("closed %v, due %v, because %q", got.Closed, got.Due, got.Reason)
	}
}

func TestTheShelfByTheClock(t *testing.T) {
	m := newRoom(t)
	r := m.shelved(10, 10)
	until := m.request(r.ID).Shelf.Until
	before := m.messages(r.ID)["remind"]
	m.at = until.AddDate(0, 0, -3)
	m.round()
	if n := m.messages(r.ID)["remind"]; n != before+1 {
		t.Errorf("reminded %d times", n-before)
	}
	m.at = until.Add(time.Minute)
	m.round()
	if got := m.request(r.ID); got.State != desk.Lapsed {
		t.Errorf("it is %s", got.State)
	}
	for _, a := range m.tallies() {
		if a.Runs != 1 || a.Failed != 0 || a.Grams != 10 || a.Material != pla {
			t.Errorf("counted as %+v", a)
		}
	}
}

// No reminder for a quote so short that it began within the days of reminding,
// nor where the library wants none.
func TestRemindersThatAreNotSent(t *testing.T) {
	for _, c := range []struct{ remind, quote int }{{3, 3}, {3, 2}, {0, 14}} {
		m := newRoom(t, func(r *desk.Rules, _ *tariffT) { r.RemindDays = c.remind })
		r := m.quoted(c.quote)
		for range 4 * c.quote {
			m.round()
			m.days(0.25)
		}
		if n := m.messages(r.ID)["remind"]; n != 0 {
			t.Errorf("%d days, reminding %d: reminded %d times", c.quote, c.remind, n)
		}
	}
}

// One broken off at any write and begun again ends as one that was not.
func TestARoundMayBeBrokenOffAnywhere(t *testing.T) {
	play := func(breakAt int) (writes int, end string) {
		m := newRoom(t)
		quotes := []desk.Request{m.quoted(1), m.quoted(5), m.quoted(14)}
		m.days(3)
		b := &breaking{Store: m.Store, at: breakAt}
		m.Desk.Store = b
		err := m.LookRound(m.ctx)
		if breakAt >= 0 && !errors.Is(err, errBroken) {
			t.Fatalf("broken off at write %d: %v", breakAt, err)
		}
		writes, b.at = b.n, -1
		m.round()
		for _, r := range quotes {
			got := m.request(r.ID)
			end += fmt.Sprint(got.State, got.Version, m.messages(r.ID), len(m.events(r.ID)), "; ")
		}
		return writes, end + fmt.Sprint(len(m.tallies()))
	}
	writes, want := play(-1)
	if writes < 3 {
		t.Fatalf("only %d writes", writes)
	}
	for i := range writes {
		if _, got := play(i); got != want {
			t.Errorf("broken off at write %d:\n%s\nwant\n%s", i, got, want)
		}
	}
}

// breaking fails one write, after what it did, as a disk that is full at the
// commit.
type breaking struct {
	desk.Store
	n, at int
}

var errBroken = errors.New("broken off")

func (b *breaking) Write(ctx context.Context, do func(desk.Tx) error) error {
	i := b.n
	b.n++
	return b.Store.Write(ctx, func(tx desk.Tx) error {
		if err := do(tx); err != nil || i != b.at {
			return err
		}
		return errBroken
	})
}

// Bytes nothing refers to go after a day; others stay.
func TestTheSweep(t *testing.T) {
	m := newRoom(t)
	put := func(text string) desk.Hash {
		h, _, err := m.Shelves.Put(m.ctx, bytes.NewReader([]byte(text)), 1000)
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	there := func(h desk.Hash) bool {
		b, err := m.Shelves.Open(m.ctx, h)
		if err == nil {
			err = b.Close()
		}
		return err == nil
	}
	orphan, file, picture := put("orphan"), put("file"), put("picture")
	r := m.agreed(hours(1, 10))
	m.write(func(tx desk.Tx) error {
		return errors.Join(tx.SaveFile(&desk.File{Request: r.ID, Name: "a.stl", Hash: file, Check: desk.NoModel}), tx.Refer(r.ID, picture))
	})
	m.days(0.9)
	young := put("young")
	m.round()
	if !there(orphan) {
		t.Error("bytes put less than a day ago are gone: the form they came with may still be filled in")
	}
	m.days(0.2)
	m.round()
	if there(orphan) || !there(file) || !there(picture) || !there(young) {
		t.Errorf("there: orphan %v, file %v, picture %v, young %v", there(orphan), there(file), there(picture), there(young))
	}
	m.days(2)
	put("young") // sent once more: young again
	m.round()
	if !there(young) {
		t.Error("what was put again is gone")
	}
}

// Bytes that cannot be deleted, as one that somebody reads on Windows, keep no
// others, and are told of.
func TestTheSweepGoesOn(t *testing.T) {
	m := newRoom(t)
	var all []desk.Hash
	for i := range 20 {
		h, _, err := m.Shelves.Put(m.ctx, strings.NewReader(fmt.Sprint("orphan ", i)), 1000)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, h)
	}
	slices.Sort(all)
	was := m.Shelves
	m.Desk.Shelves = stuck{was, all[0]}
	m.days(2)
	if err := m.LookRound(m.ctx); !errors.Is(err, errStuck) {
		t.Errorf("what cannot be deleted is not told of: %v", err)
	}
	for i, h := range all {
		b, err := was.Open(m.ctx, h)
		if err == nil {
			b.Close()
		}
		if there := err == nil; there != (i == 0) {
			t.Errorf("of %d, the one numbered %d is there: %v", len(all), i, there)
		}
	}
}

// stuck are shelves that one file cannot be taken from.
type stuck struct {
	desk.Shelves
	file desk.Hash
}

var errStuck = errors.New("it is in use")

func (s stuck) Delete(ctx context.Context, h desk.Hash) error {
	if h == s.file {
		return errStuck
	}
	return s.Shelves.Delete(ctx, h)
}

func TestTheAuditIsNotKeptForEver(t *testing.T) {
	m := newRoom(t)
	old := m.at
	for range 3 {
		m.write(func(tx desk.Tx) error {
			return tx.AddLogIn(desk.LogIn{At: m.at, Name: "otto", From: "192.0.2.1", OK: true})
		})
		m.days(50)
	}
	m.round() // 90 days: the first is 150 days old, the second 100, the third 50
	m.read(func(tx desk.Tx) error {
		all, err := tx.LogIns(old.AddDate(0, 0, -1), "", "", 10)
		if len(all) != 1 {
			t.Errorf("%d log-ins are kept", len(all))
		}
		return err
	})
}

// What is over is forgotten after the library's days, and not before; the
// counts stay.
func TestForgettingByTheClock(t *testing.T) {
	m := newRoom(t)
	over, open := m.quoted(1), m.agreed(hours(1, 10))
	m.days(2)
	m.round() // lapses
	closed := m.request(over.ID).Closed
	m.at = closed.AddDate(0, 0, 30).Add(-time.Second)
	m.round()
	if !m.request(over.ID).Forgotten.IsZero() {
		t.Error("forgotten too early")
	}
	m.at = closed.AddDate(0, 0, 30)
	before := m.tallies()
	m.round()
	m.round()
	got := m.request(over.ID)
	if got.Forgotten != m.at || got.Contact != (desk.Contact{}) || got.State != desk.Lapsed || got.Key != "" || len(m.messages(over.ID)) != 0 {
		t.Errorf("forgotten it is %+v", got)
	}
	if after := m.tallies(); len(after) != 1 || !slices.Equal(before, after) {
		t.Errorf("counts were %v and are %v", before, after)
	}
	if r := m.request(open.ID); !r.Forgotten.IsZero() || r.Contact.Name == "" {
		t.Error("what is not over was forgotten")
	}
}
