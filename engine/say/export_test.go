package say

import (
	"testing"

	"golang.org/x/text/feature/plural"
)

// Source reads what the program says from its source: the forms and where they
// stand, and the form for one that goes with each form for many.
func Source() (map[Form]string, map[Form]Form, error) {
	s, err := source()
	if err != nil {
		return nil, nil, err
	}
	return s.forms, s.counted, nil
}

// Language is what a test sees of one.
type Language struct {
	Forms   map[string]string
	Counted map[string]map[plural.Form]string
	Patron  map[string]string
	of      *language
}

// Languages are those of the program, by tag.
func Languages(t *testing.T) map[string]Language {
	t.Helper()
	all, err := languages()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]Language{}
	for tag, l := range all {
		out[tag] = Language{l.forms, l.counted, l.patron, l}
	}
	return out
}

// Plurals are the forms the language has for whole numbers a print comes to.
func (l Language) Plurals() []plural.Form {
	seen := map[plural.Form]bool{}
	var all []plural.Form
	for n := range 1000 {
		if p := plural.Cardinal.MatchPlural(l.of.tag, n, 0, 0, 0, 0); !seen[p] {
			seen[p] = true
			all = append(all, p)
		}
	}
	return all
}

func Lettered(f Form) bool  { return lettered(f) }
func Verbs(f Form) []string { return verbs(f) }
