package quote

import (
	"fmt"
	"image/color"
	"maps"
	"slices"
	"strings"

	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/picture"
)

// marksEach is how many places of one finding are pointed at: the worst few
// tell the story, more hide the part.
const marksEach = 3

// Scene is what a picture of the answer shows: the part as it would stand on
// the printer's platform, what hangs over hatched, and the findings numbered
// where they point, and once it is planned the room supports take. It has no
// facets when the file could not be read.
func Scene(a *Ask, ans *Answer) picture.Scene {
	s := picture.Scene{Mesh: ans.Solid, Platform: &[2]float64{a.Printer.Volume[0], a.Printer.Volume[1]}}
	if ans.Solid == nil {
		return s
	}
	s.Caption = []string{
		ans.File,
		fmt.Sprintf("%.1f × %.1f × %.1f mm", ans.SizeMM[0], ans.SizeMM[1], ans.SizeMM[2]),
	}
	var stops []string
	for _, f := range ans.Findings {
		if f.Severity == findings.Stop {
			stops = append(stops, strings.ToLower(f.Label().String()))
		}
	}
	if len(stops) > 0 {
		s.Caption = append(s.Caption, "Cannot be printed as it is: "+strings.Join(stops, ", "))
	}
	s.Support = ghost(ans.Plan)
	for _, c := range ans.ColourParts {
		s.Colours = append(s.Colours, parseHex(c.Colour))
	}
	s.Highlight = overhangs(ans.Solid, a.Way.SupportAngle)
	n := 0
	for _, f := range ans.Findings {
		if len(f.Places) == 0 {
			continue
		}
		n++
		for i, p := range f.Places[:min(len(f.Places), marksEach)] {
			m := picture.Mark{At: p, Number: n, Severity: string(f.Severity)}
			if i == 0 {
				m.Label = f.Label().String()
			}
			s.Marks = append(s.Marks, m)
		}
	}
	return s
}

// overhangs hatches what leans further than an angle; nil if nothing does.
func overhangs(m *mesh.Mesh, angle float64) (hatched []picture.Hatch) {
	for i, mark := range findings.Marks(m, angle) {
		if mark == findings.MarkOverhang {
			if hatched == nil {
				hatched = make([]picture.Hatch, len(m.F))
			}
			hatched[i] = picture.Overhang
		}
	}
	return hatched
}

// Side is what is shown of an offer beside others; colours are the Answer's.
func (o *Offer) Side(a *Ask, colours []Colour) picture.Way {
	w := picture.Way{
		Scene:  picture.Scene{Mesh: o.Solid, Highlight: overhangs(o.Solid, a.Way.SupportAngle)},
		Title:  label(o.ID),
		Chosen: o.ID == "sensible",
	}
	for _, c := range colours {
		w.Scene.Colours = append(w.Scene.Colours, parseHex(c.Colour))
	}
	grams := 0.0
	for _, id := range slices.Sorted(maps.Keys(o.MassG)) {
		grams += o.MassG[id]
	}
	w.Lines = []string{
		sizeWords(o.SizeMM).String(),
		fmt.Sprintf("%s, %.0f g, %s %s", hours(o.TimeS), grams, o.Price.Currency, o.Price.Total.Number()),
		o.Says,
	}
	return w
}

// label makes words of an offer's id.
func label(id string) string {
	w := strings.ReplaceAll(id, "-", " ")
	return strings.ToUpper(w[:1]) + w[1:]
}

// parseHex reads #RRGGBB; anything else is no colour.
func parseHex(s string) color.NRGBA {
	c := color.NRGBA{A: 255}
	if _, err := fmt.Sscanf(s, "#%02X%02X%02X", &c.R, &c.G, &c.B); err != nil {
		return color.NRGBA{}
	}
	return c
}
