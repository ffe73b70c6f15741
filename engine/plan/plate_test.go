package plan

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/slice"
)

// Skirt and brim around a square of side a: loop k lies d_k out, and is
// 4a + 2πd_k long. A raft is three layers of the square grown by the margin.
func TestBase(t *testing.T) {
	const a = 20.0
	cube := prism(4, 0.2, rect(0, 0, a, a))
	loop := func(d float64) float64 { return (4*a + 2*math.Pi*d) * 0.4 * 0.2 }
	brim := 0.0
	for k := range 10 {
		brim += loop(0.2 + 0.4*float64(k))
	}
	grown := a*a + 4*a*3 + math.Pi*9
	for _, c := range []struct {
		base   printer.Base
		want   float64
		layers int
	}{
		{printer.NoBase, 0, 20},
		{printer.Skirt, loop(3.2) + loop(3.6), 20},
		{printer.Brim, brim, 20},
		// The outline bead, then 60 %, 60 % and all of what is inside it.
		{printer.Raft, 3*loop(3-0.2) + (grown-loop(3-0.2)/0.2)*0.2*(0.6+0.6+1), 23},
	} {
		pl := plans(t, cube, func(w *printer.Way) { w.Base = c.base })
		within(t, string(c.base), ofKind(pl, Base), c.want, 0.01)
		if len(pl.Layers) != c.layers {
			t.Errorf("%s: %d layers, want %d", c.base, len(pl.Layers), c.layers)
		}
		if top := pl.Layers[len(pl.Layers)-1].Top; math.Abs(top-float64(c.layers)*0.2) > 1e-9 {
			t.Errorf("%s: the top is at %v mm", c.base, top)
		}
	}
}

// A ring gets no brim inside, and the skirt goes around supports.
func TestBaseOutside(t *testing.T) {
	ring := region.Subtract(disc(0, 0, 20, 200), disc(0, 0, 15, 200))
	pl := plans(t, prism(1, 0.2, ring), func(w *printer.Way) { w.Base = printer.Brim })
	for _, p := range pl.Layers[0].Paths {
		if p.Kind == Base && math.Hypot(mm(p.Points[0].X), mm(p.Points[0].Y)) < 20 {
			t.Error("a brim inside a ring")
		}
	}
	pl = plans(t, shapeT(0.2), func(w *printer.Way) { w.Base, w.Supports = printer.Skirt, printer.Breakaway })
	if x := mm(pl.Max.X); x < 20+3 {
		t.Errorf("the skirt reaches to x = %v only, supports to 20", x)
	}
}

// Two colours: earlier parts win, each colour has its shells, every change is
// purged, and there are no more changes than layers with both.
func TestTwoColours(t *testing.T) {
	cube := func(x0, x1, z0, z1 float64) []slice.Layer {
		return stack(10, 0.2, func(z float64) region.Region {
			if z < z0 || z > z1 {
				return nil
			}
			return rect(x0, 0, x1, 20)
		})
	}
	parts := []Part{
		{Layers: cube(0, 12, 0, 10), Tool: 0},
		{Layers: cube(8, 20, 2, 6), Tool: 1}, // 4 mm of overlap belong to the first
	}
	pl := plansOf(t, parts, full)
	within(t, "first colour", pl.Deposited(0)-pl.Volume[0][Purge], 12*20*10, 0.01)
	within(t, "second colour", pl.Deposited(1)-pl.Volume[1][Purge], 8*20*4, 0.01)
	changes, now := 0, -1
	lastPurge, lastChange := 0, 0
	purged := 0.0
	for i, l := range pl.Layers {
		for k, p := range l.Paths {
			if p.Kind == Purge {
				lastPurge = i
				purgeClear(t, pl, p)
			}
			if now >= 0 && int(p.Tool) != now {
				changes++
				lastChange = i
				if p.Kind != Purge {
					t.Errorf("layer %d, path %d: a change without purge", i, k)
				}
				purged += p.Volume(l.Top - l.Bottom)
			}
			now = int(p.Tool)
		}
	}
	// 20 layers (2 to 6 mm) have both: the first goes 0 → 1, the next 1 → 0 and
	// so on, one change each; after the last, back to 0 if it ended with 1.
	if changes != 20 && changes != 21 {
		t.Errorf("%d changes of tool, want one for each of 20 layers and one back", changes)
	}
	within(t, "purged", purged, float64(changes)*testPrinter.PurgeVolume, 0.003)
	if lastPurge != lastChange {
		t.Errorf("the purge block is laid up to layer %d, the last change is in %d", lastPurge, lastChange)
	}
}

// purgeClear says whether p is off everything else.
func purgeClear(t *testing.T, pl *Plan, p Path) {
	t.Helper()
	for _, q := range p.Points {
		if mm(q.X) < 22 && mm(q.X) > -2 && mm(q.Y) < 22 && mm(q.Y) > -2 {
			t.Fatalf("purge at %v mm, %v mm is in the way of the part", mm(q.X), mm(q.Y))
		}
	}
}

func TestToolOrder(t *testing.T) {
	a, b, ab := []uint8{0}, []uint8{1}, []uint8{0, 1}
	for _, c := range []struct {
		used    [][]uint8
		changes int
	}{
		{[][]uint8{a, a, a}, 0},
		{[][]uint8{a, b, a}, 2},
		{[][]uint8{ab, ab, ab, ab}, 4},
		{[][]uint8{ab, b, ab, a}, 2},
		{[][]uint8{ab, a, ab, b}, 2},
		{[][]uint8{{0, 1, 2}, {0, 1}, {1, 2}}, 4},
	} {
		_, changes := toolOrder(c.used)
		n := 0
		for _, x := range changes {
			n += x
		}
		if n != c.changes {
			t.Errorf("%v: %d changes, want %d", c.used, n, c.changes)
		}
	}
}

// Supports of a second tool are laid by it, purged for, and leave the part alone.
func TestSolubleTool(t *testing.T) {
	way := testWay(func(w *printer.Way) { w.Supports = printer.Soluble })
	pl, err := Make([]Part{{Layers: shapeT(0.2)}}, way, testPrinter, 1, 2)
	if err != nil {
		t.Fatal(err)
	}
	if err := sound(pl); err != nil {
		t.Fatal(err)
	}
	if pl.Volume[0][Support]+pl.Volume[0][SupportInterface] != 0 || pl.Volume[1][Support] == 0 {
		t.Errorf("supports by tool: %v", pl.Volume)
	}
	if pl.Volume[0][Purge]+pl.Volume[1][Purge] < 99*testPrinter.PurgeVolume {
		t.Errorf("purge: %v and %v mm³ for about 100 changes", pl.Volume[0][Purge], pl.Volume[1][Purge])
	}
}

// Any number of workers makes the same plan.
func TestWorkers(t *testing.T) {
	parts := []Part{{Layers: sphere(8, 0.4)}, {Layers: torus(12, 4, 0.4), Tool: 1}}
	way := testWay(func(w *printer.Way) {
		w.Supports, w.Base, w.Pattern = printer.Breakaway, printer.Brim, printer.Curve
		w.LayerHeight, w.FirstLayerHeight = 0.4, 0.4
	})
	var first *Plan
	for _, n := range []int{1, 3, -5} {
		pl, err := Make(parts, way, testPrinter, 1, n)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = pl
		} else if !reflect.DeepEqual(first, pl) {
			t.Errorf("%d workers make another plan than one", n)
		}
	}
}

// Many copies on a plate weigh as many times as one.
func TestCopies(t *testing.T) {
	one := torus(8, 3, 0.2)
	pl := plans(t, one, nil)
	var parts []Part
	for k := range 4 {
		layers := append([]slice.Layer(nil), one...)
		for i := range layers {
			layers[i].Region = layers[i].Region.Translate(region.Micron(40000*(k%2)), region.Micron(40000*(k/2)))
		}
		parts = append(parts, Part{Layers: layers})
	}
	// Hatches meet each copy at another phase.
	within(t, "four copies", deposited(plansOf(t, parts, nil)), 4*deposited(pl), 0.005)
}

// Parts of one tool that overlap are one part; of two tools, the first has it all.
func TestOverlap(t *testing.T) {
	a, b := prism(4, 0.2, rect(0, 0, 20, 20)), prism(4, 0.2, rect(10, 0, 30, 20))
	pl := plansOf(t, []Part{{Layers: a}, {Layers: b}}, full)
	within(t, "one tool", pl.Deposited(0), 30*20*4, 0.01)
	if n := shellsIn(pl, 0); n != 1 {
		t.Errorf("one tool: %d outer shells in a layer, want 1", n)
	}
	pl = plansOf(t, []Part{{Layers: a, Tool: 1}, {Layers: b}, {Layers: a}}, full)
	within(t, "first of three", pl.Deposited(1)-pl.Volume[1][Purge], 20*20*4, 0.01)
	within(t, "the others", pl.Deposited(0)-pl.Volume[0][Purge], 10*20*4, 0.01)
}

func shellsIn(pl *Plan, layer int) int {
	n := 0
	for _, p := range pl.Layers[layer].Paths {
		if p.Kind == OuterShell {
			n++
		}
	}
	return n
}

func TestRefuses(t *testing.T) {
	cube := []Part{{Layers: prism(1, 0.2, rect(0, 0, 5, 5))}}
	for _, c := range []struct {
		change func(w *printer.Way)
		says   string
	}{
		{func(w *printer.Way) { w.LayerHeight = math.NaN() }, "layer height"},
		{func(w *printer.Way) { w.BeadWidth = math.Inf(1) }, "bead width"},
		{func(w *printer.Way) { w.BeadWidth = 2 }, "nozzle"},
		{func(w *printer.Way) { w.BeadWidth = 0.2; w.LayerHeight = 0.3 }, "higher than its bead"},
		{func(w *printer.Way) { w.Shells = -1 }, "shells"},
		{func(w *printer.Way) { w.Infill = 101 }, "infill"},
		{func(w *printer.Way) { w.Pattern = "zigzag" }, "pattern"},
		{func(w *printer.Way) { w.Supports = "stilts" }, "supports"},
		{func(w *printer.Way) { w.Supports = printer.Soluble; w.SupportInfill = 0 }, "support infill"},
		{func(w *printer.Way) { w.Base = "glue" }, "base"},
		{func(w *printer.Way) { w.InfillSpeed = 0 }, "infill speed"},
	} {
		if _, err := Make(cube, testWay(c.change), testPrinter, 0, 1); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("want an error about %s, got %v", c.says, err)
		}
	}
	for _, c := range []struct {
		parts []Part
		says  string
	}{
		{nil, "no part"},
		{[]Part{{Tool: 200}}, "tool 201"},
		{[]Part{{Layers: []slice.Layer{{Bottom: 1, Top: 1}}}}, "no layer"},
		{[]Part{{Layers: []slice.Layer{{Bottom: 0, Top: math.NaN()}}}}, "no layer"},
		{[]Part{cube[0], {Layers: prism(1, 0.1, rect(0, 0, 5, 5))}}, "same layer height"},
		{[]Part{{Layers: prism(1, 0.2, rect(0, 0, 6000, 5))}}, "size that was meant"},
		{[]Part{{Layers: prism(1000, 0.02, rect(0, 0, 2000, 2000))}}, "million lines"},
	} {
		if _, err := Make(c.parts, testWay(nil), testPrinter, 0, 1); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("want an error about %s, got %v", c.says, err)
		}
	}
	pl, err := Make([]Part{{}}, testWay(nil), testPrinter, 0, 1)
	if err != nil || len(pl.Layers) != 0 {
		t.Errorf("no layers: %v, %v", pl, err)
	}
}

// Inner shells come before the outer one, and what fills them after.
func TestOrder(t *testing.T) {
	pl := plans(t, prism(4, 0.2, rect(0, 0, 20, 20)), nil)
	rank := map[Kind]int{InnerShell: 0, OuterShell: 1, Solid: 2, Infill: 3}
	for i, l := range pl.Layers {
		for k := 1; k < len(l.Paths); k++ {
			if rank[l.Paths[k].Kind] < rank[l.Paths[k-1].Kind] {
				t.Fatalf("layer %d: kind %d after kind %d", i, l.Paths[k].Kind, l.Paths[k-1].Kind)
			}
		}
	}
	// Seams hide in inward corners: an L has one.
	l := region.Union(rect(0, 0, 20, 8), rect(0, 0, 8, 20))
	for _, layer := range plans(t, prism(2, 0.2, l), nil).Layers {
		for _, p := range layer.Paths {
			if p.Kind == OuterShell && math.Hypot(mm(p.Points[0].X)-8, mm(p.Points[0].Y)-8) > 1 {
				t.Errorf("the seam is at %v, not in the corner of the L", p.Points[0])
			}
		}
	}
}

// From island to island the head takes no more than half as much again as it
// must: 36 discs 30 mm apart have 35 steps of 30 mm less a disc between them.
func TestTravel(t *testing.T) {
	var plate region.Region
	for k := range 36 {
		plate = append(plate, disc(30*float64(k%6), 30*float64(k/6), 5, 40)...)
	}
	pl := plans(t, prism(2, 0.2, region.Nonzero(plate...)), nil)
	for i, l := range pl.Layers {
		far := 0.0
		for k := 1; k < len(l.Paths); k++ {
			a, b := l.Paths[k-1], l.Paths[k]
			from := a.Points[len(a.Points)-1]
			if a.Closed {
				from = a.Points[0]
			}
			if d := distance(from, b.Points[0]); d > 10 {
				far += d
			}
		}
		if far > 1.5*35*30 || far < 35*(30-10)*0.99 {
			t.Errorf("layer %d: %v mm from island to island, the least is about %v", i, far, 35*30)
		}
	}
}
