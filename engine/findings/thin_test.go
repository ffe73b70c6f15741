package findings

import (
	"math"
	"testing"

	"platebook/engine/mesh"
)

// A block with a wall on it: 20 × 20 × 10 and 20 × t × 10 above. If t is thinner
// than a bead, 0.45 mm here, the wall is t/(20+t) of the volume (COMPUTED).
func TestThinWalls(t *testing.T) {
	for _, turn := range []float64{0, 10, 45, 73} {
		for _, c := range []struct {
			thick float64
			thin  bool
		}{{0.1, true}, {0.2, true}, {0.3, true}, {0.4, true}, {0.45, false}, {0.6, false}, {2, false}} {
			m := mesh.Merge(block(0, 0, 0, 20, 20, 10), block(0, 5, 9.9, 20, 5+c.thick, 20))
			m = shifted(aboutZ(m, turn), -30, 12, 0)
			f, ok := get(as(m, nil), "thin-walls")
			if ok != c.thin {
				t.Errorf("a wall of %g mm turned by %g°: thin %v", c.thick, turn, ok)
				continue
			}
			if !ok {
				continue
			}
			// A plane more or less in the wall is 1/48 of the height.
			want := 100 * c.thick / (20 + c.thick)
			within(t, "share", f.Numbers["share_percent"], want, want/20+0.02)
			// As a strip of that area and perimeter: 20·t/(20+t).
			within(t, "width", f.Numbers["width_mm"], 20*c.thick/(20+c.thick), 0.01)
			if p := f.Places[0]; p[2] < 10 || p[2] > 20 {
				t.Errorf("the place %v is not in the wall", p)
			}
		}
	}
}

// A tube whose wall is thinner than a bead is thin all over, and its width is
// that of the wall, not of the tube (COMPUTED).
func TestThinTube(t *testing.T) {
	for _, wall := range []float64{0.2, 0.3, 0.4} {
		tube := lathe([][2]float64{{20 - wall, 0}, {20, 0}, {20, 40}, {20 - wall, 40}, {20 - wall, 0}}, 120)
		f, _ := get(as(tube, nil), "thin-walls")
		within(t, "share", f.Numbers["share_percent"], 100, 0.5)
		within(t, "width", f.Numbers["width_mm"], wall, 0.01)
		if p := f.Places[0]; math.Abs(math.Hypot(p[0], p[1])-20) > wall+0.1 {
			t.Errorf("%v is not in the wall", p)
		}
	}
}

// A prism with an acute corner is thin towards it: where two faces meet at an
// angle a, what a disc of diameter w cannot reach of the corner has the area
// w²/4·(cot(a/2) − (π−a)/2) (COMPUTED); mitred growth gives some of it back, so
// that is an upper bound. Right and obtuse angles lose nothing.
func TestCornersAreNotThin(t *testing.T) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"block", block(0, 0, 0, 10, 10, 10)},
		{"hexagon", rod(8, 0, 10, 6)},
		{"cylinder", rod(8, 0, 10, 200)},
		{"ball", ball(10, 100)},
		{"triangle of 60°", rod(10, 0, 10, 3)},
	} {
		wants(t, c.name, as(aboutZ(c.m, 11), nil), "-thin-walls")
	}
}

// The share does not depend on where the layers come from: all of the way's, or
// the few that Find cuts itself.
func TestThinWallsOfGivenLayers(t *testing.T) {
	m := mesh.Merge(block(0, 0, 0, 20, 20, 10), block(0, 5, 9.9, 20, 5.3, 20))
	few, _ := get(as(m, nil), "thin-walls")
	all, ok := get(as(m, func(f *Facts) { f.Layers = layersOf(t, m, f.Way) }), "thin-walls")
	if !ok {
		t.Fatal("not found in the way's own layers")
	}
	within(t, "share", all.Numbers["share_percent"], few.Numbers["share_percent"], 0.1)
}
