package region

import "math"

// The measures here take a canonical region, as every function of this package
// returns; rings built by hand go through Nonzero first.

// twice returns twice the signed area of a ring, positive if counter-clockwise.
// Partial sums may wrap around; the sum of a ring that does not cross itself,
// at most 2^61, comes out right all the same.
func (r Ring) twice() int64 {
	var sum int64
	for i, p := range r {
		q := r[(i+1)%len(r)]
		sum += cross(int64(p.X), int64(p.Y), int64(q.X), int64(q.Y))
	}
	return sum
}

// Area returns the area in mm²; an empty region has area 0.
func (r Region) Area() float64 {
	var sum int64
	for _, ring := range r {
		sum += ring.twice()
	}
	return float64(sum) / 2e6
}

// Perimeter returns the length of all edges in mm, holes included.
func (r Region) Perimeter() float64 {
	sum := 0.0
	for _, ring := range r {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			dx, dy := q.X-p.X, q.Y-p.Y
			sum += math.Sqrt(float64(dx*dx + dy*dy))
		}
	}
	return sum / 1000
}

// Box is the smallest rectangle along the axes around something.
type Box struct{ Min, Max Point }

// Bounds returns the box around r; that of an empty region is the zero Box.
func (r Region) Bounds() Box {
	var b Box
	first := true
	for _, ring := range r {
		for _, p := range ring {
			if first {
				b, first = Box{p, p}, false
			}
			b.Min = Point{min(b.Min.X, p.X), min(b.Min.Y, p.Y)}
			b.Max = Point{max(b.Max.X, p.X), max(b.Max.Y, p.Y)}
		}
	}
	return b
}

// Empty says whether r holds no point.
func (r Region) Empty() bool { return len(r) == 0 }

// Where says where a point lies with respect to a region.
type Where int

// A point is outside, on an edge or vertex, or inside.
const (
	Outside Where = iota
	OnEdge
	Inside
)

// Contains says where p lies. Exact; it looks at every edge.
func (r Region) Contains(p Point) Where {
	if max(p.X, p.Y) > Limit || min(p.X, p.Y) < -Limit {
		return Outside
	}
	winding := 0
	for _, ring := range r {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			if max(a.Y, b.Y) < p.Y || min(a.Y, b.Y) > p.Y || max(a.X, b.X) < p.X {
				continue
			}
			c := cross(int64(b.X-a.X), int64(b.Y-a.Y), int64(p.X-a.X), int64(p.Y-a.Y))
			switch {
			case c == 0 && min(a.X, b.X) <= p.X: // in the box and on the line
				return OnEdge
			case a.Y <= p.Y && b.Y > p.Y && c > 0:
				winding++
			case b.Y <= p.Y && a.Y > p.Y && c < 0:
				winding--
			}
		}
	}
	if winding == 0 {
		return Outside
	}
	return Inside
}

// Islands returns the connected parts of r, each an outer ring followed by its
// holes, in the order of their outer rings. Parts that touch in a point only
// are apart.
func (r Region) Islands() []Region {
	r = r.sound()
	if len(r) == 0 {
		return nil
	}
	w := newWork()
	defer w.done()
	if w.plain(r) != nil {
		return nil // cannot be: r is sound
	}
	owner := make([]int, len(r))
	for i, ring := range r {
		owner[i] = -1
		if ring.twice() > 0 {
			owner[i] = i
		}
	}
	w.status = w.status[:0]
	// Invariant: rings that begin below u have an owner. A hole begins with the
	// edge that has its owner's interior on the left; the edge left of that one
	// bounds the same interior.
	for u := range int32(len(w.hx)) {
		lo, hi := w.first[u], w.first[u+1]
		pos := w.place(u)
		left := -1
		if pos > 0 {
			left = int(w.csr[w.status[pos-1]].db - 1)
		}
		for i := lo; i < hi; i++ {
			id := int(w.csr[i].db - 1)
			if owner[id] < 0 && left >= 0 {
				owner[id] = owner[left]
			}
			left = id
		}
		w.swap(pos, min(int(w.ends[u]), len(w.status)-pos), lo, hi)
	}
	place := make([]int, len(r))
	var out []Region
	for i, ring := range r {
		if owner[i] == i {
			place[i] = len(out)
			out = append(out, Region{ring})
		}
	}
	for i, ring := range r {
		if o := owner[i]; o != i && o >= 0 {
			out[place[o]] = append(out[place[o]], ring)
		}
	}
	return out
}
