package mesh

import (
	"math"
	"reflect"
	"runtime"
	"testing"
)

func onCores(t *testing.T, do func() any) {
	t.Helper()
	had := runtime.GOMAXPROCS(1)
	defer runtime.GOMAXPROCS(had)
	one := do()
	for _, n := range []int{2, 5, 16} {
		runtime.GOMAXPROCS(n)
		if got := do(); !reflect.DeepEqual(got, one) {
			t.Errorf("%d cores: %.100v, one: %.100v", n, got, one)
		}
	}
}

// sharing joins vertices of equal coordinates.
func sharing(ms ...*Mesh) *Mesh { return exactWeld(Merge(ms...)) }

// moebius is a strip of n quads with a half turn.
func moebius(n int) *Mesh {
	m := &Mesh{}
	for i := range n {
		s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		hs, hc := math.Sincos(math.Pi * float64(i) / float64(n))
		for _, w := range []float64{-1, 1} {
			r := 5 + w*hc
			m.V = append(m.V, Vec{r * c, r * s, w * hs})
		}
	}
	for i := range int32(n) {
		a, b := 2*i, 2*i+1
		c, d := (2*i+2)%int32(2*n), (2*i+3)%int32(2*n)
		if int(i) == n-1 {
			c, d = d, c
		}
		m.F = append(m.F, [3]int32{a, c, b}, [3]int32{b, c, d})
	}
	return m
}

// Counts follow from how each shape is made (closed form).
func TestInspect(t *testing.T) {
	cube := cuboid(10, 10, 10)
	hollow := inverted(moved(cuboid(2, 2, 2), 4, 4, 4))
	for _, c := range []struct {
		name string
		m    *Mesh
		want Report // lengths and places are not compared here
	}{
		{"nothing", &Mesh{}, Report{}},
		{"a triangle", without(cube, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11), Report{OpenEdges: 3, Loops: 1, Shells: 1, OpenShells: 1}},
		{"cube", cube, Report{Shells: 1, Bodies: 1}},
		{"cube as loose facets", soup(cube), Report{OpenEdges: 36, Loops: 12, Shells: 12, OpenShells: 12}},
		{"cube without a facet", without(cube, 3), Report{OpenEdges: 3, Loops: 1, Shells: 1, OpenShells: 1}},
		{"cube without a face", without(cube, 2, 3), Report{OpenEdges: 4, Loops: 1, Shells: 1, OpenShells: 1}},
		{"tube", without(cube, 0, 1, 2, 3), Report{OpenEdges: 8, Loops: 2, Shells: 1, OpenShells: 1}},
		{"inside out", inverted(cube), Report{Shells: 1, Inverted: 1, Bodies: 1}},
		{"a facet turned", turnedAt(cube, 5), Report{Inconsistent: 3, Shells: 1, OpenShells: 1}},
		{"hollow", Merge(cube, hollow), Report{Shells: 2, Cavities: 1, Bodies: 1}},
		{"hollow, inside out", inverted(Merge(cube, hollow)), Report{Shells: 2, Inverted: 1, Bodies: 2}},
		{"body in a hollow", Merge(cube, hollow, moved(cuboid(1, 1, 1), 4.5, 4.5, 4.5)), Report{Shells: 3, Cavities: 1, Bodies: 2}},
		{"body in a body", Merge(cube, inverted(hollow)), Report{Shells: 2, Bodies: 2}},
		{"hollow outside the body", Merge(cube, moved(hollow, 20, 0, 0)), Report{Shells: 2, Inverted: 1, Bodies: 2}},
		{"hollow above the body", Merge(cube, moved(hollow, 0, 0, 20)), Report{Shells: 2, Inverted: 1, Bodies: 2}},
		{"hollow below the body", Merge(cube, moved(hollow, 0, 0, -20)), Report{Shells: 2, Inverted: 1, Bodies: 2}},
		{"overlapping bodies", Merge(cube, moved(cube, 5, 5, 5)), Report{Shells: 2, Bodies: 2}},
		{"bodies sharing an edge", sharing(cube, moved(cube, 10, 10, 0)), Report{NonManifold: 1, Shells: 2, Bodies: 2}},
		{"bodies sharing a corner", sharing(cube, moved(cube, 10, 10, 10)), Report{Shells: 2, Bodies: 2}},
		{"bodies against each other", sharing(cube, moved(cube, 10, 0, 0)), Report{NonManifold: 5, Duplicates: 2, Shells: 2, Bodies: 2}},
		{"bodies in a ring about an edge", sharing(cube, moved(cube, 10, 10, 0), moved(cuboid(10, 10, 5), 0, 10, 3)), Report{NonManifold: 1, Shells: 3, Bodies: 3}},
		{"twice the same", sharing(cube, cube), Report{NonManifold: 18, Duplicates: 12, Shells: 2, Bodies: 2}},
		{"a facet twice", withAgain(cube, 4), Report{NonManifold: 3, Uneven: 3, Duplicates: 1, Shells: 2, OpenShells: 1, Bodies: 1}},
		{"two facets back to back", &Mesh{V: cube.V, F: [][3]int32{{0, 1, 2}, {2, 1, 0}}}, Report{Duplicates: 1, Shells: 1, Flat: 1}},
		{"a vertex named twice", withFacet(cube, [3]int32{3, 3, 1}), Report{Degenerate: 1, Shells: 1, Bodies: 1}},
		{"Möbius strip", moebius(20), Report{OpenEdges: 40, Inconsistent: 1, Shells: 1, OpenShells: 1, Loops: 0}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := Inspect(c.m)
			if c.want.OpenEdges > 0 != (got.OpenLength > 0) || c.want.OpenEdges > 0 != (len(got.OpenPlaces) > 0) ||
				c.want.NonManifold > 0 != (len(got.NonManifoldPlaces) > 0) {
				t.Errorf("places and lengths: %+v", got)
			}
			if c.name == "Möbius strip" {
				got.Loops = 0 // its rim runs against itself somewhere; whether it closes depends on where
			}
			c.want.Facets, c.want.Vertices = len(c.m.F), len(c.m.V)
			got.OpenLength, got.OpenPlaces, got.NonManifoldPlaces = 0, nil, nil
			if !reflect.DeepEqual(got, c.want) {
				t.Errorf("\n got %+v\nwant %+v", got, c.want)
			}
			if got.Closed() != (Closed(c.m) == nil) {
				t.Errorf("Closed: %v, report says %v", Closed(c.m), got.Closed())
			}
		})
	}
	if got := Inspect(without(cube, 2, 3)); math.Abs(got.OpenLength-40) > 1e-12 {
		t.Errorf("open length %g, want 40", got.OpenLength)
	}
}

func turnedAt(m *Mesh, at ...int) *Mesh {
	r := Transform(m, Identity())
	for _, f := range at {
		r.F[f] = flipped(r.F[f])
	}
	return r
}

func withFacet(m *Mesh, f ...[3]int32) *Mesh {
	return &Mesh{V: m.V, F: append(append([][3]int32{}, m.F...), f...)}
}

func withAgain(m *Mesh, f int) *Mesh { return withFacet(m, m.F[f]) }

func TestValid(t *testing.T) {
	cube := cuboid(1, 1, 1)
	at := func(v Vec) *Mesh { m := Transform(cube, Identity()); m.V[3] = v; return m }
	for _, c := range []struct {
		name string
		m    *Mesh
		ok   bool
	}{
		{"cube", cube, true},
		{"empty", &Mesh{}, true},
		{"not a number", at(Vec{math.NaN(), 0, 0}), false},
		{"infinite", at(Vec{0, math.Inf(-1), 0}), false},
		{"out of reach", at(Vec{0, 0, 2 * Reach}), false},
		{"index too large", withFacet(cube, [3]int32{0, 1, 8}), false},
		{"index negative", withFacet(cube, [3]int32{0, 1, -1}), false},
		{"too few colours", &Mesh{V: cube.V, F: cube.F, Colour: []uint8{1}}, false},
	} {
		if err := Valid(c.m); (err == nil) != c.ok {
			t.Errorf("%s: %v", c.name, err)
		}
		if h, r := Heal(c.m); !c.ok && (h != c.m || r.Changed()) {
			t.Errorf("%s: healed though invalid", c.name)
		}
	}
}
