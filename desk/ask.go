package desk

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Upload is a file whose bytes are on the Shelves already.
type Upload struct {
	Name string // as sent
	Hash Hash   // empty if the bytes were not put there, which Submit will refuse
	Size int64  // then more than the rules allow, or 0, where that was why
}

// Submission is a request as it comes in.
type Submission struct {
	Form    string // once-only token of the form, or what identifies the mail
	Source  string // "page", "desk", "mail" or "demo"
	Branch  ID
	Contact Contact
	Wish    Wish
	Files   []Upload
	// Accept says that the terms of version Wish.Terms were accepted, by the
	// guardian where there is one. A request by mail comes without; its patron
	// accepts them when agreeing.
	Accept bool
	Age    string   // "under" the library's age or "over" it, as answered; empty if not asked or not answered
	From   string   // network address; not kept
	ID     ID       // of the request; empty makes one
	Odd    []Oddity // what could not be read of a letter, a sentence each
}

// Receipt is what is known once a request is kept.
type Receipt struct {
	Request Request
	Key     string // of the patron's link
	// Again says that the form had been taken before: nothing was changed.
	Again bool
}

// Most of what is typed, in characters.
const (
	mostName  = 120
	mostMail  = 254 // RFC 5321, 4.5.3.1.3 less the angle brackets
	mostShort = 60
	mostText  = 4000
)

// Submit takes a request in: its files go to the check, its patron gets a
// code and a link. The same form again gives the same receipt.
//
// A Wrong Fault has Fields "files", "size", "copies", "needed", "name",
// "email", "branch", "age", "guardian", "rights" and "terms".
func (d *Desk) Submit(ctx context.Context, s Submission, by Actor) (Receipt, error) {
	s = s.cleaned()
	lang := s.Contact.Language
	if s.Form == "" {
		return Receipt{}, sayNoForm.fault(Wrong, lang)
	}
	// Held against its first coming before anything else, so that a retry is
	// not refused for a limit that this very request used up.
	var was *Receipt
	err := d.Store.Read(ctx, func(tx Tx) (err error) {
		was, err = d.before(tx, s)
		return err
	})
	if err != nil {
		return Receipt{}, err
	} else if was != nil {
		return *was, nil
	}
	if by.Kind == ByStaff {
		if err := by.Require(s.Branch, Reviewer, Operator); err != nil {
			return Receipt{}, err
		}
	}
	lost, err := d.missing(ctx, s.Files)
	if err != nil {
		return Receipt{}, err
	}
	var got Receipt
	err = d.Store.Write(ctx, func(tx Tx) error {
		if was, err := d.before(tx, s); err != nil {
			return err
		} else if was != nil {
			got = *was
			return nil
		}
		set, err := settings(tx)
		if err != nil {
			return err
		}
		if err := d.refuse(tx, set, s, lost); err != nil {
			return err
		}
		r, err := d.keep(tx, set, s, by)
		got = Receipt{Request: r, Key: d.Key(r)}
		return err
	})
	return got, err
}

// before finds what the form made when it came first, if it did.
func (d *Desk) before(tx Tx, s Submission) (*Receipt, error) {
	r, err := tx.RequestByForm(s.Form)
	if KindOf(err) == NotFound {
		return nil, nil
	} else if err != nil {
		return nil, err
	}
	// On a shared computer the next person may find a form that was sent.
	if r.Source != s.Source || r.Patron != d.patron(s.Contact.Email) || !r.Forgotten.IsZero() {
		return nil, sayFormUsed.fault(Wrong, s.Contact.Language)
	}
	return &Receipt{Request: r, Key: d.Key(r), Again: true}, nil
}

func (s Submission) cleaned() Submission {
	c := s.Contact
	s.Contact = Contact{
		Name: CleanLine(c.Name, mostName), Surname: CleanLine(c.Surname, mostName), Email: CleanLine(c.Email, mostMail+1),
		Phone: CleanLine(c.Phone, mostShort), Card: CleanLine(c.Card, mostShort), Language: CleanLine(c.Language, 12),
		UnderAge: c.UnderAge, Guardian: CleanLine(c.Guardian, mostName),
	}
	s.Contact.UnderAge = s.Contact.UnderAge || s.Age == "under"
	if s.Contact.Surname == "" {
		s.Contact.Surname = surname(s.Contact.Name)
	}
	s.Wish.Colour = CleanLine(s.Wish.Colour, mostShort)
	s.Wish.Purpose = CleanLine(s.Wish.Purpose, 300)
	s.Wish.Note = CleanText(s.Wish.Note, mostText)
	s.Wish.Needed = CleanLine(s.Wish.Needed, 10)
	s.Form = firstBytes(s.Form, 200)
	var files []Upload
	for _, f := range s.Files {
		f.Name = CleanName(f.Name)
		if f.Hash == "" || !slices.ContainsFunc(files, func(g Upload) bool { return g.Hash == f.Hash }) {
			files = append(files, f) // the same bytes twice are one file
		}
	}
	s.Files = files
	return s
}

// surname guesses; staff may mend it.
func surname(name string) string {
	if before, _, comma := strings.Cut(name, ","); comma {
		return strings.TrimSpace(before)
	}
	words := strings.Fields(name)
	if len(words) == 0 {
		return ""
	}
	return words[len(words)-1]
}

// missing says which files are not on the Shelves (any more).
func (d *Desk) missing(ctx context.Context, files []Upload) (map[Hash]bool, error) {
	lost := map[Hash]bool{}
	for i, f := range files {
		if f.Hash == "" {
			lost[f.Hash] = true
			continue
		}
		b, err := d.Shelves.Open(ctx, f.Hash)
		if KindOf(err) == NotFound {
			lost[f.Hash] = true
			continue
		} else if err != nil {
			return nil, err
		}
		files[i].Size = b.Size()
		if err := b.Close(); err != nil {
			return nil, err
		}
	}
	return lost, nil
}

// patron is what requests of one mail address are counted by. Without the
// service's secret nobody can try addresses on it.
func (d *Desk) patron(email string) Hash {
	mac := hmac.New(sha256.New, d.Secret)
	mac.Write([]byte("patron\x00" + strings.ToLower(email)))
	return Hash(hex.EncodeToString(mac.Sum(nil)))
}

// keep makes the request, with its files and the history line.
func (d *Desk) keep(tx Tx, set Settings, s Submission, by Actor) (Request, error) {
	now := d.now()
	if speaks := set.Library.Languages; len(speaks) > 0 && !slices.Contains(speaks, s.Contact.Language) && !slices.Contains(speaks, baseLanguage(s.Contact.Language)) {
		s.Contact.Language = speaks[0]
	}
	r := Request{ID: NewID(), State: Received, Branch: s.Branch, Source: s.Source, Form: s.Form,
		KeySeed: rand.Text(), Patron: d.patron(s.Contact.Email), Contact: s.Contact, Wish: s.Wish, Asked: now, Changed: now}
	if s.ID != "" {
		r.ID = s.ID
	}
	r.Key = HashOf([]byte(d.Key(r)))
	code, err := freeCode(tx)
	if err != nil {
		return Request{}, err
	}
	r.Code = code
	if err := tx.SaveRequest(&r); err != nil {
		return Request{}, err
	}
	for _, f := range s.Files {
		if _, err := d.keepFile(tx, set.Rules, r.ID, f); err != nil {
			return Request{}, err
		}
	}
	if err := d.tell(tx, set, r, TextReceived, Extra{Odd: s.Odd}); err != nil {
		return Request{}, err
	}
	say := "Asked for a print"
	if s.Source == "mail" {
		say = "Asked for a print by mail"
	}
	return r, d.note(tx, r, by, Event{What: "asked", Say: fmt.Sprintf("%s, with %s.", say, count(len(s.Files), "file", "files")), After: string(Received)})
}

// keepFile keeps what is known of a file and has it checked if it is a model.
func (d *Desk) keepFile(tx Tx, rules Rules, request ID, u Upload) (File, error) {
	f := File{ID: NewID(), Request: request, Name: u.Name, Hash: u.Hash, Size: u.Size, Sent: d.now(), Check: NoModel}
	if rules.Takes(u.Name) {
		f.Check = Waiting
	}
	if err := tx.SaveFile(&f); err != nil || f.Check == NoModel {
		return f, err
	}
	return f, tx.Enqueue(Job{Kind: CheckFile, ID: f.ID})
}

// Takes says whether a file's name has one of the endings the library takes.
func (r Rules) Takes(name string) bool {
	ext := extension(name)
	return ext != "" && slices.ContainsFunc(r.Formats, func(f string) bool { return strings.EqualFold(f, ext) })
}

func freeCode(tx Tx) (Code, error) {
	for range 200 {
		c := NewCode()
		_, err := tx.RequestByCode(c)
		if KindOf(err) == NotFound {
			return c, nil
		} else if err != nil {
			return "", err
		}
	}
	return "", Faultf(TooMany, "There are so many requests that no code is free. Tell the library: old ones must be forgotten first.")
}

// AskFacts is what the form for asking needs to know.
type AskFacts struct {
	Settings Settings
	Branches []Branch // that take requests, by name
	Colours  []string // on spools in use, in every branch
	Today    time.Time
}

// AskPage gathers what the welcome and the form for asking show.
func (d *Desk) AskPage(ctx context.Context) (AskFacts, error) {
	var f AskFacts
	err := d.Store.Read(ctx, func(tx Tx) error {
		f = AskFacts{}
		var err error
		if f.Settings, err = settings(tx); err != nil {
			return err
		}
		all, err := tx.Branches()
		if err != nil {
			return err
		}
		for _, b := range all {
			if !b.Shut {
				f.Branches = append(f.Branches, b)
			}
		}
		spools, err := tx.Spools(nil, false)
		if err != nil {
			return err
		}
		for _, s := range spools {
			c := strings.ToLower(s.Colour)
			if s.Grams > f.Settings.Rules.Reserve && c != "" && !slices.Contains(f.Colours, c) {
				f.Colours = append(f.Colours, c)
			}
		}
		slices.Sort(f.Colours)
		f.Today = d.now().In(f.Settings.Library.Zone())
		return nil
	})
	return f, err
}

// TermsIn gives the agreement text in a language, or in the library's first
// where it has none in that. It may be empty.
func (s Settings) TermsIn(lang string) string {
	lang, _, _ = strings.Cut(lang, "-")
	for _, l := range append([]string{lang}, s.Library.Languages...) {
		if t := strings.TrimSpace(s.Terms.Text[l]); t != "" {
			return t
		}
	}
	return strings.TrimSpace(s.Terms.Text["en"])
}

func count(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, more)
}
