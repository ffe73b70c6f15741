package mesh

import (
	"math"
	"strings"
	"testing"

	"platebook/engine/say"
	"platebook/engine/say/saytest"
)

// SI brochure, 9th edition, 5.4.4: digits in groups of three, split by a space,
// four digits customarily left whole. The roundings are COMPUTED by hand.
func TestFigures(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want string
	}{
		{0, "0"}, {1e-9, "less than 0.001"}, {0.0009994, "less than 0.001"}, {0.001, "0.001"}, {0.0394, "0.039"},
		{0.155, "0.155"}, {0.5, "0.5"}, {0.9996, "1"}, {1, "1"}, {3.937, "3.94"}, {9.994, "9.99"}, {9.996, "10"}, {12.7, "12.7"},
		{99.94, "99.9"}, {99.96, "100"}, {254.4, "254"}, {1880, "1880"}, {9999.6, "10\u202f000"}, {60_000_000_000, "60\u202f000\u202f000\u202f000"},
		{-25_400, "-25\u202f400"}, {1e15, "more than a million million"}, {math.Inf(1), "an unknown number of"}, {math.NaN(), "an unknown number of"},
	} {
		if got := figure(c.x).String(); got != c.want {
			t.Errorf("%v: %q, want %q", c.x, got, c.want)
		}
	}
	if got := say.Whole(1_234_567) + " " + say.Whole(-12_345) + " " + say.Whole(9999); got != "1\u202f234\u202f567 -12\u202f345 9999" {
		t.Error(got)
	}
	if got := place(Vec{-0.01, 12.34, -25400}).String(); got != "(0, 12.3, -25\u202f400)" {
		t.Error(got)
	}
}

// Whatever the size of what was done, the sentences can be read out.
func TestSentencesInFigures(t *testing.T) {
	big := Repairs{Welded: 123456, WeldedAt: 1e-9, Holes: 1, HoleArea: 1880.4, HolePlaces: []Vec{{1e-12, 12345.678, -3}}}
	big.Before.Facets, big.After.Facets = 12, 12
	big.After.OpenEdges, big.After.OpenLength = 58630, 6e10
	for i, want := range []string{
		"Joined 123\u202f456 vertices, none more than 0.001 mm apart.",
		"Filled 1 hole, 1880 mm² in all, at (0, 12\u202f346, -3).",
		"Left open: 58\u202f630 edges, 60\u202f000\u202f000\u202f000 mm in all. To close them would be a guess.",
	} {
		if got := big.Sentences()[i]; got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// What encloses nothing is said to, plainly, whatever is left of it.
func TestSentencesOfNothing(t *testing.T) {
	cube := cuboid(10, 10, 10)
	ball := ball(10, 12)
	flat := func(m *Mesh, x, y, z float64) *Mesh { return Transform(m, Scale(Vec{x, y, z})) }
	for _, c := range []struct {
		name string
		m    *Mesh
		says string
	}{
		{"a cube scaled to a point", flat(cube, 0, 0, 0), "Nothing is left: all facets were without area."},
		{"a cube scaled to a line", flat(cube, 0, 0, 1), "all facets"},
		{"a cube scaled flat", flat(cube, 1, 1, 0), "Nothing is left"},
		{"loose facets scaled flat", flat(soup(cube), 1, 1, 0), "Nothing is left"},
		{"a ball scaled to a point", flat(ball, 0, 0, 0), "Nothing is left: all facets were without area."},
		{"a ball scaled flat", flat(ball, 0, 1, 1), "Nothing is left"},
		{"two facets back to back", &Mesh{V: cube.V, F: [][3]int32{{0, 1, 2}, {0, 2, 1}}}, "Nothing is left"},
		{"a flat ball beside a cube", Merge(cube, Transform(flat(ball, 0, 1, 1), Translate(Vec{50, 0, 0}))), "Left: 1 flat shell, which encloses no space."},
		{"a cube", cube, ""},
	} {
		h, r := Heal(c.m)
		s := strings.Join(r.Sentences(), " ")
		for _, say := range r.Sayings() {
			saytest.French(t, c.name, say)
		}
		t.Logf("%s: %d facets, %+v; %s", c.name, len(h.F), r.After, s)
		if !strings.Contains(s, c.says) || c.says == "" && s != "" {
			t.Errorf("%s: %q, want %q", c.name, s, c.says)
		}
		if v := Measure(h).Volume; strings.HasPrefix(c.says, "Nothing") && math.Abs(v) > 1e-9 {
			t.Errorf("%s encloses %v mm³", c.name, v)
		}
	}
}
