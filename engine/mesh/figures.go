package mesh

import (
	"math"
	"strconv"
	"strings"
)

// Figures for people: three digits that matter, no exponents, and digits in
// groups of three with a narrow no-break space between, from five digits on (SI
// brochure, 9th edition, 5.4.4).

// least is the smallest quantity written out, in mm or mm².
const least = 0.001

// figure writes a quantity. What is there and yet less than least is said to be so.
func figure(x float64) string {
	a := math.Abs(x)
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return "an unknown number of"
	case a >= 1e15:
		return "more than a million million"
	case a >= 100:
		return spaced(strconv.FormatFloat(x, 'f', 0, 64))
	case a == 0:
		return "0"
	case a < least:
		return "less than 0.001"
	}
	// As many places as make three digits, but none beyond least.
	n := 3
	for _, most := range []float64{0.9995, 9.995, 99.95} {
		if a >= most {
			n--
		}
	}
	s := strconv.FormatFloat(x, 'f', n, 64)
	if n > 0 {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// mm writes a length.
func mm(x float64) string { return figure(x) + " mm" }

// whole writes a number of things.
func whole(n int) string { return spaced(strconv.Itoa(n)) }

// place writes where a point lies, in mm.
func place(v Vec) string { return "(" + spot(v[0]) + ", " + spot(v[1]) + ", " + spot(v[2]) + ")" }

// spot writes one coordinate: to 0.1 mm, since it is to be found, not measured.
func spot(x float64) string {
	switch {
	case math.Abs(x) < 0.05:
		return "0"
	case math.Abs(x) >= 1000:
		return figure(x)
	}
	return strings.TrimSuffix(strconv.FormatFloat(x, 'f', 1, 64), ".0")
}

// spaced puts digits into groups of three.
func spaced(s string) string {
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	if len(s) < 5 {
		return sign + s
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "\u202f" + s[i:]
	}
	return sign + s
}
