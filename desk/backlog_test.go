package desk_test

import (
	"context"
	"database/sql"
	"fmt"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
)

// A backlog is listed as far as people go through it, what is needed soonest
// first, and how much more there is is said.
func TestBacklog(t *testing.T) {
	m := newRoom(t)
	const plates, held = 130, 210
	for i := range plates {
		m.at = m.at.Add(time.Minute)
		m.agreedWith(func(r *desk.Request) {
			if i == plates-1 {
				r.Wish.Needed = "2026-03-20"
			}
		}, hours(1, 10))
	}
	p, err := m.PrintingPage(m.ctx, m.operator(), m.alder.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(p.Waiting) >= plates || len(p.Waiting)+p.More != plates || p.Waiting[0].Request.Wish.Needed == "" {
		t.Errorf("%d plates listed and %d more, of %d; first that needed by %q", len(p.Waiting), p.More, plates, p.Waiting[0].Request.Wish.Needed)
	}
	other, err := m.PrintingPage(m.ctx, m.operator(), m.birch.ID)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(other.Others); n > 0 && n+other.More != plates || len(other.Waiting) > 0 {
		t.Errorf("of another branch: %d listed and %d more", n, other.More)
	}
	var last desk.Code
	for i := range held {
		until := m.at.AddDate(0, 0, held-i) // who came last has the least time left
		r := m.agreedWith(func(r *desk.Request) {
			r.State, r.Due = desk.OnShelf, until
			r.Shelf = &desk.Shelved{Since: m.at, Until: until, Branch: m.alder.ID, Place: fmt.Sprint(i)}
		}, hours(1, 10))
		last = r.Code
	}
	s, err := m.ShelfPage(m.ctx, m.operator(), m.alder.ID, false)
	if err != nil {
		t.Fatal(err)
	}
	if len(s.Held) >= held || len(s.Held)+s.HeldMore != held || s.Held[0].Request.Code != last {
		t.Errorf("%d listed and %d more, of %d; first %s, not %s", len(s.Held), s.HeldMore, held, s.Held[0].Request.Code, last)
	}
	if s, err = m.ShelfPage(m.ctx, m.operator(), m.alder.ID, true); err != nil || len(s.Held) != held || s.HeldMore != 0 {
		t.Errorf("all of it: %d listed and %d more, of %d, %v", len(s.Held), s.HeldMore, held, err)
	}
	// Today, those whose days end are listed however many came before them.
	d, err := m.Today(m.ctx, m.operator(), m.alder.ID)
	if err != nil {
		t.Fatal(err)
	}
	var ends []desk.Code
	for _, g := range d.Groups {
		if g.Kind == desk.TodayCall {
			for _, l := range g.Lines {
				ends = append(ends, l.Code)
			}
		}
	}
	if len(ends) != 3 || ends[0] != last { // rules: reminded 3 days before
		t.Errorf("Today lists %v of the hold shelf, of which %s ends first", ends, last)
	}
}

// Every job that is owed is put in, of however many requests.
func TestTakeUpOfABacklog(t *testing.T) {
	m := newRoom(t)
	const n = 450
	for i := range n {
		m.agreedWith(func(r *desk.Request) {
			r.State, r.Agreement = desk.Received, nil
			r.Asked = m.at.Add(time.Duration(i/3) * time.Second) // some at the same moment
			r.Basis = desk.Basis{State: desk.Waiting, Asked: int64(i + 1)}
		})
	}
	got := map[desk.ID]int{}
	m.Store.(*store.Store).SetEnqueue(func(_ context.Context, _ *sql.Tx, j desk.Job) error {
		got[j.ID]++
		return nil
	})
	if err := m.LookRound(m.ctx); err != nil {
		t.Fatal(err)
	}
	if len(got) != n {
		t.Errorf("%d of %d requests are taken up", len(got), n)
	}
}
