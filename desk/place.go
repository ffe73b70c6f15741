package desk

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strings"

	"platebook/engine/say"
)

func asFault(err error, f **Fault) bool { return errors.As(err, f) }

// MailView is one letter, and what it may belong to.
type MailView struct {
	Mail     Mail
	Guess    *Request // that it may belong to, if staff may see it
	Name     string   // the patron's, as far as the letter tells
	Email    string
	Answers  bool   // its address takes answers
	Subject  string // of an answer, drafted
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
			switch {
			case err != nil:
			case by.May(r.Branch, Reviewer):
				if r.Forgotten.IsZero() {
					v.Guess = &r
				}
			case v.Mail.Request != "":
				return Faultf(NotYours, "This letter is with a request of another branch. Ask someone there.")
			}
		}
		v.Answers = takesAnswers(v.Settings, v.Mail.Body.Answer)
		v.Email = patronOf(v.Settings, v.Mail.Body)
		if b := v.Mail.Body; b.Forwarded != "" && v.Email == b.Forwarded {
			v.Name = b.ForName
		} else if b.Machine == "" {
			v.Name = b.Name
		}
		v.Subject = "Re: " + v.Mail.Body.Subject
		v.Answer, err = d.draftAnswer(tx, v.Settings, v.Mail)
		return err
	})
	return v, err
}

// takesAnswers says whether an answer may go to an address: not to our own, and
// not to one that says it reads none.
func takesAnswers(s Settings, address string) bool {
	return address != "" && !strings.EqualFold(address, s.Mail.From) && !NoAnswers(address)
}

// NoAnswers says whether an address is one that machines write from (RFC 2142,
// RFC 3834 section 5, and usual names, which no standard has).
func NoAnswers(address string) bool {
	local, _, _ := strings.Cut(strings.ToLower(address), "@")
	switch local {
	case "mailer-daemon", "postmaster", "no-reply", "noreply", "no_reply", "do-not-reply", "donotreply", "do_not_reply", "bounce", "bounces":
		return true
	}
	return false
}

// AddressesIn finds what looks like mail addresses in a text, at most as many as
// are said.
func AddressesIn(text string, most int) []string { return addressWithin.FindAllString(text, most) }

var addressWithin = regexp.MustCompile(`[^\s<>"(),:;@]{1,64}@[A-Za-z0-9.-]{1,180}[A-Za-z0-9]`)

// patronOf is the address of the patron behind a letter, as a suggestion to
// whoever makes a request of it: who wrote the letter sent on, who is to be
// answered, or, where a machine wrote, the first address in the text.
func patronOf(s Settings, b MailBody) string {
	for _, a := range []string{b.Forwarded, b.Answer, b.From} {
		if takesAnswers(s, a) && (b.Machine == "" || !strings.EqualFold(a, b.From)) {
			return a
		}
	}
	for _, a := range AddressesIn(b.Text, 20) {
		if takesAnswers(s, a) && mailAddress(a) {
			return a
		}
	}
	if takesAnswers(s, b.From) {
		return b.From
	}
	return ""
}

// draftAnswer drafts an answer to a letter that belongs to no request. It says
// what could not be read, asks for a model where there is none, and else why no
// request came of it. To a letter that seems to be about something else it
// greets, and leaves the rest to a person.
func (d *Desk) draftAnswer(tx Tx, s Settings, l Mail) (string, error) {
	r := Request{Contact: Contact{Name: l.Body.Name, Language: l.Body.Language}, Wish: Wish{Copies: 1}}
	if !speaks(s, r.Contact.Language) && len(s.Library.Languages) > 0 {
		r.Contact.Language = s.Library.Languages[0]
	}
	questions := map[string][2]string{
		"en": {"please send the model itself as an enclosure, as one of these kinds of file: %s.", " We cannot open links from here."},
		"fr": {"merci de nous envoyer le modèle lui-même en pièce jointe, sous l’une de ces formes : %s.", " Nous ne pouvons pas ouvrir de liens d’ici."},
	}
	question, ok := questions[baseLanguage(r.Contact.Language)]
	if !ok {
		question = questions["en"]
	}
	ask := strings.Join(toPatron(l.Body.Odd, r.Contact.Language), "\n")
	if ask != "" {
		ask += "\n\n"
		question[0] = strings.ToUpper(question[0][:1]) + question[0][1:] // it begins a sentence then
	}
	files := l.Body.uploads()
	switch models := d.models(s, files); {
	case models == 0 && len(l.Body.Links)+len(files) > 0:
		ask += fmt.Sprintf(question[0], Endings(s.Rules.Formats, r.Contact.Language))
		if len(l.Body.Links) > 0 {
			ask += question[1]
		}
	case models > 0 && l.State == MailWaits && l.Body.Machine == "":
		sub, err := d.submissionOf(tx, s, &l, files)
		if err != nil {
			return "", err
		}
		sub.Contact.Language = r.Contact.Language
		var f *Fault
		if err := d.refuse(tx, s, sub, nil); asFault(err, &f) {
			ask += cmp.Or(f.Fields["files"], f.Say)
		} else if err != nil {
			return "", err
		}
	}
	ask = strings.TrimSpace(ask)
	greeting := map[string]string{"fr": "Bonjour"}[baseLanguage(r.Contact.Language)]
	if greeting == "" {
		greeting = "Hello"
	}
	name := oneLine(l.Body.Name)
	if name != "" {
		greeting += " " + name
	}
	return fmt.Sprintf("%s,\n\n%s\n\n%s", greeting, ask, s.Library.Name), nil
}

// PlaceMail puts a letter to the request of a code, its files too.
func (d *Desk) PlaceMail(ctx context.Context, by Actor, id ID, code string) (Request, error) {
	c, ok := ParseCode(code)
	if !ok {
		return Request{}, &Fault{Kind: Wrong, Say: "Give the code of the request, such as K7-204.", Fields: map[string]string{"code": "Give the code of the request, such as K7-204."}}
	}
	var r Request
	err := d.place(ctx, by, id, func(tx Tx, set Settings, l *Mail) error {
		var err error
		if r, err = tx.RequestByCode(c); err != nil {
			return err
		}
		if err := by.Require(r.Branch, Reviewer); err != nil {
			return err
		}
		return d.join(tx, set, r, l, l.Body.uploads(), true)
	})
	return r, err
}

// NewFromMail makes a request of a letter, whatever kept it from becoming one by
// itself, so long as it brings a model. The patron is who is given by name
// and address; what is empty is as the letter says.
func (d *Desk) NewFromMail(ctx context.Context, by Actor, id ID, branch ID, patron Contact) (Request, error) {
	var r Request
	email := strings.TrimSpace(patron.Email)
	if email != "" && !mailAddress(email) {
		return r, &Fault{Kind: Wrong, Say: "The patron's address is not complete.", Fields: map[string]string{"email": "This is no complete e-mail address. It should look like name@example.org."}}
	}
	if err := by.Require(branch, Reviewer); err != nil {
		return r, err
	}
	err := d.place(ctx, by, id, func(tx Tx, set Settings, l *Mail) error {
		files := l.Body.uploads()
		if d.models(set, files) == 0 {
			return Faultf(NotNow, "This letter brings no model, so there is nothing to print. Answer it, or put it aside.")
		}
		s, err := d.submissionOf(tx, set, l, files)
		if err != nil {
			return err
		}
		s.Branch, s.Form = branch, "placed-"+string(l.ID)
		s.ID = NewID()
		if l.Body.Forwarded != "" && (email == "" || strings.EqualFold(email, l.Body.Forwarded)) {
			s.Contact.Email, s.Contact.Name = l.Body.Forwarded, l.Body.ForName
		} else if email != "" && !strings.EqualFold(email, s.Contact.Email) {
			s.Contact.Email = email
			s.Contact.Name, _, _ = strings.Cut(email, "@")
		}
		if name := CleanLine(patron.Name, mostName); name != "" {
			s.Contact.Name = name
		}
		if !takesAnswers(set, s.Contact.Email) {
			const say = "That address takes no answers. Give the patron's own."
			return &Fault{Kind: Wrong, Say: say, Fields: map[string]string{"email": say}}
		}
		s = s.cleaned()
		l.State, l.Request = MailPlaced, s.ID
		if err := tx.SaveMail(l); err != nil {
			return err
		}
		r, err = d.keep(tx, set, s, by)
		return err
	})
	return r, err
}

// AsideMail notes that a letter needs nothing.
func (d *Desk) AsideMail(ctx context.Context, by Actor, id ID, why string) error {
	return d.place(ctx, by, id, func(tx Tx, set Settings, l *Mail) error {
		l.State, l.Body.Why, l.Request = MailAside, CleanLine(why, 200), ""
		return nil
	})
}

// AnswerMail answers a letter that belongs to no request, and puts it aside:
// what comes back is a letter of its own.
func (d *Desk) AnswerMail(ctx context.Context, by Actor, id ID, subject, text string) error {
	subject, text = CleanLine(subject, maxSubject), plain(text)
	if text == "" {
		return &Fault{Kind: Wrong, Say: "Write something first: nothing was sent.", Fields: map[string]string{"text": "Write something first."}}
	}
	return d.place(ctx, by, id, func(tx Tx, set Settings, l *Mail) error {
		if !set.Mail.On {
			return Faultf(NotNow, "Mail is switched off in the settings, so nothing can be sent.")
		}
		if !takesAnswers(set, l.Body.Answer) {
			return Faultf(NotNow, "There is no address that would take an answer. Put the letter to a request, or put it aside.")
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

// place does something with a letter that is with no request yet, once: one
// that waits, was put aside, or was kept because a machine wrote it.
func (d *Desk) place(ctx context.Context, by Actor, id ID, do func(Tx, Settings, *Mail) error) error {
	if err := mailHand(by); err != nil {
		return err
	}
	var kept Mail
	if err := d.Store.Read(ctx, func(tx Tx) (err error) { kept, err = tx.Mail(id); return err }); err != nil {
		return err
	}
	// Files of what asked for nothing are not kept for long.
	gone, err := d.missing(ctx, kept.Body.uploads())
	if err != nil {
		return err
	}
	return d.Store.Write(ctx, func(tx Tx) error {
		l, err := tx.Mail(id)
		if err != nil {
			return err
		}
		if l.Empty {
			return Faultf(NotNow, "What this letter said is forgotten: it asked for nothing while its days lasted.")
		}
		if !l.MayBePlaced() || l.State != kept.State {
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
		l.Body.Files = slices.DeleteFunc(l.Body.Files, func(f MailFile) bool {
			if gone[f.Hash] {
				l.Body.Odd = append(l.Body.Odd, Oddity{say.Of("%q came with this letter and is kept here no more; it lies in the mailbox.", f.Name)})
			}
			return gone[f.Hash]
		})
		if err := do(tx, set, &l); err != nil {
			return err
		}
		return d.keepMail(tx, &l)
	})
}

// MayBePlaced says whether a person may still make something of the letter.
func (l Mail) MayBePlaced() bool {
	return !l.Empty && slices.Contains([]MailState{MailWaits, MailAside, MailAuto, MailReport}, l.State)
}

// mostToPlace is how many letters that wait are listed at once.
const mostToPlace = 100

// MailWaiting lists letters that wait for a person, oldest first, and letters
// of ours that did not arrive. More says that further letters wait.
func (d *Desk) MailWaiting(ctx context.Context, by Actor) (letters []Mail, lost []Posted, more bool, err error) {
	if err := mailHand(by); err != nil {
		return nil, nil, false, err
	}
	err = d.Store.Read(ctx, func(tx Tx) (err error) {
		if letters, err = tx.ListMail([]MailState{MailWaits}, mostToPlace+1); err != nil {
			return err
		}
		more = len(letters) > mostToPlace
		letters = letters[:min(len(letters), mostToPlace)]
		lost, err = didNotArrive(tx, by, "", mostToPlace)
		return err
	})
	return letters, lost, more, err
}

// MailKept are letters that wait for nobody and became nothing.
type MailKept string

const (
	FromMachines MailKept = "machines" // automatic letters, and reports
	PutAside     MailKept = "aside"    // by staff
)

// KeptMail lists such letters, newest first, from the one after a letter on; the
// empty ID begins with the newest. More says that there are further ones.
func (d *Desk) KeptMail(ctx context.Context, by Actor, kind MailKept, after ID, most int) (letters []Mail, more bool, err error) {
	if err := mailHand(by); err != nil {
		return nil, false, err
	}
	states := []MailState{MailAuto, MailReport}
	if kind == PutAside {
		states = []MailState{MailAside}
	}
	err = d.Store.Read(ctx, func(tx Tx) (err error) {
		letters, err = tx.PageMail(states, after, most+1)
		return err
	})
	more = len(letters) > most
	return letters[:min(len(letters), most)], more, err
}
