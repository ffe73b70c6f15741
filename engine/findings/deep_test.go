package findings

import (
	"math"
	"strings"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/printer"
)

// What the surface tells of walls: the share of it on walls under one and two
// beads of 0.45 mm, and how thick they are (COMPUTED).
func TestWallsOfTheSurface(t *testing.T) {
	fin := func(thick float64) *mesh.Mesh { // 20 × 20 × 10 with a fin of 20 × 15 on it
		return mesh.Merge(block(0, 0, 0, 20, 20, 10), block(0, 5, 9.9, 20, 5+thick, 25))
	}
	leaning := func(m *mesh.Mesh, k float64) *mesh.Mesh { return sheared(m, k) }
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		ids  []string
	}{
		{"fin of 0.3", fin(0.3), []string{"+thin-walls=ask", "-weak-walls", "-small-features"}},
		{"fin of 0.7", fin(0.7), []string{"-thin-walls", "+weak-walls=note", "-small-features"}},
		{"fin of 1", fin(1), []string{"-thin-walls", "-weak-walls"}},
		// Sections of a wall that leans are wider than it is thick: cut along y the
		// fin stays 0.3 wide in every layer, however it leans along x.
		{"leaning fin of 0.3", leaning(fin(0.3), 0.5), []string{"+thin-walls=ask"}},
		{"plate of 0.15 lying", block(0, 0, 0, 40, 40, 0.15), []string{"+thin-sheets=ask", "-thin-walls"}},
		{"plate of 0.3 lying", block(0, 0, 0, 40, 40, 0.3), []string{"+thin-sheets=note", "-thin-walls"}},
		{"plate of 0.4 lying", block(0, 0, 0, 40, 40, 0.4), []string{"-thin-sheets", "-thin-walls"}},
		{"table of 0.3", mesh.Merge(block(0, 0, 0, 20, 20, 10), block(-10, -10, 10, 30, 30, 10.3)), []string{"+thin-sheets=note", "-thin-walls"}},
		{"block", block(0, 0, 0, 20, 20, 20), []string{"-thin-walls", "-weak-walls", "-thin-sheets", "-narrow-gaps", "-small-features", "-bridges", "-may-sway"}},
		{"ball", ball(15, 120), []string{"-thin-walls", "-weak-walls", "-thin-sheets", "-narrow-gaps", "-small-features", "-bridges", "-may-sway"}},
	} {
		for _, turn := range []float64{0, 31} {
			wants(t, c.name, as(aboutZ(c.m, turn), nil), c.ids...)
		}
	}
	// A fin of 20 × t × 15 on the block: both sides, over all the surface.
	f, _ := get(as(fin(0.3), nil), "thin-walls")
	area := mesh.Measure(fin(0.3)).Area // with what of it is inside the block
	within(t, "surface share", f.Numbers["surface_percent"], 100*2*20*15/area, 1)
	within(t, "thinnest", f.Numbers["thinnest_mm"], 0.3, 1e-4)
	if p := f.Places[0]; p[2] < 10 || math.Abs(p[1]-5.15) > 0.01 {
		t.Errorf("the worst place %v is not in the fin", p)
	}
	// A lying sheet as thick as it is.
	f, _ = get(as(block(0, 0, 0, 40, 40, 0.3), nil), "thin-sheets")
	within(t, "sheet", f.Numbers["thinnest_mm"], 0.3, 1e-4)
	within(t, "sheet share", f.Numbers["share_percent"], 100*2*1600/(2*1600+160*0.3), 1)
}

// Two bodies inside one another have no walls where they overlap, and bodies
// that share a face have no gap.
func TestOverlapsAreNoWalls(t *testing.T) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"overlap of 0.3", mesh.Merge(block(0, 0, 0, 20, 20, 20), block(19.7, 0, 0, 40, 20, 20))},
		{"shared face", mesh.Merge(block(0, 0, 0, 20, 20, 20), block(20, 0, 0, 40, 20, 20))},
		{"a thin body within", mesh.Merge(block(0, 0, 0, 20, 20, 20), block(5, 5, 5, 15, 5.2, 15))},
		{"the same twice", mesh.Merge(block(0, 0, 0, 20, 20, 20), block(0, 0, 0, 20, 20, 20))},
	} {
		wants(t, c.name, as(c.m, nil), "-thin-walls", "-weak-walls", "-narrow-gaps", "-small-features", "-thin-sheets")
	}
}

func TestNarrowGaps(t *testing.T) {
	hole := lathe([][2]float64{{4, 0}, {10, 0}, {10, 12}, {4, 12}, {4, 0}}, 48)
	u := func(gap float64) *mesh.Mesh { // one body with a slot
		out := [][2]float64{{0, 0}, {20, 0}, {20, 20}, {10 + gap/2, 20}, {10 + gap/2, 5}, {10 - gap/2, 5}, {10 - gap/2, 20}, {0, 20}}
		return slotted(out, 10)
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		gap  float64 // 0 is none
		ids  []string
	}{
		{"pin 0.2 from its hole", mesh.Merge(hole, rod(3.8, 0, 12, 48)), 0.2, []string{"+narrow-gaps=ask"}},
		{"pin 0.6 from its hole", mesh.Merge(hole, rod(3.4, 0, 12, 48)), 0, []string{"-narrow-gaps"}},
		{"plates 0.3 apart", mesh.Merge(block(0, 0, 0, 20, 5, 20), block(0, 5.3, 0, 20, 10, 20)), 0.3, []string{"+narrow-gaps=ask"}},
		{"plates 0.5 apart", mesh.Merge(block(0, 0, 0, 20, 5, 20), block(0, 5.5, 0, 20, 10, 20)), 0, []string{"-narrow-gaps"}},
		{"slot of 0.3", u(0.3), 0.3, []string{"+narrow-gaps=note"}},
		{"slot of 1", u(1), 0, []string{"-narrow-gaps"}},
	} {
		for _, turn := range []float64{0, 23} {
			fs := as(aboutZ(c.m, turn), nil)
			wants(t, c.name, fs, c.ids...)
			if f, ok := get(fs, "narrow-gaps"); ok {
				within(t, c.name, f.Numbers["gap_mm"], c.gap, 0.01)
			}
		}
	}
}

// slotted is a prism on a rectilinear U given as in TestNarrowGaps.
func slotted(o [][2]float64, h float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := int32(len(o))
	for _, z := range [2]float64{0, h} {
		for _, p := range o {
			m.V = append(m.V, mesh.Vec{p[0], p[1], z})
		}
	}
	for i := range n {
		j := (i + 1) % n
		m.F = append(m.F, [3]int32{i, j, n + j}, [3]int32{i, n + j, n + i})
	}
	// Corners 0 1 2 3 | 4 5 | 6 7: the right leg, the bridge, the left leg.
	for _, f := range [][3]int32{{1, 2, 4}, {2, 3, 4}, {0, 1, 4}, {0, 4, 5}, {0, 5, 7}, {5, 6, 7}} {
		m.F = append(m.F, [3]int32{f[0], f[2], f[1]}, [3]int32{f[0] + n, f[1] + n, f[2] + n})
	}
	return m
}

func TestSmallFeatures(t *testing.T) {
	base := block(0, 0, 0, 20, 20, 10)
	on := func(m *mesh.Mesh) *mesh.Mesh { return mesh.Merge(base, m) }
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		id   string
	}{
		{"pin of 0.3, upright", on(shifted(rod(0.15, 9.9, 18, 24), 10, 10, 0)), "+small-features"},
		{"pin of 0.3, level", on(mesh.Transform(rod(0.15, 0, 8, 24), mesh.Turn(mesh.Vec{0, 1, 0}, math.Pi/2).Then(mesh.Translate(mesh.Vec{19.9, 10, 5})))), "+small-features"},
		{"ridge 0.3 × 0.3", on(block(2, 10, 9.9, 18, 10.3, 10.3)), "+small-features"},
		{"fin of 0.3", on(block(2, 10, 9.9, 18, 10.3, 20)), "-small-features"},
		{"pin of 1", on(shifted(rod(0.5, 9.9, 18, 24), 10, 10, 0)), "-small-features"},
		{"ridge 1 × 0.3", on(block(2, 10, 9.9, 18, 11, 10.3)), "-small-features"},
		{"corner of 30°", prism([][2]float64{{0, 0}, {20, 0}, {20, 20 * math.Tan(math.Pi/6)}}, 0, 20), "-small-features"},
	} {
		for _, turn := range []float64{0, 17} {
			wants(t, c.name, as(aboutZ(c.m, turn), nil), c.id)
		}
	}
	f, _ := get(as(on(shifted(rod(0.15, 9.9, 18, 24), 10, 10, 0)), nil), "small-features")
	within(t, "pin", f.Numbers["thinnest_mm"], 0.3, 0.03)
}

// Tables of known span: a top across two walls is a bridge as long as what is
// between them; one on a single wall, or on four legs, is none (COMPUTED).
func TestBridges(t *testing.T) {
	walls := func(gap float64) *mesh.Mesh {
		return mesh.Merge(block(0, 0, 0, 5, 20, 10.2), block(5+gap, 0, 0, 10+gap, 20, 10.2), block(0, 0, 10, 10+gap, 20, 15))
	}
	legs := mesh.Merge(block(0, 0, 0, 3, 3, 10.2), block(27, 0, 0, 30, 3, 10.2), block(0, 27, 0, 3, 30, 10.2),
		block(27, 27, 0, 30, 30, 10.2), block(0, 0, 10, 30, 30, 13))
	shelf := mesh.Merge(block(0, 0, 0, 5, 20, 10.2), block(0, 0, 10, 20, 20, 13))
	// The ceiling of a round hole is held all around: its span is the diameter.
	well := mesh.Merge(lathe([][2]float64{{3, 0}, {10, 0}, {10, 10.2}, {3, 10.2}, {3, 0}}, 60), rod(10, 10, 14, 60))
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		span float64 // 0 none
		tol  float64
		long bool
	}{
		{"6 mm", walls(6), 6, 0.01, false},
		{"9.5 mm", walls(9.5), 9.5, 0.01, false},
		{"25 mm", walls(25), 25, 0.01, true},
		{"four legs", legs, 0, 0, false},
		{"shelf", shelf, 0, 0, false},
		{"well", well, 6, 0.02, false},
	} {
		for _, turn := range []float64{0, 29} {
			for _, given := range []bool{false, true} {
				if given && turn != 29 {
					continue
				}
				m := aboutZ(c.m, turn)
				fs := as(m, func(f *Facts) {
					if given {
						f.Layers = layersOf(t, m, f.Way)
					}
				})
				f, ok := get(fs, "bridges")
				if ok != (c.span > 0) {
					t.Errorf("%s turned by %g°: bridge %v", c.name, turn, ok)
					continue
				}
				_, over := get(fs, "overhangs")
				if over == (c.span > 0 && !c.long) {
					t.Errorf("%s turned by %g°: overhang %v", c.name, turn, over)
				}
				if !ok {
					continue
				}
				within(t, c.name, f.Numbers["longest_mm"], c.span, c.tol)
				if c.long != strings.Contains(f.Message, "sag") || f.Places[0][2] != 10 && math.Abs(f.Places[0][2]-10) > 0.01 {
					t.Errorf("%s: %q at %v", c.name, f.Message, f.Places[0])
				}
			}
		}
	}
}

// Rods of diameter d and height h have the slenderness h/(d·√3/2), walls of
// thickness t h/t, and a rod on a block only counts what is above the block
// (beam theory, COMPUTED; the limit of 10 is CUSTOM).
func TestSway(t *testing.T) {
	root := math.Sqrt(3) / 2
	for _, c := range []struct {
		name    string
		m       *mesh.Mesh
		slender float64 // 0 for none
	}{
		{"rod 5 × 80", rod(2.5, 0, 80, 90), 80 / (5 * root)},
		{"rod 10 × 80", rod(5, 0, 80, 90), 0},
		{"rod 1.2 × 15", rod(0.6, 0, 15, 60), 0},
		{"wall 2 × 60 × 50", block(0, 0, 0, 60, 2, 50), 25},
		{"rod on a block", mesh.Merge(block(-15, -15, 0, 15, 15, 40), rod(2, 39.9, 100, 90)), 60 / (4 * root)},
		{"two legs under a beam", mesh.Merge(block(0, 0, 0, 4, 4, 60), block(30, 0, 0, 34, 4, 60), block(0, 0, 59.9, 34, 4, 70)), 60. / 4},
		{"arch of stout legs", mesh.Merge(block(0, 0, 0, 8, 8, 60), block(30, 0, 0, 38, 8, 60), block(0, 0, 59.9, 38, 8, 70)), 0},
		{"cube", block(0, 0, 0, 50, 50, 50), 0},
	} {
		for _, turn := range []float64{0, 40} {
			f, ok := get(as(aboutZ(c.m, turn), nil), "may-sway")
			if ok != (c.slender > 0) {
				t.Errorf("%s turned by %g°: sways %v, %q", c.name, turn, ok, f.Message)
				continue
			}
			// Planes are up to a thirtieth of the height apart.
			within(t, c.name, f.Numbers["slenderness"], c.slender, c.slender/20)
		}
	}
}

// √(12·I/A) in closed form: a rectangle's short side, √3/2 of a circle's
// diameter, and of a tube √(3(R²+r²)) (COMPUTED).
func TestStiffness(t *testing.T) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		want float64
	}{
		{"rectangle", block(3, 4, 0, 33, 6, 10), 2},
		{"circle", rod(5, 0, 10, 360), 5 * math.Sqrt(3)},
		{"tube", lathe([][2]float64{{3, 0}, {5, 0}, {5, 10}, {3, 10}, {3, 0}}, 360), math.Sqrt(3 * (25 + 9))},
	} {
		for _, turn := range []float64{0, 33} {
			w, _ := stiffness(cutAt(aboutZ(c.m, turn), 5))
			within(t, c.name, w, c.want, 0.003*c.want)
		}
	}
}

// Corners of a plate 2a square lie a·√2 from its middle; they are at risk where
// 8·10⁻⁵/K × cooling × distance reaches 0.2 mm (CUSTOM).
func TestWarp(t *testing.T) {
	hot := printer.Material{Name: "ABS", PlatformC: 100}
	warm := printer.Material{Name: "PLA", PlatformC: 60}
	rounded := func(a, r float64) *mesh.Mesh {
		var o [][2]float64
		for k := range 4 {
			for i := range 13 {
				s, c := math.Sincos(math.Pi / 2 * (float64(k) + float64(i)/12))
				x, y := a-r, a-r
				if k == 1 || k == 2 {
					x = -x
				}
				if k >= 2 {
					y = -y
				}
				o = append(o, [2]float64{x + r*c, y + r*s})
			}
		}
		return prism(o, 0, 5)
	}
	for _, c := range []struct {
		name    string
		m       *mesh.Mesh
		in      *printer.Material
		corners float64
	}{
		{"60 square, hot", block(-30, -30, 0, 30, 30, 5), &hot, 4},
		{"60 square, warm", block(-30, -30, 0, 30, 30, 5), &warm, 0},
		{"100 square, warm", block(-50, -50, 0, 50, 50, 5), &warm, 4},
		{"40 square, hot", block(-20, -20, 0, 20, 20, 5), &hot, 0},
		{"60 square, hot, corners of 1 mm", rounded(30, 1), &hot, 4},
		{"60 square, hot, corners of 10 mm", rounded(30, 10), &hot, 0},
		{"disc of 120, hot", rod(60, 0, 5, 200), &hot, 0},
		{"material not known", block(-50, -50, 0, 50, 50, 5), nil, 0},
	} {
		for _, turn := range []float64{0, 37} {
			f, ok := get(as(aboutZ(c.m, turn), func(f *Facts) {
				if c.in != nil {
					f.Materials = []printer.Material{*c.in}
				}
			}), "may-warp")
			if ok != (c.corners > 0) || f.Numbers["corners"] != c.corners {
				t.Errorf("%s turned by %g°: %g corners, %q", c.name, turn, f.Numbers["corners"], f.Message)
			}
		}
	}
}
