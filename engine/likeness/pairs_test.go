package likeness

import (
	"math"
	"testing"

	"platebook/engine/mesh"
)

// meanPair is the mean distance of pairs in units of the mesh.
func meanPair(t *testing.T, m *mesh.Mesh) float64 {
	s := surfaceFor(t, m)
	span, _ := pairs(s.sample(nDots))
	mean := 0.0
	for _, x := range span {
		mean += x / nSpan
	}
	// The frame's unit is what the box of the mesh shrank by.
	low, high := s.v[0], s.v[0]
	for _, p := range s.v {
		for k := range p {
			low[k], high[k] = min(low[k], p[k]), max(high[k], p[k])
		}
	}
	return mean * mesh.Measure(m).Box.Size().Len() / high.Sub(low).Len()
}

// TestSpan: mean distances of pairs of points of a surface. Sphere: 4R/3
// (Solomon 1978 and others). Unit cube: 0.8590, COMPUTED: faces that are the
// same, next to or opposite each other, one time in six, four and one.
func TestSpan(t *testing.T) {
	// To 1 in 1000: the sieve of pairs is a little short of the closest ones.
	near(t, "sphere of radius 3", meanPair(t, ball(3, 64)), 4, 4e-3)
	near(t, "unit cube", meanPair(t, box(1, 1, 1)), 0.8590, 0.86e-3)
	// Root mean square of pair distances is √2 radii of gyration, whatever the shape.
	for _, m := range []*mesh.Mesh{ball(1, 16), box(1, 2, 9), ell(), stair(20, 0.3, 1)} {
		span, _ := pairs(surfaceFor(t, m).sample(nDots))
		sum := 0.0
		for _, x := range span {
			sum += x * x / nSpan
		}
		near(t, "mean square, less what the slices hide", sum, 2, 0.01)
	}
}

// TestReach: the distance from the centroid is R on a sphere; its mean over the
// faces of a cube is COMPUTED by midpoints.
func TestReach(t *testing.T) {
	for _, x := range reach(surfaceFor(t, ball(5, 64)).sample(nDots)) {
		near(t, "sphere", x, 1, 1e-3)
	}
	const n = 400 // midpoints of the face z = 1
	sum, square := 0.0, 0.0
	for i := range n {
		for j := range n {
			x, y := (float64(i)+0.5)/n, (float64(j)+0.5)/n
			sum += math.Sqrt(x*x + y*y + 1)
			square += x*x + y*y + 1
		}
	}
	want := sum / (n * n) / math.Sqrt(square/(n*n))
	got := 0.0
	for _, x := range reach(surfaceFor(t, box(2, 2, 2)).sample(nDots)) {
		got += x / nReach
	}
	near(t, "cube", got, want, 1e-3)
}

// TestHarmonics: the sum over m of Y(p)Y(q) is Legendre's P of the angle
// (addition theorem), with P1 … P6 spelt out (Abramowitz and Stegun 22.3).
func TestHarmonics(t *testing.T) {
	legendre := [nDegrees + 1]func(x float64) float64{
		func(x float64) float64 { return 1 },
		func(x float64) float64 { return x },
		func(x float64) float64 { return (3*x*x - 1) / 2 },
		func(x float64) float64 { return (5*x*x*x - 3*x) / 2 },
		func(x float64) float64 { return (35*math.Pow(x, 4) - 30*x*x + 3) / 8 },
		func(x float64) float64 { return (63*math.Pow(x, 5) - 70*x*x*x + 15*x) / 8 },
		func(x float64) float64 { return (231*math.Pow(x, 6) - 315*math.Pow(x, 4) + 105*x*x - 5) / 16 },
	}
	for _, row := range [][2]mesh.Vec{
		{{1, 0, 0}, {0, 0, 1}}, {{0, 0, 1}, {0, 0, -1}}, {{0.6, 0, 0.8}, {0, -0.6, 0.8}}, {{2. / 3, -2. / 3, 1. / 3}, {-0.48, 0.6, 0.64}},
	} {
		p, q := harmonics(row[0][0], row[0][1], row[0][2]), harmonics(row[1][0], row[1][1], row[1][2])
		for l := range nDegrees + 1 {
			sum := 0.0
			for k := l * l; k < (l+1)*(l+1); k++ {
				sum += p[k] * q[k]
			}
			near(t, "addition theorem", sum, legendre[l](row[0].Dot(row[1])), 1e-13)
		}
	}
}

// TestSample: every face of a box gets points by its area, to one point, and
// every point lies on the surface with its normal.
func TestSample(t *testing.T) {
	m := box(1, 2, 4)
	s := surfaceFor(t, m)
	unit := s.v[7].Sub(s.v[0]).Len() / math.Sqrt(21)
	dots := s.sample(4096)
	var count [3]float64
	for _, d := range dots {
		on := false
		for k, n := range d.n {
			if math.Abs(math.Abs(n)-1) < 1e-12 {
				count[k]++
				on = math.Abs(math.Abs(d.p[k])-s.v[7][k]) < 1e-12*unit+1e-12
			}
		}
		if !on {
			t.Fatalf("%v is off the surface", d)
		}
	}
	for k, area := range []float64{8, 4, 2} {
		near(t, "points of a pair of faces", count[k], 4096*area/14, 4)
	}
}
