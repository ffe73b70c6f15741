package plan

// Solid layers: which part of the inside of a layer is top or bottom.
//
// Notation. F is what shells leave inside in layer i; L_j is everything laid
// in layer j, of all tools. A point of F is hidden if it lies in L_{i+1} …
// L_{i+top} and in L_{i−1} … L_{i−bottom}; what is not hidden is solid.
// Hidden by any tool is hidden: nobody sees the face between two colours.
//
// Idea. Everything happens on the lines the solid beads will lie on: a layer
// has one hatch, each region becomes spans on its lines, and the intersections
// are merges of sorted spans. A span of what is left is already a bead. Sloping
// walls need no special case: F is inside the shells, so a step narrower than
// the shells exposes nothing.
//
// The hatch turns by a right angle from layer to layer, is some degrees off the
// diagonal, and its phase moves by the golden ratio of a pitch: walls that lie
// along the lines are then neither favoured nor missed over a few layers.
//
// Rejected: the same with polygons (five times as long for a layer and its
// eight neighbours); lines fixed in phase (a wall lying along them is misjudged
// by some percent in every layer).

import (
	"math"

	"platebook/engine/region"
)

const (
	offAxis  = 48.0               // degrees: the solid hatch, near a diagonal but not on it
	smallest = 5.0                // mm²: smaller sparse places are filled (CUSTOM)
	golden   = 0.6180339887498949 // (√5 − 1)/2
)

// hatch is the hatch of solid beads in layer i.
func (m *maker) hatch(i int) region.Hatch {
	f := math.Mod(float64(i/2+1)*golden, 1)
	a := offAxis * degree
	if i%2 == 1 {
		a -= right
	}
	return region.Hatch{Angle: a, Pitch: m.w, Phase: region.Micron(math.Round(f * float64(m.w)))}
}

// cover is what hides the inside of a layer from above and below, on one
// hatch. all says that everything is hidden, so rows does not matter.
type cover struct {
	rows region.Rows
	all  bool
}

// hidden returns the cover of layer i on the lines of h.
func (m *maker) hidden(i int, h region.Hatch) cover {
	if m.way.Infill >= 100 || i < m.way.SolidBottom || i+m.way.SolidTop >= m.n {
		return cover{}
	}
	c := cover{all: true}
	add := func(j int) bool {
		r := h.Rows(m.whole[j])
		if c.all {
			c.rows, c.all = r, false
		} else {
			c.rows = c.rows.Intersect(r)
		}
		return len(c.rows.Row) > 0
	}
	// Nearest first: the nearest hides least and may leave nothing to do.
	for d := 1; d <= max(m.way.SolidTop, m.way.SolidBottom); d++ {
		if d <= m.way.SolidTop && !add(i+d) || d <= m.way.SolidBottom && !add(i-d) {
			return cover{}
		}
	}
	return c
}

// split divides inner into solid and sparse.
func (m *maker) split(inner region.Rows, c cover, pitch region.Micron) (solid, sparse region.Rows) {
	sparse = inner
	if !c.all {
		if len(c.rows.Row) == 0 {
			return inner, region.Rows{}
		}
		sparse = inner.Intersect(c.rows)
		m.grip(inner, sparse)
	}
	// Small sparse places that a line of infill would hardly cross become solid.
	sparse = without(sparse, min(smallest, float64(m.spacing)*float64(m.spacing)*mm2), pitch)
	return inner.Subtract(sparse), sparse
}

// grip pulls the ends of sparse spans back by a bead where they meet a solid
// area, so that solid beads end over infill and not in the air, and lets them
// run on where only a sliver of solid would be left at a shell. It changes
// sparse, of which every span lies in one of inner.
func (m *maker) grip(inner, sparse region.Rows) {
	w := m.w
	for y, row := range sparse.Row {
		keep := row[:0]
		i := 0
		for _, in := range inner.Line(sparse.First + y) {
			// Invariant: row[:i] is left of in, and keep is what stays of it.
			left := in.From // where the sparse span before this one in the same inner span ended
			for ; i < len(row) && row[i].From < in.To; i++ {
				s := row[i]
				last := i+1 == len(row) || row[i+1].From >= in.To
				switch {
				case left == in.From && s.From-in.From < w/2:
					s.From = in.From
				default:
					s.From += w
				}
				left = s.To
				switch {
				case last && in.To-s.To < w/2:
					s.To = in.To
				default:
					s.To -= w
				}
				if s.From < s.To {
					keep = append(keep, s)
				}
			}
		}
		sparse.Row[y] = keep
	}
}
