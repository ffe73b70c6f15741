package desk

import (
	"math"

	"platebook/engine/mesh"
	"platebook/engine/picture"
)

// surface is a mesh on the view's own grid.
type surface struct {
	least   [3]float32
	step    float32
	v       [][3]uint16
	f       [][3]uint32
	colour  []uint8
	hatch   []picture.Hatch
	coarser bool
}

// viewOf snaps a mesh to the grid of a view, with at most a number of facets.
//
// Facets that fall together on the grid are left out. Where there are too many,
// vertices are drawn together in cubes, each to the mean of its vertices; the
// cubes grow until few enough facets are left. Cheap, and good enough to look
// at: nothing is computed from it.
func viewOf(m *mesh.Mesh, hatch []picture.Hatch, most int) surface {
	lo, hi := m.V[m.F[0][0]], m.V[m.F[0][0]]
	for _, f := range m.F {
		for _, i := range f {
			for k, x := range m.V[i] {
				lo[k], hi[k] = min(lo[k], x), max(hi[k], x)
			}
		}
	}
	longest := max(hi[0]-lo[0], hi[1]-lo[1], hi[2]-lo[2], 1e-6)
	s := surface{least: single(lo), step: float32(longest / viewSteps)}
	if s.pour(m, hatch, lo, longest/viewSteps, most) {
		return s
	}
	s.coarser = true
	// A surface of area A crosses about 1.5·A/side² cubes, and has two facets
	// for each; half of that to begin with.
	area := 0.0
	for _, f := range m.F {
		a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
		area += b.Sub(a).Cross(c.Sub(a)).Len() / 2
	}
	side := max(math.Sqrt(1.5*area/float64(most)), longest/viewSteps)
	for !s.pour(m, hatch, lo, side, most) {
		side *= 1.2
	}
	return s
}

// pour fills s with the mesh, vertices drawn together in cubes of a side from
// lo. It reports false, with s half filled, where facets are more than most.
// A side beyond the mesh itself leaves no facet at all, so growing sides end.
func (s *surface) pour(m *mesh.Mesh, hatch []picture.Hatch, lo mesh.Vec, side float64, most int) bool {
	type cube [3]int32
	type sum struct {
		at mesh.Vec
		n  float64
	}
	s.v, s.f, s.colour, s.hatch = nil, nil, nil, nil
	index := make(map[cube]uint32)
	var sums []sum
	// Each vertex is looked up once.
	of := make([]uint32, len(m.V))
	for i := range of {
		of[i] = math.MaxUint32
	}
	place := func(i int32) uint32 {
		if of[i] != math.MaxUint32 {
			return of[i]
		}
		var c cube
		for k, x := range m.V[i] {
			c[k] = int32(math.Round((x - lo[k]) / side))
		}
		at, ok := index[c]
		if !ok {
			at = uint32(len(sums))
			index[c] = at
			sums = append(sums, sum{})
		}
		sums[at].at = sums[at].at.Add(m.V[i])
		sums[at].n++
		of[i] = at
		return at
	}
	for i, f := range m.F {
		a, b, c := place(f[0]), place(f[1]), place(f[2])
		if a == b || b == c || c == a {
			continue
		}
		if len(s.f) == most {
			return false
		}
		s.f = append(s.f, [3]uint32{a, b, c})
		if m.Colour != nil {
			s.colour = append(s.colour, m.Colour[i])
		}
		if hatch != nil {
			s.hatch = append(s.hatch, hatch[i])
		}
	}
	s.v = make([][3]uint16, len(sums))
	for i, sum := range sums {
		for k := range 3 {
			q := math.Round((sum.at[k]/sum.n - lo[k]) / float64(s.step))
			s.v[i][k] = uint16(min(max(q, 0), viewSteps))
		}
	}
	return true
}
