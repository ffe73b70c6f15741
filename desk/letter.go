package desk

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"platebook/engine/tariff"
)

// Letter is all that a message text may speak of. In a text, {{.Code}} becomes
// the code, and {{if .Owed}} asks whether there is something to pay.
type Letter struct {
	Library  string // name of the service
	Contact  string // how to reach the desk, as in the library's settings
	Branch   string // where the patron collects
	Place    string // how to find it, or where on the shelf
	Name     string // of the patron, and of the guardian who stands for them
	UnderAge bool   // the patron is under the age at which they may agree alone
	Age      int    // that age
	Code     string
	Link     string   // the patron's own page
	Files    []string // names, as sent
	Ways     []LetterWay
	Until    string // the day the offer, or the time on the hold shelf, ends
	Price    string // agreed; empty before
	Pays     string // "quoted", "weighed" or "lower": which price counts
	Owed     string // what is still to pay; empty when nothing is
	Cautions []string
	Found    []string // what the check noticed and must be settled, a sentence each
	Fine     bool     // the check found nothing against printing
	Odd      []string // what could not be read of the patron's letter, a sentence each
	Question string   // what is to be settled first
	Reason   string   // why declined, or what went wrong
	OnShelf  bool     // it is (or was) on the hold shelf, and not waiting for an answer
}

// LetterWay is one way in a Letter.
type LetterWay struct {
	Name  string // short, in the language of the letter
	Says  string // a sentence
	Size  string // "80 × 40 × 22 mm"; of several parts, each
	Grams string
	Time  string
	Price string
	Best  bool // staff would take it
}

// Extra is what a message needs beyond the request; zero fields are taken from
// the request, or left out.
type Extra struct {
	Branch   Branch
	Files    []File
	Ways     []Way
	Best     string
	Until    time.Time
	Owed     tariff.Decimal // 0 or less is nothing to pay
	Question string
	Reason   string
	Found    []FileFinding
	Fine     bool
	Odd      []Oddity
	OnShelf  bool // of a request that is over: it was on the hold shelf
}

// letter gathers what a text may say, in a language.
func letter(s Settings, r Request, key, language string, x Extra) Letter {
	zone := s.Library.Zone()
	l := Letter{
		Library: oneLine(s.Library.Name), Contact: oneLine(s.Library.Contact),
		Branch: oneLine(x.Branch.Name), Place: oneLine(x.Branch.Place),
		Name: oneLine(r.Contact.Name), UnderAge: r.Contact.UnderAge, Age: s.Rules.Age, Code: string(r.Code),
		Link: PatronLink(s, key),
		Pays: string(s.Rules.FinalPrice), Cautions: s.Cautions(language),
		Found: foundInWords(x.Found, language), Fine: x.Fine, Odd: toPatron(x.Odd, language),
		Question: plain(x.Question), Reason: plain(x.Reason), OnShelf: x.OnShelf || r.State == OnShelf || r.State.Over() && r.Shelf != nil,
	}
	if l.Reason == "" {
		l.Reason = plain(r.Reason)
	}
	if l.Pays == "" {
		l.Pays = string(TheLower)
	}
	if l.Name == "" {
		l.Name = string(r.Code)
	}
	if r.Contact.UnderAge && strings.TrimSpace(r.Contact.Guardian) != "" {
		l.Name += ", " + oneLine(r.Contact.Guardian)
	}
	// A letter is about the models: pictures that programs put under every letter
	// are no part of the request.
	models := slices.DeleteFunc(slices.Clone(x.Files), func(f File) bool { return f.Check == NoModel })
	if len(models) == 0 {
		models = x.Files
	}
	for _, f := range models {
		l.Files = append(l.Files, oneLine(f.Name))
	}
	money := moneyLocale(s.Library.Locale, language)
	ways, best, until := x.Ways, x.Best, x.Until
	if q := r.Quote; q != nil {
		if ways == nil {
			ways, best = q.Ways, q.Best
		}
		if until.IsZero() {
			until = q.Until
		}
	}
	if a := r.Agreement; a != nil {
		l.Price = a.Way.Price.Format(a.Way.Price.Total, money)
		if x.Ways == nil {
			ways, best = []Way{a.Way}, ""
		}
	}
	if r.Shelf != nil {
		if x.Until.IsZero() {
			until = r.Shelf.Until
		}
		if r.Shelf.Place != "" {
			l.Place = oneLine(r.Shelf.Place)
		}
	}
	if !until.IsZero() {
		l.Until = DayInWords(until.In(zone), language)
	}
	for _, w := range ways {
		l.Ways = append(l.Ways, letterWay(w, language, money, w.ID == best))
	}
	if n, ok := amountAbove(x.Owed); ok {
		owes := tariff.Price{Currency: s.Tariff.Currency}
		if a := r.Agreement; a != nil { // which stays in its own, whatever the library changed to since
			owes.Currency = cmp.Or(a.Way.Price.Currency, owes.Currency)
		}
		l.Owed = owes.Format(n, money)
	}
	return l
}

func letterWay(w Way, language, money string, best bool) LetterWay {
	grams, sizes := 0.0, []string{}
	for _, g := range w.Grams {
		grams += g
	}
	for _, p := range w.Parts {
		size := fmt.Sprintf("%s × %s × %s mm", millimetres(p.SizeMM[0]), millimetres(p.SizeMM[1]), millimetres(p.SizeMM[2]))
		if p.Copies > 1 {
			size = fmt.Sprintf("%d × (%s)", p.Copies, size)
		}
		if len(sizes) == 6 && len(w.Parts) > 7 {
			size = "…"
		}
		if len(sizes) < 7 {
			sizes = append(sizes, size)
		}
	}
	return LetterWay{
		Name: WayName(w.ID, language), Says: oneSentence(w.SaysIn(money)), Size: strings.Join(sizes, ", "),
		Grams: strconv.FormatFloat(math.Round(grams), 'f', 0, 64) + " g", Time: hoursInWords(w.Seconds),
		Price: w.Price.Format(w.Price.Total, money), Best: best,
	}
}

// WayName is what a way of an offer is called, in English or French.
func WayName(id, language string) string {
	names := map[string][2]string{
		"sensible": {"As we would print it", "Notre façon habituelle"},
		"cheaper":  {"Cheaper", "Moins chère"},
		"finer":    {"Finer", "Plus fine"},
		"largest":  {"As large as it goes", "La plus grande possible"},
		"soluble":  {"With supports that dissolve", "Avec supports solubles"},
	}
	n, ok := names[id]
	switch {
	case !ok:
		return oneLine(id)
	case baseLanguage(language) == "fr":
		return n[1]
	}
	return n[0]
}

// DayInWords writes a day as people do in English or French, and for other
// languages as ISO 8601 does.
func DayInWords(t time.Time, language string) string {
	switch baseLanguage(language) {
	case "en":
		return t.Format("Monday 2 January 2006")
	case "fr":
		days := [...]string{"dimanche", "lundi", "mardi", "mercredi", "jeudi", "vendredi", "samedi"}
		months := [...]string{"janvier", "février", "mars", "avril", "mai", "juin", "juillet", "août", "septembre", "octobre", "novembre", "décembre"}
		day := strconv.Itoa(t.Day())
		if t.Day() == 1 {
			day = "1er"
		}
		return fmt.Sprintf("%s %s %s %d", days[t.Weekday()], day, months[t.Month()-1], t.Year())
	}
	return t.Format(time.DateOnly)
}

// hoursInWords writes a length of time to five minutes: "3 h 20 min".
func hoursInWords(seconds float64) string {
	if !(seconds > 0) || seconds > 1e9 {
		return "0 min"
	}
	m := int(math.Ceil(seconds/300)) * 5
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

func millimetres(v float64) string {
	if v < 10 {
		return strconv.FormatFloat(math.Round(v*10)/10, 'f', -1, 64)
	}
	return strconv.FormatFloat(math.Round(v), 'f', 0, 64)
}

// moneyLocale writes money in the letter's language, as the library's country does.
func moneyLocale(locale, language string) string {
	base := baseLanguage(language)
	if base == "" || base == baseLanguage(locale) {
		return locale
	}
	if _, region, ok := strings.Cut(locale, "-"); ok {
		return base + "-" + region
	}
	return base
}

// amountAbove says whether d is a number above zero.
func amountAbove(d tariff.Decimal) (tariff.Decimal, bool) {
	n := d.Number()
	if n == "" || strings.HasPrefix(n, "-") || strings.Trim(n, "0.") == "" {
		return "", false
	}
	return d, true
}

// oneLine makes text from outside fit for a subject or the middle of a
// sentence: no line ends, no control or direction characters, not too long.
func oneLine(text string) string { return CleanLine(text, maxSubject) }

// oneSentence is oneLine for what the engine says: spaces at which a line must
// not break stay so.
func oneSentence(text string) string {
	for _, kept := range []string{"\u00a0", "\u202f"} {
		if before, after, ok := strings.Cut(text, kept); ok {
			return oneSentence(before) + kept + oneSentence(after)
		}
	}
	return CleanLine(text, maxText) // a way's sentence may be longer than a subject, and ends in what it is not good for
}

// plain makes text from outside fit for the body of a message.
func plain(text string) string { return CleanText(text, maxText) }

const (
	maxText    = 10_000 // characters of a message
	maxSubject = 200
)
