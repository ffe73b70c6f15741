package region

import (
	"math/bits"
	"slices"
	"sync"
)

// The polygon engine. Every operation on rings here is one pass of this machine:
//
//	load     rings become segments a→b with a below b (a left of b if level),
//	         each with the winding it adds to operand A (da) or B (db)
//	cross    every proper crossing of two segments is found and rounded
//	snap     every segment is bent through the hot pixels it meets
//	sweep    equal edges are merged, winding left and right of each edge is
//	         found, edges with the same answer on both sides are dropped
//	stitch   what is left is joined to rings, interior on the left
//
// # Notation
//
// Points are ordered by (y, x): "below" is earlier in that order, and a sweep
// by it is a horizontal line tilted by less than any grid step, so that level
// edges need no case of their own. The pixel of a grid point p is the half-open
// square [p-½, p+½) in both directions: pixels tile the plane, every point of
// the plane has exactly one. A pixel is hot if it holds an end of a segment or
// a point where two segments cross. H is the set of hot pixels.
//
// # Idea
//
// Crossings have rational coordinates, the grid has none. Rounding each crossing
// by itself can push an edge over a vertex and make a new crossing. Snap rounding
// does not: a segment is replaced by the polyline through the centres of all hot
// pixels it meets, in the order it meets them. It was proved that then no two
// polylines cross: they share vertices and whole edges only. So one pass suffices,
// there is no loop that could fail to end, and no fallback is needed. Sources:
// J. Hobby, Practical segment intersection with finite precision output, 1999;
// D. Greene and F. Yao, 1986; L. Guibas and D. Marimont, Rounding arrangements
// dynamically, 1998 (all MEMORY).
//
// A bent edge may come to lie within the pixel of a hot vertex that the segment
// did not meet. It does not cross anything, but a second run would bend it again.
// So bent edges are snapped again, to the same H, until they meet no pixel but
// their ends' (D. Halperin and E. Packer, Iterated snap rounding, 2002, MEMORY).
// This ends: a polyline stays monotone in x and in y, so it visits a pixel at
// most once, each round adds a visit, and H does not grow. What comes out is a
// fixed point: Nonzero of a canonical region is the region itself.
//
// # Exactness
//
// Coordinates are at most 2^29, differences 2^30, a cross product 2^61, twice
// that 2^62: int64 holds every predicate. Only the coordinates of a crossing need
// more: num·dx is up to 2^91 and is divided as 128 by 64 bits.
//
// # Too much
//
// Rings made in bad faith can cross themselves n² times. When crossings or pairs
// to be looked at pass a bound that no real layer comes near, the operation is
// done on a coarser grid: all pixels that a segment passes are made hot, which
// snap rounding allows as well as it allows only those it needs, and which costs
// as many steps as the segments are pixels long. The grid is chosen so that these
// are a million and one for each segment. So time and memory are bounded, the
// result is canonical, and it is right to about one step of that grid (coarse.go).
//
// # Tried and rejected
//
// Splitting and rounding until nothing changes: with closed pixels it need not
// end, and each round costs as much as the first. One list of active segments and
// one of hot pixels sorted by height, without strips: a third slower on slices,
// and quadratic where many segments stand side by side. A binary search of a
// strip for every segment: slower than walking up with the segments, its branches
// cannot be foretold. A step to a neighbouring pixel taken as final: it is not if
// it goes up and left, past the corner of a third.

// A seg is a segment a→b of the input, a before b in (y, x).
type seg struct{ ax, ay, bx, by, da, db int32 }

// A live seg is one the line at the height reached still meets.
type live struct{ x0, x1, by, id int32 }

// An edge of the arrangement goes up from hot pixel u to v > u. Its winding of A
// on the left is da more than on the right, which is ra; likewise for B.
type edge struct {
	u, v   int32
	da, db int32
	ra, rb int32
	next   int32 // the edge that follows in its ring
	dir    int8  // +1: kept, interior on the left of u→v; -1: of v→u; 0: dropped
	used   bool
}

// A work holds what one operation needs. It is taken from a pool to spare the
// allocator; nothing of an earlier operation is ever read.
type work struct {
	segs, sorted []seg
	keys, order  []uint64
	spare        []uint64
	active       []live
	left         int32   // the first strip begins at this x
	shift        uint    // a strip is 1<<shift wide
	strips       int     // how many there are
	strip        []int32 // inStrip[strip[i]:strip[i+1]] are the segments of strip i
	inStrip      []int32
	pixel        []int32 // pixels[pixel[i]:pixel[i+1]] are the hot pixels of strip i
	pixels       []pixel
	low          []int32 // pixels[low[i]] is the first of strip i at or above floor
	floor        int32
	hx, hy       []int32 // H in order
	hits         []int32
	edges, csr   []edge
	first        []int32 // csr[first[u]:first[u+1]] go up from u, left to right
	ends         []int32 // how many edges end in v
	status       []int32
	around       []int32
	at           []int32
	path         []int32
	ring         []int32
	rings        [][2]int32
	sides        []side // for offsets
	thinned      Ring
	coarse       uint // the grid is 1<<coarse µm
}

var works = sync.Pool{New: func() any { return new(work) }}

func newWork() *work {
	w := works.Get().(*work)
	w.segs, w.keys, w.edges = w.segs[:0], w.keys[:0], w.edges[:0]
	return w
}

func (w *work) done() { works.Put(w) }

// limit is Limit for coordinates.
const limit = int32(Limit)

// fit clamps a coordinate to the grid.
func fit(m Micron) int32 { return int32(max(-Limit, min(Limit, m))) }

// pack makes a key that sorts by (y, x).
func pack(x, y int32) uint64 {
	return uint64(uint32(y)^1<<31)<<32 | uint64(uint32(x)^1<<31)
}

func unpack(k uint64) (x, y int32) {
	return int32(uint32(k) ^ 1<<31), int32(uint32(k>>32) ^ 1<<31)
}

// add loads a ring that adds a to the winding of A and b to that of B on the
// left of its edges.
func (w *work) add(ring Ring, a, b int32) {
	if len(ring) == 0 {
		return
	}
	last := ring[len(ring)-1]
	px, py := fit(last.X), fit(last.Y)
	for _, p := range ring {
		x, y := fit(p.X), fit(p.Y)
		w.line(px, py, x, y, a, b)
		px, py = x, y
	}
}

func (w *work) line(px, py, x, y, a, b int32) {
	switch {
	case px == x && py == y:
		return
	case py < y || py == y && px < x:
		w.segs = append(w.segs, seg{px, py, x, y, a, b})
	default:
		w.segs = append(w.segs, seg{x, y, px, py, -a, -b})
	}
	w.keys = append(w.keys, pack(px, py)) // the other end begins the next line
}

func cross(ax, ay, bx, by int64) int64 { return ax*by - ay*bx }

// arrange turns the segments loaded into the edges of their snapped arrangement.
func (w *work) arrange() {
	w.coarse = 0
	w.sortSegs()
	w.layStrips()
	if !w.cross() {
		w.coarsen(coarseSteps + len(w.segs))
	}
	w.hot()
	w.snap()
}

// sortSegs sorts the segments by their lower ends.
func (w *work) sortSegs() {
	w.order = w.order[:0]
	for i := range w.segs {
		w.order = append(w.order, uint64(uint32(w.segs[i].ay)^1<<31)<<32|uint64(i))
	}
	w.order, w.spare = radix(w.order, w.spare, 32)
	w.sorted = w.sorted[:0]
	for _, k := range w.order {
		w.sorted = append(w.sorted, w.segs[uint32(k)])
	}
}

// cross adds the pixels of proper crossings to the keys. Touching needs nothing:
// there an end, hot already, lies on a segment. It gives up, with false, when
// there are too many crossings for memory or pairs for time.
func (w *work) cross() bool {
	n := len(w.sorted)
	pairs, most := 0, crossingsFree+crossingsPerSegment*n
	for strip := range w.strips {
		w.active = w.active[:0]
		// Invariant: active holds the earlier segments of the strip that reach up
		// to s.ay, and crossings among earlier ones are in keys.
		for _, i := range w.inStrip[w.strip[strip]:w.strip[strip+1]] {
			s := &w.sorted[i]
			x0, x1 := min(s.ax, s.bx), max(s.ax, s.bx)
			n := 0
			pairs += len(w.active)
			for _, l := range w.active {
				if l.by < s.ay {
					continue
				}
				w.active[n] = l
				n++
				// Two segments meet in the first strip they share only.
				if l.x0 <= x1 && l.x1 >= x0 && w.stripOf(max(x0, l.x0)) == strip {
					w.meet(s, &w.sorted[l.id])
				}
			}
			w.active = append(w.active[:n], live{x0, x1, s.by, i})
			if len(w.keys) > most || pairs > pairsFree+pairsPerSegment*len(w.sorted) {
				return false
			}
		}
	}
	return true
}

// meet adds the pixel in which s and t cross properly, if they do.
func (w *work) meet(s, t *seg) {
	sx, sy := int64(s.bx)-int64(s.ax), int64(s.by)-int64(s.ay)
	ox, oy := int64(t.ax)-int64(s.ax), int64(t.ay)-int64(s.ay)
	d1 := cross(sx, sy, ox, oy)
	if d1 == 0 {
		return
	}
	d2 := cross(sx, sy, int64(t.bx)-int64(s.ax), int64(t.by)-int64(s.ay))
	if d2 == 0 || (d1 > 0) == (d2 > 0) {
		return
	}
	tx, ty := int64(t.bx)-int64(t.ax), int64(t.by)-int64(t.ay)
	d3 := cross(ox, oy, tx, ty) // minus the side of s.a
	d4 := d3 - cross(sx, sy, tx, ty)
	if d3 == 0 || d4 == 0 || (d3 > 0) == (d4 > 0) {
		return
	}
	den := d3 - d4
	if den < 0 {
		d3, den = -d3, -den
	}
	w.keys = append(w.keys, pack(s.ax+part(sx, d3, den), s.ay+part(sy, d3, den)))
}

// part returns d·num/den rounded to the nearest integer, halves up, for
// 0 < num < den < 2^62 and |d| ≤ 2^30: floor(d·num/den + ½).
func part(d, num, den int64) int32 {
	neg := d < 0
	if neg {
		d = -d
	}
	var q, r int64
	if bits.Len64(uint64(d))+bits.Len64(uint64(num)) < 64 {
		n := d * num
		q = n / den
		r = n - q*den
	} else {
		hi, lo := bits.Mul64(uint64(d), uint64(num))
		a, b := bits.Div64(hi, lo, uint64(den))
		q, r = int64(a), int64(b)
	}
	if neg {
		if r > den-r {
			q++
		}
		return int32(-q)
	}
	if r >= den-r {
		q++
	}
	return int32(q)
}

// hot makes H of the keys.
func (w *work) hot() {
	w.keys, w.spare = radix(w.keys, w.spare, 0)
	w.keys = slices.Compact(w.keys)
	n := len(w.keys)
	w.hx, w.hy = slices.Grow(w.hx[:0], n)[:n], slices.Grow(w.hy[:0], n)[:n]
	for i, k := range w.keys {
		w.hx[i], w.hy[i] = unpack(k)
	}
}

// snap bends every segment through the hot pixels it meets.
func (w *work) snap() {
	w.spread()
	w.hits = w.hits[:0]
	for i := range w.sorted {
		w.floor = w.sorted[i].ay
		w.bend(&w.sorted[i])
	}
}

// bend adds the edges of s.
func (w *work) bend(s *seg) {
	base := len(w.hits)
	straight := true
	if i, j := w.stripOf(s.ax), w.stripOf(s.bx); i == j {
		straight = w.meets(s, i, s.ay, s.by)
	} else {
		step := 1
		if i > j {
			step = -1
		}
		for ; i != j+step; i += step {
			lo, hi := w.within(s, i)
			straight = w.meets(s, i, lo, hi) && straight
		}
	}
	// Invariant: hits are the pixels s meets in order, ends included.
	n := len(w.hits)
	final := straight || n-base == 2
	for i := base + 1; i < n; i++ {
		w.join(w.hits[i-1], w.hits[i], s.da, s.db, final)
	}
	w.hits = w.hits[:base]
}

// meets appends the pixels of a strip between heights lo and hi of s that s meets,
// in the order in which s meets them, and says whether s passes all their centres.
func (w *work) meets(s *seg, strip int, lo, hi int32) bool {
	base := len(w.hits)
	ax, ay := int64(s.ax), int64(s.ay)
	dx, dy := int64(s.bx)-ax, int64(s.by)-ay
	x0, x1 := min(s.ax, s.bx), max(s.ax, s.bx)
	reach, corner := dx+dy, dx+dy // twice the reach of a pixel across s, times its length
	if dx < 0 {
		reach, corner = dy-dx, dy-dx+1
	}
	straight := true
	for _, h := range w.pixelsFrom(strip, lo) {
		if h.y > hi {
			break
		}
		if h.x < x0 || h.x > x1 {
			continue
		}
		// A box and a segment meet if no axis parts them: x and y do not, the
		// segment's normal remains. Equality is a corner, and only the lower
		// left one belongs to the pixel.
		c := 2 * cross(dx, dy, int64(h.x)-ax, int64(h.y)-ay)
		if c >= reach || c <= -corner {
			continue
		}
		straight = straight && c == 0
		w.hits = append(w.hits, h.id)
	}
	if hits := w.hits[base:]; dx < 0 && len(hits) > 1 { // pixels run right in a row, s runs left
		for i := 0; i < len(hits); {
			j := i + 1
			for j < len(hits) && w.hy[hits[j]] == w.hy[hits[i]] {
				j++
			}
			slices.Reverse(hits[i:j])
			i = j
		}
	}
	return straight
}

// join adds the edge from p to q, final or to be bent again.
func (w *work) join(p, q, da, db int32, final bool) {
	if p > q {
		p, q, da, db = q, p, -da, -db
	}
	px, py, qx, qy := w.hx[p], w.hy[p], w.hx[q], w.hy[q]
	// Of the steps to a neighbour only the one up and left meets a third pixel,
	// whose corner it passes.
	if final || qy-py <= 1 && qx-px <= 1 && px-qx <= 0 {
		w.edges = append(w.edges, edge{u: p, v: q, da: da, db: db})
		return
	}
	w.bend(&seg{px, py, qx, qy, da, db})
}
