package plan

import (
	"math"
	"testing"

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/slice"
)

// T is a column 10 wide and 20 high under a bar 40 wide and 5 thick, 10 deep.
func shapeT(layer float64) []slice.Layer {
	return stack(25, layer, func(z float64) region.Region {
		if z < 20 {
			return rect(-5, 0, 5, 10)
		}
		return rect(-20, 0, 20, 10)
	})
}

// table is a top 40×30×4 on four legs 4×4×20: too wide for a bridge one way.
func table(layer float64, x, y float64) []slice.Layer {
	return stack(24, layer, func(z float64) region.Region {
		if z > 20 {
			return rect(0, 0, x, y)
		}
		return region.Union(rect(0, 0, 4, 4), rect(x-4, 0, x, 4), rect(0, y-4, 4, y), rect(x-4, y-4, x, y))
	})
}

// arch is a block 30×20×10 with half a cylinder of radius 10 cut out along y.
func arch(layer float64) []slice.Layer {
	return stack(15, layer, func(z float64) region.Region {
		if z >= 10 {
			return rect(-15, 0, 15, 10)
		}
		x := math.Sqrt(100 - z*z)
		return region.Subtract(rect(-15, 0, 15, 10), rect(-x, -1, x, 11))
	})
}

// leaning is a slab 10×8 and 6 high that leans angle degrees from the vertical.
func leaning(angle, turn, layer float64) []slice.Layer {
	return stack(6, layer, func(z float64) region.Region {
		x := z * math.Tan(angle*degree)
		return rect(x, 0, x+10, 8).Turn(turn)
	})
}

// All closed forms. Sphere: the cap within 45° of the lowest point is
// 2πR²(1−cos 45°), the space below it 216.8817 mm³.
func TestOverhangs(t *testing.T) {
	const h = 0.1
	cap := 2 * math.Pi * 100 * (1 - math.Sqrt2/2)
	for _, c := range []struct {
		name        string
		layers      []slice.Layer
		area, space float64 // mm², mm³
		share       float64
	}{
		{"sphere R 10", sphere(10, h), cap, 216.8817, 0.03},
		{"cylinder", prism(10, h, disc(0, 0, 10, 200)), 0, 0, 0},
		{"cone", cone(10, 10, h), 0, 0, 0},
		{"T", shapeT(h), 300, 300 * 20, 0.01},
		{"table", table(h, 60, 40), 60*40 - 64, (60*40 - 64) * 20, 0.01},
		{"cantilever", stack(12, h, func(z float64) region.Region {
			if z < 10 {
				return rect(0, 0, 5, 8)
			}
			return rect(0, 0, 25, 8)
		}), 160, 1600, 0.01},
		// A slab that leans: its underside is 8 deep, 6/cos θ long, and leans out
		// 6·tan θ over the platform.
		{"leaning 60°", leaning(60, 0, h), 8 * 6 / math.Cos(60*degree), 8 * 18 * math.Tan(60*degree), 0.03},
		{"leaning 60°, turned", leaning(60, 1.1, h), 8 * 6 / math.Cos(60*degree), 8 * 18 * math.Tan(60*degree), 0.03},
		{"leaning 50°", leaning(50, 0.3, h), 8 * 6 / math.Cos(50*degree), 8 * 18 * math.Tan(50*degree), 0.03},
		{"leaning 40°", leaning(40, 0.3, h), 0, 0, 0},
		// Beyond 45° the arch leans over its upper half: an arc of R·π/2 in
		// all, 10 deep, from x = −R/√2 to R/√2. The space below it, down to the
		// platform, is 10·(R²/2 + πR²/4). The closing layers bridge.
		{"arch", arch(h), 10 * 10 * math.Pi / 2, 10 * (50 + 25*math.Pi), 0.35},
	} {
		pl := plans(t, c.layers, nil)
		within(t, c.name+": overhang", pl.OverhangArea, c.area, c.share)
		within(t, c.name+": space", pl.SupportSpace, c.space, c.share)
	}
}

// The finer the layers, the nearer the sphere comes to its closed form.
func TestOverhangsConverge(t *testing.T) {
	cap := 2 * math.Pi * 100 * (1 - math.Sqrt2/2)
	var a, v []float64
	for _, h := range []float64{0.4, 0.2, 0.1, 0.05} {
		pl := plans(t, sphere(10, h), nil)
		a = append(a, pl.OverhangArea/cap-1)
		v = append(v, pl.SupportSpace/216.8817-1)
	}
	t.Logf("off by %.4f and %.4f", a, v)
	n := len(a) - 1
	if math.Abs(a[n]) > 0.03 || math.Abs(v[n]) > 0.03 || math.Abs(a[n]) > math.Abs(a[0]) || math.Abs(v[n]) > math.Abs(v[0]) {
		t.Errorf("area off by %v, space by %v", a, v)
	}
}

// Supports fill their space at their density, less gaps, and the part is the same.
func TestSupports(t *testing.T) {
	for _, kind := range []printer.Supports{printer.Breakaway, printer.Soluble} {
		layers := shapeT(0.2)
		bare := plans(t, layers, nil)
		pl := plans(t, layers, func(w *printer.Way) { w.Supports = kind })
		for k := range Support {
			if math.Abs(bare.Volume[0][k]-pl.Volume[0][k]) > 1e-9 {
				t.Errorf("%s supports change what is laid of kind %d: %v, not %v", kind, k, pl.Volume[0][k], bare.Volume[0][k])
			}
		}
		gap, height := 0.5, 20-0.2
		if kind == printer.Soluble {
			gap, height = 0, 20
		}
		// Two blocks of (15−gap)×10, an outline bead around each, 15 % inside,
		// and 2 layers filled.
		x := 15 - gap
		sparse := 2 * (2*(x-0.4+10-0.4)*0.4 + (x-0.8)*(10-0.8)*0.15) * (height - 0.4)
		dense := 2 * (x - 0.8) * (10 - 0.8) * 0.4
		edges := 2 * 2 * (x - 0.4 + 10 - 0.4) * 0.4 * 0.4
		within(t, string(kind)+": support", ofKind(pl, Support), sparse+edges, 0.03)
		within(t, string(kind)+": interface", ofKind(pl, SupportInterface), dense, 0.03)
	}
}

// A gap of 8 mm between two posts is bridged, one of 14 mm is not, and a shelf
// held at one end never is.
func TestBridges(t *testing.T) {
	posts := func(gap float64) []slice.Layer {
		return stack(12, 0.2, func(z float64) region.Region {
			if z < 10 {
				return region.Union(rect(0, 0, 5, 6), rect(5+gap, 0, 10+gap, 6))
			}
			return rect(0, 0, 10+gap, 6)
		})
	}
	for _, c := range []struct {
		gap     float64
		bridges int
	}{{4, 1}, {8, 1}, {9.5, 1}, {14, 0}, {30, 0}} {
		for _, turn := range []float64{0, 0.4, 1.2} {
			layers := posts(c.gap)
			for i := range layers {
				layers[i].Region = layers[i].Region.Turn(turn)
			}
			pl := plans(t, layers, nil)
			if pl.Bridges != c.bridges {
				t.Errorf("gap %v turned %v: %d bridges, want %d", c.gap, turn, pl.Bridges, c.bridges)
			}
			if c.bridges == 1 && pl.SupportSpace > 0 {
				t.Errorf("gap %v: a bridge is held up", c.gap)
			}
		}
	}
}

// Supports keep their gap to the model on all sides, and none where soluble.
func TestSupportsKeepOff(t *testing.T) {
	const tol = 0.4/8 + 0.02 // the outline is thinned by an eighth of a bead
	for _, c := range []struct {
		name   string
		layers []slice.Layer
	}{{"sphere", sphere(10, 0.2)}, {"arch", arch(0.2)}, {"table", table(0.2, 30, 30)}, {"T", shapeT(0.2)}} {
		for kind, gap := range map[printer.Supports]float64{printer.Breakaway: 0.5, printer.Soluble: 0} {
			pl := plans(t, c.layers, func(w *printer.Way) { w.Supports = kind })
			laid := 0
			for i, l := range pl.Layers {
				// The middle of a bead lies half a bead further off.
				near := c.layers[i].Region.Offset(microns(gap+0.2-tol), region.Round, 5)
				for _, p := range l.Paths {
					if p.Kind != Support && p.Kind != SupportInterface {
						continue
					}
					laid++
					for _, q := range p.Points {
						if near.Contains(q) == region.Inside {
							t.Fatalf("%s, %s: layer %d: a support at %v is nearer than %v mm to the part", c.name, kind, i, q, gap)
						}
					}
				}
			}
			if laid == 0 {
				t.Errorf("%s: no supports", c.name)
			}
		}
	}
}

// Supports stand on the model where it is below: the T on a slab of 5 mm leaves
// 15 mm of its 20, and breakaway ones keep a layer off the slab too.
func TestSupportsOnModel(t *testing.T) {
	layers := shapeT(0.2)
	for i := range 25 {
		layers[i].Region = rect(-25, -5, 25, 15)
	}
	pl := plans(t, layers, func(w *printer.Way) { w.Supports = printer.Breakaway })
	within(t, "space", pl.SupportSpace, 300*15, 0.01)
	first := -1
	for i, l := range pl.Layers {
		for _, p := range l.Paths {
			if first < 0 && (p.Kind == Support || p.Kind == SupportInterface) {
				first = i
			}
		}
	}
	if first != 26 {
		t.Errorf("supports begin in layer %d, the slab ends with layer 24 and one layer is left empty: want 26", first)
	}
	// Two interface layers at either end.
	within(t, "interface", ofKind(pl, SupportInterface), 2*(14.5-0.8)*(10-0.8)*0.8, 0.03)
}
