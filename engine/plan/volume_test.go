package plan

import (
	"fmt"
	"math"
	"testing"

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/slice"
)

func full(w *printer.Way) { w.Infill = 100 }

// At 100 % density what is laid is the part. Volumes are closed forms; those of
// the specimens are computed from the dimensions in ASTM D638 and ISO 527-2
// with tangent arcs.
func TestSolidVolume(t *testing.T) {
	for _, c := range []struct {
		name   string
		layers []slice.Layer
		want   float64 // mm³
	}{
		{"cube 20", prism(20, 0.2, rect(0, 0, 20, 20)), 8000},
		{"cube 5", prism(5, 0.2, rect(0, 0, 5, 5)), 125},
		{"cube 20 turned", prism(20, 0.2, rect(0, 0, 20, 20).Turn(0.3)), 8000},
		{"cylinder r 10", prism(10, 0.2, disc(50, 50, 10, 200)), 1000 * math.Pi},
		{"pin r 1", prism(10, 0.2, disc(0, 0, 1, 64)), 10 * math.Pi},
		{"sphere R 10", sphere(10, 0.2), 4000 * math.Pi / 3},
		{"cone r 10 h 10", cone(10, 10, 0.2), 1000 * math.Pi / 3},
		{"torus R 20 r 5", torus(20, 5, 0.2), 9869.604401},
		{"D638 type I", prism(3.2, 0.2, bar(13, 57, 19, 165, 76)), 8394.182},
		{"ISO 527-2 type 1A", prism(4, 0.2, bar(10, 80, 20, 170, 24)), 9600.084},
	} {
		t.Run(c.name, func(t *testing.T) {
			within(t, "sliced", volume(c.layers), c.want, 0.003)
			for k, move := range moves {
				pl := plans(t, moved(c.layers, move.f), func(w *printer.Way) { w.Infill = 100; w.Shells = k % 4 })
				within(t, fmt.Sprintf("%s, %d shells", move.name, k%4), deposited(pl)+pl.Lost, c.want, 0.01)
			}
		})
	}
}

// At 1.24 g/cm³ (PLA, nominal, MEMORY) 8394.182 mm³ weigh 10.4088 g, 9600.084 mm³ 11.9041 g.
func TestSpecimenMass(t *testing.T) {
	for _, c := range []struct {
		name   string
		layers []slice.Layer
		grams  float64
	}{
		{"ASTM D638 type I", prism(3.2, 0.2, bar(13, 57, 19, 165, 76)), 10.4088},
		{"ISO 527-2 type 1A", prism(4, 0.2, bar(10, 80, 20, 170, 24)), 11.9041},
	} {
		within(t, c.name, deposited(plans(t, c.layers, full))*1.24/1000, c.grams, 0.01)
	}
}

// Walls of any width are filled, or counted as lost.
func TestWalls(t *testing.T) {
	const w = 0.4
	for _, beads := range []float64{0.3, 0.45, 0.55, 0.7, 0.9, 1, 1.1, 1.3, 1.6, 1.9, 2, 2.1, 2.2, 2.5, 2.8, 3, 3.3, 3.7, 4, 4.1, 4.5, 5, 5.5, 6.2, 8} {
		wide := beads * w
		for _, c := range []struct {
			name string
			r    region.Region
		}{
			{"straight", rect(0, 0, 30, wide)},
			{"turned", rect(0, 0, 30, wide).Turn(0.5)},
			{"ring", region.Subtract(disc(0, 0, 15, 180), disc(0, 0, 15-wide, 180))},
			{"frame", region.Subtract(rect(0, 0, 20, 20), rect(wide, wide, 20-wide, 20-wide))},
		} {
			for shells := 1; shells <= 3; shells++ {
				name := fmt.Sprintf("%s, %.2f beads, %d shells", c.name, beads, shells)
				pl := plans(t, prism(0.6, 0.2, c.r), func(w *printer.Way) { w.Infill = 100; w.Shells = shells })
				want := c.r.Area() * 0.6
				got, lost := deposited(pl), pl.Lost
				if beads < 0.5 {
					within(t, name+": lost", lost, want, 0.01)
					if got != 0 {
						t.Errorf("%s: laid %v mm³ of what is too thin", name, got)
					}
					continue
				}
				within(t, name+": laid", got, want, 0.012)
				if lost > 0.005*want {
					t.Errorf("%s: lost %v of %v mm³", name, lost, want)
				}
				switch {
				case beads < 0.95:
					within(t, name+": thinner than a bead", pl.ThinWall, want, 0.02)
				case beads > 1.05 && beads < 1.95:
					within(t, name+": one to two beads", pl.SingleWall, want, 0.03)
				case beads > 2.05 && pl.ThinWall+pl.SingleWall > 0.005*want:
					t.Errorf("%s: %v mm³ count as thin", name, pl.ThinWall+pl.SingleWall)
				}
			}
		}
	}
}

// Sparse infill deposits its density: without shells and solid layers all that
// is laid is infill.
func TestDensity(t *testing.T) {
	for _, pattern := range []printer.Pattern{printer.Lines, printer.Grid, printer.Curve} {
		for _, density := range []float64{0, 5, 10, 15, 20, 33, 50, 75} {
			for _, c := range []struct {
				name   string
				layers []slice.Layer
			}{
				{"slab", prism(8, 0.2, rect(0, 0, 60, 40))},
				{"slab turned", prism(8, 0.2, rect(0, 0, 60, 40).Turn(0.8))},
				{"cylinder", prism(8, 0.2, disc(0, 0, 25, 200))},
			} {
				pl := plans(t, c.layers, func(w *printer.Way) {
					w.Infill, w.Pattern, w.Shells, w.SolidTop, w.SolidBottom = density, pattern, 0, 0, 0
				})
				within(t, fmt.Sprintf("%s, %s at %v %%", c.name, pattern, density),
					ofKind(pl, Infill)/volume(c.layers)*100, density, 0.04)
			}
		}
	}
}

// Solid layers of a box: its top and bottom, and nothing between. Half-way up a
// step, the layers below the step are solid outside of what stands on it.
func TestSolidLayers(t *testing.T) {
	none := func(w *printer.Way) { w.Shells, w.SolidTop, w.SolidBottom, w.Infill = 0, 3, 2, 0 }
	box := prism(10, 0.2, rect(0, 0, 30, 20))
	within(t, "box", ofKind(plans(t, box, none), Solid), 600*0.2*5, 0.01)
	step := stack(10, 0.2, func(z float64) region.Region {
		if z < 5 {
			return rect(0, 0, 30, 20)
		}
		return rect(0, 0, 10, 20)
	})
	// Bottom 2 of 600 mm², 3 below the step of 400 mm², top 3 of 200 mm². A solid
	// span reaches one bead (0.4 mm) under what covers it: along a hatch at 48° or
	// 42° that is 0.4·|cos| mm, over 20 mm of edge and 3 layers.
	anchor := 0.4 * 20 * (2*math.Cos(48*math.Pi/180) + math.Cos(42*math.Pi/180)) * 0.2
	within(t, "step", ofKind(plans(t, step, none), Solid), (600*2+400*3+200*3)*0.2+anchor, 0.01)
}
