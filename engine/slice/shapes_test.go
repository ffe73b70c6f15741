package slice

import (
	"math"

	"platebook/engine/mesh"
)

// Solids of many facets, corners counter-clockwise from outside.

// box is a box from p to q.
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

// torus lies around the z axis: its tube of radius r, times bump of the angles
// around the axis (of nu steps) and around the tube (of nv), lies R from it.
func torus(R, r float64, nu, nv int, bump func(u, v float64) float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range nu {
		u := 2 * math.Pi * float64(i) / float64(nu)
		for j := range nv {
			v := 2 * math.Pi * float64(j) / float64(nv)
			t := r
			if bump != nil {
				t *= bump(u, v)
			}
			w := R + t*math.Cos(v)
			m.V = append(m.V, mesh.Vec{w * math.Cos(u), w * math.Sin(u), t * math.Sin(v)})
			a, b := int32(i*nv+j), int32((i+1)%nu*nv+j)
			c, d := int32((i+1)%nu*nv+(j+1)%nv), int32(i*nv+(j+1)%nv)
			m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d})
		}
	}
	return m
}

// lathe turns a profile of radii and heights, bottom to top, about the z axis
// in n steps. A radius of 0 is a point.
func lathe(n int, profile ...[2]float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	var rows [][]int32
	add := func(v mesh.Vec) int32 { m.V = append(m.V, v); return int32(len(m.V) - 1) }
	for _, p := range profile {
		row := make([]int32, n)
		for i := range row {
			if p[0] == 0 && i > 0 {
				row[i] = row[0]
				continue
			}
			a := 2 * math.Pi * float64(i) / float64(n)
			row[i] = add(mesh.Vec{p[0] * math.Cos(a), p[0] * math.Sin(a), p[1]})
		}
		rows = append(rows, row)
	}
	facet := func(a, b, c int32) {
		if a != b && b != c && c != a {
			m.F = append(m.F, [3]int32{a, b, c})
		}
	}
	for k := 1; k < len(rows); k++ {
		for i := range n {
			j := (i + 1) % n
			facet(rows[k-1][i], rows[k-1][j], rows[k][j])
			facet(rows[k-1][i], rows[k][j], rows[k][i])
		}
	}
	for i := 1; i+1 < n; i++ { // flat ends
		facet(rows[0][0], rows[0][i+1], rows[0][i])
		last := rows[len(rows)-1]
		facet(last[0], last[i], last[i+1])
	}
	return m
}

// sphere of radius r about the origin, n steps around and n/2 from pole to pole.
func sphere(r float64, n int) *mesh.Mesh {
	var profile [][2]float64
	for k := range n/2 + 1 {
		a := math.Pi * (float64(k)/float64(n/2) - 0.5)
		p := [2]float64{r * math.Cos(a), r * math.Sin(a)}
		if k == 0 || k == n/2 {
			p[0] = 0
		}
		profile = append(profile, p)
	}
	return lathe(n, profile...)
}

// inverted returns m turned inside out.
func inverted(m *mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{V: m.V}
	for _, f := range m.F {
		r.F = append(r.F, [3]int32{f[0], f[2], f[1]})
	}
	return r
}

// together returns all meshes as one, nothing welded.
func together(ms ...*mesh.Mesh) *mesh.Mesh {
	r := &mesh.Mesh{}
	for _, m := range ms {
		d := int32(len(r.V))
		r.V = append(r.V, m.V...)
		for _, f := range m.F {
			r.F = append(r.F, [3]int32{f[0] + d, f[1] + d, f[2] + d})
		}
	}
	return r
}
