package likeness

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

func printOf(t testing.TB, m *mesh.Mesh) Print {
	t.Helper()
	p, err := Of(m)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestHand: parts that differ from their mirror image, and parts that do not.
func TestHand(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	npm := func(name string) *mesh.Mesh { return load(t, oracle.NPM(t, name)) }
	for _, row := range []struct {
		name   string
		m      *mesh.Mesh
		chiral bool
	}{
		{"bunny", npm("stl-models/objects/bunny.bin.stl"), true},
		{"lever", load(t, oracle.File(t, "/usr/share/doc/gmsh-doc/converters/stl_to_cartesian/lever.stl.gz")), true},
		{"spiral stair", stair(20, 0.3, 1), true},
		{"double spiral stair", stair(20, 0.3, 2), true},
		{"propeller of three blades", stair(8, 0.1, 3), true},
		{"three arms", ell(), true},
		{"cube", box(1, 1, 1), false},
		{"box", box(1, 2, 3), false},
		{"ball", ball(1, 16), false},
		{"L of two arms", mesh.Merge(box(30, 5, 5), moved(box(5, 20, 5), 0, 5, 0)), false},
		{"tower of discs", stair(12, math.Pi/2, 4), false},
		{"gearwheel", npm("stl-models/objects/gearwheel.bin.stl"), false},
		{"cube with a hole", npm("stl/test/binary/cube-20mm-with-hole.stl"), false},
	} {
		p := printOf(t, row.m)
		same, other := Compare(p, printOf(t, turned(row.m, r))), Compare(p, printOf(t, turned(mirrored(row.m), r)))
		wantSame, wantOther := Untold, Untold
		if row.chiral {
			wantSame, wantOther = SameHand, Mirrored
		}
		if same.Hand != wantSame || other.Hand != wantOther {
			t.Errorf("%s: turned: %v (%.4f), mirrored: %v (%.4f)", row.name, same.Hand, same.Apart, other.Hand, other.Apart)
		}
		if max(same.Apart, other.Apart) > 0.01 {
			t.Errorf("%s: %.4f from itself turned, %.4f from its mirror image", row.name, same.Apart, other.Apart)
		}
	}
}

// TestHeaps: of heaps of boxes put down by chance the hand is told, of most, and
// never wrong; of heaps made whole by their own mirror image it is not told.
func TestHeaps(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	told := 0
	for i := range 14 {
		m, whole := heap(r, 2+i%5), i%2 == 1
		if whole {
			m = mesh.Merge(m, mirrored(m))
		}
		p := printOf(t, m)
		same, other := Compare(p, printOf(t, turned(m, r))), Compare(p, printOf(t, turned(mirrored(m), r)))
		switch {
		case same.Hand == SameHand && other.Hand == Mirrored && !whole:
			told++
		case same.Hand != Untold || other.Hand != Untold:
			t.Errorf("heap %d, its own mirror image: %v: turned: %v, mirrored: %v", i, whole, same, other)
		}
	}
	if told < 6 {
		t.Errorf("the hand of %d heaps of 7 was told", told)
	}
}

func TestPrintIsKept(t *testing.T) {
	p := printOf(t, ell())
	data, err := json.Marshal(map[string]Print{"print": p})
	if err != nil {
		t.Fatal(err)
	}
	var back map[string]Print
	if err := json.Unmarshal(data, &back); err != nil || back["print"] != p {
		t.Fatalf("%s came back as %v, %v", data, back, err)
	}
	raw, _ := p.MarshalBinary()
	var q Print
	if err := q.UnmarshalBinary(raw); err != nil || q != p || Distance(p, q) != 0 {
		t.Fatalf("%v: %v", err, q == p)
	}
	next := append([]byte(nil), raw...)
	next[0] = Version + 1
	for _, bad := range [][]byte{nil, raw[1:], append(raw, 0), next} {
		if err := q.UnmarshalBinary(bad); !errors.Is(err, ErrPrint) {
			t.Errorf("%d bytes: %v", len(bad), err)
		}
	}
	for _, bad := range []string{"", "?", string(make([]byte, 10000))} {
		if err := q.UnmarshalText([]byte(bad)); !errors.Is(err, ErrPrint) {
			t.Errorf("%.20q: %v", bad, err)
		}
	}
	if q != p {
		t.Error("a print that cannot be read changed what was there")
	}
	if d := Distance(Print{}, p); d != 1 {
		t.Errorf("nothing is %g from something", d)
	}
	if Compare(Print{}, Print{}) != (Likeness{Apart: 1}) {
		t.Error("nothing is like nothing")
	}
}

// TestDistance: symmetric, within its range, nothing only for equal prints.
func TestDistance(t *testing.T) {
	shapes := []*mesh.Mesh{ell(), box(1, 2, 3), ball(1, 8), stair(20, 0.3, 1), stair(20, -0.3, 1)}
	var prints []Print
	for _, m := range shapes {
		prints = append(prints, printOf(t, m))
	}
	for i, p := range prints {
		for j, q := range prints {
			d := Distance(p, q)
			if d != Distance(q, p) || d < 0 || d >= 1 || (i == j) != (d == 0) {
				t.Errorf("from %d to %d: %g and back %g", i, j, d, Distance(q, p))
			}
		}
	}
}

// TestStretch: the more a shape is stretched, the farther it is, and by about
// as much as compare.go says.
func TestStretch(t *testing.T) {
	for _, row := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"cube", box(1, 1, 1)}, {"box", box(1, 2, 3)}, {"three arms", ell()}, {"spiral stair", stair(20, 0.3, 1)},
		{"lever", load(t, oracle.File(t, "/usr/share/doc/gmsh-doc/converters/stl_to_cartesian/lever.stl.gz"))},
	} {
		p := printOf(t, row.m)
		before := 0.0
		for _, c := range []struct{ by, least, most float64 }{{1.02, 0.001, 0.01}, {1.05, 0.01, 0.025}, {1.1, 0.02, 0.04}, {1.2, 0.04, 0.08}, {1.5, 0.075, 0.15}} {
			d := Distance(p, printOf(t, mesh.Transform(row.m, mesh.Scale(mesh.Vec{1, 1, c.by}))))
			t.Logf("%-14s × %.2f: %.4f", row.name, c.by, d)
			if d <= before || d < c.least || d > c.most {
				t.Errorf("%s stretched %g times: %.4f apart, want %g to %g, more than %.4f", row.name, c.by, d, c.least, c.most, before)
			}
			before = d
		}
	}
}
