package picture

import (
	"image"
	"image/draw"
	"math"
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
	p.arrow(d, a)
	c.pins(p, d)
	c.heading(p)
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

func (c *cell) heading(p *page) {
	if c.title == "" {
		return
	}
	pen := p.pen
	x, y := c.plate.x0+pen.size*0.7, c.plate.y0+pen.size*1.35
	pen.text(pen.bold, c.title, x, y, ink)
	if x += width(pen.bold, c.title) + pen.size*0.8; x+width(pen.regular, c.note) < c.plate.x1-pen.size*0.5 {
		pen.text(pen.regular, c.note, x, y, faint)
	}
}

// pins puts numbers beside the marks that are seen here, each number once and
// none over another; what finds no place is left out.
func (c *cell) pins(p *page, d *shader) {
	size := p.pen.size
	r := tagRadius(size)
	f := plate{c.plate.x0 + 1.4*r, c.plate.y0 + 1.4*r, c.plate.x1 - 1.4*r, c.plate.y1 - 1.4*r}
	if c.title != "" {
		f.y0 += size * 1.4
	}
	var here []*tag
	for _, t := range p.tags {
		one := &tag{number: t.number, severity: t.severity}
		for _, m := range c.s.Marks {
			if m.Number != t.number || m.Severity != t.severity {
				continue
			}
			x, y, z := c.cam.see(m.At)
			if !d.behind(x, y, z) && !d.edgeOn(x, y, z) {
				one.at = append(one.at, place{x: min(max(c.plate.x0+x/super, f.x0), f.x1), y: min(max(c.plate.y0+y/super, f.y0), f.y1)})
			}
		}
		if len(one.at) > 0 {
			here = append(here, one)
		}
	}
	for _, t := range beside(here, f, (c.frame.x0+c.frame.x1)/2, (c.frame.y0+c.frame.y1)/2, r) {
		c.shown = append(c.shown, t)
		t.pin(p.pen)
	}
}

// edgeOn reports whether a place is on a face seen edge-on: there is nothing at
// its sample, and all there is close by lies far in front of it.
func (d *shader) edgeOn(x, y, z float64) bool {
	const near = 3 // samples
	i, j := int(math.Floor(min(max(x, -1e9), 1e9))), int(math.Floor(min(max(y, -1e9), 1e9)))
	farthest, any := math.Inf(1), false
	for v := max(j-near, 0); v <= min(j+near, d.b.h-1); v++ {
		for u := max(i-near, 0); u <= min(i+near, d.b.w-1); u++ {
			if at := v*d.b.w + u; d.b.facet[at] >= 0 {
				if u == i && v == j {
					return false
				}
				any, farthest = true, min(farthest, float64(d.b.depth[at]))
			}
		}
	}
	return any && farthest > z+2*float64(d.fine)
}

// around are 16 directions, steady to the last place.
var around = func() (a [16][2]float64) {
	for i := range a {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 16)
		a[i] = [2]float64{steady(c), steady(s)}
	}
	return a
}()

// beside gives each tag a place near the first of its dots, outwards from the
// middle mx, my if it can be, within f, not over another tag or any dot. It
// returns those that got one.
func beside(tags []*tag, f plate, mx, my, r float64) []*tag {
	var done []*tag
	var dots []place
	for _, t := range tags {
		dots = append(dots, t.at...)
	}
	free := func(x, y float64) bool {
		if x < f.x0 || x > f.x1 || y < f.y0 || y > f.y1 {
			return false
		}
		for _, t := range done {
			if hypot(t.x-x, t.y-y) < 2.5*r {
				return false
			}
		}
		for _, o := range dots {
			if hypot(o.x-x, o.y-y) < 1.8*r {
				return false
			}
		}
		return true
	}
next:
	for _, t := range tags {
		at := t.at[0]
		ox, oy := at.x-mx, at.y-my
		for _, far := range [...]float64{2.2, 3.2, 4.6, 6.5, 9, 12} {
			best, found := 0.0, false
			for _, a := range around {
				x, y := at.x+float64(a[0]*far*r), at.y+float64(a[1]*far*r)
				if score := float64(a[0]*ox) + float64(a[1]*oy); (!found || score > best) && free(x, y) {
					best, found = score, true
					t.x, t.y = x, y
				}
			}
			if found {
				done = append(done, t)
				continue next
			}
		}
	}
	return done
}

// pin draws a tag close to its dots.
func (t *tag) pin(p *pen) {
	c := accent(t.severity)
	thin := max(p.size/12, 1)
	dot := max(p.size*0.22, 2.5)
	for _, a := range t.at {
		p.line(t.x, t.y, a.x, a.y, thin*3, 0, sheet, 0.75)
		p.line(t.x, t.y, a.x, a.y, thin, 0, c, 1)
	}
	for _, a := range t.at {
		p.disc(a.x, a.y, dot+thin*1.2, sheet)
		p.disc(a.x, a.y, dot, c)
	}
	t.badge(p, t.x, t.y)
}

// across says how large a rectangle is.
func across(w, h float64) string {
	f := func(x float64) string { return strconv.FormatFloat(x, 'f', 1, 64) }
	return f(w) + " × " + f(h) + " mm"
}
