package mesh

import (
	"math"
	"testing"
)

// Against the standard library, which may differ in the last digit.
func TestSincos(t *testing.T) {
	for i := -2000; i <= 2000; i++ {
		x := float64(i) * 0.0137
		s, c := sincos(x)
		ws, wc := math.Sincos(x)
		if math.Abs(s-ws) > 1e-15 || math.Abs(c-wc) > 1e-15 {
			t.Fatalf("sincos(%g) = %.17g, %.17g; math says %.17g, %.17g", x, s, c, ws, wc)
		}
	}
}

func TestAffine(t *testing.T) {
	p := Vec{1, 2, 3}
	for _, c := range []struct {
		name string
		t    Affine
		want Vec
		det  float64
	}{
		{"stay", Identity(), p, 1},
		{"move", Translate(Vec{1, -1, 0.5}), Vec{2, 1, 3.5}, 1},
		{"a quarter turn about z", Turn(Vec{0, 0, 9}, math.Pi/2), Vec{-2, 1, 3}, 1},
		{"a third of a turn about the diagonal", Turn(Vec{1, 1, 1}, 2*math.Pi/3), Vec{3, 1, 2}, 1},
		{"about no axis", Turn(Vec{}, 1), p, 1},
		{"mirror", Scale(Vec{1, 1, -1}), Vec{1, 2, -3}, -1},
		{"scale, then move", Scale(Vec{2, 2, 2}).Then(Translate(Vec{1, 0, 0})), Vec{3, 4, 6}, 8},
		{"move, then scale", Translate(Vec{1, 0, 0}).Then(Scale(Vec{2, 2, 2})), Vec{4, 4, 6}, 8},
	} {
		if got := c.t.Apply(p); got.Sub(c.want).Len() > 1e-14 || math.Abs(c.t.Determinant()-c.det) > 1e-14 {
			t.Errorf("%s: %v, determinant %g", c.name, got, c.t.Determinant())
		}
	}
}

func TestBodies(t *testing.T) {
	cube, hole := cuboid(10, 10, 10), inverted(moved(cuboid(2, 2, 2), 4, 4, 4))
	got := Bodies(Merge(cube, hole, moved(cube, 20, 0, 0), moved(cuboid(1, 1, 1), 4.5, 4.5, 4.5)))
	want := []float64{992, 1000, 1}
	if len(got) != len(want) {
		t.Fatalf("%d bodies, want %d", len(got), len(want))
	}
	for i, b := range got {
		if v := Measure(b).Volume; math.Abs(v-want[i]) > 1e-9 || Closed(b) != nil {
			t.Errorf("body %d: volume %g, want %g", i, v, want[i])
		}
	}
}
