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
func dropTwins(m *Mesh, k *looked) (*Mesh, int) {
	s := k.sides(m)
	// set[f] numbers the set of twins facet f belongs to; 0 is none.
	set := make([]int32, len(m.F))
	members := [][]int32{nil}
	type twin struct{ apex, facet int32 }
	var twins []twin
	s.each(0, len(m.V), func(_, b int32, along []uint64) {
		if len(along) < 2 {
			return
		}
		// Each set once, at the edge of its two smallest vertices.
		twins = twins[:0]
		for _, e := range along {
			if c := m.apex(sideOf(e)); c > b {
				twins = append(twins, twin{c, facetOf(e)})
			}
		}
		slices.SortFunc(twins, func(p, q twin) int {
			if p.apex != q.apex {
				return int(p.apex - q.apex)
			}
			return int(p.facet - q.facet)
		})
		for i := 0; i < len(twins); {
			j := i + 1
			for j < len(twins) && twins[j].apex == twins[i].apex {
				j++
			}
			if j > i+1 {
				k := int32(len(members))
				members = append(members, nil)
				for _, t := range twins[i:j] {
					set[t.facet] = k
					members[k] = append(members[k], t.facet)
				}
			}
			i = j
		}
	})
	if len(members) == 1 {
		return m, 0
	}
	patches, patchOf, suits := twinPatches(s, set, members)
	drop := make([]bool, len(m.F))
	n := 0
	for p, sets := range patches {
		stay := make([]int32, len(sets))
		for i, k := range sets {
			stay[i] = oneOf(m, members[k], suits[k])
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

// twinPatches groups sets of twins that share an edge. It also says for each
// set how well the way round of its first facet suits the facets beyond the
// patch: positive is well.
func twinPatches(s *sides, set []int32, members [][]int32) (patches [][]int32, patchOf []int32, suits []int) {
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
	suits = make([]int, len(members))
	s.each(0, len(s.m.V), func(_, _ int32, along []uint64) {
		first, beyond := int32(0), 0
		for _, e := range along {
			k := set[facetOf(e)]
			switch {
			case k == 0 && backward(e):
				beyond--
			case k == 0:
				beyond++
			case first == 0:
				first = find(k)
			default:
				j := find(k)
				up[max(first, j)] = min(first, j)
				first = min(first, j)
			}
		}
		if first == 0 {
			return
		}
		for _, e := range along {
			if k := set[facetOf(e)]; k != 0 && members[k][0] == facetOf(e) {
				if backward(e) {
					suits[k] += beyond
				} else {
					suits[k] -= beyond
				}
			}
		}
	})
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
	return patches, patchOf, suits
}

// oneOf chooses the twin to keep if one is kept: of the way round most of them
// have, or if that ties of the way that suits the facets beyond, and of those
// the first.
func oneOf(m *Mesh, twins []int32, suits int) int32 {
	f := twins[0]
	same := 0
	for _, g := range twins {
		if sameWay(m.F[f], m.F[g]) {
			same++
		} else {
			same--
		}
	}
	if same < 0 || same == 0 && suits < 0 {
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
