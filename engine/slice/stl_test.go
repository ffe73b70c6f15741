package slice

import (
	"encoding/binary"
	"math"
	"os"
	"testing"

	"platebook/engine/mesh"
)

// readSTL reads a binary STL and makes vertices of equal coordinates one. It is
// short so that these tests stand on nothing but this room.
func readSTL(t testing.TB, path string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	n := int(binary.LittleEndian.Uint32(data[80:]))
	if len(data) < 84+50*n {
		t.Fatalf("%s is no binary STL", path)
	}
	soup := make([][3]mesh.Vec, n)
	for i := range soup {
		for j := range 3 {
			for k := range 3 {
				at := 84 + 50*i + 12 + 12*j + 4*k
				soup[i][j][k] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[at:]))) + 0
			}
		}
	}
	return weld(soup)
}

// writeSTL writes m as a binary STL into a folder of the test's.
func writeSTL(t testing.TB, m *mesh.Mesh) string {
	t.Helper()
	data := make([]byte, 84, 84+50*len(m.F))
	binary.LittleEndian.PutUint32(data[80:], uint32(len(m.F)))
	for _, f := range m.F {
		data = append(data, make([]byte, 12)...)
		for _, v := range f {
			for _, x := range m.V[v] {
				data = binary.LittleEndian.AppendUint32(data, math.Float32bits(float32(x)))
			}
		}
		data = append(data, 0, 0)
	}
	path := t.TempDir() + "/mesh.stl"
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func weld(soup [][3]mesh.Vec) *mesh.Mesh {
	m := &mesh.Mesh{}
	names := map[mesh.Vec]int32{}
	for _, f := range soup {
		var id [3]int32
		for k, v := range f {
			name, ok := names[v]
			if !ok {
				name = int32(len(m.V))
				names[v] = name
				m.V = append(m.V, v)
			}
			id[k] = name
		}
		m.F = append(m.F, id)
	}
	return m
}

// bounds returns the lowest and highest coordinates of m.
func bounds(m *mesh.Mesh) (lo, hi mesh.Vec) {
	lo, hi = m.V[0], m.V[0]
	for _, v := range m.V {
		for k := range 3 {
			lo[k], hi[k] = min(lo[k], v[k]), max(hi[k], v[k])
		}
	}
	return lo, hi
}

// placed returns m as tall as height mm (as it is if 0) and standing on z = 0.
func placed(m *mesh.Mesh, height float64) *mesh.Mesh {
	lo, hi := bounds(m)
	s := 1.0
	if height > 0 {
		s = height / (hi[2] - lo[2])
	}
	return moved(m, func(v mesh.Vec) mesh.Vec {
		return mesh.Vec{v[0] * s, v[1] * s, (v[2] - lo[2]) * s}
	})
}

func moved(m *mesh.Mesh, f func(mesh.Vec) mesh.Vec) *mesh.Mesh {
	r := &mesh.Mesh{F: m.F}
	for _, v := range m.V {
		r.V = append(r.V, f(v))
	}
	return r
}
