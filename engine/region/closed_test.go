package region

import (
	"math"
	"testing"
)

func rect(x0, y0, x1, y1 Micron) Ring {
	return Ring{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}
}

func backward(r Ring) Ring {
	out := make(Ring, len(r))
	for i := range r {
		out[i] = r[len(r)-1-i]
	}
	return out
}

// ngon is a regular polygon around the origin.
func ngon(n int, radius float64) Ring {
	var r Ring
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * (float64(i) + 0.25) / float64(n))
		r = append(r, Point{Micron(math.Round(radius * c)), Micron(math.Round(radius * s))})
	}
	return r
}

const degree = math.Pi / 180

// slanted is a rhombus of side 20 mm with a corner of so many degrees.
func slanted(corner float64) Ring {
	s, c := math.Sincos(corner * degree)
	x, y := Micron(math.Round(20_000*c)), Micron(math.Round(20_000*s))
	return Ring{{0, 0}, {20_000, 0}, {20_000 + x, y}, {x, y}}
}

func TestMeasures(t *testing.T) {
	frame := Nonzero(rect(0, 0, 10_000, 10_000), backward(rect(2000, 2000, 5000, 4000)))
	for _, c := range []struct {
		name            string
		r               Region
		rings           int
		area, perimeter float64
	}{
		{"nothing", nil, 0, 0, 0},
		{"no rings", Nonzero(), 0, 0, 0},
		{"a point", Nonzero(Ring{{1, 1}}), 0, 0, 0},
		{"a line", Nonzero(Ring{{0, 0}, {10, 10}}), 0, 0, 0},
		{"a line, three points", Nonzero(Ring{{0, 0}, {10, 10}, {5, 5}}), 0, 0, 0},
		{"one place, four times", Nonzero(Ring{{3, 3}, {3, 3}, {3, 3}, {3, 3}}), 0, 0, 0},
		{"square", Nonzero(rect(0, 0, 10_000, 10_000)), 1, 100, 40},
		{"square, clockwise", Nonzero(backward(rect(0, 0, 10_000, 10_000))), 1, 100, 40},
		{"square, twice", Nonzero(rect(0, 0, 10_000, 10_000), rect(0, 0, 10_000, 10_000)), 1, 100, 40},
		{"square and its reverse cancel", Nonzero(rect(0, 0, 10_000, 10_000), backward(rect(0, 0, 10_000, 10_000))), 0, 0, 0},
		{"same way inside: no hole", Nonzero(rect(0, 0, 10_000, 10_000), rect(2000, 2000, 5000, 4000)), 1, 100, 40},
		{"frame", frame, 2, 94, 50},
		{"a micron", Nonzero(rect(7, 7, 8, 8)), 1, 1e-6, 4e-3},
		{"half the world", Nonzero(rect(-Limit, -Limit, Limit, 0)), 1, 2 * 536870.912 * 536870.912, 6 * 536870.912},
		{"beyond it: clamped", Nonzero(rect(-4*Limit, -4*Limit, 4*Limit, 1<<62)), 1, 4 * 536870.912 * 536870.912, 8 * 536870.912},
		{"bow tie", Nonzero(Ring{{0, 0}, {10_000, 10_000}, {10_000, 0}, {0, 10_000}}), 2, 50, 20 + 20*math.Sqrt2},
		{"squares that touch", Nonzero(rect(0, 0, 1000, 1000), rect(1000, 1000, 2000, 2000)), 2, 2, 8},
		{"squares side by side", Nonzero(rect(0, 0, 1000, 1000), rect(1000, 0, 2000, 1000)), 1, 2, 6},
	} {
		t.Run(c.name, func(t *testing.T) {
			sound(t, c.name, c.r)
			if len(c.r) != c.rings {
				t.Errorf("%d rings, want %d: %v", len(c.r), c.rings, c.r)
			}
			if got := c.r.Area(); math.Abs(got-c.area) > 1e-6*c.perimeter {
				t.Errorf("area %.9f, want %.9f (closed form)", got, c.area)
			}
			if got := c.r.Perimeter(); math.Abs(got-c.perimeter) > 1e-6*c.perimeter {
				t.Errorf("perimeter %.9f, want %.9f (closed form)", got, c.perimeter)
			}
			if c.r.Empty() != (c.rings == 0) {
				t.Error("Empty is wrong")
			}
		})
	}
	for _, c := range []struct {
		p    Point
		want Where
	}{
		{Point{1000, 1000}, Inside}, {Point{3000, 3000}, Outside}, {Point{2000, 3000}, OnEdge},
		{Point{0, 0}, OnEdge}, {Point{10_000, 5000}, OnEdge}, {Point{10_001, 5000}, Outside},
		{Point{2000, 2000}, OnEdge}, {Point{1999, 2000}, Inside}, {Point{-1, 2000}, Outside},
		{Point{-1, 10_000}, Outside}, {Point{3000, 10_000}, OnEdge}, {Point{Limit + 1, 5000}, Outside}, {Point{math.MaxInt64, math.MinInt64}, Outside},
	} {
		if got := frame.Contains(c.p); got != c.want {
			t.Errorf("Contains(%v) = %d, want %d", c.p, got, c.want)
		}
	}
	if got, want := frame.Bounds(), (Box{Point{0, 0}, Point{10_000, 10_000}}); got != want {
		t.Errorf("Bounds %v, want %v", got, want)
	}
}

// The nonzero rule fills the middle of a pentagram. Its area is 5·R·r·sin 36°
// with r = R·cos 72°/cos 36° the inner corners' radius (COMPUTED); rounding moves
// its edges by √½ µm at most.
func TestPentagram(t *testing.T) {
	const radius = 10.0
	p := ngon(5, radius*1000)
	got := Nonzero(Ring{p[0], p[2], p[4], p[1], p[3]})
	sound(t, "pentagram", got)
	inner := radius * math.Cos(72*degree) / math.Cos(36*degree)
	want := 5 * radius * inner * math.Sin(36*degree)
	if len(got) != 1 || len(got[0]) != 10 || math.Abs(got.Area()-want) > math.Sqrt(0.5)*1e-3*got.Perimeter() {
		t.Errorf("area %.6f, want %.6f: %v", got.Area(), want, got)
	}
}

// Islands of rings in rings, and of rings that touch.
func TestIslands(t *testing.T) {
	nest := Nonzero(
		rect(0, 0, 100, 100), backward(rect(10, 10, 90, 90)),
		rect(20, 20, 80, 80), backward(rect(30, 30, 40, 40)), backward(rect(50, 30, 60, 40)),
		rect(52, 32, 58, 38), rect(200, 0, 210, 10))
	want := []int{2, 1, 3, 1} // by lowest, then leftmost corner of the outer ring
	got := nest.Islands()
	if len(got) != len(want) {
		t.Fatalf("%d islands, want %d: %v", len(got), len(want), got)
	}
	for i := range got {
		if len(got[i]) != want[i] {
			t.Errorf("island %d has %d rings, want %d: %v", i, len(got[i]), want[i], got[i])
		}
	}
	// A square with a diamond hole whose corners touch it: four corners remain.
	if got := Nonzero(rect(0, 0, 100, 100), Ring{{50, 0}, {0, 50}, {50, 100}, {100, 50}}).Islands(); len(got) != 4 {
		t.Errorf("%d corners, want 4: %v", len(got), got)
	}
	// A hole that touches in one corner leaves one island of two rings.
	got = Nonzero(rect(0, 0, 100, 100), Ring{{50, 0}, {30, 50}, {70, 50}}).Islands()
	if len(got) != 1 || len(got[0]) != 2 {
		t.Errorf("got %v, want one island of two rings", got)
	}
	if got := Region(nil).Islands(); got != nil {
		t.Errorf("islands of nothing: %v", got)
	}
}

// Steiner's formula for convex regions: area A + P·d + π·d², perimeter P + 2π·d.
// Mitre adds the tips of the corners, Square cuts these; both are COMPUTED from
// the angles: a corner with turn θ adds d²·tan(θ/2), or 2·d²·tan(θ/4).
func TestOffsetClosedForms(t *testing.T) {
	disc := ngon(500, 10_000)
	for _, c := range []struct {
		name string
		r    Region
		d    Micron
		join Join
		want float64
	}{
		{"square, round", Nonzero(rect(0, 0, 10_000, 10_000)), 1000, Round, 100 + 40 + math.Pi},
		{"square, mitre", Nonzero(rect(0, 0, 10_000, 10_000)), 1000, Mitre, 144},
		{"square, square", Nonzero(rect(0, 0, 10_000, 10_000)), 1000, Square, 140 + 4*2*math.Tan(math.Pi/8)},
		{"square, inward", Nonzero(rect(0, 0, 10_000, 10_000)), -1000, Round, 64},
		{"square, inward, mitre", Nonzero(rect(0, 0, 10_000, 10_000)), -1000, Mitre, 64},
		{"square, gone", Nonzero(rect(0, 0, 10_000, 10_000)), -5000, Round, 0},
		{"square, long gone", Nonzero(rect(0, 0, 10_000, 10_000)), -1 << 62, Round, 0},
		{"square, almost gone", Nonzero(rect(0, 0, 10_000, 10_000)), -4999, Round, 0.000004},
		{"hexagon, round", Nonzero(ngon(6, 10_000)), 2000, Round, 150*math.Sqrt(3) + 60*2 + 4*math.Pi},
		{"hexagon, mitre", Nonzero(ngon(6, 10_000)), 2000, Mitre, 150*math.Sqrt(3) + 120 + 6*4*math.Tan(math.Pi/6)},
		{"hexagon, square", Nonzero(ngon(6, 10_000)), 2000, Square, 150*math.Sqrt(3) + 120 + 6*4*2*math.Tan(math.Pi/12)},
		// A rhombus of side 20 with turns of 62° and, within the mitre limit, 118°.
		{
			"rhombus, mitre", Nonzero(slanted(62)),
			1000, Mitre, 400*math.Sin(62*degree) + 80 + 2*math.Tan(31*degree) + 2*math.Tan(59*degree),
		},
		// One with turns of 58° and 122°, which are cut off.
		{
			"sharper rhombus, mitre", Nonzero(slanted(58)),
			1000, Mitre, 400*math.Sin(58*degree) + 80 + 2*math.Tan(29*degree) + 4*math.Tan(30.5*degree),
		},
		{
			"sharper rhombus, square", Nonzero(slanted(58)),
			1000, Square, 400*math.Sin(58*degree) + 80 + 4*math.Tan(14.5*degree) + 4*math.Tan(30.5*degree),
		},
		// A needle with a corner of 1°: turn 179°.
		{
			"needle, square", Nonzero(slanted(1)),
			1000, Square, 400*math.Sin(1*degree) + 80 + 4*math.Tan(0.25*degree) + 4*math.Tan(44.75*degree),
		},
		{"disc, out", Nonzero(disc), 2000, Round, 144 * math.Pi},
		{"disc, in", Nonzero(disc), -2000, Round, 64 * math.Pi},
		{"disc, mitre", Nonzero(disc), 2000, Mitre, 144 * math.Pi},
		{"ring, out", Subtract(Nonzero(disc), Nonzero(ngon(500, 5000))), 2000, Round, (144 - 9) * math.Pi},
		{"ring, in", Subtract(Nonzero(disc), Nonzero(ngon(500, 5000))), -2000, Round, (64 - 49) * math.Pi},
		{"ring, gone", Subtract(Nonzero(disc), Nonzero(ngon(500, 5000))), -2600, Round, 0},
		{"hole fills", Subtract(Nonzero(disc), Nonzero(ngon(500, 2000))), 2100, Round, 12.1 * 12.1 * math.Pi},
		// An L of two squares and their corner, 80 mm around. Shrinking by 2 takes
		// 80·2 less 2² for each of five corners, where strips overlap, and adds a
		// quarter disc at the reflex one.
		{
			"L, inward", Nonzero(Ring{{0, 0}, {20_000, 0}, {20_000, 10_000}, {10_000, 10_000}, {10_000, 20_000}, {0, 20_000}}),
			-2000, Round, 300 - 160 + 5*4 - math.Pi,
		},
		{
			"L, outward", Nonzero(Ring{{0, 0}, {20_000, 0}, {20_000, 10_000}, {10_000, 10_000}, {10_000, 20_000}, {0, 20_000}}),
			2000, Round, 300 + 160 + 5*math.Pi - 4,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, arc := range []Micron{1, 5} {
				got := c.r.Offset(c.d, c.join, arc)
				sound(t, c.name, got)
				bound := (2e-3+float64(arc)/1000)*got.Perimeter() + 1e-6
				if a := got.Area(); math.Abs(a-c.want) > bound {
					t.Errorf("arc %d: area %.6f, want %.6f ± %.6f", arc, a, c.want, bound)
				}
			}
		})
	}
}

// angle.go against the math package.
func TestAngles(t *testing.T) {
	for i := -4000; i <= 4000; i++ {
		x := float64(i) * 0.00493
		s, c := sincos(x)
		if ws, wc := math.Sincos(x); math.Abs(s-ws) > 1e-15*(1+math.Abs(x)) || math.Abs(c-wc) > 1e-15*(1+math.Abs(x)) {
			t.Fatalf("sincos(%g) = %g, %g, want %g, %g", x, s, c, ws, wc)
		}
		if x >= 0 && x <= math.Pi {
			if a := angleOf(c, s); math.Abs(a-x) > 4e-15 {
				t.Fatalf("angleOf(cos %g, sin %g) is off by %g", x, x, a-x)
			}
		}
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if s, c := sincos(x); s != 0 || c != 1 {
			t.Errorf("sincos(%g) = %g, %g", x, s, c)
		}
	}
}
