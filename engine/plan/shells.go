package plan

// Shells: the beads that follow the outline of a layer, and what to do where
// they do not fit.
//
// Notation. R is the region a tool lays in a layer, w the bead width, n the
// number of shells. R_k is what is left of R inside k shells, so R_0 = R and
// R_{k+1} = R_k offset by −w. Shell k is a bead of width w whose centre-line
// is the outline of R_k offset by −w/2.
//
// Idea. For a region without narrow places the area between R_k and R_{k+1} is
// exactly w times the length of the centre-line between them (Steiner's
// formula with mitred corners), so beads fill it without gap or overlap.
// Wherever that sum does not come out, something did not fit, and the layer
// takes the careful road: E_k, the part of R_k that is at least two beads wide,
// is R_k opened by w (offset by −w, then by +w); shell k follows E_k only, and
// the residue T_k = R_k − E_k is laid on its own.
//
// The residue. An island of T_k of area a and perimeter p is a strip of mean
// width t and length l with a = t·l and p = 2(t+l). From t down to a third of
// a bead one bead is laid along it, or two side by side when t is more than a
// bead; the width given to the bead is a divided by the length of the path, so
// the volume laid is that of the residue whatever the shape of the path. One
// bead runs along the middle: the strip is thinned to a quarter of its width
// on each side and one flank of what is left, from end to end, is the path; it
// lies within t/4 of the ridge. In the outermost residue (T_0, the thin walls
// of the model) a strip narrower than half a bead cannot be laid and is lost.
// Between shells a strip narrower than a third of a bead is not worth a
// bead: the shell before it is laid that much wider.
//
// Rejected: centre-lines offset by −w/2 only (a wall of 1.6 w then gets two
// beads, a quarter too much); the medial axis by a constrained triangulation
// (right to the micron, three times the code, and the same volume).

import (
	"math"

	"platebook/engine/region"
)

const (
	thinnest = 0.5       // of a bead: a wall narrower than this cannot be laid
	narrow   = 1.0 / 3   // of a bead: a gap between shells narrower than this widens a shell
	crumb    = 0.25      // of a bead: a residue whose area is a square of this side is a rounding of a corner
	steady   = 0.0005    // of the area: what may be missing before a layer takes the careful road
	mm2      = 1e-6      // square microns in mm²
	widest   = 3.0 / 2   // of a bead: the most a shell is widened
	pair     = 11.0 / 10 // of a bead: a strip wider than this gets two beads
)

// walls is a region of one tool in one layer, split into beads along the
// outline and what is left inside.
type walls struct {
	shells [][]stroke    // by shell, the outermost first
	thin   []stroke      // where shells do not fit
	inner  region.Region // what is left for solid layers and infill
	// Areas in mm²: walls narrower than one bead, walls of one to two beads,
	// what is too narrow to lay.
	under, single, lost float64
}

// build lays n shells of width w inside r.
func build(r region.Region, n int, w region.Micron) walls {
	if n == 0 || len(r) == 0 {
		return walls{inner: r}
	}
	if thinner(r, w) {
		// No bead fits anywhere: all is residue, as the careful road would find.
		q := walls{}
		if area(r) > crumb*crumb*float64(mm(w)*mm(w)) {
			q.residue(r, 0, w)
		}
		return q
	}
	if q, ok := buildFast(r, n, w); ok {
		return q
	}
	return buildCareful(r, n, w)
}

// thinner says of an island plainly too narrow for a bead everywhere that it is.
// A convex figure of area a and perimeter p holds no circle of a radius above
// 2a/p (Bonnesen and Fenchel, 1934, MEMORY), and an island none that its hull
// does not hold. The offset of half a bead would say so too, much later.
func thinner(island region.Region, w region.Micron) bool {
	if len(island) != 1 || len(island[0]) > 64 || 4*island.Area() >= float64(mm(w)*island.Perimeter()) {
		return false
	}
	hull := region.Region{region.Hull(island[0])}
	return len(hull[0]) >= 3 && 4*hull.Area() < float64(mm(w)*hull.Perimeter())
}

// buildFast lays shells by successive offsets and reports whether the beads
// fill what they should.
func buildFast(r region.Region, n int, w region.Micron) (walls, bool) {
	q := walls{shells: make([][]stroke, 0, n)}
	laid := 0.0
	c := grow(r, -w/2)
	for k := range n {
		if k > 0 {
			c = grow(c, -w)
		}
		if len(c) == 0 {
			return q, false
		}
		laid += perimeter(c)
		q.shells = append(q.shells, loops(c, shellKind(k), w))
	}
	q.inner = grow(c, -(w - w/2))
	total := area(r)
	gap := total - area(q.inner) - float64(laid*mm(w))
	limit := max(steady*total, float64(mm(w)*mm(w))*0.25)
	if math.Abs(gap) > limit {
		return q, false
	}
	for _, is := range islands(q.inner) {
		if a, p := area(is), perimeter(is); 2*a < float64(mm(w)*p) {
			return q, false // narrower than a bead
		}
	}
	return q, true
}

func buildCareful(r region.Region, n int, w region.Micron) walls {
	q := walls{shells: make([][]stroke, 0, n)}
	// A wall of two beads less a hair holds two beads: rounding must not decide.
	hair := max(w/100, 2)
	for k := range n {
		// Invariant: what lies outside r is laid, or counted as lost.
		in := grow(r, hair-w)
		loop := loops(grow(in, w-w/2-hair), shellKind(k), w)
		next := grow(r, -w)
		if rest := area(r) - area(next) - float64(length(loop)*mm(w)); math.Abs(rest) > crumb*crumb*float64(mm(w)*mm(w)) {
			q.residue(region.Subtract(r, grow(in, w-hair)), k, w)
		}
		if len(loop) == 0 {
			return q
		}
		q.shells = append(q.shells, loop)
		r = next
	}
	// What is left may be narrower than a bead: no line would lie in it well.
	q.inner = r
	wide := grow(grow(r, hair-w/2), w/2-hair)
	if area(r)-area(wide) > crumb*float64(mm(w)*mm(w)) {
		q.residue(region.Subtract(r, wide), n, w)
		q.inner = region.Intersect(wide, r)
	}
	return q
}

// residue lays what shell k leaves beside it.
func (q *walls) residue(t region.Region, k int, w region.Micron) {
	spread := 0.0 // mm² given to the shell before
	for _, is := range islands(t) {
		a, p := area(is), perimeter(is)
		width, long := strip(a, p, len(is) > 1)
		if a < crumb*crumb*float64(mm(w)*mm(w)) || long == 0 {
			if k > 0 {
				spread += a
			} else {
				q.lost += a
			}
			continue
		}
		if k == 0 {
			switch {
			case width < thinnest*mm(w):
				q.under += a
				q.lost += a
				continue
			case width < mm(w):
				q.under += a
			default:
				q.single += a
			}
		} else if width < narrow*mm(w) {
			spread += a
			continue
		}
		q.thin = append(q.thin, along(is, a, width, w)...)
	}
	if spread == 0 {
		return
	}
	if k == 0 || len(q.shells) < k {
		q.lost += spread
		return
	}
	before := q.shells[k-1]
	l := length(before)
	if l == 0 {
		q.lost += spread
		return
	}
	wider := w + region.Micron(math.Round(spread/l*1000))
	wider = min(wider, region.Micron(widest*float64(w)))
	for i := range before {
		before[i].width = wider
	}
}

// strip returns the mean width and length in mm of a strip of area a and
// perimeter p. A ring has no ends.
func strip(a, p float64, ring bool) (width, long float64) {
	if a <= 0 || p <= 0 {
		return 0, 0
	}
	if ring {
		return 2 * a / p, p / 2
	}
	d := float64(float64(p*p)/4) - float64(4*a)
	if d < 0 { // rounder than a square
		return math.Sqrt(a), math.Sqrt(a)
	}
	long = float64((float64(p/2) + math.Sqrt(d)) / 2)
	return a / long, long
}

// along lays the island is, a strip of the given area and mean width.
func along(is region.Region, a, width float64, w region.Micron) []stroke {
	t := microns(width)
	core := grow(is, -t/4)
	if len(core) == 0 {
		core = grow(is, -t/8)
	}
	if len(core) == 0 {
		core = is
	}
	var paths []stroke
	if width <= pair*mm(w) {
		for _, piece := range islands(core) {
			paths = append(paths, flank(piece))
		}
		// A strip that branches is longer than its flank: lay its outline instead.
		if l := length(paths); l > 0 && a/l > 2*width {
			paths = nil
		}
	}
	if paths == nil {
		paths = loops(core, ThinWall, w)
	}
	l := length(paths)
	if l == 0 {
		return nil
	}
	bead := max(microns(a/l), 1)
	for i := range paths {
		paths[i].width = bead
	}
	return paths
}

// flank returns the outer ring of a ring-shaped strip, or one side, from end
// to end, of any other.
func flank(piece region.Region) stroke {
	out := piece[0]
	if len(piece) > 1 || len(out) < 3 {
		return stroke{kind: ThinWall, closed: true, pts: out}
	}
	// The ends are (nearly) the two points farthest apart: two sweeps.
	i := farthest(out, 0)
	j := farthest(out, i)
	a, b := min(i, j), max(i, j)
	one := append([]region.Point(nil), out[a:b+1]...)
	two := append(append([]region.Point(nil), out[b:]...), out[:a+1]...)
	if lineLength(two) > lineLength(one) {
		one = two
	}
	return stroke{kind: ThinWall, pts: one}
}

func farthest(ring region.Ring, from int) int {
	best, at := int64(-1), 0
	for i, p := range ring {
		if d := apart(p, ring[from]); d > best {
			best, at = d, i
		}
	}
	return at
}

func shellKind(k int) Kind {
	if k == 0 {
		return OuterShell
	}
	return InnerShell
}
