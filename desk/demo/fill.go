package demo

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"platebook/desk"
)

// Options say how a desk is filled.
type Options struct {
	// Now is the moment the demonstration is set at: nothing happens later. The
	// zero time is the desk's own now.
	Now time.Time
	// Address is how browsers reach the desk, for links in messages.
	Address string
	// Do does one piece of background work, as the desk given and by its clock.
	Do func(context.Context, *desk.Desk, desk.Job) error
	// Ready, if set, does a piece of background work only if what it comes to is
	// known; otherwise it changes nothing and returns what finds that out.
	Ready func(context.Context, *desk.Desk, desk.Job) (find func(context.Context) error, err error)
	// Workers is how many pieces of it are done at once; 0 is one.
	Workers int
	// Most is how many requests come in; 0 is all there are. They are taken
	// evenly, so that few are still of many kinds.
	Most int
	// Progress, if set, hears how far the filling is, from one goroutine at a time.
	Progress func(done, of int, doing string)
}

func (o Options) filled(d *desk.Desk) (Options, error) {
	if o.Do == nil {
		return o, errors.New("demo: nothing to do background work with")
	}
	if o.Now.IsZero() {
		o.Now = d.Now()
	}
	if o.Progress == nil {
		o.Progress = func(int, int, string) {}
	}
	if o.Address == "" {
		o.Address = "http://localhost:8420"
	}
	return o, nil
}

// Fill has Larkmere Libraries move in at an empty desk, and its patrons and
// staff live through three months of it: every row is made by a call on the
// desk that a page could have made, with the clock moved to when it was, and
// every file is really checked. The same day gives the same people, parts,
// figures and states; codes and links are drawn anew, as at any desk.
func Fill(ctx context.Context, d *desk.Desk, o Options) error {
	if err := Begin(ctx, d, o); err != nil {
		return err
	}
	return Rest(ctx, d, o)
}

// Begin has the branches and their staff move in, and tells the first stories,
// a few of every kind. After it the desk can be opened.
func Begin(ctx context.Context, d *desk.Desk, o Options) error {
	o, err := o.filled(d)
	if err != nil {
		return err
	}
	first := slices.DeleteFunc(tales(o.Most), func(t *tale) bool { return !t.first })
	l := &life{service: newService(o), desk: d, tales: first}
	for _, part := range []func(context.Context) error{l.moveIn, l.ask, l.check, l.live} {
		if err := part(ctx); err != nil {
			return err
		}
	}
	return nil
}

// service is Larkmere: where everything is, and who works there.
type service struct {
	options Options
	branch  map[string]desk.Branch
	unit    map[string]desk.PrinterUnit
	spool   map[string]desk.ID
	staff   map[string]desk.Actor
	zone    *time.Location
}

func newService(o Options) *service {
	return &service{options: o, branch: map[string]desk.Branch{}, unit: map[string]desk.PrinterUnit{},
		spool: map[string]desk.ID{}, staff: map[string]desk.Actor{}}
}

// life is a stretch of time at Larkmere, lived through in its order.
type life struct {
	*service
	desk    *desk.Desk
	tales   []*tale
	going   bool // requests are checked: staff and patrons go on
	oneGo   bool // in one transaction, that takes what is known and waits for nothing
	push    func(step)
	waiting struct {
		sync.Mutex
		jobs []dated
	}
}

// dated is a job with the time it was asked for.
type dated struct {
	job desk.Job
	at  time.Time
}

// tale is a story being told.
type tale struct {
	story
	part Part
	n    int // among all stories
	id   desk.ID
	key  string
	file desk.Upload // once it is on the shelves
}

// tales picks the stories that are told, most of them at most.
func tales(most int) []*tale {
	parts := map[string]Part{}
	for _, p := range append(Parts(), poem()) {
		parts[p.File] = p
	}
	if most <= 0 || most > len(stories) {
		most = len(stories)
	}
	var all []*tale
	for i := range most {
		n := i * len(stories) / most
		all = append(all, &tale{story: stories[n], part: parts[stories[n].part], n: n})
	}
	return all
}

// at is the desk with its clock stopped at a time; what it asks to be done in
// the background is kept for the demonstration to do by that clock.
func (s *life) at(t time.Time) *desk.Desk {
	d := *s.desk
	d.Now = func() time.Time { return t }
	d.Store = &listening{Store: s.desk.Store, jobs: func(j desk.Job) {
		s.waiting.Lock()
		defer s.waiting.Unlock()
		s.waiting.jobs = append(s.waiting.jobs, dated{j, t})
	}}
	return &d
}

// before is a time that lies a number of days before the demonstration's.
func (s *service) before(days float64) time.Time {
	return s.options.Now.Add(-time.Duration(days * 24 * float64(time.Hour))).Truncate(time.Second)
}

// form is the token of a form nobody sent before.
func (s *service) form() string { return "larkmere-" + string(desk.NewID()) }

// ask has every request come in, in the order of time.
func (s *life) ask(ctx context.Context) error {
	for i, t := range byAsked(s.tales) {
		s.progress(i, 3*len(s.tales), "Requests come in: "+t.part.File)
		if err := s.submit(ctx, t); err != nil {
			return fmt.Errorf("%s asks for %s: %w%s", t.who, t.part.File, err, fields(err))
		}
	}
	return nil
}

// progress is silent about what is over in a moment.
func (s *life) progress(done, of int, doing string) {
	if !s.oneGo {
		s.options.Progress(done, of, doing)
	}
}

// token is that of the form a story begins with; by it a story that is
// told is known again.
func (t *tale) token() string { return fmt.Sprintf("larkmere-story-%d", t.n) }

func (s *life) submit(ctx context.Context, t *tale) error {
	d := s.at(s.before(t.asked))
	if err := t.bring(ctx, d.Shelves); err != nil {
		return err
	}
	set, err := d.Settings(ctx)
	if err != nil {
		return err
	}
	who := patrons[t.who]
	sub := desk.Submission{Form: t.token(), Source: "page", Branch: s.branch[t.place].ID, Contact: who.contact(), Accept: true, Age: "over",
		Files: []desk.Upload{t.file},
		Wish: desk.Wish{SizeMM: t.size, Largest: t.largest, Colour: t.colour, Copies: t.copies, Purpose: t.purpose, Note: t.part.Wish,
			Rights: true, Terms: set.Versions[desk.TermsSetting]}}
	if sub.Age = "over"; who.guardian != "" {
		sub.Age = "under"
	}
	if sub.Wish.Copies == 0 {
		sub.Wish.Copies = t.part.Copies
	}
	if t.note != "" {
		sub.Wish.Note = t.note
	}
	if t.needed > 0 {
		sub.Wish.Needed = s.options.Now.In(s.zone).AddDate(0, 0, t.needed).Format(time.DateOnly)
	}
	by := desk.APatron()
	if t.source == "desk" {
		sub.Source, by = "desk", s.operator(t.place)
	}
	got, err := d.Submit(ctx, sub, by)
	t.id, t.key = got.Request.ID, got.Key
	return err
}

// check does the background work that waits, several pieces at once, each by
// the clock of whoever caused it and a little later.
func (s *life) check(ctx context.Context) error {
	for done := 0; ; {
		var some errgroup.Group
		some.SetLimit(max(1, s.options.Workers))
		began := done
		// What is done causes more to do, so the list is looked at until
		// nothing is under way and nothing is on it.
		for jobs := s.take(1); len(jobs) > 0; jobs = s.take(1) {
			if n := len(s.tales); !s.going {
				s.progress(n+min(done/2, n), 3*n, "Files are checked, ways are sought")
			}
			done++
			j, later := jobs[0], s.at(jobs[0].at.Add(time.Minute))
			switch {
			case s.overtaken(ctx, j.job):
			case s.oneGo:
				if err := s.ready(ctx, later, j.job); err != nil {
					return err
				}
			default:
				some.Go(func() error { return s.options.Do(ctx, later, j.job) })
			}
		}
		if err := some.Wait(); err != nil {
			return err
		}
		if done == began {
			return nil
		}
	}
}

// overtaken says whether staff settle another plan before ways are found for
// the one the wish amounts to: what would be found is dropped by the desk.
func (s *life) overtaken(ctx context.Context, j desk.Job) bool {
	for _, t := range s.tales {
		if j.Kind == desk.FindWays && j.ID == t.id && t.printer != "" {
			r, err := s.request(ctx, t)
			return err == nil && r.State == desk.Received
		}
	}
	return false
}

// take takes at most so many jobs off the list, oldest first.
func (s *life) take(most int) []dated {
	s.waiting.Lock()
	defer s.waiting.Unlock()
	n := min(most, len(s.waiting.jobs))
	jobs := s.waiting.jobs[:n:n]
	s.waiting.jobs = s.waiting.jobs[n:]
	return jobs
}

// fields says what of a form was wrong.
func fields(err error) string {
	var f *desk.Fault
	if !errors.As(err, &f) || len(f.Fields) == 0 {
		return ""
	}
	return fmt.Sprint(" ", f.Fields)
}

func byAsked(tales []*tale) []*tale {
	return slices.SortedStableFunc(slices.Values(tales), func(a, b *tale) int { return cmp.Compare(b.asked, a.asked) })
}
