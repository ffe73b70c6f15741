package findings

import (
	"math"
	"strconv"
	"strings"

	"platebook/engine/mesh"
	"platebook/engine/say"
)

// figure writes a quantity for people: three digits that matter, no exponent.
func figure(x float64) say.Saying {
	a := math.Abs(x)
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return say.Of("an unknown number of")
	case a >= 1e15:
		return say.Of("more than a million million")
	case a >= 100:
		return say.Figure(say.Grouped(strconv.FormatFloat(x, 'f', 0, 64)))
	case a >= 10:
		return say.Figure(trim(strconv.FormatFloat(x, 'f', 1, 64)))
	case a >= 0.095:
		return say.Figure(trim(strconv.FormatFloat(x, 'f', 2, 64)))
	case a < 0.001:
		return say.Figure("0")
	}
	return say.Figure(trim(strconv.FormatFloat(x, 'f', 3, 64)))
}

// trim drops zeros after the decimal point.
func trim(s string) say.Digits {
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return say.Digits(s)
}

func mm(x float64) say.Saying { return say.Of("%s mm", figure(x)) }

func mm2(x float64) say.Saying { return say.Of("%s mm²", figure(x)) }

// sides writes a size as 10 × 20 × 30 mm.
func sides(v mesh.Vec) say.Saying {
	return say.Of("%s × %s × %s mm", figure(v[0]), figure(v[1]), figure(v[2]))
}

// percent writes a share of 0 to 1; the ends are kept for nothing and all.
func percent(share float64) say.Saying {
	switch p := 100 * share; {
	case p > 0 && p < 0.5:
		return say.Of("less than half a percent")
	case p > 99 && p < 100:
		return say.Of("more than 99 %%")
	default:
		return say.Of("%.0f %%", p)
	}
}

// some writes an estimated share.
func some(share float64) say.Saying {
	if share < 0.005 || share > 0.99 {
		return percent(share)
	}
	return say.Of("about %s", percent(share))
}

// hours writes a duration in seconds as people say it.
func hours(s float64) say.Saying {
	switch {
	case !(s >= 0) || s > 1e9:
		return say.Of("an unknown time")
	case s < 90:
		return say.Of("%.0f s", s)
	}
	m := int(math.Ceil(s / 60)) // upward, as everywhere: a promise errs on that side
	switch {
	case m < 60:
		return say.Of("%d min", m)
	case m%60 == 0:
		return say.Of("%d h", m/60)
	}
	return say.Of("%d h %d min", m/60, m%60)
}

// where says in words and figures where p is in a part with the given box.
func where(b mesh.Box, p mesh.Vec) say.Saying {
	third := func(k int, low, mid, high say.Form) say.Saying {
		size := b.Max[k] - b.Min[k]
		form := mid
		if size > 0 {
			switch t := (p[k] - b.Min[k]) / size; {
			case t < 1.0/3:
				form = low
			case t > 2.0/3:
				form = high
			}
		}
		return say.Of(form)
	}
	up := third(2, "low down", "half-way up", "high up")
	y, x := third(1, "at the front", "", "at the back"), third(0, "on the left", "", "on the right")
	if y.Empty() && x.Empty() {
		y = say.Of("in the middle")
	}
	return say.Of("%s (x %s, y %s, z %s mm)", say.Join(" ", up, y, x), figure(p[0]), figure(p[1]), figure(p[2]))
}
