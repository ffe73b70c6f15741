package pose

import (
	"cmp"
	"math"
	"slices"
)

// Convex outlines in the plane: the hull of points, the smallest rectangle
// around one, and how far a point is inside.
//
// Sources (MEMORY): Andrew's monotone chain, Information Processing Letters 9
// (1979), for the hull; Freeman and Shapira, CACM 18 (1975): the smallest
// rectangle around a convex outline has a side on one of its edges; Toussaint,
// MELECON 1983, for turning the four calipers round in one go.
//
// Left turns are decided on a grid of 2^28 steps over the points' extent (under
// a nanometre for a part of 200 mm), where they are exact in 64 bits. What
// comes back are the points themselves.

type point [2]float64

func (p point) sub(q point) point   { return point{p[0] - q[0], p[1] - q[1]} }
func (p point) dot(q point) float64 { return float64(p[0]*q[0]) + float64(p[1]*q[1]) }

// left is p turned a quarter counter-clockwise.
func (p point) left() point { return point{-p[1], p[0]} }

// unit is p at length 1, or x when p has no length.
func (p point) unit() point {
	l := math.Sqrt(p.dot(p))
	if !(l > 0) || math.IsInf(l, 0) {
		return point{1, 0}
	}
	return point{p[0] / l, p[1] / l}
}

// outline returns the corners of the convex hull of pts counter-clockwise, none
// on a straight run; one or two when the points do not span the plane.
func outline(pts []point) []point {
	if len(pts) == 0 {
		return nil
	}
	lo, hi := pts[0], pts[0]
	for _, p := range pts {
		for k := range p {
			lo[k], hi[k] = min(lo[k], p[k]), max(hi[k], p[k])
		}
	}
	extent := max(hi[0]-lo[0], hi[1]-lo[1])
	if !(extent > 0) || math.IsInf(extent, 0) {
		return pts[:1:1]
	}
	type spot struct {
		x, y int64
		id   int32
	}
	const steps = 1 << 28
	grid := make([]spot, len(pts))
	for i, p := range pts {
		grid[i] = spot{int64(math.Round((p[0] - lo[0]) / extent * steps)), int64(math.Round((p[1] - lo[1]) / extent * steps)), int32(i)}
	}
	slices.SortFunc(grid, func(a, b spot) int {
		return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.y, b.y), cmp.Compare(a.id, b.id))
	})
	grid = slices.CompactFunc(grid, func(a, b spot) bool { return a.x == b.x && a.y == b.y })
	var out []spot
	// Invariant: out[floor:] turns left all along.
	push := func(p spot, floor int) {
		for len(out) >= floor+2 {
			a, b := out[len(out)-2], out[len(out)-1]
			if (b.x-a.x)*(p.y-a.y)-(b.y-a.y)*(p.x-a.x) > 0 {
				break
			}
			out = out[:len(out)-1]
		}
		out = append(out, p)
	}
	for _, p := range grid {
		push(p, 0)
	}
	floor := len(out) - 1
	for i := len(grid) - 2; i >= 0; i-- {
		push(grid[i], floor)
	}
	if len(out) > 1 {
		out = out[:len(out)-1]
	}
	corners := make([]point, len(out))
	for i, p := range out {
		corners[i] = pts[p.id]
	}
	return corners
}

// extents returns the sizes of the box around pts along u and square to it.
func extents(pts []point, u point) (w, d float64) {
	v := u.left()
	x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	for _, p := range pts {
		x, y := p.dot(u), p.dot(v)
		x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
	}
	return max(x1-x0, 0), max(y1-y0, 0)
}

// snug returns the direction of the longer side of the rectangle of least area
// around a convex outline.
func snug(hull []point) point {
	n := len(hull)
	if n < 2 {
		return point{1, 0}
	}
	if n == 2 {
		return hull[1].sub(hull[0]).unit()
	}
	edge := func(i int) point { return hull[(i+1)%n].sub(hull[i%n]) }
	best, dir := math.Inf(1), point{1, 0}
	right, top, left := 0, 0, 0 // corners farthest along u, v and −u
	for i := range n {
		u := edge(i).unit()
		v := u.left()
		// Invariant: i ≤ right ≤ top ≤ left, each at most once round.
		for right = max(right, i); right < i+n && edge(right).dot(u) > 0; right++ {
		}
		for top = max(top, right); top < i+n && edge(top).dot(v) > 0; top++ {
		}
		for left = max(left, top); left < i+n && edge(left).dot(u) < 0; left++ {
		}
		w := hull[right%n].sub(hull[left%n]).dot(u)
		d := hull[top%n].sub(hull[i]).dot(v)
		if a := w * d; a < float64(best*(1-1e-9)) {
			best, dir = a, u
			if d > w {
				dir = v
			}
		}
	}
	return dir
}

// depth returns how far p is inside a convex outline: the distance to its
// nearest edge, negative outside.
func depth(hull []point, p point) float64 {
	if len(hull) == 0 {
		return math.Inf(-1)
	}
	best, in := math.Inf(1), len(hull) >= 3
	for i, a := range hull {
		e, q := hull[(i+1)%len(hull)].sub(a), p.sub(a)
		t := 0.0
		if l := e.dot(e); l > 0 {
			t = min(max(q.dot(e)/l, 0), 1)
		}
		off := point{q[0] - float64(t*e[0]), q[1] - float64(t*e[1])}
		best = min(best, math.Sqrt(off.dot(off)))
		if e.left().dot(q) < 0 {
			in = false
		}
	}
	if !in {
		return -best
	}
	return best
}
