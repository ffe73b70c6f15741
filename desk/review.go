package desk

import (
	"context"
	"fmt"
	"slices"
	"time"

	"platebook/engine/findings"
	"platebook/engine/quote"
)

// RequestView is everything a person decides a request from.
type RequestView struct {
	Request  Request
	Branch   Branch
	Branches []Branch // that it could be moved to
	Files    []File   // as sent
	Messages []Message
	Events   []Event
	Runs     []Run
	Charges  []Charge
	Settings Settings
	Profiles *quote.Profiles
	Spools   []Spool // in stock at its branch
	Link     string  // the patron's
	Key      string  // of that link
	Reviews  bool    // the actor may decide here
	Operates bool    // the actor may print here
	Manages  bool
	Asked    []Asked
	Alike    []FileAlike // files that look like something declined before
	Plan     Plan        // as set, or as the wish suggests
	Missing  []string    // sentences: why no offer can be sent yet
	Now      time.Time
}

// Asked is a policy question and how it was answered, if it was.
type Asked struct {
	Question
	Answer *Judgement
}

// FileAlike is a file and what it looks like.
type FileAlike struct {
	File  File
	Alike []Resemblance
}

// Look gathers a request for staff of its branch. It changes nothing: a
// patron's message stays to be answered until someone answers it.
func (d *Desk) Look(ctx context.Context, by Actor, id ID) (RequestView, error) {
	return d.look(ctx, by, func(tx Tx) (Request, error) { return tx.Request(id) })
}

// LookByCode is Look by the code people say.
func (d *Desk) LookByCode(ctx context.Context, by Actor, c Code) (RequestView, error) {
	return d.look(ctx, by, func(tx Tx) (Request, error) {
		r, err := tx.RequestByCode(c)
		if KindOf(err) == NotFound {
			return r, &Fault{Kind: NotFound, Say: "There is no request " + string(c) + ". Check the code, or find it by the patron's name.", Err: err}
		}
		return r, err
	})
}

func (d *Desk) look(ctx context.Context, by Actor, get func(Tx) (Request, error)) (RequestView, error) {
	v := RequestView{Now: d.now()}
	err := d.Store.Read(ctx, func(tx Tx) error {
		r, err := get(tx)
		if err != nil {
			return err
		}
		if v.Branch, err = tx.Branch(r.Branch); err != nil {
			return err
		}
		if !by.May(r.Branch, Roles()...) {
			return Faultf(NotYours, "%s is a request of %s (%s). Your account does not reach that branch: ask its staff.", r.Code, v.Branch.Name, r.State)
		}
		v.Request = r
		return v.gather(tx)
	})
	if err != nil {
		return RequestView{}, err
	}
	r := v.Request
	v.Key = d.Key(r)
	v.Link = PatronLink(v.Settings, v.Key)
	v.Reviews, v.Operates, v.Manages = by.May(r.Branch, Reviewer), by.May(r.Branch, Operator), by.May(r.Branch)
	v.Profiles = catalogueOf(v.Settings)
	v.Asked = checklist(r, v.Settings)
	v.Missing = missing(r, v.Settings)
	v.Plan = r.Plan
	if len(v.Plan.Parts) == 0 {
		v.Plan = Suggest(r, v.Files, v.Settings, v.Spools)
	}
	return v, nil
}

// gather reads what belongs to the request.
func (v *RequestView) gather(tx Tx) error {
	r := v.Request
	var err error
	if v.Settings, err = settings(tx); err != nil {
		return err
	}
	if v.Files, err = tx.FilesOf(r.ID); err != nil {
		return err
	}
	if v.Messages, err = tx.Messages(r.ID); err != nil {
		return err
	}
	if v.Events, err = tx.Events(r.ID, 0); err != nil {
		return err
	}
	if v.Runs, err = tx.RunsOf(r.ID); err != nil {
		return err
	}
	if v.Charges, err = tx.Charges(r.ID); err != nil {
		return err
	}
	if v.Spools, err = tx.Spools([]ID{r.Branch}, false); err != nil {
		return err
	}
	all, err := tx.Branches()
	if err != nil {
		return err
	}
	for _, b := range all {
		if b.ID != r.Branch && !b.Shut {
			v.Branches = append(v.Branches, b)
		}
	}
	return v.findAlike(tx)
}

// checklist sets the answers beside the questions as they stand now.
func checklist(r Request, s Settings) []Asked {
	var all []Asked
	for _, q := range s.Rules.Questions {
		a := Asked{Question: q}
		if i := slices.IndexFunc(r.Checklist, func(j Judgement) bool { return j.Question == q.ID }); i >= 0 {
			a.Answer = &r.Checklist[i]
		}
		all = append(all, a)
	}
	return all
}

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

// TooLong is why a way of the view's request cannot be offered, or empty.
func (v *RequestView) TooLong(w Way) string { return tooLong(w, v.Settings) }

// Gravest is the gravest severity among the findings of a request's files.
func (v *RequestView) Gravest() findings.Severity {
	worst := findings.Note
	for _, f := range v.Files {
		if f.Result == nil {
			continue
		}
		switch findings.Verdict(f.Result.Answer.Findings) {
		case findings.Stop:
			return findings.Stop
		case findings.Ask:
			worst = findings.Ask
		}
	}
	return worst
}
