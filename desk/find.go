package desk

import (
	"context"
	"fmt"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// Found is a request someone looked for. Of a request at a branch the person's
// account does not reach there is only where it is and how it stands, and it is
// found by its whole code alone: a patron at the wrong desk can be sent to the
// right one, and nobody can leaf through another branch's patrons.
type Found struct {
	ID        ID // empty when Elsewhere
	Code      Code
	State     State
	Branch    string // its name
	Name      string // the patron's, short
	About     string
	Elsewhere bool
	Exact     bool // the text was its code: what a barcode scanner types
	Request   Request
}

// MostFound is how many are listed; whoever wants another says more.
const MostFound = 50

// Find looks for a request by its code in any spelling (typed, spoken, or as a
// scanner reads the barcode of a slip), the patron's name or mail address, or a
// file's name; letter case does not matter. Those asked last come first.
func (d *Desk) Find(ctx context.Context, by Actor, text string) ([]Found, error) {
	text = CleanLine(text, 200)
	if text == "" {
		return nil, nil
	}
	if by.Kind != ByStaff {
		return nil, Faultf(NotYours, "Only staff can look for requests. Log in first.")
	}
	var found []Found
	err := d.Store.Read(ctx, func(tx Tx) error {
		found = nil
		all, err := tx.Branches()
		if err != nil {
			return err
		}
		names := map[ID]string{}
		for _, b := range all {
			names[b.ID] = b.Name
		}
		if c, ok := SpokenCode(text); ok {
			r, err := tx.RequestByCode(c)
			if err == nil {
				found = append(found, foundOne(r, by, names, true))
				return nil
			}
			if KindOf(err) != NotFound {
				return err
			}
		}
		f := RequestFilter{Text: text, Branches: by.Reach(all), Unforgotten: true, Newest: true, Most: MostFound, Brief: true}
		if len(f.Branches) == 0 {
			return nil
		}
		rs, err := tx.ListRequests(f)
		if err != nil {
			return err
		}
		for _, r := range rs {
			found = append(found, foundOne(r, by, names, false))
		}
		return fileNames(tx, found)
	})
	return found, err
}

func foundOne(r Request, by Actor, names map[ID]string, exact bool) Found {
	f := Found{Code: r.Code, State: r.State, Branch: names[r.Branch], Exact: exact}
	if !by.May(r.Branch, Roles()...) {
		f.Elsewhere = true
		return f
	}
	f.ID, f.Name, f.Request = r.ID, ShortName(r.Contact), r
	f.About = about(r, nil)
	return f
}

// fileNames fills in what the requests found are about, with one question.
func fileNames(tx Tx, found []Found) error {
	var ids []ID
	for _, f := range found {
		ids = append(ids, f.ID)
	}
	if len(ids) == 0 {
		return nil
	}
	files, err := tx.FilesOfAll(ids)
	if err != nil {
		return err
	}
	of := byRequest(files)
	for i := range found {
		found[i].About = about(found[i].Request, of[found[i].ID])
	}
	return nil
}

// Reach lists the branches of all at which a has any role.
func (a Actor) Reach(all []Branch) []ID {
	var ids []ID
	for _, b := range all {
		if a.May(b.ID, Roles()...) {
			ids = append(ids, b.ID)
		}
	}
	return ids
}

// SpokenCode reads a code as people say, type or scan it: "k7 204", "K7204",
// "K 7 – 204", "k7.2o4", "*K7-204*". Letters for figures they look or sound
// like are forgiven where a figure must stand: O for 0, I and L for 1.
func SpokenCode(text string) (Code, bool) {
	if len(text) > 64 {
		return "", false
	}
	var marks []rune
	for _, c := range norm.NFKC.String(strings.ToUpper(text)) {
		if unicode.IsLetter(c) || unicode.IsDigit(c) {
			marks = append(marks, c)
		} else if !unicode.IsSpace(c) && !strings.ContainsRune("-‐‑‒–—−_.,/*+#:;'’", c) {
			return "", false
		}
	}
	if len(marks) != 5 {
		return "", false
	}
	for i, c := range marks[1:] {
		switch c {
		case 'O':
			marks[i+1] = '0'
		case 'I', 'L':
			marks[i+1] = '1'
		}
	}
	return ParseCode(string(marks))
}

// ShortName is a patron's name as lists show it: first name and initial of the
// surname, enough to tell two apart and not more than a glance over a shoulder
// should give away.
func ShortName(c Contact) string {
	words := strings.Fields(c.Name)
	switch {
	case len(words) == 0:
		at, _, _ := strings.Cut(c.Email, "@")
		return cut(at, 12)
	case len(words) == 1:
		return cut(words[0], 24)
	}
	last := words[len(words)-1]
	if s := strings.Fields(c.Surname); len(s) > 0 {
		last = s[0]
	}
	initial := []rune(last)[0]
	return cut(words[0], 24) + " " + string(unicode.ToUpper(initial)) + "."
}

// about says in a few words what a request is about: its first file and how
// many more.
func about(r Request, files []File) string {
	var names []string
	for _, f := range files {
		names = append(names, f.Name)
	}
	say := ""
	switch {
	case len(names) == 1:
		say = names[0]
	case len(names) > 1:
		say = names[0] + " and " + count(len(names)-1, "more", "more")
	}
	if n := r.Wish.Copies; n > 1 && say != "" {
		say = fmt.Sprintf("%d × %s", n, say)
	}
	return say
}

func byRequest(files []File) map[ID][]File {
	of := map[ID][]File{}
	for _, f := range files {
		of[f.Request] = append(of[f.Request], f)
	}
	return of
}
