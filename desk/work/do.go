package work

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"platebook/desk"
)

// Do does one job at once, in this process and without a queue, as d and by
// d's clock: for the demonstration, which moves the clock, and for tests. A
// job that nothing waits for any more is done already.
func Do(ctx context.Context, d *desk.Desk, j desk.Job) error {
	w := doer{desk: d, o: Options{}.filled()}
	return w.do(ctx, j, true)
}

// doer does jobs.
type doer struct {
	desk  *desk.Desk
	o     Options
	known *Known // if set, what is known is not computed again
	ready bool   // and what is not known is not computed
}

// do does a job. What cannot be computed is noted with the file or the request.
// An error is one of the machine's, worth another try; if this is the last try
// it is noted as well.
func (w *doer) do(ctx context.Context, j desk.Job, last bool) error {
	var err error
	switch j.Kind {
	case desk.CheckFile:
		err = w.check(ctx, j, last)
	case desk.FindWays:
		err = w.ways(ctx, j, last)
	case desk.LookRound:
		err = w.desk.LookRound(ctx)
	default:
		err = fmt.Errorf("there is no job called %q", j.Kind)
	}
	if k := desk.KindOf(err); k == desk.NotFound || k == desk.NotNow {
		return nil // nothing waits for it any more
	}
	return err
}

func (w *doer) check(ctx context.Context, j desk.Job, last bool) error {
	job, err := w.desk.FileForCheck(ctx, j.ID)
	if err != nil {
		return err
	}
	t := task{Kind: j.Kind, Settings: job.Settings}
	r, err := w.answer(ctx, t, []desk.File{job.File}, w.o.CheckTime, w.noting(ctx, j.ID))
	if err == nil {
		err = w.desk.KeepCheck(ctx, j.ID, *r.Checked)
	}
	if why, ok := note(err, last); ok {
		w.o.Log.Error("check failed", "file", j.ID, "err", err)
		return w.desk.CheckFailed(ctx, j.ID, why)
	}
	return err
}

func (w *doer) ways(ctx context.Context, j desk.Job, last bool) error {
	job, err := w.desk.RequestForWays(ctx, j.ID)
	if err != nil {
		return err
	}
	asked := job.Request.Basis.Asked
	if j.Round != 0 && j.Round != asked {
		return nil // another plan was made since; it has a job of its own
	}
	t := task{Kind: j.Kind, Settings: job.Settings, Plan: job.Request.Plan, Models: job.Models}
	var files []desk.File
	for _, p := range t.Plan.Parts {
		for _, id := range append([]desk.ID{p.File}, p.Colours...) {
			if f, ok := job.Files[id]; ok {
				files = append(files, f)
			}
		}
	}
	r, err := w.answer(ctx, t, files, w.o.WaysTime, nil)
	if err == nil {
		err = w.desk.KeepWays(ctx, j.ID, asked, r.Ways, r.Basis)
	}
	if why, ok := note(err, last); ok {
		w.o.Log.Error("no ways found", "request", j.ID, "err", err)
		return w.desk.WaysFailed(ctx, j.ID, asked, why)
	}
	return err
}

// giveUp notes that a job is not tried any more.
func (w *doer) giveUp(ctx context.Context, j desk.Job) error {
	const why = "The program ended each time it was tried. The model may be what ended it; have it done again once to see."
	var err error
	switch j.Kind {
	case desk.CheckFile:
		err = w.desk.CheckFailed(ctx, j.ID, why)
	case desk.FindWays:
		var job desk.WaysWork
		if job, err = w.desk.RequestForWays(ctx, j.ID); err == nil {
			err = w.desk.WaysFailed(ctx, j.ID, job.Request.Basis.Asked, why)
		}
	}
	if k := desk.KindOf(err); k == desk.NotFound || k == desk.NotNow {
		return nil
	}
	return err
}

// fruitless is a task that would come to nothing again: a mistake of ours, or a
// file that takes more than there is. Say goes to staff.
type fruitless struct {
	say string
	err error
}

func (f *fruitless) Error() string {
	if f.err != nil {
		return f.say + " (" + f.err.Error() + ")"
	}
	return f.say
}
func (f *fruitless) Unwrap() error { return f.err }

// note says what staff are told of an error, if it is to be noted.
func note(err error, last bool) (why string, ok bool) {
	var f *fruitless
	switch {
	case err == nil || errors.Is(err, context.Canceled), desk.KindOf(err) == desk.NotFound:
		return "", false
	case errors.As(err, &f):
		return f.say, true
	}
	return "The machine could not do it, several times over. See that the disk has room, and have it done again.", last
}

// noting passes on what a check is at, once a second at most: each is a write.
func (w *doer) noting(ctx context.Context, file desk.ID) func(string) {
	var at time.Time
	return func(doing string) {
		if time.Since(at) < time.Second {
			return
		}
		at = time.Now()
		if err := w.desk.NoteDoing(ctx, file, doing); err != nil && ctx.Err() == nil {
			w.o.Log.Warn("what a check is at was not noted", "file", file, "err", err)
		}
	}
}

// answer is what a task comes to.
func (w *doer) answer(ctx context.Context, t task, files []desk.File, most time.Duration, doing func(string)) (result, error) {
	if w.known != nil {
		return w.recall(ctx, t, files, most, doing)
	}
	return w.compute(ctx, t, files, most, doing)
}

// compute brings copies of the files onto disk, does the task, and puts what it
// made on the shelves.
func (w *doer) compute(ctx context.Context, t task, files []desk.File, most time.Duration, doing func(string)) (r result, err error) {
	dir, err := os.MkdirTemp(w.o.Folder, "platebook-")
	if err != nil {
		return r, err
	}
	// Work begun in this process and given up may still write there; the next
	// start clears what then stays.
	defer os.RemoveAll(dir)
	t.Out = filepath.Join(dir, "out")
	if err := os.Mkdir(t.Out, 0o700); err != nil {
		return r, err
	}
	have := map[desk.ID]bool{}
	for i, f := range files {
		if have[f.ID] {
			continue
		}
		have[f.ID] = true
		path := filepath.Join(dir, fmt.Sprintf("file-%d", i))
		if err := w.fetch(ctx, f.Hash, path); err != nil {
			return r, err
		}
		t.Files = append(t.Files, source{ID: f.ID, Name: f.Name, Path: path})
	}
	ctx, cancel := context.WithTimeout(ctx, most)
	defer cancel()
	if len(w.o.Program) > 0 {
		r, err = elsewhere(ctx, t, w.o, doing)
	} else {
		r, err = here(ctx, doing, func(say func(string)) (result, error) { return compute(t, say) })
	}
	if errors.Is(err, context.DeadlineExceeded) {
		err = &fruitless{fmt.Sprintf("It took longer than %s and was broken off. The model may be too intricate; ask for a simpler one.", hours(most.Seconds())), err}
	}
	if err != nil {
		return r, err
	}
	for _, h := range r.Made {
		if err := w.put(ctx, filepath.Join(t.Out, string(h)), h); err != nil {
			return r, err
		}
	}
	return r, nil
}

// fetch copies bytes from the shelves to a file.
func (w *doer) fetch(ctx context.Context, h desk.Hash, path string) error {
	b, err := w.desk.Shelves.Open(ctx, h)
	if desk.KindOf(err) == desk.NotFound {
		return &fruitless{"The bytes of the file are not there. Restore them from a backup, or ask for the file again.", err}
	} else if err != nil {
		return err
	}
	defer b.Close()
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(f, b)
	return errors.Join(err, f.Close())
}

// mostMade bounds one picture or view, bytes.
const mostMade = 64 << 20

// put brings a file that was made onto the shelves.
func (w *doer) put(ctx context.Context, path string, h desk.Hash) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	got, _, err := w.desk.Shelves.Put(ctx, f, mostMade)
	if err == nil && got != h {
		err = fmt.Errorf("what was made is %s on the shelf and %s where it was made", got, h)
	}
	return err
}
