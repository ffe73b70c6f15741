package findings

import (
	"math"

	"platebook/engine/mesh"
)

// The small parts test of 16 CFR 1501.4: a part is small if it fits entirely,
// in any orientation and uncompressed, into a cylinder 1.25 in wide whose
// floor slants from 1 in deep on one side to 2.25 in on the other. The inch
// sizes govern. In a frame with the opening at z = 0 and the axis through the
// origin the floor is the plane x + z = −1.625 in: it falls 1.25 in over 1.25 in.
//
// The cylinder is convex, so a part fits if and only if its convex hull does.
const (
	inch         = 25.4
	smallRadius  = 0.625 * inch
	smallFloor   = 1.625 * inch
	smallDeepest = 2.25 * inch
)

var (
	// smallVolume is the volume of the cylinder, mm³: π·r²·mean depth.
	smallVolume = math.Pi * smallRadius * smallRadius * smallFloor
	// smallChord is the longest straight line in it, from the rim of the opening
	// to the far end of the floor, mm.
	smallChord = math.Sqrt(4*smallRadius*smallRadius + smallDeepest*smallDeepest)
)

// smallCylinder is that cylinder as a container.
type smallCylinder struct{}

// fits moves the highest point to the opening, which is best for everything
// else. What is left is a move in the plane, u, the place of the axis among the
// points: within the radius of each, and low enough in x for the floor. It
// exists if the leftmost point common to the discs about the points does.
func (smallCylinder) fits(p []mesh.Vec, slack float64, free bool) bool {
	top, bottom, slope := math.Inf(-1), math.Inf(1), math.Inf(1)
	for _, q := range p {
		top = math.Max(top, q[2])
		bottom = math.Min(bottom, q[2])
		slope = math.Min(slope, q[0]+q[2])
	}
	if top-bottom > smallDeepest+2*slack {
		return false
	}
	// A point that moves by slack moves x+z by √2·slack and the top by slack.
	limit := smallFloor + slope - top + float64((1+math.Sqrt2)*slack)
	x, ok := leftmost(p, smallRadius+slack+1e-9)
	return ok && (free || x <= limit+1e-9)
}

// leftmost returns the least x of the intersection of discs of radius r about
// the points' x, y, and whether there is any intersection.
//
// It is a linear-programming-type problem (Seidel; Welzl 1991) (MEMORY): take
// the discs in order; if the best point so far is not in the next disc, the new
// best point is on that disc's rim, in the arc that all discs before it share.
func leftmost(p []mesh.Vec, r float64) (float64, bool) {
	if len(p) == 0 {
		return math.Inf(-1), true
	}
	ux, uy := p[0][0]-r, p[0][1]
	in := float64(r*r) + float64(1e-9*r)
	// Invariant: u is the leftmost point common to discs 0..i−1.
	for i := 1; i < len(p); i++ {
		dx, dy := ux-p[i][0], uy-p[i][1]
		if float64(dx*dx)+float64(dy*dy) <= in {
			continue
		}
		// The rim's point at angle π+a is leftmost at a = 0; the arc is lo ≤ a ≤ hi.
		lo, hi := -math.Pi, math.Pi
		for j := range i {
			dx, dy := p[j][0]-p[i][0], p[j][1]-p[i][1]
			d := math.Sqrt(float64(dx*dx) + float64(dy*dy))
			if d > 2*r {
				return 0, false
			}
			if d < 1e-12 {
				continue
			}
			// Disc j holds the part of the rim within half of its direction.
			half := math.Acos(d / (2 * r))
			mid := math.Atan2(-dy, -dx) // direction less π
			var ok bool
			if lo, hi, ok = clipArc(lo, hi, mid-half, mid+half); !ok {
				return 0, false
			}
		}
		a := math.Min(math.Max(0, lo), hi)
		ux, uy = p[i][0]-float64(r*math.Cos(a)), p[i][1]-float64(r*math.Sin(a))
	}
	return ux, true
}

// clipArc intersects two arcs, each at most a half turn long except the first
// of all; then the intersection is one arc or none.
func clipArc(lo, hi, from, to float64) (float64, float64, bool) {
	mid := float64((lo + hi) / 2)
	for (from+to)/2 > mid+math.Pi {
		from, to = from-2*math.Pi, to-2*math.Pi
	}
	for (from+to)/2 < mid-math.Pi {
		from, to = from+2*math.Pi, to+2*math.Pi
	}
	if hi-lo >= 2*math.Pi {
		return from, to, true
	}
	lo, hi = math.Max(lo, from), math.Min(hi, to)
	const hair = 1e-9
	if lo > hi+hair {
		return 0, 0, false
	}
	return lo, math.Max(lo, hi), true
}

// SmallPart says whether the convex hull of points, mm, fits into the small
// parts cylinder. Unsure means it comes so close that budget cells of the
// search did not settle it. What is spent of the budget is returned.
func SmallPart(points []mesh.Vec, budget int) (Certainty, int) {
	corners, facets := mesh.Hull(points)
	if len(corners) == 0 {
		return Unsure, 0
	}
	lo, hi := corners[0], corners[0]
	for _, p := range corners {
		for k := range p {
			lo[k], hi[k] = math.Min(lo[k], p[k]), math.Max(hi[k], p[k])
		}
	}
	size := hi.Sub(lo)
	if max(size[0], size[1], size[2]) > smallChord { // two points farther apart than any in the cylinder
		return DoesNotFit, 0
	}
	volume, inner := bulk(corners, facets)
	if volume > smallVolume*(1+1e-9) || inner > smallRadius*(1+1e-9) {
		return DoesNotFit, 0
	}
	answer, _, spent := fitSearch(corners, facets, smallCylinder{}, budget)
	return answer, spent
}

// bulk returns the volume of a convex body and the radius of the largest ball
// in it about its centre of mass.
func bulk(corners []mesh.Vec, facets [][3]int32) (volume, inner float64) {
	if len(facets) == 0 {
		return 0, 0
	}
	var moment mesh.Vec
	o := corners[0]
	for _, f := range facets {
		a, b, c := corners[f[0]].Sub(o), corners[f[1]].Sub(o), corners[f[2]].Sub(o)
		six := a.Dot(b.Cross(c))
		volume += six / 6
		moment = moment.Add(a.Add(b).Add(c).Scale(six / 24))
	}
	if !(volume > 0) {
		return 0, 0
	}
	centre := o.Add(moment.Scale(1 / volume))
	inner = math.Inf(1)
	for _, f := range facets {
		n := corners[f[1]].Sub(corners[f[0]]).Cross(corners[f[2]].Sub(corners[f[0]]))
		if l := n.Len(); l > 0 {
			inner = math.Min(inner, n.Dot(corners[f[0]].Sub(centre))/l)
		}
	}
	return volume, math.Max(inner, 0)
}
