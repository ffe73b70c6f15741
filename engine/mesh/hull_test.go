package mesh

import (
	"fmt"
	"math"
	"math/rand"
	"testing"

	"platebook/internal/oracle"
)

// validHull is what any hull must be: closed, of Euler characteristic 2, with
// every corner one of the points and every point on or below every facet.
func validHull(points, v []Vec, f [][3]int32) error {
	extent := 0.0
	given := map[Vec]bool{}
	for _, p := range points {
		given[p] = true
		extent = math.Max(extent, p.Sub(points[0]).Len())
	}
	for _, p := range v {
		if !given[p] {
			return fmt.Errorf("corner %v is not a point", p)
		}
	}
	edges := map[[2]int32]int{}
	for _, g := range f {
		a, b, c := v[g[0]], v[g[1]], v[g[2]]
		n := b.Sub(a).Cross(c.Sub(a))
		if l := n.Len(); l > 0 {
			n = n.Scale(1 / l)
		}
		// Points snapped to a grid of 2^-20 of the extent may stick out of a
		// facet with a small angle by a few steps over its height; the sum over
		// facets is checked by volume below.
		for _, p := range points {
			if s := n.Dot(p.Sub(a)); s > 1e-3*extent {
				return fmt.Errorf("point %v is %g above facet %v", p, s, g)
			}
		}
		for i := range 3 {
			edges[[2]int32{g[i], g[(i+1)%3]}]++
		}
	}
	for e, n := range edges {
		if n != 1 || edges[[2]int32{e[1], e[0]}] != 1 {
			return fmt.Errorf("edge %v is used %d times, the other way %d", e, n, edges[[2]int32{e[1], e[0]}])
		}
	}
	if e := len(v) - len(edges)/2 + len(f); e != 2 {
		return fmt.Errorf("Euler characteristic %d", e)
	}
	return nil
}

func hullSize(v []Vec, f [][3]int32) (volume, area float64) {
	for _, g := range f {
		a, b, c := v[g[0]].Sub(v[0]), v[g[1]].Sub(v[0]), v[g[2]].Sub(v[0])
		volume += a.Dot(b.Cross(c)) / 6
		area += b.Sub(a).Cross(c.Sub(a)).Len() / 2
	}
	return volume, area
}

// Clouds with everything that makes hulls hard: points on a lattice (most of
// them coplanar with a face), on spheres, on few planes, repeated, nearly flat.
func clouds(n int) [][]Vec {
	rng := rand.New(rand.NewSource(7))
	var out [][]Vec
	for i := range n {
		var c []Vec
		count := 5 + rng.Intn(200)
		for len(c) < count {
			p := Vec{rng.Float64() * 40, rng.Float64() * 30, rng.Float64() * 20}
			switch i % 6 {
			case 1: // lattice
				p = Vec{float64(rng.Intn(4)), float64(rng.Intn(5)), float64(rng.Intn(3))}
			case 2: // sphere
				p = Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
				p = p.Scale(10 / p.Len())
			case 3: // a prism: two planes
				p[2] = float64(rng.Intn(2)) * 5
			case 4: // nearly flat
				p[2] *= 1e-3
			case 5: // points and their doubles
				if len(c) > 8 && rng.Intn(2) == 0 {
					p = c[rng.Intn(len(c))]
				}
			}
			c = append(c, p)
		}
		out = append(out, c)
	}
	return out
}

// Source of the figures: manifold-3d from npm, which has a hull of its own.
func TestHullAgainstManifold(t *testing.T) {
	sets := clouds(180)
	var want []struct{ Volume, Area float64 }
	oracle.Node(t, "hull.mjs", sets, &want)
	for i, c := range sets {
		v, f := Hull(c)
		if err := validHull(c, v, f); err != nil {
			t.Errorf("cloud %d: %v", i, err)
		}
		volume, area := hullSize(v, f)
		// The grid moves no point by more than its step, so no volume by more
		// than area × step, and no area by more than perimeter × step.
		step := 40 * math.Exp2(-20)
		if math.Abs(volume-want[i].Volume) > want[i].Area*step || math.Abs(area-want[i].Area) > 200*step {
			t.Errorf("cloud %d: volume %.6f area %.6f, manifold-3d says %.6f and %.6f",
				i, volume, area, want[i].Volume, want[i].Area)
		}
	}
}

// Points that span no solid (COMPUTED).
func TestHullOfLittle(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		name   string
		points []Vec
		want   int
	}{
		{"nothing", nil, 0},
		{"not numbers", []Vec{{nan, 0, 0}, {0, math.Inf(1), 0}}, 0},
		{"a point", []Vec{{1, 2, 3}}, 1},
		{"a point twice", []Vec{{1, 2, 3}, {1, 2, 3}}, 1},
		{"a line", []Vec{{1, 1, 1}, {3, 3, 3}, {2, 2, 2}}, 2},
		{"a square with its middle and an edge's", []Vec{{0, 0, 1}, {2, 0, 1}, {2, 2, 1}, {0, 2, 1}, {1, 1, 1}, {1, 0, 1}}, 4},
		{"an upright triangle", []Vec{{0, 5, 0}, {0, 5, 4}, {3, 5, 0}, {1, 5, 1}}, 3},
	} {
		v, f := Hull(c.points)
		if len(v) != c.want || len(f) != 0 {
			t.Errorf("%s: %d corners, %d facets, want %d and none", c.name, len(v), len(f), c.want)
		}
	}
}

func FuzzHull(f *testing.F) {
	f.Add([]byte("three blind mice, see how they run"), uint8(3))
	f.Fuzz(func(t *testing.T, data []byte, bits uint8) {
		// Few bits a coordinate make many coplanar points.
		mask := byte(1)<<(bits%8+1) - 1
		var points []Vec
		for ; len(data) >= 3 && len(points) < 400; data = data[3:] {
			points = append(points, Vec{float64(data[0] & mask), float64(data[1] & mask), float64(data[2] & mask)})
		}
		v, facets := Hull(points)
		if facets != nil {
			if err := validHull(points, v, facets); err != nil {
				t.Fatal(err)
			}
		}
	})
}
