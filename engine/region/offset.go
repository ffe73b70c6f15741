package region

import (
	"math"
	"slices"
)

// Growing and shrinking.
//
// # Idea
//
// Growing a region by d adds to it, for every edge, the strip between the edge
// and its copy moved d outward, and for every convex corner the wedge between
// the strips. The raw offset curve (moved edges, joined by arcs around convex
// corners and by way of the vertex itself at reflex ones) is as a chain the sum
// of the region's boundary and the boundaries of all strips and wedges, each
// counter-clockwise. So its winding number at a point is the number of these
// that hold the point, and what is wanted is where it is positive. Shrinking
// grows the complement: strips and wedges count -1, and again what is wanted is
// where the sum is positive. All rings at once, no case distinctions, and a
// region that is too thin for -d vanishes by itself.
// (X. Chen and S. McMains, Polygon offsetting by computing winding numbers,
// 2005, MEMORY, have the same rule.)
//
// Strips are moved by whole grid vectors, so they are exact parallelograms and
// rounding opens no cracks between them.
//
// # For speed
//
// At a reflex corner of at most 90° whose two moved edges meet in X, the loop
// X → end of one strip → vertex → begin of the other → X lies inside both
// strips. Taking it away leaves winding of at least 1 there, so the curve goes
// through X at once and the loops need not be untangled (fillet.go has the same
// for a run of short edges). At a convex corner so
// flat that the tip of the mitre sticks out by no more than a quarter of the
// arc tolerance, the tip takes the place of the arc. A hole that is not wider than
// 2d fills as it grows, an island that is not vanishes as it shrinks: such rings
// are left out, and strips of theirs that would reach beyond the other side are
// not missed, for there an edge nearer by has strips as long.

// A Join says how the gap at a convex corner is filled.
type Join int

const (
	// Round fills it with an arc.
	Round Join = iota
	// Mitre extends the two edges until they meet if that is within twice the
	// distance of the vertex (a turn of up to 120°), else it is Square.
	Mitre
	// Square cuts it off at the distance, square to the bisector.
	Square
)

// Offset returns r grown by d on every side, or shrunk if d is negative. A round
// join may depart from its arc by arc (at least 1 µm). Holes shrink as the region
// grows. Edges are right to about 1 µm, 2 µm where a fillet finer than d is thinned.
func (r Region) Offset(d Micron, join Join, arc Micron) Region {
	d = max(-2*Limit, min(2*Limit, d))
	if d == 0 {
		return Nonzero(r...)
	}
	r = r.sound()
	if len(r) == 0 {
		return nil
	}
	o := offsetter{
		w: newWork(), join: join, sign: 1,
		dist: float64(max(d, -d)),
		arc:  float64(max(1, min(arc, Limit))),
	}
	if d < 0 {
		o.sign = -1
	}
	o.sides, o.thinned = o.w.sides, o.w.thinned
	o.step = 2 * math.Pi / 4
	if h := 1 - float64(o.arc/o.dist); h > 0.7072 {
		o.step = 2 * angleOf(h, math.Sqrt(float64((1-h)*(1+h))))
	}
	if join != Round {
		o.arc = 1
	}
	for _, ring := range r {
		if (ring.twice() > 0) != (d > 0) && ring.narrow(2*max(d, -d)) {
			continue
		}
		o.ring(ring)
	}
	o.w.sides, o.w.thinned = o.sides, o.thinned
	return o.w.result(rulePositive)
}

// narrow says whether the box around r is at most width wide in x or in y.
func (r Ring) narrow(width Micron) bool {
	b := Region{r}.Bounds()
	return min(b.Max.X-b.Min.X, b.Max.Y-b.Min.Y) <= width
}

type offsetter struct {
	w    *work
	join Join
	sign float64 // +1 grows, -1 shrinks
	dist float64
	arc  float64
	step float64 // longest piece of an arc, radians

	sides          []side
	thinned        Ring
	begun          bool
	fx, fy, px, py int32 // first and latest point of the curve
}

// A side is an edge of the ring being moved.
type side struct {
	dx, dy int64
	len    float64
	nx, ny float64 // unit vector it moves along
	ox, oy int64   // how far it moves
}

func (o *offsetter) side(p, q Point) side {
	s := side{dx: int64(q.X - p.X), dy: int64(q.Y - p.Y)}
	s.len = math.Sqrt(float64(s.dx*s.dx + s.dy*s.dy))
	s.nx, s.ny = o.sign*float64(float64(s.dy)/s.len), o.sign*float64(float64(-s.dx)/s.len)
	s.ox, s.oy = o.far(s.nx, s.ny)
	return s
}

// far returns (x, y) times the distance, rounded.
func (o *offsetter) far(x, y float64) (int64, int64) {
	return nearest(float64(x * o.dist)), nearest(float64(y * o.dist))
}

func (o *offsetter) ring(ring Ring) {
	if o.measure(ring) {
		ring = o.thin(ring)
		o.measure(ring)
	}
	o.begun = false
	n := len(ring)
	for i := 0; i < n; i++ {
		s, t := &o.sides[i], &o.sides[i+1]
		if o.turn(s, t) <= 0 && !o.meetEarly(s, t) {
			if j, x, y := o.run(ring, i); j > i {
				o.to(ring[i], x, y)
				i = j
				continue
			}
		}
		o.corner(ring[i], s, t)
	}
	o.w.line(o.px, o.py, o.fx, o.fy, 1, 0)
}

// measure sets sides[i] to the side that ends in ring[i], once around, and says
// whether moved sides somewhere meet only beyond their ends.
func (o *offsetter) measure(ring Ring) (hard bool) {
	o.sides = slices.Grow(o.sides[:0], len(ring)+1)
	p := ring[len(ring)-1]
	for i, q := range ring {
		o.sides = append(o.sides, o.side(p, q))
		if i > 0 && !hard {
			s, t := &o.sides[i-1], &o.sides[i]
			hard = o.turn(s, t) <= 0 && !o.meetEarly(s, t)
		}
		p = q
	}
	o.sides = append(o.sides, o.sides[0])
	return hard
}

// turn is positive at a convex corner, negative at a reflex one, seen from where
// the sides move to. Its size is that of the cross product.
func (o *offsetter) turn(s, t *side) int64 {
	if o.sign < 0 {
		return cross(t.dx, t.dy, s.dx, s.dy)
	}
	return cross(s.dx, s.dy, t.dx, t.dy)
}

// sharpest is the cosine of the largest turn, 93°, at which moved sides may be cut
// short where they meet: a right angle and some rounding.
const sharpest = -0.05

// meetEarly says whether two sides at a reflex corner, once moved, meet before
// their ends: dist·tan(θ/2) from these.
func (o *offsetter) meetEarly(s, t *side) bool {
	c := float64(s.nx*t.nx) + float64(s.ny*t.ny)
	sin := -float64(float64(o.turn(s, t)) / float64(s.len*t.len))
	return c >= sharpest && float64(o.dist*float64(sin/(1+c))) <= min(s.len, t.len)
}

// to extends the curve to p + (x, y).
func (o *offsetter) to(p Point, x, y int64) {
	qx, qy := fit(p.X+Micron(x)), fit(p.Y+Micron(y))
	if o.begun {
		o.w.line(o.px, o.py, qx, qy, 1, 0)
	} else {
		o.begun, o.fx, o.fy = true, qx, qy
	}
	o.px, o.py = qx, qy
}

// tip extends the curve to where lines at the distance from p, with normals
// (ax, ay) and (bx, by), meet; c is the cosine between these.
func (o *offsetter) tip(p Point, ax, ay, bx, by, c float64) {
	x, y := o.far(float64((ax+bx)/(1+c)), float64((ay+by)/(1+c)))
	o.to(p, x, y)
}

// corner goes around p from side s to side t.
func (o *offsetter) corner(p Point, s, t *side) {
	c := float64(s.nx*t.nx) + float64(s.ny*t.ny)
	turn := o.turn(s, t)
	if turn <= 0 {
		if o.meetEarly(s, t) {
			o.tip(p, s.nx, s.ny, t.nx, t.ny, c)
			return
		}
		o.to(p, s.ox, s.oy)
		o.to(p, 0, 0)
		o.to(p, t.ox, t.oy)
		return
	}
	half := math.Sqrt(max(0, float64((1+c)/2))) // cos(θ/2)
	switch {
	case half > 0.5 && float64(o.dist*float64(1/half-1)) <= float64(o.arc/4):
		o.tip(p, s.nx, s.ny, t.nx, t.ny, c)
	case o.join == Round:
		o.around(p, s, t, c, float64(turn)/float64(s.len*t.len))
	case o.join == Mitre && c >= -0.5-1e-12:
		o.tip(p, s.nx, s.ny, t.nx, t.ny, c)
	default:
		o.square(p, s, t, c)
	}
}

// around goes in an arc; c and sin are of the turn.
func (o *offsetter) around(p Point, s, t *side, c, sin float64) {
	angle := angleOf(c, min(1, sin))
	n := int(math.Ceil(float64(angle / o.step)))
	o.to(p, s.ox, s.oy)
	for i := 1; i < n; i++ {
		si, co := sincos(float64(angle*float64(i)) / float64(n))
		si *= o.sign
		x, y := o.far(float64(s.nx*co)-float64(s.ny*si), float64(s.nx*si)+float64(s.ny*co))
		o.to(p, x, y)
	}
	o.to(p, t.ox, t.oy)
}

func (o *offsetter) square(p Point, s, t *side, c float64) {
	bx, by := s.nx+t.nx, s.ny+t.ny
	if c < 0 { // the difference is the longer, better known vector
		bx, by = -o.sign*(s.ny-t.ny), o.sign*(s.nx-t.nx)
	}
	l := math.Sqrt(float64(bx*bx) + float64(by*by))
	bx, by = float64(bx/l), float64(by/l)
	q := float64(s.nx*bx) + float64(s.ny*by)
	o.tip(p, s.nx, s.ny, bx, by, q)
	o.tip(p, bx, by, t.nx, t.ny, q)
}
