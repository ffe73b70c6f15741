package demo

import (
	"math"

	"platebook/engine/mesh"
)

// Part is a file as a patron of Larkmere would mail it, with the wish it came with.
type Part struct {
	File string // name; the ending says the format
	Wish string // what the patron wrote
	// Copies and Printer are what staff read out of the wish; an empty Printer
	// is the library's usual one.
	Copies  int
	Printer string
	// Bodies are what the file holds, one for each colour.
	Bodies  []*mesh.Mesh
	Colours []string // names of the colours, for a file that can carry them
	ascii   bool     // text rather than binary STL
	words   string   // of a file that is no model
}

// Parts makes the post of an invented library: what staff at a desk see in a
// few weeks, good and bad.
func Parts() []Part { return append(morning(), append(household(), pastimes()...)...) }

// morning is what every test of the engine's commands runs on.
func morning() []Part {
	return []Part{
		{File: "drawer-knob.stl", Wish: "A knob for the map cabinet, like the old ones. Two please.", Copies: 2, Bodies: one(knob())},
		{File: "bookend.stl", Wish: "For the poetry shelf. Any dark colour.", Copies: 1, Bodies: one(bookend())},
		{File: "clock-gear.stl", Wish: "The gear our hall clock lost, 24 teeth.", Copies: 1, Bodies: one(gear(24, 1.5, 8, 3))},
		{File: "name-plate.3mf", Copies: 1, Printer: "millrace-300-twin", Wish: "For the story-time door, letters in another colour.",
			Bodies: namePlate(), Colours: []string{"Ink", "Cream"}},
		{File: "footbridge.stl", Wish: "Our school project: the footbridge over the mere.", Copies: 1, Bodies: one(bridge())},
		{File: "shelf-hook.stl", Wish: "A hook. I drew it in inches, I think.", Copies: 1, Bodies: one(inches(hook()))},
		{File: "cable-comb.stl", Wish: "Keeps the reading-room cables apart.", Copies: 1, Bodies: one(comb()), ascii: true},
		{File: "lamp-shade.stl", Wish: "As light as it can be!", Copies: 1, Bodies: one(lampShade())},
		{File: "plant-marker.obj", Wish: "Eight for the seed library.", Copies: 8, Bodies: one(marker())},
		{File: "herb-pot.stl", Wish: "I repaired it as well as I could.", Copies: 1, Bodies: one(brokenPot())},
		{File: "moon-and-star.stl", Wish: "To hang over the picture books.", Copies: 1, Bodies: one(moonAndStar())},
		{File: "counting-bead.stl", Wish: "Twenty beads for the toddlers' abacus.", Copies: 20, Bodies: one(bead())},
		{File: "watch-tower.stl", Wish: "As tall as it goes.", Copies: 1, Printer: "millrace-300-twin", Bodies: one(tower())},
		{File: "harbour.stl", Wish: "My model of the whole harbour.", Copies: 1, Bodies: one(harbour())},
	}
}

func one(m *mesh.Mesh) []*mesh.Mesh { return []*mesh.Mesh{m} }

// knob is turned, with a waist.
func knob() *mesh.Mesh {
	p := []point{{0, 0}, {9, 0}, {9, 3}}
	for i := range 25 {
		t := float64(i) / 24
		p = append(p, point{7 + 9*math.Sin(math.Pi*t)*t, 3 + 21*t})
	}
	return turn(append(p, point{0, 24}), 72)
}

func bookend() *mesh.Mesh {
	foot := box(0, 0, 0, 90, 80, 4)
	back := box(0, 0, 0, 4, 80, 110)
	rib := upright(ribbon([]point{{3, 3}, {40, 3}}, []point{{3, 50}, {40, 3.2}}, -42, -38, false))
	return join(foot, back, rib)
}

// gear has involute-like flanks of straight lines, a bore, and a hub.
func gear(teeth int, module, thick, bore float64) *mesh.Mesh {
	pitch := module * float64(teeth) / 2
	var outer, inner []point
	at := func(r, a float64) point { sin, cos := math.Sincos(a); return point{r * cos, r * sin} }
	for i := range teeth {
		step := 2 * math.Pi / float64(teeth)
		for _, k := range []struct{ r, f float64 }{
			{pitch - 1.25*module, 0}, {pitch - 1.25*module, 0.22}, {pitch, 0.30}, {pitch + module, 0.42}, {pitch + module, 0.58}, {pitch, 0.70}, {pitch - 1.25*module, 0.78},
		} {
			a := step * (float64(i) + k.f)
			outer, inner = append(outer, at(k.r, a)), append(inner, at(bore, a))
		}
	}
	hub := ribbon(arc(0, 0, bore+4, 0, 355, 72), arc(0, 0, bore, 0, 355, 72), 0, thick+4, true)
	return join(ribbon(outer, inner, 0, thick, true), hub)
}

// namePlate is a plate and, as a second colour, raised letters sunk a little into it.
func namePlate() []*mesh.Mesh {
	return []*mesh.Mesh{box(0, 0, 0, 73, 31, 3), letters("LARK", 8, 8, 3, 2, 4)}
}

// bridge is an arch with a deck: it needs supports, or a bridge of beads.
func bridge() *mesh.Mesh {
	arch := upright(ribbon(arc(0, 0, 40, 0, 180, 49), arc(0, 0, 34, 0, 180, 49), -14, 14, false))
	return join(arch, box(-62, -14, 38, 62, 14, 43), box(-62, -14, 0, -52, 14, 38.5), box(52, -14, 0, 62, 14, 38.5))
}

func hook() *mesh.Mesh {
	path := arc(0, 0, 18, -180, 60, 40)
	back := arc(0, 0, 12, -180, 60, 40)
	return join(ribbon(path, back, 0, 12, false), box(-18, -1, 0, -12, 48, 12), box(-18, 44, 0, 6, 50, 12))
}

// inches forgets the unit: the numbers are inches.
func inches(m *mesh.Mesh) *mesh.Mesh {
	return each(m, func(v mesh.Vec) mesh.Vec { return v.Scale(1 / 25.4) })
}

func comb() *mesh.Mesh {
	bodies := []*mesh.Mesh{box(0, 0, 0, 90, 10, 6)}
	for i := range 9 {
		x := float64(i) * 10.5
		bodies = append(bodies, box(x, 9, 0, x+6, 34, 6))
	}
	return join(bodies...)
}

// lampShade has a wall of 0.3 mm: thinner than a bead.
func lampShade() *mesh.Mesh {
	var p []point
	const n = 24
	radius := func(t float64) float64 { return 32 - 14*t + 3*math.Sin(6*t) }
	for i := range n + 1 {
		t := float64(i) / n
		p = append(p, point{radius(t), 70 * t})
	}
	for i := n; i >= 0; i-- {
		t := float64(i) / n
		p = append(p, point{radius(t) - 0.3, 70 * t})
	}
	return turn(p, 96)
}

func marker() *mesh.Mesh {
	// A blade with a point, and a tab across the top.
	right := []point{{0, 0}, {6, 14}, {6, 70}}
	left := []point{{-0.01, 0}, {-6, 14}, {-6, 70}}
	return join(ribbon(right, left, 0, 2, false), box(-20, 66, 0, 20, 82, 2))
}

// brokenPot lacks a patch of its wall, larger than anyone may guess at.
func brokenPot() *mesh.Mesh {
	m := turn([]point{{0, 0}, {24, 0}, {32, 60}, {29, 60}, {21.5, 3}, {0, 3}}, 64)
	kept := m.F[:0]
	for _, f := range m.F {
		c := m.V[f[0]].Add(m.V[f[1]]).Add(m.V[f[2]]).Scale(1.0 / 3)
		if c[0] > 26 && math.Abs(c[1]) < 9 {
			continue
		}
		kept = append(kept, f)
	}
	m.F = kept
	return m
}

// moonAndStar leaves the star hanging in the air above the moon.
func moonAndStar() *mesh.Mesh {
	moon := ribbon(arc(0, 0, 30, 60, 300, 61), crescent(61), 0, 5, false)
	var rim, hub []point
	for i := range 10 {
		r := 12.0
		if i%2 == 1 {
			r = 5
		}
		sin, cos := math.Sincos(float64(i) * math.Pi / 5)
		rim, hub = append(rim, point{22 + r*cos, r * sin}), append(hub, point{22 + 1.5*cos, 1.5 * sin})
	}
	return join(moon, ribbon(rim, hub, 12, 17, true))
}

func crescent(n int) []point {
	inner := arc(10, 0, 26, 86, 274, n)
	return inner
}

func bead() *mesh.Mesh {
	p := arc(0, 7, 8, -60, 60, 25)
	return turn(append(p, point{2.2, p[24][1]}, point{2.2, p[0][1]}), 64)
}

func tower() *mesh.Mesh {
	wall := turn([]point{{30, 0}, {26, 20}, {22, 175}, {28, 185}, {28, 198}, {23, 198}, {23, 188}, {18, 176}, {18, 3}, {0, 3}, {0, 0}}, 96)
	bodies := []*mesh.Mesh{wall}
	for i := range 8 {
		a := float64(i) * math.Pi / 4
		sin, cos := math.Sincos(a)
		merlon := box(22.5, -4, 196, 28.5, 4, 206)
		bodies = append(bodies, each(merlon, func(v mesh.Vec) mesh.Vec {
			return mesh.Vec{v[0]*cos - v[1]*sin, v[0]*sin + v[1]*cos, v[2]}
		}))
	}
	return each(join(bodies...), func(v mesh.Vec) mesh.Vec { return v.Scale(1.2) })
}

// harbour is larger than any platform of the library.
func harbour() *mesh.Mesh {
	quay := box(0, 0, 0, 420, 120, 12)
	bodies := []*mesh.Mesh{quay}
	for i := range 6 {
		x := 20 + 65*float64(i)
		bodies = append(bodies, box(x, 20, 10, x+40, 60, 40+8*float64(i%3)))
	}
	return join(bodies...)
}
