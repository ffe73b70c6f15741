package desk

import (
	"archive/zip"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"time"
)

// ForgetMe forgets a request at once, at its patron's wish. What is not over
// yet is withdrawn with it; what is being printed or waits on the shelf has to
// be collected first.
//
// Where the link leads to nothing (any more) nothing is held, and that is no
// error: a form sent twice, or a link that never was, look alike.
func (d *Desk) ForgetMe(ctx context.Context, key, form string) error {
	return d.Store.Write(ctx, func(tx Tx) error {
		r, err := d.byKey(tx, key, "")
		if KindOf(err) == NotFound {
			return nil
		} else if err != nil {
			return err
		}
		if form == "" {
			return sayNoForm.fault(Wrong, r.Contact.Language)
		}
		if !r.State.Over() {
			if !r.State.MayFollow(Withdrawn) {
				return sayNotYetGone.fault(NotNow, r.Contact.Language)
			}
			if r, err = d.withdraw(tx, r, ""); err != nil {
				return err
			}
		}
		return d.forget(tx, &r, APatron())
	})
}

// held is the readable part of a copy of all that is held. Field names are
// words; hashes and the link's secret say nothing of anyone and stay out.
type held struct {
	Code      Code
	State     State
	Asked     time.Time
	Closed    time.Time `json:",omitzero"`
	Branch    string
	Source    string
	Contact   Contact
	Wish      Wish
	Plan      Plan
	Quote     *Quote      `json:",omitempty"`
	Agreement *Agreement  `json:",omitempty"`
	Checklist []Judgement `json:",omitempty"`
	Reason    string      `json:",omitempty"`
	Shelf     *Shelved    `json:",omitempty"`
	Files     []heldFile
	Messages  []heldMessage
	Account   []heldCharge
	Prints    []heldRun
	History   []heldEvent
	Letters   []heldLetter `json:",omitempty"` // by mail, in and out
	settings  Settings
	pictures  int
}

type heldFile struct {
	Name  string
	In    string // where in the zip
	Size  int64
	Sent  time.Time
	Check any `json:",omitempty"`
	bytes Hash
}

type heldMessage struct {
	At            time.Time
	From, Subject string
	Text          string
}

type heldCharge struct {
	At                     time.Time
	Kind                   ChargeKind
	Amount, Currency, Says string
}

type heldRun struct {
	Started, Ended time.Time
	State          RunState
	Grams          map[string]float64 `json:",omitempty"`
}

type heldEvent struct {
	At                      time.Time
	Who, Say, Before, After string
}

type heldLetter struct {
	At                  time.Time
	From, To            string
	Subject, Text, Rest string     // the rest is what was quoted
	Files               []heldFile `json:",omitempty"`
}

// TakeOut writes a zip of all that is held of the patron's request: the main
// things in plain words, everything kept as JSON, and the files and pictures. Nothing is
// written if the link leads to nothing.
func (d *Desk) TakeOut(ctx context.Context, key string, w io.Writer) error {
	var h held
	var pictures []Hash
	err := d.Store.Read(ctx, func(tx Tx) (err error) {
		h, pictures, err = d.held(tx, key)
		return err
	})
	if err != nil {
		return err
	}
	// The zip is written outside the transaction: a patron with a slow line
	// must not hold the store.
	z := zip.NewWriter(w)
	data, err := json.MarshalIndent(h, "", "  ")
	if err != nil {
		return err
	}
	h.pictures = len(pictures)
	name, text := h.reading(d.now())
	if err := d.pack(z, name, h.Asked, func(w io.Writer) error { _, err := io.WriteString(w, text); return err }); err != nil {
		return err
	}
	if err := d.pack(z, "request.json", h.Asked, func(w io.Writer) error { _, err := w.Write(data); return err }); err != nil {
		return err
	}
	all := h.Files
	for _, l := range h.Letters {
		all = append(all, l.Files...)
	}
	for _, f := range all {
		if err := d.packBlob(ctx, z, f.In, f.Sent, f.bytes); err != nil {
			return err
		}
	}
	for i, p := range pictures {
		if err := d.packBlob(ctx, z, fmt.Sprintf("pictures/%02d.png", i+1), h.Asked, p); err != nil {
			return err
		}
	}
	return z.Close()
}

func (d *Desk) pack(z *zip.Writer, name string, at time.Time, write func(io.Writer) error) error {
	w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: at})
	if err != nil {
		return err
	}
	return write(w)
}

func (d *Desk) packBlob(ctx context.Context, z *zip.Writer, name string, at time.Time, h Hash) error {
	b, err := d.Shelves.Open(ctx, h)
	if KindOf(err) == NotFound {
		return nil // swept meanwhile; request.json still names it
	} else if err != nil {
		return err
	}
	defer b.Close()
	return d.pack(z, name, at, func(w io.Writer) error {
		_, err := io.Copy(w, b)
		return err
	})
}

func (d *Desk) held(tx Tx, key string) (held, []Hash, error) {
	m, err := d.mine(tx, key)
	if err != nil {
		return held{}, nil, err
	}
	r := m.Request
	h := held{Code: r.Code, State: r.State, Asked: r.Asked, Closed: r.Closed, Branch: m.Branch.Name, Source: r.Source,
		Contact: r.Contact, Wish: r.Wish, Plan: r.Plan, Quote: r.Quote, Agreement: r.Agreement, Checklist: r.Checklist,
		Reason: r.Reason, Shelf: r.Shelf, settings: m.Settings}
	pictures := r.pictures()
	for i, f := range m.Files {
		hf := heldFile{Name: f.Name, In: fmt.Sprintf("files/%02d %s", i+1, f.Name), Size: f.Size, Sent: f.Sent, bytes: f.Hash}
		if c := f.Result; c != nil {
			hf.Check = c.Answer
			pictures = append(pictures, c.Still, c.Sheet)
		}
		h.Files = append(h.Files, hf)
	}
	for _, l := range m.Messages {
		h.Messages = append(h.Messages, heldMessage{l.At, l.Who, l.Subject, l.Text})
	}
	for _, c := range m.Account {
		h.Account = append(h.Account, heldCharge{c.At, c.Kind, c.Amount.Number(), c.Currency, c.Reason})
	}
	runs, err := tx.RunsOf(r.ID)
	if err != nil {
		return held{}, nil, err
	}
	for _, run := range runs {
		for _, p := range run.Parts {
			if p.Request == r.ID { // other patrons' parts on the plate are theirs
				h.Prints = append(h.Prints, heldRun{run.Started, run.Ended, run.State, p.Weighed})
			}
		}
	}
	events, err := tx.Events(r.ID, 0)
	if err != nil {
		return held{}, nil, err
	}
	for _, e := range events {
		h.History = append(h.History, heldEvent{e.At, e.Who, e.Say, e.Before, e.After})
	}
	if h.Letters, err = letters(tx, r.ID); err != nil {
		return held{}, nil, err
	}
	slices.Sort(pictures)
	pictures = slices.DeleteFunc(slices.Compact(pictures), func(p Hash) bool { return p == "" })
	return h, pictures, nil
}

// pictures are those of the ways found, offered and agreed to.
func (r Request) pictures() []Hash {
	all := []Hash{r.Basis.Picture}
	ways := slices.Clone(r.Ways)
	if r.Quote != nil {
		ways = append(ways, r.Quote.Ways...)
	}
	if r.Agreement != nil {
		ways = append(ways, r.Agreement.Way)
	}
	for _, w := range ways {
		all = append(all, w.Still)
	}
	return all
}

// letters are those that came and went by mail about a request.
func letters(tx Tx, id ID) ([]heldLetter, error) {
	in, err := tx.MailOf(id)
	if err != nil {
		return nil, err
	}
	var all []heldLetter
	for i, l := range in {
		h := heldLetter{At: l.Came, From: l.Body.From, Subject: l.Body.Subject, Text: l.Body.Text, Rest: l.Body.Quoted}
		for k, f := range l.Body.Files {
			name := CleanName(f.Name)
			h.Files = append(h.Files, heldFile{Name: name, In: fmt.Sprintf("letters/%02d-%02d %s", i+1, k+1, name), Size: f.Size, Sent: l.Came, bytes: f.Hash})
		}
		all = append(all, h)
	}
	out, err := tx.PostedOf(id)
	if err != nil {
		return nil, err
	}
	for _, p := range out {
		all = append(all, heldLetter{At: p.Made, To: p.Body.To, Subject: p.Body.Subject, Text: p.Body.Text})
	}
	slices.SortStableFunc(all, func(a, b heldLetter) int { return a.At.Compare(b.At) })
	return all, nil
}
