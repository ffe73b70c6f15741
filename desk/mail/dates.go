package mail

import (
	"regexp"
	"strconv"
	"strings"
	"time"
)

var months = map[string]time.Month{
	"january": 1, "jan": 1, "february": 2, "feb": 2, "march": 3, "mar": 3, "april": 4, "apr": 4, "may": 5, "june": 6, "jun": 6,
	"july": 7, "jul": 7, "august": 8, "aug": 8, "september": 9, "sept": 9, "sep": 9, "october": 10, "oct": 10, "november": 11, "nov": 11, "december": 12, "dec": 12,
	"janvier": 1, "février": 2, "fevrier": 2, "mars": 3, "avril": 4, "mai": 5, "juin": 6, "juillet": 7, "août": 8, "aout": 8, "septembre": 9, "octobre": 10, "novembre": 11, "décembre": 12, "decembre": 12,
}

var weekdays = map[string]time.Weekday{
	"sunday": 0, "monday": 1, "tuesday": 2, "wednesday": 3, "thursday": 4, "friday": 5, "saturday": 6,
	"dimanche": 0, "lundi": 1, "mardi": 2, "mercredi": 3, "jeudi": 4, "vendredi": 5, "samedi": 6,
}

const monthNames = `january|february|march|april|may|june|july|august|september|october|november|december|jan|feb|mar|apr|jun|jul|aug|sept|sep|oct|nov|dec|janvier|février|fevrier|mars|avril|mai|juin|juillet|août|aout|septembre|octobre|novembre|décembre|decembre`
const dayNames = `sunday|monday|tuesday|wednesday|thursday|friday|saturday|dimanche|lundi|mardi|mercredi|jeudi|vendredi|samedi`
const by = `(?:by|before|until|for|on|due|needed|avant|pour|d'ici|le)`

var (
	isoDate   = regexp.MustCompile(`\b(20\d\d)-(\d\d)-(\d\d)\b`)
	dayMonth  = regexp.MustCompile(`(?i)\b(\d{1,2})(?:st|nd|rd|th|er)?\s+(?:of\s+)?(` + monthNames + `)\b\.?(?:,?\s+(20\d\d)\b)?`)
	monthDay  = regexp.MustCompile(`(?i)\b(` + monthNames + `)\.?\s+(\d{1,2})(?:st|nd|rd|th)?\b(?:,?\s+(20\d\d)\b)?`)
	byWeekday = regexp.MustCompile(`(?i)\b` + by + `\s+(?:the\s+|le\s+)?(next\s+|this\s+)?(` + dayNames + `)(\s+prochain)?\b`)
	inDays    = regexp.MustCompile(`(?i)\b(?:in|within|dans|d'ici)\s+(\d{1,2}|one|two|three|a|un|une|deux|trois)\s+(days?|weeks?|jours?|semaines?)\b`)
	tomorrow  = regexp.MustCompile(`(?i)\b` + by + `\s+(tomorrow|demain)\b`)
)

// dates finds by when it is needed. A date written with slashes can mean two
// days and is left to the reader. One without a year is the next such day; a
// weekday is the next one after today, "next" the one in the week after that
// only where people agree on it, so it too is the coming one, and the words
// beside it let staff ask.
func (w *wisher) dates() {
	today := w.stock.Today
	if today.IsZero() {
		return
	}
	today = time.Date(today.Year(), today.Month(), today.Day(), 0, 0, 0, 0, time.UTC)
	put := func(d time.Time, m []int) {
		if d.Before(today) || d.After(today.AddDate(2, 0, 0)) || !w.free(m[0], m[1]) {
			return
		}
		w.add(NeededField, d.Format("2006-01-02"), "", m[0], m[1])
	}
	group := func(m []int, g int) string {
		if m[2*g] < 0 {
			return ""
		}
		return strings.ToLower(w.text[m[2*g]:m[2*g+1]])
	}
	dated := func(m []int, day string, month time.Month, year string) {
		d, err := strconv.Atoi(day)
		if err != nil {
			return
		}
		y := today.Year()
		if year != "" {
			y, _ = strconv.Atoi(year)
		}
		t := time.Date(y, month, d, 0, 0, 0, 0, time.UTC)
		if t.Day() != d { // the 31st of June
			return
		}
		if year == "" && t.Before(today) {
			t = time.Date(y+1, month, d, 0, 0, 0, 0, time.UTC)
			if t.Day() != d {
				return
			}
		}
		put(t, m)
	}
	for _, m := range isoDate.FindAllStringSubmatchIndex(w.text, 5) {
		if n, _ := strconv.Atoi(group(m, 2)); n >= 1 && n <= 12 {
			dated(m, group(m, 3), time.Month(n), group(m, 1))
		}
	}
	for _, m := range dayMonth.FindAllStringSubmatchIndex(w.text, 5) {
		dated(m, group(m, 1), months[group(m, 2)], group(m, 3))
	}
	for _, m := range monthDay.FindAllStringSubmatchIndex(w.text, 5) {
		dated(m, group(m, 2), months[group(m, 1)], group(m, 3))
	}
	for _, m := range byWeekday.FindAllStringSubmatchIndex(w.text, 5) {
		ahead := (int(weekdays[group(m, 2)]) - int(today.Weekday()) + 7) % 7
		if ahead == 0 {
			ahead = 7
		}
		put(today.AddDate(0, 0, ahead), m)
	}
	for _, m := range inDays.FindAllStringSubmatchIndex(w.text, 5) {
		n, err := strconv.Atoi(group(m, 1))
		if err != nil {
			n = map[string]int{"a": 1, "one": 1, "un": 1, "une": 1, "two": 2, "deux": 2, "three": 3, "trois": 3}[group(m, 1)]
		}
		if strings.HasPrefix(group(m, 2), "week") || strings.HasPrefix(group(m, 2), "sem") {
			n *= 7
		}
		put(today.AddDate(0, 0, n), m)
	}
	for _, m := range tomorrow.FindAllStringSubmatchIndex(w.text, 2) {
		put(today.AddDate(0, 0, 1), m)
	}
}
