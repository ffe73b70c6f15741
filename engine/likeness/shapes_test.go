package likeness

import (
	"math"
	"math/rand/v2"

	"platebook/engine/mesh"
)

// box is a box with a corner at the origin.
func box(x, y, z float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		m.V = append(m.V, mesh.Vec{x * float64(i&1), y * float64(i>>1&1), z * float64(i>>2)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

func moved(m *mesh.Mesh, x, y, z float64) *mesh.Mesh {
	return mesh.Transform(m, mesh.Translate(mesh.Vec{x, y, z}))
}

// ball is a sphere about the origin, an octahedron cut n times along each edge.
func ball(radius float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	names := map[mesh.Vec]int32{}
	name := func(p mesh.Vec) int32 {
		i, ok := names[p]
		if !ok {
			i = int32(len(m.V))
			names[p] = i
			m.V = append(m.V, p.Scale(radius/p.Len()))
		}
		return i
	}
	for octant := range 8 {
		s := mesh.Vec{1, 1, 1}
		for k := range s {
			if octant>>k&1 == 1 {
				s[k] = -1
			}
		}
		at := func(i, j int) int32 {
			return name(mesh.Vec{s[0] * float64(i), s[1] * float64(j), s[2] * float64(n-i-j)})
		}
		put := func(a, b, c int32) {
			if s[0]*s[1]*s[2] < 0 {
				b, c = c, b
			}
			m.F = append(m.F, [3]int32{a, b, c})
		}
		for i := range n {
			for j := range n - i {
				put(at(i, j), at(i+1, j), at(i, j+1))
				if i+j+1 < n {
					put(at(i+1, j), at(i+1, j+1), at(i, j+1))
				}
			}
		}
	}
	return m
}

// stair is a spiral stair of n boxes, each turned by step radians from the one
// below; with blades > 1 that many stairs about one axis.
func stair(n int, step float64, blades int) *mesh.Mesh {
	var steps []*mesh.Mesh
	for i := range n {
		for b := range blades {
			s := mesh.Transform(box(10, 3, 1.05), mesh.Turn(mesh.Vec{0, 0, 1}, step*float64(i)+2*math.Pi*float64(b)/float64(blades)))
			steps = append(steps, moved(s, 0, 0, float64(i)))
		}
	}
	return mesh.Merge(steps...)
}

// ell is an L of three different arms at right angles, each set off from the
// others: as chiral as a part of three boxes can be.
func ell() *mesh.Mesh {
	return mesh.Merge(box(30, 8, 5), moved(box(8, 20, 5), 0, 8, 0), moved(box(6, 6, 12), 24, 0, 5))
}

// heap is n boxes put down by chance.
func heap(r *rand.Rand, n int) *mesh.Mesh {
	var boxes []*mesh.Mesh
	for range n {
		b := box(1+9*r.Float64(), 1+9*r.Float64(), 1+9*r.Float64())
		b = mesh.Transform(b, mesh.Turn(mesh.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}, 2*math.Pi*r.Float64()))
		boxes = append(boxes, moved(b, 12*r.Float64(), 12*r.Float64(), 12*r.Float64()))
	}
	return mesh.Merge(boxes...)
}
