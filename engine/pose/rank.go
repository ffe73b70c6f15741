package pose

import (
	"cmp"
	"math"
	"slices"
	"strconv"

	"platebook/engine/mesh"
	"platebook/engine/say"
)

// Ranks: what speaks against a candidate weighs more than any cost.
const (
	sound = iota
	unsteady
	topples
	unplanned
	tooBig
)

// object says what speaks against each candidate.
func (o *Options) object(all []Candidate) {
	for i := range all {
		c := &all[i]
		switch {
		case !c.Fits:
			c.rank = tooBig
			c.Against = say.Of("it does not fit: it would be %s and there is room for %s", sides(c.Box), sides(o.Volume))
		case !(c.Tipping > 0):
			c.rank = topples
			c.Against = say.Of("it would fall over without something that holds it")
		case c.Tipping < o.LeastTipping:
			c.rank = unsteady
			c.Against = say.Of("it would tip over at a tilt of %s", degrees(c.Tipping))
		}
	}
}

// order sorts candidates, the best first. Costs count to six digits, so that
// rounding decides nothing; of equals the part as given is first, then what is
// better in itself, then what is turned less.
func order(all []Candidate) {
	slices.SortStableFunc(all, func(a, b Candidate) int {
		return cmp.Or(
			cmp.Compare(a.rank, b.rank),
			cmp.Compare(flag(b.Planned), flag(a.Planned)),
			cmp.Compare(six(a.Full), six(b.Full)),
			cmp.Compare(six(a.Cost), six(b.Cost)),
			cmp.Compare(flag(b.From == AsGiven), flag(a.From == AsGiven)),
			cmp.Compare(six(a.SupportVolume), six(b.SupportVolume)),
			cmp.Compare(six(a.Height), six(b.Height)),
			cmp.Compare(six(b.Contact), six(a.Contact)),
			cmp.Compare(six(b.Tipping), six(a.Tipping)),
			cmp.Compare(six(1+a.Down[2]), six(1+b.Down[2])),
			cmp.Compare(six(a.Down[0]+2), six(b.Down[0]+2)),
			cmp.Compare(six(a.Down[1]+2), six(b.Down[1]+2)),
		)
	})
}

func flag(b bool) int {
	if b {
		return 1
	}
	return 0
}

// six rounds to six digits. What is no number counts as the worst.
func six(x float64) float64 {
	if math.IsNaN(x) {
		return math.Inf(1)
	}
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64)
	if err != nil {
		return x
	}
	return y
}

// plan asks Full about the best candidates and the part as given, as far as
// they are as sound as the best. all is in order.
func (o *Options) plan(m *mesh.Mesh, all []Candidate) {
	if o.Full == nil || all[0].rank == tooBig {
		return
	}
	best := all[0].rank
	for i := range all {
		c := &all[i]
		if c.rank != best || i >= o.Best && c.From != AsGiven {
			continue
		}
		cost, err := o.Full(mesh.Transform(m, c.Pose))
		switch {
		case err != nil:
			c.rank = unplanned
			c.Against = say.Of("no print of it can be planned: %s", err)
		case !math.IsNaN(cost):
			c.Planned, c.Full = true, cost
		}
	}
}

// pareto lists the candidates nothing speaks against that none beats in every
// respect. The first of equals stays.
func pareto(all []Candidate) []int {
	respects := func(c *Candidate) [4]float64 {
		return [4]float64{six(c.SupportVolume), six(c.Scar()), six(c.Height), six(-c.Tipping)}
	}
	var out []int
	for i := range all {
		if !all[i].Against.Empty() {
			continue
		}
		mine := respects(&all[i])
		beaten := false
		for j := range all {
			if i == j || !all[j].Against.Empty() {
				continue
			}
			theirs := respects(&all[j])
			noWorse := true
			for k := range mine {
				noWorse = noWorse && theirs[k] <= mine[k]
			}
			if noWorse && (theirs != mine || j < i) {
				beaten = true
				break
			}
		}
		if !beaten {
			out = append(out, i)
		}
	}
	return out
}
