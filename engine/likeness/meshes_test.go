package likeness

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

func load(t testing.TB, path string) *mesh.Mesh {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	name := path
	if strings.HasSuffix(path, ".gz") {
		z, err := gzip.NewReader(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if data, err = io.ReadAll(z); err != nil {
			t.Fatal(err)
		}
		name = strings.TrimSuffix(path, ".gz")
	}
	m, err := mesh.ReadAs(bytes.NewReader(data), int64(len(data)), filepath.Base(name), "mm", mesh.DefaultLimits())
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	h, _ := mesh.Heal(m.Mesh)
	return h
}

type stranger struct {
	name string
	m    *mesh.Mesh
}

// strangers are different shapes that nobody here made, from npm and Debian
// packages, one file of each shape.
func strangers(t testing.TB) (all []stranger) {
	add := func(path string) {
		all = append(all, stranger{filepath.Base(path), load(t, path)})
	}
	for _, f := range []string{
		"stl-models/objects/bunny.bin.stl", "stl-models/objects/gearwheel.bin.stl",
		"stl-models/polytopes/cube.bin.stl", "stl-models/polytopes/tetrahedron.bin.stl", "stl-models/polytopes/tetrahedronIrregular.bin.stl",
		"node-stl/test/test_data/002.STL", "node-stl/test/test_data/Pterosaur_FDM.stl", "node-stl/test/test_data/RasPiCaseLight.stl",
		"node-stl/test/test_data/WALLY_1plate.stl", "node-stl/test/test_data/box.stl", "node-stl/test/test_data/box_2x3x4.stl",
		"stl/test/ascii/effector_base.stl", "stl/test/ascii/teapot.stl",
		"stl/test/binary/cube-20mm-with-hole.stl", "stl/test/binary/shark.stl", "stl/test/binary/ship.stl",
	} {
		add(oracle.NPM(t, f))
	}
	for _, f := range []string{"STL/3DSMaxExport.STL", "STL/Spider_binary.stl", "STL/Wuson.stl", "OBJ/regr01.obj"} {
		add(oracle.File(t, "/usr/share/assimp/models/"+f))
	}
	for _, f := range []string{
		"converters/stl_to_cartesian/lever", "doc/gmsh/demos/api/aneurysm_data", "doc/gmsh/demos/api/object",
		"doc/gmsh/demos/api/surface1", "doc/gmsh/demos/api/terrain_stl_data", "doc/gmsh/demos/simple_geo/sphere-surf", "doc/gmsh/tutorial/t13_data",
	} {
		add(oracle.File(t, "/usr/share/doc/gmsh-doc/"+f+".stl.gz"))
	}
	return all
}

// turned scales, turns and moves m by chance.
func turned(m *mesh.Mesh, r *rand.Rand) *mesh.Mesh {
	k := math.Exp(r.NormFloat64())
	t := mesh.Scale(mesh.Vec{k, k, k})
	t = t.Then(mesh.Turn(mesh.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}, 6.28*r.Float64()))
	return mesh.Transform(m, t.Then(mesh.Translate(mesh.Vec{100 * r.NormFloat64(), 100 * r.NormFloat64(), 100 * r.NormFloat64()})))
}

// mirrored reflects m.
func mirrored(m *mesh.Mesh) *mesh.Mesh {
	return mesh.Transform(m, mesh.Scale(mesh.Vec{-1, 1, 1}))
}

// recut cuts facets by chance into others that cover the same surface: two
// rounds (one for a mesh of many) of splitting a half of the edges at their
// middles, and the order of the facets shuffled.
func recut(m *mesh.Mesh, r *rand.Rand) *mesh.Mesh {
	for range 2 {
		if len(m.F) > 100_000 {
			break
		}
		mid := map[[2]int32]int32{}
		split := func(n *mesh.Mesh, a, b int32) int32 {
			e := [2]int32{min(a, b), max(a, b)}
			v, ok := mid[e]
			if !ok {
				v = -1
				if r.IntN(2) == 0 {
					v = int32(len(n.V))
					n.V = append(n.V, n.V[e[0]].Add(n.V[e[1]]).Scale(0.5))
				}
				mid[e] = v
			}
			return v
		}
		n := &mesh.Mesh{V: append([]mesh.Vec(nil), m.V...)}
		for _, f := range m.F {
			ring := make([]int32, 0, 6)
			for k := range f {
				ring = append(ring, f[k])
				if v := split(n, f[k], f[(k+1)%3]); v >= 0 {
					ring = append(ring, v)
				}
			}
			// A fan from a middle if there is one, so that none of it is flat.
			at := 0
			for k, v := range ring {
				if int(v) >= len(m.V) {
					at = k
					break
				}
			}
			for k := 1; k+1 < len(ring); k++ {
				n.F = append(n.F, [3]int32{ring[at], ring[(at+k)%len(ring)], ring[(at+k+1)%len(ring)]})
			}
		}
		m = n
	}
	f := append([][3]int32(nil), m.F...)
	r.Shuffle(len(f), func(i, j int) { f[i], f[j] = f[j], f[i] })
	return &mesh.Mesh{V: m.V, F: f}
}

// decimated merges the vertices in each cell of a grid of n along the diagonal.
func decimated(m *mesh.Mesh, n float64) *mesh.Mesh {
	box := mesh.Measure(m).Box
	cell := box.Size().Len() / n
	name := map[[3]int32]int32{}
	out := &mesh.Mesh{}
	var count []float64
	to := make([]int32, len(m.V))
	for i, p := range m.V {
		var key [3]int32
		for k := range key {
			key[k] = int32(math.Floor((p[k] - box.Min[k]) / cell))
		}
		j, ok := name[key]
		if !ok {
			j = int32(len(out.V))
			name[key] = j
			out.V, count = append(out.V, mesh.Vec{}), append(count, 0)
		}
		out.V[j] = out.V[j].Add(p)
		count[j]++
		to[i] = j
	}
	for j := range out.V {
		out.V[j] = out.V[j].Scale(1 / count[j])
	}
	for _, f := range m.F {
		g := [3]int32{to[f[0]], to[f[1]], to[f[2]]}
		if g[0] != g[1] && g[1] != g[2] && g[2] != g[0] {
			out.F = append(out.F, g)
		}
	}
	return out
}

// noised moves every vertex by a normal deviate of share of the diagonal.
func noised(m *mesh.Mesh, share float64, r *rand.Rand) *mesh.Mesh {
	d := mesh.Measure(m).Box.Size().Len() * share
	out := &mesh.Mesh{F: m.F, V: make([]mesh.Vec, len(m.V))}
	for i, p := range m.V {
		out.V[i] = p.Add(mesh.Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64()}.Scale(d / math.Sqrt(3)))
	}
	return out
}
