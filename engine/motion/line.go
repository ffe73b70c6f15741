package motion

import (
	"math"

	"platebook/engine/region"
)

// A path is simplified before it is timed.
//
// Notation: t the tolerance, mm; A the last vertex kept; P the point at hand.
//
// Idea: contours come snapped to a grid and may be cut into pieces much
// shorter than anything a printer follows. Corner and curve caps look at
// neighbouring vertices only, so a jog of one grid step between two short
// pieces would pass for a sharp turn. A printer that may stray d from its path
// need not follow what strays less than a small part of d. From A a sleeve of
// half-width t is followed as far as it goes (Reumann and Witkam's corridor,
// narrowed by every point as in Sklansky and Gonzalez's cone; MEMORY for both):
// every direction from A that passes within t of all points so far lies between
// lo and hi. When P falls outside, the point before it is kept. A kept chord
// strays at most t from every point it skips. On a curve of radius r chords grow to
// sqrt(8rt) at most, so their ends still show the radius.
//
// Points exactly on the line go first, so that cutting a piece in two on the
// grid cannot change which points are kept.
//
// Tried and rejected: radius and corner measured over arms of a least length.
// One length is either too short for the grid's noise or too long for small
// holes; a sleeve scales with the curve.

// smoothing is the tolerance as a part of the corner deviation.
const smoothing = 1.0 / 8

// point is a place on the platform, mm.
type point struct{ x, y float64 }

func toPoint(p region.Point) point { return point{float64(p.X) / 1000, float64(p.Y) / 1000} }

// simplify appends to line the vertices of points that matter to tolerance t,
// both ends among them; of a closed path the first point comes again at the
// end. Consecutive vertices differ.
func simplify(line []point, points []region.Point, closed bool, t float64) []point {
	n := len(points)
	if closed {
		n++
	}
	last := points[0] // the last point seen, not yet kept unless it is the anchor
	line = append(line, toPoint(last))
	s := sleeve{anchor: line[len(line)-1], t: t}
	for i := 1; i < n; i++ {
		p := points[0]
		if i < len(points) {
			p = points[i]
		}
		if p == last || i+1 < n && between3(last, p, at(points, i+1)) {
			continue
		}
		if q := toPoint(p); !s.take(q) {
			kept := toPoint(last)
			line = append(line, kept)
			s = sleeve{anchor: kept, t: t}
			s.take(q)
		}
		last = p
	}
	if q := toPoint(last); q != line[len(line)-1] {
		line = append(line, q)
	}
	return line
}

// at returns points[i], the first point again after the last.
func at(points []region.Point, i int) region.Point {
	if i == len(points) {
		return points[0]
	}
	return points[i]
}

// between3 reports whether b lies on the way straight from a to c, exactly.
func between3(a, b, c region.Point) bool {
	x1, y1 := b.X-a.X, b.Y-a.Y
	x2, y2 := c.X-b.X, c.Y-b.Y
	return x1*y2 == x2*y1 && x1*x2+y1*y2 > 0
}

// sleeve holds the directions from anchor that pass within t of every point taken.
type sleeve struct {
	anchor point
	t      float64
	lo, hi point // its sides as vectors, hi to the left of lo
	far    point // the last point taken, from the anchor
	open   bool  // no point further than t yet: any direction will do
	taken  bool
}

// take narrows the sleeve by q and reports whether q lies in it and further
// along; if not the sleeve is unchanged.
func (s *sleeve) take(q point) bool {
	dx, dy := q.x-s.anchor.x, q.y-s.anchor.y
	if !s.taken {
		s.taken, s.open = true, true
	} else if float64(dx*s.far.x)+float64(dy*s.far.y) <= float64(s.far.x*s.far.x)+float64(s.far.y*s.far.y) {
		return false // turning back
	} else if !s.open && (cross(s.lo.x, s.lo.y, dx, dy) < 0 || cross(dx, dy, s.hi.x, s.hi.y) < 0) {
		return false
	}
	s.far = point{dx, dy}
	r2, t2 := float64(dx*dx)+float64(dy*dy), float64(s.t*s.t)
	if r2 <= t2 {
		return true
	}
	return s.narrow(dx, dy, r2-t2)
}

// narrow keeps the directions that pass within t of the point d = (dx, dy)
// from the anchor: d turned by ±asin(t/|d|), here times |d|; q2 is |d|²−t².
func (s *sleeve) narrow(dx, dy, q2 float64) bool {
	q := math.Sqrt(q2)
	lo := point{float64(dx*q) + float64(dy*s.t), float64(dy*q) - float64(dx*s.t)}
	hi := point{float64(dx*q) - float64(dy*s.t), float64(dy*q) + float64(dx*s.t)}
	if s.open || cross(s.lo.x, s.lo.y, lo.x, lo.y) > 0 {
		s.lo = lo
	}
	if s.open || cross(hi.x, hi.y, s.hi.x, s.hi.y) > 0 {
		s.hi = hi
	}
	s.open = false
	return true
}

// cross is positive where (bx, by) points to the left of (ax, ay).
func cross(ax, ay, bx, by float64) float64 {
	return float64(ax*by) - float64(ay*bx)
}

// onGrid reports whether all points lie on region's grid.
func onGrid(points []region.Point) bool {
	for _, p := range points {
		if uint64(p.X+region.Limit) > 2*uint64(region.Limit) || uint64(p.Y+region.Limit) > 2*uint64(region.Limit) {
			return false
		}
	}
	return true
}
