package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"net/url"
	"slices"
	"strings"
	"testing"

	"platebook/desk"
)

// seeds is how many requests are made between two starts whose ways are known
// already, so that there is always something to agree to, to print and to pay.
const seeds = 5

// seed makes requests as if they had been checked and ways had been found for
// them: as for one that really was.
func (b *ledger) seed(t *testing.T, r *rooms, kept []desk.Request) (made []desk.Request) {
	t.Helper()
	ctx := t.Context()
	var like *desk.Request
	var file desk.File
	for i := range kept {
		if len(kept[i].Ways) > 0 && len(b.forms[kept[i].Form].files) == 1 {
			like = &kept[i]
		}
	}
	if like == nil {
		t.Fatal("of the first day's requests none can be printed")
	}
	if err := r.store.Read(ctx, func(tx desk.Tx) error {
		all, err := tx.FilesOf(like.ID)
		file = all[0]
		return err
	}); err != nil {
		t.Fatal(err)
	}
	set, err := r.desk.Settings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	b.most += seeds // patrons make as many besides as they did
	for range seeds {
		n := b.next()
		q := &asked{from: fmt.Sprintf("10.%d.%d.%d", n>>16&255, n>>8&255, n&255), token: fmt.Sprintf("seeded-form-%09d", n), seeded: true}
		q.files = [][]byte{fmt.Appendf(nil, "solid seeded %d\nendsolid\n", n)}
		h, size, err := r.desk.Shelves.Put(ctx, bytes.NewReader(q.files[0]), 1<<20)
		if err != nil {
			t.Fatal(err)
		}
		got, err := r.desk.Submit(ctx, desk.Submission{Form: q.token, Source: "page", Branch: like.Branch, Accept: true, Age: "over",
			Contact: desk.Contact{Name: fmt.Sprintf("Patron %d Reed", n), Email: fmt.Sprintf("patron%d@example.org", n), Language: "en"},
			Wish:    desk.Wish{Copies: 1, Rights: true, Terms: set.Versions[desk.TermsSetting]},
			Files:   []desk.Upload{{Name: "part-0.stl", Hash: h, Size: size}}}, desk.APatron())
		if err != nil {
			t.Fatal(err)
		}
		made = append(made, b.found(t, r, got.Request, file, *like))
		q.key, q.id = got.Key, got.Request.ID
		b.asked, b.forms[q.token] = append(b.asked, q), q
	}
	return made
}

// found keeps what a check and a search found for another file as found for a
// request's.
func (b *ledger) found(t *testing.T, r *rooms, to desk.Request, was desk.File, like desk.Request) (k desk.Request) {
	t.Helper()
	ctx := t.Context()
	var file desk.File
	load := func() {
		t.Helper()
		if err := r.store.Read(ctx, func(tx desk.Tx) (err error) {
			if k, err = tx.Request(to.ID); err != nil {
				return err
			}
			all, err := tx.FilesOf(to.ID)
			file = all[0]
			return err
		}); err != nil {
			t.Fatal(err)
		}
	}
	load()
	if err := r.desk.KeepCheck(ctx, file.ID, *was.Result); err != nil {
		t.Fatal(err)
	}
	load()
	var own []desk.Way
	for _, w := range like.Ways {
		w.Parts = append([]desk.PartWay(nil), w.Parts...)
		for i := range w.Parts {
			w.Parts[i].File = file.ID
		}
		w.Plates = append([]desk.PlateWay(nil), w.Plates...)
		for i := range w.Plates {
			w.Plates[i].Copies = map[desk.ID]int{file.ID: w.Plates[i].Copies[was.ID]}
		}
		own = append(own, w)
	}
	if err := r.desk.KeepWays(ctx, k.ID, k.Basis.Asked, own, desk.Basis{Tariff: like.Basis.Tariff, Rules: like.Basis.Rules}); err != nil {
		t.Fatal(err)
	}
	load()
	return k
}

// operator prints what is agreed: starts a run, weighs what came of it, and
// goes on to the next, until the desk is gone. A form that had no answer is sent
// again as it was.
func (b *ledger) operator(ctx context.Context, at string, chance *rand.Rand) {
	if !b.stands(ctx, at, &b.press) {
		return
	}
	for ctx.Err() == nil {
		going := func(q *asked) bool { return q.start != nil && !q.weighed } // the printer has but one
		q := b.take(chance, going)
		if q == nil && !b.any(going) { // its patron may be looking at it just now
			q = b.take(chance, func(q *asked) bool { return q.way != "" && q.start == nil })
		}
		if q == nil {
			if _, err := b.press.Get(ctx, "/desk/printing"); err != nil {
				return
			}
			continue
		}
		var err error
		switch {
		case q.start == nil:
			err = b.fillStart(ctx, q)
		case q.run == "":
			err = b.sendStart(ctx, q)
		case q.weigh == nil:
			err = b.fillWeigh(ctx, q)
		default:
			err = b.sendWeigh(ctx, q)
		}
		b.leave(q)
		if err != nil {
			return
		}
		b.acted()
	}
}

// any says whether there is such a request, also where someone is about it. What
// it is asked for must be the caller's own to change.
func (b *ledger) any(suits func(*asked) bool) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.ContainsFunc(b.asked, suits)
}

func (b *ledger) fillStart(ctx context.Context, q *asked) error {
	page, err := b.press.Get(ctx, "/desk/printing/start?plate="+url.QueryEscape(string(q.id)+":0"))
	if err != nil {
		return err
	}
	f, err := page.Form("/desk/printing/start")
	if err != nil {
		b.wrong("the page to start a run: %v (%d)", err, page.Status)
		return nil
	}
	f.Set("printer", first(f.Choices["printer"]))
	if all := f.Choices["spool"]; len(all) > 0 {
		f.Set("spool", all[len(all)-1])
	}
	q.start = f
	return nil
}

func (b *ledger) sendStart(ctx context.Context, q *asked) error {
	page, err := b.press.Send(ctx, q.start)
	if err != nil {
		return err
	}
	path, _, _ := strings.Cut(page.Path, "?")
	if !page.Sent || !strings.HasPrefix(path, "/desk/printing/runs/") {
		b.wrong("a run's start was answered with %d at %s: %s", page.Status, page.Path, brief(page.Text))
		return nil
	}
	q.run = path
	return nil
}

func (b *ledger) fillWeigh(ctx context.Context, q *asked) error {
	page, err := b.press.Get(ctx, q.run)
	if err != nil {
		return err
	}
	f, err := page.Form("/weigh")
	if err != nil {
		b.wrong("a run's page: %v (%d)", err, page.Status)
		return nil
	}
	for name := range f.Values {
		if strings.HasPrefix(name, "grams-") {
			f.Set(name, "2.5")
		}
	}
	f.Set("sure", "yes")
	q.weigh = f
	return nil
}

func (b *ledger) sendWeigh(ctx context.Context, q *asked) error {
	page, err := b.press.Send(ctx, q.weigh)
	if err != nil {
		return err
	}
	if !page.Sent {
		b.wrong("a weight was answered with %d at %s: %s", page.Status, page.Path, brief(page.Text))
		return nil
	}
	q.weighed = true
	return nil
}

// print holds the run of a request against what whoever prints knows: what was
// acknowledged is there once, and a weight is booked on the spool and on the
// account, or on neither.
func (b *ledger) print(t *testing.T, tx desk.Tx, k desk.Request, q *asked, charges []desk.Charge) error {
	t.Helper()
	runs, err := tx.RunsOf(k.ID)
	if err != nil {
		return err
	}
	prices := 0
	for _, c := range charges {
		if c.Kind == desk.PriceCharge {
			prices++
		}
	}
	weighed := 0
	for _, run := range runs {
		if q.start == nil || run.Form != q.start.Get("form") {
			t.Errorf("%s: a run is nobody's", k.Code)
		}
		if run.State == desk.Weighed {
			weighed++
		} else if run.State != desk.Going {
			t.Errorf("%s: its run is %s", k.Code, run.State)
		}
		for _, u := range run.Spools {
			lines, err := tx.SpoolLines(u.Spool, 0)
			if err != nil {
				return err
			}
			n := 0
			for _, l := range lines {
				if l.Run == run.ID {
					n++
				}
			}
			if want := map[bool]int{true: 1}[run.State == desk.Weighed]; n != want {
				t.Errorf("%s: its run is %s, and %d lines of the spool are of it", k.Code, run.State, n)
			}
		}
	}
	if len(runs) > 1 || q.run != "" && len(runs) != 1 || q.weighed && weighed != 1 {
		t.Errorf("%s: %d runs, %d weighed; acknowledged %v and %v", k.Code, len(runs), weighed, q.run != "", q.weighed)
	}
	// The first plate is all there is of these small parts.
	if want := weighed; prices != want {
		t.Errorf("%s: %d runs weighed, %d prices booked", k.Code, weighed, prices)
	}
	if (k.State == desk.Printing) != (len(runs) == 1) {
		t.Errorf("%s: it is %s with %d runs", k.Code, k.State, len(runs))
	}
	return nil
}
