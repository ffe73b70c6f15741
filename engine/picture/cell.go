package picture

import (
	"image"
	"image/draw"
	"strconv"
)

// cell is one of several views on a page: a plate with a part in it.
type cell struct {
	s     *Scene
	cam   camera // its scale and place are set when all cells are laid out
	plate plate  // whole pixels
	frame plate  // within, what the part may fill
	title string // inside the plate, at the top
	note  string // beside it
	low   bool   // the part stands at the bottom of the frame, not in its middle
	heavy bool   // ringed
	shown []*tag
}

// need is the rectangle a cell's scene fills at 1 sample a mm.
func (c *cell) need() (w, h float64) {
	l, r, b, t := c.extent()
	return max(r-l, 1e-6), max(t-b, 1e-6)
}

func (c *cell) extent() (left, right, bottom, top float64) {
	if c.low {
		return c.s.extentGround(&c.cam)
	}
	return c.s.extent(&c.cam)
}

// draw renders the cell at a scale, in samples a mm, shared with the others.
func (c *cell) draw(p *page, img *image.NRGBA, scale float64, workers int) *shader {
	a := c.plate
	w, h := int(a.x1-a.x0), int(a.y1-a.y0)
	l, r, b, t := c.extent()
	c.cam.scale = scale
	c.cam.x0 = (c.frame.x0+c.frame.x1)/2*super - a.x0*super - float64(scale*(l+r)/2)
	c.cam.y0 = (c.frame.y0+c.frame.y1)/2*super - a.y0*super + float64(scale*(b+t)/2)
	if c.low {
		c.cam.y0 = (c.frame.y1-a.y0)*super + float64(scale*b)
	}
	d := expose(c.s, &c.cam, w, h, plate{0, 0, float64(w), float64(h)}, workers)
	view := image.NewNRGBA(image.Rect(0, 0, w, h))
	d.run(view, workers)
	inside := image.Rect(int(a.x0), int(a.y0), int(a.x1), int(a.y1))
	draw.Draw(img, inside, view, image.Point{}, draw.Src)
	p.pen.img = img.SubImage(inside).(*image.NRGBA)
	c.horizon(p)
	p.arrow(d, a, a.x0, a.y0)
	c.pins(p, d)
	c.heading(p, d.ground != nil)
	p.pen.img = img
	p.rule(a)
	if c.heavy {
		for _, l := range a.sides() {
			p.pen.line(l.x0, l.y0, l.x1, l.y1, max(p.pen.size/8, 2), 0, ink, 1)
		}
	}
	p.see(d)
	return d
}

// horizon is the platform seen from the side: a hairline.
func (c *cell) horizon(p *page) {
	if c.s.Platform == nil || c.cam.eye[2] != 0 {
		return
	}
	y := c.plate.y0 + c.cam.y0/super + max(p.pen.size/18, 1)
	p.pen.line(c.plate.x0, y, c.plate.x1, y, max(p.pen.size/18, 1), 0, faint, 0.7)
}

// heading writes the title, and its note in full ink where the ground is behind it.
func (c *cell) heading(p *page, grounded bool) {
	if c.title == "" {
		return
	}
	pen := p.pen
	x, y := c.plate.x0+pen.size*0.7, c.plate.y0+pen.size*1.35
	pen.text(pen.bold, c.title, x, y, ink)
	if x += width(pen.bold, c.title) + pen.size*0.8; x+width(pen.regular, c.note) < c.plate.x1-pen.size*0.5 {
		tone := faint
		if grounded {
			tone = ink
		}
		pen.text(pen.regular, c.note, x, y, tone)
	}
}

// across says how large a rectangle is.
func across(w, h float64) string {
	f := func(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }
	return f(w) + " × " + f(h) + " mm"
}
