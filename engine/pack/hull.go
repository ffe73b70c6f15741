package pack

import (
	"cmp"
	"slices"

	"platebook/engine/region"
)

// hull returns the convex hull of r, whose box is that of r in every turn and
// has far fewer corners to turn (A. Andrew, Another efficient algorithm for
// convex hulls in two dimensions, 1979, MEMORY).
func hull(r region.Region) region.Region {
	var points []region.Point
	for _, ring := range r {
		points = append(points, ring...)
	}
	slices.SortFunc(points, func(a, b region.Point) int {
		return cmp.Or(cmp.Compare(a.X, b.X), cmp.Compare(a.Y, b.Y))
	})
	var out region.Ring
	for range 2 { // below from left to right, then above and back
		begin := len(out)
		for _, p := range points {
			// Invariant: out[begin:] turns left all along.
			for n := len(out); n >= begin+2 && !left(out[n-2], out[n-1], p); n-- {
				out = out[:n-1]
			}
			out = append(out, p)
		}
		if len(out) > 0 {
			out = out[:len(out)-1] // begins the other half
		}
		slices.Reverse(points)
	}
	return region.Region{out}
}

// left says whether the way from a by b to c turns left.
func left(a, b, c region.Point) bool {
	return int64(b.X-a.X)*int64(c.Y-a.Y) > int64(b.Y-a.Y)*int64(c.X-a.X)
}
