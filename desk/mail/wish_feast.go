package mail

import (
	"strconv"
	"strings"
	"time"
)

// A feast is a day of the year, or so many days from Easter Sunday.
type feast struct {
	month, day int
	easter     bool
}

// next is the day it is kept on next, from today on.
func (f feast) next(today time.Time) time.Time {
	for y := today.Year(); ; y++ {
		t := time.Date(y, time.Month(f.month), f.day, 0, 0, 0, 0, time.UTC)
		if f.easter {
			t = easter(y).AddDate(0, 0, f.day)
		}
		if !t.Before(today) {
			return t
		}
	}
}

// easter is Easter Sunday of the western churches: the Sunday after the full
// moon, by the church's reckoning, that falls on 21 March or next after it.
// Notation and way are those of the anonymous reckoning of 1876, as in J. Meeus,
// Astronomical Algorithms, chapter 8.
func easter(year int) time.Time {
	a, b, c := year%19, year/100, year%100
	h := (19*a + b - b/4 - (b-(b+8)/25+1)/3 + 15) % 30
	l := (32 + 2*(b%4) + 2*(c/4) - h - c%4) % 7
	n := h + l - 7*((a+11*h+22*l)/451) + 114
	return time.Date(year, time.Month(n/31), n%31+1, 0, 0, 0, 0, time.UTC)
}

// feastsOf reads "christmas 12-25; good friday easter-2".
func feastsOf(table string) map[string]feast {
	out := map[string]feast{}
	for _, row := range strings.Split(table, ";") {
		words := strings.Fields(row)
		if len(words) < 2 {
			continue
		}
		when := words[len(words)-1]
		name := strings.Join(words[:len(words)-1], " ")
		var f feast
		if days, ok := strings.CutPrefix(when, "easter"); ok {
			f.easter = true
			f.day, _ = strconv.Atoi(days) // none is 0
		} else {
			m, d, _ := strings.Cut(when, "-")
			f.month, _ = strconv.Atoi(m)
			f.day, _ = strconv.Atoi(d)
		}
		out[name] = f
		if plain := folded(name); len(plain) > 4 {
			out[plain] = f
		}
	}
	return out
}
