package store_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/internal/pg"
)

// Figures of a library that has run for years: 50 000 requests at four
// branches, 400 of them open, the rest closed and most of those forgotten.
const (
	manyRequests = 50_000
	openRequests = 400
)

var benchStart = time.Date(2027, 1, 1, 9, 0, 0, 0, time.UTC)

// years fills a store. Every request has a file, a few lines of history and
// as much JSON as one with ways found has.
func years(b *testing.B, s *store.Store) {
	b.Helper()
	rnd := rand.New(rand.NewPCG(1, 2))
	ways := make([]desk.Way, 3)
	for i := range ways {
		ways[i] = desk.Way{ID: "way", Says: strings.Repeat("as it is, ", 20), Parts: make([]desk.PartWay, 2), Plates: make([]desk.PlateWay, 2)}
	}
	names := []string{"Ágnes", "Björn", "Chloé", "Dmitri", "Eilidh", "Fadwa", "Göran", "Hye-jin"}
	for done := 0; done < manyRequests; {
		err := s.Write(context.Background(), func(tx desk.Tx) error {
			for range 500 {
				n := done
				r := desk.Request{Code: desk.Code(fmt.Sprintf("%c%d-%03d", 'A'+n/8000%18, 2+n/1000%8, n%1000)), Branch: desk.ID(fmt.Sprint("branch", rnd.IntN(4))),
					Patron: desk.HashOf([]byte(fmt.Sprint(rnd.IntN(4000)))), Asked: benchStart.Add(time.Duration(n) * time.Hour), Ways: ways,
					Form: fmt.Sprint("form", n), Key: desk.HashOf([]byte(fmt.Sprint("key", n))),
					Contact: desk.Contact{Name: fmt.Sprint(names[rnd.IntN(8)], " ", n), Email: fmt.Sprintf("patron%d@example.org", n)}}
				states := desk.States()
				if left := manyRequests - n; left <= openRequests {
					r.State = states[n%6]
				} else {
					r.State, r.Closed = states[6+n%4], r.Asked.AddDate(0, 0, 20)
					if left > 2000 {
						r.Forgotten = r.Closed.AddDate(0, 0, 30)
						r.Contact, r.Ways = desk.Contact{}, nil
					}
				}
				if err := tx.SaveRequest(&r); err != nil {
					return err
				}
				if r.Forgotten.IsZero() {
					if err := tx.SaveFile(&desk.File{Request: r.ID, Name: "part.stl", Hash: desk.HashOf([]byte(r.Form)), Result: &desk.Checked{}}); err != nil {
						return err
					}
				}
				for i := range 6 {
					if err := tx.AddEvent(&desk.Event{Request: r.ID, Version: int64(i), At: r.Asked, What: "looked", Say: "Someone looked at it."}); err != nil {
						return err
					}
				}
				done++
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
}

func benchmark(b *testing.B, s *store.Store) {
	years(b, s)
	if s.Dialect() == "postgres" {
		if _, err := s.DB().Exec("ANALYZE"); err != nil { // as its autovacuum does
			b.Fatal(err)
		}
	}
	now := benchStart.Add(manyRequests * time.Hour)
	north := []desk.ID{"branch1"}
	var some []desk.Request
	ask := func(name string, do func(tx desk.Tx) error) {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if err := s.Read(context.Background(), do); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	list := func(name string, f desk.RequestFilter) {
		ask(name, func(tx desk.Tx) (err error) {
			some, err = tx.ListRequests(f)
			return err
		})
		b.Logf("%s: %d", name, len(some))
	}
	list("list today", desk.RequestFilter{States: []desk.State{desk.Received, desk.InReview, desk.Agreed, desk.Printing}, Branches: north, Most: 200})
	ask("files of those", func(tx desk.Tx) error {
		var ids []desk.ID
		for _, r := range some {
			ids = append(ids, r.ID)
		}
		_, err := tx.FilesOfAll(ids)
		return err
	})
	list("list newest closed", desk.RequestFilter{States: []desk.State{desk.Collected}, Branches: north, Newest: true, Most: 25})
	list("list newest of all", desk.RequestFilter{Newest: true, Most: 25})
	list("page in the middle", desk.RequestFilter{Newest: true, Most: 25, After: some[0].ID})
	list("to forget", desk.RequestFilter{ClosedBy: now.AddDate(0, 0, -30), Unforgotten: true})
	list("due", desk.RequestFilter{DueBy: now})
	ask("count today", func(tx desk.Tx) error {
		_, err := tx.CountRequests(desk.RequestFilter{Branches: north, States: desk.States()[:6]})
		return err
	})
	ask("count a patron's month", func(tx desk.Tx) error {
		_, err := tx.CountRequests(desk.RequestFilter{Patron: desk.HashOf([]byte("7")), AskedSince: now.AddDate(0, -1, 0)})
		return err
	})
	ask("unanswered", func(tx desk.Tx) error { _, err := tx.Unanswered(north); return err })
	list("search a name", desk.RequestFilter{Text: "hye-JIN", Unforgotten: true, Newest: true, Most: 50})
	list("search what is not there", desk.RequestFilter{Text: "nobody at all", Unforgotten: true, Newest: true, Most: 50})
	ask("one request and its history", func(tx desk.Tx) error {
		r, err := tx.RequestByKey(desk.HashOf([]byte("key25000")))
		if err != nil {
			return err
		}
		if _, err := tx.Events(r.ID, 0); err != nil {
			return err
		}
		_, err = tx.FilesOf(r.ID)
		return err
	})
	n := 0
	b.Run("insert a request", func(b *testing.B) {
		for b.Loop() {
			n++
			if err := send(context.Background(), s, fmt.Sprint("bench", n)); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("change a request", func(b *testing.B) {
		for b.Loop() {
			err := s.Write(context.Background(), func(tx desk.Tx) error {
				r, err := tx.RequestByKey(desk.HashOf([]byte("key49999")))
				if err != nil {
					return err
				}
				if err := tx.SaveRequest(&r); err != nil {
					return err
				}
				return tx.AddEvent(&desk.Event{Request: r.ID, Version: r.Version, What: "changed"})
			})
			if err != nil {
				b.Fatal(err)
			}
		}
	})
}

func BenchmarkSQLite(b *testing.B) { benchmark(b, openStore(b, store.Options{})) }

func BenchmarkPostgres(b *testing.B) {
	benchmark(b, openStore(b, store.Options{Database: pg.Database(b)}))
}
