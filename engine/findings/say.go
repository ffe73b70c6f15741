package findings

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"platebook/engine/mesh"
)

// figure writes a quantity for people: three digits that matter, no exponent.
func figure(x float64) string {
	a := math.Abs(x)
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return "an unknown number of"
	case a >= 1e15:
		return "more than a million million"
	case a >= 100:
		return spaced(strconv.FormatFloat(x, 'f', 0, 64))
	case a >= 10:
		return trim(strconv.FormatFloat(x, 'f', 1, 64))
	case a >= 0.095:
		return trim(strconv.FormatFloat(x, 'f', 2, 64))
	case a < 0.001:
		return "0"
	}
	return trim(strconv.FormatFloat(x, 'f', 3, 64))
}

// trim drops zeros after the decimal point.
func trim(s string) string {
	if !strings.Contains(s, ".") {
		return s
	}
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}

// spaced groups digits by threes from 10 000 on (SI brochure, 5.4.4).
func spaced(s string) string {
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	if len(s) < 5 {
		return sign + s
	}
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + " " + s[i:]
	}
	return sign + s
}

func mm(x float64) string { return figure(x) + " mm" }

func mm2(x float64) string { return figure(x) + " mm²" }

// sides writes a size as 10 × 20 × 30 mm.
func sides(v mesh.Vec) string {
	return figure(v[0]) + " × " + figure(v[1]) + " × " + figure(v[2]) + " mm"
}

// percent writes a share of 0 to 1; the ends are kept for nothing and all.
func percent(share float64) string {
	switch p := 100 * share; {
	case p > 0 && p < 0.5:
		return "less than half a percent"
	case p > 99 && p < 100:
		return "more than 99 %"
	default:
		return fmt.Sprintf("%.0f %%", p)
	}
}

// some writes an estimated share.
func some(share float64) string {
	if share < 0.005 || share > 0.99 {
		return percent(share)
	}
	return "about " + percent(share)
}

// start makes the first letter of a sentence a capital.
func start(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// count writes a number with its noun: "1 gap", "3 gaps".
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return spaced(strconv.Itoa(n)) + " " + many
}

// hours writes a duration in seconds as people say it.
func hours(s float64) string {
	switch {
	case !(s >= 0) || s > 1e9:
		return "an unknown time"
	case s < 90:
		return fmt.Sprintf("%.0f s", s)
	}
	m := int(math.Ceil(s / 60)) // upward, as everywhere: a promise errs on that side
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

// where says in words and figures where p is in a part with the given box.
func where(b mesh.Box, p mesh.Vec) string {
	third := func(k int, low, mid, high string) string {
		size := b.Max[k] - b.Min[k]
		if !(size > 0) {
			return mid
		}
		switch t := (p[k] - b.Min[k]) / size; {
		case t < 1.0/3:
			return low
		case t > 2.0/3:
			return high
		}
		return mid
	}
	words := []string{third(2, "low down", "half-way up", "high up")}
	if y := third(1, "at the front", "", "at the back"); y != "" {
		words = append(words, y)
	}
	if x := third(0, "on the left", "", "on the right"); x != "" {
		words = append(words, x)
	}
	if len(words) == 1 {
		words = append(words, "in the middle")
	}
	return fmt.Sprintf("%s (x %s, y %s, z %s mm)", strings.Join(words, " "), figure(p[0]), figure(p[1]), figure(p[2]))
}

// list joins words with commas and "and".
func list(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}
