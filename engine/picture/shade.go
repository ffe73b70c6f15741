package picture

import (
	"image"
	"math"
)

// shader turns the z-buffer into pixels: each sample gets the colour of what
// is seen there, ink where the surface breaks off or folds, hatching where
// a finding asks for it; a pixel is the mean of its samples.
type shader struct {
	s       *Scene
	cam     *camera
	b       *buffer
	ps      []point
	vn      []vec32   // vertex normals, nil for flat
	wash    []uint8   // by pixel, how much to darken
	nearest []float32 // by pixel, −Inf where there is nothing of the part
	ground  *platform // nil for none
	ghost   *ghost    // supports, nil for none
	plate   plate
	ramps   []*ramp
	back    *ramp
	light   vec32
	right   vec32 // the camera's
	up      vec32
	eye     vec32
	super   int     // samples a pixel, along a side
	reach   int     // half the width of an outline in samples
	hatch   int     // distance between hatch lines, in samples
	w, h    int     // pixels
	fine    float32 // a step in depth that is a break, in samples
}

// spot is what a sample shows.
type spot struct {
	facet  int32 // −1 for nothing
	back   bool  // its inner side
	z      float32
	n      vec32   // unit normal towards the eye
	dx, dy float32 // change of depth to the next sample, on the facet's plane
}

func (d *shader) run(img *image.NRGBA, workers int) {
	const band = 24 // rows of pixels
	scratch := make([][]spot, workers)
	each((d.h+band-1)/band, workers, func(worker, i int) {
		if scratch[worker] == nil {
			scratch[worker] = make([]spot, (band*d.super+2*d.reach)*d.b.w)
		}
		d.band(img, scratch[worker], i*band, min((i+1)*band, d.h))
	})
}

// band shades the rows of pixels top ≤ y < bottom. spots holds what is seen at
// their samples, and at those as far around as a line reaches.
func (d *shader) band(img *image.NRGBA, spots []spot, top, bottom int) {
	from, to := max(top*d.super-d.reach, 0), min(bottom*d.super+d.reach, d.b.h)
	for y := from; y < to; y++ {
		d.spots(spots[(y-from)*d.b.w:][:d.b.w], y)
	}
	square := d.super * d.super
	for y := top; y < bottom; y++ {
		for x := range d.w {
			c := paper
			if d.ground != nil && d.plate.holds(float64(x), float64(y)) {
				c = d.ground.at(c, x, y)
			}
			if d.busy(x, y) {
				var sum [3]int
				for k := range square {
					one := d.sample(spots, c, from, to, x*d.super+k%d.super, y*d.super+k/d.super)
					sum[0], sum[1], sum[2] = sum[0]+int(one[0]), sum[1]+int(one[1]), sum[2]+int(one[2])
				}
				for k := range c {
					c[k] = uint8((sum[k] + square/2) / square)
				}
			}
			at := img.PixOffset(x, y)
			img.Pix[at], img.Pix[at+1], img.Pix[at+2], img.Pix[at+3] = c[0], c[1], c[2], 255
		}
	}
}

// busy reports whether the part, or a line around it, may touch a pixel.
func (d *shader) busy(x, y int) bool {
	r := (d.reach + d.super - 1) / d.super
	for j := max(y-r, 0); j <= min(y+r, d.h-1); j++ {
		for i := max(x-r, 0); i <= min(x+r, d.w-1); i++ {
			if d.nearest[j*d.w+i] > float32(math.Inf(-1)) || d.ghost != nil && d.ghost.near[j*d.w+i] {
				return true
			}
		}
	}
	return false
}

// spots finds what is at a row of samples: the normal, smoothed where the part
// is smooth, and how depth changes to the right and down.
func (d *shader) spots(line []spot, y int) {
	var flat vec32
	var last spot
	last.facet = -1
	for x := range line {
		at := y*d.b.w + x
		id := d.b.facet[at]
		if id < 0 {
			line[x] = spot{facet: -1, z: float32(math.Inf(-1))}
			continue
		}
		if id != last.facet {
			flat = normal(d.s.Mesh, d.s.Mesh.F[id])
			last = spot{facet: id, back: flat.dot(d.eye) < 0}
			if last.back {
				flat = vec32{-flat[0], -flat[1], -flat[2]}
			}
			// On the facet's plane depth falls by (n·right)/(n·eye) with each sample to the right.
			toward := max(flat.dot(d.eye), 0.05)
			last.dx, last.dy = -flat.dot(d.right)/toward, flat.dot(d.up)/toward
		}
		s := &line[x]
		*s = last
		s.z, s.n = d.b.depth[at], flat
		if d.vn != nil {
			s.n = d.smooth(d.s.Mesh.F[id], flat, s.back, x, y)
		}
	}
}

// smooth blends the vertex normals of a facet where there are any.
func (d *shader) smooth(f [3]int32, flat vec32, back bool, x, y int) vec32 {
	a, b, c := &d.vn[f[0]], &d.vn[f[1]], &d.vn[f[2]]
	if *a == (vec32{}) && *b == (vec32{}) && *c == (vec32{}) {
		return flat
	}
	p, q, r := &d.ps[f[0]], &d.ps[f[1]], &d.ps[f[2]]
	sx, sy := int64(x)<<subBits+sub/2, int64(y)<<subBits+sub/2
	px, py, qx, qy, rx, ry := int64(p.x)-sx, int64(p.y)-sy, int64(q.x)-sx, int64(q.y)-sy, int64(r.x)-sx, int64(r.y)-sy
	u, v, w := qx*ry-rx*qy, rx*py-px*ry, px*qy-qx*py
	area := float32(u + v + w)
	if area == 0 {
		return flat
	}
	var n vec32
	blend := func(vn *vec32, k int64) {
		t := float32(k) / area
		m := *vn
		if m == (vec32{}) {
			m = flat
		} else if back {
			m = vec32{-m[0], -m[1], -m[2]}
		}
		n[0], n[1], n[2] = n[0]+float32(t*m[0]), n[1]+float32(t*m[1]), n[2]+float32(t*m[2])
	}
	blend(a, u)
	blend(b, v)
	blend(c, w)
	return n.unit()
}

// sample is the colour at a sample, with the ghost of supports before it.
func (d *shader) sample(spots []spot, ground rgb, from, to, x, y int) rgb {
	c := d.solid(spots, ground, from, to, x, y)
	if d.ghost != nil {
		return d.veil(c, spots[(y-from)*d.b.w+x].z, x, y)
	}
	return c
}

// solid is the colour at a sample, ink and all; ground is what lies under it.
func (d *shader) solid(spots []spot, ground rgb, from, to, x, y int) rgb {
	w := d.b.w
	at := (y-from)*w + x
	here := &spots[at]
	z, covered := here.z, here.facet >= 0
	if d.ground != nil && covered {
		// A part may reach below the platform: then the platform hides it.
		if d.sunk(z, x, y) {
			return ground
		}
	}
	// Ink: look a line's width around for something that breaks off here.
	strong, soft := 0, 0
	for r := 1; r <= d.reach && strong == 0; r++ {
		if x >= r {
			d.line(here, &spots[at-r], -1, 0, r, &strong, &soft)
		}
		if x+r < w {
			d.line(here, &spots[at+r], 1, 0, r, &strong, &soft)
		}
		if y-r >= from {
			d.line(here, &spots[at-r*w], 0, -1, r, &strong, &soft)
		}
		if y+r < to {
			d.line(here, &spots[at+r*w], 0, 1, r, &strong, &soft)
		}
	}
	c := ground
	if covered {
		c = d.surface(here, x, y)
	}
	return mix(c, ink, max(strong, soft))
}

// sunk reports whether the platform lies in front of depth z at a sample.
func (d *shader) sunk(z float32, x, y int) bool {
	gx, gy, depth := d.cam.ground(float64(x)+0.5, float64(y)+0.5)
	return float32(depth) > z+0.5 && math.Abs(gx) <= d.ground.halfX && math.Abs(gy) <= d.ground.halfY
}

// line adds the ink that the sample r away in a direction draws on this one:
// strong for an outline, soft for a fold.
func (d *shader) line(here, there *spot, sx, sy float32, r int, strong, soft *int) {
	if there.facet < 0 || here.facet == there.facet {
		// The part's edge is inked from the outside, so that thin walls stay.
		return
	}
	if here.facet < 0 {
		*strong = 215
		return
	}
	// Where is the neighbour against this facet's plane, and the other way round?
	k := float32(r)
	mine := here.z + float32(k*(float32(here.dx*sx)+float32(here.dy*sy)))
	its := there.z - float32(k*(float32(there.dx*sx)+float32(there.dy*sy)))
	if there.z-mine > d.fine && its-here.z > d.fine {
		*strong = 190 // it stands in front of this sample
		return
	}
	if 2*r <= d.reach+1 {
		if bend := here.n.dot(there.n); bend < 0.87 {
			*soft = max(*soft, min(int((0.87-bend)*460), 120))
		}
	}
}

// surface is the colour of the part at a sample, without ink.
func (d *shader) surface(s *spot, x, y int) rgb {
	half := float32(0.5) + float32(0.5*s.n.dot(d.light))
	sky := float32(0.5) + float32(0.5*s.n[2])
	t := float32(0.74*half) + float32(0.26*sky)
	t *= 1 - float32(d.wash[(y/d.super)*d.w+x/d.super])/330
	r := d.ramps[0]
	if m := d.s.Mesh; m.Colour != nil {
		r = d.ramps[m.Colour[s.facet]]
	}
	if s.back {
		r = d.back
	}
	c := r[min(max(int(float32(t*255)), 0), 255)]
	if d.s.Highlight != nil {
		if a := d.hatching(d.s.Highlight[s.facet], x, y); a > 0 {
			c = mix(c, ink, a)
		}
	}
	return c
}

// hatching is the ink of a hatch at a sample, 0 to 256.
func (d *shader) hatching(h Hatch, x, y int) int {
	if h == Plain {
		return 0
	}
	p := d.hatch
	width := max(p/6, d.super)
	on := func(k, period int) bool { return ((k%period)+period)%period < width }
	switch h {
	case Overhang:
		if on(x+y, p) {
			return 205
		}
	case Thin:
		if on(x-y, p*5/4) || on(x+y, p*5/4) {
			return 205
		}
	default:
		if on(y, p*3/4) {
			return 205
		}
	}
	return 16 // a tint between the lines
}
