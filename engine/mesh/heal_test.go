package mesh

import (
	"math"
	"slices"
	"strings"
	"testing"

	"platebook/engine/say/saytest"
)

// jitter moves the corners of loose facets by up to d mm, each its own way.
func jitter(m *Mesh, d float64) *Mesh {
	r := soup(m)
	x := uint64(1)
	for i := range r.V {
		for k := range 3 {
			x = scramble(x)
			r.V[i][k] += d * (float64(x>>11)/(1<<52) - 1)
		}
	}
	return r
}

// split cuts one facet at a point on the middle of its side k, its neighbour not.
func split(m *Mesh, f, k int) *Mesh {
	r := Transform(m, Identity())
	t := r.F[f]
	a, b, c := t[k], t[(k+1)%3], t[(k+2)%3]
	v := int32(len(r.V))
	r.V = append(r.V, r.V[a].Add(r.V[b]).Scale(0.5))
	r.F[f] = [3]int32{a, v, c}
	r.F = append(r.F, [3]int32{v, b, c})
	return r
}

// Each damage is done to a shape whose volume is known in closed form; what is
// healed must have it again.
func TestHeal(t *testing.T) {
	cube := cuboid(10, 10, 10)
	hollow := inverted(moved(cuboid(2, 2, 2), 4, 4, 4))
	sphere := ball(10, 48)
	sphereV := Measure(sphere).Volume
	grid := 32 // facets round the ball's equator
	for _, c := range []struct {
		name   string
		m      *Mesh
		volume float64 // of what Heal returns
		closed bool
		bodies int
		cavity int
		did    string // words the sentences contain, in order, "; " between
	}{
		{"cube", cube, 1000, true, 1, 0, ""},
		{"loose facets", soup(cube), 1000, true, 1, 0, "Joined 28 vertices lying in the same place"},
		{"loose facets, not quite equal", jitter(cube, 2e-5), 1000, true, 1, 0, "Joined 28 vertices, none more than"},
		{"a missing facet", without(cube, 3), 1000, true, 1, 0, "Filled 1 hole, 50 mm²"},
		{"two missing facets apart", without(cube, 3, 0), 1000, true, 1, 0, "Filled 2 holes"},
		{"a missing face", without(cube, 2, 3), 1000 - 1000./6, false, 0, 0, "Left open: 4 edges around 1 gap, 40 mm"},
		{"a small hole", without(sphere, grid*2*4, grid*2*4+1, grid*2*4+2), sphereV, true, 1, 0, "Filled"},
		{"no bottom cap", without(sphere, seq(0, 48)...), sphereV, true, 1, 0, "Filled 1 hole"},
		{"inside out", inverted(cube), 1000, true, 1, 0, "Turned 1 shell right side out"},
		{"half inside out", turnedAt(cube, 0, 1, 2, 3, 4, 5), 1000, true, 1, 0, "Turned 6 facets"},
		{"a facet turned", turnedAt(sphere, 100), sphereV, true, 1, 0, "Turned 1 facet to"},
		{"hollow", Merge(cube, hollow), 992, true, 1, 1, ""},
		{"hollow, inside out", inverted(Merge(cube, hollow)), 992, true, 1, 1, "Turned 2 shells"},
		{"hollow and body, all inward", inverted(Merge(cube, inverted(hollow))), 992, true, 1, 1, "Turned 1 shell"},
		{"hollow, half turned", Merge(cube, turnedAt(hollow, 0, 1, 2, 3, 4, 5)), 992, true, 1, 1, "Turned 6 facets"},
		{"hollow, a facet turned", Merge(cube, turnedAt(hollow, 0)), 992, true, 1, 1, "Turned 1 facet"},
		{"body in a body", Merge(cube, inverted(hollow)), 1008, true, 2, 0, ""},
		{"body in a hollow, inside out", Merge(cube, hollow, inverted(moved(cuboid(1, 1, 1), 4.5, 4.5, 4.5))), 993, true, 2, 1, "Turned 1 shell"},
		{"inside out beside a body", Merge(cube, inverted(moved(cube, 20, 0, 0))), 2000, true, 2, 0, "Turned 1 shell"},
		{"a facet twice", withAgain(cube, 4), 1000, true, 1, 0, "Removed 1 facet lying exactly"},
		{"a facet twice, once turned", withFacet(cube, flipped(cube.F[4])), 1000, true, 1, 0, "Removed 1 facet lying exactly"},
		{"a body twice", sharing(sphere, sphere), sphereV, true, 1, 0, "Removed 2208 facets lying exactly"},
		{"a fin of no thickness", withFacet(cube, [3]int32{0, 6, 3}, [3]int32{3, 6, 0}), 1000, true, 1, 0, "Removed 2 facets"},
		{"bodies glued together", sharing(cube, moved(cube, 10, 0, 0)), 2000, true, 1, 0, "Removed 4 facets"},
		{"bodies sharing an edge", sharing(cube, moved(cube, 10, 10, 0)), 2000, true, 2, 0, "Left: 1 edge where more than two"},
		{"bodies sharing a corner", sharing(cube, moved(cube, 10, 10, 10)), 2000, true, 2, 0, ""},
		{"overlapping", Merge(cube, moved(cube, 5, 5, 5)), 2000, true, 2, 0, ""},
		{"a corner too many", split(cube, 4, 0), 1000, true, 1, 0, "Split 1 edge"},
		{"corners too many", split(split(split(cube, 4, 0), 12, 0), 7, 2), 1000, true, 1, 0, "Split"},
		{"corner closed by a facet without area", withFacet(split(cube, 4, 0), [3]int32{0, 1, 8}), 1000, true, 1, 0, "Removed 1 facet without area"},
		{"a vertex named twice", withFacet(cube, [3]int32{3, 3, 1}), 1000, true, 1, 0, "Removed 1 facet without area"},
		{"a needle", needle(cube), 1000, true, 1, 0, "Removed 1 facet without area"},
		{"a stray facet without area", stray(cube), 1000, true, 1, 0, "Removed 1 facet without area"},
		{"a stray facet", Merge(cube, moved(without(cube, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11), 0, 0, 30)), math.NaN(), false, 1, 0, "Left open: 3 edges"},
		{"Möbius strip", moebius(20), math.NaN(), false, 0, 0, "Left: 1 shell with one side only"},
		{"empty", &Mesh{}, 0, false, 0, 0, ""},
		{"a triangle", without(cube, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11), math.NaN(), false, 0, 0, "Left open: 3 edges"},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := Transform(c.m, Identity())
			h, r := Heal(c.m)
			if !slices.Equal(before.V, c.m.V) || !slices.Equal(before.F, c.m.F) {
				t.Fatal("Heal changed what it was given")
			}
			sentences := strings.Join(r.Sentences(), "\n")
			for _, s := range r.Sayings() {
				saytest.French(t, "repairs", s)
			}
			if err := Valid(h); err != nil {
				t.Fatal(err)
			}
			if v := Measure(h).Volume; !math.IsNaN(c.volume) && math.Abs(v-c.volume) > 1e-4*(1+c.volume) && !(c.name == "no bottom cap" || c.name == "a small hole") {
				t.Errorf("volume %g, want %g", v, c.volume)
			} else if math.Abs(v-c.volume) > 0.01*c.volume {
				t.Errorf("volume %g, want about %g", v, c.volume)
			}
			a := r.After
			if a.Closed() != c.closed || (Closed(h) == nil) != c.closed || a.Bodies != c.bodies || a.Cavities != c.cavity {
				t.Errorf("after: %+v\n%s", a, sentences)
			}
			for _, s := range strings.Split(c.did, "; ") {
				if !strings.Contains(sentences, s) {
					t.Errorf("sentences lack %q:\n%s", s, sentences)
				}
			}
			if c.did == "" && (sentences != "" || h != c.m) {
				t.Errorf("nothing to do, yet: %s", sentences)
			}
			if again, r := Heal(h); again != h {
				t.Errorf("not done at once: %s", strings.Join(r.Sentences(), " "))
			}
			if c.closed {
				everyWay(t, h)
			}
			// However the damaged mesh lies, it heals alike.
			for _, way := range []Affine{Turn(Vec{1, 2, 3}, 0.7), Translate(Vec{500, -300, 200}), Scale(Vec{1, -1, 1})} {
				g, q := Heal(Transform(c.m, way))
				if q.After.Closed() != a.Closed() || q.After.Bodies != a.Bodies || q.After.OpenEdges != a.OpenEdges ||
					math.Abs(Measure(g).Volume-Measure(h).Volume) > 1e-4*(1+math.Abs(c.volume)) {
					t.Errorf("moved by %v: %+v\n%s", way, q.After, strings.Join(q.Sentences(), "\n"))
				}
			}
		})
	}
}

func seq(from, to int) (s []int) {
	for i := from; i < to; i++ {
		s = append(s, i)
	}
	return s
}

// needle puts a second vertex at corner 7 of a cube, joined to it by a facet
// without area on the diagonal of its top face.
func needle(m *Mesh) *Mesh {
	r := Transform(m, Identity())
	v := int32(len(r.V))
	r.V = append(r.V, r.V[7])
	// Facets 2 and 3 are (4 5 7) and (4 7 6).
	r.F[3] = [3]int32{4, v, 6}
	// The facet beyond 7–6 and those at 7 keep 7: close 4–7–v and v–7–6.
	r.F = append(r.F, [3]int32{4, 7, v}, [3]int32{v, 7, 6})
	return r
}

func stray(m *Mesh) *Mesh {
	r := Transform(m, Identity())
	n := int32(len(r.V))
	r.V = append(r.V, Vec{20, 0, 0}, Vec{21, 0, 0}, Vec{22, 0, 0})
	r.F = append(r.F, [3]int32{n, n + 1, n + 2})
	return r
}

// Colours follow their facets, and what fills a hole takes its neighbour's.
func TestHealKeepsColours(t *testing.T) {
	red, blue := cuboid(10, 10, 10), moved(soup(without(cuboid(10, 10, 10), 3)), 30, 0, 0)
	red.Colour, blue.Colour = slices.Repeat([]uint8{1}, 12), slices.Repeat([]uint8{2}, 11)
	h, _ := Heal(Merge(red, blue))
	for c, x := range map[uint8]float64{1: 5, 2: 35} {
		p := h.Part(c)
		if m := Measure(p); len(p.F) != 12 || math.Abs(m.Volume-1000) > 1e-9 || math.Abs(m.Centre[0]-x) > 1e-9 {
			t.Errorf("colour part %d: %d facets, %+v", c, len(p.F), m)
		}
	}
	if p := h.Part(0); len(p.F) != 0 {
		t.Errorf("colour part 0 has %d facets", len(p.F))
	}
}
