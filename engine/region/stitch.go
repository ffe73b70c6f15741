package region

import (
	"cmp"
	"slices"
)

// What at holds for a vertex: how often rings pass it, or its place in the path.
const (
	passOnce  = -2
	passOften = -1
)

// stitch follows the links and returns the canonical region: every ring visits
// a vertex once, begins at its lowest (then leftmost) vertex, and rings are
// sorted by their points.
func (w *work) stitch() Region {
	w.ring, w.rings = w.ring[:0], w.rings[:0]
	for i := range w.csr {
		if e := &w.csr[i]; e.dir != 0 && !e.used {
			w.follow(int32(i))
		}
	}
	if len(w.rings) == 0 {
		return nil
	}
	slices.SortFunc(w.rings, func(a, b [2]int32) int {
		return cmp.Or(
			cmp.Compare(w.ring[a[0]], w.ring[b[0]]),
			slices.Compare(w.ring[a[0]:a[1]], w.ring[b[0]:b[1]]))
	})
	points := make([]Point, 0, len(w.ring))
	out := make(Region, 0, len(w.rings))
	for _, s := range w.rings {
		from := len(points)
		for _, v := range w.ring[s[0]:s[1]] {
			points = append(points, Point{Micron(w.hx[v]) << w.coarse, Micron(w.hy[v]) << w.coarse})
		}
		out = append(out, Ring(points[from:len(points):len(points)]))
	}
	return out
}

// follow walks from edge i back to it. Whenever the walk comes back to a vertex
// it has passed, the loop since then is a ring of its own: so a hole that
// touches its outer ring is cut off it.
func (w *work) follow(i int32) {
	w.path = w.path[:0]
	for id := i; ; {
		e := &w.csr[id]
		v := e.u
		if e.dir < 0 {
			v = e.v
		}
		if at := w.at[v]; at >= 0 {
			w.cut(int(at))
		}
		if w.at[v] != passOnce {
			w.at[v] = int32(len(w.path))
		}
		w.path = append(w.path, v)
		e.used = true
		if id = e.next; id == i || w.csr[id].used {
			break
		}
	}
	w.cut(0)
}

// cut makes a ring of the path from place at on.
func (w *work) cut(at int) {
	loop := w.path[at:]
	w.path = w.path[:at]
	low := 0
	for i, v := range loop {
		if v < loop[low] {
			low = i
		}
	}
	from := len(w.ring)
	for i := range loop {
		if i += low; i >= len(loop) {
			i -= len(loop)
		}
		v := loop[i]
		// The lowest vertex is a corner; later ones may lie on a straight run.
		if n := len(w.ring); n-from >= 2 && w.straight(w.ring[n-2], w.ring[n-1], v) {
			w.ring = w.ring[:n-1]
		}
		w.ring = append(w.ring, v)
	}
	if n := len(w.ring); n-from >= 3 && w.straight(w.ring[n-2], w.ring[n-1], w.ring[from]) {
		w.ring = w.ring[:n-1]
	}
	for _, v := range loop {
		if w.at[v] != passOnce {
			w.at[v] = passOften
		}
	}
	if len(w.ring)-from < 3 { // cannot be
		w.ring = w.ring[:from]
		return
	}
	w.rings = append(w.rings, [2]int32{int32(from), int32(len(w.ring))})
}

// straight says whether b, passed by one ring only, lies on the way from a to c.
func (w *work) straight(a, b, c int32) bool {
	if w.at[b] != passOnce {
		return false
	}
	bx, by := int64(w.hx[b]), int64(w.hy[b])
	px, py := bx-int64(w.hx[a]), by-int64(w.hy[a])
	return cross(px, py, int64(w.hx[c])-bx, int64(w.hy[c])-by) == 0
}
