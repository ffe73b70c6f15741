package demo

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"platebook/desk"
)

// Rest tells the stories that are not told yet, while the desk may be open and
// people at it. Each is told in one transaction, once what the checks of its
// file come to is known: nobody sees half of one, and whatever ends the
// program, Rest goes on from there another time. A story that what people do
// meanwhile makes impossible is left out, and told of in the error.
func Rest(ctx context.Context, d *desk.Desk, o Options) error {
	o, err := o.filled(d)
	if err != nil {
		return err
	}
	own := *d
	own.Store = hushed{d.Store}
	d = &own
	s := newService(o)
	if err := s.find(ctx, d); err != nil {
		return err
	}
	open, err := untold(ctx, d, tales(o.Most))
	if err != nil {
		return err
	}
	var mu sync.Mutex
	var errs []error
	done := 0
	// What goes on on a printer now leaves it to no one else: those come last.
	for _, last := range []bool{false, true} {
		var some errgroup.Group
		some.SetLimit(max(1, o.Workers))
		for _, t := range open {
			if (t.end == started) != last {
				continue
			}
			some.Go(func() error {
				err := s.tell(ctx, d, t)
				mu.Lock()
				defer mu.Unlock()
				done++
				o.Progress(done, len(open), "Told: "+t.part.File)
				if err != nil {
					errs = append(errs, fmt.Errorf("the request of %s for %s is left out: %w", t.who, t.part.File, err))
				}
				return ctx.Err()
			})
		}
		if err := some.Wait(); err != nil {
			return err
		}
	}
	if err := s.reload(ctx, d); err != nil {
		errs = append(errs, fmt.Errorf("spools are not put back: %w", err))
	}
	// What the clock has to do with all of them.
	return errors.Join(append(errs, d.LookRound(ctx))...)
}

// find finds again who and what moved in, by its name. What has another name by
// now is not found; the stories that need it are left out.
func (s *service) find(ctx context.Context, d *desk.Desk) (err error) {
	if s.zone, err = time.LoadLocation(library("").TimeZone); err != nil {
		return err
	}
	ids := map[string]desk.ID{}
	err = d.Store.Read(ctx, func(tx desk.Tx) error {
		branches, err := tx.Branches()
		if err != nil {
			return err
		}
		for _, b := range branches {
			s.branch[b.Name] = b
		}
		printers, err := tx.Printers(nil)
		if err != nil {
			return err
		}
		for _, p := range printers {
			s.unit[p.Name] = p
		}
		staff, err := tx.AllStaff()
		for _, a := range staff {
			ids[a.Name] = a.ID
		}
		return err
	})
	if err != nil {
		return err
	}
	for _, a := range Accounts() {
		if a.left || ids[a.Name] == "" {
			continue
		}
		if s.staff[a.Name], err = d.ActorFor(ctx, ids[a.Name], "", d.Now()); err != nil && desk.KindOf(err) != desk.NotYours {
			return err
		}
	}
	return nil
}

// reload has operators put the usual spools back into printers that stand
// empty: stories put in what they print with.
func (s *service) reload(ctx context.Context, d *desk.Desk) error {
	var all []desk.Spool
	var going []desk.Run
	err := d.Store.Read(ctx, func(tx desk.Tx) (err error) {
		if all, err = tx.Spools(nil, false); err != nil {
			return err
		}
		going, err = tx.ListRuns(desk.RunFilter{States: []desk.RunState{desk.Going}})
		return err
	})
	if err != nil {
		return err
	}
	taken := map[desk.ID]bool{}
	spools := map[string]desk.Spool{}
	for _, sp := range all {
		taken[sp.Loaded], spools[sp.Name] = true, sp
	}
	for _, r := range going {
		taken[r.Printer] = true
	}
	for _, r := range reels {
		sp, unit := spools[r.name], s.unit[r.in]
		if sp.ID == "" || sp.Loaded != "" || unit.ID == "" || taken[unit.ID] {
			continue
		}
		if _, err := d.LoadSpool(ctx, s.operator(r.place), sp.ID, sp.Version, unit.ID, s.form()); err != nil {
			return fmt.Errorf("%s into %s: %w", r.name, r.in, err)
		}
	}
	return nil
}

// untold are those of the stories whose request is not there.
func untold(ctx context.Context, d *desk.Desk, all []*tale) (open []*tale, err error) {
	err = d.Store.Read(ctx, func(tx desk.Tx) error {
		for _, t := range all {
			switch _, err := tx.RequestByForm(t.token()); desk.KindOf(err) {
			case desk.NotFound:
				open = append(open, t)
			default:
				if err != nil {
					return err
				}
			}
		}
		return nil
	})
	return open, err
}

// tell tells one story. Until what its checks come to is known it is begun and
// undone again: only so can be known what the desk asks of them.
func (s *service) tell(ctx context.Context, d *desk.Desk, t *tale) error {
	if err := t.bring(ctx, d.Shelves); err != nil {
		return err
	}
	for {
		err := d.Store.Write(ctx, func(tx desk.Tx) error {
			in := &within{tx: tx}
			own := *d
			own.Store = in
			l := &life{service: s, desk: &own, tales: []*tale{t}, oneGo: true}
			for _, part := range []func(context.Context) error{l.ask, l.check, l.live} {
				if err := part(ctx); err != nil {
					return err
				}
			}
			return in.err
		})
		var u *unknown
		if !errors.As(err, &u) {
			return err
		}
		if err := u.find(ctx); err != nil {
			return err
		}
	}
}

// bring puts the story's file on the shelves.
func (t *tale) bring(ctx context.Context, shelves desk.Shelves) error {
	if t.file.Hash != "" {
		return nil
	}
	var b bytes.Buffer
	if err := t.part.Write(&b); err != nil {
		return err
	}
	hash, size, err := shelves.Put(ctx, &b, int64(b.Len()))
	if err != nil {
		return err
	}
	t.file = desk.Upload{Name: t.part.File, Hash: hash, Size: size}
	return nil
}

// unknown is a story broken off, because what a check comes to is to be found
// out first.
type unknown struct{ find func(context.Context) error }

func (u *unknown) Error() string { return "what a check comes to is not known yet" }

// ready does a piece of work from what is known.
func (s *life) ready(ctx context.Context, d *desk.Desk, j desk.Job) error {
	if s.options.Ready == nil {
		return s.options.Do(ctx, d, j)
	}
	find, err := s.options.Ready(ctx, d, j)
	if err == nil && find != nil {
		return &unknown{find}
	}
	return err
}

// hushed is a store whose desk posts no letters: what is told now was said long
// ago, and its letters have gone out. The post may be open meanwhile.
type hushed struct{ desk.Store }

func (h hushed) Write(ctx context.Context, do func(desk.Tx) error) error {
	return h.Store.Write(ctx, func(tx desk.Tx) error { return do(unposted{tx}) })
}

type unposted struct{ desk.Tx }

func (unposted) SavePosted(*desk.Posted) error { return nil }

// within is a store whose every transaction is part of one that is open. Since
// none can be undone by itself, the first that fails undoes all.
type within struct {
	tx  desk.Tx
	err error
}

func (w *within) Read(_ context.Context, do func(desk.Tx) error) error { return do(w.tx) }

func (w *within) Write(_ context.Context, do func(desk.Tx) error) error {
	if w.err != nil {
		return w.err
	}
	w.err = do(w.tx)
	return w.err
}
