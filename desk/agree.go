package desk

import (
	"context"
	"fmt"
	"slices"
	"time"
)

// AgreeForm is what a patron, or the guardian who stands for them, accepts.
type AgreeForm struct {
	Form     string
	Version  int64  // of the request as it was shown
	Way      string // id of the way chosen
	Terms    int    // version of the agreement text as it was shown
	Accept   bool   // the terms
	Cautions bool   // what the print is not for was read
	Rights   bool   // declares the right to have it made, where that was not done when asking
	// Age says whether the patron is under the library's age: "under" or
	// "over"; it is asked where nobody said so before. Empty says nothing.
	Age      string
	Guardian string
}

// Agree accepts a way of the offer. Its price is not booked yet: that is done
// when the print is weighed. The same form again changes nothing.
//
// A Wrong Fault has Fields "way", "accept", "cautions", "rights", "age" and
// "guardian".
func (d *Desk) Agree(ctx context.Context, key string, f AgreeForm) (Request, error) {
	var got Request
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.byKey(tx, key, "")
		if err != nil {
			return err
		}
		got, err = d.agree(tx, r, f, APatron(), "patron")
		return err
	})
	return got, err
}

// AgreeAtDesk notes that the patron, or the guardian, agreed at the desk.
func (d *Desk) AgreeAtDesk(ctx context.Context, by Actor, id ID, f AgreeForm) (Request, error) {
	var got Request
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := tx.Request(id)
		if err != nil {
			return err
		}
		if err := by.Require(r.Branch, Reviewer, Operator); err != nil {
			return err
		}
		got, err = d.agree(tx, r, f, by, by.Name)
		return err
	})
	return got, err
}

func (d *Desk) agree(tx Tx, r Request, f AgreeForm, by Actor, name string) (Request, error) {
	lang := r.Contact.Language
	if by.Kind == ByStaff {
		lang = "en" // as all pages for staff
	}
	if f.Form == "" {
		return r, sayNoForm.fault(Wrong, lang)
	}
	if r.Agreement != nil && r.State != WithPatron {
		if r.Agreement.Form == f.Form {
			return r, nil
		}
		return r, sayAgreed.fault(NotNow, lang)
	}
	if r.State != WithPatron || r.Quote == nil {
		return r, sayNotOffered.fault(NotNow, lang)
	}
	set, err := settings(tx)
	if err != nil {
		return r, err
	}
	if until := r.Quote.Until; !d.now().Before(until) {
		return r, sayOfferOver.fault(NotNow, lang, DayInWords(until.In(set.Library.Zone()), lang))
	}
	if f.Version != 0 && f.Version != r.Version {
		return r, unseen(tx, r, f.Version, lang)
	}
	way, err := f.refuse(set, &r, lang)
	if err != nil {
		return r, err
	}
	at := d.now()
	runs, err := tx.RunsOf(r.ID)
	if err != nil {
		return r, err
	}
	for _, run := range runs { // of an agreement before, which count for this one no more
		at = after(at, run.Started.Add(time.Microsecond))
	}
	contact, wish := r.Contact, r.Wish
	r, err = d.change(tx, r.ID, 0, by, func(r *Request) (Event, error) {
		r.State, r.Due, r.Reminded = Agreed, time.Time{}, time.Time{}
		r.Contact, r.Wish = contact, wish
		// A quote stands until its day: what tariff and rules have become
		// since is for later quotes.
		r.Agreement = &Agreement{Form: f.Form, Way: *way, At: at, By: name, Guardian: guardianOf(*r),
			Terms: f.Terms, Tariff: r.Quote.Tariff, Rules: r.Quote.Rules}
		say := fmt.Sprintf("Agreed to the way “%s”, %s.", way.ID, way.Price.Format(way.Price.Total, set.Library.Locale))
		if by.Kind == ByStaff {
			say = fmt.Sprintf("Noted at the desk that the patron agreed to the way “%s”, %s.", way.ID, way.Price.Format(way.Price.Total, set.Library.Locale))
		}
		return Event{What: "agreed", Say: say}, nil
	})
	if err != nil {
		return r, err
	}
	return r, d.tell(tx, set, r, TextAgreed, Extra{})
}

func guardianOf(r Request) string {
	if !r.Contact.UnderAge {
		return ""
	}
	return r.Contact.Guardian
}

// refuse says what is missing from an agreement, or returns the way chosen. It
// notes in r what the form says of age, guardian and rights.
func (f AgreeForm) refuse(set Settings, r *Request, lang string) (*Way, error) {
	wrong := map[string]string{}
	var way *Way
	for i := range r.Quote.Ways {
		if r.Quote.Ways[i].ID == f.Way {
			way = &r.Quote.Ways[i]
		}
	}
	if way == nil {
		wrong["way"] = sayNoSuchWay.in(lang)
	}
	if age := set.Rules.Age; age > 0 {
		switch {
		case f.Age == "under" || f.Age == "" && r.Contact.UnderAge:
			r.Contact.UnderAge = true
			if name := CleanLine(f.Guardian, mostName); name != "" {
				r.Contact.Guardian = name
			}
			if r.Contact.Guardian == "" {
				wrong["guardian"] = sayGuardian.in(lang, age)
			}
		case f.Age == "over" && !r.Contact.UnderAge:
		case r.Contact.UnderAge: // said so when asking; staff can mend a mistake
			if r.Contact.Guardian == "" {
				wrong["guardian"] = sayGuardian.in(lang, age)
			}
		case r.Source != "page":
			wrong["age"] = sayAge.in(lang, age)
		}
	}
	if !r.Wish.Rights {
		if r.Wish.Rights = f.Rights; !f.Rights {
			wrong["rights"] = sayRights.in(lang)
		}
	}
	if set.TermsIn(lang) != "" {
		if f.Terms != set.Versions[TermsSetting] {
			return nil, &Fault{Kind: Stale, Say: sayTermsNew.in(lang), Fields: map[string]string{"accept": sayTermsNew.in(lang)}}
		}
		if !f.Accept {
			wrong["accept"] = sayTerms.in(lang)
		}
	}
	if len(set.Rules.Cautions) > 0 && !f.Cautions {
		wrong["cautions"] = sayCautions.in(lang)
	}
	if len(wrong) > 0 {
		w := sayMend.fault(Wrong, lang)
		w.Fields = wrong
		return nil, w
	}
	return way, nil
}

// unseen is stale in the patron's language. What staff note among themselves
// is not for the patron: of theirs only a change of state is told, as After.
func unseen(tx Tx, r Request, seen int64, lang string) error {
	since, err := tx.Events(r.ID, seen)
	if err != nil {
		return err
	}
	f := sayChanged.fault(Stale, lang)
	for _, e := range since {
		if e.Kind != ByPatron {
			if e.After == "" || !slices.Contains(States(), State(e.After)) {
				continue
			}
			e = Event{At: e.At, Kind: e.Kind, After: e.After}
		}
		f.Since = append(f.Since, e)
	}
	return f
}

// Withdraw ends a request at its patron's wish, before it is printed. One that
// is withdrawn already stays as it is.
func (d *Desk) Withdraw(ctx context.Context, key, form string, version int64, why string) (Request, error) {
	var got Request
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.byKey(tx, key, "")
		if err != nil {
			return err
		}
		lang := r.Contact.Language
		switch {
		case form == "":
			return sayNoForm.fault(Wrong, lang)
		case r.State == Withdrawn:
			got = r
			return nil
		case r.State.Over():
			return sayOver.fault(NotNow, lang)
		case !r.State.MayFollow(Withdrawn):
			return sayTooLate.fault(NotNow, lang)
		case version != 0 && version != r.Version:
			return unseen(tx, r, version, lang)
		}
		got, err = d.withdraw(tx, r, CleanText(why, 500))
		return err
	})
	return got, err
}

func (d *Desk) withdraw(tx Tx, r Request, why string) (Request, error) {
	return d.change(tx, r.ID, 0, APatron(), func(r *Request) (Event, error) {
		say := "Withdrew the request."
		if why != "" {
			say = "Withdrew the request: " + why
		}
		return Event{What: "withdrawn", Say: say}, d.close(tx, r, Withdrawn, why)
	})
}
