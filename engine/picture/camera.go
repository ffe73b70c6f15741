package picture

import (
	"math"

	"platebook/engine/mesh"
)

// camera is an orthographic projection. In the picture x grows to the right, y
// downwards, and depth towards the eye, all in samples; a millimetre
// across the line of sight is scale samples everywhere.
type camera struct {
	right, up, eye mesh.Vec // unit vectors in the part's frame
	scale          float64  // samples per mm
	x0, y0         float64  // the sample where the part's origin falls
}

// steady rounds a sine to 2⁻⁴⁰, so that processors whose sines differ in the
// last place see the same picture.
func steady(x float64) float64 { return math.RoundToEven(x*(1<<40)) / (1 << 40) }

func newCamera(v View) camera {
	sa, ca := math.Sincos(v.Azimuth * math.Pi / 180)
	se, ce := math.Sincos(v.Elevation * math.Pi / 180)
	sa, ca, se, ce = steady(sa), steady(ca), steady(se), steady(ce)
	return camera{
		right: mesh.Vec{ca, sa, 0},
		up:    mesh.Vec{-sa * se, ca * se, ce},
		eye:   mesh.Vec{sa * ce, -ca * ce, se},
		scale: 1,
	}
}

// see returns the sample p falls on and its depth.
func (c *camera) see(p mesh.Vec) (x, y, depth float64) {
	return c.x0 + float64(c.scale*p.Dot(c.right)), c.y0 - float64(c.scale*p.Dot(c.up)), float64(c.scale * p.Dot(c.eye))
}

// ground returns the point of the plane z = 0 seen at a sample, and its depth.
// Only for a camera above the plane.
func (c *camera) ground(x, y float64) (px, py, depth float64) {
	// p = a·right + b·up + d·eye with p.z = b·up.z + d·eye.z = 0, as right.z is 0.
	a, b := (x-c.x0)/c.scale, (c.y0-y)/c.scale
	d := -float64(b*c.up[2]) / c.eye[2]
	px = float64(a*c.right[0]) + float64(b*c.up[0]) + float64(d*c.eye[0])
	py = float64(a*c.right[1]) + float64(b*c.up[1]) + float64(d*c.eye[1])
	return px, py, float64(d * c.scale)
}

// above reports whether the camera sees the platform from above, at an angle
// that shows more than its edge.
func (c *camera) above() bool { return c.eye[2] > 0.03 }

// fit scales and places the camera so that a rectangle in its own frame (mm)
// falls into a rectangle of samples, centred.
func (c *camera) fit(left, right, bottom, top, x0, y0, x1, y1 float64) {
	w, h := max(right-left, 1e-6), max(top-bottom, 1e-6)
	c.scale = min((x1-x0)/w, (y1-y0)/h)
	c.x0 = (x0+x1)/2 - float64(c.scale*(left+right)/2)
	c.y0 = (y0+y1)/2 + float64(c.scale*(bottom+top)/2)
}

// extent is the rectangle the vertices fill in the camera's frame, in mm.
func (c *camera) extent(vs []mesh.Vec) (left, right, bottom, top float64) {
	left, bottom, right, top = math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, v := range vs {
		x, y := v.Dot(c.right), v.Dot(c.up)
		left, right, bottom, top = min(left, x), max(right, x), min(bottom, y), max(top, y)
	}
	return left, right, bottom, top
}
