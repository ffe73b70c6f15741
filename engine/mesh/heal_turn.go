package mesh

import (
	"math"
	"slices"
)

// Which side is out. First, facets that meet in pairs are made to agree: from
// any facet, walk over such edges, turning what disagrees; the way round that
// had more area stands. A shell where the walk contradicts itself has only one
// side, like a Möbius strip, and is left alone.
//
// Then shells are turned right side out. A closed shell facing inward is a
// cavity if a body lies around it, and is inside out if none does. Shells in an
// inside-out body, and shells that needed much turning in the first step, are in
// doubt: those become bodies where nothing lies around them, cavities where a
// body does. A body drawn inside a body, both facing outward, is in no doubt
// and stays. An open shell is turned only if it is bag-like: its rim is short
// for its area.

// agree returns m with facets turned to agree with their neighbours, how many
// were turned, how many shells have one side only, and for each facet whether
// its shell was in doubt.
func agree(m *Mesh, k *looked) (out *Mesh, turned, oneSided int, doubt []bool) {
	if k.edges(m).inconsistent == 0 {
		return m, 0, 0, nil
	}
	mate := k.sides(m).mates()
	const unseen, as, against = 0, 1, 2
	way := make([]byte, len(m.F))
	out = &Mesh{V: m.V, F: slices.Clone(m.F), Colour: m.Colour}
	doubt = make([]bool, len(m.F))
	var queue []int32
	for seed := range m.F {
		if way[seed] != unseen {
			continue
		}
		way[seed] = as
		queue = append(queue[:0], int32(seed))
		disagree, contradicts := false, false
		// Invariant: every facet in queue has its way, relative to seed.
		for i := 0; i < len(queue); i++ {
			f := queue[i]
			for side := 3 * f; side < 3*f+3; side++ {
				o := mate[side]
				if o < 0 {
					continue
				}
				want := way[f]
				if a, _ := m.ends(side); m.F[o/3][o%3] == a {
					disagree = true
					want = as + against - want
				}
				switch way[o/3] {
				case unseen:
					way[o/3] = want
					queue = append(queue, o/3)
				case want:
				default:
					contradicts = true
				}
			}
		}
		if contradicts {
			oneSided++
			continue
		}
		if !disagree {
			continue
		}
		var area [3]float64
		for _, f := range queue {
			area[way[f]] += m.facetArea(f)
		}
		wrong := byte(against)
		if area[against] > area[as] {
			wrong = as
		}
		unsure := area[wrong] > 0.1*(area[as]+area[against])
		for _, f := range queue {
			doubt[f] = unsure
			if way[f] == wrong {
				out.F[f] = flipped(out.F[f])
				turned++
			}
		}
	}
	if turned == 0 {
		return m, 0, oneSided, nil
	}
	return out, turned, oneSided, doubt
}

func (m *Mesh) facetArea(f int32) float64 {
	t := m.F[f]
	return m.V[t[1]].Sub(m.V[t[0]]).Cross(m.V[t[2]].Sub(m.V[t[0]])).Len() / 2
}

// baglike is how long a rim may be for an open shell to have an inside, as a
// multiple of the root of its area. A flat sheet has at least √(4π) ≈ 3.54, a
// hemisphere √(2π) ≈ 2.51, a cube without one face 1.79.
const baglike = 2.4

// outward returns m with shells turned right side out, and how many were.
func outward(m *Mesh, doubt []bool, k *looked) (*Mesh, int) {
	sh := k.shells(m)
	turn := make([]bool, len(sh.list))
	unsure := make([]bool, len(sh.list))
	var ask []int32
	var rim []float64
	for i := range sh.list {
		b := &sh.list[i]
		switch {
		case b.flat():
		case b.unpaired > 0:
			if b.volume < 0 && rim == nil {
				rim = sh.rims()
			}
			turn[i] = b.volume < 0 && rim[i] < baglike
		default:
			unsure[i] = doubt != nil && doubt[b.first]
			if b.volume < 0 || unsure[i] {
				ask = append(ask, int32(i))
			}
		}
	}
	holders := sh.holders(ask)
	holders = append(holders, sh.insideOut(ask, holders, unsure)...)
	// From the largest down, so that what lies around is settled first.
	slices.SortFunc(holders, func(p, q holding) int {
		switch {
		case p.shell == q.shell:
			return 0
		case sh.smaller(q.shell, p.shell):
			return -1
		}
		return 1
	})
	for _, h := range holders {
		if !h.known {
			continue
		}
		around := 0
		for _, o := range h.by {
			if (sh.list[o].volume > 0) != turn[o] {
				around++
			} else {
				around--
			}
		}
		negative := sh.list[h.shell].volume < 0
		if around <= 0 {
			turn[h.shell] = negative
		} else if unsure[h.shell] {
			turn[h.shell] = !negative
		}
	}
	n := 0
	for _, t := range turn {
		n += b2i(t)
	}
	if n == 0 {
		return m, 0
	}
	out := &Mesh{V: m.V, F: slices.Clone(m.F), Colour: m.Colour}
	for f, i := range sh.of {
		if i >= 0 && turn[i] {
			out.F[f] = flipped(out.F[f])
		}
	}
	return out, n
}

// insideOut marks as unsure the shells that lie in an inside-out body, and asks
// about those not asked about yet.
func (sh *shells) insideOut(asked []int32, holders []holding, unsure []bool) []holding {
	outer := make([]bool, len(sh.list))
	any := false
	for _, h := range holders {
		if h.known && len(h.by) == 0 && sh.list[h.shell].volume < 0 {
			outer[h.shell] = true
			any = true
		}
	}
	if !any {
		return nil
	}
	done := make([]bool, len(sh.list))
	for _, i := range asked {
		done[i] = true
	}
	var ask []int32
	for i := range sh.list {
		if b := &sh.list[i]; !done[i] && b.unpaired == 0 && !b.flat() {
			ask = append(ask, int32(i))
		}
	}
	more := sh.holders(ask)
	for _, list := range [][]holding{holders, more} {
		for _, h := range list {
			for _, o := range h.by {
				if outer[o] {
					unsure[h.shell] = true
				}
			}
		}
	}
	return more
}

// rims returns, for each shell, the length of its unpaired edges over the root
// of its area.
func (sh *shells) rims() []float64 {
	m := sh.s.m
	area := make([]float64, len(sh.list))
	rim := make([]float64, len(sh.list))
	for f, i := range sh.of {
		if i >= 0 && sh.list[i].unpaired > 0 {
			area[i] += m.facetArea(int32(f))
		}
	}
	sh.s.each(0, len(m.V), func(a, b int32, along []uint64) {
		if balance(along) != 0 {
			l := m.V[b].Sub(m.V[a]).Len()
			for _, e := range along {
				rim[sh.of[facetOf(e)]] += l
			}
		}
	})
	for i := range rim {
		if area[i] > 0 {
			rim[i] /= math.Sqrt(area[i])
		} else {
			rim[i] = math.Inf(1)
		}
	}
	return rim
}
