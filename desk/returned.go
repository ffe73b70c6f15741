package desk

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"
)

// returnedWithin is how long after a letter went out a report on it is
// believed: servers try for four to five days (RFC 5321 section 4.5.4.1), and
// then the report has to arrive.
const returnedWithin = 10 * 24 * time.Hour

// returned notes that a letter of ours could not be delivered.
//
// Anybody can send a report. One that names our letter by its Message-ID comes
// from where the letter came by, since nobody can guess that name. One that
// names only an address may be anybody's who knows that the patron writes to
// us; it is believed where we wrote to that address within days, and as far as
// to be shown: letters still go there, so a forged one keeps nothing from the
// patron. Neither discloses anything, and no report ends a request.
func (d *Desk) returned(tx Tx, l *Mail) error {
	back := l.Body.Returned
	if !back.Final {
		return nil // it may still arrive
	}
	p, sure, err := d.returnedPost(tx, l)
	if KindOf(err) == NotFound {
		return nil
	} else if err != nil {
		return err
	}
	says := back.Says
	if says == "" {
		says = strings.TrimSpace("It could not be delivered " + back.Status)
	}
	says = strings.TrimRight(CleanLine(says, 200), ".") + "."
	p.State, p.Next, p.Trouble = PostReturned, zeroTime, "It came back: "+says
	if err := tx.SavePosted(&p); err != nil {
		return err
	}
	if p.Request == "" {
		return nil
	}
	r, err := tx.Request(p.Request)
	if err != nil || !r.Forgotten.IsZero() {
		return err
	}
	l.Request = p.Request
	_, err = d.change(tx, p.Request, 0, Clockwork(), func(r *Request) (Event, error) {
		say := "A letter to " + p.Body.To + " came back. Reach the patron another way, or mend the address."
		if strings.EqualFold(r.Contact.Email, p.Body.To) {
			// What is known for sure is not taken back by what is not.
			passing := back.Passing() || !sure
			r.Contact.Passing = passing && (r.Contact.Undelivered == "" || r.Contact.Passing)
			r.Contact.Undelivered = says
			if r.Contact.Passing {
				say = "A letter to " + p.Body.To + " came back. That may pass: further letters still go there."
			} else {
				say += " No more letters go there until then."
			}
		}
		return Event{What: "returned", Say: say}, nil
	})
	return err
}

// returnedPost finds the letter a report is about. Sure says that the report
// knows its name.
func (d *Desk) returnedPost(tx Tx, l *Mail) (p Posted, sure bool, err error) {
	back := l.Body.Returned
	for _, id := range slices.Concat([]string{back.Of}, l.Body.InReplyTo, l.Body.References) {
		if id == "" {
			continue
		}
		if p, err = tx.PostedByMailID(id); KindOf(err) != NotFound {
			return p, true, err
		}
	}
	now := d.now()
	var found []Posted
	for _, address := range back.Named {
		all, err := tx.PostedTo(address, now.Add(-returnedWithin))
		if err != nil {
			return p, false, err
		}
		for _, p := range all {
			if p.State == PostSent {
				found = append(found, p)
			}
		}
	}
	if len(found) == 0 {
		return p, false, Faultf(NotFound, "We wrote no such letter.")
	}
	// The one that went out nearest to when it arrived there; else the last.
	near := func(p Posted) time.Duration {
		if back.Arrived.IsZero() {
			return now.Sub(p.Sent)
		}
		return back.Arrived.Sub(p.Sent).Abs()
	}
	return slices.MinFunc(found, func(a, b Posted) int { return cmp.Compare(near(a), near(b)) }), false, nil
}

// WriteAgain has letters go again to an address that letters came back from.
func (d *Desk) WriteAgain(ctx context.Context, by Actor, id ID, version int64) (Request, error) {
	return d.review(ctx, by, id, version, "write again", "", func(tx Tx, r *Request) (Event, error) {
		if r.Contact.Undelivered == "" {
			return Event{}, Faultf(NotNow, "Letters go to this patron already.")
		}
		before := r.Contact.Undelivered
		r.Contact.Undelivered, r.Contact.Passing = "", false
		return Event{Say: "Letters go to " + r.Contact.Email + " again. (It said: " + before + ")"}, nil
	})
}
