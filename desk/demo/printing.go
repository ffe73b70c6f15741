package demo

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"platebook/desk"
)

// print starts the first run of a story; each run has its end put on the list,
// each end what follows it.
func (s *life) print(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error { return s.start(ctx, d, t, 0, 0) }
}

// start puts a plate on a printer that is free. failed is how often runs of
// this story failed before.
func (s *life) start(ctx context.Context, d *desk.Desk, t *tale, plate, failed int) error {
	r, err := s.request(ctx, t)
	if err != nil {
		return err
	}
	if r.Agreement == nil || plate >= len(r.Agreement.Way.Plates) {
		return fmt.Errorf("%s has no plate %d to print: it is %s", r.Code, plate, r.State)
	}
	m, err := s.free(ctx, t.place, r.Agreement.Way.Printer, d.Now(), r.Agreement.Way.Plates[plate].Seconds)
	if err != nil {
		return err
	}
	spools, err := s.spools(ctx, s.branch[m.place].ID, r.Agreement.Way.Plates[plate].Grams, t.colour)
	if err != nil {
		return err
	}
	form := desk.StartForm{Form: s.form(), Printer: s.unit[m.name].ID, Parts: []desk.PlateRef{{Request: t.id, Plate: plate}}, Spools: spools,
		Anyway: "The next spool lies ready."}
	run, _, err := d.StartRun(ctx, s.operator(m.place), form)
	if err != nil {
		return err
	}
	if t.end == started && failed == len(t.fails) {
		return nil // it is going on
	}
	whole := run.Expect.Sub(run.Started)
	if failed < len(t.fails) {
		f := t.fails[failed]
		s.later(t, "failed", run.Started.Add(time.Duration(float64(whole)*f.part)+4*time.Minute), func(ctx context.Context, d *desk.Desk) error {
			return s.fail(ctx, d, t, m, run.ID, plate, failed)
		})
		return nil
	}
	s.later(t, "finished", run.Started.Add(whole+7*time.Minute), func(ctx context.Context, d *desk.Desk) error {
		return s.finish(ctx, d, t, m, run.ID, plate, failed)
	})
	return nil
}

func (s *life) fail(ctx context.Context, d *desk.Desk, t *tale, m machine, id desk.ID, plate, failed int) error {
	f := t.fails[failed]
	run, err := s.run(ctx, id)
	if err != nil {
		return err
	}
	wasted := map[string]float64{}
	for _, p := range run.Parts {
		for material, g := range p.Expect {
			wasted[material] += tenth(g * f.part)
		}
	}
	if _, err := d.FailRun(ctx, s.operator(m.place), id, 0, desk.FailForm{Form: s.form(), Why: f.why, Blame: f.blame, Grams: wasted}); err != nil {
		return err
	}
	failed++
	if failed == len(t.fails) && t.end == stuck {
		return nil
	}
	again := s.nextOpen(m.place, d.Now().Add(50*time.Minute))
	if t.end == started && failed == len(t.fails) {
		again = s.before(t.last)
	}
	s.later(t, "printed again", again, func(ctx context.Context, d *desk.Desk) error { return s.start(ctx, d, t, plate, failed) })
	return nil
}

func (s *life) finish(ctx context.Context, d *desk.Desk, t *tale, m machine, id desk.ID, plate, failed int) error {
	if _, err := d.FinishRun(ctx, s.operator(m.place), id, 0, s.form()); err != nil {
		return err
	}
	if t.end == finished {
		return nil
	}
	s.later(t, "weighed", s.nextOpen(m.place, d.Now().Add(25*time.Minute)), func(ctx context.Context, d *desk.Desk) error {
		return s.weigh(ctx, d, t, m, id, plate, failed)
	})
	return nil
}

func (s *life) weigh(ctx context.Context, d *desk.Desk, t *tale, m machine, id desk.ID, plate, failed int) error {
	run, err := s.run(ctx, id)
	if err != nil {
		return err
	}
	var grams []map[string]float64
	for _, p := range run.Parts {
		g := map[string]float64{}
		for material, expect := range p.Expect {
			// What a scale says is a little off what was reckoned: from 4 % under
			// to 3 % over.
			g[material] = tenth(expect * (0.96 + 0.01*float64((t.n*3+plate)%8)))
		}
		grams = append(grams, g)
	}
	if _, err := d.WeighRun(ctx, s.operator(m.place), id, 0, desk.WeighForm{Form: s.form(), Grams: grams}); err != nil {
		return err
	}
	r, err := s.request(ctx, t)
	if err != nil {
		return err
	}
	if plate+1 < len(r.Agreement.Way.Plates) {
		s.later(t, "printed on", d.Now().Add(10*time.Minute), func(ctx context.Context, d *desk.Desk) error { return s.start(ctx, d, t, plate+1, failed) })
		return nil
	}
	at := d.Now().Add(15 * time.Minute)
	if m.place != t.place {
		at = at.Add(18 * time.Hour) // with the van of the next day
	}
	s.later(t, "shelved", s.nextOpen(t.place, at), func(ctx context.Context, d *desk.Desk) error {
		return s.shelve(ctx, d, t)
	})
	return nil
}

func (s *life) shelve(ctx context.Context, d *desk.Desk, t *tale) error {
	place := fmt.Sprintf("%c%d", 'A'+t.n%4, 1+t.n%6)
	if _, err := d.Shelve(ctx, s.operator(t.place), t.id, 0, place, s.form()); err != nil {
		return err
	}
	if t.end == called {
		s.later(t, "called", s.nextOpen(t.place, later(s.before(t.last), d.Now().Add(time.Hour))), func(ctx context.Context, d *desk.Desk) error {
			_, err := d.CallPatron(ctx, s.operator(t.place), t.id, 0, "by telephone, no answer", s.form())
			return err
		})
	}
	if t.end == collected {
		s.later(t, "handed over", s.nextOpen(t.place, later(s.before(t.last), d.Now().Add(3*time.Hour))), func(ctx context.Context, d *desk.Desk) error {
			return s.handOver(ctx, d, t)
		})
	}
	return nil
}

func (s *life) handOver(ctx context.Context, d *desk.Desk, t *tale) error {
	switch t.money {
	case desk.Waiver:
		if _, err := d.Waive(ctx, s.manager(), t.id, s.form(), "1.00", t.why); err != nil {
			return err
		}
	case desk.Correction:
		if _, err := d.Correct(ctx, s.manager(), t.id, s.form(), "-0.40", t.why); err != nil {
			return err
		}
	}
	a, err := d.Account(ctx, s.operator(t.place), t.id)
	if err != nil {
		return err
	}
	f := desk.CollectForm{Form: s.form()}
	if a.Balance.Cmp("0") > 0 {
		f.Pay, f.How = a.Balance, []string{"cash", "card"}[t.n%2]
	}
	_, err = d.Collect(ctx, s.operator(t.place), t.id, 0, f)
	return err
}

// later puts a further step of a story on the list.
func (s *life) later(t *tale, what string, at time.Time, do func(context.Context, *desk.Desk) error) {
	s.push(step{at: at, tale: t, what: what, do: do})
}

// free is a printer of the model that prints nothing from a time for so long,
// at the place if there is one. Stories are not all told in the order of time:
// what another printed then, or later, counts as well.
func (s *life) free(ctx context.Context, place, model string, from time.Time, seconds float64) (machine, error) {
	until := from.Add(time.Duration(seconds) * time.Second)
	any := false
	for _, here := range []bool{true, false} {
		for _, m := range machines {
			if m.model != model || m.out != "" || (m.place == place) != here {
				continue
			}
			any = true
			var runs []desk.Run
			err := s.desk.Store.Read(ctx, func(tx desk.Tx) (err error) {
				runs, err = tx.ListRuns(desk.RunFilter{Printer: s.unit[m.name].ID})
				return err
			})
			if err != nil {
				return machine{}, err
			}
			if !slices.ContainsFunc(runs, func(r desk.Run) bool {
				return r.State == desk.Going || r.Started.Before(until) && r.Ended.After(from)
			}) {
				return m, nil
			}
		}
	}
	if !any {
		return machine{}, fmt.Errorf("no printer of the model %q", model)
	}
	return machine{}, errLater
}

// spools are those a run takes: one for each material, of the colour wished
// for if there is enough of it.
func (s *life) spools(ctx context.Context, branch desk.ID, grams map[string]float64, colour string) ([]desk.ID, error) {
	var all []desk.Spool
	err := s.desk.Store.Read(ctx, func(tx desk.Tx) (err error) {
		all, err = tx.Spools([]desk.ID{branch}, false)
		return err
	})
	if err != nil {
		return nil, err
	}
	var ids []desk.ID
	for material, g := range grams {
		best, most := desk.ID(""), -1.0
		for _, sp := range all {
			if sp.Material != material {
				continue
			}
			// Liked most: the colour, then having enough, then being the fuller one.
			liked := min(sp.Grams/1e4, 0.5)
			if sp.Grams > g+10 {
				liked++
			}
			if sp.Colour == colour {
				liked += 2
			}
			if liked > most {
				best, most = sp.ID, liked
			}
		}
		if best == "" {
			return nil, errors.New("no spool of " + material)
		}
		ids = append(ids, best)
	}
	return ids, nil
}

func (s *life) run(ctx context.Context, id desk.ID) (desk.Run, error) {
	var run desk.Run
	err := s.desk.Store.Read(ctx, func(tx desk.Tx) (err error) {
		run, err = tx.Run(id)
		return err
	})
	return run, err
}

// nextOpen moves a time on to when a place is open; within the last day it
// stays.
func (s *life) nextOpen(place string, t time.Time) time.Time {
	for i := 0; i < 10*24*4 && s.options.Now.Sub(t) > 24*time.Hour; i++ {
		if s.open(place, t).Equal(t) {
			return t
		}
		t = t.Add(15 * time.Minute)
	}
	return t
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func tenth(g float64) float64 { return math.Round(g*10) / 10 }
