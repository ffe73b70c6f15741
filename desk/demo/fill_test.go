package demo

import (
	"context"
	"io"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/engine/mesh"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// sketch stands in for background work: figures of about the right size,
// without looking at a facet. What work.Do makes of the same files is tried
// with the command.
func sketch(ctx context.Context, d *desk.Desk, j desk.Job) error {
	switch j.Kind {
	case desk.CheckFile:
		w, err := d.FileForCheck(ctx, j.ID)
		if err != nil {
			return err
		}
		b, err := d.Shelves.Open(ctx, w.File.Hash)
		if err != nil {
			return err
		}
		defer b.Close()
		text, err := io.ReadAll(b)
		if err != nil {
			return err
		}
		c := desk.Checked{Answer: quote.Answer{File: w.File.Name}}
		if !strings.Contains(string(text), "heron") {
			c.Answer.Format, c.Answer.Unit, c.Answer.SizeMM, c.Answer.Scale, c.Answer.Printable = "stl", "mm", mesh.Vec{40, 30, 20}, 1, true
		}
		return d.KeepCheck(ctx, j.ID, c)
	case desk.FindWays:
		w, err := d.RequestForWays(ctx, j.ID)
		if err != nil {
			return err
		}
		r := w.Request
		grams := map[string]float64{r.Plan.Materials[0]: 30}
		p, err := w.Settings.Tariff.Price(tariff.Order{Items: []tariff.Item{{Material: r.Plan.Materials[0], Grams: 30}}, Prints: 1, Copies: 1, Seconds: 5400})
		if err != nil {
			return err
		}
		way := desk.Way{ID: "sensible", Says: "The library's usual way.", Printer: r.Plan.Printer, Material: r.Plan.Materials[:1], Grams: grams,
			Seconds: 5400, Price: p, Plates: []desk.PlateWay{{Seconds: 5400, Grams: grams, Copies: map[desk.ID]int{r.Plan.Parts[0].File: 1}}}}
		return d.KeepWays(ctx, j.ID, r.Basis.Asked, []desk.Way{way}, desk.Basis{State: desk.Done, Tariff: w.Settings.Versions[desk.TariffSetting], Rules: w.Settings.Versions[desk.RulesSetting]})
	}
	return nil
}

func open(t *testing.T, now time.Time) *desk.Desk {
	t.Helper()
	s, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return &desk.Desk{Store: s, Shelves: s.Shelves(), Now: func() time.Time { return now }, Secret: []byte("thirty-two bytes for larkmere ok"),
		Passwords: desk.PasswordCost{KiB: 64, Passes: 1, Lanes: 1}}
}

// Whatever day and hour the demonstration is set on, every story comes to the
// end it is told to.
func TestEveryStoryIsTold(t *testing.T) {
	for _, now := range []time.Time{
		time.Date(2027, 1, 4, 3, 5, 0, 0, time.UTC),    // a Monday night after the winter holidays
		time.Date(2026, 10, 25, 1, 30, 0, 0, time.UTC), // a Sunday, the hour clocks go back
	} {
		t.Run(now.Format("Mon 2006-01-02"), func(t *testing.T) {
			d := open(t, now)
			if err := Fill(t.Context(), d, Options{Do: sketch}); err != nil {
				t.Fatal(err)
			}
			states(t, d)
		})
	}
}

func states(t *testing.T, d *desk.Desk) {
	var all []desk.Request
	if err := d.Store.Read(t.Context(), func(tx desk.Tx) (err error) {
		all, err = tx.ListRequests(desk.RequestFilter{Most: 1000})
		return err
	}); err != nil {
		t.Fatal(err)
	}
	got, forgotten := map[desk.State]int{}, 0
	for _, r := range all {
		got[r.State]++
		if !r.Forgotten.IsZero() {
			forgotten++
		}
	}
	want := map[desk.State]int{}
	for _, s := range stories {
		want[map[stage]desk.State{received: desk.Received, inReview: desk.InReview, offered: desk.WithPatron, agreed: desk.Agreed,
			started: desk.Printing, finished: desk.Printing, stuck: desk.Printing, shelved: desk.OnShelf, called: desk.OnShelf, collected: desk.Collected,
			declined: desk.Declined, withdrawn: desk.Withdrawn, unanswered: desk.Lapsed, uncollected: desk.Lapsed}[s.end]]++
	}
	for _, s := range desk.States() {
		if got[s] != want[s] || want[s] == 0 {
			t.Errorf("%d requests are %s, want %d", got[s], s, want[s])
		}
	}
	if forgotten < 3 {
		t.Errorf("%d requests are forgotten", forgotten)
	}
}
