package slice

import (
	"math"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/region"
)

// box is a box from p to q, in the plainest way.
func box(p, q mesh.Vec) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		v := p
		for k := range 3 {
			if i>>k&1 == 1 {
				v[k] = q[k]
			}
		}
		m.V = append(m.V, v)
	}
	for _, f := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{f[0], f[1], f[2]}, [3]int32{f[0], f[2], f[3]})
	}
	return m
}

func TestCube(t *testing.T) {
	layers, rep, err := Cut(box(mesh.Vec{0, 0, 0}, mesh.Vec{20, 20, 20}), Options{First: 0.3, Height: 0.2})
	if err != nil || rep != (Report{}) || len(layers) != 100 {
		t.Fatal(err, rep, len(layers))
	}
	for _, l := range layers {
		if l.Region.Area() != 400 || region.Valid(l.Region) != nil || len(l.Region) != 1 || len(l.Region[0]) != 4 {
			t.Fatal(l)
		}
	}
	if l := layers[99]; math.Abs(l.Top-20.1) > 1e-9 {
		t.Error(l)
	}
}
