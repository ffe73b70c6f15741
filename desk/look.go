package desk

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"time"

	"platebook/engine/findings"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// RequestView is everything a person decides a request from.
type RequestView struct {
	Request  Request
	Branch   Branch
	Branches []Branch // that it could be moved to
	Files    []File   // as sent
	Messages []Message
	Events   []Event
	Runs     []Run
	Charges  []Charge
	Balance  tariff.Decimal // of them
	Posted   []Posted       // letters sent by mail
	Settings Settings
	Profiles *quote.Profiles
	Spools   []Spool // in stock at its branch
	Link     string  // the patron's, for those who may write it to them; else empty
	Key      string  // of that link
	Reviews  bool    // the actor may decide here
	Operates bool    // the actor may print here
	Manages  bool
	Asked    []Asked
	Alike    []FileAlike // files that look like something declined before
	Plan     Plan        // as set, or as the wish suggests
	Missing  []string    // sentences: why no offer can be sent yet
	Now      time.Time
}

// Asked is a policy question and how it was answered, if it was.
type Asked struct {
	Question
	Answer *Judgement
}

// FileAlike is a file and what it looks like.
type FileAlike struct {
	File  File
	Alike []Resemblance
}

// Look gathers a request for staff of its branch. It changes nothing: a
// patron's message stays to be answered until someone answers it.
func (d *Desk) Look(ctx context.Context, by Actor, id ID) (RequestView, error) {
	return d.look(ctx, by, func(tx Tx) (Request, error) { return tx.Request(id) })
}

// LookByCode is Look by the code people say.
func (d *Desk) LookByCode(ctx context.Context, by Actor, c Code) (RequestView, error) {
	return d.look(ctx, by, func(tx Tx) (Request, error) {
		r, err := tx.RequestByCode(c)
		if KindOf(err) == NotFound {
			return r, &Fault{Kind: NotFound, Say: "There is no request " + string(c) + ". Check the code, or find it by the patron's name.", Err: err}
		}
		return r, err
	})
}

func (d *Desk) look(ctx context.Context, by Actor, get func(Tx) (Request, error)) (RequestView, error) {
	v := RequestView{Now: d.now()}
	err := d.Store.Read(ctx, func(tx Tx) error {
		r, err := get(tx)
		if err != nil {
			return err
		}
		if v.Branch, err = tx.Branch(r.Branch); err != nil {
			return err
		}
		if !by.May(r.Branch, Roles()...) {
			return Faultf(NotYours, "%s is a request of %s (%s). Your account does not reach that branch: ask its staff.", r.Code, v.Branch.Name, r.State)
		}
		v.Request = r
		return v.gather(tx)
	})
	if err != nil {
		return RequestView{}, err
	}
	r := v.Request
	v.Reviews, v.Operates, v.Manages = by.May(r.Branch, Reviewer), by.May(r.Branch, Operator), by.May(r.Branch)
	if key := d.Key(r); v.Reviews {
		v.Key, v.Link = key, PatronLink(v.Settings, key)
	} else {
		v.hide(key)
	}
	v.Profiles = catalogueOf(v.Settings)
	v.Asked = checklist(r, v.Settings)
	v.Missing = missing(r, v.Settings)
	v.Plan = r.Plan
	if len(v.Plan.Parts) == 0 {
		v.Plan = Suggest(r, v.Files, v.Settings, v.Spools)
	}
	return v, nil
}

// hide takes the patron's key out of what was written. Who has it can agree,
// withdraw and forget as the patron; letters have it, and whoever prints reads
// them, but does not write them.
//
// A letter that quotes the link may break it over lines, each marked as quoted
// (RFC 3676 section 4.5) or ended as quoted-printable has it (RFC 2045 section 6.7).
func (v *RequestView) hide(key string) {
	var letters []string
	for _, c := range key {
		letters = append(letters, regexp.QuoteMeta(string(c)))
	}
	broken := regexp.MustCompile(strings.Join(letters, `(?:=?[\s>|\x{ad}\x{200b}]+)?`))
	for i := range v.Messages {
		v.Messages[i].Text = broken.ReplaceAllLiteralString(v.Messages[i].Text, "…")
	}
	for i := range v.Posted {
		v.Posted[i].Body.Text = broken.ReplaceAllLiteralString(v.Posted[i].Body.Text, "…")
	}
}

// gather reads what belongs to the request.
func (v *RequestView) gather(tx Tx) error {
	r := v.Request
	var err error
	if v.Settings, err = settings(tx); err != nil {
		return err
	}
	if v.Files, err = tx.FilesOf(r.ID); err != nil {
		return err
	}
	if v.Messages, err = tx.Messages(r.ID); err != nil {
		return err
	}
	if v.Events, err = tx.Events(r.ID, 0); err != nil {
		return err
	}
	if v.Runs, err = tx.RunsOf(r.ID); err != nil {
		return err
	}
	if v.Charges, err = tx.Charges(r.ID); err != nil {
		return err
	}
	if v.Balance, err = balance(v.Charges); err != nil {
		return err
	}
	if v.Posted, err = tx.PostedOf(r.ID); err != nil {
		return err
	}
	if v.Spools, err = tx.Spools([]ID{r.Branch}, false); err != nil {
		return err
	}
	all, err := tx.Branches()
	if err != nil {
		return err
	}
	for _, b := range all {
		if b.ID != r.Branch && !b.Shut {
			v.Branches = append(v.Branches, b)
		}
	}
	return v.findAlike(tx)
}

// Draft is a message of a kind ready to send, in the patron's language. Of an
// offer it speaks of the ways chosen by id, best being the one staff would
// take; reason is why something is declined or went wrong.
func (v *RequestView) Draft(kind TextKind, ways []string, best, reason string) Text {
	r := v.Request
	x := Extra{Branch: v.Branch, Files: v.Files, Reason: reason, Owed: v.Balance}
	switch kind {
	case TextOffer:
		x.Best, x.Until = best, endOfDay(v.Now, v.Settings.Rules.QuoteDays, v.Settings.Library.Zone())
		for _, w := range r.Ways {
			if slices.Contains(ways, w.ID) {
				x.Ways = append(x.Ways, w)
			}
		}
		r.Quote, r.Agreement = nil, nil
	case TextQuestion:
		_, language := textOf(v.Settings, r.Contact.Language, kind)
		x.Question = strings.Join(v.ToAsk(language), "\n")
	}
	subject, text, err := drafted(v.Settings, r, v.Key, kind, x)
	if err != nil {
		return Text{Subject: string(r.Code)}
	}
	return Text{subject, text}
}

// ToAsk are the findings that must be settled with the patron, in the language
// of a tag.
func (v *RequestView) ToAsk(tag string) []string {
	var all []string
	for _, f := range v.Files {
		if f.Result == nil {
			continue
		}
		for _, found := range f.Result.Answer.Findings {
			if line := "– " + found.ToPatron(tag); found.Severity != findings.Note && !slices.Contains(all, line) {
				all = append(all, line)
			}
		}
	}
	return all
}

// RequestFile returns a file of a request, for staff of its branch.
func (d *Desk) RequestFile(ctx context.Context, by Actor, c Code, id ID) (File, error) {
	var f File
	err := d.Store.Read(ctx, func(tx Tx) error {
		r, err := staffRequest(tx, by, c)
		if err != nil {
			return err
		}
		f, err = tx.File(id)
		if err == nil && f.Request != r.ID {
			f, err = File{}, Faultf(NotFound, "There is no such file with this request.")
		}
		return err
	})
	return f, err
}

// RequestPictures returns the ways of a request as they stand, found or
// offered, and the picture of them side by side, for staff of its branch.
func (d *Desk) RequestPictures(ctx context.Context, by Actor, c Code) (ways []Way, beside Hash, err error) {
	err = d.Store.Read(ctx, func(tx Tx) error {
		r, err := staffRequest(tx, by, c)
		if err != nil {
			return err
		}
		ways, beside = r.Ways, r.Basis.Picture
		if r.Quote != nil {
			ways = slices.Concat(ways, r.Quote.Ways)
		}
		if r.Agreement != nil {
			ways = append(ways, r.Agreement.Way)
		}
		return nil
	})
	return ways, beside, err
}

func staffRequest(tx Tx, by Actor, c Code) (Request, error) {
	r, err := tx.RequestByCode(c)
	if err != nil {
		return r, err
	}
	return r, by.Require(r.Branch, Roles()...)
}

// checklist sets the answers beside the questions as they stand now.
func checklist(r Request, s Settings) []Asked {
	var all []Asked
	for _, q := range s.Rules.Questions {
		a := Asked{Question: q}
		if i := slices.IndexFunc(r.Checklist, func(j Judgement) bool { return j.Question == q.ID }); i >= 0 {
			a.Answer = &r.Checklist[i]
		}
		all = append(all, a)
	}
	return all
}

// TooLong is why a way of the view's request cannot be offered, or empty.
func (v *RequestView) TooLong(w Way) string { return tooLong(w, v.Settings) }
