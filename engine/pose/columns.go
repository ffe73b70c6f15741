package pose

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
)

// What lies under overhangs, sampled on columns.
//
// Notation: a column is a vertical line through a point of a square grid of
// pitch p; where it meets facets it crosses into material (facets facing down)
// or out of it (facing up). Counted from the platform up, the sum is the winding
// number; not 0 is material.
//
// Idea: facets are filled row by row into the grid, as a picture is drawn, and
// each leaves a crossing in the columns it covers. Edges are cut by a row at the
// same point whichever facet asks, and a row or column exactly on one belongs
// to one side only, so every column of a closed mesh ends at 0 without any
// tolerance. A gap of less than a micron between a body and one below it is
// none: bodies touch.
//
// Error: some 8 000 columns hit the part (fewer where surfaces lie dozens deep).
// Held against closed forms (TestSampling) what is taken back is off by 1/5 000
// of the space below overhangs on average and by less than 1/1 000.

type columns struct {
	head []int32 // last crossing in a column, +1
	list []crossing
	one  []crossing // those of one column
}

type crossing struct {
	z    float64
	next int32
	key  uint32 // facet·2, +1 for one that faces up
}

// loading is what tells how fine a grid can be paid for.
type loading struct {
	shade float64 // twice the area of all facets' shadows, mm²
	rows  float64 // sum of facets' extents across rows, mm
}

const (
	columnsHit    = 1 << 13
	mostCrossings = 1 << 17
	mostColumns   = 1 << 16
	mostRows      = 1 << 21 // rows looked at, beyond some for each facet
)

// share is what to take back from sums over overhanging facets, as shares of
// them, and what columns stand on, as a share of the facets' area. Shares are
// better than amounts: all of it, or nothing, is then so exactly.
type share struct{ volume, area, stand float64 }

// sample measures what lies below overhanging facets. v are vertices above the
// platform within lo and hi; it spoils them.
func (s *columns) sample(p *part, v []mesh.Vec, over []bool, lo, hi mesh.Vec, load loading) (out share) {
	w, d := hi[0]-lo[0], hi[1]-lo[1]
	cell := max(load.shade/4/columnsHit, load.shade/2/mostCrossings, float64(w*d)/mostColumns)
	pitch := max(math.Sqrt(cell), load.rows/(mostRows+float64(8*len(p.f))), max(w, d)/4096)
	if !(pitch > 0) || math.IsInf(pitch, 0) {
		return out
	}
	nx, ny := int(w/pitch)+2, int(d/pitch)+2
	cell = float64(pitch * pitch)
	s.head = resized(s.head, nx*ny)
	s.list = s.list[:0]
	// The grid is laid about the middle of the box: half a turn changes nothing.
	// From here on x and y are in columns and rows.
	x0 := float64((float64(nx-1) - (lo[0]+hi[0])/pitch) / 2)
	y0 := float64((float64(ny-1) - (lo[1]+hi[1])/pitch) / 2)
	for i := range v {
		v[i][0], v[i][1] = v[i][0]/pitch+x0, v[i][1]/pitch+y0
	}
	// Overhanging facets first: columns that meet none are of no interest.
	for _, hanging := range [2]bool{true, false} {
		for i, f := range p.f {
			if over[i] == hanging {
				s.fill(uint32(i), &v[f[0]], &v[f[1]], &v[f[2]], nx, ny, hanging)
			}
		}
	}
	slope := func(key uint32) float64 { // area of surface over area of shadow; of walls, enough
		f := p.f[key/2]
		a, b, c := &v[f[0]], &v[f[1]], &v[f[2]]
		shade := float64((b[0]-a[0])*(c[1]-a[1])) - float64((b[1]-a[1])*(c[0]-a[0]))
		if k := p.twice[key/2] / float64(math.Abs(shade)*cell); k < 100 {
			return k
		}
		return 100
	}
	var all share
	for _, head := range s.head {
		if head == 0 {
			continue
		}
		s.one = s.one[:0]
		for k := head; k != 0; k = s.list[k-1].next {
			s.one = append(s.one, s.list[k-1])
		}
		// Into material before out of it, where both are at one height.
		slices.SortFunc(s.one, func(a, b crossing) int {
			return cmp.Or(cmp.Compare(a.z, b.z), cmp.Compare(a.key&1, b.key&1), cmp.Compare(a.key, b.key))
		})
		winding, floor, last := 0, 0.0, -1
		// Invariant: below s.one[i] the winding number is final; floor is where
		// material last ended, by crossing last, or the platform.
		for i, c := range s.one {
			was := winding
			if c.key&1 == 0 {
				winding++
			} else {
				winding--
			}
			if winding == 0 && was != 0 {
				floor, last = c.z, i
				continue
			}
			if !over[c.key/2] || c.z <= p.first {
				continue
			}
			all.volume += c.z
			all.area += slope(c.key)
			switch {
			case was != 0 || last >= 0 && c.z-floor < hair:
				out.volume += c.z
				out.area += slope(c.key)
			case last >= 0:
				out.volume += floor
				out.stand += slope(s.one[last].key)
			}
		}
	}
	if !(all.volume > 0 && all.area > 0) { // nothing hit
		return share{}
	}
	return share{out.volume / all.volume, out.area / all.area, out.stand / all.area}
}

// fill leaves a crossing in every column that facet abc covers, or only in
// those that have one already.
func (s *columns) fill(facet uint32, a, b, c *mesh.Vec, nx, ny int, all bool) {
	y0, y1 := min(a[1], b[1], c[1]), max(a[1], b[1], c[1])
	from, to := int(math.Ceil(y0)), int(math.Ceil(y1)) // rows y0 ≤ y < y1
	if from >= to || math.Ceil(min(a[0], b[0], c[0])) > max(a[0], b[0], c[0]) {
		return
	}
	from, to = max(from, 0), min(to, ny)
	ux, uy, uz := b[0]-a[0], b[1]-a[1], b[2]-a[2]
	wx, wy, wz := c[0]-a[0], c[1]-a[1], c[2]-a[2]
	det := float64(ux*wy) - float64(uy*wx)
	zx := (float64(uz*wy) - float64(uy*wz)) / det
	zy := (float64(ux*wz) - float64(uz*wx)) / det
	z0, z1 := min(a[2], b[2], c[2]), max(a[2], b[2], c[2])
	for j := from; j < to; j++ {
		y := float64(j)
		// One edge goes up past the row and one down.
		var up, down float64
		cut := func(p, q *mesh.Vec) {
			switch {
			case p[1] <= y && y < q[1]:
				up = p[0] + float64((y-p[1])*((q[0]-p[0])/(q[1]-p[1])))
			case q[1] <= y && y < p[1]:
				down = q[0] + float64((y-q[1])*((p[0]-q[0])/(p[1]-q[1])))
			}
		}
		cut(a, b)
		cut(b, c)
		cut(c, a)
		key := facet << 1
		l, r := up, down
		if down < up { // counter-clockwise from above
			key |= 1
			l, r = down, up
		}
		for i := max(int(math.Ceil(l)), 0); i < min(int(math.Ceil(r)), nx); i++ {
			at := j*nx + i
			if s.head[at] == 0 && !all {
				continue
			}
			z := a[2] + float64((float64(i)-a[0])*zx) + float64((y-a[1])*zy)
			if !(z > z0) { // or no number, for a facet on edge
				z = z0
			}
			s.list = append(s.list, crossing{min(z, z1), s.head[at], key})
			s.head[at] = int32(len(s.list))
		}
	}
}

// resized returns n zeros, in s if there is room.
func resized(s []int32, n int) []int32 {
	if cap(s) < n {
		return make([]int32, n)
	}
	s = s[:n]
	clear(s)
	return s
}
