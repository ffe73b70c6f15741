package say

import (
	"embed"
	"io/fs"
	"path"
	"strconv"
	"strings"
	"sync"

	"github.com/BurntSushi/toml"
	"github.com/bojanz/currency"
	"golang.org/x/text/feature/plural"
	xlanguage "golang.org/x/text/language"
)

// language is how sayings are put into words.
type language struct {
	tag     xlanguage.Tag
	own     bool   // English: a form says itself
	local   bool   // money is written as in the tag's country, not by its code
	decimal string // the mark between whole and tenths
	group   string // between groups of three digits
	quote   string // around a name, which stands for %s
	forms   map[string]string
	counted map[string]map[plural.Form]string
	patron  map[string]string // forms put otherwise to the patron than to staff
	to      map[string]string // patron, while the patron is spoken to
}

var english = language{tag: xlanguage.English, own: true}

// form is the form of s in l, for as many as there are.
func (l *language) form(s Saying) (string, bool) {
	if form, ok := l.to[string(s.Form)]; ok {
		return form, true
	}
	if l.own {
		if s.One != "" && s.Count == 1 {
			return string(s.One), true
		}
		return string(s.Form), true
	}
	if s.One != "" {
		forms, ok := l.counted[string(s.Form)]
		n := s.Count
		if n < 0 {
			n = -n
		}
		form, has := forms[plural.Cardinal.MatchPlural(l.tag, n, 0, 0, 0, 0)]
		if !has {
			form, has = forms[plural.Other]
		}
		return form, ok && has
	}
	if form, ok := l.forms[string(s.Form)]; ok {
		return form, true
	}
	return string(s.Form), s.Own || !lettered(s.Form)
}

// lettered says whether a form has words, and so a translation.
func lettered(form Form) bool {
	has := false
	cut(string(form), func(text string) {
		has = has || strings.ContainsFunc(text, func(r rune) bool { return r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' })
	}, func(string, int) {})
	return has
}

func (l *language) arg(a Arg) (string, bool) {
	switch {
	case a.Saying != nil:
		return a.Saying.write(l)
	case a.Currency != "":
		return l.money(a), true
	case a.Number != "":
		return l.number(string(a.Number)), true
	case a.Quoted && l.own:
		return strconv.Quote(a.Name), true
	case a.Quoted:
		return strings.Replace(l.quote, "%s", a.Name, 1), true
	}
	return a.Name, true
}

// number writes digits with the marks of the language.
func (l *language) number(d string) string {
	if l.own || strings.ContainsAny(d, "eENI") {
		return d
	}
	whole, rest, parted := strings.Cut(strings.ReplaceAll(d, "\u202f", ""), ".")
	whole = strings.ReplaceAll(string(Grouped(whole)), "\u202f", l.group)
	if !parted {
		return whole
	}
	return whole + l.decimal + rest
}

func (l *language) money(a Arg) string {
	if l.local {
		if m, err := currency.NewAmount(string(a.Number), a.Currency); err == nil {
			return currency.NewFormatter(currency.NewLocale(l.tag.String())).Format(m)
		}
	}
	return a.Currency + " " + string(a.Number)
}

//go:embed words/*.toml
var files embed.FS

// languages are those the program has words for, by base tag.
var languages = sync.OnceValues(func() (map[string]*language, error) { return load(files) })

// file is how a language's file is written.
type file struct {
	Writing struct{ Decimal, Group, Quote string }
	Say     map[string]string
	Count   map[string]map[string]string
	Patron  map[string]string
}

func load(from fs.FS) (map[string]*language, error) {
	all := map[string]*language{}
	names, err := fs.Glob(from, "words/*.toml")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		var f file
		if _, err := toml.DecodeFS(from, name, &f); err != nil {
			return nil, err
		}
		base, _, _ := strings.Cut(strings.TrimSuffix(path.Base(name), ".toml"), "-")
		l := all[base]
		if l == nil {
			tag, err := xlanguage.Parse(base)
			if err != nil {
				return nil, err
			}
			l = &language{tag: tag, own: base == "en", forms: map[string]string{}, counted: map[string]map[plural.Form]string{}, patron: map[string]string{}}
			all[base] = l
		}
		if f.Writing.Decimal != "" {
			l.decimal, l.group, l.quote = f.Writing.Decimal, f.Writing.Group, f.Writing.Quote
		}
		for key, form := range f.Say {
			l.forms[key] = form
		}
		for key, form := range f.Patron {
			l.patron[key] = form
		}
		for key, forms := range f.Count {
			l.counted[key] = map[plural.Form]string{}
			for name, form := range forms {
				if kind, ok := plurals[name]; ok {
					l.counted[key][kind] = form
				}
			}
		}
	}
	return all, nil
}

var plurals = map[string]plural.Form{"zero": plural.Zero, "one": plural.One, "two": plural.Two, "few": plural.Few, "many": plural.Many, "other": plural.Other}

// In says s in the language of a tag, such as "fr" or "fr-CA", and in English
// where that language has no words for all of it.
func (s Saying) In(tag string) string { return s.Or(tag, "") }

// Or says s in the language of a tag. Where s says nothing, or where the language
// has no words for all of it, it is fallback, or s in English if that is empty. What was kept before sentences were kept as
// data has its English only.
func (s Saying) Or(tag, fallback string) string {
	if fallback == "" {
		fallback = s.String()
	}
	l, ok := speak(tag)
	if !ok || s.Empty() {
		return fallback
	}
	if text, ok := s.write(&l); ok {
		return text
	}
	return fallback
}

// ToPatron is Or, said to the patron: where staff are told what to ask, the
// patron is asked. That goes for English too.
func (s Saying) ToPatron(tag, fallback string) string {
	if fallback == "" {
		fallback = s.String()
	}
	if s.Empty() {
		return fallback
	}
	l, ok := speak(tag)
	if l.to = l.patron; ok {
		if text, ok := s.write(&l); ok {
			return text
		}
	}
	if l, ok = speak("en"); ok { // the whole sentence, never half of it
		l.to = l.patron
		fallback, _ = s.write(&l)
	}
	return fallback
}

// speak is the language of a tag, if there are words for it.
func speak(tag string) (language, bool) {
	t, err := xlanguage.Parse(tag)
	if err != nil {
		return language{}, false
	}
	base, _ := t.Base()
	all, err := languages()
	if err != nil || all[base.String()] == nil {
		return language{}, false
	}
	l := *all[base.String()]
	l.tag, l.local = t, true
	return l, true
}

// All says each of them in the language of a tag, or fallback where there are
// not as many sayings as there.
func All(sayings []Saying, tag string, fallback []string) []string {
	if len(sayings) != len(fallback) {
		return fallback
	}
	var out []string
	for i, s := range sayings {
		out = append(out, s.Or(tag, fallback[i]))
	}
	return out
}
