package mesh

import "slices"

// Facets without area, in surfaces that close around them. A needle, one side
// as good as nothing, is closed up by making that side's ends one. A cap, one
// corner on the opposite side, is flipped: the cap and the facet beyond that
// side become the two halves of that facet. Either moves the surface by less
// than rounding in a float32 file does and opens nothing; both need the edges
// about them to be shared by two facets that agree, and are not done otherwise.
//
// Facets without area at a rim are dropped if that leaves fewer open edges or
// as many; a facet that names a vertex twice is always dropped.

// fanLimit is the most facets about a vertex that are walked over.
const fanLimit = 1000

// dropEmpty returns m without facets that name a vertex twice, and without
// facets of no area that hang by one edge or none, and how many those were.
func dropEmpty(m *Mesh, k *looked) (*Mesh, int) {
	thin := k.slender(m)
	if len(thin) == 0 {
		return m, 0
	}
	s := k.sides(m)
	drop := make([]bool, len(m.F))
	n := 0
	for _, i := range thin {
		f := m.F[i]
		if collapsed(f) {
			drop[i] = true
			n++
			continue
		}
		loose := 0
		for k := range f {
			if len(s.along(f[k], f[next3[k]])) == 1 {
				loose++
			}
		}
		if loose >= 2 {
			drop[i] = true
			n++
		}
	}
	if n == 0 {
		return m, 0
	}
	return dropFacets(m, drop), n
}

// slivers takes out needles and flips caps.
type slivers struct {
	m    *Mesh
	mate []int32
	gone []bool
	n    int
}

// mendSlivers returns m with facets of no area worked away, and how many were.
func mendSlivers(m *Mesh, k *looked) (*Mesh, int) {
	var list []int32
	for _, f := range k.slender(m) {
		if !collapsed(m.F[f]) {
			list = append(list, f)
		}
	}
	if len(list) == 0 {
		return m, 0
	}
	w := &slivers{
		m:    &Mesh{V: m.V, F: slices.Clone(m.F), Colour: m.Colour},
		mate: k.sides(m).mates(),
		gone: make([]bool, len(m.F)),
	}
	for range 4 {
		before := w.n
		for _, f := range list {
			if !w.gone[f] && w.slender(w.m.F[f]) {
				w.mend(f)
			}
		}
		if w.n == before {
			break
		}
	}
	if w.n == 0 {
		return m, 0
	}
	return dropFacets(w.m, w.gone), w.n
}

func (w *slivers) slender(f [3]int32) bool {
	return slender(w.m.V[f[0]], w.m.V[f[1]], w.m.V[f[2]])
}

func (w *slivers) mend(f int32) {
	long, short := 3*f, 3*f
	for side := 3*f + 1; side < 3*f+3; side++ {
		if l := w.m.sideLength(side); l > w.m.sideLength(long) {
			long = side
		} else if l < w.m.sideLength(short) {
			short = side
		}
	}
	if w.m.sideLength(short) <= thin*w.m.sideLength(long) {
		if w.collapse(short) {
			w.n++
		}
		return
	}
	if w.flip(long) {
		w.n++
	}
}

// after and before are the next and previous sides of the same facet.
func after(side int32) int32  { return side - side%3 + next3[side%3] }
func before(side int32) int32 { return side - side%3 + prev3[side%3] }

// pair returns the mate of a side if the two run against each other.
func (w *slivers) pair(side int32) (int32, bool) {
	o := w.mate[side]
	if o < 0 {
		return o, false
	}
	a, b := w.m.ends(side)
	c, d := w.m.ends(o)
	return o, a == d && b == c
}

func (w *slivers) join(p, q int32) {
	// Either may be open or crowded.
	if p >= 0 {
		w.mate[p] = q
	}
	if q >= 0 {
		w.mate[q] = p
	}
}

// fan returns the sides that leave the vertex a side leaves, all round it, or
// false if the facets there are not a plain disc.
func (w *slivers) fan(side int32) ([]int32, bool) {
	out := []int32{side}
	for {
		next, ok := w.pair(before(out[len(out)-1]))
		if !ok || len(out) > fanLimit {
			return nil, false
		}
		if next == side {
			return out, true
		}
		out = append(out, next)
	}
}

// flip turns the edge of side to the other diagonal of its two facets.
func (w *slivers) flip(side int32) bool {
	o, ok := w.pair(side)
	if !ok {
		return false
	}
	m := w.m
	a, b := m.ends(side)
	c, d := m.apex(side), m.apex(o)
	p, q := [3]int32{c, a, d}, [3]int32{d, b, c}
	if c == d || w.slender(p) || w.slender(q) {
		return false
	}
	round, ok := w.fan(before(side)) // about c
	if !ok {
		return false
	}
	for _, x := range round {
		if _, v := m.ends(x); v == d {
			return false // c–d is an edge already
		}
	}
	f, g := side/3, o/3
	bc, ca, ad, db := w.mate[after(side)], w.mate[before(side)], w.mate[after(o)], w.mate[before(o)]
	m.F[f], m.F[g] = p, q
	w.join(3*f, ca)
	w.join(3*f+1, ad)
	w.join(3*f+2, 3*g+2)
	w.join(3*g, db)
	w.join(3*g+1, bc)
	return true
}

// collapse makes the two ends of a side one and takes out its two facets.
func (w *slivers) collapse(side int32) bool {
	o, ok := w.pair(side)
	if !ok {
		return false
	}
	m := w.m
	p, q := m.ends(side)
	c, d := m.apex(side), m.apex(o)
	atP, ok1 := w.fan(side)
	atQ, ok2 := w.fan(o)
	if !ok1 || !ok2 || c == d {
		return false
	}
	// The two may have no common neighbours but c and d, or the surface pinches.
	near := make([]int32, 0, len(atP))
	for _, x := range atP {
		_, v := m.ends(x)
		near = append(near, v)
	}
	for _, x := range atQ {
		if _, v := m.ends(x); v != c && v != d && slices.Contains(near, v) {
			return false
		}
	}
	// Nothing may be turned over by the move, however small.
	f, g := side/3, o/3
	for _, x := range atQ {
		if h := x / 3; h != f && h != g {
			was, is := m.F[h], m.F[h]
			for k := range is {
				if is[k] == q {
					is[k] = p
				}
			}
			if !w.slender(was) && m.normal(was).Dot(m.normal(is)) <= 0 {
				return false
			}
		}
	}
	for _, x := range atQ {
		for k, v := range m.F[x/3] {
			if v == q {
				m.F[x/3][k] = p
			}
		}
	}
	w.gone[f], w.gone[g] = true, true
	w.join(w.mate[after(side)], w.mate[before(side)])
	w.join(w.mate[after(o)], w.mate[before(o)])
	return true
}

func (m *Mesh) normal(f [3]int32) Vec {
	return m.V[f[1]].Sub(m.V[f[0]]).Cross(m.V[f[2]].Sub(m.V[f[0]]))
}
