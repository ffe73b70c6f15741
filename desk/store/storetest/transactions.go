package storetest

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"platebook/desk"
)

// testAllOrNothing: an error or a panic undoes all that was written, the error
// comes back as it is, and versions in the caller's values are as before.
func testAllOrNothing(t *testing.T, s desk.Store) {
	r := request(t, s, nil)
	mine := errors.New("mine")
	try := func(end func() error) error {
		return s.Write(t.Context(), func(tx desk.Tx) error {
			r.Reason = "half"
			if err := tx.SaveRequest(&r); err != nil {
				return err
			}
			if r.Version != 2 {
				t.Errorf("within, the version is %d, want 2", r.Version)
			}
			if err := tx.AddEvent(&desk.Event{Request: r.ID, Version: 2, What: "half"}); err != nil {
				return err
			}
			return end()
		})
	}
	if err := try(func() error { return mine }); err != mine {
		t.Errorf("got %v, want the very error", err)
	}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("a panic was swallowed")
			}
		}()
		try(func() error { panic("on purpose") })
	}()
	ctx, cancel := context.WithCancel(t.Context())
	err := s.Write(ctx, func(tx desk.Tx) error {
		x := r
		if err := tx.SaveRequest(&x); err != nil {
			return err
		}
		cancel()
		return nil
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("nobody waits any more: got %v, want context.Canceled", err)
	}
	if r.Version != 1 {
		t.Errorf("after all that the caller's version is %d, want 1", r.Version)
	}
	got := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(r.ID) })
	events := read(t, s, func(tx desk.Tx) ([]desk.Event, error) { return tx.Events(r.ID, 0) })
	if got.Version != 1 || got.Reason != "" || len(events) != 0 {
		t.Errorf("something of it was kept: version %d, %q, %d lines of history", got.Version, got.Reason, len(events))
	}
}

// testSnapshot: what a reader sees does not change while it reads.
func testSnapshot(t *testing.T, s desk.Store) {
	r := request(t, s, nil)
	err := s.Read(t.Context(), func(tx desk.Tx) error {
		before, err := tx.Request(r.ID)
		if err != nil {
			return err
		}
		write(t, s, func(tx desk.Tx) error {
			r.Reason = "changed"
			if err := tx.SaveRequest(&r); err != nil {
				return err
			}
			return tx.AddEvent(&desk.Event{Request: r.ID, Version: 2, What: "changed"})
		})
		after, err := tx.Request(r.ID)
		if err != nil {
			return err
		}
		events, err := tx.Events(r.ID, 0)
		if before.Version != after.Version || len(events) != 0 {
			t.Errorf("a reader saw version %d and then %d with %d lines of history", before.Version, after.Version, len(events))
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if got := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(r.ID) }); got.Reason != "changed" {
		t.Error("a later reader does not see what was kept")
	}
}

// testReadOnly: a reader cannot write.
func testReadOnly(t *testing.T, s desk.Store) {
	r := request(t, s, nil)
	if err := s.Read(t.Context(), func(tx desk.Tx) error { return tx.SaveRequest(&r) }); err == nil {
		t.Error("a reader wrote")
	}
	if got := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(r.ID) }); got.Version != 1 {
		t.Error("what a reader wrote was kept")
	}
}

// together runs do as many times as n says, at once.
func together(n int, do func(i int)) {
	var wg sync.WaitGroup
	ready := make(chan struct{})
	for i := range n {
		wg.Add(1)
		go func() {
			defer wg.Done()
			<-ready
			do(i)
		}()
	}
	close(ready)
	wg.Wait()
}

// testCounters: writers who read, add and write at once lose nothing of each
// other's, on one row and on several.
func testCounters(t *testing.T, s desk.Store) {
	const writers, each = 12, 5
	shared := request(t, s, nil)
	own := make([]desk.ID, writers)
	for i := range own {
		own[i] = request(t, s, nil).ID
	}
	together(writers, func(i int) {
		for range each {
			err := s.Write(context.Background(), func(tx desk.Tx) error {
				for _, id := range []desk.ID{shared.ID, own[i]} {
					r, err := tx.Request(id)
					if err != nil {
						return err
					}
					r.Wish.Copies++
					if err := tx.SaveRequest(&r); err != nil {
						return err
					}
					if err := tx.AddEvent(&desk.Event{Request: id, Version: r.Version, At: at(int(r.Version))}); err != nil {
						return err
					}
				}
				return nil
			})
			if err != nil {
				t.Errorf("writer %d: %v", i, err)
			}
		}
	})
	for id, want := range map[desk.ID]int{shared.ID: writers * each, own[0]: each} {
		r := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(id) })
		events := read(t, s, func(tx desk.Tx) ([]desk.Event, error) { return tx.Events(id, 0) })
		if r.Wish.Copies != want || int(r.Version) != want+1 || len(events) != want {
			t.Errorf("%d copies at version %d with %d lines of history, want %d", r.Wish.Copies, r.Version, len(events), want)
		}
	}
}

// testRace: of many who change the same version at once, one is kept and the
// rest are told.
func testRace(t *testing.T, s desk.Store) {
	r := request(t, s, nil)
	var kept, stale atomic.Int64
	together(10, func(i int) {
		mine := r
		mine.Reason = fmt.Sprint(i)
		switch err := s.Write(context.Background(), func(tx desk.Tx) error { return tx.SaveRequest(&mine) }); desk.KindOf(err) {
		case "":
			kept.Add(1)
		case desk.Stale:
			stale.Add(1)
		default:
			t.Errorf("writer %d: %v", i, err)
		}
	})
	if kept.Load() != 1 || stale.Load() != 9 {
		t.Errorf("%d changes of one version kept, %d told, want 1 and 9", kept.Load(), stale.Load())
	}
}

// testForms: a form sent many times at once is one request, whether or not the
// sender looks first.
func testForms(t *testing.T, s desk.Store) {
	var kept, known atomic.Int64
	together(10, func(i int) {
		err := s.Write(context.Background(), func(tx desk.Tx) error {
			if i%2 == 0 {
				if _, err := tx.RequestByForm("form"); err == nil {
					return desk.Faultf(desk.NotNow, "there")
				} else if desk.KindOf(err) != desk.NotFound {
					return err
				}
			}
			return tx.SaveRequest(&desk.Request{Code: desk.NewCode(), Form: "form"})
		})
		switch desk.KindOf(err) {
		case "":
			kept.Add(1)
		case desk.NotNow:
			known.Add(1)
		default:
			t.Errorf("sender %d: %v", i, err)
		}
	})
	all := read(t, s, func(tx desk.Tx) ([]desk.Request, error) { return tx.ListRequests(desk.RequestFilter{}) })
	if kept.Load() != 1 || known.Load() != 9 || len(all) != 1 {
		t.Errorf("one form sent 10 times: %d kept, %d known, %d requests", kept.Load(), known.Load(), len(all))
	}
}

// testOddText: text that a database would choke on is kept, mended as needed,
// and none of it is taken for a statement.
func testOddText(t *testing.T, s desk.Store) {
	for _, c := range []struct{ in, want string }{
		{"a\x00b", "ab"},
		{"\xff\xfe", "\uFFFD"},
		{"ok\xc3", "ok\uFFFD"},
		{"👩🏽‍🚀 مرحبا \u202ex", "👩🏽‍🚀 مرحبا \u202ex"},
		{`'; DROP TABLE requests; --`, `'; DROP TABLE requests; --`},
		{"$1 ? :x @y %s", "$1 ? :x @y %s"},
		{"<script>alert(1)</script>\r\nBcc: x", "<script>alert(1)</script>\r\nBcc: x"},
	} {
		r := request(t, s, func(r *desk.Request) { r.Reason, r.Contact.Name = c.in, c.in })
		got := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(r.ID) })
		if got.Reason != c.want {
			t.Errorf("%q comes back as %q, want %q", c.in, got.Reason, c.want)
		}
		// Asking by it must not fail either.
		err := s.Read(t.Context(), func(tx desk.Tx) error {
			for _, err := range []error{
				second(tx.RequestByForm(c.in)), second(tx.RequestByCode(desk.Code(c.in))), second(tx.Request(desk.ID(c.in))), second(tx.StaffByName(c.in)),
			} {
				if desk.KindOf(err) != desk.NotFound {
					return fmt.Errorf("asked for %q: %w", c.in, err)
				}
			}
			return second(tx.ListRequests(desk.RequestFilter{Text: c.in, Branches: []desk.ID{desk.ID(c.in)}, After: desk.ID(c.in)}))
		})
		if err != nil {
			t.Error(err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

// testTimes: a time is kept in UTC to the microsecond, whatever zone it came
// in; long ago and far off too; the zero time stays zero.
func testTimes(t *testing.T, s desk.Store) {
	for _, when := range []time.Time{
		{},
		time.Date(1969, 12, 31, 23, 59, 59, 999_999_000, time.UTC),
		time.Unix(0, 0).UTC(),
		time.Date(2031, 3, 30, 2, 30, 0, 123_456_000, time.FixedZone("east", 3*3600)),
		time.Date(9999, 12, 31, 23, 59, 59, 0, time.UTC),
	} {
		r := request(t, s, func(r *desk.Request) { r.Due = when })
		got := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(r.ID) }).Due
		if !got.Equal(when) || got.IsZero() != when.IsZero() || got.Location() != time.UTC {
			t.Errorf("%v comes back as %v", when, got)
		}
	}
	r := request(t, s, func(r *desk.Request) { r.Due = at(0).Add(1999 * time.Nanosecond) })
	if got := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(r.ID) }).Due; !got.Equal(at(0).Add(time.Microsecond)) {
		t.Errorf("1999 ns come back as %v", got.Sub(at(0)))
	}
}

// testNumbers: what is not a number is refused, not kept as something else.
func testNumbers(t *testing.T, s desk.Store) {
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		refused(t, s, desk.Broken, func(tx desk.Tx) error { return tx.SaveSpool(&desk.Spool{Grams: bad}) })
		refused(t, s, desk.Broken, func(tx desk.Tx) error {
			return tx.SaveRequest(&desk.Request{Code: desk.NewCode(), Wish: desk.Wish{SizeMM: bad}})
		})
	}
	for _, good := range []float64{0, 0.1, -1e-300, math.MaxFloat64, math.SmallestNonzeroFloat64} {
		p := desk.Spool{Grams: good}
		write(t, s, func(tx desk.Tx) error { return tx.SaveSpool(&p) })
		if got := read(t, s, func(tx desk.Tx) (desk.Spool, error) { return tx.Spool(p.ID) }); got.Grams != good {
			t.Errorf("%v comes back as %v", good, got.Grams)
		}
	}
}

// testGiven: what has no ID is given one.
func testGiven(t *testing.T, s desk.Store) {
	r := request(t, s, nil)
	f, m, e := desk.File{Request: r.ID}, desk.Message{Request: r.ID}, desk.Event{Request: r.ID}
	write(t, s, func(tx desk.Tx) error {
		return errors.Join(tx.SaveFile(&f), tx.SaveMessage(&m), tx.AddEvent(&e))
	})
	if r.ID == "" || f.ID == "" || m.ID == "" || e.ID == "" {
		t.Errorf("no ID given: %q %q %q %q", r.ID, f.ID, m.ID, e.ID)
	}
}
