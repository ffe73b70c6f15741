package web

import (
	"crypto/rand"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/bojanz/currency"

	"platebook/desk"
	"platebook/engine/tariff"
)

// funcs are what templates may call. Times are shown as they are given: take
// them to the branch's clock first (see local).
var funcs = template.FuncMap{
	"day":     day,
	"clock":   clock,
	"moment":  moment,
	"machine": machine,
	"lasting": lasting,
	"grams":   grams,
	"mm":      mm,
	"size":    size,
	"bytes":   byteSize,
	"money":   money,
	"state":   stateWord,
	"many":    many,
	"lines":   paragraphs,
	"missed":  missedHead,
	"token":   formToken,
	"here":    func(path, prefix string) bool { return path == prefix || strings.HasPrefix(path, prefix+"/") },
	"add":     func(a, b int) int { return a + b },
	"list":    func(s ...string) []string { return s },
}

// formToken is what a form carries so that sending it twice does its work once.
func formToken() string { return rand.Text() }

// formOf returns the once-only token a form carries.
func formOf(r *http.Request) (string, error) { return soundToken(r.PostFormValue("form")) }

// soundToken is t if it can have come from formToken.
func soundToken(t string) (string, error) {
	if len(t) < 16 || len(t) > 64 || strings.ContainsFunc(t, func(c rune) bool {
		return !(c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-' || c == '_')
	}) {
		return "", &desk.Fault{Kind: desk.Wrong, Say: english.FormApart, Err: errApart}
	}
	return t, nil
}

// local takes a time to a zone by its IANA name; one that is not known leaves
// it in UTC.
func local(t time.Time, zone string) time.Time {
	where, err := time.LoadLocation(zone)
	if err != nil {
		return t.UTC()
	}
	return t.In(where)
}

// day is a date: "Wednesday 25 November 2026"; the zero time is empty.
func day(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("Monday 2 January 2006")
}

// clock is a time of day: "14:05".
func clock(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("15:04")
}

// moment is a date and a time, short: "25 Nov 2026, 14:05".
func moment(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format("2 Jan 2006, 15:04")
}

// machine is a time for the datetime attribute of a <time>.
func machine(t time.Time) string { return t.Format(time.RFC3339) }

// lasting says seconds as people do: "3 h 12 min", "45 min".
func lasting(seconds float64) string {
	if !(seconds >= 0) || seconds > 1e9 {
		return "unknown"
	}
	m := int(math.Round(seconds / 60))
	switch {
	case m == 0 && seconds > 0:
		return "under a minute"
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

// grams says a weight: "0.4 g", "23 g".
func grams(g float64) string {
	if math.IsNaN(g) || math.IsInf(g, 0) {
		return "unknown"
	}
	if g != 0 && math.Abs(g) < 9.95 {
		return strconv.FormatFloat(g, 'f', 1, 64) + " g"
	}
	return strconv.FormatFloat(g, 'f', 0, 64) + " g"
}

// mm says a length: "80 mm", "3.4 mm".
func mm(x float64) string { return length(x) + " mm" }

func length(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "?"
	}
	if math.Abs(x) < 9.95 {
		return strconv.FormatFloat(math.Round(x*10)/10, 'f', -1, 64)
	}
	return strconv.FormatFloat(x, 'f', 0, 64)
}

// size says three lengths: "80 × 62 × 79 mm".
func size(v [3]float64) string {
	return length(v[0]) + " × " + length(v[1]) + " × " + length(v[2]) + " mm"
}

// byteSize says how large a file is: "640 B", "2.1 MB".
func byteSize(n int64) string {
	switch {
	case n < 1000:
		return fmt.Sprintf("%d B", n)
	case n < 999_500:
		return fmt.Sprintf("%.0f kB", float64(n)/1e3)
	case n < 9_950_000:
		return fmt.Sprintf("%.1f MB", float64(n)/1e6)
	}
	return fmt.Sprintf("%.0f MB", float64(n)/1e6)
}

// money writes an amount as people of a locale do: "£3.30".
func money(d tariff.Decimal, code, locale string) string {
	a, err := currency.NewAmount(d.Number(), code)
	if err != nil {
		return d.Number() + " " + code
	}
	return currency.NewFormatter(currency.NewLocale(locale)).Format(a)
}

// stateWord is a state as a sentence begins: "In review".
func stateWord(s desk.State) string {
	if s == "" {
		return ""
	}
	return strings.ToUpper(string(s[:1])) + string(s[1:])
}

// many counts things: "1 request", "3 requests".
func many(n int, one, more string) string {
	if n == 1 {
		return "1 " + one
	}
	return strconv.Itoa(n) + " " + more
}

// paragraphs cuts a text where a line is empty.
func paragraphs(text string) []string {
	var ps []string
	for p := range strings.SplitSeq(strings.ReplaceAll(text, "\r\n", "\n"), "\n\n") {
		if p = strings.TrimSpace(p); p != "" {
			ps = append(ps, p)
		}
	}
	return ps
}
