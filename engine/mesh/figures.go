package mesh

import (
	"math"
	"strconv"
	"strings"

	"platebook/engine/say"
)

// Figures for people: three digits that matter, no exponents, and digits in
// groups of three with a narrow no-break space between, from five digits on (SI
// brochure, 9th edition, 5.4.4).

// least is the smallest quantity written out, in mm or mm².
const least = 0.001

// figure writes a quantity. What is there and yet less than least is said to be so.
func figure(x float64) say.Saying {
	a := math.Abs(x)
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return say.Of("an unknown number of")
	case a >= 1e15:
		return say.Of("more than a million million")
	case a >= 100:
		return say.Figure(say.Grouped(strconv.FormatFloat(x, 'f', 0, 64)))
	case a == 0:
		return say.Figure("0")
	case a < least:
		return say.Of("less than %s", say.Digits("0.001"))
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
	return say.Figure(say.Digits(s))
}

// mm writes a length.
func mm(x float64) say.Saying { return say.Of("%s mm", figure(x)) }

// place writes where a point lies, in mm.
func place(v Vec) say.Saying {
	return say.Of("(%s, %s, %s)", spot(v[0]), spot(v[1]), spot(v[2]))
}

// spot writes one coordinate: to 0.1 mm, since it is to be found, not measured.
func spot(x float64) say.Saying {
	switch {
	case math.Abs(x) < 0.05:
		return say.Figure("0")
	case math.Abs(x) >= 1000:
		return figure(x)
	}
	return say.Figure(say.Digits(strings.TrimSuffix(strconv.FormatFloat(x, 'f', 1, 64), ".0")))
}
