package pack

import (
	"math/bits"

	"platebook/engine/region"
)

// Footprints as cells.
//
// Notation. The platform is cut into square cells of one Grid. A variant is a
// part in one of its turns; its anchor is the lower left corner of its box,
// half the clearance out. Anchors lie on corners of cells only.
//
// Idea. A variant covers every cell that its outline, grown by half the
// clearance, reaches into. Anchors being on corners, that set of cells does not
// change as the part moves, and two parts that cover no cell in common are apart
// by the clearance: nothing need be checked afterwards. Sides that lie on the
// lines between cells cover none too many, so rectangles of whole cells pack
// without loss.
//
// A cell is reached into either because an edge runs through its inside or
// because all of it, its middle too, lies inside. Both are found exactly.

// A span is the cells from … to−1 of a row.
type span struct{ from, to int32 }

// raster is spans by row: those of row k are spans[start[k]:start[k+1]].
type raster struct {
	start []int32
	spans []span
	wide  int32 // cells
	area  int   // cells
}

func (r *raster) high() int32 { return int32(len(r.start) - 1) }

func (r *raster) equal(o *raster) bool {
	if len(r.start) != len(o.start) || len(r.spans) != len(o.spans) {
		return false
	}
	for k := range r.start {
		if r.start[k] != o.start[k] {
			return false
		}
	}
	for i := range r.spans {
		if r.spans[i] != o.spans[i] {
			return false
		}
	}
	return true
}

// variant is a part in one of its turns.
type variant struct {
	id         int // among all variants of a search
	turn       int
	corner     region.Point  // lower left of the turned outline's box
	wide, deep region.Micron // of that box
	cells      raster
	nx, ny     int32 // anchors it can have
}

// half returns half the clearance, rounded up: what an outline is grown by.
func half(clearance region.Micron) region.Micron { return (clearance + 1) / 2 }

// A fat is an outline grown, to be turned as often as need be.
type fat struct {
	quarter, other region.Region // for quarter turns, and for other ones
}

const manyCorners = 1000 // more than a part drawn by hand has

// grown returns r grown by d and little more. Round corners hold too little by
// their tolerance, so they are grown further by that; mitred ones hold too much,
// but have their sides where they belong. What both hold is right: sides of
// whole cells stay so, to within the micron that slanting sides are rounded by.
// Other than quarter turns round once more, and are allowed for that. Outlines
// of many corners, which have few such sides, are simplified instead.
func grown(r region.Region, d, grid region.Micron) fat {
	if d == 0 {
		return fat{r, r}
	}
	arc := max(2, min(d, grid)/25)
	corners := 0
	for _, ring := range r {
		corners += len(ring)
	}
	if corners > manyCorners {
		s := r.Offset(d+2*arc+4, region.Round, arc).Simplify(arc)
		return fat{s, s}
	}
	round := r.Offset(d+arc+4, region.Round, arc)
	return fat{
		region.Intersect(r.Offset(d, region.Mitre, 1), round),
		region.Intersect(r.Offset(d+2, region.Mitre, 1), round),
	}
}

// turned returns f in a turn.
func (f fat) turned(step, turns int) region.Region {
	switch {
	case step == 0:
		return f.quarter
	case 4*step%turns == 0:
		return f.quarter.Turn(angle(step, turns))
	}
	return f.other.Turn(angle(step, turns))
}

// cover returns the cells that r reaches into, of those that in part lie in box,
// counted from its lower left corner.
func cover(r region.Region, box region.Box, grid region.Micron) raster {
	at := box.Min
	wide, high := int(up(box.Max.X-at.X, grid)), int(up(box.Max.Y-at.Y, grid))
	m := mask{words: (wide + 63) / 64, wide: int32(wide), high: high}
	m.bits = make([]uint64, m.words*high)
	for _, ring := range r {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			if p.Y > q.Y {
				p, q = q, p
			}
			m.edge(p.X-at.X, p.Y-at.Y, q.X-at.X, q.Y-at.Y, grid)
		}
	}
	middle := region.Hatch{Pitch: grid, Phase: at.Y + grid/2}.Rows(r)
	for k := range high {
		for _, s := range middle.Line(k) {
			m.set(k, up(s.From-at.X-grid/2, grid), down(s.To-at.X-grid/2, grid)+1)
		}
	}
	return m.raster()
}

// mask is rows of bits.
type mask struct {
	bits  []uint64
	words int // of a row
	wide  int32
	high  int
}

// set sets bits from … to−1 of row k, where there are any.
func (m *mask) set(k int, from, to region.Micron) {
	if k < 0 || k >= m.high {
		return
	}
	setRun(m.bits[k*m.words:(k+1)*m.words], int32(max(0, from)), int32(min(to, region.Micron(m.wide))))
}

// edge sets the cells whose inside the edge runs through; y1 ≤ y2.
func (m *mask) edge(x1, y1, x2, y2, grid region.Micron) {
	if y1 == y2 {
		if y1%grid != 0 {
			m.set(int(down(y1, grid)), down(min(x1, x2), grid), up(max(x1, x2), grid))
		}
		return
	}
	for k := down(y1, grid); k*grid < y2; k++ {
		below, above := max(y1, k*grid)-y1, min(y2, (k+1)*grid)-y1
		// Products of differences fit 2^60.
		a, b := (x2-x1)*below, (x2-x1)*above
		from, to := x1+down(min(a, b), y2-y1), x1+up(max(a, b), y2-y1)
		m.set(int(k), down(from, grid), up(to, grid))
	}
}

func (m *mask) raster() raster {
	r := raster{start: make([]int32, 1, m.high+1), wide: m.wide}
	for k := range m.high {
		r.spans = appendRuns(r.spans, m.bits[k*m.words:(k+1)*m.words], 0)
		r.start = append(r.start, int32(len(r.spans)))
	}
	for _, s := range r.spans {
		r.area += int(s.to - s.from)
	}
	return r
}

// setRun sets bits from … to−1.
func setRun(w []uint64, from, to int32) {
	if from >= to {
		return
	}
	i, j := from>>6, (to-1)>>6
	first, last := ^uint64(0)<<(uint(from)&63), ^uint64(0)>>(63-uint(to-1)&63)
	if i == j {
		w[i] |= first & last
		return
	}
	w[i] |= first
	for k := i + 1; k < j; k++ {
		w[k] = ^uint64(0)
	}
	w[j] |= last
}

// appendRuns appends the runs of set bits, counted from origin.
func appendRuns(out []span, w []uint64, origin int32) []span {
	open := int32(-1) // where the run at hand began
	for i, v := range w {
		at := int32(i) * 64
		if open >= 0 && v == ^uint64(0) || open < 0 && v == 0 {
			continue
		}
		for bit := int32(0); bit < 64; {
			rest := v >> uint(bit)
			if open >= 0 {
				rest = ^rest
			}
			n := int32(bits.TrailingZeros64(rest))
			if bit+n >= 64 {
				break
			}
			bit += n
			if open < 0 {
				open = at + bit
			} else {
				out = append(out, span{open + origin, at + bit + origin})
				open = -1
			}
		}
	}
	if open >= 0 {
		out = append(out, span{open + origin, int32(len(w))*64 + origin})
	}
	return out
}

// down and up divide by a positive number and round.
func down(a, b region.Micron) region.Micron {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

func up(a, b region.Micron) region.Micron { return -down(-a, b) }
