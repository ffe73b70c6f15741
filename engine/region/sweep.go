package region

import "slices"

// A rule says from the windings of A and B whether a point is inside.
type rule uint8

const (
	ruleNonzero  rule = iota // A ≠ 0
	rulePositive             // A > 0
	ruleUnion                // A ≠ 0 or B ≠ 0
	ruleIntersect
	ruleSubtract
	ruleXor
)

func (f rule) inside(a, b int32) bool {
	switch f {
	case ruleNonzero:
		return a != 0
	case rulePositive:
		return a > 0
	case ruleUnion:
		return a != 0 || b != 0
	case ruleIntersect:
		return a != 0 && b != 0
	case ruleSubtract:
		return a != 0 && b == 0
	default:
		return (a != 0) != (b != 0)
	}
}

// result arranges what is loaded, reads it under f, and puts w back.
func (w *work) result(f rule) Region {
	w.arrange()
	w.sortEdges()
	w.sweep(f)
	r := w.stitch()
	w.done()
	return r
}

// leftOf compares two edges that go up from one vertex: negative if e is left.
func (w *work) leftOf(e, f edge) int {
	ux, uy := int64(w.hx[e.u]), int64(w.hy[e.u])
	c := cross(int64(w.hx[e.v])-ux, int64(w.hy[e.v])-uy, int64(w.hx[f.v])-ux, int64(w.hy[f.v])-uy)
	switch {
	case c < 0:
		return -1
	case c > 0:
		return 1
	}
	return int(e.v - f.v)
}

// sortEdges sorts edges by their lower end and there from left to right, merges
// equal ones and drops those whose windings cancel.
func (w *work) sortEdges() {
	n := len(w.hx)
	w.first = slices.Grow(w.first[:0], n+2)[:n+2]
	clear(w.first)
	for i := range w.edges {
		w.first[w.edges[i].u+2]++
	}
	for i := 2; i < len(w.first); i++ {
		w.first[i] += w.first[i-1]
	}
	w.csr = slices.Grow(w.csr[:0], len(w.edges))[:len(w.edges)]
	for i := range w.edges {
		e := &w.edges[i]
		w.csr[w.first[e.u+1]] = *e
		w.first[e.u+1]++
	}
	w.ends = slices.Grow(w.ends[:0], n)[:n]
	clear(w.ends)
	out, lo := int32(0), int32(0)
	// Invariant: csr[:out] is final, csr[lo:] is not yet read, out ≤ lo.
	for u := range n {
		hi := w.first[u+1]
		bunch := w.csr[lo:hi]
		w.first[u], lo = out, hi
		if len(bunch) > 24 {
			slices.SortFunc(bunch, w.leftOf)
		} else {
			for i := 1; i < len(bunch); i++ {
				for j := i; j > 0 && w.leftOf(bunch[j], bunch[j-1]) < 0; j-- {
					bunch[j], bunch[j-1] = bunch[j-1], bunch[j]
				}
			}
		}
		for i := 0; i < len(bunch); {
			e := bunch[i]
			for i++; i < len(bunch) && bunch[i].v == e.v; i++ {
				e.da += bunch[i].da
				e.db += bunch[i].db
			}
			if e.da != 0 || e.db != 0 {
				w.csr[out] = e
				w.ends[e.v]++
				out++
			}
		}
	}
	w.first[n] = out
	w.csr = w.csr[:out]
}

// sweep finds the windings, decides which edges stay, and links each to the one
// that follows it. At a vertex where more than one ring passes, an edge that
// arrives is followed by the next one clockwise: the two sides of one wedge of
// the interior. Then parts of the interior that touch in a point are rings of
// their own.
func (w *work) sweep(f rule) {
	n := len(w.hx)
	w.at = slices.Grow(w.at[:0], n)[:n]
	w.status = w.status[:0]
	// Invariant: status holds the edges the line through u meets, left to right;
	// their ra and rb are final.
	for u := range int32(n) {
		lo, hi, ends := w.first[u], w.first[u+1], int(w.ends[u])
		w.at[u] = passOnce
		if lo == hi && ends == 0 {
			continue
		}
		pos := w.place(u)
		ends = min(ends, len(w.status)-pos)
		var a, b int32
		if pos > 0 {
			e := &w.csr[w.status[pos-1]]
			a, b = e.ra, e.rb
		}
		in := f.inside(a, b)
		w.around = w.around[:0]
		for i := lo; i < hi; i++ {
			e := &w.csr[i]
			a, b = a-e.da, b-e.db
			e.ra, e.rb = a, b
			left := in
			in = f.inside(a, b)
			if left != in {
				e.dir = -1
				if left {
					e.dir = 1
				}
				w.around = append(w.around, i)
			}
		}
		for i := pos + ends - 1; i >= pos; i-- {
			if w.csr[w.status[i]].dir != 0 {
				w.around = append(w.around, w.status[i])
			}
		}
		w.link(u)
		w.swap(pos, ends, lo, hi)
	}
}

// place returns the place in status of the first edge that is not wholly left
// of u.
func (w *work) place(u int32) int {
	ux, uy := int64(w.hx[u]), int64(w.hy[u])
	lo, hi := 0, len(w.status)
	for lo < hi {
		mid := int(uint(lo+hi) >> 1)
		e := &w.csr[w.status[mid]]
		ex, ey := int64(w.hx[e.u]), int64(w.hy[e.u])
		if cross(int64(w.hx[e.v])-ex, int64(w.hy[e.v])-ey, ux-ex, uy-ey) < 0 {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// swap replaces n edges of status from pos on by edges lo to hi.
func (w *work) swap(pos, n int, lo, hi int32) {
	grow := int(hi-lo) - n
	old := len(w.status)
	if grow > 0 {
		w.status = slices.Grow(w.status, grow)[:old+grow]
	}
	if grow != 0 {
		copy(w.status[pos+n+grow:], w.status[pos+n:old])
		w.status = w.status[:old+grow]
	}
	for i := lo; i < hi; i++ {
		w.status[pos+int(i-lo)] = i
	}
}

// link joins the kept edges around u, listed clockwise.
func (w *work) link(u int32) {
	k := len(w.around)
	if k > 2 {
		w.at[u] = passOften
	}
	for i, id := range w.around {
		e := &w.csr[id]
		if (e.v == u) == (e.dir > 0) { // arrives
			j := i + 1
			if j == k {
				j = 0
			}
			e.next = w.around[j]
		}
	}
}
