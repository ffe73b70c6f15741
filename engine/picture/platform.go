package picture

import "math"

// platform is how the ground is drawn: a sheet with a grid in mm, fading
// towards the edge of the picture. Its lines are softened by their distance,
// so one look per pixel is enough.
type platform struct {
	cam          *camera
	halfX, halfY float64 // half sizes in mm
	grid         float64 // mm between lines
	shadow       *shadow
	plate        plate   // where in the picture it is drawn, pixels
	super        float64 // samples a pixel
	perX, perY   float64 // pixels between two lines of the ground 1 mm apart in x, and in y
}

// plate is the rectangle of the picture that the scene fills, pixels.
type plate struct{ x0, y0, x1, y1 float64 }

func (p plate) holds(x, y float64) bool { return x >= p.x0 && x < p.x1 && y >= p.y0 && y < p.y1 }

// gridSteps are the distances between grid lines there are, mm.
var gridSteps = []float64{0.01, 0.1, 1, 10, 50, 100, 500, 1000}

func newPlatform(c *camera, size [2]float64, s *shadow, at plate, super int) *platform {
	least := max((at.x1-at.x0+at.y1-at.y0)/130, 8) // pixels between grid lines
	p := &platform{cam: c, halfX: size[0] / 2, halfY: size[1] / 2, shadow: s, plate: at, super: float64(super)}
	// How long in the picture is a millimetre along x, and along y; the area of
	// a square millimetre there over that is the distance between two lines.
	perMM := c.scale / p.super
	area := perMM * perMM * c.eye[2]
	p.perX = area / max(perMM*hypot(c.right[1], c.up[1]), 1e-9)
	p.perY = area / max(perMM*hypot(c.right[0], c.up[0]), 1e-9)
	p.grid = gridSteps[len(gridSteps)-1]
	for _, g := range gridSteps {
		if g*perMM >= least {
			p.grid = g
			break
		}
	}
	return p
}

// at returns the ground's colour over c at the middle of a pixel.
func (p *platform) at(c rgb, x, y int) rgb {
	px, py := float64(x)+0.5, float64(y)+0.5
	gx, gy, _ := p.cam.ground(px*p.super, py*p.super)
	over := max((math.Abs(gx)-p.halfX)*p.perX, (math.Abs(gy)-p.halfY)*p.perY)
	if over > 1.5 {
		return c
	}
	fade := p.fade(px, py)
	on := int(256 * min(max(0.5-over, 0), 1))
	g := mix(c, sheet, on)
	if p.shadow != nil {
		g = mix(g, shade, int(float32(on)*0.62*p.shadow.at(gx, gy)))
	}
	if line := max(p.near(gx, p.perX), p.near(gy, p.perY)); line > 0 {
		g = mix(g, faint, int(0.23*float64(on)*line*fade))
	}
	if edge := 1.2 - math.Abs(over); edge > 0 {
		g = mix(g, ink, int(150*min(edge, 1)*max(fade, 0.3)))
	}
	return g
}

// near is how much of a grid line a point x along an axis is on, 0 to 1.
func (p *platform) near(x, per float64) float64 {
	d := math.Abs(x-p.grid*math.Round(x/p.grid)) * per
	return min(max(1-d, 0), 1)
}

// fade is 1 in the middle of the plate and 0 at its corners.
func (p *platform) fade(x, y float64) float64 {
	a := (x-p.plate.x0)/(p.plate.x1-p.plate.x0) - 0.5
	b := (y-p.plate.y0)/(p.plate.y1-p.plate.y0) - 0.5
	t := min(max((1.25-2*hypot(a, b))/0.75, 0), 1)
	return t * t * (3 - 2*t)
}
