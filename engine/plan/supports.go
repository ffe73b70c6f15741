package plan

// Supports: what holds up what would be laid on air.
//
// Notation. L_i is all that is laid in layer i, h the height from its plane of
// cut to that of the layer below, θ the limit angle from the vertical. A layer may stand out from the one below by h·tan θ. D_i =
// L_i − L_{i−1} is what has nothing right below it, and its core, L_i − (L_{i−1}
// swollen by h·tan θ), is what stands out too far. The overhang O_i is every
// piece of D_i that holds some core: where a face is too flat, all of the step
// is too flat, not only its edge. So the O_i of a surface tile its shadow, and
// their sum converges to the area of the faces beyond the limit.
// C_i is the space below overhangs: C_i = (C_{i+1} ∪ O_{i+1}) − L_i.
//
// Idea. All of it lives on the lines of one fixed hatch, as spans: the shadow
// of hundreds of layers is hundreds of merges of sorted lists, the only thing
// done one layer after another. What is near an overhang or near the model is
// then taken from the neighbouring layers' spans, in parallel, and turned into
// polygons only to be laid: an outline bead and lines inside it.
//
// The area of O_i on the slant, from its area a in plan and the length l of the
// edge it stands out from (half its perimeter): √(a² + (l·h)²).
//
// Gaps. Breakaway supports keep SupportGap beside the model and SupportGapLayers
// layers above and below; soluble ones touch it. The SupportInterface layers
// next to the gap are laid solidly. A spot too small for an outline is left out.
//
// Bridges. A piece of O_i whose lines, square to one of its long edges, all run across
// it from one edge of L_{i−1} to another in at most MaxBridge is laid on
// air, as strings are: it is counted and not held up.
//
// Rejected: the same with polygons (some 2 ms a layer, one after another).

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/region"
)

// MaxBridge is the longest span, mm, laid on air from one side to another (CUSTOM).
const MaxBridge = 10.0

const (
	supportOff  = 17.0 // degrees: the hatch of supports, off the axes
	bridgeShare = 0.95 // of a piece's lines must be held at both ends
	finest      = 500  // lines across the plate
	slit        = 1.0  // mm: narrower gaps between columns are filled (CUSTOM)
	speckle     = 1.0  // mm²: smaller columns and interfaces are left out (CUSTOM)
	speck       = 0.01 // mm²: a core smaller than this is noise of the mesh
)

// hold is what is known about supports, all on the hatch h.
type hold struct {
	h       region.Hatch
	model   []region.Rows // L_i
	over    []region.Rows // O_i, bridges taken out
	space   []region.Rows // C_i
	area    []float64     // of O_i, mm², on the slant
	nBridge []int
	bridge  []float64 // mm²
}

// overhangs finds O_i of all layers.
func (m *maker) overhangs() *hold {
	// Half a bead apart, but no more than some hundred lines across a large plate.
	pitch := max(m.w/2, m.span/finest, 1)
	d := &hold{
		h:     region.Hatch{Angle: supportOff * degree, Pitch: pitch},
		model: make([]region.Rows, m.n), over: make([]region.Rows, m.n), space: make([]region.Rows, m.n),
		area: make([]float64, m.n), nBridge: make([]int, m.n), bridge: make([]float64, m.n),
	}
	m.each(m.n, func(i int) { d.model[i] = d.h.Rows(m.whole[i]) })
	m.each(m.n, func(i int) {
		if i > 0 {
			m.overhang(d, i)
		}
	})
	return d
}

func (m *maker) overhang(d *hold, i int) {
	step := d.model[i].Subtract(d.model[i-1])
	if d.size(step) < speck {
		return
	}
	// From plane of cut to plane of cut: half of each layer's height.
	rise := (m.top[i] - m.bottom[i-1]) / 2
	// Less a billionth of a millimetre, so that the last bit of a tangent, which
	// processors need not agree on, does not decide a half.
	reach := microns(float64(rise*math.Tan(m.way.SupportAngle*degree)) - 1e-9)
	if m.way.SupportAngle > 89 {
		return // nothing leans further than flat
	}
	core := step.Subtract(d.h.Rows(grow(m.whole[i-1], reach)))
	if d.size(core) < speck {
		return
	}
	// Keep the spans of the step that hold some core.
	over := region.Rows(step)
	over.Row = make([][]region.Span, len(step.Row))
	for y, row := range step.Row {
		c := core.Line(step.First + y)
		j := 0
		for _, s := range row {
			for j < len(c) && c[j].To <= s.From {
				j++
			}
			if j < len(c) && c[j].From < s.To {
				over.Row[y] = append(over.Row[y], s)
			}
		}
	}
	a := d.size(over)
	l := m.edge(d.model[i-1], over)
	l = float64(l * rise)
	d.area[i] = math.Sqrt(float64(a*a) + float64(l*l))
	d.over[i] = m.bridges(d, i, over)
}

func (d *hold) size(r region.Rows) float64 {
	n := region.Micron(0)
	for _, row := range r.Row {
		for _, s := range row {
			n += s.To - s.From
		}
	}
	return float64(n) * float64(d.h.Pitch) * mm2
}

// edge is the length of the part of the outline of below that over stands out
// from, mm: the joins between ends of below where spans of over begin or end.
func (m *maker) edge(below, over region.Rows) float64 {
	start, after := joins(below)
	at := make([]region.Point, len(after))
	out := make([]int, len(after))
	for y, row := range below.Row {
		o := over.Line(below.First + y)
		for j, s := range row {
			k := 2 * (start[y] + j)
			at[k], at[k+1] = below.Point(below.First+y, s.From), below.Point(below.First+y, s.To)
			for _, q := range o {
				if q.To == s.From {
					out[k] = 1
				}
				if q.From == s.To {
					out[k+1] = 1
				}
			}
		}
	}
	l := 0.0
	for k, n := range after {
		share := out[k] + out[n]
		if (k^int(n))&1 == 1 && share < 2 {
			continue // along a line, from an end that stands out to one that does not
		}
		l += float64(float64(distance(at[k], at[n])*float64(share)) / 2)
	}
	return l
}

// bridges takes out of over what can be laid on air.
func (m *maker) bridges(d *hold, i int, over region.Rows) region.Rows {
	start, class := classes(over)
	// Sloping faces give bands too narrow to be worth a look, unless most of
	// their lines are held at both ends.
	type tally struct {
		held, all region.Micron
		n         int
	}
	score := make(map[int32]tally)
	for y, row := range over.Row {
		below := d.model[i-1].Line(over.First + y)
		for j, s := range row {
			t := score[class[start[y]+j]]
			t.n++
			t.all += s.To - s.From
			if between(below, s, 0) {
				t.held += s.To - s.From
			}
			score[class[start[y]+j]] = t
		}
	}
	candidate := false
	for _, t := range score {
		candidate = candidate || t.held > t.all/4 || t.all > region.Micron(t.n)*3*m.w
	}
	if !candidate {
		return over
	}
	drop := make(map[int32]bool)
	for _, piece := range islands(region.Subtract(m.whole[i], m.whole[i-1])) {
		// A slit narrower than half a bead closes by itself and is no bridge.
		if 4*piece.Area() < float64(mm(m.w)*piece.Perimeter()) || !spans(piece, m.whole[i-1], m.w) {
			continue
		}
		// Which class of spans is this piece?
		in := false
		rows := d.h.Rows(piece)
		for y, row := range rows.Row {
			k := rows.First + y
			touching(row, over.Line(k), func(_, j int) {
				drop[class[start[k-over.First]+j]] = true
				in = true
			})
		}
		if in {
			d.nBridge[i]++
			d.bridge[i] += piece.Area()
		}
	}
	return filter(over, start, func(n int) bool { return !drop[class[n]] })
}

// spans says whether lines across piece run from below to below in one
// direction: square to one of its longest edges.
func spans(r, below region.Region, w region.Micron) bool {
	below = around(below, r.Bounds(), w)
	for _, a := range across(r.Simplify(w / 20)) {
		h := region.Hatch{Angle: a, Pitch: w / 2}
		lines, ends := h.Rows(r), h.Rows(below)
		limit := microns(MaxBridge)
		total, good := region.Micron(0), region.Micron(0)
		for y, row := range lines.Row {
			b := ends.Line(lines.First + y)
			for _, s := range row {
				total += s.To - s.From
				if s.To-s.From <= limit && between(b, s, w/20) {
					good += s.To - s.From
				}
			}
		}
		if total > 0 && float64(good) >= bridgeShare*float64(total) {
			return true
		}
	}
	return false
}

// around returns the rings of r that reach into box grown by d: enough to know
// what r is there.
func around(r region.Region, box region.Box, d region.Micron) region.Region {
	box.Min.X, box.Min.Y, box.Max.X, box.Max.Y = box.Min.X-d, box.Min.Y-d, box.Max.X+d, box.Max.Y+d
	out := r[:0:0]
	for _, ring := range r {
		if overlap(region.Region{ring}.Bounds(), box) {
			out = append(out, ring)
		}
	}
	return out
}

// between says whether a span of row ends where s begins, within d, and another
// begins where s ends.
func between(row []region.Span, s region.Span, d region.Micron) bool {
	left, right := false, false
	for _, b := range row {
		left = left || b.To >= s.From-d && b.To <= s.From+d
		right = right || b.From >= s.To-d && b.From <= s.To+d
	}
	return left && right
}

// across returns the directions square to the longest edges of r, radians.
func across(r region.Region) []float64 {
	type side struct{ x, y, long float64 }
	var sides []side
	for _, ring := range r {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			sides = append(sides, side{mm(q.X - p.X), mm(q.Y - p.Y), distance(p, q)})
		}
	}
	slices.SortStableFunc(sides, func(a, b side) int { return cmp.Compare(b.long, a.long) })
	var kept []side
	for _, s := range sides {
		fresh := s.long > 0
		for _, k := range kept {
			turn := float64(k.x*s.y) - float64(k.y*s.x)
			fresh = fresh && abs(turn) > 0.1*k.long*s.long
		}
		if fresh {
			kept = append(kept, s)
		}
		if len(kept) == 4 {
			break
		}
	}
	var out []float64
	for _, s := range kept {
		// To a billionth, for the same reason as above.
		out = append(out, math.Round(1e9*(math.Atan2(s.y, s.x)+right))/1e9)
	}
	return out
}

// columns finds C_i, from the top down.
func (m *maker) columns(d *hold) {
	for i := m.n - 2; i >= 0; i-- {
		// Invariant: space[i+1] is all below overhangs above layer i+1.
		s := d.space[i+1]
		if len(d.over[i+1].Row) > 0 {
			s = s.Union(d.over[i+1])
		}
		if len(s.Row) > 0 {
			d.space[i] = s.Subtract(d.model[i])
		}
	}
}

// standing returns what supports fill in layer i: all of it, and which of it is
// next to the model.
func (m *maker) standing(d *hold, i int) (all, dense region.Rows) {
	if d.space[i].Empty() {
		return all, dense
	}
	// Slits between columns are filled: two outlines cost more than what is between.
	all = d.space[i].Close(microns(slit)).Subtract(d.model[i])
	gap := 0
	if m.way.Supports == "breakaway" {
		gap = m.way.SupportGapLayers
		if side := microns(m.way.SupportGap); side > 0 {
			all = all.Subtract(d.h.Rows(swell(m.whole[i], side)))
		}
	}
	for j := 1; j <= gap && len(all.Row) > 0; j++ {
		if i+j < m.n {
			all = all.Subtract(d.model[i+j])
		}
		if i >= j {
			all = all.Subtract(d.model[i-j])
		}
	}
	for j := gap + 1; j <= gap+m.way.SupportInterface && len(all.Row) > 0; j++ {
		if i+j < m.n {
			dense = dense.Union(all.Intersect(d.model[i+j]))
		}
		if i >= j {
			dense = dense.Union(all.Intersect(d.model[i-j]))
		}
	}
	// What is left in slivers along sloping faces is not worth a layer of its own.
	return without(all, speckle, d.h.Pitch), without(dense.Drop(2*m.w), speckle, d.h.Pitch)
}

// prop lays the supports of layer i. Outlines of spans are finer than supports
// need to be: they are thinned before they become polygons. The lines inside
// end half a bead short of the outline bead's middle, measured along the line,
// which is close enough for what is thrown away.
func (m *maker) prop(d *hold, i int) []stroke {
	all, dense := m.standing(d, i)
	w := m.w
	line := grow(thin(outline(all), w/8), -w/2)
	if len(line) == 0 {
		return nil
	}
	out := loops(line, Support, w)
	h := region.Hatch{Angle: supportOff * degree, Pitch: w}
	rows := h.Rows(line).Shrink(w / 2)
	if !dense.Empty() {
		// Interfaces lie across the lines below them.
		g := region.Hatch{Angle: supportOff*degree + right, Pitch: w}
		r := thin(outline(dense), w/8)
		out = append(out, fillSolid(g.Rows(line).Shrink(w/2).Intersect(g.Rows(r)), SupportInterface, w)...)
		rows = rows.Subtract(h.Rows(r))
	}
	s := microns(m.way.BeadWidth * 100 / m.way.SupportInfill)
	if s <= w {
		return append(out, fillSolid(rows, Support, w)...)
	}
	return append(out, fillLines(rows, h, s, Support, w, joinSupport)...)
}
