package main

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"platebook/desk/demo"
	"platebook/internal/visit"
)

// logIn opens a session for a member of staff.
func (a *afternoon) logIn(ctx context.Context, n int) (*visit.Visitor, error) {
	v := visit.New(a.at, fmt.Sprintf("192.0.2.%d", 1+n))
	page, err := v.Get(ctx, "/log-in")
	if err != nil {
		return nil, err
	}
	f, err := page.Form("/log-in")
	if err != nil {
		return nil, err
	}
	f.Set("name", demo.Accounts()[0].Name)
	f.Set("password", demo.Password)
	if page, err = v.Send(ctx, f); err != nil {
		return nil, err
	}
	if strings.HasPrefix(page.Path, "/log-in") {
		return nil, fmt.Errorf("the log-in was answered with %d at %s", page.Status, page.Path)
	}
	v.Heard = a.staff.hear
	return v, nil
}

// rounds are where staff look again and again.
var rounds = []string{"/desk", "/desk", "/desk", "/desk/printing", "/desk/shelf", "/desk/find?text=reed", "/desk/printing/spools"}

// work goes about the pages as people do: from a list to what is on it, doing
// now and then what a page offers, a moment's thought between.
func (a *afternoon) work(ctx context.Context, v *visit.Visitor, n int) {
	chance := rand.New(rand.NewPCG(a.o.seed, uint64(1_000_000+n)))
	path := rounds[chance.IntN(len(rounds))]
	for ctx.Err() == nil {
		page, err := v.Get(ctx, path)
		if err != nil {
			if ctx.Err() == nil {
				a.complain("staff at %s: %v", path, err)
			}
			return
		}
		if page.Status != 200 {
			a.complain("staff at %s: answered with %d", path, page.Status)
		}
		if chance.IntN(4) == 0 {
			a.act(ctx, v, page)
		}
		next := onwards(page)
		if len(next) == 0 || chance.IntN(2) == 0 {
			next = rounds
		}
		path = next[chance.IntN(len(next))]
		select {
		case <-ctx.Done():
		case <-time.After(time.Duration(50+chance.IntN(250)) * time.Millisecond):
		}
	}
}

// onwards are the links of a page that staff follow: requests, runs, what lies
// on the shelf; not files and not out of the door.
func onwards(p *visit.Page) (paths []string) {
	for _, to := range p.Links() {
		for _, room := range []string{"/desk/requests/", "/desk/request/", "/desk/shelf/", "/desk/printing/"} {
			if strings.HasPrefix(to, room) && !strings.Contains(to, "/file") && !strings.Contains(to, ".") {
				paths = append(paths, to)
			}
		}
	}
	return paths
}

// acts are what staff may do here without any more thought, by the end of the
// form's action.
var acts = []string{"/take", "/call"}

// act does what the page offers, if it is one of acts. That a colleague was
// quicker is an answer like any other.
func (a *afternoon) act(ctx context.Context, v *visit.Visitor, page *visit.Page) {
	for _, action := range acts {
		f, err := page.Form(action)
		if err != nil {
			continue
		}
		got, err := v.Send(ctx, f)
		switch {
		case err != nil:
			if ctx.Err() == nil {
				a.complain("staff at %s: %v", f.Action, err)
			}
		case got.Status >= 500:
			a.complain("staff at %s: answered with %d", f.Action, got.Status)
		default:
			a.mu.Lock()
			a.acted++
			a.mu.Unlock()
		}
		return
	}
}
