package likeness

import (
	"math"
	"testing"

	"platebook/engine/mesh"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.9g, want %.9g", what, got, want)
	}
}

func surfaceFor(t testing.TB, m *mesh.Mesh) *surface {
	t.Helper()
	s, err := surfaceOf(m)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSecondMoments: the axes of the covariance over volume^(2/3), closed forms:
// of a ball (R²/5)/(4πR³/3)^(2/3), of a box of sides a the row a²/12/(abc)^(2/3).
func TestSecondMoments(t *testing.T) {
	sphere := 1.0 / 5 / math.Pow(4*math.Pi/3, 2.0/3)
	near(t, "formula of the ball", sphere, 0.0769669, 5e-8)
	for _, row := range []struct {
		name      string
		m         *mesh.Mesh
		axes      [3]float64
		tolerance float64
	}{
		{"unit cube", box(1, 1, 1), [3]float64{0.0833333333, 0.0833333333, 0.0833333333}, 1e-9},
		{"cube far away", moved(box(7, 7, 7), 1e4, -1e4, 1e4), [3]float64{0.0833333333, 0.0833333333, 0.0833333333}, 1e-9},
		{"box 1×2×4", box(2, 1, 4), [3]float64{16.0 / 48, 4.0 / 48, 1.0 / 48}, 1e-9},
		{"ball", ball(3, 64), [3]float64{sphere, sphere, sphere}, 2e-6}, // of 32 768 facets
		{"cube inside out", inside(box(1, 1, 1)), [3]float64{1.0 / 12, 1.0 / 12, 1.0 / 12}, 1e-9},
	} {
		sd, ok := surfaceFor(t, row.m).solid()
		if !ok {
			t.Errorf("%s encloses nothing", row.name)
		}
		for k := range 3 {
			near(t, row.name, sd.axes[k], row.axes[k], row.tolerance)
		}
	}
}

func inside(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: m.V}
	for _, f := range m.F {
		r.F = append(r.F, [3]int32{f[0], f[2], f[1]})
	}
	return r
}

// TestThirdMoments: of the tetrahedron with corners at the origin and the ends
// of the unit axes, about its centroid, E[x³] etc. are those of the Dirichlet
// distribution with four ones (n = 4): skews 2·μ3; COMPUTED from its moments
// E[x]=1/4, E[x²]=1/10, E[xy]=1/20, E[x³]=1/20, E[x²y]=1/60, E[xyz]=1/120.
func TestThirdMoments(t *testing.T) {
	m := &mesh.Mesh{
		V: []mesh.Vec{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
		F: [][3]int32{{0, 2, 1}, {0, 1, 3}, {0, 3, 2}, {1, 2, 3}},
	}
	const (
		xxx = 1.0/20 - 3*1.0/4*1.0/10 + 2*1.0/64
		xxy = 1.0/60 - 1.0/4*1.0/10 - 2*1.0/4*1.0/20 + 2*1.0/64
		xyz = 1.0/120 - 3*1.0/4*1.0/20 + 2*1.0/64
	)
	s := surfaceFor(t, m)
	sd, ok := s.solid()
	if !ok {
		t.Fatal("a tetrahedron encloses nothing")
	}
	// third is ∫/V², that is E/V, and V of the file is 1/6.
	want := [10]float64{xxx, xxx, xxx, xxy, xxy, xxy, xxy, xxy, xxy, xyz}
	for i := range want {
		near(t, "third moment", sd.third[i]/6, want[i], 1e-12)
	}
	// Degree 1 is 3/5 of |v|² with v the traces; both degrees together are all.
	v := xxx + 2*xxy
	all := 3*xxx*xxx + 18*xxy*xxy + 6*xyz*xyz
	one, three := sd.lopsided()
	near(t, "degree 1", one/6, math.Sqrt(0.6*3*v*v), 1e-12)
	near(t, "degree 3", three/6, math.Sqrt(all-0.6*3*v*v), 1e-12)
}

// TestOpen: a surface with a hole to speak of encloses nothing, a sheet neither.
func TestOpen(t *testing.T) {
	cup := box(1, 1, 1)
	cup.F = cup.F[:10]
	sheet := mesh.Merge(&mesh.Mesh{V: cup.V, F: cup.F[:2]}, inside(&mesh.Mesh{V: cup.V, F: cup.F[:2]}))
	pierced := ball(1, 64)
	pierced.F = pierced.F[1:]
	for _, row := range []struct {
		name string
		m    *mesh.Mesh
		want bool
	}{{"box", box(1, 2, 3), true}, {"box without a face", cup, false}, {"sheet from both sides", sheet, false}, {"ball less one facet of 32 768", pierced, true}} {
		if _, ok := surfaceFor(t, row.m).solid(); ok != row.want {
			t.Errorf("%s encloses a volume: %v", row.name, ok)
		}
	}
}

// TestPrincipal: eigenvalues against the characteristic polynomial (symmetric
// functions of the matrix), vectors against the definition.
func TestPrincipal(t *testing.T) {
	for _, m := range []matrix{
		{{2, 0, 0}, {0, 3, 0}, {0, 0, 1}},
		{{4, 1, -2}, {1, 2, 0.5}, {-2, 0.5, 3}},
		{{1, 1, 1}, {1, 1, 1}, {1, 1, 1}},
		{{1e-9, 1, 0}, {1, 0, 0}, {0, 0, 0}},
		{},
	} {
		e, axes := m.principal()
		near(t, "trace", e[0]+e[1]+e[2], m[0][0]+m[1][1]+m[2][2], 1e-12)
		r := [3]mesh.Vec{m[0], m[1], m[2]}
		near(t, "determinant", e[0]*e[1]*e[2], r[0].Dot(r[1].Cross(r[2])), 1e-12)
		if e[0] < e[1] || e[1] < e[2] {
			t.Errorf("%v: out of order", e)
		}
		for k, x := range axes {
			got := mesh.Vec{r[0].Dot(x), r[1].Dot(x), r[2].Dot(x)}
			near(t, "M·x = e·x", got.Sub(x.Scale(e[k])).Len(), 0, 1e-12)
		}
		near(t, "right-handed", axes[0].Dot(axes[1].Cross(axes[2])), 1, 1e-12)
	}
}

func TestCubeRoot(t *testing.T) {
	for _, x := range []float64{1e-12, 1e-4, 0.125, 1, 2, 27, 1e6, 1e300} {
		near(t, "cube root", cubeRoot(x)/math.Cbrt(x), 1, 1e-15)
	}
}
