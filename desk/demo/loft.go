package demo

import (
	"math"

	"platebook/engine/mesh"
)

// loft joins rings of equally many points, each counter-clockwise as seen from
// where the loft is going, and closes both ends with fans: an end must be
// star-shaped about its middle.
func loft(rings [][]mesh.Vec) *mesh.Mesh {
	var s solid
	at := make([][]int32, len(rings))
	for i, ring := range rings {
		for _, v := range ring {
			at[i] = append(at[i], s.vertex(v[0], v[1], v[2]))
		}
	}
	end := func(i int) int32 {
		var c mesh.Vec
		for _, v := range rings[i] {
			c = c.Add(v.Scale(1 / float64(len(rings[i]))))
		}
		return s.vertex(c[0], c[1], c[2])
	}
	last := len(rings) - 1
	first, final := end(0), end(last)
	n := len(rings[0])
	for k := range n {
		j := (k + 1) % n
		s.facet(first, at[0][j], at[0][k])
		for i := range last {
			s.quad(at[i][k], at[i][j], at[i+1][j], at[i+1][k])
		}
		s.facet(final, at[last][k], at[last][j])
	}
	return &s.m
}

// vessel is a pot whose outline at height t of 0…1 and angle a is r(t, a) mm,
// with a wall and a floor of their thickness.
func vessel(height, wall, floor float64, steps, n int, r func(t, a float64) float64) *mesh.Mesh {
	ring := func(t, less float64, z float64) []mesh.Vec {
		out := make([]mesh.Vec, n)
		for k := range out {
			a := 2 * math.Pi * float64(k) / float64(n)
			sin, cos := math.Sincos(a)
			d := r(t, a) - less
			out[k] = mesh.Vec{d * cos, d * sin, z}
		}
		return out
	}
	var rings [][]mesh.Vec
	for i := range steps + 1 {
		t := float64(i) / float64(steps)
		rings = append(rings, ring(t, 0, t*height))
	}
	for i := steps; i >= 0; i-- {
		if t := float64(i) / float64(steps); t*height > floor {
			rings = append(rings, ring(t, wall, t*height))
		}
	}
	return loft(append(rings, ring(floor/height, wall, floor)))
}

// tube sweeps an ellipse, across by high mm in radius, along a path in the
// plane z = lift.
func tube(path []point, n int, lift float64, radius func(t float64) (across, high float64)) *mesh.Mesh {
	var rings [][]mesh.Vec
	last := len(path) - 1
	for i, p := range path {
		a, b := path[max(i-1, 0)], path[min(i+1, last)]
		tx, ty := b[0]-a[0], b[1]-a[1]
		l := math.Hypot(tx, ty)
		tx, ty = tx/l, ty/l
		across, high := radius(float64(i) / float64(last))
		ring := make([]mesh.Vec, n)
		for k := range ring {
			sin, cos := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			// u = (-ty, tx, 0) and v = tangent × u = (0, 0, 1).
			ring[k] = mesh.Vec{p[0] - ty*across*cos, p[1] + tx*across*cos, lift + high*sin}
		}
		rings = append(rings, ring)
	}
	return loft(rings)
}

// relief is a block nx by ny steps of d mm whose top is z(x, y) with x and y of 0…1.
func relief(nx, ny int, d float64, z func(x, y float64) float64) *mesh.Mesh {
	var s solid
	low, high := make([][]int32, nx+1), make([][]int32, nx+1)
	for i := range nx + 1 {
		for j := range ny + 1 {
			x, y := float64(i), float64(j)
			low[i] = append(low[i], s.vertex(x*d, y*d, 0))
			high[i] = append(high[i], s.vertex(x*d, y*d, z(x/float64(nx), y/float64(ny))))
		}
	}
	for i := range nx {
		for j := range ny {
			s.quad(high[i][j], high[i+1][j], high[i+1][j+1], high[i][j+1])
			s.quad(low[i][j], low[i][j+1], low[i+1][j+1], low[i+1][j])
		}
		s.quad(low[i][0], low[i+1][0], high[i+1][0], high[i][0])
		s.quad(low[i+1][ny], low[i][ny], high[i][ny], high[i+1][ny])
	}
	for j := range ny {
		s.quad(low[0][j+1], low[0][j], high[0][j], high[0][j+1])
		s.quad(low[nx][j], low[nx][j+1], high[nx][j+1], high[nx][j])
	}
	return &s.m
}

// moved shifts a part.
func moved(m *mesh.Mesh, x, y, z float64) *mesh.Mesh {
	return each(m, func(v mesh.Vec) mesh.Vec { return v.Add(mesh.Vec{x, y, z}) })
}

// spun turns a part about the z axis by a, degrees.
func spun(m *mesh.Mesh, a float64) *mesh.Mesh {
	sin, cos := math.Sincos(a * math.Pi / 180)
	return each(m, func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[0]*cos - v[1]*sin, v[0]*sin + v[1]*cos, v[2]} })
}

// letters writes capitals of dots a side of dot mm, from z0 to z1, the first at x, y.
func letters(text string, x, y, dot, z0, z1 float64) *mesh.Mesh {
	var strokes []*mesh.Mesh
	for i, r := range text {
		for row, line := range alphabet[r] {
			for col, c := range line {
				if c != '#' {
					continue
				}
				// A hair of overlap joins neighbouring dots into one stroke.
				u, v := x+float64(i)*5*dot+float64(col)*dot, y+float64(4-row)*dot
				strokes = append(strokes, box(u-0.05, v-0.05, z0, u+dot+0.05, v+dot+0.05, z1))
			}
		}
	}
	return join(strokes...)
}

var alphabet = map[rune][]string{
	'A': {".##.", "#..#", "####", "#..#", "#..#"},
	'E': {"####", "#...", "###.", "#...", "####"},
	'K': {"#..#", "#.#.", "##..", "#.#.", "#..#"},
	'L': {"#...", "#...", "#...", "#...", "####"},
	'O': {".##.", "#..#", "#..#", "#..#", ".##."},
	'R': {"###.", "#..#", "###.", "#.#.", "#..#"},
	'S': {".###", "#...", ".##.", "...#", "###."},
}
