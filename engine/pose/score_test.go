package pose

import (
	"math"
	"math/rand/v2"
	"testing"

	"platebook/engine/mesh"
)

// A sphere on the platform: what leans out more than a from the vertical is a
// cap of height R(1−sin a), so its area is 2πR²(1−sin a); the space under it is
// πr²R − 2π/3·(R³−(R²−r²)^1.5) with r = R·cos a (COMPUTED, Archimedes). At 45°
// and R = 10: 184.0302 mm² and 216.8817 mm³.
func TestSphere(t *testing.T) {
	// The first hair of height is on the platform: a zone of height z is 2πRz.
	// A polyhedron of n steps falls short by a share of some (π/n)², 1/13 000.
	s := asGiven(t, ball(10, 360), x45, 0)
	within(t, "cap at 45°", s.SupportedArea, 184.0302-2*math.Pi*10*hair, 0.05)
	within(t, "column at 45°", s.SupportVolume, 216.8817, 0.05)
	if s.StandArea != 0 {
		t.Errorf("columns under a sphere stand on %g mm² of it", s.StandArea)
	}
	for _, r := range []float64{1, 10, 80} {
		m := ball(r, 120)
		for _, a := range []float64{15, 30, 45, 60, 75} {
			sin, cos := math.Sincos(a * math.Pi / 180)
			for _, first := range []float64{hair, r / 100} {
				s := asGiven(t, m, a*math.Pi/180, first)
				z := first / r
				within(t, "cap", s.SupportedArea/(r*r), 2*math.Pi*(1-sin-z), 3e-3)
				// Less the column under the first layer's zone, π∫z dA of a zone of height z.
				low := math.Pi*z*z - 2*math.Pi/3*z*z*z
				within(t, "column", s.SupportVolume/(r*r*r), math.Pi*cos*cos-2*math.Pi/3*(1-sin*sin*sin)-low, 3e-3)
				if first == hair {
					continue // the facets about the pole are larger than that
				}
				// What is on the platform: a circle of radius² 2Rz − z². Rows of
				// facets 3° apart lie up to R(1−cos 1½°) too deep: 3½ % of z.
				within(t, "contact", s.Contact/(r*r), math.Pi*(2*z-z*z), 35e-3*2*math.Pi*z)
				// The contact's rim is at √(2Rz−z²) from below the centre, which is R high.
				within(t, "tipping", s.Tipping, math.Atan(math.Sqrt(2*z-z*z)), 5e-3)
			}
		}
	}
}

// Polyhedra and bodies on bodies, by hand (COMPUTED). Tolerance is rounding
// where columns reach the platform, and a thousandth of the column where they
// do not, as columns.go states.
func TestColumns(t *testing.T) {
	n := 360.0
	disc := func(r float64) float64 { return n / 2 * r * r * math.Sin(2*math.Pi/n) }
	tee := []point{{-5, 0}, {5, 0}, {5, 30}, {20, 30}, {20, 40}, {-20, 40}, {-20, 30}, {-5, 30}}
	shelf := []point{{0, 0}, {40, 0}, {40, 10}, {10, 10}, {10, 30}, {40, 30}, {40, 40}, {0, 40}}
	stairs := []point{{0, 0}, {50, 0}, {50, 10}, {30, 20}, {10, 30}, {10, 40}, {50, 40}, {50, 50}, {0, 50}}
	for _, c := range []struct {
		name                 string
		m                    *mesh.Mesh
		angle                float64
		volume, area, stands float64
		exact                bool
	}{
		{"block", block(0, 0, 0, 10, 20, 30), 45, 0, 0, 0, true},
		{"cylinder", rod(10, 30, 90), 45, 0, 0, 0, true},
		{"cone on its base", cone(10, 20, 90), 45, 0, 0, 0, true},
		{"cone on its tip, 27°", turned(cone(10, 20, 360), mesh.Vec{1, 0, 0}, 180), 27, 0, 0, 0, true},
		// The cylinder around less the cone.
		{"cone on its tip, 26°", turned(cone(10, 20, 360), mesh.Vec{1, 0, 0}, 180), 26, disc(10) * 20 * 2 / 3, -1, 0, true},
		{"block in the air", mesh.Merge(block(0, 0, 7, 10, 20, 9), block(50, 0, 0, 51, 1, 1)), 89, 1400, 200, 0, true},
		{"T of one body", raised(tee, 10), 45, 300 * 30, 300, 0, true},
		{"T of two", mesh.Merge(block(-5, -5, 0, 5, 5, 30), block(-20, -5, 30, 20, 5, 40)), 45, 300 * 30, 300, 0, false},
		{"T of two that overlap", mesh.Merge(block(-5, -5, 0, 5, 5, 35), block(-20, -5, 30, 20, 5, 40)), 45, 300 * 30, 300, 0, false},
		{"mushroom", mushroom(5, 30, 20, 5, 360), 45, (disc(20) - disc(5)) * 30, disc(20) - disc(5), 0, true},
		// A shelf: the upper board's columns stand on the lower one, 30 × 25 wide, 20 high.
		{"shelf", raised(shelf, 25), 45, 30 * 25 * 20, 30 * 25, 30 * 25, false},
		// Over a slope of 20 to 10 in two pieces: columns of mean height 20.
		{"over a slope", raised(stairs, 25), 45, 40 * 25 * 20, 40 * 25, 2 * math.Hypot(20, 10) * 25, false},
		{"table", table(60, 40, 30, 5, 5), 45, (60*40 - 4*25) * 25, 60*40 - 4*25, 0, false},
		// A room inside: what hangs over stands on its floor.
		{"cavity", mesh.Merge(block(0, 0, 0, 30, 30, 30), inside(block(5, 5, 5, 25, 25, 25))), 45, 8000, 400, 400, false},
	} {
		for _, turn := range []float64{0, 33, 90} {
			// The tolerance is 1/1000 of all the space below overhangs.
			m := moved(turned(c.m, mesh.Vec{0, 0, 1}, turn), 300*turn, -70*turn, turn)
			s := asGiven(t, m, c.angle*math.Pi/180, 0)
			share := 1e-3
			if c.exact {
				share = 1e-6
			}
			within(t, c.name+", volume", s.SupportVolume, c.volume, 1e-6+share*c.volume)
			if c.area >= 0 {
				within(t, c.name+", area", s.SupportedArea, c.area, 1e-6+share*c.area)
			}
			within(t, c.name+", stands on", s.StandArea, c.stands, 1e-6+share*c.stands)
		}
	}
}

// inside turns a body into a cavity.
func inside(m *mesh.Mesh) *mesh.Mesh {
	for i, f := range m.F {
		m.F[i] = [3]int32{f[0], f[2], f[1]}
	}
	return m
}

// How a body stands (COMPUTED): the nearest edge's distance over the height of
// the centre of mass.
func TestStanding(t *testing.T) {
	for _, c := range []struct {
		name             string
		m                *mesh.Mesh
		contact, tipping float64
	}{
		{"block", block(0, 0, 0, 10, 20, 30), 200, math.Atan(5.0 / 15)},
		{"plate", block(0, 0, 0, 100, 20, 2), 2000, math.Atan(10.0 / 1)},
		// A cone's centre is a quarter up.
		{"cone", cone(10, 20, 720), 100 * math.Pi, math.Atan(10.0 / 5)},
		{"table", table(60, 40, 30, 5, 5), 100, math.Atan(20 / ((60*40*5*27.5 + 4*25*25*12.5) / (60*40*5 + 4*25*25)))},
		// A leaning prism: its centre is over x = 15, 5 past the foot of 10.
		{"leaning", raised([]point{{0, 0}, {10, 0}, {30, 20}, {20, 20}}, 10), 100, math.Atan(-5.0 / 10)},
	} {
		s := asGiven(t, c.m, x45, 0)
		within(t, c.name+", contact", s.Contact, c.contact, 2e-4*c.contact)
		within(t, c.name+", tipping", s.Tipping, c.tipping, 1e-4)
	}
}

// How far sampled columns are off: a board over a base and a third one between
// them in part, all sizes at random, turned at random about the vertical. Of
// the board's shadow some reaches the platform, some stands (COMPUTED: overlaps
// of rectangles). The error is a share of the space below the board as if it
// were empty, the figure that is corrected.
func TestSampling(t *testing.T) {
	rnd := rand.New(rand.NewPCG(8, 8))
	worst, squares := 0.0, 0.0
	const cases = 60
	for range cases {
		side := func() (a, b float64) { a = 50 * rnd.Float64(); return a, a + 5 + 45*rnd.Float64() }
		x0, x1 := side()
		y0, y1 := side()
		u0, u1 := side()
		v0, v1 := side()
		base, top := 2+20*rnd.Float64(), 30+30*rnd.Float64()
		m := mesh.Merge(block(u0, v0, 0, u1, v1, base), block(x0, y0, top, x1, y1, top+3))
		lap := max(0, min(x1, u1)-max(x0, u0)) * max(0, min(y1, v1)-max(y0, v0))
		area := (x1 - x0) * (y1 - y0)
		m = turned(m, mesh.Vec{0, 0, 1}, 360*rnd.Float64())
		s := asGiven(t, m, x45, 0)
		off := max(math.Abs(s.SupportVolume-(area*top-lap*base))/(area*top), math.Abs(s.StandArea-lap)/area)
		within(t, "area", s.SupportedArea, area, 1e-5)
		worst = max(worst, off)
		squares += off * off
	}
	t.Logf("off by %.5f %% on average (root mean square), %.5f %% at most", 100*math.Sqrt(squares/cases), 100*worst)
	if worst > 2e-3 {
		t.Errorf("off by %g", worst)
	}
}
