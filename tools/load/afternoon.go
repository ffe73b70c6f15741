package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"sync"
	"time"

	"platebook/internal/visit"
)

// afternoon is what happens, and what is heard of it.
type afternoon struct {
	o    options
	at   string
	team []*visit.Visitor

	patrons, staff heard
	mu             sync.Mutex
	sent           []*sent
	bytes          int64
	acted          int
	wrong          []string
	sending, after time.Duration
	whileSending   []took // staff's pages
}

func newAfternoon(o options) *afternoon { return &afternoon{o: o} }

func (a *afternoon) complain(format string, args ...any) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.wrong = append(a.wrong, fmt.Sprintf(format, args...))
}

// openDoors logs the staff in, before anybody is timed.
func (a *afternoon) openDoors(ctx context.Context) error {
	for n := range a.o.staff {
		v, err := a.logIn(ctx, n)
		if err != nil {
			return err
		}
		a.team = append(a.team, v)
	}
	return nil
}

// pass lets all patrons send at once while staff work, and staff go on a while
// after.
func (a *afternoon) pass(ctx context.Context) {
	open, shut := context.WithCancel(ctx)
	var team, patrons sync.WaitGroup
	for n, v := range a.team {
		team.Go(func() { a.work(open, v, n) })
	}
	began := time.Now()
	for n := range a.o.patrons {
		patrons.Go(func() { a.patron(ctx, n) })
	}
	patrons.Wait()
	a.sending = time.Since(began)
	a.whileSending = a.staff.take()
	time.Sleep(a.o.after)
	shut()
	team.Wait()
	a.after = time.Since(began) - a.sending
}

// mostCopies is how many requests' files are fetched back and compared.
const mostCopies = 40

// report says how it went; what was lost or doubled is an error.
func (a *afternoon) report(ctx context.Context, p *program) error {
	lost, doubled, sendings := 0, 0, 0
	for _, s := range a.sent {
		sendings += s.sendings
		if len(s.keys) == 0 {
			lost++
			continue
		}
		for _, k := range s.keys[1:] {
			if k != s.keys[0] {
				doubled++
			}
		}
	}
	chance := rand.New(rand.NewPCG(a.o.seed, 42))
	compared := 0
	for _, i := range chance.Perm(len(a.sent)) {
		s := a.sent[i]
		if len(s.keys) == 0 || compared == mostCopies {
			continue
		}
		compared++
		if err := a.holds(ctx, s); err != nil {
			lost++
			a.complain("patron %d, request %d: %v", s.patron, s.n, err)
		}
	}
	later := a.staff.take()
	fmt.Printf("\n%d requests, sent %d times, %d MB, in %.1f s (%.1f MB/s)\n", len(a.sent), sendings, a.bytes>>20, a.sending.Seconds(), float64(a.bytes)/a.sending.Seconds()/(1<<20))
	fmt.Printf("lost %d, doubled %d; %d files fetched back and compared byte for byte\n", lost, doubled, compared)
	fmt.Printf("staff did %d things, and their pages took, in ms:\n", a.acted)
	fmt.Printf("  %-34s %7s %6s %6s %6s %6s\n", "", "pages", "p50", "p95", "p99", "most")
	row("while patrons send", a.whileSending)
	row("while files are checked", later)
	byPage := map[string][]took{}
	for _, t := range append(a.whileSending, later...) {
		byPage[t.page] = append(byPage[t.page], t)
	}
	for _, name := range sorted(byPage) {
		row("  "+name, byPage[name])
	}
	fmt.Printf("patrons' pages:\n")
	byPage = map[string][]took{}
	for _, t := range a.patrons.take() {
		byPage[t.page] = append(byPage[t.page], t)
	}
	for _, name := range sorted(byPage) {
		row("  "+name, byPage[name])
	}
	fmt.Printf("most memory: the program %d MB, a process that computes for it %d MB\n", p.own>>20, p.apart>>20)
	for i, w := range a.wrong {
		if i == 20 {
			fmt.Printf("… and %d more\n", len(a.wrong)-i)
			break
		}
		fmt.Println("wrong:", w)
	}
	if lost+doubled+len(a.wrong) > 0 {
		return errors.New("not everything went as it should")
	}
	return nil
}
