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
	vn      []vec32 // vertex normals, nil for flat
	wash    []uint8
	ground  *platform // nil for none
	ramps   []*ramp
	back    *ramp
	light   vec32
	super   int // samples a pixel, along a side
	reach   int // half the width of an outline in samples
	hatch   int // distance between hatch lines, in samples
	w, h    int // pixels
	fine    float32
	tallest float32
}

// halo is how many rows of samples around a band are looked at for lines.
const halo = 6

// spot is what a sample shows.
type spot struct {
	facet int32
	z     float32
	n     vec32 // towards the eye
	slope [2]float32
}

func (d *shader) run(img *image.NRGBA, workers int) {
	const band = 12 // rows of pixels
	each((d.h+band-1)/band, workers, func(i int) { d.band(img, i*band, min((i+1)*band, d.h)) })
}

func (d *shader) band(img *image.NRGBA, top, bottom int) {
	from, to := max(top*d.super-halo, 0), min(bottom*d.super+halo, d.b.h)
	spots := make([]spot, (to-from)*d.b.w)
	for y := from; y < to; y++ {
		for x := range d.b.w {
			k := (y-from)*d.b.w + x
			spots[k] = d.spot(x, y)
		}
	}
	square := d.super * d.super
	for y := top; y < bottom; y++ {
		for x := range d.w {
			var sum [3]int
			for j := range d.super {
				for i := range d.super {
					c := d.sample(spots, from, to, x*d.super+i, y*d.super+j)
					sum[0], sum[1], sum[2] = sum[0]+int(c[0]), sum[1]+int(c[1]), sum[2]+int(c[2])
				}
			}
			at := img.PixOffset(x, y)
			for k := range 3 {
				img.Pix[at+k] = uint8((sum[k] + square/2) / square)
			}
			img.Pix[at+3] = 255
		}
	}
}

// spot finds what is at a sample: its normal, smoothed where the part is
// smooth, and how its depth changes to the right and down.
func (d *shader) spot(x, y int) spot {
	at := y*d.b.w + x
	id := d.b.facet[at]
	if id < 0 {
		return spot{facet: -1, z: float32(math.Inf(-1))}
	}
	f := d.s.Mesh.F[id]
	flat := normal(d.s.Mesh, f)
	n := flat
	if d.vn != nil {
		n = d.smooth(f, flat, x, y)
	}
	e := narrow(d.cam.eye)
	if flat.dot(e) < 0 {
		flat, n = vec32{-flat[0], -flat[1], -flat[2]}, vec32{-n[0], -n[1], -n[2]}
	}
	// On the facet's plane depth falls by (n·right)/(n·eye) for each sample to the right.
	toward := max(flat.dot(e), 0.05)
	return spot{id, d.b.depth[at], n, [2]float32{-flat.dot(narrow(d.cam.right)) / toward, flat.dot(narrow(d.cam.up)) / toward}}
}

// smooth blends the vertex normals of a facet that agree with its own.
func (d *shader) smooth(f [3]int32, flat vec32, x, y int) vec32 {
	p, q, r := d.ps[f[0]], d.ps[f[1]], d.ps[f[2]]
	sx, sy := int64(x)<<subBits+sub/2, int64(y)<<subBits+sub/2
	part := func(a, b point) int64 {
		return (int64(a.x)-sx)*(int64(b.y)-sy) - (int64(b.x)-sx)*(int64(a.y)-sy)
	}
	u, v, w := part(q, r), part(r, p), part(p, q)
	area := float32(u + v + w)
	if area == 0 {
		return flat
	}
	var n vec32
	for i, k := range [3]int64{u, v, w} {
		t := float32(k) / area
		vn := d.vn[f[i]]
		if vn.dot(flat) < smoothAngle {
			vn = flat
		}
		for j := range n {
			n[j] += float32(t * vn[j])
		}
	}
	return n.unit()
}

// sample is the colour at a sample, ink and all.
func (d *shader) sample(spots []spot, from, to, x, y int) rgb {
	w := d.b.w
	here := &spots[(y-from)*w+x]
	var c rgb
	onGround := false
	z := here.z
	if d.ground != nil {
		if g, depth, ok := d.ground.at(float64(x)+0.5, float64(y)+0.5); ok && depth > z {
			c, z, onGround = g, depth, true
		}
	}
	switch {
	case onGround:
	case here.facet < 0:
		c = paper
	default:
		c = d.surface(here, x, y)
	}
	// Ink: look a line's width around for something that breaks off here.
	strong, soft := 0, 0
	for _, step := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
		for r := 1; r <= d.reach; r++ {
			nx, ny := x+step[0]*r, y+step[1]*r
			if nx < 0 || ny < from || nx >= w || ny >= to {
				break
			}
			there := &spots[(ny-from)*w+nx]
			a, b := d.line(here, there, z, onGround, step, r)
			strong, soft = max(strong, a), max(soft, b)
		}
	}
	if strong > 0 {
		return mix(c, ink, strong)
	}
	if soft > 0 {
		return mix(c, ink, soft)
	}
	return c
}

// line says how much ink the neighbour at r samples draws on a sample: strong
// for a silhouette, soft for a fold.
func (d *shader) line(here, there *spot, z float32, onGround bool, step [2]int, r int) (strong, soft int) {
	if there.facet < 0 {
		// The part's own edge is inked from the outside only, so thin walls stay.
		return 0, 0
	}
	if here.facet < 0 || onGround {
		if there.z > z {
			return 225, 0
		}
		return 0, 0
	}
	if here.facet == there.facet {
		return 0, 0
	}
	// Where is the neighbour against this facet's plane, and the other way round?
	k := float32(r)
	mine := here.z + k*(float32(here.slope[0]*float32(step[0]))+float32(here.slope[1]*float32(step[1])))
	its := there.z - k*(float32(there.slope[0]*float32(step[0]))+float32(there.slope[1]*float32(step[1])))
	ahead, behind := there.z-mine, its-here.z
	if ahead > d.fine && behind > d.fine {
		return 200, 0 // it stands in front of this sample
	}
	if r == 1 || d.reach > 2 && r == 2 {
		if bend := here.n.dot(there.n); bend < 0.87 {
			return 0, int(min(max((0.87-bend)*500, 0), 130))
		}
	}
	return 0, 0
}

// surface is the colour of the part at a sample, without ink.
func (d *shader) surface(s *spot, x, y int) rgb {
	id := s.facet
	half := float32(0.5) + float32(0.5*s.n.dot(d.light))
	sky := float32(0.5) + float32(0.5*s.n[2])
	t := float32(0.74*half) + float32(0.26*sky)
	t *= 1 - float32(d.wash[(y/d.super)*d.w+x/d.super])/330
	r := d.ramps[0]
	if m := d.s.Mesh; m.Colour != nil {
		r = d.ramps[m.Colour[id]]
	}
	f := d.s.Mesh.F[id]
	if normal(d.s.Mesh, f).dot(narrow(d.cam.eye)) < 0 {
		r = d.back
	}
	c := r[min(max(int(float32(t*255)), 0), 255)]
	if d.s.Highlight != nil {
		if a := d.hatching(d.s.Highlight[id], x, y); a > 0 {
			c = mix(c, ink, a)
		}
	}
	return c
}

// hatching is the ink of a hatch at a sample.
func (d *shader) hatching(h Hatch, x, y int) int {
	if h == Plain {
		return 0
	}
	p := d.hatch
	width := max(p/5, 1)
	on := func(k int) bool { return ((k%p)+p)%p < width }
	switch h {
	case Overhang:
		if on(x + y) {
			return 190
		}
	case Thin:
		if on(x-y) || on(x+y) {
			return 190
		}
	default:
		if on(y) {
			return 190
		}
	}
	return 22 // a tint between the lines
}
