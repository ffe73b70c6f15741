package region

import (
	"fmt"
	"math"
	"math/rand"
	"strings"
	"testing"
)

// A kind makes rings that are hard in one way.
type kind struct {
	name string
	make func(rng *rand.Rand) Region
}

// kinds of input, from plain to nasty. On the lattices everything overlaps:
// edges share lines, vertices lie on edges, rings repeat.
var kinds = []kind{
	{"plain", func(rng *rand.Rand) Region { return rings(rng, 1+rng.Intn(3), 3+rng.Intn(20), 80_000, 1) }},
	{"lattice 1", func(rng *rand.Rand) Region { return rings(rng, 1+rng.Intn(4), 3+rng.Intn(8), 20, 1) }},
	{"lattice 1000", func(rng *rand.Rand) Region { return rings(rng, 1+rng.Intn(4), 3+rng.Intn(8), 10, 1000) }},
	{"dense", func(rng *rand.Rand) Region { return rings(rng, 2, 20, 5000, 1) }},
	{"full range", func(rng *rand.Rand) Region { return rings(rng, 1+rng.Intn(2), 3+rng.Intn(8), 1<<30, 1) }},
	{"spikes", func(rng *rand.Rand) Region {
		r := rings(rng, 2, 6, 12, 997)
		for i := range r {
			a, b := r[i][1], r[i][2]
			r[i] = append(r[i], r[i][0], a, b, a, a) // there and back, and twice
		}
		return r
	}},
	{"repeated", func(rng *rand.Rand) Region {
		r := rings(rng, 2, 5, 12, 1003)
		back := Ring{}
		for i := range r[0] {
			back = append(back, r[0][len(r[0])-1-i])
		}
		return append(r, r[1], r[0], back, r[1])
	}},
	{"round", func(rng *rand.Rand) Region {
		n := 3 + rng.Intn(60)
		var ring Ring
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			radius := 5000 + float64(rng.Intn(20000))
			ring = append(ring, Point{Micron(radius * c), Micron(radius * s)})
		}
		return Region{ring}
	}},
	{"fillets", func(rng *rand.Rand) Region { // bars with round ends of many facets
		var r Region
		for range 1 + rng.Intn(3) {
			radius := 50 + 300*rng.Float64()
			x, y := Micron(rng.Intn(2000)), Micron(rng.Intn(2000))
			long, wide := Micron(200+rng.Intn(4000)), Micron(radius)
			dx, dy, wx, wy := long, Micron(0), Micron(0), wide
			if rng.Intn(2) == 0 {
				dx, dy, wx, wy = 0, long, wide, 0
			}
			for _, p := range []Point{{x, y}, {x + dx, y + dy}} {
				end := ngon(8+rng.Intn(200), radius)
				for i := range end {
					end[i] = Point{end[i].X + p.X, end[i].Y + p.Y}
				}
				r = append(r, end)
			}
			r = append(r, Nonzero(Ring{
				{x - wx, y - wy}, {x + dx - wx, y + dy - wy}, {x + dx + wx, y + dy + wy}, {x + wx, y + wy},
			})[0])
		}
		return r
	}},
	{"chamfers", func(rng *rand.Rand) Region { // corners cut off by a few short edges
		var r Ring
		for q, c := range rect(0, 0, 3000+Micron(rng.Intn(3000)), 3000+Micron(rng.Intn(3000))) {
			n := 1 + rng.Intn(4)
			a, b := float64(50+rng.Intn(1000)), float64(50+rng.Intn(1000))
			for i := range n + 1 { // on a quarter of an ellipse
				s, co := math.Sincos(math.Pi + math.Pi/2*(float64(q)+math.Pow(float64(i)/float64(n), 1.5)))
				centre := [][2]float64{{1, 1}, {-1, 1}, {-1, -1}, {1, -1}}[q]
				r = append(r, Point{c.X + Micron(a*(centre[0]+co)), c.Y + Micron(b*(centre[1]+s))})
			}
		}
		return Region{r}
	}},
	{"comb", func(rng *rand.Rand) Region {
		var ring Ring
		n := 3 + rng.Intn(10)
		for i := range Micron(n) {
			ring = append(ring, Point{1000 * i, Micron(rng.Intn(1000))}, Point{1000*i + 1 + Micron(rng.Intn(999)), 20_000})
		}
		return Region{append(ring, Point{1000 * Micron(n), -5000}, Point{0, -5000})}
	}},
}

// rings makes n rings of k points on a lattice of size by size steps.
func rings(rng *rand.Rand, n, k, size int, step Micron) Region {
	var r Region
	for range n {
		var ring Ring
		for range k {
			ring = append(ring, Point{
				step * Micron(rng.Intn(size)-size/2), step * Micron(rng.Intn(size)-size/2),
			})
		}
		r = append(r, ring)
	}
	return r
}

// show writes a region so that it can be pasted into a test.
func show(r Region) string { return strings.ReplaceAll(fmt.Sprintf("%v", r), " ", ",") }

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

// length returns the length of all edges of all rings in mm, crossing or not.
func length(rs ...Region) float64 {
	sum := 0.0
	for _, r := range rs {
		sum += r.Perimeter()
	}
	return sum
}

// winding returns the winding number of r around (x, y) and the distance to the
// nearest edge in µm, in the plainest way.
func winding(r Region, x, y float64) (n int, far float64) {
	far = math.Inf(1)
	for _, ring := range r {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			px, py, qx, qy := float64(p.X)-x, float64(p.Y)-y, float64(q.X)-x, float64(q.Y)-y
			side := px*qy - py*qx
			switch {
			case py <= 0 && qy > 0 && side > 0:
				n++
			case qy <= 0 && py > 0 && side < 0:
				n--
			}
			dx, dy := qx-px, qy-py
			s := 0.0
			if dx != 0 || dy != 0 {
				s = max(0, min(1, -(px*dx+py*dy)/(dx*dx+dy*dy)))
			}
			far = min(far, math.Hypot(px+s*dx, py+s*dy))
		}
	}
	return n, far
}

// sound fails the test unless r is canonical, a fixed point and the sum of its
// islands.
func sound(t testing.TB, what string, r Region) {
	t.Helper()
	if err := Valid(r); err != nil {
		t.Fatalf("%s: %v: %s", what, err, show(r))
	}
	if again := Nonzero(r...); !same(r, again) {
		t.Fatalf("%s: not a fixed point: %s becomes %s", what, show(r), show(again))
	}
	sum, rings := 0.0, 0
	for _, island := range r.Islands() {
		if a := island[0].twice(); a <= 0 {
			t.Fatalf("%s: an island begins with a hole: %s", what, show(r))
		}
		for _, hole := range island[1:] {
			if hole.twice() >= 0 {
				t.Fatalf("%s: an island has two outer rings: %s", what, show(r))
			}
		}
		if island.Area() <= 0 {
			t.Fatalf("%s: a hole is in the wrong island: %s", what, show(r))
		}
		sum += island.Area()
		rings += len(island)
	}
	if rings != len(r) || math.Abs(sum-r.Area()) > 1e-9*(1+sum) {
		t.Fatalf("%s: islands have %d rings, %g mm² of %d, %g: %s", what, rings, sum, len(r), r.Area(), show(r))
	}
}

// ops are the booleans, each with what it says of two windings.
var ops = []struct {
	name string
	do   func(a, b Region) Region
	is   func(a, b bool) bool
}{
	{"union", func(a, b Region) Region { return Union(a, b) }, func(a, b bool) bool { return a || b }},
	{"intersect", Intersect, func(a, b bool) bool { return a && b }},
	{"subtract", Subtract, func(a, b bool) bool { return a && !b }},
	{"xor", Xor, func(a, b bool) bool { return a != b }},
}

// booleans fails the test unless every operation on a and b is sound and agrees,
// away from edges, with the windings of the input counted one by one.
func booleans(t testing.TB, a, b Region, rng *rand.Rand) {
	t.Helper()
	box := append(append(Region{}, a...), b...).Bounds()
	for _, op := range ops {
		r := op.do(a, b)
		sound(t, fmt.Sprintf("%s of %s and %s", op.name, show(a), show(b)), r)
		for range 10 {
			x := float64(box.Min.X) + rng.Float64()*float64(box.Max.X-box.Min.X)
			y := float64(box.Min.Y) + rng.Float64()*float64(box.Max.Y-box.Min.Y)
			na, fa := winding(a, x, y)
			nb, fb := winding(b, x, y)
			if fa < 1.5 || fb < 1.5 {
				continue
			}
			if nr, _ := winding(r, x, y); (nr != 0) != op.is(na != 0, nb != 0) {
				t.Fatalf("%s of %s and %s is wrong at %g, %g: %s", op.name, show(a), show(b), x, y, show(r))
			}
		}
	}
}

func TestBooleansOnRandom(t *testing.T) {
	for i, k := range kinds {
		t.Run(k.name, func(t *testing.T) {
			rng := rand.New(rand.NewSource(int64(i)))
			for range 40 {
				booleans(t, k.make(rng), k.make(rng), rng)
			}
		})
	}
}

// A grown region holds what lies within d of the region, a shrunk one what lies
// farther than that from everything outside (definition of Minkowski sum and
// erosion with a disc). Round joins lie within arc of it.
func TestOffsetOnRandom(t *testing.T) {
	for i, k := range kinds {
		if k.name == "full range" {
			continue // the tolerance of a distance of that size is below float64
		}
		t.Run(k.name, func(t *testing.T) {
			rng := rand.New(rand.NewSource(int64(100 + i)))
			for range 40 {
				r := Nonzero(k.make(rng)...)
				box := r.Bounds()
				size := max(box.Max.X-box.Min.X, box.Max.Y-box.Min.Y)
				d := 1 + Micron(rng.Int63n(int64(size)/4+2))
				arc := 1 + Micron(rng.Intn(5))
				for _, sign := range []Micron{1, -1} {
					out := r.Offset(sign*d, Round, arc)
					sound(t, fmt.Sprintf("offset %d %d of %s", sign*d, arc, show(r)), out)
					for k := range 40 {
						x := float64(box.Min.X-d) + rng.Float64()*float64(size+2*d)
						y := float64(box.Min.Y-d) + rng.Float64()*float64(size+2*d)
						if k > 20 && len(out) > 0 { // near a corner of the result
							ring := out[rng.Intn(len(out))]
							p := ring[rng.Intn(len(ring))]
							x = float64(p.X) + float64(d)*0.1*rng.NormFloat64()
							y = float64(p.Y) + float64(d)*0.1*rng.NormFloat64()
						}
						n, far := winding(r, x, y)
						if math.Abs(far-float64(d)) < 2.5+float64(arc) {
							continue
						}
						want := n != 0 || far < float64(d)
						if sign < 0 {
							want = n != 0 && far > float64(d)
						}
						if got, _ := winding(out, x, y); (got != 0) != want {
							t.Fatalf("offset %d %d of %s is wrong at %g, %g, %g from an edge: %s",
								sign*d, arc, show(r), x, y, far, show(out))
						}
					}
				}
			}
		})
	}
}
