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
	posts, sure, err := d.returnedPosts(tx, l)
	if err != nil {
		return err
	}
	for _, p := range posts {
		if err := d.cameBack(tx, l, p, sure); err != nil {
			return err
		}
	}
	return nil
}

// cameBack notes that one letter of ours came back.
func (d *Desk) cameBack(tx Tx, l *Mail, p Posted, sure bool) error {
	back := l.Body.Returned
	says := strings.TrimSpace("It could not be delivered " + back.Status)
	switch { // the words are those for one of the recipients
	case back.Says != "" && (sure || len(back.Named) < 2 || strings.EqualFold(p.Body.To, back.For)):
		says = back.Says
	case !sure && !strings.EqualFold(p.Body.To, back.For):
		says = "It could not be delivered"
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
	if l.Request == "" {
		l.Request = p.Request
	}
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

// returnedPosts finds the letters a report is about: the one whose name it knows,
// which makes it sure; else one to each address it names.
func (d *Desk) returnedPosts(tx Tx, l *Mail) (posts []Posted, sure bool, err error) {
	back := l.Body.Returned
	for _, id := range slices.Concat([]string{back.Of}, l.Body.InReplyTo, l.Body.References) {
		if id == "" {
			continue
		}
		if p, err := tx.PostedByMailID(id); err == nil {
			return []Posted{p}, true, nil
		} else if KindOf(err) != NotFound {
			return nil, false, err
		}
	}
	now := d.now()
	// The one that went out nearest to when it arrived there; else the last.
	near := func(p Posted) time.Duration {
		if back.Arrived.IsZero() {
			return now.Sub(p.Sent)
		}
		return back.Arrived.Sub(p.Sent).Abs()
	}
	for _, address := range back.Named {
		all, err := tx.PostedTo(address, now.Add(-returnedWithin))
		if err != nil {
			return nil, false, err
		}
		all = slices.DeleteFunc(all, func(p Posted) bool { return p.State != PostSent })
		if len(all) == 0 {
			continue
		}
		nearest := slices.MinFunc(all, func(a, b Posted) int { return cmp.Compare(near(a), near(b)) })
		// One recipient may be named twice, as written to and as it was in the end.
		if !slices.ContainsFunc(posts, func(p Posted) bool { return p.ID == nearest.ID || strings.EqualFold(p.Body.To, nearest.Body.To) }) {
			posts = append(posts, nearest)
		}
	}
	return posts, false, nil
}

// WriteAgain has letters go again to an address that letters came back from.
func (d *Desk) WriteAgain(ctx context.Context, by Actor, id ID, version int64) (Request, error) {
	return d.review(ctx, by, id, version, "write again", "", func(tx Tx, r *Request) (Event, error) {
		if r.Contact.Undelivered == "" {
			return Event{}, Faultf(NotNow, "Letters go to this patron already.")
		}
		before := r.Contact.Undelivered
		r.Contact.Undelivered, r.Contact.Passing = "", false
		also, err := d.letGo(tx, *r)
		return Event{Say: "Letters go to " + r.Contact.Email + " again. (It said: " + before + ")" + also}, err
	})
}

// letGo puts the letters that were held back while those to the patron's address
// came back into the outbox, now that it is mended or said to be good: what staff
// wrote, and of what the desk says by itself the last, which says how things
// stand. What came before that is over. It returns a sentence for the history.
func (d *Desk) letGo(tx Tx, r Request) (string, error) {
	set, err := settings(tx)
	if err != nil {
		return "", err
	}
	events, err := tx.Events(r.ID, 0)
	if err != nil {
		return "", err
	}
	first := slices.IndexFunc(events, func(e Event) bool { return e.What == "returned" })
	if first < 0 {
		return "", nil
	}
	said, err := tx.Messages(r.ID)
	if err != nil {
		return "", err
	}
	posted, err := tx.PostedOf(r.ID)
	if err != nil {
		return "", err
	}
	last := ID("")
	for _, m := range said {
		if m.From == ByClock {
			last = m.ID
		}
	}
	n := 0
	for _, m := range said {
		if m.From == ByPatron || m.From == ByClock && m.ID != last || m.At.Before(events[first].At) ||
			slices.ContainsFunc(posted, func(p Posted) bool { return p.Message == m.ID }) {
			continue
		}
		if err := d.post(tx, set, r, m, nil); err != nil {
			return "", err
		}
		n++
	}
	if n == 0 || !set.Mail.On {
		return "", nil
	}
	return " What was held back goes out now: " + count(n, "letter", "letters") + ".", nil
}
