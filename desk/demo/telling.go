package demo

import (
	"context"
	"fmt"
	"time"

	"platebook/desk"
)

// walk is the usual order of steps, each with when it comes on the way from
// asking (0) to being collected (1).
var walk = []struct {
	until stage // the least stage that has this step
	part  float64
	what  string
	do    func(*life, *tale) func(context.Context, *desk.Desk) error
}{
	{inReview, 0.10, "taken in", (*life).takeIn},
	{inReview, 0.13, "planned", (*life).plan},
	{offered, 0.16, "judged", (*life).judge},
	{offered, 0.18, "offered", (*life).offer},
	{agreed, 0.35, "agreed", (*life).agree},
}

// steps are those of a story, but for asking.
func (s *life) steps(t *tale) []step {
	var out []step
	last := s.before(t.last)
	if t.end == started || t.end == stuck {
		// What failed came before: a day and a bit for each.
		last = s.before(t.last + 1.3*float64(len(t.fails)))
	}
	asked := s.before(t.asked)
	whole := fraction(t.end)
	// A time on the way, never before the step before it.
	when := func(part float64, staff bool) time.Time {
		at := asked.Add(time.Duration(min(1, part/whole) * float64(last.Sub(asked))))
		if staff && part < whole {
			at = s.open(t.place, at)
		}
		if n := len(out); n > 0 && !at.After(out[n-1].at) {
			at = out[n-1].at.Add(2 * time.Minute)
		} else if floor := asked.Add(5 * time.Minute); at.Before(floor) {
			at = floor
		}
		return at
	}
	add := func(part float64, staff bool, what string, do func(context.Context, *desk.Desk) error) {
		out = append(out, step{at: when(part, staff), what: what, do: do})
	}
	way := t.end
	switch way {
	case declined:
		way = inReview
	case withdrawn, unanswered:
		way = offered
	case uncollected:
		way = shelved
	}
	for _, w := range walk {
		if way >= w.until {
			add(w.part, w.what != "agreed", w.what, w.do(s, t))
		}
	}
	if way >= started {
		add(0.5, true, "printed", s.print(t))
		if t.end == finished {
			out[len(out)-1].at = s.before(t.last + 40*minute)
		}
	}
	switch t.end {
	case declined:
		add(0.3, true, "declined", s.decline(t))
	case withdrawn:
		add(0.3, false, "withdrawn", s.withdraw(t))
	}
	if t.reply != "" {
		add(1, true, "answered", s.answer(t))
	}
	if t.write != "" {
		out = append(out, step{at: s.before(t.last / 3), what: "written about", do: s.write(t)})
	}
	return out
}

// fraction is how far along the way a story's last step is.
func fraction(end stage) float64 {
	switch end {
	case inReview:
		return 0.13
	case offered, unanswered:
		return 0.18
	case declined, withdrawn:
		return 0.3
	case agreed:
		return 0.35
	case started, finished, stuck:
		return 0.5
	case shelved, uncollected:
		return 0.6
	case called:
		return 0.8
	}
	return 1
}

// request is a story's request as it stands.
func (s *life) request(ctx context.Context, t *tale) (desk.Request, error) {
	var r desk.Request
	err := s.desk.Store.Read(ctx, func(tx desk.Tx) (err error) {
		r, err = tx.Request(t.id)
		return err
	})
	return r, err
}

func (s *life) takeIn(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		_, err := d.Take(ctx, s.reviewer(t.place), t.id, 0)
		return err
	}
}

// plan has ways sought for another printer, where the story says so.
func (s *life) plan(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		if t.printer == "" {
			return nil
		}
		r, err := s.request(ctx, t)
		if err != nil {
			return err
		}
		p := r.Plan
		p.Printer, p.OneColour = t.printer, false
		for len(p.Materials) < max(1, len(t.part.Colours)) {
			p.Materials = append(p.Materials, p.Materials[0])
		}
		_, err = d.SetPlan(ctx, s.reviewer(t.place), t.id, 0, p)
		return err
	}
}

func (s *life) judge(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		set, err := d.Settings(ctx)
		if err != nil {
			return err
		}
		for _, q := range set.Rules.Questions {
			if _, err := d.Judge(ctx, s.reviewer(t.place), t.id, 0, q.ID, true, ""); err != nil {
				return err
			}
		}
		return nil
	}
}

func (s *life) decline(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		_, err := d.Judge(ctx, s.reviewer(t.place), t.id, 0, "danger", false, t.why)
		if err != nil {
			return err
		}
		_, err = d.Decline(ctx, s.reviewer(t.place), t.id, 0, desk.DeclineForm{Form: s.form(), Reason: t.why, Remember: t.keep})
		return err
	}
}

func (s *life) withdraw(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		_, err := d.Withdraw(ctx, t.key, s.form(), 0, t.why)
		return err
	}
}

func (s *life) write(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		_, err := d.PatronWrites(ctx, t.key, s.form(), t.write)
		return err
	}
}

func (s *life) answer(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		_, err := d.Reply(ctx, s.reviewer(t.place), t.id, s.form(), "A question before we go on", t.reply)
		return err
	}
}

// offer offers every way that is not too long, the first of them as the best.
func (s *life) offer(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		v, err := d.Look(ctx, s.reviewer(t.place), t.id)
		if err != nil {
			return err
		}
		f := desk.OfferForm{Form: s.form()}
		for _, w := range v.Request.Ways {
			if v.TooLong(w) == "" {
				f.Ways = append(f.Ways, w.ID)
			}
		}
		_, err = d.SendOffer(ctx, s.reviewer(t.place), t.id, 0, f)
		return err
	}
}

func (s *life) agree(t *tale) func(context.Context, *desk.Desk) error {
	return func(ctx context.Context, d *desk.Desk) error {
		r, err := s.request(ctx, t)
		if err != nil {
			return err
		}
		if r.Quote == nil {
			return fmt.Errorf("%s has no offer: it is %s", r.Code, r.State)
		}
		set, err := d.Settings(ctx)
		if err != nil {
			return err
		}
		f := desk.AgreeForm{Form: s.form(), Way: r.Quote.Best, Terms: set.Versions[desk.TermsSetting], Accept: true, Cautions: true, Rights: true,
			Guardian: r.Contact.Guardian}
		if t.way != "" {
			f.Way = t.way
		}
		if t.source == "desk" {
			f.Age = "over"
			_, err = d.AgreeAtDesk(ctx, s.operator(t.place), t.id, f)
			return err
		}
		_, err = d.Agree(ctx, t.key, f)
		return err
	}
}
