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
// done one layer after another. Rows are held for a window of layers that moves
// down (budget.go). What is near an overhang or near the model is
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

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/say"
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

// hold is what is known about supports, all on the hatch h. Rows are there for
// the layers of a window only.
type hold struct {
	h       region.Hatch
	firm    []region.Region // L_i, of all layers
	same    []bool          // L_i = L_{i−1}
	size    []int           // spans of L_i, about
	reach   int             // layers above and below that have a say in what stands in one
	low     int             // the lowest layer whose model is known
	model   []region.Rows   // L_i
	over    []region.Rows   // O_i, bridges taken out
	space   []region.Rows   // C_i
	area    []float64       // of O_i, mm², on the slant
	under   []float64       // of C_i, mm²
	nBridge []int
	bridge  []float64 // mm²
}

// newHold chooses the hatch: half a bead apart, but no more than some hundred
// lines across a large plate, and wider where layers have so many spans that the
// fewest that must be held at once would be too many. Then what is too narrow to
// be laid is left out first: it holds nothing and needs no hold.
func (m *maker) newHold() (*hold, error) {
	d := &hold{
		h:    region.Hatch{Angle: supportOff * degree, Pitch: max(m.w/2, m.span/finest, 1)},
		firm: m.whole, low: m.n, size: make([]int, m.n),
		model: make([]region.Rows, m.n), over: make([]region.Rows, m.n), space: make([]region.Rows, m.n),
		area: make([]float64, m.n), under: make([]float64, m.n), nBridge: make([]int, m.n), bridge: make([]float64, m.n),
	}
	if m.supports() {
		d.reach = m.way.SupportInterface
		if m.way.Supports == printer.Breakaway {
			d.reach += m.way.SupportGapLayers
		}
	}
	measure := func() float64 {
		m.each(m.n, func(i int) { d.size[i] = spansOf(d.firm[i], d.h) })
		return float64(worst(d.size, leastOpen+2*d.reach+1)) / heldSpans
	}
	if measure() > 1 {
		d.firm = make([]region.Region, m.n)
		m.layers(0, m.n, func(i int) { d.firm[i] = firm(m.whole[i], m.w) })
		if over := measure(); over > 1 {
			pitch := math.Ceil(float64(float64(d.h.Pitch) * over))
			if pitch > float64(max(d.h.Pitch, coarsest*m.w)) {
				return nil, say.Errorf("the layers are in too many pieces, some %.0f million along the lines of a few of them: choose a file with fewer bodies, thicker walls or a smaller part",
					over*heldSpans/1e6)
			}
			d.h.Pitch = region.Micron(pitch)
			measure()
		}
	}
	d.same = same(d.firm)
	return d, nil
}

// firm returns what of r is not too narrow to be laid.
func firm(r region.Region, w region.Micron) region.Region {
	var out region.Region
	for _, is := range islands(r) {
		if !thinner(is, w) {
			out = append(out, is...)
		}
	}
	bare := max(1, region.Micron(float64(w)*thinnest/2)-1)
	return grow(grow(out, -bare), bare)
}

// window returns the lowest layer of the window below layer hi: as many layers
// as can be held with those that have a say in them.
func (d *hold) window(hi int) int {
	sum, lo := 0, hi
	for j := hi - 1; j < min(hi+d.reach, len(d.size)); j++ {
		sum += d.size[j]
	}
	// Invariant: sum is the size of layers lo−1−reach … hi−1+reach.
	for j := hi - 2; j >= hi-1-d.reach && j >= 0; j-- {
		sum += d.size[j]
	}
	for lo > 0 {
		if j := lo - 2 - d.reach; j >= 0 {
			sum += d.size[j]
		}
		if sum > heldSpans && hi-lo >= leastOpen {
			break
		}
		lo--
	}
	return lo
}

// open finds O_i and C_i of layers lo to hi, when those above are known.
func (m *maker) open(d *hold, lo, hi int) {
	low := max(0, lo-1-d.reach)
	m.layers(low, d.low, func(i int) {
		if i+1 == m.n || !d.same[i+1] {
			d.model[i] = d.h.Rows(d.firm[i])
		}
	})
	for i := d.low - 1; i >= low; i-- {
		if i+1 < m.n && d.same[i+1] {
			d.model[i] = d.model[i+1]
		}
	}
	d.low = low
	m.layers(lo, hi, func(i int) {
		if i > 0 && !d.same[i] {
			m.overhang(d, i)
		}
	})
	m.columns(d, lo, hi)
}

// close forgets what no layer below lo needs.
func (d *hold) close(lo, hi int) {
	for i := lo + d.reach; i < min(hi+d.reach, len(d.model)); i++ {
		d.model[i] = region.Rows{}
	}
	for i := lo + 1; i < min(hi+1, len(d.over)); i++ {
		d.over[i], d.space[i] = region.Rows{}, region.Rows{}
	}
}

func (m *maker) overhang(d *hold, i int) {
	step := d.model[i].Subtract(d.model[i-1])
	if d.plan(step) < speck {
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
	core := step.Subtract(d.h.Rows(grow(d.firm[i-1], reach)))
	if d.plan(core) < speck {
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
	a := d.plan(over)
	l := m.edge(d.model[i-1], over)
	l = float64(l * rise)
	d.area[i] = math.Sqrt(float64(a*a) + float64(l*l))
	d.over[i] = m.bridges(d, i, over)
}

// plan is the area of r in plan, mm².
func (d *hold) plan(r region.Rows) float64 {
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
	for _, piece := range islands(region.Subtract(d.firm[i], d.firm[i-1])) {
		// A slit narrower than half a bead closes by itself and is no bridge.
		if 4*piece.Area() < float64(mm(m.w)*piece.Perimeter()) || !spans(piece, d.firm[i-1], m.w) {
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

// columns finds C_i of layers lo to hi, from the top down.
func (m *maker) columns(d *hold, lo, hi int) {
	for i := min(hi-1, m.n-2); i >= lo; i-- {
		// Invariant: space[i+1] is all below overhangs above layer i+1.
		s := d.space[i+1]
		if len(d.over[i+1].Row) > 0 {
			s = s.Union(d.over[i+1])
		}
		if len(s.Row) > 0 {
			s = s.Subtract(d.model[i])
			if s.Spans() > heldSpans/leastOpen { // crumbs of many layers: slits are filled in the end
				s = s.Close(microns(slit)).Subtract(d.model[i])
			}
			d.space[i] = s
			d.under[i] = d.plan(s)
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
			all = all.Subtract(d.h.Rows(swell(d.firm[i], side)))
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
