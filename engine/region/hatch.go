package region

import (
	"math"
	"slices"
	"sync"
)

// Clipping the lines of a hatch to a region.
//
// Notation. u is the direction of the lines, n its left normal. A point p lies
// at along = p·u and off = p·n. Line k is off = T(k) = Phase + k·Pitch. The rank
// of a vertex is the number of the first line above it: line k is at or below
// the vertex, T(k) ≤ off, just if k < rank.
//
// Idea. An edge from rank i up to rank j > i crosses lines i … j−1, each once,
// and adds to the winding on its left; one going down takes away. Crossings are
// put to their lines by counting (one pass to count, one to fill), each line is
// sorted, and a walk along it reads off where the winding is not zero.
//
// Why it is consistent. Whether an edge crosses a line depends on the ranks of
// its ends alone, and a rank is worked out once for each vertex. So a vertex on
// a line, or within rounding of it, is above it for both its edges, and the
// windings of every line sum to nought: no span is left open and none doubled,
// whatever the rounding of the rotation does. It is the half-open rule of scan
// conversion (Foley, van Dam, Feiner, Hughes, Computer Graphics, 1990, MEMORY).
//
// Tried and rejected: an active edge list, which pays only where lines lie
// closer than vertices; turning the region first and rounding to the grid,
// which moves every wall by up to a micron for nothing; polygon clipping
// (40 to 100 times slower).

// Hatch is a set of parallel lines. Line k lies Phase + k·Pitch to the left of
// the line through the origin in direction Angle.
type Hatch struct {
	Angle        float64 // radians counter-clockwise from +X: the direction of the lines
	Pitch, Phase Micron
}

// The most a hatch may ask for: beyond it Rows answers with no rows.
const (
	maxLines     = 1 << 22
	maxCrossings = 1 << 25
	far          = 1 << 30 // Pitch, and places to make points of, are clamped to it; Phase to Limit
)

// A frame is a hatch with its direction worked out.
type frame struct {
	sin, cos     float64
	pitch, phase int64
}

func (h Hatch) frame() frame {
	s, c := sincos(h.Angle)
	// A right angle is one, though π/2 is no floating-point number.
	if math.Abs(s) < 1e-15 {
		s, c = 0, math.Copysign(1, c)
	}
	if math.Abs(c) < 1e-15 {
		s, c = math.Copysign(1, s), 0
	}
	return frame{s, c, int64(min(far, h.Pitch)), int64(max(-Limit, min(Limit, h.Phase)))}
}

func (f *frame) line(k int) int64 { return f.phase + int64(k)*f.pitch }

func (f *frame) place(x, y float64) (along, off float64) {
	return float64(x*f.cos) + float64(y*f.sin), float64(y*f.cos) - float64(x*f.sin)
}

func (f *frame) point(k int, along Micron) Point {
	a, o := float64(max(-far, min(far, along))), float64(max(-far, min(far, f.line(max(-far, min(far, k))))))
	return Point{
		Micron(nearest(float64(a*f.cos) - float64(o*f.sin))),
		Micron(nearest(float64(a*f.sin) + float64(o*f.cos))),
	}
}

// rank returns how many of lines …, −1, 0, 1, … are not above off, counted from
// line 0. |off − phase| is below 2^31, so an int of 32 bits holds the rank.
func (f *frame) rank(off float64) int {
	k := int(math.Floor((off - float64(f.phase)) / float64(f.pitch)))
	for float64(f.line(k)) > off {
		k--
	}
	for float64(f.line(k+1)) <= off {
		k++
	}
	return k + 1
}

// nearest rounds to the nearest integer, halves up.
func nearest(x float64) int64 { return int64(math.Floor(x + 0.5)) }

// Point returns the grid point nearest to line k at along, which is measured
// from the foot of the perpendicular from the origin. Rows.Point is faster.
func (h Hatch) Point(k int, along Micron) Point {
	f := h.frame()
	return f.point(k, along)
}

// corner is a vertex in a frame.
type corner struct {
	along, off float64
	rank       int
}

// clipping is what Rows works in.
type clipping struct {
	corner []corner
	ends   []int   // corner[ends[i-1]:ends[i]] is ring i
	start  []int32 // crossing[start[k]:start[k+1]] are those of line first+k
	cross  []int64 // 2·along, plus one where the edge goes down
}

var clips = sync.Pool{New: func() any { return new(clipping) }}

// Rows returns what of the lines of h lies in r, to the nearest micron along the
// line. r is read under the nonzero winding rule and need not be canonical. A
// line is taken to lie just below itself: one that runs along the upper side of r
// is inside, one along the lower side is outside. A pitch that is not positive, or lines closer
// than 1/4,000,000 of r, give no rows. O(n + k log k) for n vertices and k
// crossings on the busiest line.
func (h Hatch) Rows(r Region) Rows {
	f := h.frame()
	out := Rows{frame: f}
	if f.pitch <= 0 || len(r) == 0 {
		return out
	}
	c := clips.Get().(*clipping)
	defer clips.Put(c)
	first, n := c.corners(&f, r)
	if n <= 0 || n > maxLines || !c.cut(&f, first, n) {
		return out
	}
	out.First = first
	c.read(&out, n)
	return out
}

// corners places the vertices of r in f and returns the first line between
// them and how many there are.
func (c *clipping) corners(f *frame, r Region) (first, n int) {
	c.corner, c.ends = c.corner[:0], c.ends[:0]
	low, high := math.MaxInt, math.MinInt
	for _, ring := range r {
		for _, p := range ring {
			along, off := f.place(float64(fit(p.X)), float64(fit(p.Y)))
			k := f.rank(off)
			low, high = min(low, k), max(high, k)
			c.corner = append(c.corner, corner{along, off, k})
		}
		c.ends = append(c.ends, len(c.corner))
	}
	if low >= high {
		return 0, 0
	}
	return low, high - low
}

// cut finds the crossings of all lines. It says no if there are too many.
func (c *clipping) cut(f *frame, first, n int) bool {
	c.start = slices.Grow(c.start[:0], n+2)[:n+2]
	clear(c.start)
	// start[k+2] counts the crossings of line k as a sum of steps.
	total := 0
	c.edges(func(a, b *corner, _ int64) {
		total += b.rank - a.rank
		c.start[a.rank-first+1]++
		c.start[b.rank-first+1]--
	})
	if total > maxCrossings {
		return false
	}
	sum, at := int32(0), int32(0)
	for k := 1; k < n+2; k++ {
		sum += c.start[k]
		c.start[k] = at
		at += sum
	}
	// Now start[k+1] is where line k begins; filling moves it to where it ends.
	c.cross = slices.Grow(c.cross[:0], total)[:total]
	c.edges(func(a, b *corner, down int64) {
		slope := float64((b.along - a.along) / (b.off - a.off))
		lo, hi := min(a.along, b.along), max(a.along, b.along)
		for k := a.rank; k < b.rank; k++ {
			x := a.along + float64(slope*(float64(f.line(k))-a.off))
			x = max(lo, min(hi, x))
			s := &c.start[k-first+1]
			c.cross[*s] = 2*nearest(x) + down
			*s++
		}
	})
	return true
}

// edges calls do for every edge that crosses a line, lower end first.
func (c *clipping) edges(do func(a, b *corner, down int64)) {
	from := 0
	for _, to := range c.ends {
		if to == from {
			continue
		}
		a := &c.corner[to-1]
		for i := from; i < to; i++ {
			b := &c.corner[i]
			switch {
			case a.rank < b.rank:
				do(a, b, 0)
			case a.rank > b.rank:
				do(b, a, 1)
			}
			a = b
		}
		from = to
	}
}

// read walks every line and collects its spans.
func (c *clipping) read(out *Rows, n int) {
	spans := make([]Span, 0, len(c.cross)/2)
	out.Row = make([][]Span, n)
	for k := range n {
		x := c.cross[c.start[k]:c.start[k+1]]
		sortFew(x)
		begin := len(spans)
		w := 0
		var from Micron
		// Invariant: w is the winding just left of x[i].
		for i := 0; i < len(x); {
			at := x[i] >> 1
			before := w
			for ; i < len(x) && x[i]>>1 == at; i++ {
				w += 1 - 2*int(x[i]&1)
			}
			switch {
			case before == 0 && w != 0:
				from = Micron(at)
			case before != 0 && w == 0:
				spans = append(spans, Span{from, Micron(at)})
			}
		}
		out.Row[k] = spans[begin:len(spans):len(spans)]
	}
	out.trim()
}

// sortFew sorts keys, most often two or four of them.
func sortFew(x []int64) {
	if len(x) > 24 {
		slices.Sort(x)
		return
	}
	for i := 1; i < len(x); i++ {
		for j := i; j > 0 && x[j] < x[j-1]; j-- {
			x[j], x[j-1] = x[j-1], x[j]
		}
	}
}
