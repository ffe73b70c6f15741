//go:build unix

package web

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"slices"
	"syscall"
	"testing"
	"time"

	"platebook/desk"
	"platebook/engine/findings"
	"platebook/engine/mesh"
)

// BenchmarkStaffPages measures what a member of staff waits for with 50 000
// requests stored, 600 of them open at four branches, each with a file, letters
// and a history. It reports the 95th percentile of a page, in milliseconds:
//
//	go test ./desk/web -run none -bench StaffPages -benchtime 200x
func BenchmarkStaffPages(b *testing.B) { benchStaffPages(b, 50_000, 600) }

// BenchmarkBacklog is the same where 24 000 of the requests are open, a thousand
// in each state at each branch.
func BenchmarkBacklog(b *testing.B) { benchStaffPages(b, 50_000, 24_000) }

func benchStaffPages(b *testing.B, all, opened int) {
	p := aPrintroom(b)
	branches := []desk.Branch{p.branch, {Name: "Alder Street"}, {Name: "Birch Road"}, {Name: "Quayside"}}
	open := p.stored(b, branches, all, opened)
	who := desk.Staff{Name: "bench", Called: "Bench", Grants: []desk.Grant{{Role: desk.Manager}}, Home: p.branch.ID, Active: true, Made: p.clock()}
	if err := p.store.Write(b.Context(), func(tx desk.Tx) error { return tx.SaveStaff(&who) }); err != nil {
		b.Fatal(err)
	}
	visitor := p.visitor(b)
	if r, _ := visitor.post(b, "/probe/as/"+string(who.ID), nil); r.StatusCode != http.StatusOK {
		b.Fatal(r.Status)
	}
	home := httptest.NewRequest(http.MethodGet, visitor.url+"/", nil).URL
	cookies := visitor.Jar.Cookies(home)
	for _, page := range []struct {
		name string
		path func(i int) string
	}{
		{"today", func(i int) string { return "/desk?branch=" + string(branches[i%4].ID) }},
		{"request", func(i int) string { return requestPath(open[i%len(open)]) }},
		{"printing", func(i int) string { return "/desk/printing?branch=" + string(branches[i%4].ID) }},
		{"shelf", func(i int) string { return "/desk/shelf?branch=" + string(branches[i%4].ID) }},
		{"find by name", func(i int) string { return fmt.Sprintf("/desk/find?q=patron+%d", 1000+i%9000) }},
		{"find nothing", func(i int) string { return fmt.Sprintf("/desk/find?q=nobody+%d", i) }},
		{"find by code", func(i int) string { return "/desk/find?q=" + string(open[i%len(open)]) }},
	} {
		b.Run(page.name, func(b *testing.B) {
			h := p.Handler()
			var took []time.Duration
			began := spent(b)
			for i := range b.N {
				r := httptest.NewRequest(http.MethodGet, page.path(i), nil)
				r.RemoteAddr = fmt.Sprintf("10.%d.%d.%d:1", i>>16&255, i>>8&255, i&255) // as many people, so that none is paced
				for _, c := range cookies {
					r.AddCookie(c)
				}
				w := httptest.NewRecorder()
				from := time.Now()
				h.ServeHTTP(w, r)
				took = append(took, time.Since(from))
				if w.Code != http.StatusOK && w.Code != http.StatusSeeOther {
					b.Fatalf("%s: %d\n%s", page.path(i), w.Code, firstLines(w.Body.String()))
				}
			}
			b.ReportMetric(float64((spent(b)-began).Microseconds())/1000/float64(b.N), "cpu-ms")
			slices.Sort(took)
			b.ReportMetric(float64(took[min(len(took)-1, len(took)*95/100)].Microseconds())/1000, "p95-ms")
		})
	}
}

// spent is the processor time this process has taken, which does not depend on
// what else the machine is doing.
func spent(b *testing.B) time.Duration {
	b.Helper()
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		b.Fatal(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// stored fills the store with n requests, the last of them open, and returns
// the codes of those.
func (p *printroom) stored(t testing.TB, branches []desk.Branch, n, open int) (codes []desk.Code) {
	t.Helper()
	set, err := p.desk.Settings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	write := func(do func(desk.Tx) error) {
		t.Helper()
		if err := p.store.Write(t.Context(), do); err != nil {
			t.Fatal(err)
		}
	}
	for i := range branches {
		if branches[i].ID == "" {
			write(func(tx desk.Tx) error { return tx.SaveBranch(&branches[i]) })
		}
	}
	find := []findings.Finding{{ID: "thin-walls", Severity: findings.Ask, Message: "About 4 cm² of its walls are thinner than the nozzle can lay, 0.3 mm at the thinnest.", Places: make([]mesh.Vec, 8)}}
	states := []desk.State{desk.Received, desk.InReview, desk.WithPatron, desk.Agreed, desk.Printing, desk.OnShelf}
	for at := 0; at < n; at += 2000 {
		write(func(tx desk.Tx) error {
			for i := at; i < min(at+2000, n); i++ {
				r := desk.Request{ID: desk.NewID(), State: desk.Collected, Branch: branches[i%4].ID, Code: desk.Code(fmt.Sprintf("%c%d-%03d", "ABCDEFHJKLMNPRTVXY"[i/8000], 2+i/1000%8, i%1000)), Source: "page",
					Form: fmt.Sprint("stored-", i), Key: desk.HashOf(fmt.Append(nil, i)), Contact: desk.Contact{Name: fmt.Sprintf("Robin Patron %d", i), Surname: fmt.Sprint("Patron ", i), Email: fmt.Sprintf("patron%d@example.org", i), Language: "en"},
					Wish: desk.Wish{Copies: 1, Note: "A part for the shelf in the hall.", Rights: true}, Asked: p.clock().Add(time.Duration(i-n) * time.Minute), Changed: p.clock().Add(time.Duration(i-n) * time.Minute),
					Basis: desk.Basis{State: desk.Done, Tariff: set.Versions[desk.TariffSetting], Asked: 1, Finding: find}, Ways: []desk.Way{aWay("sensible", "3.40", 80), aWay("cheaper", "2.10", 80), aWay("finer", "5.10", 80)}}
				r.Closed = r.Changed
				if i >= n-open {
					codes = append(codes, r.Code)
					r.State, r.Closed = states[i/4%len(states)], time.Time{}
				}
				r.Quote = &desk.Quote{Ways: r.Ways, Best: "sensible", Until: p.clock().AddDate(0, 0, 9)}
				r.Agreement = &desk.Agreement{Way: r.Ways[0], At: r.Changed}
				if r.State == desk.OnShelf {
					r.Shelf = &desk.Shelved{Since: r.Changed, Until: p.clock().AddDate(0, 0, i%14), Branch: r.Branch}
					r.Due = r.Shelf.Until
				}
				if err := tx.SaveRequest(&r); err != nil {
					return err
				}
				f := desk.File{ID: desk.NewID(), Request: r.ID, Name: fmt.Sprintf("part-%d.stl", i), Hash: desk.HashOf(fmt.Append(nil, i)), Size: 2_000_000, Sent: r.Asked, Check: desk.Done, Result: &desk.Checked{Sheet: "s", View: "v"}}
				f.Result.Answer.Format, f.Result.Answer.Findings = "stl", find
				if err := tx.SaveFile(&f); err != nil {
					return err
				}
				for k, from := range []desk.ActorKind{desk.ByClock, desk.ByPatron, desk.ByStaff} {
					m := desk.Message{Request: r.ID, From: from, Text: "We have your request and look at it.", At: r.Asked.Add(time.Duration(k) * time.Hour)}
					if i < n-open || i%5 != 0 {
						m.Seen = m.At
					}
					if err := tx.SaveMessage(&m); err != nil {
						return err
					}
					e := desk.Event{Request: r.ID, Version: r.Version, At: m.At, Kind: from, Who: "Bench", What: "wrote", Say: "Wrote."}
					if err := tx.AddEvent(&e); err != nil {
						return err
					}
				}
			}
			return nil
		})
	}
	return codes
}
