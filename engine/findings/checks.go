package findings

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/say"
)

// Limits the messages go by, all CUSTOM: nobody has published better ones.
const (
	tippingAngle  = 10   // degrees; steadier than this nothing is said
	tippingHeight = 15   // mm; lower than this a part is not called unsteady
	fallingAngle  = -1   // degrees; beyond this a part is said to fall over by itself
	fallingHeight = 5    // mm; lower than this it does not matter
	slender       = 5    // height over the root of the area the contact spans
	tinyShare     = 0.05 // contact over the largest section
	overhangAsk   = 20   // mm² of overhang without supports worth asking about
	overhangNote  = 1    // mm² worth a word
	sampledOff    = 0.05 // of an area that may be off where bodies meet
	outlineLost   = 0.2  // share of the outlines left out that stops a print
	thinAsk       = 0.01
	thinNote      = 0.001
)

func (l *look) supported() bool {
	return l.Way.Supports == printer.Breakaway || l.Way.Supports == printer.Soluble
}

// margin is how far the base reaches beyond the part, mm.
func (l *look) margin() float64 {
	switch l.Way.Base {
	case printer.Brim:
		return positive(l.Way.BrimWidth, 0)
	case printer.Raft:
		return positive(l.Way.RaftMargin, 0)
	}
	return 0
}

func (l *look) stands() {
	size := l.box.Size()
	if l.box.Min[2] < -hair {
		depth := -l.box.Min[2]
		l.say("below-platform", Ask, say.Of(
			"%s of it lies below the platform and would be cut off. Move it up to stand on the platform.", mm(depth)), nil,
			"below_mm", depth)
	}
	if l.contact == nil || l.contact.Region.Empty() {
		return
	}
	if len(l.pieces) > 1 && len(l.pieces) <= 1000 {
		l.say("several-pieces", Note, say.Of(
			"The file holds %d separate pieces. They are printed together where they stand in the file; ask the patron if only some are wanted.",
			len(l.pieces)), nil, "pieces", len(l.pieces))
	}
	l.smallContact(size)
	parts := l.contactByPiece()
	type fall struct {
		stand
		height float64
	}
	var falls []fall
	for i, c := range parts {
		p := l.pieces[i]
		if c.Empty() || p.volume <= 0 {
			continue
		}
		centre := p.centre
		if len(l.pieces) == 1 && l.Measures.Volume > 0 {
			centre = l.Measures.Centre
		}
		s := standing(c, centre, l.margin())
		h := p.box.Max[2]
		if s.angle < fallingAngle && h > fallingHeight || s.angle < tippingAngle && h > tippingHeight {
			falls = append(falls, fall{s, h})
		}
	}
	if len(falls) == 0 {
		return
	}
	slices.SortStableFunc(falls, func(a, b fall) int { return cmp.Compare(a.angle, b.angle) })
	var places []mesh.Vec
	for _, f := range falls {
		places = append(places, f.edge)
	}
	w := falls[0]
	who := say.Of("The part")
	if len(l.pieces) > 1 {
		who = say.Of("One of the pieces")
		if n := len(falls); n > 1 {
			who = say.Of("The least steady of %d unsteady pieces", n)
		}
	}
	numbers := []any{"tipping_angle_deg", w.angle, "centre_height_mm", w.centre[2], "distance_to_edge_mm", w.distance, "contact_area_mm2", w.area}
	if w.angle < fallingAngle {
		s, do := Stop, say.Of("Turn it to lie on a larger face, give it a brim or raft wide enough, or supports.")
		if l.supported() {
			s, do = Ask, say.Of("The supports have to hold it; turning it to lie on a larger face is safer.")
		}
		l.say("may-topple", s, say.Of(
			"%s would fall over by itself as it stands: its centre of mass is %s outside what touches the platform. %s",
			who, mm(-w.distance), do), places, numbers...)
		return
	}
	l.say("may-topple", Ask, say.Of(
		"%s may topple while it is printed: it is %s high and tips over at a tilt of %s°. %s",
		who, mm(w.height), figure(math.Max(w.angle, 0)), l.steadier()), places, numbers...)
}

// steadier says what helps a part to hold on.
func (l *look) steadier() say.Saying {
	if l.margin() > 0 {
		return say.Of("Its base helps; lying on a larger face is safer.")
	}
	return say.Of("Print it with a brim or a raft, or turn it to lie on a larger face.")
}

func (l *look) smallContact(size mesh.Vec) {
	area := l.contact.Region.Area()
	spots := 0
	var pts []region.Point
	for _, r := range l.contact.Region {
		if ringArea(r) > 0 {
			spots++
		}
		pts = append(pts, r...)
	}
	// A ring or four legs hold better than their area says.
	spread := ringArea(region.Hull(pts))
	widest := area
	for _, s := range l.sampled.layers {
		widest = math.Max(widest, s.Region.Area())
	}
	tall := size[2] > slender*math.Sqrt(spread)
	tiny := area < tinyShare*widest
	if !tall && !tiny {
		return
	}
	severity := Ask
	if l.margin() > 0 {
		severity = Note
	}
	on := say.Counted(spots, "one spot", "%d separate spots")
	why := say.Of("for a height of %s", mm(size[2]))
	if !tall {
		why = say.Of("where its widest layer has %s", mm2(widest))
	}
	var places []mesh.Vec
	for _, r := range l.contact.Region {
		if ringArea(r) > 0 && len(places) < mostPlaces {
			places = append(places, mesh.Vec{float64(r[0].X) / 1000, float64(r[0].Y) / 1000, 0})
		}
	}
	l.say("small-contact", severity, say.Of(
		"It touches the platform with only %s, on %s, %s, and may come loose. %s", mm2(area), on, why, l.steadier()), places,
		"contact_area_mm2", area, "contact_spots", spots, "widest_layer_mm2", widest)
}

// contactByPiece shares the first layer among the pieces: an island of it goes
// to the smallest piece whose box holds it.
func (l *look) contactByPiece() []region.Region {
	out := make([]region.Region, len(l.pieces))
	if len(l.pieces) == 1 {
		out[0] = l.contact.Region
		return out
	}
	if len(l.pieces) > 1000 {
		return nil
	}
	for _, island := range l.contact.Region.Islands() {
		b := island.Bounds()
		best, least := -1, math.Inf(1)
		for i, p := range l.pieces {
			const slack = 0.01
			if p.box.Min[2] > l.contact.Top ||
				float64(b.Min.X)/1000 < p.box.Min[0]-slack || float64(b.Max.X)/1000 > p.box.Max[0]+slack ||
				float64(b.Min.Y)/1000 < p.box.Min[1]-slack || float64(b.Max.Y)/1000 > p.box.Max[1]+slack {
				continue
			}
			s := p.box.Size()
			if v := s[0] * s[1]; v < least {
				best, least = i, v
			}
		}
		if best >= 0 {
			out[best] = append(out[best], island...)
		}
	}
	return out
}

func (l *look) floats() {
	isl := islands(l.Mesh, l.label, math.Max(l.first(), hair), l.layer())
	isl = l.carriedByOthers(isl)
	if len(isl) == 0 {
		return
	}
	// A piece floats if it nowhere reaches the platform; it is said only of those
	// whose box keeps clear of all others, where no sampling can be wrong.
	loose := map[int32]bool{}
	if len(l.pieces) > 1 && len(l.pieces) <= 1000 {
		for i, p := range l.pieces {
			if p.box.Min[2] <= math.Max(l.first(), hair) || p.volume <= 0 {
				continue
			}
			alone := true
			for j, q := range l.pieces {
				alone = alone && (i == j || !near(p.box, q.box, l.layer()))
			}
			if alone {
				loose[int32(i)] = true
			}
		}
	}
	if l.box.Min[2] > math.Max(l.first(), hair) {
		loose = map[int32]bool{}
		for i := range l.pieces {
			loose[int32(i)] = true
		}
	}
	var floating, starts []mesh.Vec
	gap := 0.0
	told := map[int32]bool{}
	for _, i := range isl {
		if p := l.shells[l.label[i.facet]].piece; loose[p] {
			if !told[p] {
				told[p] = true
				floating = append(floating, i.at)
				gap = math.Max(gap, i.gap)
			}
			continue
		}
		starts = append(starts, i.at)
	}
	if n := len(floating); n > 0 {
		s, do := Stop, say.Of("Without supports it cannot be printed: ask the patron to join it to the rest or to put it on the platform.")
		if l.supported() {
			s, do = Ask, say.Of("Supports will hold it while it is printed, and then it comes off as a separate piece: ask the patron whether that is meant.")
		}
		what := say.Counted(n, "One piece floats", "%d pieces float")
		l.say("floating", s, say.Of("%s in the air, up to %s above what is below, first %s. %s",
			what, mm(gap), where(l.box, floating[0]), do), floating, "pieces", n, "gap_mm", gap)
	}
	if n := len(starts); n > 0 {
		s, do := Ask, say.Of("Nothing is below to print on: use supports, or turn it.")
		if l.supported() {
			s, do = Note, say.Counted(n, "Supports hold it.", "Supports hold them.")
		}
		at := where(l.box, starts[0])
		what := say.Counted(n, "One spot begins in mid-air, %s.", "%d spots begin in mid-air, the largest %s.", at)
		if n == mostIslands {
			what = say.Of("At least %d spots begin in mid-air, the largest %s.", n, at)
		}
		l.say("starts-in-air", s, say.Join(" ", what, do), starts, "spots", n)
	}
}

func (l *look) overhangs() {
	angle := l.Way.SupportAngle
	if !(angle > 0 && angle < 90) {
		angle = 45
	}
	// What lies below the plane of the first layer is squeezed onto the platform.
	platform := math.Max(l.first()/2, hair)
	o := overhangs(l.Mesh, l.box, angle, platform, l.carriedShare(angle, platform))
	if o.area < overhangNote || len(o.places) == 0 {
		return
	}
	bridged := math.Min(l.sayBridges(l.bridges(platform)), o.area)
	if o.area-bridged < math.Max(overhangNote, sampledOff*o.area) {
		return // bridges is all there is
	}
	total := l.Measures.Area
	if !(total > 0) {
		total = mesh.Measure(l.Mesh).Area
	}
	share := math.Min(o.area/math.Max(total, o.area), 1)
	space := o.space
	fill := say.Of("Supports fill the space below, up to about %s cm³; the surface they touch comes out rougher.", figure(space/1000))
	if l.Plan != nil && l.Plan.SupportSpace > 0 {
		space = l.Plan.SupportSpace
		fill = say.Of("Supports fill the space below, %s cm³; the surface they touch comes out rougher.", figure(space/1000))
	}
	numbers := []any{"area_mm2", o.area, "bridged_mm2", bridged, "share_percent", 100 * share, "angle_deg", angle, "under_mm2", o.below, "space_mm3", space}
	what := say.Of("%s of its surface (%s) leans out more than %s° from the vertical, most of it %s.",
		mm2(o.area), percent(share), figure(angle), where(l.box, o.places[0]))
	if bridged >= overhangNote {
		what = say.Join(" ", what, say.Of("Of that, %s are short bridges, which hold by themselves.", mm2(bridged)))
	}
	if l.supported() {
		l.say("overhangs", Note, say.Join(" ", what, fill), o.places, numbers...)
		return
	}
	s := Note
	if o.area-bridged >= overhangAsk {
		s = Ask
	}
	l.say("overhangs", s, say.Join(" ", what, say.Of("It is printed without supports, so it may sag: use supports, turn it, or ask whether a rough underside will do.")), o.places, numbers...)
}

func (l *look) contours() {
	r := l.Cut
	if l.sampled.ours {
		r = l.sampled.cut
	}
	if r.Gaps == 0 && r.Open == 0 {
		return
	}
	layers := say.Counted(r.Layers, "%s layer", "%s layers")
	s := Note
	what := say.Of("In %s the outline was open: %s, the widest %s, closed with a straight line.",
		layers, say.Counted(r.Gaps, "%s gap", "%s gaps"), mm(r.LongestMM))
	if r.Open > 0 {
		s = Ask
		what = say.Of("In %s the outline was open and could not be closed: %s, %s long together, left out. Look at the picture for what is missing, and ask for a repaired file.",
			layers, say.Counted(r.Open, "%s piece", "%s pieces"), mm(r.OpenMM))
		if kept := l.outlines(); r.OpenMM > outlineLost*(kept+r.OpenMM) {
			s = Stop
			what = say.Join(" ", what, say.Of("Too much is missing to print it."))
		}
	}
	l.say("open-contours", s, what, nil, "gaps", r.Gaps, "widest_gap_mm", r.LongestMM, "dropped", r.Open, "dropped_mm", r.OpenMM, "layers", r.Layers)
}

// outlines is the length of all outlines that are kept, mm.
func (l *look) outlines() float64 {
	layers := l.Layers
	if layers == nil {
		layers = l.sampled.layers
	}
	var sum float64
	for _, a := range layers {
		sum += a.Region.Perimeter()
	}
	return sum
}

// colours finds shells whose facets have more than one colour: such colour is
// on the surface only and cannot be printed as a body of its own.
func (l *look) colours() {
	c := l.Mesh.Colour
	if len(c) != len(l.Mesh.F) {
		return
	}
	first := make([]int16, len(l.shells))
	for i := range first {
		first[i] = -1
	}
	mixed := map[int32]bool{}
	var places []mesh.Vec
	for i, s := range l.label {
		if first[s] < 0 {
			first[s] = int16(c[i])
		} else if first[s] != int16(c[i]) && !mixed[s] {
			mixed[s] = true
			if len(places) < mostPlaces {
				places = append(places, l.Mesh.V[l.Mesh.F[i][0]])
			}
		}
	}
	if n := len(mixed); n > 0 {
		l.say("surface-colour", Ask, say.Of(
			"On %s the colours are painted on the surface. A printer lays each colour as a body of its own, so these colours are lost or come out wrong: ask for a file with one body for each colour, or print it in one colour.",
			say.Counted(n, "%s body", "%s bodies")), places, "bodies", n)
	}
}
