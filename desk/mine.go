package desk

import (
	"context"
	"slices"
	"time"

	"platebook/engine/tariff"
)

// MyRequest is everything the patron's own page shows.
type MyRequest struct {
	Request  Request
	Branch   Branch
	Settings Settings
	Files    []File
	Messages []Message
	Account  []Charge
	Balance  tariff.Decimal // what is still owed; below zero it is to be given back
	Plates   int            // of the agreed way
	Printed  int            // of those
	Expect   time.Time      // when the run that is going should end
	Open     bool           // the offer still stands
	Now      time.Time
}

// byKey finds the request of a patron's link. A link that never was and one
// whose request is forgotten are the same.
func (d *Desk) byKey(tx Tx, key, lang string) (Request, error) {
	r, err := tx.RequestByKey(HashOf([]byte(key)))
	if KindOf(err) == NotFound || err == nil && !r.Forgotten.IsZero() {
		return Request{}, sayNoLink.fault(NotFound, lang)
	}
	return r, err
}

// Mine gathers the patron's page, and notes that what staff wrote is seen.
func (d *Desk) Mine(ctx context.Context, key string) (MyRequest, error) {
	var m MyRequest
	var unseen bool
	err := d.Store.Read(ctx, func(tx Tx) (err error) {
		m, err = d.mine(tx, key)
		unseen = false
		for _, l := range m.Messages {
			unseen = unseen || l.From != ByPatron && l.Seen.IsZero()
		}
		return err
	})
	if err != nil || !unseen {
		return m, err
	}
	err = d.Store.Write(ctx, func(tx Tx) error {
		letters, err := tx.Messages(m.Request.ID)
		if err != nil {
			return err
		}
		for _, l := range letters {
			if l.From != ByPatron && l.Seen.IsZero() {
				l.Seen = m.Now
				if err := tx.SaveMessage(&l); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if KindOf(err) == NoRoom {
		err = nil // it can be read all the same
	}
	return m, err
}

func (d *Desk) mine(tx Tx, key string) (MyRequest, error) {
	r, err := d.byKey(tx, key, "")
	if err != nil {
		return MyRequest{}, err
	}
	m := MyRequest{Request: r, Now: d.now(), Balance: "0"}
	if m.Settings, err = settings(tx); err != nil {
		return m, err
	}
	if m.Branch, err = tx.Branch(r.Branch); err != nil && KindOf(err) != NotFound {
		return m, err
	}
	if r.Shelf != nil && r.Shelf.Branch != "" && r.Shelf.Branch != r.Branch {
		if m.Branch, err = tx.Branch(r.Shelf.Branch); err != nil && KindOf(err) != NotFound {
			return m, err
		}
	}
	if m.Files, err = tx.FilesOf(r.ID); err != nil {
		return m, err
	}
	if m.Messages, err = tx.Messages(r.ID); err != nil {
		return m, err
	}
	if m.Account, err = tx.Charges(r.ID); err != nil {
		return m, err
	}
	if m.Balance, err = balance(m.Account); err != nil {
		return m, err
	}
	m.Open = r.State == WithPatron && r.Quote != nil && m.Now.Before(r.Quote.Until)
	return m, d.progress(tx, &m)
}

// progress counts the plates that came out well.
func (d *Desk) progress(tx Tx, m *MyRequest) error {
	if m.Request.Agreement == nil {
		return nil
	}
	m.Plates = len(m.Request.Agreement.Way.Plates)
	runs, err := tx.RunsOf(m.Request.ID)
	if err != nil {
		return err
	}
	well := map[int]bool{}
	for _, run := range runs {
		for _, p := range run.Parts {
			if p.Request != m.Request.ID || p.Bad != nil {
				continue
			}
			switch run.State {
			case Finished, Weighed:
				well[p.Plate] = true
			case Going:
				m.Expect = run.Expect
			}
		}
	}
	m.Printed = len(well)
	return nil
}

// MyFile returns a file of the patron's request.
func (d *Desk) MyFile(ctx context.Context, key string, id ID) (File, error) {
	var f File
	err := d.Store.Read(ctx, func(tx Tx) error {
		r, err := d.byKey(tx, key, "")
		if err != nil {
			return err
		}
		f, err = tx.File(id)
		if KindOf(err) == NotFound || err == nil && f.Request != r.ID {
			return sayNoLink.fault(NotFound, r.Contact.Language)
		}
		return err
	})
	return f, err
}

// mostLetters is how many messages a patron may write about one request in a day.
const mostLetters = 20

// PatronWrites adds to the conversation. The same form again adds nothing.
func (d *Desk) PatronWrites(ctx context.Context, key, form, text string) (Message, error) {
	text = CleanText(text, mostText)
	var m Message
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.byKey(tx, key, "")
		if err != nil {
			return err
		}
		lang := r.Contact.Language
		if form == "" {
			return sayNoForm.fault(Wrong, lang)
		}
		if m, err = tx.MessageByForm(r.ID, form); KindOf(err) != NotFound {
			return err
		}
		if text == "" {
			f := sayNoText.fault(Wrong, lang)
			f.Fields = map[string]string{"text": f.Say}
			return f
		}
		letters, err := tx.Messages(r.ID)
		if err != nil {
			return err
		}
		n := 0
		for _, l := range letters {
			if l.From == ByPatron && d.now().Sub(l.At) < 24*time.Hour {
				n++
			}
		}
		if n >= mostLetters {
			return sayManyLetters.fault(TooMany, lang)
		}
		m, err = d.hear(tx, &r, form, text, "wrote", "Wrote to the library.")
		return err
	})
	return m, err
}

// hear keeps what the patron said as a message and as a change, so that staff
// who act on an older view see it first.
func (d *Desk) hear(tx Tx, r *Request, form, text, what, say string) (Message, error) {
	who := r.Contact.Name
	if who == "" {
		who = r.Contact.Email
	}
	m := Message{ID: NewID(), Request: r.ID, Form: form, From: ByPatron, Who: who, Text: text, At: d.now()}
	if err := tx.SaveMessage(&m); err != nil {
		return m, err
	}
	var err error
	*r, err = d.change(tx, r.ID, 0, APatron(), func(*Request) (Event, error) { return Event{What: what, Say: say}, nil })
	return m, err
}

// AddFile adds a mended file. A request that waits for its patron goes back to
// review: what was offered is not for this file.
func (d *Desk) AddFile(ctx context.Context, key, form string, up Upload) (File, error) {
	up.Name = CleanName(up.Name)
	files := []Upload{up}
	lost, err := d.missing(ctx, files)
	if err != nil {
		return File{}, err
	}
	up = files[0]
	var f File
	err = d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.byKey(tx, key, "")
		if err != nil {
			return err
		}
		lang := r.Contact.Language
		if form == "" {
			return sayNoForm.fault(Wrong, lang)
		}
		have, err := tx.FilesOf(r.ID)
		if err != nil {
			return err
		}
		if _, err := tx.MessageByForm(r.ID, form); err == nil {
			for _, h := range have {
				if h.Hash == up.Hash {
					f = h
				}
			}
			return nil
		} else if KindOf(err) != NotFound {
			return err
		}
		switch r.State {
		case Received, InReview, WithPatron:
		case Agreed, Printing:
			return sayNoFileNow.fault(NotNow, lang)
		default:
			return sayOver.fault(NotNow, lang)
		}
		set, err := settings(tx)
		if err != nil {
			return err
		}
		if err := d.refuseMended(set, have, up, lang, lost); err != nil {
			return err
		}
		if f, err = d.keepFile(tx, set.Rules, r.ID, up); err != nil {
			return err
		}
		if r.State == WithPatron {
			if r, err = d.change(tx, r.ID, 0, APatron(), func(r *Request) (Event, error) {
				r.State, r.Quote, r.Due = InReview, nil, time.Time{}
				return Event{What: "reopened", Say: "The offer was taken back, as a file was added."}, nil
			}); err != nil {
				return err
			}
		}
		_, err = d.hear(tx, &r, form, sayAddedFile.in(lang, f.Name), "added file", "Added the file "+f.Name+".")
		return err
	})
	return f, err
}

// refuseMended is refuseFiles for one more file. Mended files count apart from
// those first sent, so that a full request can still be mended.
func (d *Desk) refuseMended(set Settings, have []File, up Upload, lang string, lost map[Hash]bool) error {
	var say string
	switch most := set.Rules.MaxFiles; {
	case most > 0 && len(have) >= 2*most:
		say = sayFilesMany.in(lang, 2*most)
	case slices.ContainsFunc(have, func(h File) bool { return h.Hash == up.Hash }):
		say = sayFileSame.in(lang, up.Name)
	default:
		say = refuseFiles(set, Submission{Source: "page", Contact: Contact{Language: lang}, Files: []Upload{up}}, lost)
	}
	if say == "" {
		return nil
	}
	return &Fault{Kind: Wrong, Say: say, Fields: map[string]string{"files": say}}
}
