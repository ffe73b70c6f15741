package mesh

import (
	"encoding/binary"
	"math"
	"os"
	"regexp"
	"strconv"
	"testing"
)

// cube is a box from the origin with edges a, b, c, twelve facets, outward.
func cuboid(a, b, c float64) *Mesh {
	m := &Mesh{}
	for i := range 8 {
		m.V = append(m.V, Vec{a * float64(i&1), b * float64(i>>1&1), c * float64(i>>2)})
	}
	for _, q := range [][4]int32{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}} {
		m.F = append(m.F, [3]int32{q[0], q[1], q[2]}, [3]int32{q[0], q[2], q[3]})
	}
	return m
}

// lathe turns a profile of (radius, height) points, listed upward, about the z
// axis in n steps. Points of radius 0 become poles; a closed profile (first
// point repeated last) makes a ring.
func lathe(profile [][2]float64, n int) *Mesh {
	m := &Mesh{}
	ring := make([][]int32, len(profile))
	closed := profile[0] == profile[len(profile)-1]
	for i, p := range profile {
		if closed && i == len(profile)-1 {
			ring[i] = ring[0]
			continue
		}
		k := n
		if p[0] == 0 {
			k = 1
		}
		for j := range k {
			s, c := math.Sincos(2 * math.Pi * float64(j) / float64(n))
			ring[i] = append(ring[i], int32(len(m.V)))
			m.V = append(m.V, Vec{p[0] * c, p[0] * s, p[1]})
		}
	}
	for i := range len(profile) - 1 {
		lo, hi := ring[i], ring[i+1]
		for j := range n {
			a, b := lo[j%len(lo)], lo[(j+1)%n%len(lo)]
			c, d := hi[(j+1)%n%len(hi)], hi[j%len(hi)]
			if a != b {
				m.F = append(m.F, [3]int32{a, b, c})
			}
			if c != d {
				m.F = append(m.F, [3]int32{a, c, d})
			}
		}
	}
	return m
}

// ball is a sphere of radius r in n steps round and n/2 steps up.
func ball(r float64, n int) *Mesh {
	var p [][2]float64
	for i := range n/2 + 1 {
		s, c := math.Sincos(math.Pi * float64(i) / float64(n/2))
		p = append(p, [2]float64{r * s, -r * c})
	}
	p[0][0], p[n/2][0] = 0, 0
	return lathe(p, n)
}

// extrude raises a closed outline, counter-clockwise, convex or star-shaped
// about its mean, to height h.
func extrude(outline [][2]float64, h float64) *Mesh {
	m := &Mesh{}
	n := int32(len(outline))
	var mid [2]float64
	for _, p := range outline {
		mid[0] += p[0] / float64(n)
		mid[1] += p[1] / float64(n)
	}
	for _, z := range []float64{0, h} {
		for _, p := range outline {
			m.V = append(m.V, Vec{p[0], p[1], z})
		}
	}
	m.V = append(m.V, Vec{mid[0], mid[1], 0}, Vec{mid[0], mid[1], h})
	for i := range n {
		j := (i + 1) % n
		m.F = append(m.F, [3]int32{i, j, n + j}, [3]int32{i, n + j, n + i}, [3]int32{j, i, 2 * n}, [3]int32{n + i, n + j, 2*n + 1})
	}
	return m
}

func moved(m *Mesh, x, y, z float64) *Mesh { return Transform(m, Translate(Vec{x, y, z})) }

// inverted turns every facet round.
func inverted(m *Mesh) *Mesh {
	r := &Mesh{V: m.V}
	for _, f := range m.F {
		r.F = append(r.F, flipped(f))
	}
	return r
}

// soup gives every facet its own three vertices, as an STL file does.
func soup(m *Mesh) *Mesh {
	r := &Mesh{}
	for _, f := range m.F {
		n := int32(len(r.V))
		r.V = append(r.V, m.V[f[0]], m.V[f[1]], m.V[f[2]])
		r.F = append(r.F, [3]int32{n, n + 1, n + 2})
	}
	return r
}

// without drops facets.
func without(m *Mesh, drop ...int) *Mesh {
	gone := map[int]bool{}
	for _, f := range drop {
		gone[f] = true
	}
	return m.pick(func(f int) bool { return !gone[f] })
}

var vertexLine = regexp.MustCompile(`vertex\s+(\S+)\s+(\S+)\s+(\S+)`)

// loadSTL is a reader of well-formed STL, apart from the one under test; it
// shares vertices of equal coordinates.
func loadSTL(t testing.TB, path string) *Mesh {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return parseSTL(t, data)
}

func parseSTL(t testing.TB, data []byte) *Mesh {
	t.Helper()
	m := &Mesh{}
	index := map[Vec]int32{}
	var f [3]int32
	k := 0
	add := func(v Vec) {
		i, ok := index[v]
		if !ok {
			i = int32(len(m.V))
			index[v] = i
			m.V = append(m.V, v)
		}
		f[k] = i
		if k++; k == 3 {
			m.F = append(m.F, f)
			k = 0
		}
	}
	if len(data) < 84 {
		return m
	}
	if n := binary.LittleEndian.Uint32(data[80:]); len(data) >= 84+50*int(n) && n > 0 {
		for i := range int(n) {
			for c := range 3 {
				var v Vec
				for x := range 3 {
					v[x] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[84+50*i+12+12*c+4*x:])))
				}
				add(v)
			}
		}
		return m
	}
	for _, s := range vertexLine.FindAllSubmatch(data, -1) {
		var v Vec
		for x := range 3 {
			f, err := strconv.ParseFloat(string(s[x+1]), 32)
			if err != nil {
				t.Fatal(err)
			}
			v[x] = f
		}
		add(v)
	}
	return m
}

// storeSTL writes a binary STL.
func storeSTL(t testing.TB, path string, m *Mesh) {
	t.Helper()
	data := make([]byte, 84+50*len(m.F))
	binary.LittleEndian.PutUint32(data[80:], uint32(len(m.F)))
	for i, f := range m.F {
		for c, v := range f {
			for x := range 3 {
				binary.LittleEndian.PutUint32(data[84+50*i+12+12*c+4*x:], math.Float32bits(float32(m.V[v][x])))
			}
		}
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
}
