package plan

import (
	"math"

	"platebook/engine/region"
)

// thin drops corners of rings that lie within tol of the line between those
// kept: from each corner kept, the next is the last one up to which a straight
// line stays within tol of all corners passed (C. Williams, 1978, the cone
// between tangents to discs of radius tol, MEMORY). One pass, no recursion.
func thin(r region.Region, tol region.Micron) region.Region {
	out := r[:0:0]
	for _, ring := range r {
		closed := append(append(make([]region.Point, 0, len(ring)+1), ring...), ring[0])
		if t := thinLine(closed, float64(tol)); len(t) >= 4 {
			out = append(out, t[:len(t)-1])
		}
	}
	return out
}

// thinLine does the same to an open line and keeps both its ends. It changes pts.
func thinLine(pts []region.Point, tol float64) []region.Point {
	n := len(pts)
	if n < 3 {
		return pts
	}
	out := pts[:1]
	for i := 0; i < n-1; {
		// Invariant: out ends with pts[i], and what comes after is not yet changed.
		p := pts[i]
		var lx, ly, rx, ry float64 // the cone of directions from p, left and right side
		open := false
		j := i + 1
		for ; j < n; j++ {
			x, y := float64(pts[j].X-p.X), float64(pts[j].Y-p.Y)
			l := math.Sqrt(float64(x*x) + float64(y*y))
			if l <= tol {
				continue // any direction passes it
			}
			if open && (float64(lx*y)-float64(ly*x) > 0 || float64(rx*y)-float64(ry*x) < 0) {
				break
			}
			s := tol / l
			c := math.Sqrt(1 - float64(s*s))
			ax, ay := float64(x*c)-float64(y*s), float64(y*c)+float64(x*s) // turned left
			bx, by := float64(x*c)+float64(y*s), float64(y*c)-float64(x*s) // turned right
			if !open || float64(lx*ay)-float64(ly*ax) < 0 {
				lx, ly = ax, ay
			}
			if !open || float64(rx*by)-float64(ry*bx) > 0 {
				rx, ry = bx, by
			}
			open = true
		}
		i = max(i+1, j-1)
		out = append(out, pts[i])
	}
	return out
}
