package findings

import (
	"math"

	"platebook/engine/mesh"
	"platebook/engine/region"
)

// How a part stands: what touches the platform, and whether it topples.
//
// Notation: c the centre of mass at height h, P the convex hull of what touches
// the platform (the first layer, cut half-way up). A body stands if c is above
// P; the least tilt that tips it over an edge of P at horizontal distance d is
// atan(d/h). Source: statics of a rigid body on a plane (COMPUTED).

// stand is how one piece stands.
type stand struct {
	area    float64 // of contact, mm²
	islands int     // separate spots of contact
	distance,
	angle float64 // degrees until it tips; negative if it falls over by itself
	centre mesh.Vec
	edge   mesh.Vec // the nearest point of P's outline, z = 0
}

// standing measures contact, the part of the first layer that belongs to the
// piece with centre of mass c. margin widens P: a brim or a raft does so.
func standing(contact region.Region, c mesh.Vec, margin float64) stand {
	s := stand{area: contact.Area(), centre: c}
	var pts []region.Point
	for _, ring := range contact {
		if ringArea(ring) > 0 {
			s.islands++
		}
		pts = append(pts, ring...)
	}
	hull := region.Hull(pts)
	d, edge := inside(hull, c[0]*1000, c[1]*1000)
	s.distance = d/1000 + margin
	s.edge = mesh.Vec{edge[0] / 1000, edge[1] / 1000, 0}
	s.angle = math.Atan2(s.distance, math.Max(c[2], hair)) * 180 / math.Pi
	return s
}

func ringArea(r region.Ring) float64 {
	var two int64
	for i, p := range r {
		q := r[(i+1)%len(r)]
		two += int64(p.X)*int64(q.Y) - int64(p.Y)*int64(q.X)
	}
	return float64(two) / 2e6
}

// inside returns how far (x, y) is within a convex outline, negative outside,
// and the nearest point of the outline.
func inside(hull region.Ring, x, y float64) (float64, [2]float64) {
	if len(hull) == 0 {
		return math.Inf(-1), [2]float64{x, y}
	}
	best, at := math.Inf(1), [2]float64{}
	in := len(hull) >= 3
	for i, p := range hull {
		q := hull[(i+1)%len(hull)]
		px, py := float64(p.X), float64(p.Y)
		ex, ey := float64(q.X)-px, float64(q.Y)-py
		l := float64(ex*ex) + float64(ey*ey)
		t := 0.0
		if l > 0 {
			t = min(max((float64((x-px)*ex)+float64((y-py)*ey))/l, 0), 1)
		}
		nx, ny := px+float64(t*ex), py+float64(t*ey)
		dx, dy := x-nx, y-ny
		if d := math.Sqrt(float64(dx*dx) + float64(dy*dy)); d < best {
			best, at = d, [2]float64{nx, ny}
		}
		if float64(ex*(y-py))-float64(ey*(x-px)) < 0 {
			in = false
		}
	}
	if !in {
		best = -best
	}
	return best, at
}
