package motion

import (
	"math"

	"platebook/engine/plan"
)

// How fast the head goes along a run of straights between two rests.
//
// Notation: L length, a acceleration, v speed, all along the path; v2 is v².
// φ is the angle the path turns by at a junction, 0 straight on, and
// c = cos(φ/2), h = sin(φ/2). d is the corner deviation.
//
// Idea. With constant acceleration v2 is linear in the distance, so between
// caps at junctions the fastest motion is found in two passes: backward, no
// junction may be entered faster than v2 = v2' + 2aL still lets it brake;
// forward, none is left faster than it can be reached (Bobrow, Dubowsky and
// Gibson 1985, time-optimal control along a given path; MEMORY). Within a
// straight the head accelerates, cruises at its cap and brakes.
//
// Caps at a junction, with a limited further by each axis along the direction
// u_out − u_in in which the head is accelerated there:
//   - corner: the circle tangent to both straights that passes within d of the
//     corner has the radius d·c/(1−c), so v2 ≤ a·d·c/(1−c);
//   - curve: the circle through the junction and its two neighbours has the
//     radius |p1−p−1|/(2 sin φ), so v2 ≤ a times that. On finely cut curves this
//     is the lesser: there the corner rule lets the head go faster than the
//     circle it is on.
//
// Caps on a straight whose ends turn the same way:
//   - if the curve rule is the lesser at both ends, the straight is a piece of
//     a curve and holds the greater of their caps;
//   - if the circle that cuts the corner made by both turns together within d
//     is wider than the straight leaves room for (radius over L/(h+h')), the
//     straight is a small chamfer and the whole of it is taken as that corner.
//
// Acceleration along the path and across it are limited each for itself, as is
// usual; motion limited by their vector sum would be slightly slower on curves.
//
// Tried and rejected: a radius from the lesser of the two arms. It is exact on
// even polygons only: one short chord left over on a curve halves the speed.

// straight is one straight move.
type straight struct {
	length       float64
	ux, uy       float64 // direction, a unit vector
	speed2       float64 // cap along it
	entry2       float64 // cap where it begins
	acceleration float64 // along it
	bend         float64 // acceleration asked for, whatever the direction
	kind         plan.Kind
}

// timeRun adds the time of h.run, from rest to rest.
func (h *head) timeRun() {
	run := h.run
	h.caps()

	// Invariant: leave2 is the fastest that run[i] may be left at so that the
	// head can still brake for everything after it.
	leave2 := 0.0
	for i := len(run) - 1; i >= 0; i-- {
		s := &run[i]
		leave2 = min(s.entry2, leave2+2*float64(s.acceleration*s.length))
		s.entry2 = leave2
	}

	// Invariant: v is the speed at which run[i] is entered, v² ≤ entry2.
	v := 0.0
	var seconds [travelling + 1]float64
	for i := range run {
		s := &run[i]
		exit2 := 0.0
		if i+1 < len(run) {
			exit2 = run[i+1].entry2
		}
		var t float64
		t, v = s.pass(v, exit2)
		seconds[s.kind] += t
	}
	for k := range h.kind {
		h.kind[k] += seconds[k]
	}
	h.travel += seconds[travelling]
}

// pass returns the time along s entered at v, and the speed it is left at: as
// fast as can be reached, exit2 at most. It must be possible to brake to exit2.
func (s *straight) pass(v, exit2 float64) (seconds, exit float64) {
	v2 := float64(v * v)
	gain := 2 * float64(s.acceleration*s.length)
	exit2 = min(exit2, v2+gain)
	exit = v
	if exit2 != v2 {
		exit = math.Sqrt(exit2)
	}
	// The speeds that full acceleration from the start and full braking to
	// the end meet at, or the cap, if lower.
	peak2 := min(s.speed2, (v2+exit2+gain)/2)
	peak := math.Sqrt(peak2)
	ramps := 2*peak - v - exit
	cruise := s.length - (float64(2*peak2)-v2-exit2)/(2*s.acceleration)
	return max(0, ramps)/s.acceleration + max(0, cruise)/peak, exit
}

// rest returns the time of a move from rest to rest.
func rest(length, speed, acceleration float64) float64 {
	if length == 0 {
		return 0
	}
	s := straight{length: length, speed2: speed * speed, acceleration: acceleration}
	t, _ := s.pass(0, 0)
	return t
}

// bend is one junction.
type bend struct {
	c, h           float64 // cosine and sine of half the turn
	turn           float64 // positive to the left; 0 where nothing limits the speed
	acceleration   float64
	corner, radius float64 // of the circle that cuts the corner, and of the curve, mm
}

// caps sets entry2 of every straight in h.run, and lowers speed2 on curves.
func (h *head) caps() {
	run := h.run
	run[0].entry2 = 0
	var before bend
	for i := 1; i < len(run); i++ {
		p, q := &run[i-1], &run[i]
		b := h.bendOf(p, q)
		q.entry2 = math.Inf(1)
		if b.turn != 0 {
			q.entry2 = b.acceleration * min(b.corner, b.radius)
			if before.turn*b.turn > 0 {
				p.speed2 = min(p.speed2, curved(&before, &b, p.length, h.pr.CornerDeviation))
			}
		}
		before = b
		// A junction is passed no faster than the straights on both sides
		// allow; what is after may be lowered still.
		p.entry2 = min(p.entry2, p.speed2)
		q.entry2 = min(q.entry2, p.speed2)
	}
	q := &run[len(run)-1]
	q.entry2 = min(q.entry2, q.speed2)
}

// curved returns the cap, v², of a straight of length l between two turns to
// the same side.
func curved(a, b *bend, l, d float64) float64 {
	v2 := math.Inf(1)
	if a.radius < a.corner && b.radius < b.corner {
		v2 = max(a.acceleration*a.radius, b.acceleration*b.radius)
	}
	// Both turns together: cosine and sine of half of it.
	c := float64(a.c*b.c) - float64(a.h*b.h)
	h := float64(a.h*b.c) + float64(a.c*b.h)
	if c > 0 {
		if corner := cutting(c, h, d); corner > l/(a.h+b.h) {
			v2 = min(v2, min(a.acceleration, b.acceleration)*corner)
		}
	}
	return v2
}

// cutting returns d·c/(1−c), the radius of the circle that cuts a corner
// within d. 1−c is h²/(1+c), which does not lose the digits of small turns.
func cutting(c, h, d float64) float64 {
	return d * c * (1 + c) / (h * h)
}

// bendOf returns the junction between two straights.
func (h *head) bendOf(p, q *straight) bend {
	cos := float64(p.ux*q.ux) + float64(p.uy*q.uy)
	sin := cross(p.ux, p.uy, q.ux, q.uy)
	if sin == 0 && cos > 0 {
		return bend{c: 1}
	}
	b := bend{turn: sin}
	var nx, ny float64 // direction of u_out − u_in
	if cos > 0 {
		b.c = math.Sqrt((1 + cos) / 2)
		b.h = math.Abs(sin) / (2 * b.c)
		// At right angles to u_out + u_in, which small turns do not cancel.
		nx, ny = (p.uy+q.uy)/(2*b.c), (p.ux+q.ux)/(2*b.c)
	} else {
		b.h = math.Sqrt((1 - cos) / 2)
		b.c = math.Abs(sin) / (2 * b.h)
		nx, ny = (q.ux-p.ux)/(2*b.h), (q.uy-p.uy)/(2*b.h)
	}
	if sin == 0 { // straight back: stop
		b.turn = 1
		return b
	}
	a := min(p.bend, q.bend)
	b.acceleration = share(share(a, h.pr.MaxAcceleration[0], math.Abs(nx)), h.pr.MaxAcceleration[1], math.Abs(ny))
	b.corner = cutting(b.c, b.h, h.pr.CornerDeviation)
	chord2 := float64(p.length*p.length) + float64(q.length*q.length) + float64(2*float64(p.length*q.length)*cos)
	b.radius = math.Sqrt(max(0, chord2)) / (2 * math.Abs(sin))
	return b
}
