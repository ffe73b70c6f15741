package quote

import (
	"math"
	"strconv"

	"platebook/engine/printer"
	"platebook/engine/tariff"
)

// How time and price grow with size.
//
// Notation: r a size over that of a trial; t(r) = w + a·r^p, w what does not
// grow (warm-up; set-up of a price). Shells and solid layers grow with the
// square of the size, infill and supports with its cube, layers with the size
// itself, so p lies between 1 and 3. From one trial p follows from where its
// seconds went; from two it is what makes both true. The second prediction is
// good to a few thousandths, so few plans are needed to find the last size that
// keeps to a limit.
type growth struct {
	size        int
	fixed, rest float64
	power       float64
}

func (g growth) at(size int) float64 {
	return g.fixed + float64(g.rest*math.Pow(float64(size)/float64(g.size), g.power))
}

// grown fits growth to a trial, and to another at another size if there is one.
func grown(size int, value, fixed, power float64, size2 int, value2 float64) growth {
	g := growth{size, fixed, max(value-fixed, 0), power}
	if size2 != 0 && size2 != size && value > fixed && value2 > fixed {
		p := math.Log((value2-fixed)/(value-fixed)) / math.Log(float64(size2)/float64(size))
		if p > 0.5 && p < 4 {
			g.power = p
		}
	}
	return g
}

// prediction says whether a size will keep to the limits, from one or two trials.
type prediction struct {
	limit       Limits
	copies      float64
	time, price growth
}

func (w *workshop) predict(t, other *trial) prediction {
	f := t.figures
	p := f.TimeParts
	one := p.LayerChange + p.Waiting + p.BasePurge + p.ToolChange
	two := p.Shells + p.Solid + p.Travel
	three := p.Infill + p.Supports
	power, inside := 2.3, 2.5
	if all := one + two + three; all > 0 {
		power = (one + float64(2*two) + float64(3*three)) / all
	}
	set := 0.0
	for _, l := range f.Price.Lines {
		if l.Kind == tariff.SetUp {
			set, _ = strconv.ParseFloat(l.Amount.Number(), 64)
		}
	}
	size2, time2, price2 := 0, 0.0, 0.0
	if other != nil && other.figures != nil {
		size2, time2, price2 = other.size, other.figures.PrintTimeS, total(other.figures)
	}
	return prediction{
		limit: w.limit, copies: float64(f.Copies),
		time:  grown(t.size, f.PrintTimeS, p.WarmUp, power, size2, time2),
		price: grown(t.size, total(f), set, inside, size2, price2),
	}
}

// over is how far the worst limit of time is passed at a size: 1 is just kept.
func (p prediction) over(size int) float64 {
	worst, time := 0.0, p.time.at(size)
	if l := p.limit.LongestPrint; l > 0 {
		worst = time / l
	}
	if l := p.limit.Within; l > 0 {
		worst = max(worst, float64(time*p.copies)/l)
	}
	return worst
}

// overAny is over with the budget. Prices go in steps of a gram, so this is no
// more than where to look.
func (p prediction) overAny(size int) float64 {
	if l := p.limit.Budget; l > 0 {
		return max(p.over(size), p.price.at(size)/l)
	}
	return p.over(size)
}

// last is the largest size up to highest predicted to keep to the limits.
func (p prediction) last(highest int) int {
	lo, hi := 0, highest+1
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; p.overAny(mid) <= 1 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// sure is how far beyond a limit a prediction from two trials, one of them a
// step away, must lie to be believed without a plan: several times the error
// seen at such a step, and well below what a step adds.
const sure = 1.012

// largest finds the largest size up to highest at which the way keeps to the
// limits, taking for granted that what keeps to them does so when smaller. It
// is nil if none does. like is a trial to predict from, in this way or another.
func (w *workshop) largest(p int, way printer.Way, like *trial, highest int) *trial {
	lo, hi := 0, highest // Invariant: lo keeps to the limits or is 0; sizes above hi do not.
	var last, before *trial
	next := highest
	if like != nil && like.figures != nil {
		if like.way == way && like.pose == p {
			last = like
		}
		next = w.predict(like, nil).last(highest)
	}
	for tries := 0; lo < hi; tries++ {
		switch {
		case tries > 8: // nothing to be predicted from: halve
			next = (lo + hi + 1) / 2
		case last != nil && last.figures != nil:
			f := w.predict(last, before)
			if lo > 0 && before != nil && last.size == lo && f.over(lo+1) > sure {
				hi = lo
				continue
			}
			next = f.last(highest)
		case last != nil:
			next = (lo + hi) / 2
		}
		next = min(max(next, lo+1), hi)
		t := w.try(choice{p, next, way})
		if ok, _ := w.keeps(t); ok {
			lo = next
		} else {
			hi = next - 1
		}
		if t != last {
			last, before = t, last
		}
	}
	if lo == 0 {
		return nil
	}
	return w.try(choice{p, lo, way})
}
