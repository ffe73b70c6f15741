package desk

import (
	"context"
	"fmt"
	"maps"
	"slices"
)

// A weight typed wrongly is mended where it was typed: what it cost and what is
// left on the spools follow. As long as nobody outside knows the price, that is
// for whoever weighs; from then on it is a manager's, as every lowering of what
// is owed is. What is over stays as it is.

// keeps says why the weight of a part of a weighed run stays as it is for by;
// nothing says that it can be weighed anew.
func keeps(tx Tx, by Actor, p RunPart) (string, error) {
	r, err := tx.Request(p.Request)
	if err != nil {
		return "", err
	}
	switch {
	case p.Bad != nil:
		return fmt.Sprintf("Plate %d of %s turned out bad, and its weight stays as noted.", p.Plate+1, r.Code), nil
	case r.State != Printing && r.State != OnShelf:
		return fmt.Sprintf("%s is %s, so its weight stays as noted. What it costs can be corrected on its account.", r.Code, r.State), nil
	case by.May(r.Branch, Manager):
		return "", nil
	case r.State == OnShelf:
		return fmt.Sprintf("The patron of %s was told what it costs. A manager of the branch can weigh it anew.", r.Code), nil
	}
	lines, err := tx.Charges(r.ID)
	if err != nil {
		return "", err
	}
	if slices.ContainsFunc(lines, func(c Charge) bool { return c.Kind == Payment }) {
		return fmt.Sprintf("Something was paid on %s. A manager of the branch can weigh it anew.", r.Code), nil
	}
	return "", nil
}

// WeighAnew puts right what was noted of a weighed run, with a reason. A part
// whose f.Grams is nil stays as it was.
func (d *Desk) WeighAnew(ctx context.Context, by Actor, run ID, version int64, f WeighForm) (Run, error) {
	return d.changeRun(ctx, by, run, version, f.Form, func(tx Tx, run *Run) (func(Request) Event, error) {
		if run.State != Weighed {
			return nil, Faultf(NotNow, "This run is %s, so there is no weight to put right.", run.State)
		}
		s, err := settings(tx)
		if err != nil {
			return nil, err
		}
		n := namesOf(s)
		f.anew = true
		if err := f.check(*run, n); err != nil {
			return nil, err
		}
		why, err := whyOf("anew-why", f.Why, "Say why it is weighed anew: a slip of the finger, the supports left out, ….")
		if err != nil {
			return nil, err
		}
		was, used := slices.Clone(run.Parts), map[string]float64{}
		differs := false
		for i := range run.Parts {
			p := &run.Parts[i]
			if f.Grams[i] != nil {
				now := map[string]float64{}
				for _, m := range run.materials() {
					if g := hundredths(f.Grams[i][m]); g > 0 || p.Expect[m] > 0 {
						now[m] = g
					}
				}
				if !maps.Equal(now, p.Weighed) {
					stays, err := keeps(tx, by, *p)
					if err != nil {
						return nil, err
					}
					if stays != "" {
						return nil, Faultf(NotNow, "%s", stays)
					}
					p.Weighed, differs = now, true
				}
			}
			for m, g := range p.Weighed {
				used[m] += g
			}
		}
		if !differs {
			return nil, wrongField(weighField(0, run.materials()), "That is what was noted already. Nothing was changed.")
		}
		counted, err := d.putBack(tx, run, by)
		if err != nil {
			return nil, err
		}
		if err := d.takeOff(tx, run, used, by, "weighed anew", counted...); err != nil {
			return nil, err
		}
		return func(r Request) Event {
			e := Event{What: "weighed"}
			before, after := map[string]float64{}, map[string]float64{}
			for i, p := range run.Parts {
				if p.Request != r.ID || maps.Equal(p.Weighed, was[i].Weighed) {
					continue
				}
				e.Say += fmt.Sprintf(" Plate %d: %s in place of %s.", p.Plate+1, weights(p.Weighed, n), weights(was[i].Weighed, n))
				for m, g := range was[i].Weighed {
					before[m] = hundredths(before[m] + g)
				}
				for m, g := range p.Weighed {
					after[m] = hundredths(after[m] + g)
				}
			}
			if e.Say == "" {
				return Event{}
			}
			e.Say = fmt.Sprintf("Weighed anew: %s.%s", stop(why), e.Say)
			e.Before, e.After = asJSON(before), asJSON(after)
			return e
		}, nil
	}, d.settle)
}

// weighField is the field of a weight, for what is wrong with it.
func weighField(part int, materials []string) string {
	if len(materials) == 0 {
		return "anew-why"
	}
	return fmt.Sprintf("grams-%d-%s", part, materials[0])
}

// putBack undoes what weighing run did to its spools, down to what was found to
// be on them then. A spool whose grams were set by hand since is left as it was
// set: whoever did so had seen it.
func (d *Desk) putBack(tx Tx, run *Run, by Actor) (counted []ID, err error) {
	for _, u := range run.Spools {
		lines, err := tx.SpoolLines(u.Spool, mostReelLines)
		if err != nil {
			return nil, err
		}
		took, seen, set := 0.0, false, false
		for _, l := range lines { // the newest first
			switch {
			case l.Run == run.ID:
				took, seen = hundredths(took+l.Grams), true
			case l.Run == "" && !seen:
				set = true
			}
		}
		if set {
			counted = append(counted, u.Spool)
			continue
		}
		s, err := tx.Spool(u.Spool)
		if err != nil {
			return nil, err
		}
		if err := d.move(tx, &s, -took, by, "weighed anew", run.ID); err != nil {
			return nil, err
		}
		if err := tx.SaveSpool(&s); err != nil {
			return nil, err
		}
	}
	return counted, nil
}

// mostReelLines is more lines than a spool gets in its life.
const mostReelLines = 10_000
