package region

import (
	"cmp"
	"slices"
)

// Hull returns the convex hull of points, counter-clockwise, without points in
// the middle of an edge. Fewer than three come back when the points do not span
// the plane. Source: the monotone chain of Andrew, Information Processing
// Letters 9 (1979) (MEMORY): sweep by x and keep only left turns, below and above.
func Hull(points []Point) Ring {
	p := make(Ring, len(points))
	for i, q := range points {
		p[i] = Point{min(max(q.X, -Limit), Limit), min(max(q.Y, -Limit), Limit)}
	}
	slices.SortFunc(p, func(a, b Point) int { return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y)) })
	p = slices.Compact(p)
	if len(p) < 3 {
		return p
	}
	var out Ring
	// Invariant: out[floor:] turns left all along.
	push := func(q Point, floor int) {
		for len(out) >= floor+2 && leftTurn(out[len(out)-2], out[len(out)-1], q) <= 0 {
			out = out[:len(out)-1]
		}
		out = append(out, q)
	}
	for _, q := range p {
		push(q, 0)
	}
	floor := len(out) - 1
	for i := len(p) - 2; i >= 0; i-- {
		push(p[i], floor)
	}
	return out[:len(out)-1]
}

// leftTurn is twice the signed area of a, b, c, exact within Limit.
func leftTurn(a, b, c Point) int64 {
	return int64(b.X-a.X)*int64(c.Y-a.Y) - int64(b.Y-a.Y)*int64(c.X-a.X)
}
