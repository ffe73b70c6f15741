package plan

// Infill: beads inside the shells, filling solidly or sparsely.
//
// Notation. w is the bead width, d the density (0…1), s = w/d the spacing.
//
// Solid. Spans on the lines of the layer's hatch (pitch w) are strung into
// chains and each chain is laid to and fro, joined at the ends along the shell.
// Every end is drawn in by half a bead to make room for the join; the width of
// the whole path is then the area of the spans over the length of the path, so
// joins neither add nor take volume. A chain narrower than a bead or so is one
// bead along the middles of its spans.
//
// Lines are the lines of the solid hatch that lie nearest to a lattice of pitch
// s that is the same for all layers: they stand on one another, within half a
// bead, and their number is right on average. They run from shell to shell and
// are joined along the shell, which anchors them and saves lifting the bead at
// every end; the path is narrowed so that joins add no volume. Where the joins
// would be more than half as long as the lines, lines stay apart. Grid lays
// two directions, each with spacing 2s.
//
// Curve is Hilbert's curve (Hilbert 1891) through the centres of a lattice of
// pitch s, one unit of length for each cell, hence density w/s. It is walked
// over the whole plate, without the quarters that no span reaches, and clipped
// against spans on the lattice's own lines, so it runs up to the shells. The
// same cells serve every layer, so the curve stands on itself.
//
// Rejected: clipping lines with the polygon engine (40 to 100 times as long);
// joins at full width (they add some percent that depends on the shape, so the
// density would not be what was asked for); wider spacing to make up for joins
// (lines would not stand on one another).

import (
	"math"

	"platebook/engine/region"
)

const (
	joinInfill  = 1.0 / 3 // of the lines: the most that joins of sparse infill may come to
	joinSupport = 1.0     // the same of supports, which nobody keeps
	slant       = 3.0     // beads: the longest step sideways a join may take
	curveOff    = 2.0     // degrees: the lattice of the curve is turned off the axes
)

// fillSolid fills the spans of r solidly.
func fillSolid(r region.Rows, kind Kind, w region.Micron) []stroke {
	var out []stroke
	for _, c := range chains(r, region.Micron(slant*float64(w))) {
		if s, ok := zigzag(c, r, w); ok {
			s.kind = kind
			out = append(out, s)
		}
	}
	return out
}

// zigzag lays one chain to and fro.
func zigzag(c []link, r region.Rows, w region.Micron) (stroke, bool) {
	total := region.Micron(0)
	for _, l := range c {
		total += l.span.To - l.span.From
	}
	if total < w/16 {
		return stroke{}, false
	}
	var pts []region.Point
	if len(c) > 1 && total < region.Micron(len(c))*w*5/4 {
		pts = make([]region.Point, 0, len(c))
		for _, l := range c {
			pts = append(pts, r.Point(l.line, (l.span.From+l.span.To)/2))
		}
	} else {
		pts = make([]region.Point, 0, 2*len(c))
		for i, l := range c {
			in := min(w/2, (l.span.To-l.span.From)/4)
			from, to := l.span.From+in, l.span.To-in
			if i%2 == 1 {
				from, to = to, from
			}
			pts = append(pts, r.Point(l.line, from), r.Point(l.line, to))
		}
	}
	pts = plain(pts)
	l := lineLength(pts)
	if l < 0.01 {
		return stroke{}, false
	}
	bead := microns(float64(mm(total)*mm(w)) / l)
	if bead < 1 {
		return stroke{}, false
	}
	return stroke{width: bead, pts: pts}, true
}

// plain drops repeated points.
func plain(pts []region.Point) []region.Point {
	out := pts[:0]
	for _, p := range pts {
		if len(out) == 0 || out[len(out)-1] != p {
			out = append(out, p)
		}
	}
	return out
}

// fillLines lays the lines of r that are nearest to a lattice of pitch s, joined
// where the joins come to at most share of the lines.
func fillLines(r region.Rows, h region.Hatch, s region.Micron, kind Kind, w region.Micron, share float64) []stroke {
	var out []stroke
	for _, c := range chains(r, max(s, region.Micron(slant*float64(w)))) {
		out = append(out, toAndFro(c, r, h, s, kind, w, share)...)
	}
	return out
}

// toAndFro lays the lines of one chain that are near the lattice, joined along
// the ends of the lines between them.
func toAndFro(c []link, r region.Rows, h region.Hatch, s region.Micron, kind Kind, w region.Micron, share float64) []stroke {
	var single []stroke
	var path []region.Point
	flat, from := 0.0, -1 // mm of lines; the last line laid
	for i, l := range c {
		if !picked(l.line, h, s) || l.span.To-l.span.From < w/2 {
			continue
		}
		a, b := r.Point(l.line, l.span.From), r.Point(l.line, l.span.To)
		if len(single)%2 == 1 {
			a, b = b, a
		}
		if from >= 0 {
			edge := make([]region.Point, 0, i-from+1)
			edge = append(edge, path[len(path)-1])
			for _, k := range c[from+1 : i] {
				if len(single)%2 == 1 {
					edge = append(edge, r.Point(k.line, k.span.To))
				} else {
					edge = append(edge, r.Point(k.line, k.span.From))
				}
			}
			edge = thinLine(append(edge, a), float64(w)/8)
			path = append(path, edge[1:len(edge)-1]...)
		}
		path = append(path, a, b)
		single = append(single, stroke{kind: kind, width: w, pts: []region.Point{a, b}})
		flat += distance(a, b)
		from = i
	}
	if len(single) < 2 {
		return single
	}
	all := lineLength(path)
	if all-flat > flat*share {
		return single
	}
	return []stroke{{kind: kind, width: max(1, microns(float64(mm(w)*flat)/all)), pts: path}}
}

// picked says whether line k of h is the one nearest to some multiple of s.
func picked(k int, h region.Hatch, s region.Micron) bool {
	if s <= h.Pitch {
		return true
	}
	// Twice everything, to stay in integers: is there a multiple of s in
	// [position − pitch/2, position + pitch/2)?
	low := 2*(region.Micron(k)*h.Pitch+h.Phase) - h.Pitch
	return floorDiv(low+2*h.Pitch-1, 2*s) > floorDiv(low-1, 2*s)
}

func floorDiv(a, b region.Micron) region.Micron {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// sparse lays the infill of layer i inside inner, whose spans on the solid
// hatch h are in rows.
func (m *maker) sparse(i int, inner region.Region, rows region.Rows, h region.Hatch, more *covers) []stroke {
	if m.way.Infill <= 0 || len(rows.Row) == 0 {
		return nil
	}
	switch m.way.Pattern {
	case "curve":
		a, b := m.curveHatches()
		return m.curve(more.on(m, i, a, inner), more.on(m, i, b, inner))
	case "grid":
		s := 2 * m.spacing
		out := fillLines(rows, h, s, Infill, m.w, joinInfill)
		g := region.Hatch{Angle: h.Angle + right, Pitch: h.Pitch, Phase: h.Phase}
		if h.Angle > 0 {
			g.Angle = h.Angle - right
		}
		return append(out, fillLines(more.on(m, i, g, inner), g, s, Infill, m.w, joinInfill)...)
	}
	return fillLines(rows, h, m.spacing, Infill, m.w, joinInfill)
}

// covers keeps the covers of one layer by hatch, as its islands share them.
type covers struct {
	hatch []region.Hatch
	cover []cover
}

func (c *covers) get(m *maker, i int, h region.Hatch) cover {
	for k := range c.hatch {
		if c.hatch[k] == h {
			return c.cover[k]
		}
	}
	c.hatch = append(c.hatch, h)
	c.cover = append(c.cover, m.hidden(i, h))
	return c.cover[len(c.cover)-1]
}

// on returns the sparse spans of inner on h.
func (c *covers) on(m *maker, i int, h region.Hatch, inner region.Region) region.Rows {
	_, sparse := m.split(h.Rows(inner), c.get(m, i, h), h.Pitch)
	return sparse
}

func (m *maker) curveHatches() (along, across region.Hatch) {
	return region.Hatch{Angle: curveOff * degree, Pitch: m.spacing}, region.Hatch{Angle: curveOff*degree + right, Pitch: m.spacing}
}

// curve clips Hilbert's curve. Cell (x, y) has its centre on line y of a, at x
// spacings along it, which is line −x of b, at y spacings along it.
func (m *maker) curve(a, b region.Rows) []stroke {
	c := curve{s: m.spacing, w: m.w, a: a, b: b}
	c.x0, c.x1, c.y0, c.y1 = math.MaxInt, math.MinInt, math.MaxInt, math.MinInt
	for y, row := range a.Row {
		if len(row) > 0 {
			c.y0, c.y1 = min(c.y0, a.First+y-1), max(c.y1, a.First+y+1)
			c.x0 = min(c.x0, int(floorDiv(row[0].From, c.s)))
			c.x1 = max(c.x1, int(floorDiv(row[len(row)-1].To, c.s))+1)
		}
	}
	if c.x0 > c.x1 {
		return nil
	}
	// The square of the curve holds every cell a coordinate can reach.
	half := m.curveHalf
	c.walk(-half, -half, 2*half, 0, 0, 2*half)
	c.end()
	return c.out
}

type curve struct {
	s, w           region.Micron
	a, b           region.Rows
	x0, x1, y0, y1 int // cells worth visiting
	at             [2]int
	on             bool // at is a cell of the curve just before the next
	line           []region.Point
	out            []stroke
}

// walk visits the cells of the square with one corner at (x, y) and sides
// (ux, uy) and (vx, vy), in whole cells, in the order of the curve: quarters
// (u and v exchanged), as is, as is, exchanged and turned back.
func (c *curve) walk(x, y, ux, uy, vx, vy int) {
	left, right := min(x, x+ux, x+vx), max(x, x+ux, x+vx)
	low, high := min(y, y+uy, y+vy), max(y, y+uy, y+vy)
	if right < c.x0 || left > c.x1+1 || high < c.y0 || low > c.y1+1 {
		c.end()
		c.on = false
		return
	}
	if max(ux, -ux)+max(uy, -uy) == 1 {
		c.visit(left, low)
		return
	}
	ux, uy, vx, vy = ux/2, uy/2, vx/2, vy/2
	c.walk(x, y, vx, vy, ux, uy)
	c.walk(x+ux, y+uy, ux, uy, vx, vy)
	c.walk(x+ux+vx, y+uy+vy, ux, uy, vx, vy)
	c.walk(x+ux+2*vx, y+uy+2*vy, -vx, -vy, -ux, -uy)
}

func (c *curve) visit(x, y int) {
	if c.on {
		px, py := c.at[0], c.at[1]
		if py == y {
			c.clip(c.a, y, region.Micron(px)*c.s, region.Micron(x)*c.s)
		} else {
			c.clip(c.b, -x, region.Micron(py)*c.s, region.Micron(y)*c.s)
		}
	}
	c.at, c.on = [2]int{x, y}, true
}

// clip adds what lies inside of the unit from p to q on line k.
func (c *curve) clip(r region.Rows, k int, p, q region.Micron) {
	row := r.Line(k)
	low, high := min(p, q), max(p, q)
	hit := false
	for i := range row {
		s := row[i]
		if q < p {
			s = row[len(row)-1-i]
		}
		from, to := max(s.From, low), min(s.To, high)
		if from >= to {
			continue
		}
		hit = true
		if q < p {
			from, to = to, from
		}
		if from != p || len(c.line) == 0 {
			c.end()
			c.line = append(c.line, r.Point(k, from))
		}
		c.line = append(c.line, r.Point(k, to))
		if to != q {
			c.end()
		}
	}
	if !hit {
		c.end()
	}
}

// end closes the line being laid. Units in one direction become one.
func (c *curve) end() {
	if len(c.line) >= 2 {
		if pts := straighten(c.line); lineLength(pts) >= mm(c.w)/2 {
			c.out = append(c.out, stroke{kind: Infill, width: c.w, pts: pts})
		}
	}
	c.line = c.line[:0]
}

// straighten copies pts without points that lie on the way between their
// neighbours, up to the rounding of the grid.
func straighten(pts []region.Point) []region.Point {
	out := make([]region.Point, 0, len(pts))
	for i, p := range pts {
		if n := len(out); n > 0 && i+1 < len(pts) {
			a, b := out[n-1], pts[i+1]
			ux, uy := float64(p.X-a.X), float64(p.Y-a.Y)
			vx, vy := float64(b.X-p.X), float64(b.Y-p.Y)
			turn, long := float64(ux*vy)-float64(uy*vx), float64(apart(a, b))
			if float64(turn*turn) <= 4*long && float64(ux*vx)+float64(uy*vy) > 0 {
				continue
			}
		}
		out = append(out, p)
	}
	return out
}
