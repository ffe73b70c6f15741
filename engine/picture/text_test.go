package picture

import (
	"image"
	"image/color"
	"image/draw"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// A name too wide loses its middle, and no more of it than needed.
func TestShorten(t *testing.T) {
	p, err := newPen(16)
	if err != nil {
		t.Fatal(err)
	}
	name := "the_dragon_from_the_internet_final_version_3_repaired(2).stl"
	got := shorten(p.bold, name, width(p.bold, name)*0.6)
	if !strings.HasPrefix(got, "the_dragon") || !strings.HasSuffix(got, "(2).stl") || strings.Count(got, "…") != 1 {
		t.Errorf("shortened to %q", got)
	}
	rapid.Check(t, func(t *rapid.T) {
		s := clean(rapid.String().Draw(t, "name"))
		w := rapid.Float64Range(20, 300).Draw(t, "width")
		got := shorten(p.regular, s, w)
		if got == s {
			return
		}
		head, tail, ok := strings.Cut(got, "…")
		if n := strings.Count(s, "…"); n > 0 {
			return // the name has dots of its own: which are ours cannot be told
		}
		if !ok || !strings.HasPrefix(s, head) || !strings.HasSuffix(s, tail) || len(head)+len(tail) > len(s) {
			t.Fatalf("%q became %q", s, got)
		}
		if width(p.regular, got) > w && len(head)+len(tail) > 0 {
			t.Fatalf("%q is %.1f wide, and has %.1f", got, width(p.regular, got), w)
		}
	})
}

// Between the numbers of the legend there is paper, at any size of picture.
func TestLegendApart(t *testing.T) {
	severities := []string{"stop", "ask", "ask", "note", "note", "stop"}
	for _, o := range []Options{{Width: 560, Height: 480}, {Width: 800, Height: 600}, {Width: 1200, Height: 900}, {Width: 1600, Height: 1100}} {
		var marks []Mark
		for i, v := range severities {
			marks = append(marks, Mark{Number: i + 1, Severity: v, Label: "place"})
		}
		p, err := newPage(nil, marks, o, o.typeSize(118))
		if err != nil {
			t.Fatal(err)
		}
		img := image.NewNRGBA(image.Rect(0, 0, o.Width, o.Height))
		draw.Draw(img, img.Rect, image.NewUniform(color.NRGBA{paper[0], paper[1], paper[2], 255}), image.Point{}, draw.Src)
		p.pen.img = img
		p.drawLegend()
		// Down the middle of the badges, rows with nothing but paper part them.
		r := tagRadius(p.pen.size)
		runs := 0
		for c := range p.columns {
			blank := true
			for y := int(p.foot + p.pen.lead()*1.5); y < o.Height; y++ {
				empty := true
				for x := int(p.margin + float64(c)*(p.col+p.margin)); x < int(p.margin+float64(c)*(p.col+p.margin)+2*r); x++ {
					empty = empty && at(img, float64(x), float64(y)) == paper
				}
				if blank && !empty {
					runs++
				}
				blank = empty
			}
		}
		if runs != len(severities) {
			t.Errorf("%v: %d things in the legend, want %d apart", o, runs, len(severities))
		}
	}
}

// A small picture has no legend, and its type is no smaller than it can be
// read; the part keeps at least half of its height.
func TestSmall(t *testing.T) {
	marks := []Mark{{Number: 1, Label: "Overhangs"}, {Number: 2, Label: "Thin walls"}}
	for _, o := range []Options{{Width: 400, Height: 300}, {Width: 320, Height: 240}, {Width: 800, Height: 550}, {Width: 1600, Height: 1100}} {
		p, err := newPage([]string{"name.stl", "80 mm"}, marks, o, o.typeSize(118))
		if err != nil {
			t.Fatal(err)
		}
		small := o.Width < 500
		if small != (len(p.legend) == 0) || p.pen.size < 11 || float64(p.frame.Dy()) < math.Floor(0.5*float64(o.Height)) {
			t.Errorf("%v: legend of %d, type of %g, part in %v", o, len(p.legend), p.pen.size, p.frame)
		}
	}
}
