package pose

import (
	"math"

	"platebook/engine/mesh"
)

// Scoring one pose.
//
// Notation: n the unit normal of a facet, a the support angle from the vertical,
// h the height of the first layer. A facet overhangs if −n·z > sin a; its part
// above h is held up, its part below h lies on the platform. z(x, y) is its
// height, b(x, y) that of what its column stands on: the part's next upper
// surface below, or the platform, 0.
//
// Idea: the volume to fill is ∫ z − b over the shadows of overhanging facets.
// ∫ z is a sum over facets, exact: a triangle's shadow times its mean height.
// ∫ b is nothing where the column reaches the platform, so sampling it, on the
// columns of a grid (columns.go), adds no error at all to parts that overhang
// the platform only, and a small one to a small term otherwise. Overhanging
// facets inside another body, or lying on one, need nothing: there the sample
// takes all of z back, and the facet's area.
//
// Everything is measured in one frame, spun to the smallest rectangle around
// the footprint and from there by a fixed angle, so that figures do not depend
// on how the file had the part turned, but for rounding.

// frame is a rotation by rows; row 2 points up.
type frame [3]mesh.Vec

func (r frame) apply(p mesh.Vec) mesh.Vec { return mesh.Vec{r[0].Dot(p), r[1].Dot(p), r[2].Dot(p)} }

// spun turns the frame so that its direction u in the plane comes to lie along x.
func (r frame) spun(u point) frame {
	x := r[0].Scale(u[0]).Add(r[1].Scale(u[1]))
	x = x.Scale(1 / x.Len())
	x = level(x)
	return frame{x, r[2].Cross(x), r[2]}
}

// upright is a frame in which down points down.
func upright(down mesh.Vec) frame {
	up := down.Scale(-1)
	if up == (mesh.Vec{0, 0, 1}) {
		return frame{{1, 0, 0}, {0, 1, 0}, up}
	}
	side := mesh.Vec{1, 0, 0}
	if math.Abs(up[0]) > 0.6 {
		side = mesh.Vec{0, 1, 0}
	}
	x := side.Cross(up)
	x = x.Scale(1 / x.Len())
	return frame{x, up.Cross(x), up}
}

// tilt is the direction at atan(1/φ), φ = (1+√5)/2. A grid turned so is as
// evenly spread as can be over rectangles along the part's own axes: slopes
// that are worst to approximate by fractions have the least discrepancy (Beck
// and Chen, Irregularities of Distribution, 1987 (MEMORY)).
func tilt() point {
	phi := (1 + math.Sqrt(5)) / 2
	return point{phi, 1}.unit()
}

// judge scores a resting direction.
func (p *part) judge(r resting, s *scratch) Candidate {
	c := Candidate{Down: r.down, From: r.from, Face: r.area}
	base := upright(r.down)
	shadow := p.shadow(base)
	fit := base.spun(snug(shadow))
	p.measure(fit.spun(tilt()), &c.Score, s)
	// Only the part as given keeps its spin if it can.
	stand := fit
	if r.from == AsGiven {
		stand = base
	} else {
		shadow = p.shadow(fit)
	}
	angle, ok := spin(shadow, [2]float64{p.volume[0], p.volume[1]})
	if angle != 0 {
		stand = stand.spun(along(angle))
	}
	lo, hi := p.box(stand)
	c.Box = hi.Sub(lo)
	c.Height = c.Box[2]
	c.Fits = ok && fitsIn(c.Height, p.volume[2])
	c.Pose = mesh.Affine{A: [3][3]float64{stand[0], stand[1], stand[2]}}
	foot := mesh.Vec{(lo[0] + hi[0]) / 2, (lo[1] + hi[1]) / 2, lo[2]}
	c.Pose.T = c.Pose.Apply(p.middle).Add(foot).Scale(-1)
	c.Score.round()
	return c
}

// shadow is the outline of the footprint in a frame.
func (p *part) shadow(r frame) []point {
	pts := make([]point, len(p.hull))
	for i, v := range p.hull {
		pts[i] = point{r[0].Dot(v), r[1].Dot(v)}
	}
	return outline(pts)
}

func (p *part) box(r frame) (lo, hi mesh.Vec) {
	for i, v := range p.hull {
		q := r.apply(v)
		for k, x := range q {
			if i == 0 || x < lo[k] {
				lo[k] = x
			}
			if i == 0 || x > hi[k] {
				hi[k] = x
			}
		}
	}
	return lo, hi
}

// scratch is what a worker keeps from one pose to the next.
type scratch struct {
	v     []mesh.Vec // turned vertices, z above the platform
	over  []bool     // facets that overhang
	touch []point
	columns
}

// measure fills in what supports and contact are in a frame.
func (p *part) measure(r frame, out *Score, s *scratch) {
	if s.v == nil {
		s.v, s.over = make([]mesh.Vec, len(p.v)), make([]bool, len(p.f))
	}
	lo := mesh.Vec{math.Inf(1), math.Inf(1), math.Inf(1)}
	hi := lo.Scale(-1)
	for i, v := range p.v {
		q := r.apply(v)
		s.v[i] = q
		for k, x := range q {
			lo[k], hi[k] = min(lo[k], x), max(hi[k], x)
		}
	}
	s.touch = s.touch[:0]
	for i := range s.v {
		q := &s.v[i]
		q[2] -= lo[2]
		if q[2] <= p.first {
			s.touch = append(s.touch, point{q[0], q[1]})
		}
	}
	load := loading{}
	for i, f := range p.f {
		a, b, c := &s.v[f[0]], &s.v[f[1]], &s.v[f[2]]
		shade := float64((b[0]-a[0])*(c[1]-a[1])) - float64((b[1]-a[1])*(c[0]-a[0])) // twice, up positive
		load.shade += math.Abs(shade)
		load.rows += max(a[1], b[1], c[1]) - min(a[1], b[1], c[1])
		low, high := min(a[2], b[2], c[2]), max(a[2], b[2], c[2])
		s.over[i] = shade < 0 && -shade > float64(p.lean*p.twice[i]) && high > p.first
		switch {
		case low > p.first:
			if s.over[i] {
				out.SupportedArea += float64(p.twice[i] / 2)
				out.SupportVolume += float64(-shade / 2 * ((a[2] + b[2] + c[2]) / 3))
			}
		case high <= p.first:
			if shade < 0 {
				out.Contact -= float64(shade / 2)
			}
		default:
			below, above := clip(*a, *b, *c, p.first)
			for _, q := range below {
				if q[2] == p.first {
					s.touch = append(s.touch, point{q[0], q[1]})
				}
			}
			flat, _ := shadowOf(below)
			if shade < 0 {
				out.Contact -= flat
			}
			if s.over[i] {
				flat, space := shadowOf(above)
				out.SupportVolume -= space
				out.SupportedArea += float64(p.twice[i] * (flat / shade))
			}
		}
	}
	if out.SupportedArea > 0 {
		back := s.sample(p, s.v, s.over, lo, hi, load)
		out.StandArea = float64(out.SupportedArea * back.stand)
		out.SupportVolume = float64(out.SupportVolume * (1 - back.volume))
		out.SupportedArea = float64(out.SupportedArea * (1 - back.area))
	}
	c := r.apply(p.mass)
	d := depth(outline(s.touch), point{c[0], c[1]})
	out.Tipping = math.Atan2(d, max(c[2]-lo[2], hair))
}

// clip cuts a triangle at height h into what is below and what is above. Both
// may be empty; the points put in have height h exactly.
func clip(a, b, c mesh.Vec, h float64) (below, above []mesh.Vec) {
	t := [3]mesh.Vec{a, b, c}
	for i, u := range t {
		v := t[(i+1)%3]
		if u[2] <= h {
			below = append(below, u)
		}
		if u[2] >= h {
			above = append(above, u)
		}
		if u[2] < h && v[2] > h || u[2] > h && v[2] < h {
			w := u.Add(v.Sub(u).Scale((h - u[2]) / (v[2] - u[2])))
			w[2] = h
			below, above = append(below, w), append(above, w)
		}
	}
	return below, above
}

// shadowOf returns the signed area of a flat polygon's shadow and the signed
// volume between the two.
func shadowOf(q []mesh.Vec) (area, volume float64) {
	for i := 2; i < len(q); i++ {
		a, b, c := q[0], q[i-1], q[i]
		s := (float64((b[0]-a[0])*(c[1]-a[1])) - float64((b[1]-a[1])*(c[0]-a[0]))) / 2
		area += float64(s)
		volume += float64(s * ((a[2] + b[2] + c[2]) / 3))
	}
	return area, volume
}

// round takes off the digits that rounding made up, so that poses alike by
// symmetry score alike.
func (s *Score) round() {
	for _, x := range []*float64{&s.SupportVolume, &s.SupportedArea, &s.StandArea, &s.Contact, &s.Height, &s.Box[0], &s.Box[1], &s.Box[2]} {
		*x = math.Round(*x*1e6) / 1e6
	}
	s.Tipping = math.Round(s.Tipping*1e9) / 1e9
}
