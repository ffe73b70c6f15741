package demo

import (
	"math"

	"platebook/engine/mesh"
)

// Shapes are built from three constructions whose facets are closed and face
// outward by themselves: ribbon (between two curves), turn (about an axis) and
// box. Bodies that overlap are left overlapping, as patrons' modellers do.

type point [2]float64

// solid collects facets with shared vertices.
type solid struct{ m mesh.Mesh }

func (s *solid) vertex(x, y, z float64) int32 {
	s.m.V = append(s.m.V, mesh.Vec{x, y, z})
	return int32(len(s.m.V) - 1)
}

func (s *solid) facet(a, b, c int32) { s.m.F = append(s.m.F, [3]int32{a, b, c}) }

// quad adds a, b, c, d, counter-clockwise from outside.
func (s *solid) quad(a, b, c, d int32) {
	s.facet(a, b, c)
	s.facet(a, c, d)
}

// ribbon is a prism from z0 to z1 over the band between two curves with the
// same number of points, right and left of the direction they run in. A closed
// band is a tube (right outside, both counter-clockwise); an open one has ends.
func ribbon(right, left []point, z0, z1 float64, closed bool) *mesh.Mesh {
	var s solid
	n := len(right)
	low, high := make([][2]int32, n), make([][2]int32, n)
	for i := range n {
		low[i] = [2]int32{s.vertex(right[i][0], right[i][1], z0), s.vertex(left[i][0], left[i][1], z0)}
		high[i] = [2]int32{s.vertex(right[i][0], right[i][1], z1), s.vertex(left[i][0], left[i][1], z1)}
	}
	steps := n - 1
	if closed {
		steps = n
	}
	for i := range steps {
		j := (i + 1) % n
		s.quad(high[i][0], high[j][0], high[j][1], high[i][1]) // top
		s.quad(low[i][1], low[j][1], low[j][0], low[i][0])     // bottom
		s.quad(low[i][0], low[j][0], high[j][0], high[i][0])   // right side
		s.quad(low[j][1], low[i][1], high[i][1], high[j][1])   // left side
	}
	if !closed {
		s.quad(low[0][1], low[0][0], high[0][0], high[0][1])
		e := n - 1
		s.quad(low[e][0], low[e][1], high[e][1], high[e][0])
	}
	return &s.m
}

// turn revolves a profile of (radius, z) points about the z axis in n steps.
// The profile runs upward with the solid on its left (towards the axis) and is
// closed through its last point; points on the axis become a single vertex.
func turn(profile []point, n int) *mesh.Mesh {
	var s solid
	rings := make([][]int32, len(profile))
	for i, p := range profile {
		if p[0] == 0 {
			rings[i] = []int32{s.vertex(0, 0, p[1])}
			continue
		}
		for k := range n {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			rings[i] = append(rings[i], s.vertex(p[0]*cos, p[0]*sin, p[1]))
		}
	}
	last := len(profile)
	if profile[0][0] == 0 && profile[last-1][0] == 0 {
		last-- // both ends on the axis: nothing to close
	}
	for i := range last {
		a, b := rings[i], rings[(i+1)%len(rings)]
		for k := range n {
			j := (k + 1) % n
			switch {
			case len(a) == 1 && len(b) == 1:
			case len(a) == 1:
				s.facet(a[0], b[j], b[k])
			case len(b) == 1:
				s.facet(a[k], a[j], b[0])
			default:
				s.quad(a[k], a[j], b[j], b[k])
			}
		}
	}
	return &s.m
}

// box spans two corners.
func box(x0, y0, z0, x1, y1, z1 float64) *mesh.Mesh {
	return ribbon([]point{{x0, y0}, {x1, y0}}, []point{{x0, y1}, {x1, y1}}, z0, z1, false)
}

// join puts bodies into one mesh; they may overlap.
func join(bodies ...*mesh.Mesh) *mesh.Mesh {
	var out mesh.Mesh
	for _, b := range bodies {
		base := int32(len(out.V))
		out.V = append(out.V, b.V...)
		for _, f := range b.F {
			out.F = append(out.F, [3]int32{f[0] + base, f[1] + base, f[2] + base})
		}
	}
	return &out
}

// each maps every vertex; the map must not mirror.
func each(m *mesh.Mesh, f func(v mesh.Vec) mesh.Vec) *mesh.Mesh {
	for i, v := range m.V {
		m.V[i] = f(v)
	}
	return m
}

// upright turns a part lying in the plane so that its y axis points up.
func upright(m *mesh.Mesh) *mesh.Mesh {
	return each(m, func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[0], -v[2], v[1]} })
}

// arc is n points of a circle from angle a to b (degrees), ends included.
func arc(x, y, r, a, b float64, n int) []point {
	out := make([]point, n)
	for i := range out {
		sin, cos := math.Sincos((a + (b-a)*float64(i)/float64(n-1)) * math.Pi / 180)
		out[i] = point{x + r*cos, y + r*sin}
	}
	return out
}
