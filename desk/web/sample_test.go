package web

import (
	"bytes"
	"math"
	"sync"

	"platebook/desk"
	"platebook/engine/mesh"
	"platebook/engine/picture"
)

// sampleScene is a part with every hatching and marks of every severity: a
// bowl of rings, each a cube's outline turned a little.
var sampleScene = sync.OnceValue(func() picture.Scene {
	const around, tall = 48, 24
	m := &mesh.Mesh{}
	for j := range tall + 1 {
		for i := range around {
			s, c := math.Sincos(2 * math.Pi * float64(i) / around)
			r := 14 + 12*math.Sin(math.Pi*float64(j)/tall) + 2*math.Cos(6*2*math.Pi*float64(i)/around)
			m.V = append(m.V, mesh.Vec{r * c, r * s, float64(j) * 2})
		}
	}
	bottom, up := int32(len(m.V)), int32(len(m.V))+1
	m.V = append(m.V, mesh.Vec{0, 0, 0}, mesh.Vec{0, 0, tall * 2})
	at := func(j, i int) int32 { return int32(j*around + i%around) }
	for j := range tall {
		for i := range around {
			m.F = append(m.F, [3]int32{at(j, i), at(j, i+1), at(j+1, i+1)}, [3]int32{at(j, i), at(j+1, i+1), at(j+1, i)})
		}
	}
	for i := range around {
		m.F = append(m.F, [3]int32{bottom, at(0, i+1), at(0, i)}, [3]int32{up, at(tall, i), at(tall, i+1)})
	}
	h := make([]picture.Hatch, len(m.F))
	for i := range h {
		switch j := i / (2 * around); {
		case j < 5:
			h[i] = picture.Overhang
		case j > 19 && j < 22:
			h[i] = picture.Thin
		case j == tall && i%2 == 1:
			h[i] = picture.Other
		}
	}
	upward := mesh.Vec{0, 0, 1}
	return picture.Scene{
		Mesh: m, Highlight: h, Up: &upward, Platform: &[2]float64{120, 120},
		Marks: []picture.Mark{
			{At: mesh.Vec{20, 0, 6}, Number: 1, Severity: "ask", Label: "Leans out by 58° with nothing below it"},
			{At: mesh.Vec{0, -16, 42}, Number: 2, Severity: "stop", Label: "Walls of 0.3 mm, thinner than the nozzle lays"},
			{At: mesh.Vec{0, 0, 48}, Number: 3, Severity: "note", Label: "The top is flat and will show lines"},
		},
	}
})

var exampleView = sync.OnceValue(func() []byte {
	var b bytes.Buffer
	if err := desk.EncodeView(&b, sampleScene(), 100_000); err != nil {
		panic(err)
	}
	return b.Bytes()
})

var examplePNG = sync.OnceValue(func() []byte {
	var b bytes.Buffer
	if err := picture.Draw(&b, sampleScene(), picture.Usual(), picture.Options{Width: 800, Height: 600}); err != nil {
		panic(err)
	}
	return b.Bytes()
})
