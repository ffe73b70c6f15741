package picture

import (
	"encoding/binary"
	"math"
	"os"
	"testing"

	"platebook/engine/mesh"
)

// binarySTL reads the facets of a binary STL and joins equal corners: 84 bytes
// of header and count, then 50 a facet (REFERENCES, Files).
func binarySTL(t testing.TB, path string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	n := int(binary.LittleEndian.Uint32(data[80:]))
	if len(data) < 84+50*n {
		t.Fatalf("%s: %d bytes for %d facets", path, len(data), n)
	}
	m, at := &mesh.Mesh{}, map[mesh.Vec]int32{}
	for i := range n {
		var f [3]int32
		for k := range 3 {
			var v mesh.Vec
			for c := range 3 {
				v[c] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[84+50*i+12+12*k+4*c:])))
			}
			id, ok := at[v]
			if !ok {
				id = int32(len(m.V))
				at[v] = id
				m.V = append(m.V, v)
			}
			f[k] = id
		}
		m.F = append(m.F, f)
	}
	return m
}

// stand scales a mesh to a height and puts it on the middle of the platform.
func stand(m *mesh.Mesh, tall float64) *mesh.Mesh {
	lo, hi := m.V[0], m.V[0]
	for _, v := range m.V {
		for i := range v {
			lo[i], hi[i] = min(lo[i], v[i]), max(hi[i], v[i])
		}
	}
	k := tall / (hi[2] - lo[2])
	out := &mesh.Mesh{F: m.F, Colour: m.Colour}
	for _, v := range m.V {
		out.V = append(out.V, mesh.Vec{(v[0] - (lo[0]+hi[0])/2) * k, (v[1] - (lo[1]+hi[1])/2) * k, (v[2] - lo[2]) * k})
	}
	return out
}

// box is a closed box between two corners.
func box(lo, hi mesh.Vec) *mesh.Mesh {
	m := &mesh.Mesh{}
	for i := range 8 {
		v := lo
		for k := range 3 {
			if i>>k&1 == 1 {
				v[k] = hi[k]
			}
		}
		m.V = append(m.V, v)
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// join puts meshes into one, each a colour part of its own.
func join(ms ...*mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{}
	for i, m := range ms {
		n := int32(len(out.V))
		out.V = append(out.V, m.V...)
		for _, f := range m.F {
			out.F = append(out.F, [3]int32{f[0] + n, f[1] + n, f[2] + n})
			out.Colour = append(out.Colour, uint8(i))
		}
	}
	return out
}

// ball is a sphere of n bands of latitude and 2n of longitude.
func ball(centre mesh.Vec, r float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{V: []mesh.Vec{centre.Add(mesh.Vec{0, 0, r})}}
	for i := 1; i < n; i++ {
		s, c := math.Sincos(math.Pi * float64(i) / float64(n))
		for k := range 2 * n {
			sk, ck := math.Sincos(math.Pi * float64(k) / float64(n))
			m.V = append(m.V, centre.Add(mesh.Vec{r * s * ck, r * s * sk, r * c}))
		}
	}
	m.V = append(m.V, centre.Add(mesh.Vec{0, 0, -r}))
	last := int32(len(m.V) - 1)
	w := int32(2 * n)
	for k := range w {
		l := (k + 1) % w
		m.F = append(m.F, [3]int32{0, 1 + k, 1 + l}, [3]int32{last, last - w + l, last - w + k})
		for i := range int32(n - 2) {
			a := 1 + i*w
			m.F = append(m.F, [3]int32{a + k, a + w + k, a + w + l}, [3]int32{a + k, a + w + l, a + l})
		}
	}
	return m
}

// prism stands on z = lo: an outline, counter-clockwise from above, with a
// round hole of the same number of points, closed by walls.
func prism(outline, hole [][2]float64, lo, hi float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := int32(len(outline))
	for _, z := range []float64{lo, hi} {
		for _, ring := range [][][2]float64{outline, hole} {
			for _, p := range ring {
				m.V = append(m.V, mesh.Vec{p[0], p[1], z})
			}
		}
	}
	quad := func(a, b, c, d int32) { m.F = append(m.F, [3]int32{a, b, c}, [3]int32{a, c, d}) }
	for i := range n {
		j := (i + 1) % n
		quad(i, j, 2*n+j, 2*n+i)         // outer wall
		quad(n+j, n+i, 3*n+i, 3*n+j)     // hole
		quad(2*n+i, 2*n+j, 3*n+j, 3*n+i) // top
		quad(j, i, n+i, n+j)             // bottom
	}
	return m
}

// gear has teeth trapezium-shaped teeth.
func gear(teeth int, r, bore, tall float64) *mesh.Mesh {
	var out, hole [][2]float64
	for i := range teeth * 4 {
		rr := r
		if i%4 >= 2 {
			rr = r * 0.84
		}
		a := 2 * math.Pi * (float64(i) + []float64{0, 0.05, 0, 0}[i%4]) / float64(teeth*4)
		out = append(out, [2]float64{rr * math.Cos(a), rr * math.Sin(a)})
		hole = append(hole, [2]float64{bore * math.Cos(a), bore * math.Sin(a)})
	}
	return prism(out, hole, 0, tall)
}
