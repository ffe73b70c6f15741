package desk

import (
	"context"
	"slices"
	"strings"
	"time"
)

// Reply writes to the patron. What they wrote before counts as answered. The
// same form again writes nothing.
func (d *Desk) Reply(ctx context.Context, by Actor, id ID, form, subject, text string) (Message, error) {
	subject, text = CleanLine(subject, maxSubject), plain(text)
	var m Message
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.forReview(tx, by, id)
		if err != nil {
			return err
		}
		if form == "" {
			return Faultf(Wrong, "This form has come apart on its way. Open the page again and send it once more.")
		}
		if m, err = tx.MessageByForm(id, form); KindOf(err) != NotFound {
			return err
		}
		if text == "" {
			return &Fault{Kind: Wrong, Say: "Write something first: nothing was sent.", Fields: map[string]string{"text": "Write something first."}}
		}
		if subject == "" {
			subject = string(r.Code)
		}
		m = Message{ID: NewID(), Request: id, Form: form, From: ByStaff, Who: by.Name, Subject: subject, Text: text, At: d.now()}
		set, err := settings(tx)
		if err != nil {
			return err
		}
		if err := d.say(tx, set, r, &m); err != nil {
			return err
		}
		if err := d.markSeen(tx, id); err != nil {
			return err
		}
		return d.note(tx, r, by, Event{What: "wrote", Say: "Wrote to the patron: " + subject})
	})
	return m, err
}

// SetAside notes that what the patron wrote last needs no answer.
func (d *Desk) SetAside(ctx context.Context, by Actor, id ID) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.forReview(tx, by, id)
		if err != nil {
			return err
		}
		all, err := tx.Messages(id)
		if err != nil {
			return err
		}
		if len(unanswered(all)) == 0 {
			return nil // a colleague was faster, or it was sent twice
		}
		if err := d.markSeen(tx, id); err != nil {
			return err
		}
		return d.note(tx, r, by, Event{What: "set aside", Say: "Noted that the patron's message needs no answer."})
	})
}

// unanswered are the patron's messages that staff have not answered or set aside.
func unanswered(all []Message) []Message {
	var open []Message
	for _, m := range all {
		if m.From == ByPatron && m.Seen.IsZero() {
			open = append(open, m)
		}
	}
	return open
}

// Unanswered says since when the view's patron waits for an answer, zero if
// they do not.
func (v *RequestView) Unanswered() time.Time {
	if open := unanswered(v.Messages); len(open) > 0 {
		return open[0].At
	}
	return time.Time{}
}

// EditContact mends how the patron is reached. What it was before stays in the
// history until the request is forgotten.
func (d *Desk) EditContact(ctx context.Context, by Actor, id ID, version int64, c Contact) (Request, error) {
	c.Name, c.Surname = CleanLine(c.Name, mostName), CleanLine(c.Surname, mostName)
	c.Email = strings.TrimSpace(c.Email)
	c.Phone, c.Card = CleanLine(c.Phone, mostShort), CleanLine(c.Card, mostShort)
	c.Guardian = CleanLine(c.Guardian, mostName)
	if !c.UnderAge {
		c.Guardian = ""
	}
	return d.review(ctx, by, id, version, "contact", asJSON(c), func(tx Tx, r *Request) (Event, error) {
		s, err := settings(tx)
		if err != nil {
			return Event{}, err
		}
		wrong := map[string]string{}
		if c.Name == "" {
			wrong["name"] = "Give a name: the print is handed over to it."
		}
		if c.Surname == "" {
			c.Surname = surname(c.Name)
		}
		if c.Email != "" && !mailAddress(c.Email) {
			wrong["email"] = "This is no complete e-mail address. It should look like name@example.org."
		}
		if c.Email == "" && c.Phone == "" && r.Source != "desk" {
			wrong["email"] = "Keep a mail address or a telephone number: else nobody can reach the patron."
		}
		if c.UnderAge && c.Guardian == "" && r.Agreement != nil {
			wrong["guardian"] = "A guardian agreed for this patron, or must: give their name."
		}
		if !speaks(s, c.Language) && c.Language != r.Contact.Language {
			wrong["language"] = "Choose a language from the list."
		}
		if len(wrong) > 0 {
			return Event{}, &Fault{Kind: Wrong, Say: "Something needs mending before this can be saved. Nothing was changed.", Fields: wrong}
		}
		before, held := asJSON(r.Contact), r.Contact.Undelivered != ""
		if c.Email != r.Contact.Email {
			r.Patron = d.patron(c.Email)
			c.Undelivered, c.Passing = "", false
		} else {
			c.Undelivered, c.Passing = r.Contact.Undelivered, r.Contact.Passing
		}
		r.Contact = c
		also := ""
		if held && c.Undelivered == "" {
			if also, err = d.letGo(tx, *r); err != nil {
				return Event{}, err
			}
		}
		return Event{Say: "Changed how the patron is reached." + also, Before: before}, nil
	})
}

// speaks says whether patrons may choose a language.
func speaks(s Settings, language string) bool {
	return slices.Contains(s.Library.Languages, language)
}

// MoveBranch hands a request to another branch, where the patron then collects.
func (d *Desk) MoveBranch(ctx context.Context, by Actor, id ID, version int64, branch ID) (Request, error) {
	return d.review(ctx, by, id, version, "moved", string(branch), func(tx Tx, r *Request) (Event, error) {
		if err := mustBe(*r, "move it to another branch", Received, InReview, WithPatron, Agreed, Printing); err != nil {
			return Event{}, err
		}
		to, err := tx.Branch(branch)
		if KindOf(err) == NotFound || err == nil && to.Shut {
			return Event{}, &Fault{Kind: Wrong, Say: "Choose a branch that takes requests.", Fields: map[string]string{"branch": "Choose a branch from the list."}, Err: err}
		}
		if err != nil {
			return Event{}, err
		}
		if r.Branch == branch {
			return Event{}, Faultf(Wrong, "It is at %s already.", to.Name)
		}
		from, err := tx.Branch(r.Branch)
		if err != nil {
			return Event{}, err
		}
		before := string(r.Branch)
		r.Branch = branch
		return Event{Say: "Moved it from " + from.Name + " to " + to.Name + ".", Before: before}, nil
	})
}
