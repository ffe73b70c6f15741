package desk

import (
	"context"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// changeRun loads a run and lets do change it, once for each form. do returns
// what is noted with each of its requests, an empty event where it is none of
// its business; then, if any, is done with each of the others once the run is
// saved.
func (d *Desk) changeRun(ctx context.Context, by Actor, id ID, version int64, form string,
	do func(Tx, *Run) (func(Request) Event, error), then ...func(Tx, Request, Actor) error) (Run, error) {
	var run Run
	err := d.Store.Write(ctx, func(tx Tx) error {
		var err error
		if run, err = tx.Run(id); err != nil {
			return err
		}
		if err := by.Require(run.Branch, Operator); err != nil {
			return err
		}
		if form != "" && run.Last == form {
			return nil
		}
		if version != 0 && version != run.Version {
			return d.staleRun(tx, run)
		}
		say, err := do(tx, &run)
		if err != nil {
			return err
		}
		run.Last = form
		if err := tx.SaveRun(&run); err != nil {
			return err
		}
		for _, id := range run.requests() {
			r, err := tx.Request(id)
			if err != nil {
				return err
			}
			if say(r).What == "" {
				continue
			}
			r, err = d.change(tx, id, 0, by, func(r *Request) (Event, error) { return say(*r), nil })
			if err != nil {
				return err
			}
			for _, f := range then {
				if err := f(tx, r, by); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil {
		return Run{}, err
	}
	return run, nil
}

// requests lists each request on the run once.
func (r Run) requests() []ID {
	var ids []ID
	for _, p := range r.Parts {
		if !slices.Contains(ids, p.Request) {
			ids = append(ids, p.Request)
		}
	}
	return ids
}

// materials lists what the run takes.
func (r Run) materials() []string {
	var ids []string
	for _, u := range r.Spools {
		if !slices.Contains(ids, u.Material) {
			ids = append(ids, u.Material)
		}
	}
	return ids
}

// staleRun says what became of a run someone else changed.
func (d *Desk) staleRun(tx Tx, run Run) error {
	f := &Fault{Kind: Stale, Say: fmt.Sprintf("Someone changed this run while you had it open: it is %s now. Look at it, then send yours again if it still holds.", run.State)}
	if len(run.Parts) > 0 {
		since, err := tx.Events(run.Parts[0].Request, 0)
		if err != nil {
			return err
		}
		f.Since = since[max(0, len(since)-3):]
	}
	return f
}

// whereOn says where a run is, for history lines.
func (d *Desk) whereOn(tx Tx, run Run) (string, error) {
	p, err := tx.Printer(run.Printer)
	return p.Name, err
}

// FinishRun notes that a run came out well. What it took is weighed after.
func (d *Desk) FinishRun(ctx context.Context, by Actor, run ID, version int64, form string) (Run, error) {
	return d.changeRun(ctx, by, run, version, form, func(tx Tx, run *Run) (func(Request) Event, error) {
		if run.State != Going {
			return nil, Faultf(NotNow, "This run is %s already. Reload the page to see what comes next.", run.State)
		}
		on, err := d.whereOn(tx, *run)
		run.State, run.Ended = Finished, d.now()
		return func(r Request) Event {
			return Event{What: "finished", Say: fmt.Sprintf("Plate %s came off %s well.", run.platesOf(r.ID), on)}
		}, err
	})
}

// platesOf names the plates of a request on the run: "1", "1 and 2".
func (r Run) platesOf(request ID) string {
	var all []string
	for _, p := range r.Parts {
		if p.Request == request {
			all = append(all, fmt.Sprint(p.Plate+1))
		}
	}
	return strings.Join(all, " and ")
}

// check looks at what was said of a failure.
func (f FailForm) check(of []string, n names) (Failure, error) {
	faults := map[string]string{}
	why := strings.TrimSpace(f.Why)
	if why == "" {
		faults["why"] = "Say in a few words why it failed: the patron and the next operator will ask."
	} else if utf8.RuneCountInString(why) > mostReason {
		faults["why"] = fmt.Sprintf("Say it in at most %d letters.", mostReason)
	}
	if f.Blame != MachineBlame && f.Blame != DesignBlame && f.Blame != PeopleBlame {
		faults["blame"] = "Choose whose failure it was: the machine's, the design's or people's."
	}
	checkGrams("grams-", f.Grams, of, n, faults)
	if len(faults) > 0 {
		return Failure{}, &Fault{Kind: Wrong, Say: "Something about the failed run must be mended.", Fields: faults}
	}
	total := 0.0
	for _, g := range f.Grams {
		total += hundredths(g)
	}
	return Failure{Why: why, Blame: f.Blame, Grams: hundredths(total)}, nil
}

// FailRun notes that a run failed, takes what it wasted off the spools, and
// charges the patrons for it if the rules they agreed under say so. Its plates
// are to print again, as long as attempts are left.
func (d *Desk) FailRun(ctx context.Context, by Actor, run ID, version int64, f FailForm) (Run, error) {
	return d.changeRun(ctx, by, run, version, f.Form, func(tx Tx, run *Run) (func(Request) Event, error) {
		if run.State != Going && run.State != Finished {
			return nil, Faultf(NotNow, "This run is %s, so it cannot fail any more. If a part turned out bad, say so at its request: it is printed again.", run.State)
		}
		s, err := settings(tx)
		if err != nil {
			return nil, err
		}
		failure, err := f.check(run.materials(), namesOf(s))
		if err != nil {
			return nil, err
		}
		failure.By = by.Name
		if err := d.takeOff(tx, run, f.Grams, by, "failed run"); err != nil {
			return nil, err
		}
		on, err := d.whereOn(tx, *run)
		if err != nil {
			return nil, err
		}
		run.State, run.Failure = Spoiled, &failure
		if run.Ended.IsZero() {
			run.Ended = d.now()
		}
		left := map[ID]string{}
		for _, id := range run.requests() {
			r, err := tx.Request(id)
			if err != nil {
				return nil, err
			}
			if err := d.chargeWaste(tx, r, by, "failed "+string(run.ID), failure, shareOf(*run, id, f.Grams)); err != nil {
				return nil, err
			}
			if left[id], err = run.attemptsLeft(tx, r); err != nil {
				return nil, err
			}
		}
		return func(r Request) Event {
			return Event{What: "failed", Say: fmt.Sprintf("The run with plate %s failed on %s, by the %s: %s. %s", run.platesOf(r.ID), on, blameWord(f.Blame), stop(failure.Why), left[r.ID])}
		}, nil
	}, func(tx Tx, r Request, _ Actor) error {
		if !f.Tell {
			return nil
		}
		return d.tellReprint(tx, r, "failed "+string(run), f.Why)
	})
}

// tellReprint writes to a patron that a print failed and is tried again, if it
// is, and what it costs them.
func (d *Desk) tellReprint(tx Tx, r Request, charged, why string) error {
	stands, _, err := standsOf(tx, r)
	if err != nil {
		return err
	}
	if r.State != Printing || slices.ContainsFunc(stands, func(s PlateStand) bool { return s.State == PlateStuck }) {
		return nil
	}
	s, err := settings(tx)
	if err != nil {
		return err
	}
	lines, err := tx.Charges(r.ID)
	if err != nil {
		return err
	}
	more := Extra{Reason: stop(why) + "."}
	for _, c := range lines {
		if c.Form == charged {
			more.Owed = c.Amount
		}
	}
	return d.tell(tx, s, r, TextReprint, more)
}

func blameWord(b Blame) string {
	if b == PeopleBlame {
		return "people who set it up"
	}
	return string(b)
}

// stop takes the full stop off a sentence that will get another.
func stop(s string) string { return strings.TrimRight(strings.TrimSpace(s), ".!") }

// attemptsLeft says what follows a failure, in a sentence.
func (r Run) attemptsLeft(tx Tx, of Request) (string, error) {
	rules, err := agreedRules(tx, of)
	if err != nil {
		return "", err
	}
	used := 0
	for _, p := range r.Parts {
		if p.Request == of.ID {
			used = max(used, p.Attempt)
		}
	}
	switch {
	case rules.Attempts <= 0:
		return "It is to be printed again.", nil
	case used >= rules.Attempts:
		return fmt.Sprintf("All %d attempts are used up: someone must decide what becomes of it.", rules.Attempts), nil
	}
	return fmt.Sprintf("It is to be printed again, attempt %d of %d.", used+1, rules.Attempts), nil
}

// shareOf is a request's share of what a run wasted, by what each part was
// expected to take.
func shareOf(run Run, request ID, grams map[string]float64) map[string]float64 {
	out := map[string]float64{}
	for m, g := range grams {
		all, mine, parts, own := 0.0, 0.0, 0, 0
		for _, p := range run.Parts {
			all += p.Expect[m]
			parts++
			if p.Request == request {
				mine += p.Expect[m]
				own++
			}
		}
		share := float64(own) / float64(max(parts, 1))
		if all > 0 {
			share = mine / all
		}
		out[m] = hundredths(g * share)
	}
	return out
}

// off says whether a weight is so far from what was expected that it is
// probably a slip: by more than half, and by more than a scale and a purge
// can make of it.
func off(weighed, expect float64) bool {
	return math.Abs(weighed-expect) > max(0.5*expect, 1)
}

// WeighRun notes what the scale said of each part, takes it off the spools,
// and once all plates of a request are weighed books what it costs.
func (d *Desk) WeighRun(ctx context.Context, by Actor, run ID, version int64, f WeighForm) (Run, error) {
	return d.changeRun(ctx, by, run, version, f.Form, func(tx Tx, run *Run) (func(Request) Event, error) {
		if run.State != Going && run.State != Finished {
			return nil, Faultf(NotNow, "This run is %s, so there is nothing to weigh.", run.State)
		}
		s, err := settings(tx)
		if err != nil {
			return nil, err
		}
		n := namesOf(s)
		if err := f.check(*run, n); err != nil {
			return nil, err
		}
		used := map[string]float64{}
		for i := range run.Parts {
			p := &run.Parts[i]
			p.Weighed = map[string]float64{}
			for _, m := range run.materials() {
				if g := hundredths(f.Grams[i][m]); g > 0 || p.Expect[m] > 0 {
					p.Weighed[m] = g
					used[m] += g
				}
			}
		}
		if err := d.takeOff(tx, run, used, by, "weighed"); err != nil {
			return nil, err
		}
		run.State = Weighed
		if run.Ended.IsZero() {
			run.Ended = d.now()
		}
		return func(r Request) Event {
			e := Event{What: "weighed"}
			var says []string
			expect, weighed := map[string]float64{}, map[string]float64{}
			for _, p := range run.Parts {
				if p.Request != r.ID {
					continue
				}
				says = append(says, fmt.Sprintf("plate %d: %s", p.Plate+1, weights(p.Weighed, n)))
				for m, g := range p.Expect {
					expect[m] += g
				}
				for m, g := range p.Weighed {
					weighed[m] = hundredths(weighed[m] + g)
				}
			}
			e.Say = "Weighed " + strings.Join(says, "; ") + "."
			e.Before, e.After = asJSON(expect), asJSON(weighed)
			return e
		}, nil
	}, d.settle)
}

// weights says masses by material: "23.1 g of PLA and 4 g of PVA".
func weights(g map[string]float64, n names) string {
	var all []string
	for _, m := range slices.Sorted(maps.Keys(g)) {
		all = append(all, fmt.Sprintf("%g g of %s", g[m], n.material(m)))
	}
	if len(all) == 0 {
		return "nothing"
	}
	return strings.Join(all, " and ")
}

// check looks at what was typed from the scale.
func (f WeighForm) check(run Run, n names) error {
	if len(f.Grams) != len(run.Parts) {
		return Faultf(Wrong, "This form has come apart on its way. Open the run again and weigh each part.")
	}
	faults, far := map[string]string{}, map[string]string{}
	for i, p := range run.Parts {
		if f.anew && f.Grams[i] == nil {
			continue
		}
		field := fmt.Sprintf("grams-%d-", i)
		checkGrams(field, f.Grams[i], run.materials(), n, faults)
		total := 0.0
		for _, m := range run.materials() {
			g := f.Grams[i][m]
			if !sane(g) {
				continue
			}
			total += g
			if off(g, p.Expect[m]) {
				far[field+m] = fmt.Sprintf("%g g of %s is far from the %.1f g expected.", g, n.material(m), p.Expect[m])
			}
		}
		if total == 0 && len(faults) == 0 && len(run.materials()) > 0 {
			faults[field+run.materials()[0]] = "A part that came out weighs something. Weigh it, with its supports and base."
		}
	}
	if len(faults) > 0 {
		return &Fault{Kind: Wrong, Say: "Something about the weights must be mended.", Fields: faults}
	}
	if len(far) > 0 && !f.Sure {
		far["sure"] = "Look at the scale again. If it is right, say so and send once more."
		return &Fault{Kind: Wrong, Say: "A weight is more than half off what was expected.", Fields: far}
	}
	return nil
}

// Reprint says that a plate that was weighed is no good after all: it is to
// print again, and comes off the shelf if it lay there. What it took stays
// taken; f.Grams does not matter.
func (d *Desk) Reprint(ctx context.Context, by Actor, id ID, version int64, plate int, f FailForm) (Request, error) {
	var out Request
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := tx.Request(id)
		if err != nil {
			return err
		}
		runs, err := tx.RunsOf(id)
		if err != nil {
			return err
		}
		// It is for those who print it, and for those who have it on their shelf.
		if !slices.ContainsFunc(runs, func(run Run) bool { return by.May(run.Branch, Operator) }) {
			if err := by.Require(r.Branch, Operator); err != nil {
				return err
			}
		}
		if f.Form != "" && slices.ContainsFunc(runs, func(run Run) bool { return run.Last == f.Form }) {
			out = r
			return nil
		}
		if version != 0 && version != r.Version {
			return stale(tx, r, version)
		}
		stands, _, err := standsOf(tx, r)
		if err != nil {
			return err
		}
		if plate < 0 || plate >= len(stands) || stands[plate].State != PlateDone || (r.State != Printing && r.State != OnShelf) {
			return Faultf(NotNow, "This plate is not one that was printed and weighed, so there is nothing to print again. Reload the page to see where it stands.")
		}
		at := slices.IndexFunc(runs, func(run Run) bool { return run.ID == stands[plate].Run })
		run := runs[at]
		s, err := settings(tx)
		if err != nil {
			return err
		}
		f.Grams = nil
		failure, err := f.check(run.materials(), namesOf(s))
		if err != nil {
			return err
		}
		failure.By = by.Name
		for i := range run.Parts {
			if p := &run.Parts[i]; p.Request == id && p.Plate == plate {
				for _, g := range p.Weighed {
					failure.Grams = hundredths(failure.Grams + g)
				}
				if err := d.chargeWaste(tx, r, by, fmt.Sprintf("bad %s %d", run.ID, plate), failure, p.Weighed); err != nil {
					return err
				}
				p.Bad = &failure
			}
		}
		run.Last = f.Form
		if err := tx.SaveRun(&run); err != nil {
			return err
		}
		left, err := run.attemptsLeft(tx, r)
		if err != nil {
			return err
		}
		out, err = d.change(tx, id, 0, by, func(r *Request) (Event, error) {
			if r.State == OnShelf {
				r.State, r.Shelf, r.Due = Printing, nil, time.Time{}
			}
			return Event{What: "bad", Say: fmt.Sprintf("Plate %d turned out bad, by the %s: %s. %s", plate+1, blameWord(f.Blame), stop(failure.Why), left)}, nil
		})
		if err != nil || !f.Tell {
			return err
		}
		return d.tellReprint(tx, out, fmt.Sprintf("bad %s %d", run.ID, plate), f.Why)
	})
	if err != nil {
		return Request{}, err
	}
	return out, nil
}
