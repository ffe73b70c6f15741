package region

import (
	"math"
	"math/rand"
	"testing"
)

func TestSmoke(t *testing.T) {
	sq := Ring{{0, 0}, {10000, 0}, {10000, 10000}, {0, 10000}}
	r := Nonzero(sq)
	t.Log(r, r.Area())
	g := r.Offset(1000, Round, 5)
	t.Log(len(g[0]), g.Area(), 100+40+math.Pi)
	for _, j := range []Join{Round, Mitre, Square} {
		t.Log(r.Offset(1000, j, 5).Area(), r.Offset(-1000, j, 5).Area())
	}
	rng := rand.New(rand.NewSource(1))
	for i := range 4000 {
		size := []int{4, 8, 20, 100}[i%4]
		rnd := func() Region {
			var out Region
			for range 1 + rng.Intn(3) {
				var ring Ring
				for range 3 + rng.Intn(8) {
					ring = append(ring, Point{Micron(rng.Intn(size)), Micron(rng.Intn(size))})
				}
				out = append(out, ring)
			}
			return out
		}
		a, b := rnd(), rnd()
		res := []Region{Nonzero(a...), Nonzero(b...), Union(a, b), Intersect(a, b), Subtract(a, b), Xor(a, b), a.Offset(2, Round, 1), a.Offset(-2, Mitre, 1)}
		for k, x := range res {
			if err := Valid(x); err != nil {
				t.Fatal(k, err, a, b, x)
			}
			if k < 6 {
				y := Nonzero(x...)
				if !same(x, y) {
					t.Fatal(k, "not a fixed point", a, b, x, y)
				}
			}
			var sum float64
			for _, is := range x.Islands() {
				if is.Area() <= 0 {
					t.Fatal("island")
				}
				sum += is.Area()
			}
			if math.Abs(sum-x.Area()) > 1e-9 {
				t.Fatal(sum, x.Area(), x)
			}
		}
	}
}

func same(a, b Region) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range a {
		if len(a[i]) != len(b[i]) {
			return false
		}
		for j := range a[i] {
			if a[i][j] != b[i][j] {
				return false
			}
		}
	}
	return true
}
