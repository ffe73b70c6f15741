package findings

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/plan"
	"platebook/engine/region"
	"platebook/engine/say"
)

// Bridges: undersides that hang between two sides.
//
// Notation: A the section just above a flat underside, B the one just below. A
// connected piece of A − B is a bridge in a direction if nearly all lines across
// it in that direction run from B to B; its span is then the longest of those
// lines, and of all such directions the shortest span counts. A shelf is held on
// one side, a table between four legs at its corners only: neither is a bridge.
//
// Idea: bridges are flat, so their heights are read off the facets that face
// straight down: the heights with the largest such area are cut, just above and
// just below. Directions are tried square to the longest edges of the piece,
// and along the axes and diagonals.
//
// CUSTOM: shops lay some 10 mm on air without supports; longer ones sag.

const (
	flatDown    = 0.995 // cosine: within 6° of facing straight down
	bridgeHeld  = 0.95  // share of a piece's lines held at both ends
	bridgeLeast = 1.0   // mm² of a piece worth a look
	bridgeNote  = 3.0   // mm of span worth a word (CUSTOM)
	mostHeights = 24    // heights that are cut
)

// bridge is a piece that spans from side to side.
type bridge struct {
	span, area float64 // mm, mm²
	at         mesh.Vec
}

// bridges returns the bridges among the flat undersides, the longest span first.
func (l *look) bridges(platform float64) []bridge {
	looks := min(1_000_000/len(l.Mesh.F), mostHeights)
	if l.Layers != nil {
		looks = mostHeights
	}
	if looks < 2 {
		return nil // cutting a huge mesh for it takes longer than the rest
	}
	heights := l.undersides(platform)
	heights = heights[:min(len(heights), looks)]
	found := make([][]bridge, len(heights))
	each(len(heights), func(i int) {
		above, below, ok := l.around(heights[i])
		if ok {
			found[i] = l.spanned(above, below, heights[i])
		}
	})
	out := slices.Concat(found...)
	slices.SortStableFunc(out, func(a, b bridge) int { return cmp.Compare(b.span, a.span) })
	return out
}

// undersides returns the heights of flat undersides, the largest first, a layer
// or more apart.
func (l *look) undersides(platform float64) []float64 {
	m, layer := l.Mesh, l.layer()
	n := int(math.Min(l.box.Max[2]/layer, 1<<16)) + 1
	if !(l.box.Max[2] > 0) {
		return nil
	}
	type band struct{ area, moment float64 }
	parts := make([][]band, chunks)
	each(chunks, func(chunk int) {
		bands := make([]band, n)
		for i := len(m.F) * chunk / chunks; i < len(m.F)*(chunk+1)/chunks; i++ {
			f := m.F[i]
			a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
			// Two flat sides in plan tell most facets off without a root.
			down := float64((b[1]-a[1])*(c[0]-a[0])) - float64((b[0]-a[0])*(c[1]-a[1]))
			if !(down > 0) || max(a[2], b[2], c[2]) <= platform {
				continue
			}
			if v := b.Sub(a).Cross(c.Sub(a)); !(-v[2] > flatDown*v.Len()) {
				continue
			}
			z := (a[2] + b[2] + c[2]) / 3
			k := min(max(int(z/layer), 0), n-1)
			bands[k].area += float64(down / 2)
			bands[k].moment += float64(down / 2 * z)
		}
		parts[chunk] = bands
	})
	bands := make([]band, n)
	for _, p := range parts {
		for k, b := range p {
			bands[k].area += b.area
			bands[k].moment += b.moment
		}
	}
	type height struct{ area, z float64 }
	var all []height
	for _, b := range bands {
		if b.area >= bridgeLeast {
			all = append(all, height{b.area, b.moment / b.area})
		}
	}
	slices.SortStableFunc(all, func(a, b height) int { return cmp.Compare(b.area, a.area) })
	var out []float64
	for _, h := range all {
		if !slices.ContainsFunc(out, func(z float64) bool { return math.Abs(z-h.z) < layer }) {
			out = append(out, h.z)
		}
	}
	return out
}

// spanned returns the bridges between two sections.
func (l *look) spanned(above, below region.Region, z float64) []bridge {
	var out []bridge
	w := region.Micron(math.Round(l.bead() * 1000))
	for _, piece := range region.Subtract(above, below).Islands() {
		area := piece.Area()
		// Narrower than half a bead it is the step of a slope.
		if area < bridgeLeast || 4*area < float64(l.bead()*piece.Perimeter()) {
			continue
		}
		b := piece.Bounds()
		reach := region.Region{{
			{X: b.Min.X - w, Y: b.Min.Y - w}, {X: b.Max.X + w, Y: b.Min.Y - w},
			{X: b.Max.X + w, Y: b.Max.Y + w}, {X: b.Min.X - w, Y: b.Max.Y + w},
		}}
		if span, ok := spanOf(piece, region.Intersect(below, reach), w); ok {
			out = append(out, bridge{span, area, mesh.Vec{
				float64(b.Min.X+b.Max.X) / 2000, float64(b.Min.Y+b.Max.Y) / 2000, z,
			}})
		}
	}
	return out
}

// spanOf returns the shortest span over which piece runs from below to below.
func spanOf(piece, below region.Region, w region.Micron) (float64, bool) {
	best, found := math.Inf(1), false
	b := piece.Bounds()
	pitch := max(w/2, (b.Max.X-b.Min.X+b.Max.Y-b.Min.Y)/400, 1)
	for _, angle := range acrossOf(piece.Simplify(w / 20)) {
		h := region.Hatch{Angle: angle, Pitch: pitch, Phase: pitch / 3}
		lines, ends := h.Rows(piece), h.Rows(below)
		var total, held, longest region.Micron
		for y, row := range lines.Row {
			e := ends.Line(lines.First + y)
			for _, s := range row {
				total += s.To - s.From
				if heldAt(e, s, w/10) {
					held += s.To - s.From
					longest = max(longest, s.To-s.From)
				}
			}
		}
		span := float64(longest) / 1000
		if total > 0 && float64(held) >= bridgeHeld*float64(total) && span < best {
			best, found = span, true
		}
	}
	return best, found
}

// heldAt says whether spans of row end where s begins and begin where it ends,
// within d.
func heldAt(row []region.Span, s region.Span, d region.Micron) bool {
	var left, right bool
	for _, b := range row {
		left = left || b.To >= s.From-d && b.To <= s.From+d
		right = right || b.From >= s.To-d && b.From <= s.To+d
	}
	return left && right
}

// acrossOf returns directions worth trying, radians: square to the four longest
// edges of r that differ by more than some degrees, then by eighths of a turn.
func acrossOf(r region.Region) []float64 {
	type side struct{ x, y, long float64 }
	var sides []side
	for _, ring := range r {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			x, y := float64(q.X-p.X), float64(q.Y-p.Y)
			sides = append(sides, side{x, y, math.Sqrt(float64(x*x) + float64(y*y))})
		}
	}
	slices.SortStableFunc(sides, func(a, b side) int { return cmp.Compare(b.long, a.long) })
	var kept []side
	for _, s := range sides {
		if len(kept) == 4 {
			break
		}
		if s.long > 0 && !slices.ContainsFunc(kept, func(k side) bool {
			turn := float64(k.x*s.y) - float64(k.y*s.x)
			return math.Abs(turn) <= 0.1*k.long*s.long
		}) {
			kept = append(kept, s)
		}
	}
	var out []float64
	for _, s := range kept {
		// To a billionth, so that the last bit of an arc tangent, on which
		// processors need not agree, decides nothing.
		out = append(out, math.Round(1e9*(math.Atan2(s.y, s.x)+math.Pi/2))/1e9)
	}
	for k := range 4 {
		out = append(out, float64(k)*math.Pi/4)
	}
	return out
}

// sayBridges speaks of the bridges and returns the area, mm², of those short
// enough to be laid on air.
func (l *look) sayBridges(found []bridge) (short float64) {
	if len(found) == 0 {
		return 0
	}
	var all float64
	var places []mesh.Vec
	long := 0
	for _, b := range found {
		all += b.area
		places = append(places, b.at)
		if b.span > plan.MaxBridge {
			long++
		} else {
			short += b.area
		}
	}
	if found[0].span < bridgeNote {
		return short
	}
	what := say.Of("It has a bridge of %s from side to side, %s.", mm(found[0].span), where(l.box, places[0]))
	if len(found) > 1 {
		what = say.Of("It has %d bridges from side to side, the longest %s, %s.", len(found), mm(found[0].span), where(l.box, places[0]))
	}
	do := say.Of("Up to %s beads can be laid across air without supports.", mm(plan.MaxBridge))
	if long > 0 {
		do = say.Of("Beads laid across more than %s of air sag: it needs supports there, or a rough underside has to do.", mm(plan.MaxBridge))
	}
	l.say("bridges", Note, say.Join(" ", what, do), places,
		"bridges", len(found), "longest_mm", found[0].span, "area_mm2", all, "too_long", long)
	return short
}
