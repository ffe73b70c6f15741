package findings

import (
	"math"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/slice"
)

// The least tilt that tips a box of a × b × h over is atan(min(a, b)/h); a prism
// whose top is moved aside by s has its centre at s/2 (statics, COMPUTED).
func TestTippingAngle(t *testing.T) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		deg  float64
	}{
		{"box 10 × 20 × 60", block(0, 0, 0, 10, 20, 60), math.Atan2(5, 30)},
		{"box 20 × 8 × 100", block(5, 5, 0, 25, 13, 100), math.Atan2(4, 50)},
		{"rod 6 × 80", rod(3, 0, 80, 360), math.Atan2(3*math.Cos(math.Pi/360), 40)},
		{"leaning by 3 of 10", sheared(block(0, 0, 0, 10, 20, 60), 3.0/60), math.Atan2(3.5, 30)},
		{"leaning too far", sheared(block(0, 0, 0, 10, 20, 60), 20.0/60), -math.Atan2(5, 30)},
		// Two legs 4 wide, 40 apart, under a plank on its side: the outer edges count.
		{"two legs", mesh.Merge(block(0, 0, 0, 4, 6, 70), block(36, 0, 0, 40, 6, 70), block(0, 0, 65, 40, 6, 100)), math.NaN()},
	} {
		m, want := c.m, c.deg*180/math.Pi
		if math.IsNaN(want) {
			// Overlap of legs and plank is counted once in truth, twice in the sum of
			// volumes: use the height the facts give.
			want = math.Atan2(3, mesh.Measure(m).Centre[2]) * 180 / math.Pi
		}
		for _, turn := range []float64{0, 31, 90} {
			v := shifted(aboutZ(m, turn), 40, -25, 0)
			s := standing(cutAt(v, 0.1), mesh.Measure(v).Centre, 0)
			// Contact is the section at 0.1 mm and snaps to the micron.
			within(t, c.name, s.angle, want, 0.2)
		}
	}
}

// cutAt is the section of m at z.
func cutAt(m *mesh.Mesh, z float64) region.Region {
	r, _ := slice.Plane(m, z)
	return r
}

func TestToppleFinding(t *testing.T) {
	leaning := sheared(block(0, 0, 0, 10, 20, 60), 20.0/60)
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		w    func(*Facts)
		want string
	}{
		{"cube", block(0, 0, 0, 20, 20, 20), nil, "-may-topple"},
		{"box", block(0, 0, 0, 20, 30, 60), nil, "-may-topple"},
		{"post", block(0, 0, 0, 8, 8, 60), nil, "+may-topple=ask"},
		{"post on a brim of 5", block(0, 0, 0, 8, 8, 60), func(f *Facts) { f.Way.Base, f.Way.BrimWidth = printer.Brim, 5 }, "-may-topple"},
		{"low and slim", block(0, 0, 0, 1, 30, 14), nil, "-may-topple"},
		{"leaning", leaning, nil, "+may-topple=stop"},
		{"leaning with supports", leaning, func(f *Facts) { f.Way.Supports = printer.Soluble }, "+may-topple=ask"},
		{"leaning on a raft of 8", leaning, func(f *Facts) { f.Way.Base, f.Way.RaftMargin = printer.Raft, 8 }, "+may-topple=ask"},
		// Pieces fall by themselves, however wide they stand together.
		{"two posts", mesh.Merge(block(0, 0, 0, 8, 8, 60), block(100, 0, 0, 108, 8, 60)), nil, "+may-topple=ask"},
		{"a gate", mesh.Merge(block(0, 0, 0, 12, 20, 60), block(100, 0, 0, 112, 20, 60), block(0, 0, 55, 112, 20, 60)), nil, "-may-topple"},
	} {
		wants(t, c.name, as(c.m, c.w), c.want)
	}
}

func TestContactFinding(t *testing.T) {
	f, _ := get(as(ball(10, 180), nil), "small-contact")
	// The first layer is cut at 0.1: a disc of radius² 2·10·0.1 − 0.1² (COMPUTED).
	within(t, "ball", f.Numbers["contact_area_mm2"], math.Pi*(2-0.01), 0.04)
	table := mesh.Merge(block(0, 0, 20, 60, 40, 24),
		block(0, 0, 0, 3, 3, 21), block(57, 0, 0, 60, 3, 21), block(0, 37, 0, 3, 40, 21), block(57, 37, 0, 60, 40, 21))
	f, _ = get(as(table, nil), "small-contact")
	within(t, "table, area", f.Numbers["contact_area_mm2"], 36, 1e-6)
	within(t, "table, spots", f.Numbers["contact_spots"], 4, 0)
	wants(t, "table", as(table, nil), "+small-contact=ask", "-may-topple", "-floating", "-starts-in-air", "-several-pieces")
	wants(t, "table on a brim", as(table, func(f *Facts) { f.Way.Base, f.Way.BrimWidth = printer.Brim, 5 }), "+small-contact=note")
	wants(t, "cube", as(block(0, 0, 0, 20, 20, 20), nil), "-small-contact")
	wants(t, "below", as(block(0, 0, -3, 20, 20, 20), nil), "+below-platform=ask")
}

func TestFloating(t *testing.T) {
	plate := block(0, 0, 0, 40, 40, 4)
	over := shifted(ball(8, 40), 20, 20, 9)
	on := shifted(ball(8, 40), 20, 20, 4)
	sunk := shifted(ball(8, 40), 20, 20, 3)
	beside := shifted(ball(8, 40), 80, 20, 5)
	hidden := shifted(ball(1, 24), 20, 20, 1) // inside the plate
	cup := mesh.Merge(plate, block(0, 0, 3, 2, 40, 30), block(38, 0, 3, 40, 40, 30))
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		w     func(*Facts)
		wants []string
	}{
		{"ball over a plate", mesh.Merge(plate, over), nil, []string{"+floating=stop", "-starts-in-air"}},
		{"the same with supports", mesh.Merge(plate, over), func(f *Facts) { f.Way.Supports = printer.Breakaway }, []string{"+floating=ask"}},
		{"ball on a plate", mesh.Merge(plate, on), nil, []string{"-floating", "-starts-in-air"}},
		{"ball sunk into a plate", mesh.Merge(plate, sunk), nil, []string{"-floating", "-starts-in-air"}},
		{"ball beside, in the air", mesh.Merge(plate, beside), nil, []string{"+floating=stop"}},
		{"ball inside a plate", mesh.Merge(plate, hidden), nil, []string{"-floating", "-starts-in-air"}},
		// Between walls boxes cannot tell; it is an island all the same.
		{"ball between walls", mesh.Merge(cup, over), nil, []string{"-floating", "+starts-in-air=ask"}},
		{"all of it in the air", block(0, 0, 5, 40, 40, 9), nil, []string{"+floating=stop"}},
		{"plate", plate, nil, []string{"-floating", "-starts-in-air"}},
		// A hollow has low points, but no island begins there.
		{"ball with a hollow", mesh.Merge(ball(10, 40), turnedInside(shifted(ball(5, 32), 0, 0, 5))), nil, []string{"-floating", "-starts-in-air"}},
		// A mushroom whose rim hangs down begins in the air; a T does not.
		{"mushroom", lathe([][2]float64{{0, 0}, {5, 0}, {5, 30}, {18, 20}, {20, 20}, {5, 36}, {0, 36}}, 64), nil, []string{"+starts-in-air=ask", "-floating"}},
		{"mushroom with supports", lathe([][2]float64{{0, 0}, {5, 0}, {5, 30}, {18, 20}, {20, 20}, {5, 36}, {0, 36}}, 64),
			func(f *Facts) { f.Way.Supports = printer.Breakaway }, []string{"+starts-in-air=note"}},
		{"bar across a post", mesh.Merge(block(-3, -3, 0, 3, 3, 50), block(-25, -3, 20, 25, 3, 26)), nil, []string{"-starts-in-air", "-floating"}},
		{"bar laid on a post", mesh.Merge(block(-3, -3, 0, 3, 3, 20), block(-25, -3, 20, 25, 3, 26)), nil, []string{"-starts-in-air", "-floating"}},
	} {
		wants(t, c.name, as(c.m, c.w), c.wants...)
		wants(t, c.name+", turned and moved", as(shifted(aboutZ(c.m, 27), 30, 50, 0), c.w), c.wants...)
	}
	f, _ := get(as(mesh.Merge(plate, over), nil), "floating")
	within(t, "gap", f.Numbers["gap_mm"], 5, 1e-6)
}

// turnedInside makes a solid a hollow.
func turnedInside(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{V: m.V}
	for _, f := range m.F {
		out.F = append(out.F, [3]int32{f[0], f[2], f[1]})
	}
	return out
}
