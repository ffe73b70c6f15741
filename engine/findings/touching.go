package findings

import (
	"math"

	"platebook/engine/mesh"
)

// Walls and gaps by the ball that touches.
//
// Notation: p a point of the surface, n its outward normal. The ball of radius
// r that touches at p from inside has its centre at c = p − r·n. It reaches a
// point q of the surface when |q − c| = r, that is at r = |q−p|² / 2(p−q)·n.
// The largest ball that reaches no facet opposed to p (normals more than
// 180° − wedge apart) has the diameter of the wall at p; the largest that
// touches from outside, that of the gap. In a slab, a tube or a hollow ball it
// is the thickness of the wall; at x from the edge of a wedge of angle a,
// 2x·tan(a/2) (COMPUTED).
//
// Source: the ball of the medial axis (Blum 1967), shrunk from point to point
// as in Ma, Bae and Choi, 3D medial axis point approximation using nearest
// neighbors and the normal field (2012) (MEMORY).
//
// Why a ball and not a ray straight in: a ray overstates walls that taper and
// jumps where they bend, while the ball is what a bead can be. Why only opposed
// facets: a ball near any edge of a cube is small as well, and nobody calls that
// a wall.
//
// Idea: nothing is asked but whether a wall is thinner than some beads, so every
// ball has a largest radius and a small box. The boxes are sorted into a grid and
// each facet visits the cells that it runs through, once. So a mesh of a million
// facets costs one look at each of them and there is no tree to build over them.
// Radii only shrink, in fixed chunks of facets, so cores do not matter.
//
// Rejected: a tree of facets with a query for each point (half a second to build
// for a million of facets); chords of a few rays in a cone (no closed form to
// check them by).

// wedge is how far two faces may open and still be the sides of one wall,
// degrees: corners of 60° and more print well (CUSTOM).
const wedge = 45

// bubble touches the surface at a point from one side.
type bubble struct {
	r     float64
	facet int32    // what stopped it; −1 none within the largest radius
	q     mesh.Vec // where
}

// balls returns for each point the ball inside, of radius in at most, and the
// one outside, of radius out at most, and whether all facets could be held
// against them within the bounds on work.
func balls(m *mesh.Mesh, pts []point, in, out float64) (inside, outside []bubble, ok bool) {
	most := [2]float64{in, out}
	boxes := make([]mesh.Box, 2*len(pts))
	for i, p := range pts {
		for side, r := range most {
			c := p.centre(r, side)
			boxes[2*i+side] = mesh.Box{Min: c.Sub(mesh.Vec{r, r, r}), Max: c.Add(mesh.Vec{r, r, r})}
		}
	}
	type shrunk struct {
		r     []float64
		facet []int32
	}
	parts := make([]shrunk, chunks)
	opposed := -math.Cos(wedge * math.Pi / 180)
	ok = visit(m, boxes, func(chunk int) func(int32, *triangle, int32) {
		s := shrunk{make([]float64, len(boxes)), make([]int32, len(boxes))}
		for i := range s.r {
			s.r[i], s.facet[i] = most[i&1], -1
		}
		parts[chunk] = s
		return func(f int32, t *triangle, i int32) {
			p := &pts[i>>1]
			if p.n.Dot(t.n) >= opposed || p.facet == f {
				return
			}
			if r, hit := t.stop(p, int(i&1), s.r[i]); hit {
				s.r[i], s.facet[i] = r, f
			}
		}
	})
	result := make([]bubble, len(boxes))
	for i := range result {
		b := bubble{r: most[i&1], facet: -1}
		for _, s := range parts {
			if s.facet != nil && s.facet[i] >= 0 && s.r[i] < b.r {
				b.r, b.facet = s.r[i], s.facet[i]
			}
		}
		if b.facet >= 0 {
			f := m.F[b.facet]
			b.q = closest(m.V[f[0]], m.V[f[1]], m.V[f[2]], pts[i>>1].centre(b.r, i&1))
		}
		result[i] = b
	}
	inside, outside = make([]bubble, len(pts)), make([]bubble, len(pts))
	for i := range pts {
		inside[i], outside[i] = result[2*i], result[2*i+1]
	}
	return inside, outside, ok
}

// stop shrinks the ball of radius r that touches at p, inside (0) or outside
// (1), until it no longer reaches into the triangle.
func (t *triangle) stop(p *point, side int, r float64) (float64, bool) {
	hit := false
	for range 40 {
		// Invariant: no point of the triangle found so far is in the ball.
		c := p.centre(r, side)
		if d := t.n.Dot(c.Sub(t.a)); !(math.Abs(d) < r) {
			break
		}
		v := closest(t.a, t.b, t.c, c).Sub(p.at)
		deep := -v.Dot(p.n)
		if side == 1 {
			deep = -deep
		}
		square := v.Dot(v)
		if square == 0 {
			return 0, true
		}
		if !(deep > 0) {
			break
		}
		next := square / (2 * deep)
		if !(next < r) {
			break
		}
		done := next > r*(1-1e-9)
		r, hit = next, true
		if done {
			break
		}
	}
	return r, hit
}

// closest returns the point of a triangle closest to p, by the region of the
// plane that p lies over (Ericson, Real-Time Collision Detection, 2005, 5.1.5)
// (MEMORY).
func closest(a, b, c, p mesh.Vec) mesh.Vec {
	ab, ac, ap := b.Sub(a), c.Sub(a), p.Sub(a)
	d1, d2 := ab.Dot(ap), ac.Dot(ap)
	if d1 <= 0 && d2 <= 0 {
		return a
	}
	bp := p.Sub(b)
	d3, d4 := ab.Dot(bp), ac.Dot(bp)
	if d3 >= 0 && d4 <= d3 {
		return b
	}
	vc := float64(d1*d4) - float64(d3*d2)
	if vc <= 0 && d1 >= 0 && d3 <= 0 {
		return a.Add(ab.Scale(ratio(d1, d1-d3)))
	}
	cp := p.Sub(c)
	d5, d6 := ab.Dot(cp), ac.Dot(cp)
	if d6 >= 0 && d5 <= d6 {
		return c
	}
	vb := float64(d5*d2) - float64(d1*d6)
	if vb <= 0 && d2 >= 0 && d6 <= 0 {
		return a.Add(ac.Scale(ratio(d2, d2-d6)))
	}
	va := float64(d3*d6) - float64(d5*d4)
	if va <= 0 && d4-d3 >= 0 && d5-d6 >= 0 {
		return b.Add(c.Sub(b).Scale(ratio(d4-d3, (d4-d3)+(d5-d6))))
	}
	sum := va + vb + vc
	return a.Add(ab.Scale(ratio(vb, sum))).Add(ac.Scale(ratio(vc, sum)))
}

// ratio is x/whole, 0 of nothing.
func ratio(x, whole float64) float64 {
	if !(whole > 0) {
		return 0
	}
	return x / whole
}
