package quote

import (
	"fmt"
	"image/color"
	"strings"

	"platebook/engine/findings"
	"platebook/engine/picture"
)

// marksEach is how many places of one finding are pointed at: the worst few
// tell the story, more hide the part.
const marksEach = 3

// Scene is what a picture of the answer shows: the part as it would stand on
// the printer's platform, what hangs over hatched, and the findings numbered
// where they point. It has no facets when the file could not be read.
func Scene(a *Ask, ans *Answer) picture.Scene {
	s := picture.Scene{Mesh: ans.Solid, Platform: &[2]float64{a.Printer.Volume[0], a.Printer.Volume[1]}}
	if ans.Solid == nil {
		return s
	}
	s.Caption = []string{
		ans.File,
		fmt.Sprintf("%.1f × %.1f × %.1f mm", ans.SizeMM[0], ans.SizeMM[1], ans.SizeMM[2]),
	}
	for _, c := range ans.ColourParts {
		s.Colours = append(s.Colours, parseHex(c.Colour))
	}
	for i, m := range findings.Marks(ans.Solid, a.Way.SupportAngle) {
		if m == findings.MarkOverhang {
			if s.Highlight == nil {
				s.Highlight = make([]picture.Hatch, len(ans.Solid.F))
			}
			s.Highlight[i] = picture.Overhang
		}
	}
	n := 0
	for _, f := range ans.Findings {
		if len(f.Places) == 0 {
			continue
		}
		n++
		for i, p := range f.Places[:min(len(f.Places), marksEach)] {
			m := picture.Mark{At: p, Number: n, Severity: string(f.Severity)}
			if i == 0 {
				m.Label = label(f.ID)
			}
			s.Marks = append(s.Marks, m)
		}
	}
	return s
}

// label makes words of a finding's id.
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
