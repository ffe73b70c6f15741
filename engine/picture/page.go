package picture

import (
	"fmt"
	"image"
	"math"
	"slices"
	"strconv"
)

// page lays out what stands around the part: caption on top, tags at the
// sides, at the bottom the scale, what hatchings mean, and the legend.
type page struct {
	pen     *pen
	s       *Scene
	margin  float64
	w, h    float64
	caption [][]string // first line, further lines
	tags    []*tag
	legend  []entry
	columns int
	col     float64 // width of a column
	foot    float64 // where the scale row begins
	frame   image.Rectangle
	plate   plate // the framed part of the sheet that the scene lies in
	more    int   // labels that did not go on the page
}

// entry is a line of the legend.
type entry struct {
	tag   *tag
	lines []string
}

func newPage(s *Scene, o Options) (*page, error) {
	p := &page{s: s, w: float64(o.Width), h: float64(o.Height)}
	size := min(max(math.Round((p.w+p.h)/118), 8), 44)
	var err error
	if p.pen, err = newPen(size); err != nil {
		return nil, err
	}
	p.margin = math.Round(size * 1.3)
	lead := p.pen.lead()
	y := p.margin
	for i, c := range s.Caption {
		if y > p.h*0.2 {
			break
		}
		f := p.pen.regular
		if i == 0 {
			f = p.pen.bold
		}
		lines := wrap(f, c, p.w-2*p.margin, 2)
		p.caption = append(p.caption, lines)
		y += lead * float64(len(lines))
	}
	top := y
	p.tags = gather(s.Marks)
	bottom := p.h - p.margin/2 - p.layLegend(0.34*p.h, lead)
	p.foot = bottom - lead*1.5
	side := p.margin
	if len(p.tags) > 0 {
		side += size * 3.4
	}
	in := math.Round(size * 0.55)
	p.plate = plate{in, in, p.w - in, math.Round(p.foot - size*0.5)}
	if len(p.caption) > 0 {
		p.plate.y0 = math.Round(top + size*0.35)
	}
	p.frame = image.Rect(int(side), int(p.plate.y0+size*0.9), int(p.w-side), int(p.plate.y1-size*0.9))
	if p.frame.Dx() < 16 || p.frame.Dy() < 16 {
		// Too small for a page: the part takes it all.
		p.frame = image.Rect(4, 4, o.Width-4, o.Height-4)
		p.plate = plate{0, 0, p.w, p.h}
		p.caption, p.legend, p.tags, p.foot = nil, nil, nil, math.Inf(1)
	}
	return p, nil
}

// layLegend breaks the legend into columns and returns its height.
func (p *page) layLegend(most, lead float64) float64 {
	labelled := 0
	for _, t := range p.tags {
		if t.label != "" {
			labelled++
		}
	}
	if labelled == 0 {
		return 0
	}
	p.columns = 1
	if labelled > 3 && p.w > 45*p.pen.size {
		p.columns = 2
	}
	p.col = (p.w - 2*p.margin - float64(p.columns-1)*p.margin) / float64(p.columns)
	text := p.col - 2.6*p.pen.size
	rowsLeft := max(int(most/lead)-1, 1) * p.columns
	height := 0
	for _, t := range p.tags {
		if t.label == "" {
			continue
		}
		if height >= rowsLeft || p.more > 0 {
			p.more++
			continue
		}
		lines := wrap(p.pen.regular, t.label, text, 2)
		if height+len(lines) > rowsLeft {
			p.more++
			continue
		}
		height += len(lines)
		p.legend = append(p.legend, entry{t, lines})
	}
	heights := p.split()
	if p.more > 0 {
		heights[len(heights)-1]++
	}
	per := slices.Max(heights)
	return float64(per)*lead + p.pen.size*0.7
}

// split shares the legend's lines between the columns, in order, and returns
// how many lines each has.
func (p *page) split() []int {
	total := 0
	for _, e := range p.legend {
		total += len(e.lines)
	}
	heights := make([]int, p.columns)
	c := 0
	for _, e := range p.legend {
		if c < p.columns-1 && heights[c]+len(e.lines)/2 > total/p.columns {
			c++
		}
		heights[c] += len(e.lines)
	}
	return heights
}

func (p *page) draw(img *image.NRGBA, d *shader) {
	pen := p.pen
	pen.img = img
	lead := pen.lead()
	y := p.margin
	for i, lines := range p.caption {
		f, c := pen.regular, faint
		if i == 0 {
			f, c = pen.bold, ink
		}
		for _, l := range lines {
			pen.text(f, l, p.margin, y+pen.size*0.8, c)
			y += lead
		}
	}
	if math.IsInf(p.foot, 1) {
		return
	}
	p.rule()
	p.scaleBar(d)
	p.hatchKey(d)
	p.drawTags(d)
	p.drawLegend(lead)
}

// rule draws the hairline around the plate.
func (p *page) rule() {
	a, w := p.plate, max(p.pen.size/18, 1)
	for _, l := range [4]plate{{a.x0, a.y0, a.x1, a.y0}, {a.x0, a.y1, a.x1, a.y1}, {a.x0, a.y0, a.x0, a.y1}, {a.x1, a.y0, a.x1, a.y1}} {
		p.pen.line(l.x0, l.y0, l.x1, l.y1, w, 0, faint, 0.55)
	}
}

func (p *page) drawTags(d *shader) {
	for _, m := range p.s.Marks {
		x, y, z := d.cam.see(m.At)
		for _, t := range p.tags {
			if t.number == m.Number && t.severity == m.Severity {
				t.at = append(t.at, place{x / float64(d.super), y / float64(d.super), d.behind(x, y, z)})
			}
		}
	}
	r := tagRadius(p.pen.size)
	f := p.frame
	// Marks may lie outside the part: their dots stay on the sheet.
	for _, t := range p.tags {
		for i := range t.at {
			a := &t.at[i]
			a.x = min(max(a.x, float64(f.Min.X)), float64(f.Max.X))
			a.y = min(max(a.y, float64(f.Min.Y)), float64(f.Max.Y))
		}
	}
	for _, t := range arrange(p.tags, p.margin+r, p.w-p.margin-r, float64(f.Min.Y), float64(f.Max.Y), 2.5*r) {
		t.draw(p.pen)
	}
}

// behind reports whether something stands in front of a place.
func (d *shader) behind(x, y, z float64) bool {
	i, j := int(x), int(y)
	if i < 0 || j < 0 || i >= d.b.w || j >= d.b.h {
		return false
	}
	return float64(d.b.depth[j*d.b.w+i]) > z+2*float64(d.fine)
}

func (p *page) drawLegend(lead float64) {
	if len(p.legend) == 0 {
		return
	}
	pen := p.pen
	heights := p.split()
	top := p.foot + lead*1.5 + pen.size*0.5
	c, used := 0, 0
	for _, e := range p.legend {
		if used >= heights[c] && c < len(heights)-1 {
			c, used = c+1, 0
		}
		x, y := p.margin+float64(c)*(p.col+p.margin), top+float64(used)*lead
		e.tag.badge(pen, x+tagRadius(pen.size), y+pen.size*0.45)
		for i, l := range e.lines {
			pen.text(pen.regular, l, x+2.6*pen.size, y+float64(i)*lead+pen.size*0.8, ink)
		}
		used += len(e.lines)
	}
	if p.more > 0 { // under the last column
		x, y := p.margin+float64(c)*(p.col+p.margin), top+float64(used)*lead
		pen.text(pen.regular, fmt.Sprintf("and %d more", p.more), x+2.6*pen.size, y+pen.size*0.8, faint)
	}
}

// barLengths are the lengths a scale bar may have, mm.
var barLengths = []float64{1e-6, 1e-5, 1e-4, 0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100, 200, 500, 1000, 2000, 5000, 1e4, 1e5, 1e6, 1e7, 1e8}

// scaleBar draws a bar that is true along every direction across the sight.
func (p *page) scaleBar(d *shader) {
	pen := p.pen
	perMM := d.cam.scale / float64(d.super)
	long := barLengths[0]
	for _, b := range barLengths {
		if b*perMM <= 0.16*p.w {
			long = b
		}
	}
	w := long * perMM
	x, y, half := p.margin, p.foot+pen.size*0.75, max(pen.size*0.14, 1)
	mid := x + math.Round(w/2)
	pen.slab((x+mid)/2, y, (mid-x)/2, half, 0, ink)
	pen.slab((mid+x+w)/2, y, (x+w-mid)/2, half, 0, ink)
	pen.slab((mid+x+w)/2, y, (x+w-mid)/2-1, half-1, 0, sheet)
	label := strconv.FormatFloat(long, 'f', -1, 64) + " mm"
	if d.ground != nil {
		label += ", squares of " + strconv.FormatFloat(d.ground.grid, 'f', -1, 64) + " mm"
	}
	pen.text(pen.regular, label, x+w+pen.size*0.6, y+pen.size*0.34, faint)
}

var hatchWords = [hatches]string{Overhang: "overhanging", Thin: "thin", Other: "see the findings"}

// hatchKey says at the right what the hatchings that are seen mean.
func (p *page) hatchKey(d *shader) {
	if p.s.Highlight == nil {
		return
	}
	var there [hatches]bool
	for _, id := range d.b.facet {
		if id >= 0 {
			there[p.s.Highlight[id]] = true
		}
	}
	pen := p.pen
	x := p.w - p.margin
	for h := hatches - 1; h > Plain; h-- {
		if !there[h] {
			continue
		}
		w := width(pen.regular, hatchWords[h])
		if x-w-3*pen.size < p.w/2 {
			return
		}
		x -= w
		y := p.foot + pen.size*0.75
		pen.text(pen.regular, hatchWords[h], x, y+pen.size*0.34, faint)
		x -= 2.2 * pen.size
		d.swatch(pen, h, x, y-pen.size*0.55, pen.size*1.7, pen.size*1.1)
		x -= 1.2 * pen.size
	}
}

// swatch fills a rectangle with clay and a hatching.
func (d *shader) swatch(pen *pen, h Hatch, x, y, w, hgt float64) {
	pen.slab(x+w/2, y+hgt/2, w/2, hgt/2, 0, ink)
	b := image.Rect(int(x)+1, int(y)+1, int(x+w)-1, int(y+hgt)-1).Intersect(pen.img.Rect)
	n := d.super * d.super
	for py := b.Min.Y; py < b.Max.Y; py++ {
		for px := b.Min.X; px < b.Max.X; px++ {
			a := 0
			for k := range n {
				a += d.hatching(h, px*d.super+k%d.super, py*d.super+k/d.super)
			}
			c := mix(clay, ink, a/n)
			copy(pen.img.Pix[pen.img.PixOffset(px, py):], c[:])
		}
	}
}
