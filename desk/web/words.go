package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"golang.org/x/text/language"

	"platebook/desk"
	"platebook/engine/say"
	"platebook/engine/tariff"
)

// words are everything patrons' pages say, in one language. A language is
// added by a further value of this type and a line in tongues; a test holds
// that nothing in it is empty and that the blanks (%s, %d) are the same.
type words struct {
	Lang string // BCP 47
	Name string // of the language, in itself

	frameWords
	welcomeWords
	askWords
	mineWords
	agreeWords
	leaveWords

	Months, Days []string // January and Sunday first
	DayForm      string   // of weekday, day, month, year, in this order
	MomentForm   string   // of day, month, year, time
	FirstOfMonth string   // how the day 1 is written
	Comma        string   // decimal
	Byte         string   // the unit: "B", so that kB and MB follow
	UnderMinute  string   // a time too short to count
}

// tongues are the languages of patrons' pages; the first stands in for others.
var tongues = []*words{&english, &french}

// tongueOf finds the words of a language by its tag, else nil.
func tongueOf(tag string) *words {
	base, _, _ := strings.Cut(strings.ToLower(tag), "-")
	for _, w := range tongues {
		if w.Lang == base {
			return w
		}
	}
	return nil
}

// spoken are the languages the library offers that pages can be had in.
func spoken(l desk.Library) []*words {
	var all []*words
	for _, tag := range l.Languages {
		if w := tongueOf(tag); w != nil && !slices.Contains(all, w) {
			all = append(all, w)
		}
	}
	if len(all) == 0 {
		return tongues[:1]
	}
	return all
}

// speak chooses the language of a page: the one asked for, else what the
// browser would like best of those the library offers.
func speak(r *http.Request, l desk.Library, asked string) *words {
	all := spoken(l)
	if w := tongueOf(asked); w != nil && slices.Contains(all, w) {
		return w
	}
	var tags []language.Tag
	for _, w := range all {
		tags = append(tags, language.Make(w.Lang))
	}
	header := r.Header.Get("Accept-Language")
	if len(header) > 500 {
		header = ""
	}
	want, _, err := language.ParseAcceptLanguage(header)
	if err != nil || len(want) == 0 {
		return all[0]
	}
	_, i, _ := language.NewMatcher(tags).Match(want...)
	return all[i]
}

// heard gives a visit to patrons' pages that is turned away before its language
// is chosen the one its browser would like best.
func heard(r *http.Request) *http.Request {
	if strings.HasPrefix(r.URL.Path, "/desk") {
		return r
	}
	var all desk.Library
	for _, w := range tongues {
		all.Languages = append(all.Languages, w.Lang)
	}
	return withWords(r, speak(r, all, ""))
}

// withWords makes a page's words those of its frame and its faults as well.
func withWords(r *http.Request, w *words) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), wordsKey, w))
}

// wordsOf are those of the page being made; English where nobody chose.
func wordsOf(ctx context.Context) *words {
	if w, ok := ctx.Value(wordsKey).(*words); ok {
		return w
	}
	return tongues[0]
}

// day is a date: "Wednesday 25 November 2026".
func (w *words) day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return fmt.Sprintf(w.DayForm, w.Days[t.Weekday()], w.dayOfMonth(t), w.Months[t.Month()-1], t.Year())
}

// moment is a date and a time: "25 November 2026, 14:05".
func (w *words) moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return fmt.Sprintf(w.MomentForm, w.dayOfMonth(t), w.Months[t.Month()-1], t.Year(), t.Format("15:04"))
}

func (w *words) dayOfMonth(t time.Time) string {
	if t.Day() == 1 {
		return w.FirstOfMonth
	}
	return strconv.Itoa(t.Day())
}

// decimal writes a number's decimal sign as the language has it. It is for
// numbers that English words were made for.
func (w *words) decimal(s string) string { return strings.ReplaceAll(s, ".", w.Comma) }

// about puts what is said of something after it: "Paid: cash".
func (w *words) about(what, said string) string { return say.Of("%s: %s", what, said).In(w.Lang) }

// bytes says how large a file is.
func (w *words) bytes(n int64) string { return strings.Replace(byteSize(n), "B", w.Byte, 1) }

// lasting says seconds as people do: "3 h 12 min".
func (w *words) lasting(seconds float64) string {
	if seconds > 0 && seconds < 30 {
		return w.UnderMinute
	}
	return lasting(seconds)
}

// money writes an amount in the page's language, as in the library's country.
func (w *words) money(d tariff.Decimal, code, locale string) string {
	return money(d, code, desk.MoneyLocale(locale, w.Lang))
}
