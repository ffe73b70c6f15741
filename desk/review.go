package desk

import (
	"context"
	"fmt"
	"slices"
)

// review changes a request as a reviewer of its branch may. What the history
// will say of it (a word, and what stands afterwards) tells the same thing sent
// twice from someone else's change meanwhile.
func (d *Desk) review(ctx context.Context, by Actor, id ID, version int64, what, after string, do func(Tx, *Request) (Event, error)) (Request, error) {
	var out Request
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.forReview(tx, by, id)
		if err != nil {
			return err
		}
		version := version // the store may run this again
		if version != 0 && r.Version > version {
			since, err := tx.Events(id, version)
			if err != nil {
				return err
			}
			if len(since) == 1 && since[0].What == what && since[0].After == after && since[0].Who == by.Name {
				out = r
				return nil
			}
			if byClock(since) {
				version = 0
			}
		}
		out, err = d.change(tx, id, version, by, func(r *Request) (Event, error) {
			e, err := do(tx, r)
			e.What, e.After = what, after
			return e, err
		})
		return err
	})
	return out, err
}

// byClock says whether nobody but background work did anything: a check that
// ended, or ways that were found, put nobody's decision in question.
func byClock(since []Event) bool {
	return !slices.ContainsFunc(since, func(e Event) bool { return e.Kind != ByClock })
}

// forReview loads a request a reviewer of its branch may change.
func (d *Desk) forReview(tx Tx, by Actor, id ID) (Request, error) {
	r, err := tx.Request(id)
	if err != nil {
		return Request{}, err
	}
	if err := by.Require(r.Branch, Reviewer); err != nil {
		return Request{}, err
	}
	if !r.Forgotten.IsZero() {
		return Request{}, Faultf(NotNow, "This request has been forgotten: what was known of the patron is gone, and nothing more can be done with it.")
	}
	return r, nil
}

// mustBe says that a thing can be done only while a request is in a state.
func mustBe(r Request, what string, states ...State) error {
	if slices.Contains(states, r.State) {
		return nil
	}
	if r.State == Received && slices.Contains(states, InReview) {
		return Faultf(NotNow, "%s is not in review yet. Take it into review first, then %s.", r.Code, what)
	}
	if r.State.Over() {
		return Faultf(NotNow, "%s has ended (%s), so it is too late to %s.", r.Code, r.State, what)
	}
	if slices.Contains(states, InReview) && (r.State == WithPatron || r.State == Agreed) {
		return Faultf(NotNow, "%s is %s. Take the offer back first, then %s.", r.Code, r.State, what)
	}
	return Faultf(NotNow, "%s is %s. It is not possible to %s at this point.", r.Code, r.State, what)
}

// Take brings a request that came in into review.
func (d *Desk) Take(ctx context.Context, by Actor, id ID, version int64) (Request, error) {
	return d.review(ctx, by, id, version, "taken", string(InReview), func(tx Tx, r *Request) (Event, error) {
		if r.State != Received {
			return Event{}, Faultf(NotNow, "%s is %s already. Reload the page to see who has it.", r.Code, r.State)
		}
		r.State = InReview
		return Event{Say: "Took it into review.", Before: string(Received)}, nil
	})
}

// SetPlan settles what is to be printed, and has ways sought for it.
func (d *Desk) SetPlan(ctx context.Context, by Actor, id ID, version int64, p Plan) (Request, error) {
	return d.review(ctx, by, id, version, "planned", asJSON(p), func(tx Tx, r *Request) (Event, error) {
		if err := mustBe(*r, "plan it", InReview); err != nil {
			return Event{}, err
		}
		s, err := settings(tx)
		if err != nil {
			return Event{}, err
		}
		files, err := tx.FilesOf(r.ID)
		if err != nil {
			return Event{}, err
		}
		if err := checkPlan(p, files, s); err != nil {
			return Event{}, err
		}
		before := asJSON(r.Plan)
		r.Plan = p
		if err := d.seekWays(tx, r); err != nil {
			return Event{}, err
		}
		return Event{Say: "Planned it: " + planInWords(p, files, catalogueOf(s)) + " Ways are being found.", Before: before}, nil
	})
}

// Judge answers one policy question, with a reason where it is not fine.
func (d *Desk) Judge(ctx context.Context, by Actor, id ID, version int64, question string, fine bool, why string) (Request, error) {
	why = CleanText(why, 1000)
	after := asJSON(struct {
		Question string `json:"question"`
		Fine     bool   `json:"fine"`
		Why      string `json:"why,omitempty"`
	}{question, fine, why})
	return d.review(ctx, by, id, version, "judged", after, func(tx Tx, r *Request) (Event, error) {
		if err := mustBe(*r, "answer its questions", InReview); err != nil {
			return Event{}, err
		}
		s, err := settings(tx)
		if err != nil {
			return Event{}, err
		}
		i := slices.IndexFunc(s.Rules.Questions, func(q Question) bool { return q.ID == question })
		if i < 0 {
			return Event{}, Faultf(Wrong, "That question is not asked any more. Reload the page to see those that are.")
		}
		if !fine && why == "" {
			return Event{}, &Fault{Kind: Wrong, Say: "Say why it is not fine, so that a colleague understands it later.",
				Fields: map[string]string{"why": "Say why it is not fine."}}
		}
		j := Judgement{Question: question, Text: s.Rules.Questions[i].Text, Fine: fine, Why: why, By: by.Name, At: d.now()}
		before := ""
		if k := slices.IndexFunc(r.Checklist, func(j Judgement) bool { return j.Question == question }); k >= 0 {
			before = asJSON(r.Checklist[k])
			r.Checklist = slices.Clone(r.Checklist)
			r.Checklist[k] = j
		} else {
			r.Checklist = append(slices.Clone(r.Checklist), j)
		}
		answer := "fine"
		if !fine {
			answer = "not fine: " + why
		}
		return Event{Say: fmt.Sprintf("Answered “%s”: %s", j.Text, answer), Before: before}, nil
	})
}

// missing says in sentences why no offer can be sent yet; nothing when one can.
func missing(r Request, s Settings) []string {
	var all []string
	open, bad := 0, 0
	for _, a := range checklist(r, s) {
		switch {
		case a.Answer == nil:
			open++
		case !a.Answer.Fine:
			bad++
		}
	}
	switch {
	case open == 1:
		all = append(all, "One question of the checklist is not answered yet.")
	case open > 1:
		all = append(all, fmt.Sprintf("%d questions of the checklist are not answered yet.", open))
	}
	if bad > 0 {
		all = append(all, "A question of the checklist is answered with not fine. Settle it and answer again, or decline the request.")
	}
	switch r.Basis.State {
	case "":
		all = append(all, "No ways were sought yet: settle the plan.")
	case Waiting, Checking:
		all = append(all, "Ways are still being found.")
	case Failed:
		all = append(all, "The finding of ways failed by a mistake of ours. Save the plan again to try once more.")
	default:
		switch {
		case len(r.Ways) == 0:
			all = append(all, "No way was found for this plan: change it, ask the patron, or decline the request.")
		case r.Basis.Tariff != s.Versions[TariffSetting]:
			all = append(all, "The tariff changed after these ways were priced. Save the plan again to price them anew.")
		}
	}
	return all
}

// tooLong says why a way cannot be offered: a plate longer than the library's
// longest print. Empty when it can.
func tooLong(w Way, s Settings) string {
	limit := s.Rules.Longest.Seconds()
	if limit <= 0 {
		return ""
	}
	for i, p := range w.Plates {
		if !(p.Seconds <= limit) {
			return fmt.Sprintf("Plate %d takes %s, longer than the longest print here (%s).", i+1, hoursInWords(p.Seconds), hoursInWords(limit))
		}
	}
	if len(w.Plates) == 0 && !(w.Seconds <= limit) {
		return fmt.Sprintf("It takes %s, longer than the longest print here (%s).", hoursInWords(w.Seconds), hoursInWords(limit))
	}
	return ""
}
