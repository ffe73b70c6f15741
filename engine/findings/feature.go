package findings

import (
	"math"

	"platebook/engine/mesh"
)

// Small features: thin in two directions.
//
// Notation: c the middle of a thin wall, n across it, u any direction along it,
// w the width of a bead. The wall is part of a pin if along some u the solid
// through c is shorter than w as well. It is part of a ridge if it ends within
// w along u and has grown wider than two beads at c − w·u: then it sticks out by
// less than two beads. A wall's rim is no ridge, for the wall goes on below it.
//
// The few facets near each middle are gathered in one pass over the mesh.

const (
	mostFeatures = 240     // walls looked at
	mostGathered = 100_000 // facets near them, in a sixteenth of the mesh
	directions   = 16
)

// markSmall marks walls thinner than a bead that are so in two directions. Sharp
// edges, and folds in a scan, are no features.
func (l *look) markSmall(walls []seen) {
	bead := l.bead()
	var which []int
	for i, s := range walls {
		if s.thick < almost*bead && s.thick >= edgeThick {
			which = append(which, i)
		}
	}
	if n := len(which); n > mostFeatures {
		for i := range mostFeatures {
			which[i] = which[i*n/mostFeatures]
		}
		which = which[:mostFeatures]
	}
	if len(which) == 0 {
		return
	}
	around, ok := l.gather(walls, which, 2.2*bead)
	if !ok {
		return
	}
	ends := make([]mesh.Vec, len(which))
	found := make([]bool, len(which))
	each(len(which), func(i int) {
		ends[i], found[i] = around[i].small(walls[which[i]], bead)
	})
	// Where a feature ends there must be air and not another body.
	solid, ok := l.solidAt(ends)
	for i, k := range which {
		walls[k].small = ok && found[i] && !solid[i]
	}
}

// nearby are the facets near a wall.
type nearby []triangle

// gather returns the facets within reach of each of some walls' middles.
func (l *look) gather(walls []seen, which []int, reach float64) ([]nearby, bool) {
	boxes := make([]mesh.Box, len(which))
	for i, k := range which {
		c := walls[k].at
		boxes[i] = mesh.Box{Min: c.Sub(mesh.Vec{reach, reach, reach}), Max: c.Add(mesh.Vec{reach, reach, reach})}
	}
	type pair struct {
		box int32
		t   triangle
	}
	lists := make([][]pair, chunks)
	ok := visit(l.Mesh, boxes, func(chunk int) func(int32, *triangle, int32) {
		last := make([]int32, len(boxes)) // facet + 1 seen last
		return func(f int32, t *triangle, i int32) {
			if last[i] == f+1 || len(lists[chunk]) > mostGathered {
				return
			}
			last[i] = f + 1
			for k := range 3 {
				if min(t.a[k], t.b[k], t.c[k]) > boxes[i].Max[k] || max(t.a[k], t.b[k], t.c[k]) < boxes[i].Min[k] {
					return
				}
			}
			lists[chunk] = append(lists[chunk], pair{i, *t})
		}
	})
	out := make([]nearby, len(which))
	for _, list := range lists {
		ok = ok && len(list) <= mostGathered
		for _, p := range list {
			out[p.box] = append(out[p.box], p.t)
		}
	}
	return out, ok
}

// small says whether the wall s is thin in a second direction, and gives a
// point just beyond where it ends.
func (near nearby) small(s seen, bead float64) (mesh.Vec, bool) {
	// x and y span the wall; x is level.
	x := mesh.Vec{-s.n[1], s.n[0], 0}
	if x.Len() < 1e-3 {
		x = mesh.Vec{1, 0, 0}
	}
	x = x.Scale(1 / x.Len())
	x = x.Sub(s.n.Scale(x.Dot(s.n)))
	y := s.n.Cross(x)
	for k := range directions {
		turn := mesh.Turn(mesh.Vec{0, 0, 1}, 2*math.Pi*float64(k)/directions).Apply(mesh.Vec{1, 0, 0})
		u := x.Scale(turn[0]).Add(y.Scale(turn[1]))
		ahead := near.exit(s.at, u)
		if ahead > bead {
			continue
		}
		end := s.at.Add(u.Scale(ahead + hair))
		behind := near.exit(s.at, u.Scale(-1))
		if ahead+behind < almost*bead {
			return end, true
		}
		if behind <= bead {
			continue // the point to look from is not in the solid
		}
		back := s.at.Sub(u.Scale(bead))
		if near.exit(back, s.n)+near.exit(back, s.n.Scale(-1)) > 2*bead {
			return end, true
		}
	}
	return s.at, false
}

// exit is how far it is from p along u until a facet is left through.
func (near nearby) exit(p, u mesh.Vec) float64 {
	best := math.Inf(1)
	for i := range near {
		t := &near[i]
		cos := t.n.Dot(u)
		if !(cos > 1e-9) {
			continue
		}
		d := t.n.Dot(t.a.Sub(p)) / cos
		if !(d >= 0 && d < best) {
			continue
		}
		q := p.Add(u.Scale(d))
		if closest(t.a, t.b, t.c, q).Sub(q).Len() < 1e-6 {
			best = d
		}
	}
	return best
}
