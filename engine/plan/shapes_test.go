package plan

import (
	"math"
	"testing"

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/slice"
)

// Shapes with known answers, sliced by their formula half-way up each layer.

func pt(x, y float64) region.Point { return region.Point{X: microns(x), Y: microns(y)} }

func rect(x0, y0, x1, y1 float64) region.Region {
	return region.Nonzero(region.Ring{pt(x0, y0), pt(x1, y0), pt(x1, y1), pt(x0, y1)})
}

// disc is a regular polygon of n corners with the area of the circle.
func disc(x, y, r float64, n int) region.Region {
	if r <= 0 {
		return nil
	}
	a := 2 * math.Pi / float64(n)
	r *= math.Sqrt(a / math.Sin(a))
	var ring region.Ring
	for i := range n {
		ring = append(ring, pt(x+r*math.Cos(a*float64(i)), y+r*math.Sin(a*float64(i))))
	}
	return region.Nonzero(ring)
}

// stack slices a shape of a given height.
func stack(height, layer float64, at func(z float64) region.Region) []slice.Layer {
	n := int(math.Round(height / layer))
	ls := make([]slice.Layer, n)
	for i := range ls {
		b, t := float64(i)*layer, float64(i+1)*layer
		ls[i] = slice.Layer{Bottom: b, Top: t, Region: at((b + t) / 2)}
	}
	return ls
}

func prism(height, layer float64, r region.Region) []slice.Layer {
	return stack(height, layer, func(float64) region.Region { return r })
}

func sphere(r, layer float64) []slice.Layer {
	return stack(2*r, layer, func(z float64) region.Region {
		return disc(0, 0, math.Sqrt(r*r-(z-r)*(z-r)), 256)
	})
}

func torus(R, r, layer float64) []slice.Layer {
	return stack(2*r, layer, func(z float64) region.Region {
		d := math.Sqrt(r*r - (z-r)*(z-r))
		return region.Subtract(disc(0, 0, R+d, 256), disc(0, 0, R-d, 256))
	})
}

func cone(r, h, layer float64) []slice.Layer {
	return stack(h, layer, func(z float64) region.Region { return disc(0, 0, r*(1-z/h), 256) })
}

// bar is a tensile specimen: ends wo wide, lo long overall, a neck w wide and l
// long, joined by tangent arcs of radius r.
func bar(w, l, wo, lo, r float64) region.Region {
	var q []region.Point // the quarter x, y ≥ 0, from the neck outward
	rise := (wo - w) / 2
	end := math.Acos(1 - rise/r)
	const n = 60
	for i := range n + 1 {
		a := end * float64(i) / n
		q = append(q, pt(l/2+r*math.Sin(a), w/2+r*(1-math.Cos(a))))
	}
	q = append(q, pt(lo/2, wo/2))
	var ring region.Ring
	for _, s := range [][2]region.Micron{{1, 1}, {-1, 1}, {-1, -1}, {1, -1}} {
		for i := range q {
			p := q[i]
			if s[0]*s[1] > 0 {
				p = q[len(q)-1-i]
			}
			ring = append(ring, region.Point{X: s[0] * p.X, Y: s[1] * p.Y})
		}
	}
	return region.Nonzero(ring)
}

// plain settings: the way of the tests, changed by each.
func testWay(change func(w *printer.Way)) printer.Way {
	w := printer.Way{
		ID: "test", Name: "Test", LayerHeight: 0.2, FirstLayerHeight: 0.2, BeadWidth: 0.4,
		Shells: 2, SolidTop: 4, SolidBottom: 4, Infill: 15, Pattern: printer.Lines,
		Supports: printer.NoSupports, SupportAngle: 45, SupportInfill: 15, SupportGap: 0.5, SupportGapLayers: 1, SupportInterface: 2,
		Base: printer.NoBase, SkirtLoops: 2, SkirtGap: 3, BrimWidth: 4, RaftMargin: 3, RaftLayers: 3,
		ShellSpeed: 40, InnerShellSpeed: 60, SolidSpeed: 50, InfillSpeed: 80, SupportSpeed: 60, FirstLayerSpeed: 20,
	}
	if change != nil {
		change(&w)
	}
	return w
}

var testPrinter = printer.Printer{Volume: [3]float64{200, 200, 200}, Origin: "centre", Nozzle: 0.4, Tools: 2, PurgeVolume: 20}

func plans(t testing.TB, layers []slice.Layer, change func(w *printer.Way)) *Plan {
	t.Helper()
	return plansOf(t, []Part{{Layers: layers}}, change)
}

func plansOf(t testing.TB, parts []Part, change func(w *printer.Way)) *Plan {
	t.Helper()
	pl, err := Make(parts, testWay(change), testPrinter, 0, 2)
	if err != nil {
		t.Fatal(err)
	}
	if err := sound(pl); err != nil {
		t.Fatal(err)
	}
	return pl
}

// volume of layers, mm³.
func volume(layers []slice.Layer) float64 {
	v := 0.0
	for _, l := range layers {
		v += l.Region.Area() * (l.Top - l.Bottom)
	}
	return v
}

func deposited(pl *Plan) float64 {
	v := 0.0
	for t := range pl.Volume {
		v += pl.Deposited(t)
	}
	return v
}

func ofKind(pl *Plan, k Kind) float64 {
	v := 0.0
	for t := range pl.Volume {
		v += pl.Volume[t][k]
	}
	return v
}

func within(t *testing.T, what string, got, want, share float64) {
	t.Helper()
	if !(math.Abs(got-want) <= share*math.Abs(want)) {
		t.Errorf("%s: got %.4f, want %.4f within %.2g %% (off by %+.3f %%)", what, got, want, share*100, (got/want-1)*100)
	}
}

// moves are what should change no weight.
var moves = []struct {
	name string
	f    func(r region.Region) region.Region
}{
	{"as it is", func(r region.Region) region.Region { return r }},
	{"as it is", func(r region.Region) region.Region { return r }},
	{"as it is", func(r region.Region) region.Region { return r }},
	{"as it is", func(r region.Region) region.Region { return r }},
	{"turned by 0.7", func(r region.Region) region.Region { return r.Turn(0.7) }},
	{"turned by 48°", func(r region.Region) region.Region { return r.Turn(48 * degree) }}, // along the hatch
	{"mirrored", func(r region.Region) region.Region {
		var out region.Region
		for _, ring := range r {
			var m region.Ring
			for i := range ring {
				p := ring[len(ring)-1-i]
				m = append(m, region.Point{X: -p.X, Y: p.Y})
			}
			out = append(out, m)
		}
		return region.Nonzero(out...)
	}},
	{"far away", func(r region.Region) region.Region { return r.Translate(2_345_678, -1_234_567) }},
}

func moved(layers []slice.Layer, f func(r region.Region) region.Region) []slice.Layer {
	out := append([]slice.Layer(nil), layers...)
	for i := range out {
		out[i].Region = f(out[i].Region)
	}
	return out
}
