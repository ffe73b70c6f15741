package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
)

func asFault(err error, f **Fault) bool { return errors.As(err, f) }

// MailView is one letter, and what it may belong to.
type MailView struct {
	Mail     Mail
	Guess    *Request // that it may belong to, if staff may see it
	Subject  string   // of an answer, drafted
	Answer   string
	Settings Settings
	Branches []Branch
}

// LookMail gathers what a person needs to place a letter.
func (d *Desk) LookMail(ctx context.Context, by Actor, id ID) (MailView, error) {
	var v MailView
	if err := mailHand(by); err != nil {
		return v, err
	}
	err := d.Store.Read(ctx, func(tx Tx) error {
		v = MailView{}
		var err error
		if v.Mail, err = tx.Mail(id); err != nil {
			return err
		}
		if v.Settings, err = settings(tx); err != nil {
			return err
		}
		all, err := tx.Branches()
		if err != nil {
			return err
		}
		for _, b := range all {
			if !b.Shut {
				v.Branches = append(v.Branches, b)
			}
		}
		if about := cmp.Or(v.Mail.Request, v.Mail.Body.Guess); about != "" {
			r, err := tx.Request(about)
			if err != nil && KindOf(err) != NotFound {
				return err
			}
			if err == nil && r.Forgotten.IsZero() && by.May(r.Branch, Reviewer) {
				v.Guess = &r
			}
		}
		v.Subject = "Re: " + v.Mail.Body.Subject
		v.Answer, err = fileWanted(v.Settings, v.Mail)
		return err
	})
	return v, err
}

// fileWanted drafts an answer to a letter that brings no model.
func fileWanted(s Settings, l Mail) (string, error) {
	r := Request{Contact: Contact{Name: l.Body.Name, Language: l.Body.Language}, Wish: Wish{Copies: 1}}
	if !speaks(s, r.Contact.Language) && len(s.Library.Languages) > 0 {
		r.Contact.Language = s.Library.Languages[0]
	}
	question := map[string]string{
		"en": "please send the model itself as an enclosure, as one of these kinds of file: %s. We cannot open links from here.",
		"fr": "merci de nous envoyer le modèle lui-même en pièce jointe, sous l'une de ces formes : %s. Nous ne pouvons pas ouvrir de liens d'ici.",
	}
	ask, ok := question[baseLanguage(r.Contact.Language)]
	if !ok {
		ask = question["en"]
	}
	greeting := map[string]string{"fr": "Bonjour"}[baseLanguage(r.Contact.Language)]
	if greeting == "" {
		greeting = "Hello"
	}
	name := oneLine(l.Body.Name)
	if name != "" {
		greeting += " " + name
	}
	return fmt.Sprintf("%s,\n\n%s\n\n%s", greeting, fmt.Sprintf(ask, Endings(s.Rules.Formats, r.Contact.Language)), s.Library.Name), nil
}

// PlaceMail puts a waiting letter to the request of a code.
func (d *Desk) PlaceMail(ctx context.Context, by Actor, id ID, code string) (Request, error) {
	c, ok := ParseCode(code)
	if !ok {
		return Request{}, &Fault{Kind: Wrong, Say: "Give the code of the request, such as K7-204.", Fields: map[string]string{"code": "Give the code of the request, such as K7-204."}}
	}
	var r Request
	return r, d.place(ctx, by, id, func(tx Tx, set Settings, l *Mail) error {
		var err error
		if r, err = tx.RequestByCode(c); err != nil {
			return err
		}
		if err := by.Require(r.Branch, Reviewer); err != nil {
			return err
		}
		return d.join(tx, set, r, l, l.Body.uploads())
	})
}

// NewFromMail makes a request of a waiting letter, whatever kept it from
// becoming one by itself, so long as it brings a model.
func (d *Desk) NewFromMail(ctx context.Context, by Actor, id ID, branch ID) (Request, error) {
	var r Request
	if err := by.Require(branch, Reviewer); err != nil {
		return r, err
	}
	return r, d.place(ctx, by, id, func(tx Tx, set Settings, l *Mail) error {
		files := l.Body.uploads()
		if d.models(set, files) == 0 {
			return Faultf(NotNow, "This letter brings no model, so there is nothing to print. Answer it, or put it aside.")
		}
		s, err := d.submissionOf(tx, set, l, files)
		if err != nil {
			return err
		}
		s.Branch, s.Form = branch, "placed-"+string(l.ID)
		if s.ID = NewID(); l.Body.Forwarded != "" {
			s.Contact.Email, s.Contact.Name = l.Body.Forwarded, l.Body.ForName
			s = s.cleaned()
		}
		l.State, l.Request = MailPlaced, s.ID
		if err := tx.SaveMail(l); err != nil {
			return err
		}
		r, err = d.keep(tx, set, s, by)
		return err
	})
}

// AsideMail notes that a waiting letter needs nothing.
func (d *Desk) AsideMail(ctx context.Context, by Actor, id ID, why string) error {
	return d.place(ctx, by, id, func(tx Tx, set Settings, l *Mail) error {
		l.State, l.Body.Why, l.Request = MailAside, CleanLine(why, 200), ""
		return nil
	})
}

// AnswerMail answers a waiting letter that belongs to no request, and puts it
// aside: what comes back is a letter of its own.
func (d *Desk) AnswerMail(ctx context.Context, by Actor, id ID, subject, text string) error {
	subject, text = CleanLine(subject, maxSubject), plain(text)
	if text == "" {
		return &Fault{Kind: Wrong, Say: "Write something first: nothing was sent.", Fields: map[string]string{"text": "Write something first."}}
	}
	return d.place(ctx, by, id, func(tx Tx, set Settings, l *Mail) error {
		if !set.Mail.On {
			return Faultf(NotNow, "Mail is switched off in the settings, so nothing can be sent.")
		}
		p := Posted{ID: NewID(), MailID: letterID(set, "letter"), State: PostWaits, Made: d.now(), Next: d.now(),
			Body: PostBody{To: l.Body.Answer, Name: l.Body.Name, Subject: subject, Text: text, Language: l.Body.Language, InReplyTo: l.MailID}}
		if l.MailID != "" {
			p.Body.References = append(append([]string{}, l.Body.References...), l.MailID)
		}
		if subject == "" {
			p.Body.Subject = "Re: " + l.Body.Subject
		}
		l.State, l.Body.Why, l.Request = MailAside, "Answered.", ""
		return tx.SavePosted(&p)
	})
}

// place does something with a letter that waits, once.
func (d *Desk) place(ctx context.Context, by Actor, id ID, do func(Tx, Settings, *Mail) error) error {
	if err := mailHand(by); err != nil {
		return err
	}
	return d.Store.Write(ctx, func(tx Tx) error {
		l, err := tx.Mail(id)
		if err != nil {
			return err
		}
		if l.State != MailWaits {
			who := ""
			if l.By != "" {
				who = " by " + l.By
			}
			return Faultf(Stale, "This letter was %s already%s. Nothing was done a second time.", strings.ToLower(string(l.State)), who)
		}
		set, err := settings(tx)
		if err != nil {
			return err
		}
		l.By = by.Name
		if err := do(tx, set, &l); err != nil {
			return err
		}
		return d.keepMail(tx, &l)
	})
}

// MailWaiting lists letters that wait for a person, oldest first, and letters
// of ours that were given up or came back.
func (d *Desk) MailWaiting(ctx context.Context, by Actor) (letters []Mail, failed []Posted, err error) {
	if mailHand(by) != nil {
		return nil, nil, nil
	}
	err = d.Store.Read(ctx, func(tx Tx) (err error) {
		if letters, err = tx.ListMail([]MailState{MailWaits}, 100); err != nil {
			return err
		}
		failed, err = tx.ListPosted([]PostState{PostGivenUp}, 50)
		return err
	})
	return letters, failed, err
}
