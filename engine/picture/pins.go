package picture

import "math"

// Pins are the numbers of marks in a small view: beside their dots, where a
// page of one view has tags at its sides. Each dot looks for the nearest free
// place for its number, outwards from the middle of the view if it can be: not
// over another number or dot, and not on a leader. What finds no place is left
// out; the legend says so if it is seen nowhere.

// pins puts numbers beside the marks that are seen in a cell.
func (c *cell) pins(p *page, d *shader) {
	size := p.pen.size
	r := tagRadius(size)
	f := plate{c.plate.x0 + 1.4*r, c.plate.y0 + 1.4*r, c.plate.x1 - 1.4*r, c.plate.y1 - 1.4*r}
	if c.title != "" {
		f.y0 += size * 1.4
	}
	if f.x1 <= f.x0 || f.y1 <= f.y0 {
		return
	}
	var here []*tag
	for _, t := range p.tags {
		var at []place
		for _, m := range c.s.Marks {
			if m.Number != t.number || m.Severity != t.severity {
				continue
			}
			x, y, z := c.cam.see(m.At)
			if !d.behind(x, y, z) && !d.edgeOn(x, y, z) {
				at = append(at, place{x: min(max(c.plate.x0+x/super, f.x0), f.x1), y: min(max(c.plate.y0+y/super, f.y0), f.y1)})
			}
		}
		here = append(here, t.bunches(at, 6*r)...)
	}
	c.shown = beside(here, f, (c.frame.x0+c.frame.x1)/2, (c.frame.y0+c.frame.y1)/2, r)
	thin := max(size/12, 1)
	dot := max(size*0.22, 2.5)
	for _, t := range c.shown {
		for _, a := range t.at {
			p.pen.line(t.x, t.y, a.x, a.y, thin*3, 0, sheet, 0.75)
			p.pen.line(t.x, t.y, a.x, a.y, thin, 0, accent(t.severity), 1)
		}
	}
	for _, t := range c.shown {
		for _, a := range t.at {
			p.pen.disc(a.x, a.y, dot+thin*1.2, sheet)
			p.pen.disc(a.x, a.y, dot, accent(t.severity))
		}
	}
	for _, t := range c.shown {
		t.badge(p.pen, t.x, t.y)
	}
}

// bunches makes one tag for all dots close to the first, and more for the rest.
func (t *tag) bunches(at []place, reach float64) (out []*tag) {
next:
	for _, a := range at {
		for _, o := range out {
			if hypot(o.at[0].x-a.x, o.at[0].y-a.y) < reach {
				o.at = append(o.at, a)
				continue next
			}
		}
		out = append(out, &tag{number: t.number, severity: t.severity, at: []place{a}})
	}
	return out
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
// middle mx, my if it can be, within f, not over another tag or any dot, and
// clear of leaders if there is such a place. It returns those that got one.
func beside(tags []*tag, f plate, mx, my, r float64) (done []*tag) {
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
	clear := func(one *tag, x, y float64) bool {
		for _, t := range done {
			for _, a := range t.at {
				if fromLine(x, y, t.x, t.y, a.x, a.y) < 1.4*r {
					return false
				}
			}
			for _, a := range one.at {
				if fromLine(t.x, t.y, x, y, a.x, a.y) < 1.4*r {
					return false
				}
			}
		}
		return true
	}
	for _, t := range tags {
		if t.settle(mx, my, r, func(x, y float64) bool { return free(x, y) && clear(t, x, y) }) || t.settle(mx, my, r, free) {
			done = append(done, t)
		}
	}
	return done
}

// settle puts the tag at the nearest place that will do, and among those as far
// outwards as there is.
func (t *tag) settle(mx, my, r float64, will func(x, y float64) bool) (found bool) {
	at := t.at[0]
	ox, oy := at.x-mx, at.y-my
	for _, far := range [...]float64{2.2, 3.2, 4.6, 6.5, 9, 12} {
		best := 0.0
		for _, a := range around {
			x, y := at.x+float64(a[0]*far*r), at.y+float64(a[1]*far*r)
			if score := float64(a[0]*ox) + float64(a[1]*oy); (!found || score > best) && will(x, y) {
				best, found = score, true
				t.x, t.y = x, y
			}
		}
		if found {
			return true
		}
	}
	return false
}

// fromLine is how far x, y is from the line between two points.
func fromLine(x, y, ax, ay, bx, by float64) float64 {
	dx, dy := bx-ax, by-ay
	t := 0.0
	if long := float64(dx*dx) + float64(dy*dy); long > 0 {
		t = min(max((float64((x-ax)*dx)+float64((y-ay)*dy))/long, 0), 1)
	}
	return hypot(x-ax-float64(t*dx), y-ay-float64(t*dy))
}
