package web

import (
	"fmt"
	"net/http"
	"reflect"
	"regexp"
	"slices"
	"testing"
	"time"

	"platebook/desk"
)

// texts calls do with every text of w, by the name of its field.
func (w *words) texts(do func(name, text string)) {
	var walk func(name string, v reflect.Value)
	walk = func(name string, v reflect.Value) {
		switch v.Kind() {
		case reflect.String:
			do(name, v.String())
		case reflect.Slice:
			for i := range v.Len() {
				walk(fmt.Sprintf("%s[%d]", name, i), v.Index(i))
			}
		case reflect.Struct:
			for i := range v.NumField() {
				walk(name+"."+v.Type().Field(i).Name, v.Field(i))
			}
		case reflect.Map:
			for _, k := range v.MapKeys() {
				walk(fmt.Sprintf("%s[%v]", name, k), v.MapIndex(k))
			}
		}
	}
	walk("words", reflect.ValueOf(*w))
}

var blank = regexp.MustCompile(`%[^%]`)

// Every language says everything English does, with the same blanks.
func TestEveryLanguageSaysEverything(t *testing.T) {
	said := map[string]string{}
	english.texts(func(name, text string) { said[name] = text })
	if len(said) < 150 {
		t.Fatalf("looked at %d texts only", len(said))
	}
	for _, w := range tongues {
		n := 0
		w.texts(func(name, text string) {
			n++
			en, ok := said[name]
			switch {
			case !ok:
				t.Errorf("%s: %s is not in English", w.Lang, name)
			case text == "":
				t.Errorf("%s: %s is empty", w.Lang, name)
			case !slices.Equal(blank.FindAllString(text, -1), blank.FindAllString(en, -1)):
				t.Errorf("%s: %s has other blanks: %q, in English %q", w.Lang, name, text, en)
			}
		})
		if n != len(said) {
			t.Errorf("%s says %d of %d texts", w.Lang, n, len(said))
		}
	}
}

// All states, kinds and rules have words.
func TestWordsForEverything(t *testing.T) {
	for _, w := range tongues {
		for _, s := range desk.States() {
			if w.stateName(s) == "" {
				t.Errorf("%s: no word for %q", w.Lang, s)
			}
			if !s.Over() && w.Standing[s] == "" {
				t.Errorf("%s: nothing said while %q", w.Lang, s)
			}
		}
		for _, k := range []desk.Kind{desk.Wrong, desk.NotFound, desk.NotYours, desk.NotNow, desk.Stale, desk.TooMany, desk.NoRoom, desk.Broken} {
			if w.FaultTitles[k] == "" {
				t.Errorf("%s: no title for a %s fault", w.Lang, k)
			}
		}
	}
}

func TestLanguageOfAPage(t *testing.T) {
	two := desk.Library{Languages: []string{"en", "fr"}}
	for _, c := range []struct {
		l             desk.Library
		header, asked string
		want          string
	}{
		{two, "", "", "en"},
		{two, "fr-CA,fr;q=0.9,en;q=0.5", "", "fr"},
		{two, "de,fr;q=0.4,en;q=0.3", "", "fr"},
		{two, "de", "", "en"},
		{two, "fr", "en", "en"},
		{two, "en", "fr-BE", "fr"},
		{two, "fr", "xx", "fr"},
		{two, ";;;q=,,\xff", "", "en"},
		{desk.Library{Languages: []string{"en"}}, "fr", "fr", "en"}, // not offered by the library
		{desk.Library{Languages: []string{"fr", "en"}}, "de", "", "fr"},
		{desk.Library{Languages: []string{"cy"}}, "fr", "", "en"},
	} {
		r := &http.Request{Header: http.Header{"Accept-Language": {c.header}}}
		if got := speak(r, c.l, c.asked); got.Lang != c.want {
			t.Errorf("library %v, browser %q, asked %q: %s, want %s", c.l.Languages, c.header, c.asked, got.Lang, c.want)
		}
	}
}

// Dates as the languages write them (CUSTOM).
func TestDatesInWords(t *testing.T) {
	first := time.Date(2026, 5, 1, 14, 5, 0, 0, time.UTC)
	for _, c := range []struct {
		w           *words
		day, moment string
	}{
		{&english, "Friday 1 May 2026", "1 May 2026, 14:05"},
		{&french, "vendredi 1er mai 2026", "1er mai 2026, 14:05"},
	} {
		if got := c.w.day(first); got != c.day {
			t.Errorf("%s: %q, want %q", c.w.Lang, got, c.day)
		}
		if got := c.w.moment(first); got != c.moment {
			t.Errorf("%s: %q, want %q", c.w.Lang, got, c.moment)
		}
	}
}

// A time too short to count is said in the page's language; others need no words.
func TestLasting(t *testing.T) {
	for _, c := range []struct {
		w       *words
		seconds float64
		want    string
	}{{&english, 20, "under a minute"}, {&french, 20, "moins d’une minute"}, {&french, 30, "1 min"}, {&french, 0, "0 min"}, {&french, 3*3600 + 12*60, "3 h 12 min"}} {
		if got := c.w.lasting(c.seconds); got != c.want {
			t.Errorf("%s, %v s: %q, want %q", c.w.Lang, c.seconds, got, c.want)
		}
	}
}
