package picture

import "math"

// platform is how the ground is drawn: a sheet with a grid in mm, fading
// towards the edge of the picture.
type platform struct {
	cam          *camera
	halfX, halfY float64 // half sizes in mm
	grid         float64 // mm between lines
	shadow       *shadow
	w, h         float64 // of the picture in samples
	line         float64 // half the width of a line, in samples
	px, py       float64 // samples a mm along x and y of the platform is long in the picture
}

// gridSteps are the distances between grid lines there are, mm.
var gridSteps = []float64{0.01, 0.1, 1, 10, 50, 100, 500, 1000}

func newPlatform(c *camera, size [2]float64, s *shadow, w, h, super int) *platform {
	p := &platform{cam: c, halfX: size[0] / 2, halfY: size[1] / 2, shadow: s, w: float64(w), h: float64(h)}
	p.line = 0.5 * float64(super)
	long := func(x, y float64) float64 {
		a, b := float64(c.right[0]*x)+float64(c.right[1]*y), float64(c.up[0]*x)+float64(c.up[1]*y)
		return c.scale * math.Sqrt(float64(a*a)+float64(b*b))
	}
	p.px, p.py = long(1, 0), long(0, 1)
	p.grid = gridSteps[len(gridSteps)-1]
	for _, g := range gridSteps {
		if g*c.scale >= float64(14*super) {
			p.grid = g
			break
		}
	}
	return p
}

// at returns the ground's colour and depth at a sample, or false off the platform.
func (p *platform) at(x, y float64) (rgb, float32, bool) {
	gx, gy, depth := p.cam.ground(x, y)
	ax, ay := math.Abs(gx), math.Abs(gy)
	// Distance in samples from the lines across x is about that along x times
	// the cross scale; exact for the eye overhead, and close enough elsewhere.
	perX, perY := p.across()
	over := max((ax-p.halfX)*perX, (ay-p.halfY)*perY)
	if over > p.line {
		return rgb{}, 0, false
	}
	c := sheet
	fade := p.fade(x, y)
	if p.shadow != nil {
		c = mix(c, shade, int(150*p.shadow.at(gx, gy)))
	}
	alpha := max(p.nearLine(gx, p.grid, perX), p.nearLine(gy, p.grid, perY))
	if alpha > 0 {
		c = mix(c, faint, int(52*alpha*fade))
	}
	if over > -p.line {
		c = mix(c, ink, int(200*max(fade, 0.25)))
	}
	return c, float32(depth), true
}

// across is how many samples apart two lines of the platform are that are 1 mm
// apart in x, and in y.
func (p *platform) across() (float64, float64) {
	// The area of a square millimetre in the picture over the length of the line.
	area := p.cam.scale * p.cam.scale * p.cam.eye[2]
	return area / max(p.py, 1e-9), area / max(p.px, 1e-9)
}

// nearLine is the strength of the grid at distance x from a line's zero.
func (p *platform) nearLine(x, step, per float64) float64 {
	d := math.Abs(x-step*math.Round(x/step)) * per
	return min(max(p.line+0.5-d, 0), 1)
}

// fade is 1 in the middle of the picture and 0 at its edge.
func (p *platform) fade(x, y float64) float64 {
	a, b := x/p.w-0.5, y/p.h-0.5
	d := math.Sqrt(float64(a*a)+float64(b*b)) * 2
	t := min(max((1.25-d)/0.75, 0), 1)
	return t * t * (3 - 2*t)
}
