package main

import (
	"bytes"
	"encoding/binary"
	"io"
	"math"
)

// torus reads as a binary STL of a ring with ripples, of about so many bytes: a
// closed solid that no other seed makes. It is made as it is read, so that a
// large one takes no memory here.
type torus struct {
	around, across int
	i              int // facets made
	ripple, radius float64
	left           bytes.Buffer
}

const facetBytes = 50

func newTorus(size int64, seed uint64) (io.Reader, int64) {
	facets := max(64, int((size-84)/facetBytes))
	across := max(4, int(math.Sqrt(float64(facets)/2)/2))
	t := &torus{across: across, around: max(8, facets/2/across), ripple: 0.3 + float64(seed%97)/200, radius: 18 + float64(seed%1009)/100}
	t.left.Write(make([]byte, 80))
	n := uint32(2 * t.around * t.across)
	_ = binary.Write(&t.left, binary.LittleEndian, n) // a buffer takes all
	return t, 84 + facetBytes*int64(n)
}

func (t *torus) Read(p []byte) (int, error) {
	for t.left.Len() == 0 {
		if t.i == 2*t.around*t.across {
			return 0, io.EOF
		}
		for range 512 {
			if t.i < 2*t.around*t.across {
				t.facet(t.i)
				t.i++
			}
		}
	}
	return t.left.Read(p)
}

func (t *torus) facet(n int) {
	u, v, half := n/2/t.across, n/2%t.across, n%2
	a, b, c, d := t.at(u, v), t.at(u+1, v), t.at(u+1, v+1), t.at(u, v+1)
	f := [4][3]float32{{}, a, b, c}
	if half == 1 {
		f = [4][3]float32{{}, a, c, d}
	}
	_ = binary.Write(&t.left, binary.LittleEndian, f)
	t.left.Write([]byte{0, 0})
}

func (t *torus) at(u, v int) [3]float32 {
	a := 2 * math.Pi * float64(u%t.around) / float64(t.around)
	b := 2 * math.Pi * float64(v%t.across) / float64(t.across)
	r := 5 + t.ripple*math.Sin(12*a)
	return [3]float32{float32((t.radius + r*math.Cos(b)) * math.Cos(a)), float32((t.radius + r*math.Cos(b)) * math.Sin(a)), float32(r * math.Sin(b))}
}
