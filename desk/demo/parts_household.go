package demo

import (
	"math"

	"platebook/engine/mesh"
)

// household are the useful things: what holds, hangs, mends and labels.
func household() []Part {
	return []Part{
		{File: "phone-stand.stl", Wish: "So that I can read recipes while I stir. Grey if you have it.", Copies: 1, Bodies: one(phoneStand())},
		{File: "pen-cup.stl", Wish: "A cup for the pens at my desk.", Copies: 1, Bodies: one(penCup())},
		{File: "corner-brace.stl", Wish: "My bookshelf leans. Four of these should keep it straight.", Copies: 4, Bodies: one(brace())},
		{File: "key-tag.stl", Wish: "For the key to the seed shed.", Copies: 2, Bodies: one(keyTag())},
		{File: "pulley.stl", Wish: "For the cord of a roller blind, the old one cracked.", Copies: 1, Bodies: one(pulley())},
		{File: "hose-adapter.stl", Wish: "From the vacuum hose to the sander. I measured twice.", Copies: 1, Bodies: one(adapter())},
		{File: "coat-hook.stl", Wish: "Hooks for the children's corner, please in yellow.", Copies: 3, Bodies: one(coatHook())},
		{File: "door-stop.stl", Wish: "The reading-room door falls shut in every draught.", Copies: 2, Bodies: one(doorStop())},
		{File: "soap-rest.stl", Wish: "For the bathroom, so that the soap dries.", Copies: 1, Bodies: one(soapRest())},
		{File: "pea-trellis.stl", Wish: "For sweet peas on the window sill. Green would be lovely.", Copies: 1, Bodies: one(trellis())},
		{File: "shelf-label.stl", Wish: "A label holder for the shelf ends; twelve if they are cheap.", Copies: 12, Bodies: one(labelFrame())},
		{File: "ring-cone.stl", Wish: "A cone to keep my rings on.", Copies: 1, Bodies: one(turn([]point{{0, 0}, {22, 0}, {22, 3}, {13, 5}, {2.5, 58}, {0, 60}}, 72))},
		{File: "soup-bowl.obj", Wish: "A bowl for my soup.", Copies: 1, Bodies: one(bowl())},
		{File: "pastry-shape.stl", Wish: "To cut star pastry for our baking day.", Copies: 2, Bodies: one(pastryShape())},
		{File: "house-key.stl", Wish: "A copy of a key, I only need it once.", Copies: 1, Bodies: one(houseKey())},
		{File: "ladle-fork.stl", Wish: "A fork to hang my ladle on, over the stove.", Copies: 1, Bodies: one(spun(each(slingFrame(), func(v mesh.Vec) mesh.Vec { return v.Scale(0.7) }), 30))},
		{File: "inside-out-tray.stl", Wish: "A tray for paper clips. It looks right on my screen.", Copies: 1, Bodies: one(insideOut(tray()))},
	}
}

func phoneStand() *mesh.Mesh {
	right := []point{{0, 0}, {62, 0}, {62, 12}}
	left := []point{{5, 4}, {58, 4}, {58, 12}}
	back := ribbon([]point{{0, 0}, {5, 0}}, []point{{19, 62}, {24, 62}}, 0, 56, false)
	return upright(moved(join(ribbon(right, left, 0, 56, false), back), 0, 0, -28))
}

// penCup has six sides that lean by a sixth of a turn on their way up.
func penCup() *mesh.Mesh {
	const side, height = math.Pi / 3, 62.0
	cup := vessel(height, 2, 2.4, 16, 48, func(_, a float64) float64 {
		return 27 * math.Cos(side/2) / math.Cos(math.Mod(a+2*math.Pi+1e-9, side)-side/2)
	})
	return each(cup, func(v mesh.Vec) mesh.Vec {
		sin, cos := math.Sincos(side * v[2] / height)
		return mesh.Vec{v[0]*cos - v[1]*sin, v[0]*sin + v[1]*cos, v[2]}
	})
}

func brace() *mesh.Mesh {
	rib := upright(ribbon([]point{{3, 3}, {34, 3}}, []point{{3, 34}, {34, 3.2}}, -14, -10, false))
	return join(box(0, 0, 0, 38, 24, 3.6), box(0, 0, 0, 3.6, 24, 38), rib)
}

func keyTag() *mesh.Mesh {
	eye := moved(ribbon(arc(0, 0, 9, 0, 355, 72), arc(0, 0, 4.5, 0, 355, 72), 0, 3, true), -7.6, 11, 0)
	return join(eye, box(0, 0, 0, 62, 22, 3), letters("SEEL", 4, 4, 2.8, 2.6, 4))
}

func pulley() *mesh.Mesh {
	return turn([]point{{4, 0}, {19, 0}, {19, 2}, {13, 6}, {13, 8}, {19, 12}, {19, 14}, {4, 14}}, 96)
}

func adapter() *mesh.Mesh {
	return turn([]point{{14, 0}, {16, 0}, {16.4, 20}, {21.4, 30}, {22, 50}, {19.8, 50}, {19.2, 31}, {14.2, 21}}, 72)
}

func coatHook() *mesh.Mesh {
	curl := ribbon(arc(0, 0, 16, -180, 70, 44), arc(0, 0, 9.5, -180, 70, 44), 0, 14, false)
	return join(curl, box(-16, -1, 0, -9.5, 52, 14), box(-19, 40, -8, -13, 64, 22))
}

func doorStop() *mesh.Mesh {
	wedge := ribbon([]point{{0, 0}, {110, 0}}, []point{{0, 2}, {110, 32}}, 0, 40, false)
	return upright(moved(wedge, 0, 0, -20))
}

func soapRest() *mesh.Mesh {
	bodies := []*mesh.Mesh{box(0, 0, 0, 6, 70, 12), box(94, 0, 0, 100, 70, 12)}
	for i := range 7 {
		y := 1 + 10.3*float64(i)
		bodies = append(bodies, box(0, y, 8, 100, y+5, 12))
	}
	return join(bodies...)
}

func trellis() *mesh.Mesh {
	var bodies []*mesh.Mesh
	for i := range 4 {
		x := 16 * float64(i)
		bodies = append(bodies, box(x, 0, 0, x+4, 140, 3))
	}
	for i := range 6 {
		y := 38 + 19*float64(i)
		bodies = append(bodies, box(-4, y, 0, 56, y+4, 3))
	}
	for _, x := range []float64{0, 48} {
		bodies = append(bodies, ribbon([]point{{x + 2, -26}, {x + 4, 1}}, []point{{x + 1.9, -26}, {x, 1}}, 0, 3, false))
	}
	return join(bodies...)
}

func labelFrame() *mesh.Mesh {
	return join(box(0, 0, 0, 70, 26, 1.6), box(0, 0, 0, 70, 3, 4), box(0, 23, 0, 70, 26, 4), box(0, 0, 0, 3, 26, 4),
		box(0, 2, 3, 70, 5, 4.4), box(0, 21, 3, 70, 24, 4.4))
}

func bowl() *mesh.Mesh {
	return vessel(34, 2.4, 3, 12, 64, func(t, _ float64) float64 { return 20 + 22*math.Sqrt(t) })
}

func starPath(outer, inner float64, points int) []point {
	var out []point
	for i := range 2 * points {
		r := outer
		if i%2 == 1 {
			r = inner
		}
		sin, cos := math.Sincos(float64(i) * math.Pi / float64(points))
		out = append(out, point{r * cos, r * sin})
	}
	return out
}

func pastryShape() *mesh.Mesh {
	rim := ribbon(starPath(40, 24, 5), starPath(36, 21.5, 5), 0, 3, true)
	return join(rim, ribbon(starPath(37.2, 22.3, 5), starPath(36, 21.5, 5), 2.9, 16, true))
}

func houseKey() *mesh.Mesh {
	bow := ribbon(arc(0, 0, 11, 0, 355, 72), arc(0, 0, 5, 0, 355, 72), 0, 2.4, true)
	bodies := []*mesh.Mesh{bow, box(9, -3.5, 0, 44, 3.5, 2.4)}
	for i, deep := range []float64{3, 1.2, 2.4, 0.8, 2} {
		x := 18 + 5*float64(i)
		bodies = append(bodies, box(x, -3.5-deep, 0, x+3, -3.4, 2.4))
	}
	return join(bodies...)
}

func tray() *mesh.Mesh {
	return vessel(22, 2, 2, 4, 48, func(_, a float64) float64 {
		sin, cos := math.Sincos(a)
		return 38 / math.Pow(math.Pow(math.Abs(cos), 4)+math.Pow(math.Abs(sin), 4), 0.25)
	})
}

// insideOut turns every facet to face the wrong way.
func insideOut(m *mesh.Mesh) *mesh.Mesh {
	for i, f := range m.F {
		m.F[i] = [3]int32{f[0], f[2], f[1]}
	}
	return m
}
