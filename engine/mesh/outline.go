package mesh

import (
	"cmp"
	"slices"
)

// flatPoint is a point of a plane on an integer grid, with what it stands for.
type flatPoint struct {
	x, y int64
	id   int32
}

// leftTurn is twice the signed area of a, b, c: positive when they turn left.
// Exact for coordinates below 2^30 in magnitude.
func leftTurn(a, b, c flatPoint) int64 {
	return (b.x-a.x)*(c.y-a.y) - (b.y-a.y)*(c.x-a.x)
}

// outline returns the corners of the convex hull of pts, counter-clockwise,
// without points in the middle of an edge; it sorts pts. Fewer than three come
// back when the points do not span the plane. Source: the monotone chain of
// Andrew, Information Processing Letters 9 (1979) (MEMORY): sweep by x and keep
// only left turns, below and above.
func outline(pts []flatPoint) []flatPoint {
	slices.SortFunc(pts, func(a, b flatPoint) int {
		return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.y, b.y), cmp.Compare(a.id, b.id))
	})
	pts = slices.CompactFunc(pts, func(a, b flatPoint) bool { return a.x == b.x && a.y == b.y })
	if len(pts) < 3 {
		return slices.Clone(pts)
	}
	var out []flatPoint
	// Invariant: out[floor:] turns left all along.
	push := func(p flatPoint, floor int) {
		for len(out) >= floor+2 && leftTurn(out[len(out)-2], out[len(out)-1], p) <= 0 {
			out = out[:len(out)-1]
		}
		out = append(out, p)
	}
	for _, p := range pts {
		push(p, 0)
	}
	floor := len(out) - 1
	for i := len(pts) - 2; i >= 0; i-- {
		push(pts[i], floor)
	}
	return out[:len(out)-1]
}

// flat returns the outline of points in one plane, given points that span it.
func (b *hullBuilder) flat(span []int32) []int32 {
	if len(span) < 3 {
		return span
	}
	n := cross(diff(b.p[span[1]], b.p[span[0]]), diff(b.p[span[2]], b.p[span[0]]))
	drop := 0
	for k := range n {
		if max(n[k], -n[k]) > max(n[drop], -n[drop]) {
			drop = k
		}
	}
	pts := make([]flatPoint, len(b.p))
	for i, p := range b.p {
		pts[i] = flatPoint{p[(drop+1)%3], p[(drop+2)%3], int32(i)}
	}
	out := outline(pts)
	ids := make([]int32, len(out))
	for i, q := range out {
		ids[i] = q.id
	}
	return ids
}
