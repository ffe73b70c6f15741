package main

import (
	"fmt"
	"io"
	"sync"
	"time"
)

// progress says on w what is being done, for work that takes over a second.
type progress struct {
	w     io.Writer
	start time.Time

	mu    sync.Mutex
	timer *time.Timer
	turn  int // of what is being done: a timer that fires late shows nothing
}

const patience = time.Second

func newProgress(w io.Writer) *progress { return &progress{w: w, start: time.Now()} }

// say tells what begins now. Before the second is over it is held back, and
// shown when the second ends if it is still going on.
func (p *progress) say(doing string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.timer != nil {
		p.timer.Stop()
	}
	p.turn++
	turn := p.turn
	show := func() { fmt.Fprintf(p.w, "… %s\n", plain(doing)) }
	if wait := patience - time.Since(p.start); wait > 0 {
		p.timer = time.AfterFunc(wait, func() {
			p.mu.Lock()
			defer p.mu.Unlock()
			if p.turn == turn {
				show()
			}
		})
		return
	}
	show()
}

// done ends the work: nothing is shown after it.
func (p *progress) done() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.turn++
	if p.timer != nil {
		p.timer.Stop()
	}
}
