package picture

import (
	"errors"
	"fmt"
	"image"
	"image/draw"
	"io"
	"math"
)

// Way is one of several ways to print a request, shown beside the others.
type Way struct {
	Scene Scene // its Caption is not shown
	Title string
	Lines []string // what is said under it: size, time, grams, price, what is given up
	// Chosen puts a ring around it.
	Chosen bool
}

// mostWays is how many are shown side by side.
const mostWays = 12

// SideBySide writes a PNG of several ways at one scale, so that a patron sees
// which is larger, each with its title and lines under it. Without a height it
// is as tall as it needs to be, at most 11 to 16 of the width; without a width
// it is 1600 pixels wide. The legend is that of all ways: marks that mean the
// same share a number.
func SideBySide(w io.Writer, caption []string, ways []Way, v View, o Options) error {
	img, _, err := waysCells(caption, ways, v, o)
	if err != nil {
		return err
	}
	return write(w, img)
}

func waysCells(caption []string, ways []Way, v View, o Options) (*image.NRGBA, []*cell, error) {
	shrink := o.Height == 0
	if shrink {
		if o.Width == 0 {
			o.Width = 1600
		}
		o.Height = int(int64(min(max(o.Width, 0), mostSide+1)) * 11 / 16)
	}
	if err := o.complete(1600, 1100); err != nil {
		return nil, nil, err
	}
	if err := v.check(); err != nil {
		return nil, nil, err
	}
	if len(ways) == 0 {
		return nil, nil, errors.New("there is nothing to draw: no ways were given")
	}
	if len(ways) > mostWays {
		return nil, nil, fmt.Errorf("%d ways are too many for a picture; give %d at most", len(ways), mostWays)
	}
	var marks []Mark
	for i := range ways {
		if err := ways[i].Scene.check(); err != nil {
			return nil, nil, fmt.Errorf("way %d: %w", i+1, err)
		}
		marks = append(marks, ways[i].Scene.Marks...)
	}
	cells := make([]*cell, len(ways))
	for i := range ways {
		s := ways[i].Scene
		cells[i] = &cell{s: &s, cam: newCamera(v), low: true, heavy: ways[i].Chosen}
	}
	size := o.typeSize(150)
	p, err := newPage(caption, marks, o, size)
	if err != nil {
		return nil, nil, err
	}
	l := p.layWays(cells, ways)
	page := image.Rect(0, 0, o.Width, o.Height)
	if less := min(int(l.spare)*l.rows, o.Height-int(29*size)); less > 0 {
		// What is tall and empty says nothing: draw it lower, but not so low
		// that the page has no legend.
		o.Height -= less
		if p, err = newPage(caption, marks, o, size); err != nil {
			return nil, nil, err
		}
		l = p.layWays(cells, ways)
	}
	img := p.several(cells, l.scale, o)
	for i, c := range cells {
		l.write(p, c, ways[i])
	}
	if over := page.Dy() - o.Height; over > 0 && !shrink {
		whole := image.NewNRGBA(page)
		whiten(whole)
		draw.Draw(whole, img.Rect.Add(image.Pt(0, over/2)), img, image.Point{}, draw.Src)
		img = whole
		for _, c := range cells {
			c.plate.y0, c.plate.y1 = c.plate.y0+float64(over/2), c.plate.y1+float64(over/2)
		}
	}
	return img, cells, nil
}

// layout is how ways are set out.
type layout struct {
	columns, rows int
	scale         float64 // samples a mm
	lines         int     // of text under each, the title's included
	high          float64 // of a frame, pixels
	spare         float64 // how much of that nothing needs
}

// mostLines is how many lines of text a way may have under it.
const mostLines = 8

// layWays chooses the number of columns that draws the parts largest, and as
// many lines of text as leave the parts half of each cell. All parts of a row
// stand on one line; the tallest is in the middle of its cell.
func (p *page) layWays(cells []*cell, ways []Way) layout {
	var wide, tall float64
	for _, c := range cells {
		w, h := c.need()
		wide, tall = max(wide, w), max(tall, h)
	}
	size := p.pen.size
	gap, inset := math.Round(size*0.9), size*0.7
	a := p.plate
	a.x0, a.x1 = p.margin, p.w-p.margin
	if math.IsInf(p.foot, 1) {
		gap, inset, a = 2, 2, p.plate
	}
	n := len(cells)
	box := func(columns int) (w, h float64) {
		rows := (n + columns - 1) / columns
		w = math.Floor((a.x1 - a.x0 - float64(columns-1)*gap) / float64(columns))
		h = math.Floor((a.y1 - a.y0 - float64(rows-1)*gap) / float64(rows))
		return w, h
	}
	text := func(lines int) float64 {
		if lines == 0 {
			return 0
		}
		return math.Round(float64(lines)*p.pen.lead() + size*0.5)
	}
	choose := func(least float64, most int) (best layout) {
		for columns := 1; columns <= n; columns++ {
			w, h := box(columns)
			if columns > 1 && w < least {
				break
			}
			lines := 0
			for i := range ways {
				lines = max(lines, min(len(p.words(ways[i], w)), most))
			}
			for lines > 0 && text(lines) > h/2 {
				lines--
			}
			high := h - text(lines) - 2*inset
			l := layout{columns: columns, rows: (n + columns - 1) / columns, lines: lines, high: high}
			l.scale = max(min((w-2*inset)/wide, high/tall)*super, 1e-12)
			l.spare = max(high-float64(tall*l.scale/super), 0)
			if l.scale > best.scale {
				best = l
			}
		}
		return best
	}
	best := choose(13*size, mostLines)
	if best.high < 4*size {
		best = choose(8*size, 1) // the titles alone
	}
	if best.high < 3*size {
		gap, inset = 2, 1
		best = choose(8, 0)
	}
	w, h := box(best.columns)
	for i, c := range cells {
		x, y := a.x0+float64(i%best.columns)*(w+gap), a.y0+float64(i/best.columns)*(h+gap)
		c.plate = plate{math.Round(x), math.Round(y), math.Round(x + w), math.Round(y + h - text(best.lines))}
		c.frame = plate{c.plate.x0 + inset, c.plate.y0 + inset, c.plate.x1 - inset, c.plate.y1 - inset - best.spare/2}
	}
	return best
}

// words is the text under a way in a cell of some width.
func (p *page) words(way Way, w float64) []string {
	lines := wrap(p.pen.bold, way.Title, w, 2)
	for _, l := range way.Lines {
		if len(lines) > mostLines {
			break
		}
		lines = append(lines, wrap(p.pen.regular, l, w, 3)...)
	}
	return lines[:min(len(lines), mostLines)]
}

// write puts the text under a cell.
func (l layout) write(p *page, c *cell, way Way) {
	pen := p.pen
	w := c.plate.x1 - c.plate.x0
	lines := p.words(way, w)
	bold := len(wrap(pen.bold, way.Title, w, 2))
	if l.lines == 1 {
		lines, bold = []string{shorten(pen.bold, clean(way.Title), w)}, 1
	}
	y := c.plate.y1 + pen.size*0.4
	for i, s := range lines[:min(len(lines), l.lines)] {
		f := pen.regular
		if i < bold {
			f = pen.bold
		}
		if i == l.lines-1 && len(lines) > l.lines {
			s = cut(f, s+" …", w)
		}
		pen.text(f, s, c.plate.x0, y+pen.size*0.9, ink)
		y += pen.lead()
	}
}
