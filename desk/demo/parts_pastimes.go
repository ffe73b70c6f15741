package demo

import (
	"math"

	"platebook/engine/mesh"
)

// pastimes are the things for play, gifts and school.
func pastimes() []Part {
	return []Part{
		{File: "pawn.stl", Wish: "We lost two pawns of the club's set.", Copies: 2, Bodies: one(pawn())},
		{File: "draught.stl", Wish: "Draughts for the garden table, twelve of each colour in the end.", Copies: 12, Bodies: one(draught())},
		{File: "twist-vase.stl", Wish: "A birthday vase for dried flowers, in blue.", Copies: 1, Bodies: one(twistVase())},
		{File: "spinning-top.stl", Wish: "It should spin for a minute!", Copies: 2, Bodies: one(spinningTop())},
		{File: "window-star.stl", Wish: "Stars for the winter window.", Copies: 4, Bodies: one(windowStar())},
		{File: "snow-crystal.stl", Wish: "For the story-time tree, white or clear.", Copies: 3, Bodies: one(snowCrystal())},
		{File: "letter-die.stl", Wish: "A die with pips one can feel, for a game with my grandmother.", Copies: 2, Bodies: one(die())},
		{File: "hill-tile.stl", Wish: "The hills round the mere as a tile, for geography.", Copies: 1, Bodies: one(hillTile())},
		{File: "ammonite.stl", Wish: "A fossil for the nature table, as large as it may be.", Copies: 1, Bodies: one(ammonite())},
		{File: "whale.stl", Wish: "A whale. My daughter drew it first, then I did.", Copies: 1, Bodies: one(whale())},
		{File: "wave-bangle.stl", Wish: "A bangle, 62 mm inside.", Copies: 1, Bodies: one(bangle())},
		{File: "almshouse.3mf", Wish: "For the model railway: walls cream, roof dark.", Copies: 1, Printer: "millrace-300-twin",
			Bodies: almshouse(), Colours: []string{"Cream", "Ink"}},
		{File: "rose-sign.stl", Wish: "Standing letters for the window of our boathouse; the boat is called Rose.", Copies: 1, Bodies: one(roseSign())},
		{File: "tiny-bird.stl", Wish: "A charm for a bracelet.", Copies: 1, Bodies: one(each(bird(), func(v mesh.Vec) mesh.Vec { return v.Scale(0.18) }))},
		{File: "bird.stl", Wish: "A bird for the seed library's window.", Copies: 2, Bodies: one(bird())},
		{File: "sling-frame.stl", Wish: "A frame for a sling that shoots far.", Copies: 1, Bodies: one(slingFrame())},
	}
}

func pawn() *mesh.Mesh {
	p := []point{{0, 0}, {13, 0}, {13, 3}, {10, 6}, {7, 10}, {5, 22}, {5.4, 26}, {8, 28}, {5, 30}}
	p = append(p, arc(0, 37, 8.2, -52, 84, 20)...)
	return turn(append(p, point{0, 45.2}), 64)
}

func draught() *mesh.Mesh {
	return turn([]point{{0, 0}, {15, 0}, {16, 1}, {16, 7}, {15, 8}, {13, 8}, {12.2, 7}, {10, 7}, {9.2, 8}, {0, 8}}, 72)
}

func twistVase() *mesh.Mesh {
	return vessel(78, 1.8, 2.4, 26, 70, func(t, a float64) float64 {
		body := 17 + 10*math.Sin(math.Pi*(0.15+0.85*t))
		return body * (1 + 0.07*math.Cos(7*(a+1.2*t)))
	})
}

func spinningTop() *mesh.Mesh {
	return turn([]point{{0, 0}, {1.2, 1}, {17, 14}, {19, 17}, {17, 20}, {4, 23}, {3, 26}, {3, 38}, {0, 39}}, 72)
}

func windowStar() *mesh.Mesh {
	bodies := []*mesh.Mesh{ribbon(starPath(34, 16, 6), starPath(28, 12, 6), 0, 3, true)}
	eye := ribbon(arc(0, 0, 5, 0, 355, 48), arc(0, 0, 2.6, 0, 355, 48), 0, 3, true)
	return join(append(bodies, moved(eye, 37, 0, 0))...)
}

func snowCrystal() *mesh.Mesh {
	var bodies []*mesh.Mesh
	for i := range 6 {
		arm := join(box(0, -1.4, 0, 32, 1.4, 2.4))
		for _, at := range []float64{12, 20} {
			for _, side := range []float64{60, -60} {
				arm = join(arm, moved(spun(box(0, -1.1, 0, 10, 1.1, 2.4), side), at, 0, 0))
			}
		}
		bodies = append(bodies, spun(arm, 60*float64(i)))
	}
	return join(bodies...)
}

// die has raised pips on five faces; it stands on the sixth.
func die() *mesh.Mesh {
	const side, half = 18.0, 9.0
	bodies := []*mesh.Mesh{box(-half, -half, 0, half, half, side)}
	pip := func(u, v float64) *mesh.Mesh {
		return moved(turn([]point{{0, half - 0.5}, {2, half - 0.5}, {1.6, half + 0.9}, {0, half + 1}}, 24), u, v, 0)
	}
	faces := []struct {
		turn func(v mesh.Vec) mesh.Vec
		at   []point
	}{
		{func(v mesh.Vec) mesh.Vec { return v }, []point{{0, 0}}},
		{func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[2], v[1], -v[0]} }, []point{{-4, -4}, {4, 4}}},
		{func(v mesh.Vec) mesh.Vec { return mesh.Vec{-v[2], v[1], v[0]} }, []point{{-4, -4}, {0, 0}, {4, 4}}},
		{func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[0], v[2], -v[1]} }, []point{{-4, -4}, {4, 4}, {-4, 4}, {4, -4}}},
		{func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[0], -v[2], v[1]} }, []point{{-4, -4}, {4, 4}, {-4, 4}, {4, -4}, {0, 0}}},
	}
	for _, f := range faces {
		for _, p := range f.at {
			bodies = append(bodies, moved(each(pip(p[0], p[1]), f.turn), 0, 0, half))
		}
	}
	return join(bodies...)
}

func hillTile() *mesh.Mesh {
	return relief(60, 60, 1.2, func(x, y float64) float64 {
		h := 4 + 9*math.Exp(-12*((x-0.3)*(x-0.3)+(y-0.65)*(y-0.65))) + 14*math.Exp(-20*((x-0.75)*(x-0.75)+(y-0.35)*(y-0.35))) + 0.8*math.Sin(9*x+5*y)
		return max(h, 4.2) // the mere is flat
	})
}

func ammonite() *mesh.Mesh {
	var path []point
	const turns, steps = 2.6, 130
	for i := range steps + 1 {
		a := 2 * math.Pi * turns * float64(i) / steps
		r := 5 * math.Exp(0.115*a)
		path = append(path, point{r * math.Cos(a), r * math.Sin(a)})
	}
	return tube(path, 28, 8, func(t float64) (float64, float64) {
		a := 2 * math.Pi * turns * t
		r := 2.0 * math.Exp(0.115*a) * (1 + 0.05*math.Cos(22*a))
		return r, min(r, 8)
	})
}

func whale() *mesh.Mesh {
	var path []point
	for i := range 41 {
		x := float64(i) / 40
		path = append(path, point{90 * x, 6 * math.Sin(2.4*x)})
	}
	body := tube(path, 36, 15, func(t float64) (float64, float64) {
		w := 17*math.Pow(math.Sin(math.Pi*math.Pow(0.04+0.94*t, 0.62)), 0.8) + 0.6
		return w, w * 0.86
	})
	fluke := func(side float64) *mesh.Mesh {
		return tube([]point{{84, 4}, {92, 4 + 9*side}, {97, 4 + 17*side}}, 20, 15, func(t float64) (float64, float64) { return 5.5 - 4*t, 2.2 - 1.2*t })
	}
	fin := func(side float64) *mesh.Mesh {
		return tube([]point{{34, 3 + 10*side}, {42, 3 + 19*side}, {50, 3 + 25*side}}, 20, 9, func(t float64) (float64, float64) { return 5 - 3.4*t, 2 - t })
	}
	return join(body, fluke(1), fluke(-1), fin(1), fin(-1))
}

func bangle() *mesh.Mesh {
	const n = 120
	var inner, outer []point
	for k := range n {
		a := 2 * math.Pi * float64(k) / n
		sin, cos := math.Sincos(a)
		r := 34.2 + 1.1*math.Cos(15*a)
		inner, outer = append(inner, point{31 * cos, 31 * sin}), append(outer, point{r * cos, r * sin})
	}
	return ribbon(outer, inner, 0, 14, true)
}

func almshouse() []*mesh.Mesh {
	walls := join(box(0, 0, 0, 60, 36, 26), box(44, 8, 24, 52, 16, 52))
	roof := ribbon([]point{{-3, 26}, {18, 44}, {39, 26}}, []point{{-3, 29}, {18, 48}, {39, 29}}, 0, 66, false)
	// The roof's section lies in x, y: stand it up along the house.
	roof = each(roof, func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[2] - 3, v[0], v[1] - 0.4} })
	return []*mesh.Mesh{walls, join(roof, box(0, 0, 25.5, 60, 36, 28))}
}

func roseSign() *mesh.Mesh {
	text := upright(moved(letters("ROSE", 0, 3, 7, 0, 9), 0, 0, -4.5))
	return join(box(-6, -11, 0, 140, 11, 4), text)
}

func bird() *mesh.Mesh {
	body := tube([]point{{0, 0}, {6, 0}, {14, 0}, {24, 1}, {34, 2}, {44, 3}, {58, 4}}, 28, 10, func(t float64) (float64, float64) {
		w := []float64{4, 7, 9, 9.6, 7.6, 4.6, 3}[int(math.Round(t*6))]
		return w, w * 0.96
	})
	head := moved(turn(ball(7.5, 16), 32), 2, 0, 14)
	beak := tube([]point{{-3, 0}, {-8, 0}, {-13, 0}}, 16, 21, func(t float64) (float64, float64) { return 2.6 - 2*t, 2.2 - 1.6*t })
	return join(body, head, beak, moved(turn([]point{{0, 0}, {9, 0}, {9, 2}, {3, 5}, {3, 8}, {0, 8}}, 40), 22, 1, 0))
}

// ball is the profile of a ball standing on z = 0.
func ball(r float64, n int) []point {
	p := arc(0, r, r, -90, 90, n+1)
	p[0][0], p[n][0] = 0, 0
	return p
}

func slingFrame() *mesh.Mesh {
	fork := ribbon(arc(0, 42, 24, -200, 20, 48), arc(0, 42, 16, -200, 20, 48), 0, 12, false)
	return join(fork, box(-5, -40, 0, 5, 20, 12))
}

// poem is what comes when a file is named what it is not.
func poem() Part {
	return Part{File: "poem.stl", Wish: "My poem, large enough to hold.", Copies: 1,
		words: "The mere lies still.\nA heron stands in its own reflection\nand waits for the lock to fill.\n"}
}
