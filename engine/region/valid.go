package region

import (
	"errors"
	"fmt"
	"slices"
)

// Valid says whether r is canonical: rings of at least three points within
// Limit, no edge of length zero, edges that meet in common ends only, interior
// on the left of every edge, every ring passing a vertex once and beginning at
// its lowest (then leftmost) one, rings sorted, and no vertex on a straight run
// unless rings touch there. O(n log n), exact.
func Valid(r Region) error {
	if err := check(r); err != nil {
		return err
	}
	visits := map[Point]int{}
	for _, ring := range r {
		for _, p := range ring {
			visits[p]++
		}
	}
	for i, ring := range r {
		if slices.MinFunc(ring, comparePoints) != ring[0] {
			return fmt.Errorf("ring %d does not begin at its lowest point", i)
		}
		if i > 0 && slices.CompareFunc(r[i-1], ring, comparePoints) >= 0 {
			return fmt.Errorf("ring %d is out of order", i)
		}
		own := map[Point]bool{}
		for j, q := range ring {
			if own[q] {
				return fmt.Errorf("ring %d passes %v twice", i, q)
			}
			own[q] = true
			p, n := ring[(j+len(ring)-1)%len(ring)], ring[(j+1)%len(ring)]
			if visits[q] == 1 && cross(int64(q.X-p.X), int64(q.Y-p.Y), int64(n.X-q.X), int64(n.Y-q.Y)) == 0 {
				return fmt.Errorf("ring %d runs straight on through %v", i, q)
			}
		}
	}
	return nil
}

// comparePoints orders by (y, x).
func comparePoints(a, b Point) int {
	switch {
	case a.Y != b.Y:
		return int(a.Y - b.Y)
	default:
		return int(a.X - b.X)
	}
}

var (
	errShort   = errors.New("a ring has fewer than three points")
	errFar     = errors.New("a point lies beyond Limit")
	errZero    = errors.New("an edge has length zero")
	errOverlap = errors.New("edges overlap")
	errTouch   = errors.New("a vertex lies on an edge")
	errCross   = errors.New("edges cross")
	errSide    = errors.New("the interior is not on the left of an edge")
)

// plain loads r as it stands, without crossings or snapping: H is its vertices
// and db of an edge is the number of its ring plus one.
func (w *work) plain(r Region) error {
	for _, ring := range r {
		if len(ring) < 3 {
			return errShort
		}
		for _, p := range ring {
			if max(p.X, p.Y, -p.X, -p.Y) > Limit {
				return errFar
			}
			w.keys = append(w.keys, pack(int32(p.X), int32(p.Y)))
		}
	}
	w.hot()
	for i, ring := range r {
		u := w.find(ring[len(ring)-1])
		for _, p := range ring {
			v := w.find(p)
			switch {
			case u < v:
				w.edges = append(w.edges, edge{u: u, v: v, da: 1, db: int32(i + 1)})
			case u > v:
				w.edges = append(w.edges, edge{u: v, v: u, da: -1, db: int32(i + 1)})
			default:
				return errZero
			}
			u = v
		}
	}
	n := len(w.edges)
	w.sortEdges()
	if len(w.csr) != n {
		return errOverlap
	}
	return nil
}

// find returns the place of p in H.
func (w *work) find(p Point) int32 {
	i, _ := slices.BinarySearch(w.keys, pack(int32(p.X), int32(p.Y)))
	return int32(i)
}

// check says whether the edges of r meet in common ends only and have winding 1
// on the left, 0 on the right. M. Shamos and D. Hoey, Geometric intersection
// problems, 1976 (MEMORY): if edges cross, then two that are neighbours on the
// sweep line just below the lowest crossing do, so looking at neighbours is enough.
func check(r Region) error {
	w := newWork()
	defer w.done()
	if err := w.plain(r); err != nil {
		return err
	}
	w.status = w.status[:0]
	// Invariant: no two edges cross below u, so status is in order.
	for u := range int32(len(w.hx)) {
		lo, hi, ends := w.first[u], w.first[u+1], int(w.ends[u])
		pos := w.place(u)
		if pos+ends > len(w.status) {
			return errTouch
		}
		for _, id := range w.status[pos : pos+ends] {
			if w.csr[id].v != u {
				return errTouch
			}
		}
		if pos+ends < len(w.status) && w.side(w.status[pos+ends], u) <= 0 {
			return errTouch
		}
		a := int32(0)
		if pos > 0 {
			a = w.csr[w.status[pos-1]].ra
		}
		for i := lo; i < hi; i++ {
			e := &w.csr[i]
			if e.ra = a - e.da; max(a, e.ra) != 1 || min(a, e.ra) != 0 {
				return errSide
			}
			a = e.ra
		}
		w.swap(pos, ends, lo, hi)
		last := pos + int(hi-lo)
		if w.crossing(pos-1) || last != pos && w.crossing(last-1) {
			return errCross
		}
	}
	return nil
}

// side is positive if vertex u lies left of edge id, zero if on its line.
func (w *work) side(id, u int32) int64 {
	e := &w.csr[id]
	ex, ey := int64(w.hx[e.u]), int64(w.hy[e.u])
	return cross(int64(w.hx[e.v])-ex, int64(w.hy[e.v])-ey, int64(w.hx[u])-ex, int64(w.hy[u])-ey)
}

// crossing says whether the edges at i and i+1 of status cross properly.
func (w *work) crossing(i int) bool {
	if i < 0 || i+1 >= len(w.status) {
		return false
	}
	s, t := w.status[i], w.status[i+1]
	d1, d2 := w.side(s, w.csr[t].u), w.side(s, w.csr[t].v)
	if d1 == 0 || d2 == 0 || (d1 > 0) == (d2 > 0) {
		return false
	}
	d3, d4 := w.side(t, w.csr[s].u), w.side(t, w.csr[s].v)
	return d3 != 0 && d4 != 0 && (d3 > 0) != (d4 > 0)
}
