package desk

import (
	"context"
	"crypto/rand"
	"fmt"
	"slices"
	"strings"
	"time"
)

// say puts a message of the library's into the conversation, and, where there
// is mail, a letter into the outbox: both in the transaction of what they are
// about. r is saved already.
func (d *Desk) say(tx Tx, set Settings, r Request, m *Message, pictures ...PostPicture) error {
	if err := tx.SaveMessage(m); err != nil {
		return err
	}
	return d.post(tx, set, r, *m, pictures)
}

// post puts a letter to the patron into the outbox. A desk without mail, a
// patron without an address, and one whose letters come back get none.
func (d *Desk) post(tx Tx, set Settings, r Request, m Message, pictures []PostPicture) error {
	if !set.Mail.On || r.Contact.Email == "" || r.Contact.Undelivered != "" || r.Source == "demo" {
		return nil
	}
	thread, err := tx.Thread(r.ID)
	if err != nil {
		return err
	}
	subject := m.Subject
	if subject == "" {
		subject = set.Library.Name
	}
	if !strings.Contains(subject, string(r.Code)) {
		subject = "[" + string(r.Code) + "] " + subject // so that an answer without In-Reply-To is known too
	}
	p := Posted{ID: NewID(), Request: r.ID, Message: m.ID, MailID: letterID(set, string(r.Code)), State: PostWaits, Made: d.now(), Next: d.now(),
		Body: PostBody{To: r.Contact.Email, Name: r.Contact.Name, Subject: subject, Text: m.Text, Language: r.Contact.Language,
			References: thread, Auto: m.From == ByClock}}
	if n := len(thread); n > 0 {
		p.Body.InReplyTo = thread[n-1]
		p.Body.References = thread[max(0, n-20):]
	}
	for _, q := range pictures {
		if q.Hash != "" && len(p.Body.Pictures) < 4 {
			p.Body.Pictures = append(p.Body.Pictures, q)
		}
	}
	return tx.SavePosted(&p)
}

// letterID makes a Message-ID (RFC 5322 section 3.6.4) that nobody can guess,
// since an answer to it is taken for one of the conversation.
func letterID(set Settings, about string) string {
	_, domain, ok := strings.Cut(set.Mail.From, "@")
	if !ok || domain == "" {
		domain = "localhost"
	}
	return about + "." + strings.ToLower(rand.Text()) + "@" + domain
}

// DuePosted lists letters to be sent now, oldest first.
func (d *Desk) DuePosted(ctx context.Context, most int) ([]Posted, error) {
	var due []Posted
	err := d.Store.Read(ctx, func(tx Tx) (err error) {
		due, err = tx.DuePosted(d.now(), most)
		return err
	})
	return due, err
}

// ToPost reads a letter anew just before it is sent: to the address the
// request has now. One that is to go no more, or whose request is forgotten, is
// NotFound.
func (d *Desk) ToPost(ctx context.Context, id ID) (Posted, error) {
	var p Posted
	err := d.Store.Read(ctx, func(tx Tx) (err error) {
		if p, err = tx.Posted(id); err != nil {
			return err
		}
		if p.State != PostWaits {
			return Faultf(NotFound, "This letter is to go no more.")
		}
		if p.Request == "" {
			return nil
		}
		r, err := tx.Request(p.Request)
		if err == nil && r.Contact.Email != "" {
			p.Body.To, p.Body.Name = r.Contact.Email, r.Contact.Name
		}
		return err
	})
	return p, err
}

// PostSent notes that the server took a letter over.
func (d *Desk) PostSent(ctx context.Context, id ID) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		p, err := tx.Posted(id)
		if err != nil || p.State != PostWaits {
			return err
		}
		p.State, p.Sent, p.Next, p.Trouble = PostSent, d.now(), zeroTime, ""
		p.Tries++
		return tx.SavePosted(&p)
	})
}

// waits are the pauses after failed tries; after the last the letter is given
// up. Together they are about three days, as RFC 5321 section 4.5.4.1 advises
// (it says four to five days for servers; a person is better told earlier).
var waits = []time.Duration{time.Minute, 2 * time.Minute, 5 * time.Minute, 15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour,
	4 * time.Hour, 8 * time.Hour, 12 * time.Hour, 20 * time.Hour, 24 * time.Hour}

// PostFailed notes that a letter was not taken, and why in words for staff.
// Final says that trying again will not help.
func (d *Desk) PostFailed(ctx context.Context, id ID, why string, final bool) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		p, err := tx.Posted(id)
		if err != nil || p.State != PostWaits {
			return err
		}
		p.Trouble = CleanLine(why, 300)
		p.Tries++
		if !final && p.Tries <= len(waits) {
			p.Next = d.now().Add(waits[p.Tries-1])
			return tx.SavePosted(&p)
		}
		p.State, p.Next = PostGivenUp, zeroTime
		if err := tx.SavePosted(&p); err != nil || p.Request == "" {
			return err
		}
		_, err = d.change(tx, p.Request, 0, Clockwork(), func(*Request) (Event, error) {
			return Event{What: "not sent", Say: fmt.Sprintf("The letter %q could not be sent and was given up: %s", p.Body.Subject, p.Trouble)}, nil
		})
		return err
	})
}

// PostAgain puts a letter that was given up back into the outbox.
func (d *Desk) PostAgain(ctx context.Context, by Actor, id ID) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		p, err := tx.Posted(id)
		if err != nil {
			return err
		}
		if p.Request != "" {
			r, err := d.forReview(tx, by, p.Request)
			if err != nil {
				return err
			}
			p.Body.To = r.Contact.Email // it may have been mended since
		} else if err := mailHand(by); err != nil {
			return err
		}
		if p.State != PostGivenUp && p.State != PostReturned {
			return nil
		}
		p.State, p.Next, p.Tries = PostWaits, d.now(), 0
		return tx.SavePosted(&p)
	})
}

// mailHand says whether someone may place letters that belong to no request
// yet: any reviewer, of whichever branch.
func mailHand(by Actor) error {
	ok := by.Kind == ByStaff && slices.ContainsFunc(by.Grants, func(g Grant) bool { return g.Role == Reviewer || g.Role == Manager })
	if !ok {
		return Faultf(NotYours, "Letters are placed by reviewers and managers. Ask one of them.")
	}
	return nil
}
