package desk

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"platebook/engine/tariff"
)

// close brings r to its end in tx: sets state, Closed and Due, and counts it in
// the tally. Call it within change, before r is saved. Why, if any, is what the
// patron is told.
func (d *Desk) close(tx Tx, r *Request, state State, why string) error {
	if !state.Over() {
		return fmt.Errorf("%q is no end of a request", state)
	}
	if !r.State.MayFollow(state) {
		return Faultf(NotNow, "This request is %s, so it cannot become %q. Reload the page to see where it stands.", r.State, state)
	}
	s, err := settings(tx)
	if err != nil {
		return err
	}
	r.State, r.Closed = state, d.now()
	r.Due = r.Closed.AddDate(0, 0, s.Rules.KeepDays)
	if why != "" {
		r.Reason = why
	}
	t, err := tally(tx, *r, s)
	if err != nil {
		return err
	}
	return tx.AddTally(&t)
}

// tally counts a request that has come to its end.
func tally(tx Tx, r Request, s Settings) (Tally, error) {
	t := Tally{ID: r.ID, Month: r.Closed.In(s.Library.Zone()).Format("2006-01"), Branch: r.Branch, State: r.State, Copies: max(r.Wish.Copies, 1)}
	if r.Agreement != nil {
		t.Copies = 0
		for _, p := range r.Agreement.Way.Parts {
			t.Copies += max(p.Copies, 1)
		}
		t.Material = strings.Join(r.Agreement.Way.Material, ",")
	}
	runs, err := tx.RunsOf(r.ID)
	if err != nil {
		return t, err
	}
	for _, run := range runs {
		parts, bad := 0, false
		for _, p := range run.Parts {
			if p.Request != r.ID {
				continue
			}
			parts++
			bad = bad || p.Bad != nil
			for _, m := range slices.Sorted(maps.Keys(p.Weighed)) {
				t.Grams += p.Weighed[m]
			}
		}
		if parts == 0 {
			continue
		}
		t.Runs++
		if bad {
			t.Failed++
		}
		if run.State == Spoiled {
			t.Failed++
			if run.Failure != nil {
				t.Grams += float64(run.Failure.Grams * float64(parts) / float64(len(run.Parts)))
			}
		}
		if run.Ended.After(run.Started) {
			// A run that several requests share is shared among them by their parts.
			t.Seconds += float64(run.Ended.Sub(run.Started).Seconds() * float64(parts) / float64(len(run.Parts)))
		}
	}
	charges, err := tx.Charges(r.ID)
	if err != nil {
		return t, err
	}
	paid, currency, err := paid(charges)
	t.Paid, t.Currency = paid.Number(), currency
	return t, err
}

// paid sums what was paid, less what was given back.
func paid(charges []Charge) (sum tariff.Decimal, currency string, err error) {
	for _, c := range charges {
		if c.Kind != Payment && c.Kind != Repayment {
			continue
		}
		// What is paid lowers what is owed.
		if sum, err = tariff.Sum(sum, c.Amount.Neg()); err != nil {
			return "", "", fmt.Errorf("charge %s: %w", c.ID, err)
		}
		currency = c.Currency
	}
	return sum, currency, nil
}
