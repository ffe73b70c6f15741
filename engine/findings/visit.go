package findings

import (
	"math"

	"platebook/engine/mesh"
)

// Which facets come near which boxes.
//
// Boxes are sorted into the cells of a grid, and each facet visits the cells it
// runs through: those of its own box, or of a large facet those along its plane,
// column by column across its steepest axis. A box may meet a facet in several
// cells and is then visited as often.

// mostCells bounds the grid, mostVisits how many cells and boxes a sixteenth of
// the facets may visit: a hostile mesh would want more.
const (
	mostCells  = 1 << 19
	mostVisits = 4_000_000
)

// triangle is a facet with its unit normal.
type triangle struct{ a, b, c, n mesh.Vec }

// lattice is a grid of boxes.
type lattice struct {
	min         mesh.Vec
	cell, perMM float64
	n           [3]int
	start, item []int32
}

// visit calls, for chunks of the facets at once, what begin returned for the
// chunk, with each facet and each box near it. Facets without area are passed
// over. It returns no if that was too much work.
func visit(m *mesh.Mesh, boxes []mesh.Box, begin func(chunk int) func(facet int32, t *triangle, box int32)) bool {
	g, ok := newLattice(boxes)
	if !ok || len(boxes) == 0 {
		return ok
	}
	var over [chunks]bool
	each(chunks, func(chunk int) {
		see := begin(chunk)
		visits := 0
		var t triangle // here, as see may keep hold of it: one for all facets
		for i := len(m.F) * chunk / chunks; i < len(m.F)*(chunk+1)/chunks; i++ {
			visits += g.see(m, int32(i), &t, see)
			if visits > mostVisits {
				over[chunk] = true
				return
			}
		}
	})
	return over == [chunks]bool{}
}

func newLattice(boxes []mesh.Box) (*lattice, bool) {
	if len(boxes) == 0 {
		return &lattice{}, true
	}
	all := boxes[0]
	widest := 0.0
	for _, b := range boxes {
		for k := range 3 {
			all.Min[k], all.Max[k] = math.Min(all.Min[k], b.Min[k]), math.Max(all.Max[k], b.Max[k])
			widest = math.Max(widest, b.Max[k]-b.Min[k])
		}
	}
	g := &lattice{min: all.Min, cell: math.Max(widest, 1e-3)}
	size := all.Size()
	for {
		cells := 1.0
		for k := range 3 {
			cells *= math.Floor(size[k]/g.cell) + 1
		}
		if cells <= mostCells {
			break
		}
		if !(cells < math.Inf(1)) {
			return nil, false
		}
		g.cell *= 1.25
	}
	g.perMM = 1 / g.cell
	for k := range 3 {
		g.n[k] = int(size[k]*g.perMM) + 1
	}
	// Two passes: count, then fill.
	g.start = make([]int32, g.n[0]*g.n[1]*g.n[2]+1)
	for pass := range 2 {
		for i, b := range boxes {
			lo, hi, _ := g.span(b.Min, b.Max)
			for z := lo[2]; z <= hi[2]; z++ {
				for y := lo[1]; y <= hi[1]; y++ {
					for x := lo[0]; x <= hi[0]; x++ {
						at := (z*g.n[1]+y)*g.n[0] + x
						if pass == 0 {
							g.start[at+1]++
						} else {
							g.start[at]--
							g.item[g.start[at]] = int32(i)
						}
					}
				}
			}
		}
		if pass == 0 {
			for at := 1; at < len(g.start); at++ {
				g.start[at] += g.start[at-1]
			}
			total := g.start[len(g.start)-1]
			g.item = make([]int32, total)
			// Filling backward moves each start down to where its cell begins.
			copy(g.start, g.start[1:])
		}
	}
	return g, true
}

// span returns the cells from lo to hi and whether there are any in the grid.
func (g *lattice) span(lo, hi mesh.Vec) (from, to [3]int, ok bool) {
	for k := range 3 {
		a, b := (lo[k]-g.min[k])*g.perMM, (hi[k]-g.min[k])*g.perMM
		if b < 0 || a >= float64(g.n[k]) {
			return from, to, false
		}
		if a > 0 {
			from[k] = int(a)
		}
		to[k] = min(int(b), g.n[k]-1)
	}
	return from, to, true
}

// see shows a facet the boxes in the cells that it runs through, and returns
// how many cells and boxes those were.
func (g *lattice) see(m *mesh.Mesh, facet int32, t *triangle, see func(int32, *triangle, int32)) int {
	f := &m.F[facet]
	a, b, c := &m.V[f[0]], &m.V[f[1]], &m.V[f[2]]
	lo := mesh.Vec{min(a[0], b[0], c[0]), min(a[1], b[1], c[1]), min(a[2], b[2], c[2])}
	hi := mesh.Vec{max(a[0], b[0], c[0]), max(a[1], b[1], c[1]), max(a[2], b[2], c[2])}
	from, to, ok := g.span(lo, hi)
	if !ok {
		return 0
	}
	if (to[0]-from[0]+1)*(to[1]-from[1]+1)*(to[2]-from[2]+1) > 12 {
		if !t.set(*a, *b, *c) {
			return 0
		}
		return g.along(facet, t, from, to, see)
	}
	visits, known := 0, false
	for z := from[2]; z <= to[2]; z++ {
		for y := from[1]; y <= to[1]; y++ {
			row := (z*g.n[1] + y) * g.n[0]
			for at := row + from[0]; at <= row+to[0]; at++ {
				items := g.item[g.start[at]:g.start[at+1]]
				if len(items) == 0 {
					continue
				}
				// Most facets meet no box and need no normal.
				if !known {
					if known = t.set(*a, *b, *c); !known {
						return visits
					}
				}
				visits += len(items)
				for _, i := range items {
					see(facet, t, i)
				}
			}
		}
	}
	return visits
}

// along is see for a facet with a box of many cells: it goes along the plane.
func (g *lattice) along(facet int32, t *triangle, from, to [3]int, see func(int32, *triangle, int32)) (visits int) {
	// k is the steepest axis: over each column of cells along it, the plane
	// spans few of them.
	k := 2
	for j := range 2 {
		if math.Abs(t.n[j]) > math.Abs(t.n[k]) {
			k = j
		}
	}
	i, j := (k+1)%3, (k+2)%3
	half := float64(g.cell / 2)
	spread := float64((math.Abs(t.n[i])+math.Abs(t.n[j]))/math.Abs(t.n[k])*half) + float64(g.cell*1e-6)
	var at [3]int
	for at[i] = from[i]; at[i] <= to[i]; at[i]++ {
		for at[j] = from[j]; at[j] <= to[j]; at[j]++ {
			di := g.min[i] + float64(float64(at[i])*g.cell) + half - t.a[i]
			dj := g.min[j] + float64(float64(at[j])*g.cell) + half - t.a[j]
			mid := t.a[k] - (float64(t.n[i]*di)+float64(t.n[j]*dj))/t.n[k] - g.min[k]
			low := max(from[k], int(math.Max((mid-spread)/g.cell, 0)))
			high := min(to[k], int(math.Max((mid+spread)/g.cell, -1)))
			if mid+spread < 0 {
				continue
			}
			visits++
			for at[k] = low; at[k] <= high; at[k]++ {
				cell := (at[2]*g.n[1]+at[1])*g.n[0] + at[0]
				items := g.item[g.start[cell]:g.start[cell+1]]
				visits += len(items)
				for _, i := range items {
					see(facet, t, i)
				}
			}
			if visits > mostVisits {
				return visits
			}
		}
	}
	return visits
}

// newTriangle returns a facet with its normal, if it has one.
func newTriangle(a, b, c mesh.Vec) (t triangle, ok bool) {
	ok = t.set(a, b, c)
	return t, ok
}

// set makes t a facet, if it has a normal.
func (t *triangle) set(a, b, c mesh.Vec) bool {
	n := b.Sub(a).Cross(c.Sub(a))
	l := n.Len()
	if !(l > 1e-12) {
		return false
	}
	*t = triangle{a, b, c, n.Scale(1 / l)}
	return true
}
