package demo

import (
	"context"
	"sync"
	"testing"
	"time"

	"platebook/desk"
)

// first finds out by sketch what is asked for the first time, and does what is
// asked again.
type first struct {
	mu    sync.Mutex
	known map[string]bool
}

func (f *first) ready(ctx context.Context, d *desk.Desk, j desk.Job) (func(context.Context) error, error) {
	name := string(j.Kind)
	if j.Kind == desk.CheckFile {
		w, err := d.FileForCheck(ctx, j.ID)
		if err != nil {
			return nil, err
		}
		name += w.File.Name
	} else {
		w, err := d.RequestForWays(ctx, j.ID)
		if err != nil {
			return nil, err
		}
		for _, f := range w.Files {
			name += f.Name
		}
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.known[name] {
		return nil, sketch(ctx, d, j)
	}
	return func(context.Context) error {
		f.mu.Lock()
		defer f.mu.Unlock()
		f.known[name] = true
		return nil
	}, nil
}

// stands lists requests by the story they tell.
func stands(t *testing.T, d *desk.Desk) map[string]desk.Request {
	t.Helper()
	all := map[string]desk.Request{}
	if err := d.Store.Read(context.WithoutCancel(t.Context()), func(tx desk.Tx) error {
		rs, err := tx.ListRequests(desk.RequestFilter{Most: 1000, Brief: true})
		for _, r := range rs {
			all[r.Form] = r
		}
		return err
	}); err != nil {
		t.Error(err)
	}
	return all
}

// Whoever is at the desk while requests come in sees each of them whole or not
// at all, and what is broken off goes on another time.
func TestRequestsComeInWholeWhileTheDeskIsOpen(t *testing.T) {
	now := time.Date(2027, 3, 10, 14, 5, 0, 0, time.UTC)
	d := open(t, now)
	known := first{known: map[string]bool{}}
	o := Options{Now: now, Do: sketch, Ready: known.ready, Workers: 2}
	if err := Begin(t.Context(), d, o); err != nil {
		t.Fatal(err)
	}
	begun := stands(t, d)
	got := map[desk.State]bool{}
	for _, r := range begun {
		got[r.State] = true
	}
	for _, s := range desk.States() {
		if !got[s] {
			t.Errorf("the desk opens without a request that is %s", s)
		}
	}

	// The post is open meanwhile; what was said long ago does not go out now.
	office, err := OpenOffice()
	if err != nil {
		t.Fatal(err)
	}
	defer office.Close()
	if err := office.Join(t.Context(), d); err != nil {
		t.Fatal(err)
	}

	ctx, stop := context.WithCancel(t.Context())
	looked, looking := make(chan map[string]desk.Request), make(chan struct{})
	go func() {
		seen := stands(t, d)
		for last := false; !last; {
			select {
			case <-looking: // once more, for what came in since the look before
				last = true
			default:
			}
			for form, r := range stands(t, d) {
				if was, ok := seen[form]; ok && (was.State != r.State || was.Version != r.Version) {
					t.Errorf("%s was seen %s, version %d, and then %s, version %d", form, was.State, was.Version, r.State, r.Version)
				}
				seen[form] = r
			}
		}
		looked <- seen
	}()
	o.Progress = func(done, _ int, _ string) {
		if done == 9 {
			stop()
		}
	}
	if err := Rest(ctx, d, o); err == nil {
		t.Error("what was broken off says nothing of it")
	}
	close(looking)
	seen := <-looked
	if n := len(seen) - len(begun); n < 9 || n > 12 {
		t.Errorf("%d more requests were there when it was broken off", n)
	}

	o.Progress = nil
	if err := Rest(t.Context(), d, o); err != nil {
		t.Fatal(err)
	}
	if err := d.Store.Read(t.Context(), func(tx desk.Tx) error {
		letters, err := tx.ListPosted([]desk.PostState{desk.PostWaits, desk.PostSent, desk.PostGivenUp}, 10)
		if len(letters) > 0 {
			t.Errorf("letters of long ago go out now: %q", letters[0].Body.Subject)
		}
		return err
	}); err != nil {
		t.Error(err)
	}
	states(t, d)
	for form, was := range seen {
		if r, ok := stands(t, d)[form]; !ok || r.ID != was.ID {
			t.Errorf("%s was made a second time", form)
		}
	}
}
