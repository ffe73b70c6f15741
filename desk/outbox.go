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
// patron without an address, and one whose letters come back for good get none.
func (d *Desk) post(tx Tx, set Settings, r Request, m Message, pictures []PostPicture) error {
	if !set.Mail.On || r.Contact.Email == "" || r.Contact.Undelivered != "" && !r.Contact.Passing || r.Source == "demo" {
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

// HurryPosted has letters that wait for a later try tried now: the server that
// was not reached is there again.
func (d *Desk) HurryPosted(ctx context.Context) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		all, err := tx.ListPosted([]PostState{PostWaits}, 1000)
		if err != nil {
			return err
		}
		for _, p := range all {
			if p.Tries == 0 || !p.Next.After(d.now()) {
				continue
			}
			p.Next = d.now()
			if err := tx.SavePosted(&p); err != nil {
				return err
			}
		}
		return nil
	})
}

// failed are the states of letters that did not arrive.
var failed = []PostState{PostGivenUp, PostReturned}

// PostAgain puts a letter that was given up or came back into the outbox again,
// and further letters go to its address again too.
func (d *Desk) PostAgain(ctx context.Context, by Actor, id ID) error {
	return d.seeTo(ctx, by, id, func(tx Tx, p *Posted, r Request) error {
		if r.ID != "" {
			if r.Contact.Email == "" {
				return Faultf(NotNow, "This patron has no mail address any more. Reach them another way, or give an address first.")
			}
			p.Body.To = r.Contact.Email // it may have been mended since
		}
		if r.Contact.Undelivered != "" {
			_, err := d.change(tx, r.ID, 0, by, func(r *Request) (Event, error) {
				r.Contact.Undelivered, r.Contact.Passing = "", false
				also, err := d.letGo(tx, *r)
				return Event{What: "write again", Say: "Sent a letter that came back to " + r.Contact.Email + " again." + also}, err
			})
			if err != nil {
				return err
			}
		}
		p.State, p.Next, p.Tries = PostWaits, d.now(), 0
		return nil
	})
}

// PostSettle notes that staff have seen to a letter that did not arrive: it is
// not sent again, and waits on Today no more.
func (d *Desk) PostSettle(ctx context.Context, by Actor, id ID) error {
	return d.seeTo(ctx, by, id, func(tx Tx, p *Posted, r Request) error {
		p.State = PostSettled
		if r.ID == "" {
			return nil
		}
		return d.note(tx, r, by, Event{What: "letter settled", Say: fmt.Sprintf("Saw to the letter %q, which did not arrive.", p.Body.Subject)})
	})
}

// seeTo does something with a letter that did not arrive, as who may. One that
// somebody has seen to already stays as it is.
func (d *Desk) seeTo(ctx context.Context, by Actor, id ID, do func(Tx, *Posted, Request) error) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		p, err := tx.Posted(id)
		if err != nil {
			return err
		}
		var r Request
		if p.Request != "" {
			r, err = d.forReview(tx, by, p.Request)
		} else {
			err = mailHand(by)
		}
		if err != nil || !slices.Contains(failed, p.State) {
			return err
		}
		if err := do(tx, &p, r); err != nil {
			return err
		}
		return tx.SavePosted(&p)
	})
}

// PostedAbout is the code of the request a letter of ours is about.
func (d *Desk) PostedAbout(ctx context.Context, by Actor, id ID) (Code, error) {
	var code Code
	err := d.Store.Read(ctx, func(tx Tx) error {
		p, err := tx.Posted(id)
		if err != nil {
			return err
		}
		r, err := d.forReview(tx, by, p.Request)
		code = r.Code
		return err
	})
	return code, err
}

// didNotArrive lists letters that did not arrive, newest first, which someone
// may see to: those about requests of their branches, and those about none. A
// branch, where one is given, leaves only its own and those about none.
func didNotArrive(tx Tx, by Actor, branch ID, most int) ([]Posted, error) {
	all, err := tx.ListPosted(failed, 500)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	var ids []ID
	for _, p := range all {
		if p.Request != "" && !slices.Contains(ids, p.Request) {
			ids = append(ids, p.Request)
		}
	}
	at := map[ID]ID{}
	if len(ids) > 0 {
		about, err := tx.ListRequests(RequestFilter{IDs: ids, Unforgotten: true, Brief: true})
		if err != nil {
			return nil, err
		}
		for _, r := range about {
			at[r.ID] = r.Branch
		}
	}
	all = slices.DeleteFunc(all, func(p Posted) bool {
		if p.Request == "" {
			return false
		}
		b, ok := at[p.Request]
		return !ok || !by.May(b, Reviewer) || branch != "" && b != branch
	})
	return all[:min(len(all), most)], nil
}

// PlacesLetters says whether someone may place letters that belong to no
// request yet: any reviewer, of whichever branch.
func (a Actor) PlacesLetters() bool {
	return a.Kind == ByStaff && slices.ContainsFunc(a.Grants, func(g Grant) bool { return g.Role == Reviewer || g.Role == Manager })
}

func mailHand(by Actor) error {
	if !by.PlacesLetters() {
		return Faultf(NotYours, "Letters are placed by reviewers and managers. Ask one of them.")
	}
	return nil
}
