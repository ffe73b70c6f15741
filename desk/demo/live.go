package demo

import (
	"container/heap"
	"context"
	"errors"
	"fmt"
	"time"

	"platebook/desk"
)

// step is one thing someone does at a time.
type step struct {
	at   time.Time
	n    int // keeps the order of steps at the same time
	tale *tale
	what string
	do   func(ctx context.Context, d *desk.Desk) error
}

// live has staff, patrons and the clock do what they did, in the order of time.
func (s *life) live(ctx context.Context) error {
	s.going = true
	var all steps
	for _, t := range s.tales {
		for _, st := range s.steps(t) {
			st.n, st.tale = len(all), t
			all = append(all, st)
		}
	}
	// The clock looks round every night, and last of all now: at all there is, so
	// not for one story.
	for day := float64(longAgo); day >= 0 && !s.oneGo; day-- {
		all = append(all, step{at: s.before(day), n: len(all), what: "the clock", do: lookRound})
	}
	heap.Init(&all)
	n, of := len(all), len(all)
	s.push = func(st step) {
		st.n = n
		n++
		heap.Push(&all, st)
	}
	done := 0
	for len(all) > 0 {
		st := heap.Pop(&all).(step)
		if st.at.After(s.options.Now) {
			continue // it will happen, but not in this demonstration
		}
		if done++; st.tale != nil {
			s.progress(2*len(s.tales)+len(s.tales)*min(done, of)/of, 3*len(s.tales), "Staff and patrons go on: "+st.what+" "+st.tale.part.File)
		}
		err := st.do(ctx, s.at(st.at))
		if errors.Is(err, errLater) {
			st.at = st.at.Add(40 * time.Minute)
			s.push(st)
			continue
		}
		if err != nil {
			if st.tale == nil {
				return fmt.Errorf("%s at %s: %w", st.what, st.at.Format(time.DateTime), err)
			}
			return fmt.Errorf("%s %s of %s at %s: %w%s", st.what, st.tale.part.File, st.tale.who, st.at.Format(time.DateTime), err, fields(err))
		}
		if err := s.check(ctx); err != nil {
			return err
		}
	}
	return nil
}

func lookRound(ctx context.Context, d *desk.Desk) error { return d.LookRound(ctx) }

// errLater says that a step must wait a while: every printer is busy.
var errLater = errors.New("later")

// steps is a heap by time.
type steps []step

func (s steps) Len() int { return len(s) }
func (s steps) Less(i, j int) bool {
	if !s[i].at.Equal(s[j].at) {
		return s[i].at.Before(s[j].at)
	}
	return s[i].n < s[j].n
}
func (s steps) Swap(i, j int) { s[i], s[j] = s[j], s[i] }
func (s *steps) Push(x any)   { *s = append(*s, x.(step)) }
func (s *steps) Pop() any {
	old := *s
	x := old[len(old)-1]
	*s = old[:len(old)-1]
	return x
}

// open moves a time back into the opening hours of a place: staff are there
// then. Times of the last day stay as they are, so that something is going on
// whenever the demonstration is looked at.
func (s *life) open(place string, t time.Time) time.Time {
	if s.options.Now.Sub(t) < 24*time.Hour {
		return t
	}
	b := s.branch[place]
	for day := range 14 {
		l := t.In(s.zone).AddDate(0, 0, -day)
		if closed(b, l) {
			continue
		}
		spans := b.Hours[l.Weekday()]
		for i := len(spans) - 1; i >= 0; i-- {
			from := time.Date(l.Year(), l.Month(), l.Day(), 0, spans[i].From, 0, 0, s.zone)
			to := time.Date(l.Year(), l.Month(), l.Day(), 0, spans[i].To, 0, 0, s.zone)
			switch {
			case t.Before(from):
			case t.Before(to):
				return t
			default:
				return to.Add(-time.Duration(20+t.Minute()) * time.Minute)
			}
		}
	}
	return t
}

func closed(b desk.Branch, day time.Time) bool {
	for _, c := range b.Closed {
		if c.Date == day.Format(time.DateOnly) {
			return true
		}
	}
	return false
}
