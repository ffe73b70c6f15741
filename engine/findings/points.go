package findings

import (
	"platebook/engine/mesh"
)

// Points spread over the surface.
//
// Most of them stand for equal shares of its area: the areas of the facets are
// summed up in file order and a point is put at equal steps of the sum, so a
// share of the points estimates a share of the surface. The others are the
// middles of facets at equal steps of their number: small features are finely
// meshed and have hardly any area, so these find what the others miss, and
// stand for none of it.

// How many points: a share of a thousandth is then five of them. Of a huge mesh
// there are fewer, so that a check stays quick; on a tiny part no more than are
// a quarter of a bead apart.
const (
	mostPoints = 5_000
	hugePoints = 3_000
	fewPoints  = 200
	hugeMesh   = 400_000 // facets
)

// point is a point of the surface.
type point struct {
	at, n  mesh.Vec // outward unit normal
	facet  int32
	weight float64 // share of the surface it stands for
}

// centre is that of the ball of radius r that touches at p from inside (0) or
// outside (1).
func (p *point) centre(r float64, side int) mesh.Vec {
	if side == 0 {
		r = -r
	}
	return p.at.Add(p.n.Scale(r))
}

// scatter returns points of the surface of m: by area n, and half as many by
// facets.
func scatter(m *mesh.Mesh, n int) []point {
	// Of a huge mesh every so many facets stand for all.
	every := len(m.F)/hugeMesh*4 + 1
	facets := (len(m.F) + every - 1) / every
	area := make([]float64, facets)
	var sums [chunks]float64
	from := func(chunk int) int { return facets * chunk / chunks }
	each(chunks, func(chunk int) {
		for i := from(chunk); i < from(chunk+1); i++ {
			f := &m.F[i*every]
			area[i] = m.V[f[1]].Sub(m.V[f[0]]).Cross(m.V[f[2]].Sub(m.V[f[0]])).Len()
			sums[chunk] += area[i]
		}
	})
	var all float64
	for _, s := range sums {
		all += s
	}
	if !(all > 0) {
		return nil
	}
	out := make([]point, 0, n+n/2)
	add := func(i, k int, weight float64) {
		f := m.F[i]
		if t, ok := newTriangle(m.V[f[0]], m.V[f[1]], m.V[f[2]]); ok {
			out = append(out, point{spotOn(m, f, k), t.n, int32(i), weight})
		}
	}
	step := all / float64(n)
	before, next := 0.0, 0
	for chunk := range chunks {
		upto := before
		for i := from(chunk); i < from(chunk+1); i++ {
			upto += area[i]
			// Invariant: next points lie on the facets before, within upto.
			for next < n && float64((float64(next)+0.5)*step) < upto {
				add(i*every, next+1, 1/float64(n))
				next++
			}
		}
		before += sums[chunk]
	}
	if k := min(n/2, len(m.F)); len(m.F) > 64 { // of fewer each has many points
		for i := range k {
			add((2*i+1)*len(m.F)/(2*k), 0, 0)
		}
	}
	return out
}
