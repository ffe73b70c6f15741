package findings

import (
	"math"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/say"
)

// Walls, sheets, gaps and small features: one sentence each, however it was found.
//
// Layers tell which share of the part is too thin for a bead; the surface tells
// how thin it is where, and sees what lies between sampled layers. Where both
// speak of the same walls there is one finding.

// Limits of what is worth a word, all CUSTOM.
const (
	weakNote    = 0.05 // share of the surface on walls of less than two beads
	sheetLayers = 2    // a sheet of fewer layers is called thin
	mostlySmall = 0.75 // share of the thin places that are small features
	gapNote     = 0.001
	edgeThick   = 0.05 // mm: what is thinner is a sharp edge and no thickness
)

// thinnest returns the first of some walls that is no sharp edge, and in words
// how thick it is.
func (w onWalls) thinnest() (seen, say.Saying) {
	for _, s := range w.list {
		if s.thick >= edgeThick {
			return s, mm(s.thick)
		}
	}
	return w.list[0], say.Of("next to nothing")
}

// onWalls sums up the walls that keep keeps.
type onWalls struct {
	share float64
	list  []seen
}

func pick(all []seen, keep func(seen) bool) (w onWalls) {
	for _, s := range all {
		if keep(s) {
			w.share += s.weight
			w.list = append(w.list, s)
		}
	}
	w.share = math.Min(w.share, 1)
	return w
}

// worth says whether there are enough of them to speak of.
func (w onWalls) worth(share float64) bool { return len(w.list) >= fewSeen && w.share >= share }

func (l *look) walls() {
	bead := l.bead()
	byLayer := thinWalls(l.sampled, bead)
	t := l.thickness()
	l.markSmall(t.walls)
	one := pick(t.walls, func(s seen) bool { return !s.sheet() && s.width < almost*bead })
	two := pick(t.walls, func(s seen) bool { return !s.sheet() && s.width < almost*2*bead })
	small := pick(t.walls, func(s seen) bool { return s.small })
	if !l.thinWalls(byLayer, one, two, l.smallFeatures(small, one)) && two.worth(weakNote) {
		usual := two.list[len(two.list)/2]
		l.say("weak-walls", Note, say.Of(
			"%s of its surface is on walls thinner than two beads (%s), half of them %s or less, such as %s. They are printed as a single bead and break easily.",
			say.Start(some(two.share)), mm(2*bead), mm(usual.thick), where(l.box, usual.at)), append([]mesh.Vec{usual.at}, apart(two.list)...),
			"share_percent", 100*two.share, "bead_mm", bead, "half_below_mm", usual.thick)
	}
	l.thinSheets(t.walls)
	l.narrowGaps(t.gaps)
}

// thinWalls says what is thinner than a bead, if anything is.
func (l *look) thinWalls(t thin, one, two onWalls, small bool) bool {
	bead := l.bead()
	layers := t.share >= thinNote && len(t.places) > 0
	surface := one.worth(thinNote)
	if !layers && !surface || small && t.share < thinAsk {
		return false
	}
	s := Note
	if t.share >= thinAsk || surface && one.share >= thinAsk {
		s = Ask
	}
	width := t.width
	places := t.places
	if !layers {
		worst := one.list[len(one.list)/2]
		width, places = worst.width, []mesh.Vec{worst.at}
	}
	do := say.Of("Thicken the walls, or choose a smaller nozzle or a narrower bead.")
	if p := math.Ceil(100 * bead / math.Max(width, bead/20)); p > 100 && p <= 400 && l.fitsAt(p/100) {
		do = say.Of("Print it larger (about %s %%), or choose a smaller nozzle or a narrower bead.", figure(p))
	}
	what := say.Of("%s of it is thinner than one bead (%s), most of it %s. There it may come out as gaps or too thick.",
		say.Start(some(t.share)), mm(bead), where(l.box, places[0]))
	if !layers {
		what = say.Of("%s of its surface is on walls thinner than one bead (%s), most of it %s. There it may come out as gaps or too thick.",
			say.Start(some(one.share)), mm(bead), where(l.box, places[0]))
	}
	numbers := []any{"share_percent", 100 * t.share, "bead_mm", bead, "width_mm", width, "sampled_layers", t.planes}
	var thinnest say.Saying
	if len(one.list) >= fewSeen {
		w, thick := one.thinnest()
		thinnest = say.Of("The thinnest place seen measures %s, %s.", thick, where(l.box, w.at))
		places = append([]mesh.Vec{w.at}, places...)
		numbers = append(numbers, "surface_percent", 100*one.share, "surface_under_two_beads_percent", 100*two.share, "thinnest_mm", w.thick)
	}
	l.say("thin-walls", s, say.Join(" ", what, thinnest, do), places, numbers...)
	return true
}

// smallFeatures speaks of what is thin in two directions, and says whether that
// is what is thin at all.
func (l *look) smallFeatures(small, one onWalls) bool {
	if len(small.list) < fewSeen {
		return false
	}
	bead := l.bead()
	w, thick := small.thinnest()
	places := apart(small.list)
	n := say.Counted(len(places), "%s place", "%s places")
	if len(places) == mostPlaces {
		n = say.Of("%d places or more", len(places))
	}
	l.say("small-features", Ask, say.Of(
		"It has small features, such as pins, spikes or raised lines, thinner than one bead (%s) in two directions. They were seen in %s, the thinnest %s, %s. They will be left out or break off: ask whether they matter.",
		mm(bead), n, thick, where(l.box, w.at)), places,
		"bead_mm", bead, "thinnest_mm", w.thick, "surface_percent", 100*small.share)
	return float64(len(small.list)) >= mostlySmall*float64(len(one.list))
}

// thinSheets speaks of what lies flat and is only a layer or two high.
func (l *look) thinSheets(walls []seen) {
	layer := l.layer()
	sheets := pick(walls, func(s seen) bool { return s.sheet() && s.width < almost*sheetLayers*layer })
	if !sheets.worth(thinNote) {
		return
	}
	lost := pick(sheets.list, func(s seen) bool { return s.width < almost*layer })
	w, thick := sheets.thinnest()
	s, do := Note, say.Of("Printed in one or two layers it bends and tears easily: thicken it, or use thinner layers.")
	if lost.worth(thinAsk) {
		s, do = Ask, say.Of("What is thinner than a layer comes out one layer thick or not at all: thicken it, or use thinner layers.")
	}
	l.say("thin-sheets", s, say.Of(
		"%s of its surface is on sheets lying flat that are less than two layers (%s) high, the thinnest %s, %s. %s",
		say.Start(some(sheets.share)), mm(sheetLayers*layer), thick, where(l.box, w.at), do), apart(sheets.list),
		"share_percent", 100*sheets.share, "thinner_than_a_layer_percent", 100*lost.share, "layer_mm", layer, "thinnest_mm", w.thick)
}

// narrowGaps speaks of gaps that close while printing: grooves, and clearances
// between bodies that were to move.
func (l *look) narrowGaps(gaps []seen) {
	between := pick(gaps, func(s seen) bool { return l.label[s.facet[0]] != l.label[s.facet[1]] })
	all := pick(gaps, func(seen) bool { return true })
	bead := l.bead()
	if len(between.list) >= fewSeen {
		w := between.list[0]
		rest := slices.DeleteFunc(slices.Clone(gaps), func(s seen) bool { return l.label[s.facet[0]] != l.label[s.facet[1]] })
		l.say("narrow-gaps", Ask, say.Of(
			"Between bodies in the file there are gaps narrower than one bead (%s), the narrowest seen %s, %s. The bodies will fuse there: if they are meant to move, ask for gaps of at least a bead.",
			mm(bead), mm(w.thick), where(l.box, w.at)), append(apart(between.list), apart(rest)...),
			"bead_mm", bead, "gap_mm", w.thick, "surface_percent", 100*all.share)
		return
	}
	if !all.worth(gapNote) {
		return
	}
	w := all.list[0]
	l.say("narrow-gaps", Note, say.Of(
		"%s of its surface faces gaps or grooves narrower than one bead (%s), the narrowest seen %s, %s. They will close up, and what is on both sides fuses.",
		say.Start(some(all.share)), mm(bead), mm(w.thick), where(l.box, w.at)), apart(all.list),
		"bead_mm", bead, "gap_mm", w.thick, "surface_percent", 100*all.share)
}
