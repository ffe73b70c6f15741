package work

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"sync"
	"time"

	"platebook/desk"
)

// Known remembers what tasks came to. The same bytes under the same name, with
// the same plan and settings, come to the same answer, so nothing is computed a
// second time, whichever request asks. It is for the demonstration: a desk is
// seldom asked the same twice.
type Known struct {
	o     Options
	mu    sync.Mutex
	found map[desk.Hash]*answer
}

// answer is what a task comes to, once it is computed.
type answer struct {
	mu        sync.Mutex // held while it is computed
	computed  bool
	text      []byte     // the result, with names for its files' ids
	fruitless *fruitless // instead of it
}

// NewKnown knows nothing yet. It computes as the options say.
func NewKnown(o Options) *Known {
	return &Known{o: o.filled(), found: map[desk.Hash]*answer{}}
}

// Apart has what is not known from now on computed by a program, in processes
// of its own.
func (k *Known) Apart(program ...string) { k.o.Program = program }

// Do does one job as Do does.
func (k *Known) Do(ctx context.Context, d *desk.Desk, j desk.Job) error {
	w := doer{desk: d, o: k.o, known: k}
	return w.do(ctx, j, true)
}

// Ready does one job if what it comes to is known. If not it changes nothing,
// and returns what finds it out.
func (k *Known) Ready(ctx context.Context, d *desk.Desk, j desk.Job) (find func(context.Context) error, err error) {
	w := doer{desk: d, o: k.o, known: k, ready: true}
	err = w.do(ctx, j, false)
	var u *unknown
	if errors.As(err, &u) {
		// What it reads and writes is bytes on the shelves, no rows.
		w := doer{desk: &desk.Desk{Shelves: d.Shelves}, o: k.o, known: k}
		return func(ctx context.Context) error {
			_, err := w.recall(ctx, u.task, u.files, u.most, nil)
			if f := (*fruitless)(nil); errors.As(err, &f) {
				return nil // that is known, too
			}
			return err
		}, nil
	}
	return nil, err
}

// unknown is a task whose answer is not known.
type unknown struct {
	task  task
	files []desk.File
	most  time.Duration
}

func (u *unknown) Error() string { return "what it comes to is not known" }

// recall is compute, once for each task.
func (w *doer) recall(ctx context.Context, t task, files []desk.File, most time.Duration, doing func(string)) (r result, err error) {
	h, err := known(t, files)
	if err != nil {
		return r, err
	}
	w.known.mu.Lock()
	a := w.known.found[h]
	if a == nil {
		a = &answer{}
		w.known.found[h] = a
	}
	w.known.mu.Unlock()
	if w.ready && !a.mu.TryLock() {
		return r, &unknown{t, files, most}
	} else if !w.ready {
		a.mu.Lock()
	}
	defer a.mu.Unlock()
	switch {
	case a.computed:
	case w.ready:
		return r, &unknown{t, files, most}
	default:
		r, err := w.compute(ctx, t, files, most, doing)
		if err != nil && !errors.As(err, &a.fruitless) {
			return r, err
		}
		text, err := json.Marshal(r)
		if err != nil {
			return r, err
		}
		a.computed, a.text = true, named(text, files)
	}
	if a.fruitless != nil {
		return r, a.fruitless
	}
	return r, json.Unmarshal(unnamed(a.text, files), &r)
}

// known is what the answer of a task depends on, as one hash.
func known(t task, files []desk.File) (desk.Hash, error) {
	t.Files, t.Out = nil, ""
	for _, f := range files {
		t.Files = append(t.Files, source{ID: f.ID, Name: f.Name, Path: string(f.Hash)})
	}
	text, err := json.Marshal(t)
	return desk.HashOf(named(text, files)), err
}

// named puts names in place of the files' ids, which are drawn anew for each
// request and stand in the text as nothing else does.
func named(text []byte, files []desk.File) []byte {
	for i, f := range files {
		text = bytes.ReplaceAll(text, []byte(f.ID), name(i))
	}
	return text
}

func unnamed(text []byte, files []desk.File) []byte {
	for i, f := range files {
		text = bytes.ReplaceAll(text, name(i), []byte(f.ID))
	}
	return text
}

func name(i int) []byte { return fmt.Appendf(nil, "<file %d>", i) }
