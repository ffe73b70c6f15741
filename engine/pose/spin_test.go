package pose

import (
	"math"
	"math/rand/v2"
	"testing"

	"platebook/engine/mesh"
)

// Rectangles by closed form. A rectangle w × d turned by θ is w·cos θ + d·sin θ
// wide, which is R·cos(θ−β) with R its diagonal and tan β = d/w: it comes down
// to W at θ = β + acos(W/R) (COMPUTED).
func TestSpinRectangles(t *testing.T) {
	deg := math.Pi / 180
	first := func(w, d, room float64) float64 { return math.Atan(d/w) + math.Acos(room/math.Hypot(w, d)) }
	for _, c := range []struct {
		name        string
		w, d, W, D  float64
		angle       float64
		ok          bool
		alreadyTurn float64 // degrees
	}{
		{"as it is", 100, 50, 120, 60, 0, true, 0},
		{"just as it is", 100, 50, 100, 50, 0, true, 0},
		{"a quarter turn", 100, 50, 50, 100, math.Pi / 2, true, 0},
		{"along the diagonal", 130, 5, 100, 100, first(130, 5, 100), true, 0},
		// (w+d)/√2 is the smallest square a long rectangle fits: here at 45° only.
		{"diagonal, just", 130, 100*math.Sqrt2 - 130, 100, 100, math.Pi / 4, true, 0},
		{"diagonal, just not", 130, 100*math.Sqrt2 - 130 + 1e-4, 100, 100, 0, false, 0},
		{"too long", 150, 1, 100, 100, 0, false, 0},
		{"too large", 101, 101, 100, 100, 0, false, 0},
		{"turned back", 100, 50, 100, 50, -30 * deg, true, 30},
		{"turned on", 100, 50, 100, 50, 30 * deg, true, -30},
		{"turned far", 100, 50, 100, 50, 70 * deg, true, 110},
		{"no room", 1, 1, 0, 10, 0, false, 0},
		{"no number", 1, 1, math.NaN(), 10, 0, false, 0},
		{"endless", 1e6, 1e6, math.Inf(1), math.Inf(1), 0, true, 0},
	} {
		m := moved(turned(block(0, 0, 0, c.w, c.d, 7), mesh.Vec{0, 0, 1}, c.alreadyTurn), 40, -900, 3)
		angle, ok := Spin(m, [2]float64{c.W, c.D})
		if ok != c.ok {
			t.Errorf("%s: %v, want %v", c.name, ok, c.ok)
			continue
		}
		within(t, c.name, angle, c.angle, 2e-5) // near 45° a nanometre of overhang is a lot of angle
	}
	if angle, ok := Spin(&mesh.Mesh{}, [2]float64{1, 1}); angle != 0 || !ok {
		t.Error("an empty mesh fits nowhere")
	}
}

// A rectangle p × q, p ≥ q, fits into a × b, a ≥ b, if and only if p ≤ a and
// q ≤ b, or p > a, q ≤ b and b ≥ (2pqa + (p²−q²)·√(p²+q²−a²)) / (p²+q²).
// Source: W. B. Carver, American Mathematical Monthly 64 (1957) 114–116, as in
// Wetzel, Mathematics Magazine 73 (2000) (MEMORY).
func TestSpinAgainstCarver(t *testing.T) {
	rnd := rand.New(rand.NewPCG(3, 1))
	fitting, by := 0, 0
	for range 4000 {
		a, b := 100+100*rnd.Float64(), 100*rnd.Float64()+1
		p := a * (0.8 + 0.4*rnd.Float64())
		q := b * (0.02 + rnd.Float64())
		if q > p || b > a {
			continue
		}
		want := p <= a && q <= b
		if p > a && q <= b {
			least := (2*p*q*a + (p*p-q*q)*math.Sqrt(p*p+q*q-a*a)) / (p*p + q*q)
			if math.Abs(b-least) < 1e-4 {
				continue
			}
			want = b >= least
			by++
		}
		_, ok := spin([]point{{0, 0}, {p, 0}, {p, q}, {0, q}}, [2]float64{a, b})
		if ok != want {
			t.Fatalf("%g × %g into %g × %g: %v, by Carver %v", p, q, a, b, ok, want)
		}
		if ok {
			fitting++
		}
	}
	if fitting < 500 || by < 500 {
		t.Fatalf("only %d fit, %d not straight", fitting, by)
	}
}

// Convex outlines against every angle in steps of a fiftieth of a degree.
func TestSpinAgainstBruteForce(t *testing.T) {
	rnd := rand.New(rand.NewPCG(7, 7))
	turnedOnes, none := 0, 0
	for range 250 {
		var pts []point
		for range 3 + rnd.IntN(12) {
			pts = append(pts, point{100 * rnd.NormFloat64(), 30 * rnd.NormFloat64()})
		}
		hull := outline(pts)
		w, d := extents(hull, point{1, 0})
		platform := [2]float64{w * (0.8 + 0.3*rnd.Float64()), d * (0.9 + 1.5*rnd.Float64())}
		angle, ok := spin(hull, platform)
		best := math.Inf(1)
		const step = math.Pi / 9000
		for k := range 4500 {
			for _, a := range [2]float64{float64(k) * step, -float64(k) * step} {
				// Turned by plain trigonometry.
				s, c := math.Sincos(a)
				x0, x1, y0, y1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
				for _, p := range hull {
					x, y := c*p[0]-s*p[1], s*p[0]+c*p[1]
					x0, x1, y0, y1 = min(x0, x), max(x1, x), min(y0, y), max(y1, y)
				}
				if x1-x0 <= platform[0] && y1-y0 <= platform[1] && math.Abs(a) < math.Abs(best) {
					best = a
				}
			}
		}
		switch {
		case !math.IsInf(best, 0) && (!ok || math.Abs(angle) > math.Abs(best)+1e-8):
			t.Fatalf("fits at %g, said %g %v: %v in %v", best, angle, ok, hull, platform)
		case ok:
			w, d := extents(hull, along(angle))
			if w > platform[0]+1e-5 || d > platform[1]+1e-5 {
				t.Fatalf("does not fit at %g: %g × %g in %v", angle, w, d, platform)
			}
			// It is the smallest: brute force finds none a step or more before.
			if math.Abs(best) < math.Abs(angle)-step {
				t.Fatalf("said %g, but %g fits", angle, best)
			}
			if angle != 0 {
				turnedOnes++
			}
		default:
			none++
		}
	}
	if turnedOnes < 40 || none < 40 {
		t.Fatalf("%d turned, %d do not fit: no test", turnedOnes, none)
	}
}

// The smallest rectangle around an outline against every angle; the depth of a
// point against the distance to points along the edges.
func TestOutlines(t *testing.T) {
	rnd := rand.New(rand.NewPCG(2, 9))
	for range 100 {
		var pts []point
		for range 1 + rnd.IntN(30) {
			pts = append(pts, point{math.Round(20 * rnd.NormFloat64()), math.Round(9 * rnd.NormFloat64())})
		}
		hull := outline(pts)
		for i := range hull {
			a, b := hull[i], hull[(i+1)%len(hull)]
			for _, p := range pts {
				if len(hull) > 2 && b.sub(a).left().dot(p.sub(a)) < -1e-9 {
					t.Fatalf("%v is outside of the outline %v", p, hull)
				}
			}
		}
		u := snug(hull)
		w, d := extents(hull, u)
		if w < d-1e-9 {
			t.Errorf("%g × %g lies across", w, d)
		}
		for k := range 1800 {
			s, c := math.Sincos(float64(k) * math.Pi / 1800)
			if bw, bd := extents(hull, point{c, s}); bw*bd < w*d*(1-1e-9)-1e-9 {
				t.Fatalf("%g × %g is not the smallest: %g × %g", w, d, bw, bd)
			}
		}
		p := point{20 * rnd.NormFloat64(), 9 * rnd.NormFloat64()}
		near := math.Inf(1)
		for i, a := range hull {
			e := hull[(i+1)%len(hull)].sub(a)
			for k := range 1001 {
				q := p.sub(a).sub(point{e[0] * float64(k) / 1000, e[1] * float64(k) / 1000})
				near = min(near, math.Hypot(q[0], q[1]))
			}
		}
		within(t, "depth", math.Abs(depth(hull, p)), near, 0.1)
	}
}
