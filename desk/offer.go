package desk

import (
	"context"
	"fmt"
	"slices"
	"time"
)

// OfferForm is what staff send a patron to choose from.
type OfferForm struct {
	Form string
	Ways []string // ids
	Best string   // the one staff would take; empty is the first
	// Subject and Text of the message; an empty text is drafted from the
	// library's for the ways chosen.
	Subject, Text string
}

// DeclineForm says no.
type DeclineForm struct {
	Form          string
	Reason        string // as the patron is told
	Subject, Text string // as in OfferForm
	Remember      bool   // keep the shapes, to be shown when one like them comes again
}

// Most of what staff type, in characters.
const mostReason = 2000

// answer changes a request as a reviewer does with a message that goes with it.
// The same form again changes nothing. Strict minds what background work did
// since the version that was seen.
func (d *Desk) answer(ctx context.Context, by Actor, id ID, version int64, strict bool, form string, do func(Tx, *Request, Settings) (Event, Message, error)) (Request, error) {
	var out Request
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.forReview(tx, by, id)
		if err != nil {
			return err
		}
		if form == "" {
			return Faultf(Wrong, "This form has come apart on its way. Open the page again and send it once more.")
		}
		if _, err := tx.MessageByForm(id, form); err == nil {
			out = r
			return nil
		} else if KindOf(err) != NotFound {
			return err
		}
		s, err := settings(tx)
		if err != nil {
			return err
		}
		version := version // the store may run this again
		if version != 0 && r.Version > version && !strict {
			since, err := tx.Events(id, version)
			if err != nil {
				return err
			}
			if byClock(since) {
				version = 0
			}
		}
		var m Message
		out, err = d.change(tx, id, version, by, func(r *Request) (Event, error) {
			e, drafted, err := do(tx, r, s)
			m = drafted
			return e, err
		})
		if err != nil {
			return err
		}
		m.ID, m.Request, m.Form, m.From, m.Who, m.At = NewID(), id, form, ByStaff, by.Name, d.now()
		var pictures []PostPicture
		if out.State == WithPatron && out.Basis.Picture != "" {
			pictures = append(pictures, PostPicture{Hash: out.Basis.Picture, Name: "ways.png", Says: sayWaysSeen.in(out.Contact.Language)})
		}
		if err := d.say(tx, s, out, &m, pictures...); err != nil {
			return err
		}
		return d.markSeen(tx, id)
	})
	return out, err
}

// written is the message staff wrote, or the library's own where they left it.
func (d *Desk) written(tx Tx, s Settings, r Request, kind TextKind, subject, text string, x Extra) (Message, error) {
	var err error
	if x.Branch, err = tx.Branch(r.Branch); err != nil && KindOf(err) != NotFound {
		return Message{}, err
	}
	if x.Files, err = tx.FilesOf(r.ID); err != nil {
		return Message{}, err
	}
	lines, err := tx.Charges(r.ID)
	if err != nil {
		return Message{}, err
	}
	if x.Owed, err = balance(lines); err != nil {
		return Message{}, err
	}
	draftSubject, draftText, err := drafted(s, r, d.Key(r), kind, x)
	if err != nil {
		return Message{}, err
	}
	m := Message{Subject: CleanLine(subject, maxSubject), Text: plain(text)}
	if m.Subject == "" {
		m.Subject = draftSubject
	}
	if m.Text == "" {
		m.Text = draftText
	}
	return m, nil
}

// markSeen notes that what the patron wrote has been answered.
func (d *Desk) markSeen(tx Tx, id ID) error {
	all, err := tx.Messages(id)
	if err != nil {
		return err
	}
	for _, m := range all {
		if m.From == ByPatron && m.Seen.IsZero() {
			m.Seen = d.now()
			if err := tx.SaveMessage(&m); err != nil {
				return err
			}
		}
	}
	return nil
}

// SendOffer offers ways to the patron. It is refused while a question of the
// checklist is open or not fine, while ways are being found, when they were
// priced by another tariff, and for a way longer than the longest print.
func (d *Desk) SendOffer(ctx context.Context, by Actor, id ID, version int64, f OfferForm) (Request, error) {
	return d.answer(ctx, by, id, version, true, f.Form, func(tx Tx, r *Request, s Settings) (Event, Message, error) {
		var none Message
		if err := mustBe(*r, "send an offer", InReview); err != nil {
			return Event{}, none, err
		}
		if why := missing(*r, s); len(why) > 0 {
			return Event{}, none, Faultf(NotNow, "The offer was not sent. %s", why[0])
		}
		q, err := d.quote(*r, s, f, by)
		if err != nil {
			return Event{}, none, err
		}
		r.Quote, r.Agreement, r.State = q, nil, WithPatron
		r.Due, r.Reminded = q.Until, time.Time{}
		m, err := d.written(tx, s, *r, TextOffer, f.Subject, f.Text, Extra{})
		say := fmt.Sprintf("Sent an offer of %s, until %s.", count(len(q.Ways), "way", "ways"), DayInWords(q.Until.In(s.Library.Zone()), "en"))
		return Event{What: "offered", Say: say, Before: string(InReview), After: asJSON(offerInShort(q))}, m, err
	})
}

// quote makes a quote of the ways chosen. It stands to the end of a day on the
// library's clock.
func (d *Desk) quote(r Request, s Settings, f OfferForm, by Actor) (*Quote, error) {
	wrong := func(say string) error {
		return &Fault{Kind: Wrong, Say: say, Fields: map[string]string{"ways": say}}
	}
	if len(f.Ways) == 0 {
		return nil, wrong("Choose at least one way to offer.")
	}
	q := &Quote{Best: f.Best, Sent: d.now(), By: by.Name, Program: d.Program,
		Tariff: s.Versions[TariffSetting], Rules: s.Versions[RulesSetting]}
	for _, w := range r.Ways { // in the order they were found
		if !slices.Contains(f.Ways, w.ID) {
			continue
		}
		if why := tooLong(w, s); why != "" {
			return nil, wrong("The way “" + WayName(w.ID, "en") + "” cannot be offered. " + why)
		}
		q.Ways = append(q.Ways, w)
	}
	for _, id := range f.Ways {
		if !slices.ContainsFunc(r.Ways, func(w Way) bool { return w.ID == id }) {
			return nil, wrong("One of the ways chosen is not among those found. Reload the page and choose again.")
		}
	}
	if q.Best == "" {
		q.Best = q.Ways[0].ID
	}
	if !slices.ContainsFunc(q.Ways, func(w Way) bool { return w.ID == q.Best }) {
		return nil, wrong("The way you would take must be one of those offered.")
	}
	q.Until = endOfDay(q.Sent, s.Rules.QuoteDays, s.Library.Zone())
	return q, nil
}

// offerInShort is what the history keeps of an offer.
func offerInShort(q *Quote) any {
	type way struct{ Way, Total, Currency string }
	var ways []way
	for _, w := range q.Ways {
		ways = append(ways, way{w.ID, w.Price.Total.Number(), w.Price.Currency})
	}
	return struct {
		Ways  []way     `json:"ways"`
		Best  string    `json:"best"`
		Until time.Time `json:"until"`
	}{ways, q.Best, q.Until}
}

// TakeBack opens a request again that was offered or agreed: what was offered
// does not stand any more. The patron is told why. A request that is being
// printed can be taken back when nothing of it is on a printer.
func (d *Desk) TakeBack(ctx context.Context, by Actor, id ID, version int64, form, why string) (Request, error) {
	why = CleanText(why, mostReason)
	return d.answer(ctx, by, id, version, false, form, func(tx Tx, r *Request, s Settings) (Event, Message, error) {
		var none Message
		if err := mustBe(*r, "take the offer back", WithPatron, Agreed, Printing); err != nil {
			return Event{}, none, err
		}
		if why == "" {
			return Event{}, none, &Fault{Kind: Wrong, Say: "Say why: the patron is told.", Fields: map[string]string{"why": "Say why: the patron is told."}}
		}
		if err := nothingGoing(tx, *r); err != nil {
			return Event{}, none, err
		}
		before := asJSON(struct {
			State     State      `json:"state"`
			Quote     *Quote     `json:"quote"`
			Agreement *Agreement `json:"agreement,omitempty"`
		}{r.State, r.Quote, r.Agreement})
		subject := string(r.Code) + ": we look at your request once more"
		if baseLanguage(r.Contact.Language) == "fr" {
			subject = string(r.Code) + " : nous revoyons votre demande"
		}
		r.State, r.Quote, r.Agreement = InReview, nil, nil
		r.Due, r.Reminded = time.Time{}, time.Time{}
		return Event{What: "taken back", Say: "Took the offer back: " + why, Before: before, After: string(InReview)},
			Message{Subject: subject, Text: why}, nil
	})
}

// nothingGoing refuses while a run of the request is on a printer, or is not
// weighed yet.
func nothingGoing(tx Tx, r Request) error {
	runs, err := tx.RunsOf(r.ID)
	if err != nil {
		return err
	}
	for _, run := range runs {
		if run.State == Going {
			return Faultf(NotNow, "A run of %s is on a printer just now. Let it finish, or note that it failed, and then come back.", r.Code)
		}
		if run.State == Finished {
			return Faultf(NotNow, "A run of %s has come out and is not weighed yet. Weigh it first, so that nothing it took is lost, and then come back.", r.Code)
		}
	}
	return nil
}

// Decline ends a request with a reason the patron is told.
func (d *Desk) Decline(ctx context.Context, by Actor, id ID, version int64, f DeclineForm) (Request, error) {
	reason := CleanText(f.Reason, mostReason)
	return d.answer(ctx, by, id, version, false, f.Form, func(tx Tx, r *Request, s Settings) (Event, Message, error) {
		var none Message
		if err := mustBe(*r, "decline it", Received, InReview, WithPatron, Agreed, Printing); err != nil {
			return Event{}, none, err
		}
		if reason == "" {
			return Event{}, none, &Fault{Kind: Wrong, Say: "Write the reason: the patron is told, and may ask for another look.",
				Fields: map[string]string{"reason": "Write the reason: the patron is told."}}
		}
		if err := nothingGoing(tx, *r); err != nil {
			return Event{}, none, err
		}
		before := string(r.State)
		if f.Remember {
			if err := d.remember(tx, *r, reason); err != nil {
				return Event{}, none, err
			}
		}
		if err := d.close(tx, r, Declined, reason); err != nil {
			return Event{}, none, err
		}
		m, err := d.written(tx, s, *r, TextDeclined, f.Subject, f.Text, Extra{Reason: reason})
		say := "Declined: " + reason
		if f.Remember {
			say += " (The shape is remembered.)"
		}
		return Event{What: "declined", Say: say, Before: before, After: string(Declined)}, m, err
	})
}

// remember keeps the shapes of a request's models. No part can be made from
// them, and nothing of the patron is kept with them.
func (d *Desk) remember(tx Tx, r Request, reason string) error {
	files, err := tx.FilesOf(r.ID)
	if err != nil {
		return err
	}
	seen := map[string]bool{}
	for _, f := range files {
		if f.Result == nil || f.Result.Shape == "" || seen[f.Result.Shape] {
			continue
		}
		seen[f.Result.Shape] = true
		if err := tx.AddShape(&Shape{ID: NewID(), Shape: f.Result.Shape, Code: r.Code, Reason: reason, At: d.now()}); err != nil {
			return err
		}
	}
	return nil
}
