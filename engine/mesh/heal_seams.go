package mesh

import (
	"cmp"
	"math"
	"slices"
)

// Stitching seams. Where one side of a seam has a vertex that the other lacks,
// three open edges lie on one line: a long one and its two halves. The facet on
// the long side is split there. A split is made only when it closes more than
// it opens: of the pieces the long edge falls into, more than half must lie
// along open edges that are there already. Repeated until nothing is gained.
//
// The vertices near an edge are found in a k-d tree of the vertices on open
// edges; looking is bounded, and a soup with more open edges than facets is not
// looked at: there is no seam in it.

const (
	stitchPasses = 16
	stitchWork   = 6_000_000 // tree nodes looked at in all passes: a fraction of a second's worth
)

// stitch returns m with facets split along seams, and how many edges were.
func stitch(m *Mesh, tol float64, k *looked) (*Mesh, int) {
	total, work := 0, 0
	for range stitchPasses {
		r, n := stitchOnce(m, tol, &work, k)
		if n == 0 {
			break
		}
		m, total = r, total+n
	}
	return m, total
}

func stitchOnce(m *Mesh, tol float64, work *int, k *looked) (*Mesh, int) {
	s, e := k.sides(m), k.edges(m)
	if len(e.open) == 0 || !(tol > 0) || len(e.open) > len(m.F) {
		return m, 0
	}
	tree := treeOf(m, rimVertices(m, e.open))
	tree.work = work
	used := make(map[int32]bool) // open sides already matched or split; looked up only
	touched := make(map[int32]bool)
	r := &Mesh{V: m.V, F: slices.Clone(m.F), Colour: slices.Clone(m.Colour)}
	n := 0
	for _, side := range e.open {
		if used[side] || touched[side/3] {
			continue
		}
		a, b := m.ends(side)
		c := m.apex(side)
		between := tree.onSegment(a, b, c, tol)
		if len(between) == 0 {
			continue
		}
		// The open sides that the pieces of a–b would close.
		chain := append(append([]int32{a}, between...), b)
		var partners []int32
		for i := range len(chain) - 1 {
			along := s.along(chain[i], chain[i+1])
			if len(along) == 1 && !used[sideOf(along[0])] && !touched[facetOf(along[0])] {
				partners = append(partners, sideOf(along[0]))
			} else if len(along) > 0 {
				partners = nil // it would crowd an edge
				break
			}
		}
		if 2*len(partners) <= len(between) || len(partners) == 0 {
			continue
		}
		for _, p := range partners {
			used[p] = true
			touched[p/3] = true
		}
		used[side] = true
		f := side / 3
		touched[f] = true
		for i := range len(chain) - 1 {
			piece := [3]int32{chain[i], chain[i+1], c}
			if i == 0 {
				r.F[f] = piece
				continue
			}
			r.F = append(r.F, piece)
			if m.Colour != nil {
				r.Colour = append(r.Colour, m.Colour[f])
			}
		}
		n++
	}
	if n == 0 {
		return m, 0
	}
	return r, n
}

// tree is a k-d tree of vertices: node i of a run is its middle, the halves
// before and after it are the branches.
type tree struct {
	m    *Mesh
	v    []int32
	axis []uint8
	work *int
}

func treeOf(m *Mesh, vs []int32) *tree {
	t := &tree{m: m, v: vs, axis: make([]uint8, len(vs))}
	t.build(0, len(vs))
	return t
}

func (t *tree) build(from, to int) {
	if to-from < 2 {
		return
	}
	box := noBox
	for _, v := range t.v[from:to] {
		box.include(t.m.V[v])
	}
	size := box.Size()
	k := 0
	for j := 1; j < 3; j++ {
		if size[j] > size[k] {
			k = j
		}
	}
	slices.SortFunc(t.v[from:to], func(p, q int32) int {
		if c := cmp.Compare(t.m.V[p][k], t.m.V[q][k]); c != 0 {
			return c
		}
		return int(p - q)
	})
	mid := (from + to) / 2
	t.axis[mid] = uint8(k)
	t.build(from, mid)
	t.build(mid+1, to)
}

// onSegment returns the vertices within tol mm of the inside of the segment a–b,
// in order from a; neither a, b nor c, nor any as close to an end as tol.
func (t *tree) onSegment(a, b, c int32, tol float64) []int32 {
	type at struct {
		v int32
		x float64
	}
	var found []at
	p, q := t.m.V[a], t.m.V[b]
	d := q.Sub(p)
	l := d.Len()
	if !(l > 2*tol) {
		return nil
	}
	d = d.times(1 / l)
	var look func(from, to int, x0, x1 float64)
	// Invariant: the part of the segment from x0 to x1 mm along it is all that
	// can be near the vertices from…to.
	look = func(from, to int, x0, x1 float64) {
		if from >= to || x0 > x1 {
			return
		}
		if *t.work++; *t.work > stitchWork {
			return
		}
		mid := (from + to) / 2
		v := t.v[mid]
		w := t.m.V[v].Sub(p)
		if x := w.Dot(d); x > tol && x < l-tol && v != a && v != b && v != c && w.Cross(d).Len() <= tol {
			found = append(found, at{v, x})
		}
		if to-from == 1 {
			return
		}
		k := t.axis[mid]
		// Where along the segment its coordinate k is at most, or at least, the
		// vertex's, give or take tol.
		below0, below1 := clip(p[k], d[k], t.m.V[v][k]+tol, x0, x1)
		look(from, mid, below0, below1)
		above0, above1 := clip(-p[k], -d[k], -t.m.V[v][k]+tol, x0, x1)
		look(mid+1, to, above0, above1)
	}
	// A little longer at both ends than needed, for rounding.
	look(0, len(t.v), -tol, l+tol)
	slices.SortFunc(found, func(p, q at) int {
		if c := cmp.Compare(p.x, q.x); c != 0 {
			return c
		}
		return int(p.v - q.v)
	})
	out := make([]int32, 0, len(found))
	last := 0.
	for _, f := range found {
		if f.x-last > tol { // of vertices at one place the first stands for all
			out = append(out, f.v)
			last = f.x
		}
	}
	return out
}

// clip narrows x0…x1 to where start + slope·x ≤ most, with a margin for rounding.
func clip(start, slope, most, x0, x1 float64) (float64, float64) {
	margin := float64(1e-9 * (math.Abs(start) + math.Abs(most)))
	room := most + margin - start
	switch {
	case slope > 1e-12:
		return x0, min(x1, room/slope)
	case slope < -1e-12:
		return max(x0, room/slope), x1
	case room+float64(1e-12*max(math.Abs(x0), math.Abs(x1))) < 0:
		return 1, 0
	}
	return x0, x1
}
