package mesh

import "math"

// Cutting a face of any shape into facets. Notation: p[i] are the corners in a
// plane, counter-clockwise; prev and next link those not yet cut off.
//
// The plane is the face's best: its normal is Newell's sum of edge products,
// which no single bad corner spoils. A convex face is a fan. From another, ears
// are cut: an ear is a corner that turns left and whose triangle holds no other
// corner (Meisters 1975; MEMORY). Only corners that turn right can lie in an
// ear, so only those are looked at. A face that crosses itself may have no ear;
// then the corner that turns left most is cut off, so that every edge of the
// face is still used once and the surface closes as the file meant it.
type earClipper struct {
	p          []point2
	prev, next []int32
	work       int // corners looked at so far
}

type point2 struct{ x, y float64 }

// clipWork bounds the corners looked at for all faces of a file: some three seconds.
const clipWork = 300_000_000

// clip adds the facets of a face to f; ok is false when the work is too much.
func (e *earClipper) clip(f [][3]int32, v []Vec, face []int32) (_ [][3]int32, ok bool) {
	n := len(face)
	if n == 3 {
		return append(f, [3]int32{face[0], face[1], face[2]}), true
	}
	e.project(v, face)
	if e.convex() {
		for i := 1; i+1 < n; i++ {
			f = append(f, [3]int32{face[0], face[i], face[i+1]})
		}
		return f, true
	}
	e.prev, e.next = e.prev[:0], e.next[:0]
	for i := range n {
		e.prev = append(e.prev, int32((i+n-1)%n))
		e.next = append(e.next, int32((i+1)%n))
	}
	// Invariant: the corners linked from at form the face not yet cut, left of
	// them; missed counts corners looked at since the last ear.
	at, missed, force := int32(0), 0, false
	for left := n; left > 3; {
		if e.work > clipWork {
			return f, false
		}
		a, b := e.prev[at], e.next[at]
		if force || e.ear(a, at, b) {
			f = append(f, [3]int32{face[a], face[at], face[b]})
			e.next[a], e.prev[b] = b, a
			left--
			missed, force = 0, false
			at = b
			// Stepping over one keeps a long row of ears from becoming one fan of slivers.
			if left > 3 {
				at = e.next[b]
			}
			continue
		}
		at = b
		if missed++; missed > left {
			at, force = e.sharpest(at), true
		}
	}
	return append(f, [3]int32{face[e.prev[at]], face[at], face[e.next[at]]}), true
}

// project lays the face into its best plane.
func (e *earClipper) project(v []Vec, face []int32) {
	o := v[face[0]]
	var normal Vec
	for i := range face {
		normal = normal.Add(v[face[i]].Sub(o).Cross(v[face[(i+1)%len(face)]].Sub(o)))
	}
	if l := normal.Len(); l > 0 {
		normal = normal.Scale(1 / l)
	} else {
		normal = Vec{0, 0, 1}
	}
	// Any two directions square to the normal will do; the axis least along it starts them.
	k := 0
	for j := range normal {
		if math.Abs(normal[j]) < math.Abs(normal[k]) {
			k = j
		}
	}
	var axis Vec
	axis[k] = 1
	u := axis.Cross(normal)
	u = u.Scale(1 / u.Len())
	w := normal.Cross(u)
	e.p = e.p[:0]
	for _, i := range face {
		d := v[i].Sub(o)
		e.p = append(e.p, point2{d.Dot(u), d.Dot(w)})
	}
}

// turn is twice the signed area of a, b, c: positive for a turn to the left.
func turn(a, b, c point2) float64 {
	return float64((b.x-a.x)*(c.y-a.y)) - float64((b.y-a.y)*(c.x-a.x))
}

// convex tells whether the face turns left at every corner and goes round once.
func (e *earClipper) convex() bool {
	n := len(e.p)
	flips := 0
	for i, b := range e.p {
		a, c := e.p[(i+n-1)%n], e.p[(i+1)%n]
		if turn(a, b, c) <= 0 {
			return false
		}
		// Going round once, the direction of travel changes sign along x twice.
		if (b.x-a.x >= 0) != (c.x-b.x >= 0) {
			flips++
		}
	}
	return flips <= 2
}

func (e *earClipper) ear(a, b, c int32) bool {
	e.work++
	pa, pb, pc := e.p[a], e.p[b], e.p[c]
	if turn(pa, pb, pc) <= 0 {
		return false
	}
	for i := e.next[c]; i != a; i = e.next[i] {
		e.work++
		q := e.p[i]
		if turn(pa, pb, q) < 0 || turn(pb, pc, q) < 0 || turn(pc, pa, q) < 0 {
			continue
		}
		// On or in the triangle. A corner in the same place as one of the
		// triangle's joins a hole to the outline by a bridge and is no obstacle.
		if q == pa || q == pb || q == pc {
			continue
		}
		if turn(e.p[e.prev[i]], q, e.p[e.next[i]]) < 0 || strictly(pa, pb, pc, q) {
			return false
		}
	}
	return true
}

func strictly(a, b, c, q point2) bool {
	return turn(a, b, q) > 0 && turn(b, c, q) > 0 && turn(c, a, q) > 0
}

// sharpest returns the corner whose triangle is least wrong to cut off.
func (e *earClipper) sharpest(at int32) int32 {
	best, found := at, math.Inf(-1)
	for i, first := at, true; first || i != at; i, first = e.next[i], false {
		e.work++
		if t := turn(e.p[e.prev[i]], e.p[i], e.p[e.next[i]]); t > found {
			best, found = i, t
		}
	}
	return best
}
