package mesh

import "slices"

// Facets on the same three vertices are twins. Twins that touch along edges are
// judged together, since taking one facet out of a doubled patch would open it.
// For each such patch there are three outcomes: one layer of it stays, none
// does, or all is left. The one that leaves fewest edges with an odd number of
// facets, then fewest unbalanced ones, is taken; if they tie, one layer, then
// none. So a body given twice becomes one body, a facet given twice one facet,
// the wall between two bodies glued together goes, a fin of no thickness goes,
// and two overlapping bodies that happen to share a facet keep it.

// dropTwins returns m with twins removed, and how many facets that took.
func dropTwins(m *Mesh) (*Mesh, int) {
	s := sidesOf(m)
	// set[f] numbers the set of twins facet f belongs to; 0 is none.
	set := make([]int32, len(m.F))
	members := [][]int32{nil}
	s.each(0, len(m.V), func(_, b int32, along []uint64) {
		if len(along) < 2 {
			return
		}
		for i, e := range along {
			f, c := facetOf(e), m.apex(sideOf(e))
			if c <= b || set[f] != 0 {
				continue // each set once, at the edge of its two smallest vertices
			}
			for _, o := range along[i+1:] {
				if m.apex(sideOf(o)) != c {
					continue
				}
				if set[f] == 0 {
					set[f] = int32(len(members))
					members = append(members, []int32{f})
				}
				set[facetOf(o)] = set[f]
				members[set[f]] = append(members[set[f]], facetOf(o))
			}
		}
	})
	if len(members) == 1 {
		return m, 0
	}
	patches, patchOf := twinPatches(s, set, members)
	drop := make([]bool, len(m.F))
	n := 0
	for p, sets := range patches {
		stay := make([]int32, len(sets))
		for i, k := range sets {
			stay[i] = oneOf(s, set, patchOf, members[k])
		}
		switch bestOutcome(s, set, patchOf, int32(p), sets, members, stay) {
		case oneStays:
			for i, k := range sets {
				for _, f := range members[k] {
					drop[f] = f != stay[i]
				}
				n += len(members[k]) - 1
			}
		case noneStays:
			for _, k := range sets {
				for _, f := range members[k] {
					drop[f] = true
				}
				n += len(members[k])
			}
		}
	}
	if n == 0 {
		return m, 0
	}
	return dropFacets(m, drop), n
}

// twinPatches groups sets of twins that share an edge.
func twinPatches(s *sides, set []int32, members [][]int32) (patches [][]int32, patchOf []int32) {
	up := make([]int32, len(members))
	for i := range up {
		up[i] = int32(i)
	}
	find := func(i int32) int32 {
		for up[i] != i {
			up[i] = up[up[i]]
			i = up[i]
		}
		return i
	}
	for k := 1; k < len(members); k++ {
		f := members[k][0]
		for side := 3 * f; side < 3*f+3; side++ {
			a, b := s.m.ends(side)
			for _, e := range s.along(a, b) {
				if o := set[facetOf(e)]; o != 0 {
					i, j := find(int32(k)), find(o)
					up[max(i, j)] = min(i, j)
				}
			}
		}
	}
	patchOf = make([]int32, len(members))
	patchOf[0] = -1
	for k := 1; k < len(members); k++ {
		if r := find(int32(k)); r == int32(k) {
			patchOf[k] = int32(len(patches))
			patches = append(patches, []int32{int32(k)})
		} else {
			patchOf[k] = patchOf[r]
			patches[patchOf[k]] = append(patches[patchOf[k]], int32(k))
		}
	}
	return patches, patchOf
}

// oneOf chooses the twin to keep if one is kept: of the way round most of them
// have, or if that ties of the way that suits the neighbours outside the patch,
// and of those the first.
func oneOf(s *sides, set, patchOf []int32, twins []int32) int32 {
	m := s.m
	f := twins[0]
	same := 0
	for _, g := range twins {
		if sameWay(m.F[f], m.F[g]) {
			same++
		} else {
			same--
		}
	}
	if same == 0 {
		patch := patchOf[set[f]]
		for side := 3 * f; side < 3*f+3; side++ {
			a, b := m.ends(side)
			for _, e := range s.along(a, b) {
				if patchOf[set[facetOf(e)]] == patch {
					continue
				}
				if backward(e) == (a > b) {
					same--
				} else {
					same++
				}
			}
		}
	}
	if same < 0 {
		for _, g := range twins {
			if !sameWay(m.F[f], m.F[g]) {
				return g
			}
		}
	}
	return f
}

// sameWay reports whether two facets on the same vertices go the same way round.
func sameWay(f, g [3]int32) bool {
	for k := range g {
		if g[k] == f[0] {
			return g[next3[k]] == f[1]
		}
	}
	return false
}

const (
	oneStays = iota
	noneStays
	allStay
)

// bestOutcome weighs what each outcome does to the edges of a patch.
func bestOutcome(s *sides, set, patchOf []int32, patch int32, sets []int32, members [][]int32, stay []int32) int {
	m := s.m
	type edge struct{ a, b int32 }
	var edges []edge
	for _, k := range sets {
		f := members[k][0]
		for side := 3 * f; side < 3*f+3; side++ {
			a, b := m.ends(side)
			edges = append(edges, edge{min(a, b), max(a, b)})
		}
	}
	slices.SortFunc(edges, func(p, q edge) int {
		if p.a != q.a {
			return int(p.a - q.a)
		}
		return int(p.b - q.b)
	})
	edges = slices.Compact(edges)
	stays := make(map[int32]bool, len(stay)) // looked up only
	for _, f := range stay {
		stays[f] = true
	}
	var odd, uneven [3]int
	for _, e := range edges {
		var n, sum [3]int
		for _, x := range s.along(e.a, e.b) {
			d := 1
			if backward(x) {
				d = -1
			}
			f := facetOf(x)
			mine := patchOf[set[f]] == patch
			for o := range n {
				if !mine || o == allStay || o == oneStays && stays[f] {
					n[o]++
					sum[o] += d
				}
			}
		}
		for o := range n {
			odd[o] += n[o] & 1
			if sum[o] != 0 {
				uneven[o]++
			}
		}
	}
	best := oneStays
	for o := noneStays; o <= allStay; o++ {
		if odd[o] < odd[best] || odd[o] == odd[best] && uneven[o] < uneven[best] {
			best = o
		}
	}
	return best
}

// dropFacets returns m without some facets; the vertices stay.
func dropFacets(m *Mesh, drop []bool) *Mesh {
	r := &Mesh{V: m.V, F: make([][3]int32, 0, len(m.F))}
	for i, f := range m.F {
		if drop[i] {
			continue
		}
		r.F = append(r.F, f)
		if m.Colour != nil {
			r.Colour = append(r.Colour, m.Colour[i])
		}
	}
	return r
}
