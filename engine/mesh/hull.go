package mesh

import (
	"math"
)

// The convex hull of points in space.
//
// Notation: p, q points on the grid; n·x = d the plane of a facet, n pointing
// out; side(p) = n·p − d, positive when the facet can be seen from p. The
// outside list of a facet holds points that see it and are not used yet.
//
// Source: the divide-and-conquer hull of Barber, Dobkin and Huhdanpaa, "The
// Quickhull Algorithm for Convex Hulls", ACM TOMS 22 (1996) (MEMORY): take the
// point farthest from a facet, remove every facet it sees, and close the hole
// with facets from its rim (the horizon) to the point.
//
// Idea: on floating-point coordinates "sees" is a guess wherever four points
// are nearly in a plane, and flat faces, which patrons' parts are full of, are
// nothing but such places. So points snap once to a grid of 2^20 steps over
// the longest side of their box (0.2 µm for a part of 200 mm). There side is
// exact in 64 bits: |n| < 2^41 and |p−q| < 2^20 in each of three coordinates.
// With an exact and strict "sees", the facets seen from a point are one patch
// with a simple rim, even among coplanar facets: if a rim edge were in line
// with the point, the point would lie in the planes of both facets at that
// edge and see neither. So no facet has area 0 and nothing is repaired later.
//
// Rejected: thick planes with merging (the published answer to rounding), as
// longer and still a guess; perturbation, as it gives flat faces made-up edges.
type hullBuilder struct {
	p     [][3]int64 // grid points
	next  []int32    // linked lists of outside points, −1 ends
	faces []hullFace
	at    []int32 // new facet that starts its rim edge at a point; scratch
}

type hullFace struct {
	v    [3]int32 // counter-clockwise from outside
	nbr  [3]int32 // facet across v[i]→v[i+1]
	n    [3]int64
	d    int64
	head int32 // outside list
	far  int32 // its farthest point
	best int64 // side(far)
	dead bool
}

const hullGrid = 1<<20 - 1

// Hull returns the convex hull of points in mm: its corners, each one of
// points unchanged, and its facets as indices into them, counter-clockwise
// from outside. Corners may include a few points that lie inside a face or
// edge. Points all in one plane (to 2^-20 of their extent) give the outline's
// corners in order and no facets; points in a line its ends; none gives none.
// Points that are not finite are left out.
func Hull(points []Vec) ([]Vec, [][3]int32) {
	src, grid := snap(points)
	if len(grid) == 0 {
		return nil, nil
	}
	b := &hullBuilder{p: grid}
	corner := b.simplex()
	var order []int32
	var facets [][3]int32
	if len(corner) < 4 {
		order = b.flat(corner)
	} else {
		b.build([4]int32(corner))
		id := make([]int32, len(grid))
		for i := range b.faces {
			f := &b.faces[i]
			if f.dead {
				continue
			}
			var g [3]int32
			for k, v := range f.v {
				if id[v] == 0 {
					order = append(order, v)
					id[v] = int32(len(order))
				}
				g[k] = id[v] - 1
			}
			facets = append(facets, g)
		}
	}
	out := make([]Vec, len(order))
	for i, v := range order {
		out[i] = points[src[v]]
	}
	return out, facets
}

// snap puts the finite points on the grid; src tells which point each came from.
func snap(points []Vec) (src []int32, grid [][3]int64) {
	lo := Vec{math.Inf(1), math.Inf(1), math.Inf(1)}
	hi := Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)}
	// A quarter of the largest float keeps differences finite.
	const most = math.MaxFloat64 / 4
	ok := func(v Vec) bool {
		return math.Abs(v[0]) < most && math.Abs(v[1]) < most && math.Abs(v[2]) < most
	}
	for _, v := range points {
		if !ok(v) {
			continue
		}
		for k := range v {
			lo[k], hi[k] = math.Min(lo[k], v[k]), math.Max(hi[k], v[k])
		}
	}
	extent := math.Max(hi[0]-lo[0], math.Max(hi[1]-lo[1], hi[2]-lo[2]))
	src = make([]int32, 0, len(points))
	grid = make([][3]int64, 0, len(points))
	for i, v := range points {
		if !ok(v) {
			continue
		}
		var g [3]int64
		if extent > 0 {
			for k := range v {
				g[k] = int64(math.Round((v[k] - lo[k]) / extent * hullGrid))
			}
		}
		src, grid = append(src, int32(i)), append(grid, g)
	}
	return src, grid
}

func diff(p, q [3]int64) [3]int64 { return [3]int64{p[0] - q[0], p[1] - q[1], p[2] - q[2]} }

func dot(a, b [3]int64) int64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }

func cross(a, b [3]int64) [3]int64 {
	return [3]int64{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// simplex returns up to four points that span as much as the points do: one
// if all are the same, two if in line, three if in a plane. Each is far from
// those before it, which makes the first facets throw most points out.
func (b *hullBuilder) simplex() []int32 {
	less := func(i, j int32) bool {
		p, q := b.p[i], b.p[j]
		if p[0] != q[0] {
			return p[0] < q[0]
		}
		if p[1] != q[1] {
			return p[1] < q[1]
		}
		return p[2] < q[2]
	}
	var lo, hi int32
	for i := range b.p {
		if j := int32(i); less(j, lo) {
			lo = j
		} else if less(hi, j) {
			hi = j
		}
	}
	if b.p[lo] == b.p[hi] {
		return []int32{lo}
	}
	c, best := int32(-1), 0.0
	axis := diff(b.p[hi], b.p[lo])
	for i, p := range b.p {
		n := cross(axis, diff(p, b.p[lo]))
		x, y, z := float64(n[0]), float64(n[1]), float64(n[2])
		if s := float64(x*x) + float64(y*y) + float64(z*z); s > best {
			c, best = int32(i), s
		}
	}
	if c < 0 {
		return []int32{lo, hi}
	}
	n := cross(axis, diff(b.p[c], b.p[lo]))
	d, far := int32(-1), int64(0)
	for i, p := range b.p {
		if s := dot(n, diff(p, b.p[lo])); s > far || -s > far {
			d, far = int32(i), max(s, -s)
		}
	}
	if d < 0 {
		return []int32{lo, hi, c}
	}
	if dot(n, diff(b.p[d], b.p[lo])) > 0 { // d must lie behind lo, hi, c
		hi, c = c, hi
	}
	return []int32{lo, hi, c, d}
}

func (b *hullBuilder) newFace(u, v, w int32) int32 {
	n := cross(diff(b.p[v], b.p[u]), diff(b.p[w], b.p[u]))
	b.faces = append(b.faces, hullFace{v: [3]int32{u, v, w}, n: n, d: dot(n, b.p[u]), head: -1, far: -1})
	return int32(len(b.faces) - 1)
}

// offer puts point i on the outside list of the first of faces it sees.
func (b *hullBuilder) offer(i, from, to int32) {
	p := b.p[i]
	for k := from; k < to; k++ {
		f := &b.faces[k]
		// Wrapped intermediate sums cancel: the difference fits.
		if s := dot(f.n, p) - f.d; s > 0 {
			b.next[i] = f.head
			f.head = i
			if s > f.best {
				f.far, f.best = i, s
			}
			return
		}
	}
}

func (b *hullBuilder) build(s [4]int32) {
	b.next = make([]int32, len(b.p))
	b.at = make([]int32, len(b.p))
	b.newFace(s[0], s[1], s[2])
	b.newFace(s[0], s[3], s[1])
	b.newFace(s[1], s[3], s[2])
	b.newFace(s[2], s[3], s[0])
	for i, nbr := range [4][3]int32{{1, 2, 3}, {3, 2, 0}, {1, 3, 0}, {2, 1, 0}} {
		b.faces[i].nbr = nbr
	}
	for i := range b.p {
		b.offer(int32(i), 0, 4)
	}
	work := []int32{0, 1, 2, 3}
	var seen []int32
	// Invariant: the living facets are the hull of the points used so far,
	// and every other point outside it is on exactly one of their lists.
	for len(work) > 0 {
		k := work[len(work)-1]
		work = work[:len(work)-1]
		if b.faces[k].dead || b.faces[k].head < 0 {
			continue
		}
		eye := b.faces[k].far
		first := int32(len(b.faces))
		seen = b.raise(eye, k, seen[:0])
		last := int32(len(b.faces))
		for _, f := range seen {
			for i := b.faces[f].head; i >= 0; {
				next := b.next[i]
				b.offer(i, first, last)
				i = next
			}
			b.faces[f].head = -1
		}
		for f := first; f < last; f++ {
			if b.faces[f].head >= 0 {
				work = append(work, f)
			}
		}
	}
}

// raise replaces the facets seen from eye, k among them, with facets from
// their rim to eye, and returns those it removed.
func (b *hullBuilder) raise(eye, k int32, seen []int32) []int32 {
	p := b.p[eye]
	b.faces[k].dead = true
	seen = append(seen, k)
	first := int32(len(b.faces))
	for i := 0; i < len(seen); i++ {
		f := seen[i]
		for e := range 3 {
			g := b.faces[f].nbr[e]
			if b.faces[g].dead { // seen as well: older dead ones have no neighbours left
				continue
			}
			if dot(b.faces[g].n, p)-b.faces[g].d > 0 {
				b.faces[g].dead = true
				seen = append(seen, g)
				continue
			}
			u, v := b.faces[f].v[e], b.faces[f].v[(e+1)%3]
			h := b.newFace(u, v, eye)
			b.faces[h].nbr[0] = g
			b.at[u] = h
			for x := range 3 { // g's side of the edge
				if b.faces[g].v[x] == v {
					b.faces[g].nbr[x] = h
				}
			}
		}
	}
	for h := first; h < int32(len(b.faces)); h++ {
		next := b.at[b.faces[h].v[1]]
		b.faces[h].nbr[1] = next
		b.faces[next].nbr[2] = h
	}
	return seen
}
