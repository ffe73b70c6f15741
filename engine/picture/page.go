package picture

import (
	"fmt"
	"image"
	"math"
	"slices"
)

// page lays out what stands around the part: caption on top, tags at the
// sides, at the bottom the scale, what hatchings mean, and the legend.
type page struct {
	pen     *pen
	marks   []Mark
	margin  float64
	w, h    float64
	caption [][]string // first line, further lines
	tags    []*tag
	legend  []entry
	columns int
	col     float64 // width of a column
	foot    float64 // where the scale row begins
	frame   image.Rectangle
	plate   plate   // the framed part of the sheet that the scene lies in
	more    int     // labels that did not go on the page
	line    float64 // height of a line of the legend
	key     key     // what the scale row says
}

// key is what there is to explain below the picture.
type key struct {
	perMM   float64 // pixels
	grid    float64 // mm between the lines of the platform, 0 for none
	hatched [hatches]bool
	ghost   bool // supports are seen
	up      bool // there is an arrow for the file's own up
}

// entry is a line of the legend.
type entry struct {
	tag   *tag
	lines []string
}

// newPage lays out a page with type of some size. A page too small for a legend
// has none.
func newPage(caption []string, marks []Mark, o Options, size float64) (*page, error) {
	p := &page{marks: marks, w: float64(o.Width), h: float64(o.Height)}
	var err error
	if p.pen, err = newPen(size); err != nil {
		return nil, err
	}
	p.margin = math.Round(size * 1.3)
	lead := p.pen.lead()
	p.line = math.Round(size * 1.85) // a badge with its rim fits above another
	y := p.margin
	for i, c := range caption {
		if y > p.h*0.2 {
			break
		}
		lines := wrap(p.pen.regular, c, p.w-2*p.margin, 2)
		if i == 0 { // the name of a file, as a rule
			lines = []string{shorten(p.pen.bold, clean(c), p.w-2*p.margin)}
		}
		p.caption = append(p.caption, lines)
		y += lead * float64(len(lines))
	}
	p.tags = gather(marks)
	bottom := p.h - p.margin/2
	if p.w > 42*size && p.h > 28*size {
		bottom -= p.layLegend(0.3 * p.h)
	}
	p.foot = bottom - lead*1.5
	side := p.margin
	if len(p.tags) > 0 {
		side += size * 3.4
	}
	in := math.Round(size * 0.55)
	p.plate = plate{in, in, p.w - in, math.Round(p.foot - size*0.5)}
	if len(p.caption) > 0 {
		p.plate.y0 = math.Round(y + size*0.35)
	}
	p.frame = image.Rect(int(side), int(p.plate.y0+size*0.9), int(p.w-side), int(p.plate.y1-size*0.9))
	if p.frame.Dx() < o.Width/4 || p.frame.Dy() < o.Height/4 {
		// Too small for a page: the part takes it all.
		p.frame = image.Rect(4, 4, o.Width-4, o.Height-4)
		p.plate = plate{0, 0, p.w, p.h}
		p.caption, p.legend, p.tags, p.foot = nil, nil, nil, math.Inf(1)
	}
	return p, nil
}

// typeSize is the size of the type, in pixels to the em: width and height
// together are per letters long. It never gets too small to read.
func (o *Options) typeSize(per float64) float64 {
	return min(max(math.Round(float64(o.Width+o.Height)/per), 11), 44)
}

// layLegend breaks the legend into columns and returns its height.
func (p *page) layLegend(most float64) float64 {
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
	rowsLeft := max(int(most/p.line)-1, 1) * p.columns
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
	return float64(per)*p.line + p.pen.size*0.7
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
	p.heading(img)
	if math.IsInf(p.foot, 1) {
		return
	}
	p.rule(p.plate)
	p.see(d)
	p.arrow(d, p.plate, 0, 0)
	p.scaleRow(d)
	p.drawTags(d)
	p.drawLegend()
}

// heading writes the caption.
func (p *page) heading(img *image.NRGBA) {
	pen := p.pen
	pen.img = img
	y := p.margin
	for i, lines := range p.caption {
		f, c := pen.regular, faint
		if i == 0 {
			f, c = pen.bold, ink
		}
		for _, l := range lines {
			pen.text(f, l, p.margin, y+pen.size*0.8, c)
			y += pen.lead()
		}
	}
}

// see takes note of what a view shows.
func (p *page) see(d *shader) {
	k := &p.key
	k.perMM = d.cam.scale / float64(d.super)
	if d.ground != nil {
		k.grid = d.ground.grid
	}
	if d.s.Highlight != nil {
		for _, id := range d.b.facet {
			if id >= 0 {
				k.hatched[d.s.Highlight[id]] = true
			}
		}
	}
	k.ghost = k.ghost || d.ghost != nil
}

// rule draws the hairline around a plate.
func (p *page) rule(a plate) {
	w := max(p.pen.size/18, 1)
	for _, l := range a.sides() {
		p.pen.line(l.x0, l.y0, l.x1, l.y1, w, 0, faint, 0.55)
	}
}

func (a plate) sides() [4]plate {
	return [4]plate{{a.x0, a.y0, a.x1, a.y0}, {a.x0, a.y1, a.x1, a.y1}, {a.x0, a.y0, a.x0, a.y1}, {a.x1, a.y0, a.x1, a.y1}}
}

func (p *page) drawTags(d *shader) {
	for _, m := range p.marks {
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

func (p *page) drawLegend() {
	if len(p.legend) == 0 {
		return
	}
	pen := p.pen
	heights := p.split()
	top := p.foot + pen.lead()*1.5 + pen.size*0.5
	c, used := 0, 0
	for _, e := range p.legend {
		if used >= heights[c] && c < len(heights)-1 {
			c, used = c+1, 0
		}
		x, y := p.margin+float64(c)*(p.col+p.margin), top+float64(used)*p.line
		e.tag.badge(pen, x+tagRadius(pen.size), y+pen.size*0.45)
		tone := ink
		if e.tag.unseen {
			tone = faint
		}
		for i, l := range e.lines {
			if e.tag.unseen && i == len(e.lines)-1 {
				l = cut(pen.regular, l+" (out of sight)", p.col-2.6*pen.size)
			}
			pen.text(pen.regular, l, x+2.6*pen.size, y+float64(i)*p.line+pen.size*0.8, tone)
		}
		used += len(e.lines)
	}
	if p.more > 0 { // under the last column
		x, y := p.margin+float64(c)*(p.col+p.margin), top+float64(used)*p.line
		pen.text(pen.regular, fmt.Sprintf("and %d more", p.more), x+2.6*pen.size, y+pen.size*0.8, faint)
	}
}
