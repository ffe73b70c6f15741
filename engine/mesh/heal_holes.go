package mesh

import (
	"math"
	"slices"
)

// Filling holes. A hole is a loop of open edges that passes no vertex twice. It
// is filled when there is little to guess:
//
//   - three edges: one facet is missing and can be put back one way only;
//   - flat (no vertex farther from the mean plane than flatness × its length):
//     up to holeEdges edges, no longer than the diagonal of its shell;
//   - otherwise: up to holeEdges edges, no longer than half the diagonal.
//
// So the rim of a flat sheet, which is at least twice its diagonal, is never
// taken for a hole, nor is a box without its lid: those are reported.
//
// The filling is the triangulation of least area (Klincsek 1980, "Minimal
// triangulations of polygonal domains": dynamic programming over the vertices i
// < j of the loop, O(n³)), the shorter diagonals winning where areas tie. It
// uses no edge the mesh has already, which would become crowded. Cutting ears
// off a projection was rejected: it needs the loop to be simple seen from
// somewhere, and this does not.

const (
	holeEdges = 200
	flatness  = 1e-3
	holeWork  = 60_000_000 // triangles weighed in all: about half a second's worth
)

// filling is what fillHoles did.
type filling struct {
	holes, facets int
	area          float64 // mm²
	at            []Vec   // middles of the longest-rimmed holes, at most places
}

// fillHoles returns m with small holes filled.
func fillHoles(m *Mesh, k *looked) (*Mesh, filling) {
	s, e := k.sides(m), k.edges(m)
	var done filling
	if len(e.open) == 0 {
		return m, done
	}
	found := loops(m, e.open)
	diagonal := shellDiagonals(k.shells(m))
	r := &Mesh{V: m.V, F: slices.Clone(m.F), Colour: slices.Clone(m.Colour)}
	type spot struct {
		rim float64
		at  Vec
	}
	var spots []spot
	work := 0
	taken := map[[2]int32]bool{} // diagonals put in so far; looked up only
	for _, loop := range found {
		rim, length, ok := holeRim(m, loop, diagonal[loop[0]/3])
		if !ok {
			continue
		}
		if work += len(rim) * len(rim) * len(rim) / 6; work > holeWork {
			break
		}
		h := holeFiller{s: s, rim: rim, taken: taken}
		facets, ok := h.fill()
		if !ok {
			continue
		}
		for _, f := range facets {
			for k := range f {
				taken[[2]int32{min(f[k], f[next3[k]]), max(f[k], f[next3[k]])}] = true
			}
			r.F = append(r.F, f)
			if m.Colour != nil {
				r.Colour = append(r.Colour, m.Colour[loop[0]/3])
			}
			done.area += r.facetArea(int32(len(r.F) - 1))
		}
		done.holes++
		done.facets += len(facets)
		var mid Vec
		for _, v := range rim {
			mid = mid.Add(m.V[v].times(1 / float64(len(rim))))
		}
		spots = append(spots, spot{length, mid})
	}
	if done.holes == 0 {
		return m, done
	}
	slices.SortStableFunc(spots, func(p, q spot) int {
		switch {
		case p.rim > q.rim:
			return -1
		case p.rim < q.rim:
			return 1
		}
		return 0
	})
	for _, p := range spots[:min(places, len(spots))] {
		done.at = append(done.at, p.at)
	}
	return r, done
}

// shellDiagonals returns, for each facet, the diagonal of its shell's box; only
// for shells with open edges.
func shellDiagonals(sh *shells) []float64 {
	s := sh.s
	boxes := make([]Box, len(sh.list))
	for i := range boxes {
		boxes[i] = noBox
	}
	for f, i := range sh.of {
		if i >= 0 && sh.list[i].unpaired > 0 {
			for _, v := range s.m.F[f] {
				boxes[i].include(s.m.V[v])
			}
		}
	}
	d := make([]float64, len(sh.of))
	for f, i := range sh.of {
		if i >= 0 && sh.list[i].unpaired > 0 {
			d[f] = boxes[i].Size().Len()
		}
	}
	return d
}

// holeRim returns the vertices of a hole in the order its filling goes round
// them, and its length, if it is a hole to fill.
func holeRim(m *Mesh, loop []int32, diagonal float64) (rim []int32, length float64, ok bool) {
	n := len(loop)
	if n < 3 || n > holeEdges {
		return nil, 0, false
	}
	for i := range loop {
		// Sides of the filling run against those of the rim.
		v, _ := m.ends(loop[n-1-i])
		rim = append(rim, v)
		length += m.sideLength(loop[i])
	}
	switch {
	case n == 3, length <= diagonal/2:
		return rim, length, true
	case length > diagonal:
		return nil, 0, false
	}
	// Newell's normal through the mean of the rim.
	var mid, normal Vec
	for _, v := range rim {
		mid = mid.Add(m.V[v].times(1 / float64(n)))
	}
	for i, v := range rim {
		normal = normal.Add(m.V[v].Sub(mid).Cross(m.V[rim[(i+1)%n]].Sub(mid)))
	}
	l := normal.Len()
	if l == 0 {
		return nil, 0, false
	}
	for _, v := range rim {
		if math.Abs(m.V[v].Sub(mid).Dot(normal)) > flatness*length*l {
			return nil, 0, false
		}
	}
	return rim, length, true
}

// holeFiller triangulates one hole.
type holeFiller struct {
	s     *sides
	rim   []int32
	taken map[[2]int32]bool
}

// fill returns the facets of the filling, or false if there is none that would
// crowd no edge.
func (h *holeFiller) fill() ([][3]int32, bool) {
	n := len(h.rim)
	v := h.s.m.V
	cost := make([]float64, n*n)
	mid := make([]int, n*n)
	// Invariant: for all j−i < d, cost[i·n+j] is that of the best filling of the
	// rim from i to j closed by the diagonal j–i, and mid its third vertex there.
	for d := 2; d < n; d++ {
		for i := 0; i+d < n; i++ {
			j := i + d
			at := i*n + j
			cost[at] = math.Inf(1)
			if d < n-1 && h.exists(h.rim[i], h.rim[j]) {
				continue
			}
			span := v[h.rim[j]].Sub(v[h.rim[i]])
			for k := i + 1; k < j; k++ {
				rest := cost[i*n+k] + cost[k*n+j]
				if rest >= cost[at] {
					continue
				}
				area := float64(span.Cross(v[h.rim[k]].Sub(v[h.rim[i]])).Len() / 2)
				if c := rest + area; c < cost[at] {
					cost[at], mid[at] = c, k
				}
			}
			if d < n-1 {
				cost[at] += float64(1e-6 * span.Dot(span)) // between equals, short diagonals
			}
		}
	}
	if math.IsInf(cost[n-1], 1) {
		return nil, false
	}
	var out [][3]int32
	todo := [][2]int{{0, n - 1}}
	for len(todo) > 0 {
		i, j := todo[len(todo)-1][0], todo[len(todo)-1][1]
		todo = todo[:len(todo)-1]
		if j-i < 2 {
			continue
		}
		k := mid[i*n+j]
		f := [3]int32{h.rim[i], h.rim[k], h.rim[j]}
		if h.stands(f) {
			return nil, false
		}
		out = append(out, f)
		todo = append(todo, [2]int{k, j}, [2]int{i, k})
	}
	return out, true
}

// exists reports whether the mesh, or a filling before, has the edge a–b.
func (h *holeFiller) exists(a, b int32) bool {
	return len(h.s.along(a, b)) > 0 || h.taken[[2]int32{min(a, b), max(a, b)}]
}

// stands reports whether the mesh has a facet on these vertices: a lone
// triangle is not a hole in its own other side.
func (h *holeFiller) stands(f [3]int32) bool {
	for _, e := range h.s.along(f[0], f[1]) {
		if h.s.m.apex(sideOf(e)) == f[2] {
			return true
		}
	}
	return false
}
