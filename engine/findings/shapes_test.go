package findings

import (
	"math"
	"testing"

	"platebook/engine/mesh"
)

// Shapes for tests, closed and facing outward.

// lathe turns a profile (radius, height), listed upward, about the z axis in n steps.
func lathe(profile [][2]float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	ring := make([][]int32, len(profile))
	for i, p := range profile {
		if p[0] == 0 {
			m.V = append(m.V, mesh.Vec{0, 0, p[1]})
			ring[i] = []int32{int32(len(m.V) - 1)}
			continue
		}
		for k := range n {
			a := 2 * math.Pi * float64(k) / float64(n)
			m.V = append(m.V, mesh.Vec{p[0] * math.Cos(a), p[0] * math.Sin(a), p[1]})
			ring[i] = append(ring[i], int32(len(m.V)-1))
		}
	}
	for i := range len(profile) - 1 {
		lo, hi := ring[i], ring[i+1]
		for k := range n {
			a, b := lo[k%len(lo)], lo[(k+1)%len(lo)]
			c, d := hi[k%len(hi)], hi[(k+1)%len(hi)]
			if a != b {
				m.F = append(m.F, [3]int32{a, b, d})
			}
			if c != d {
				m.F = append(m.F, [3]int32{a, d, c})
			}
		}
	}
	return m
}

// ball is a sphere of radius r on the platform.
func ball(r float64, n int) *mesh.Mesh {
	var p [][2]float64
	for i := range n/2 + 1 {
		s, c := math.Sincos(math.Pi * float64(i) / float64(n/2))
		p = append(p, [2]float64{r * s, r - r*c})
	}
	p[0][0], p[len(p)-1][0] = 0, 0
	return lathe(p, n)
}

// rod is a cylinder of n sides from z0 to z1.
func rod(r, z0, z1 float64, n int) *mesh.Mesh {
	return lathe([][2]float64{{0, z0}, {r, z0}, {r, z1}, {0, z1}}, n)
}

func block(x0, y0, z0, x1, y1, z1 float64) *mesh.Mesh {
	return prism([][2]float64{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}, z0, z1)
}

// prism stands on a convex outline, counter-clockwise.
func prism(outline [][2]float64, z0, z1 float64) *mesh.Mesh {
	m := &mesh.Mesh{}
	n := int32(len(outline))
	for _, z := range [2]float64{z0, z1} {
		for _, p := range outline {
			m.V = append(m.V, mesh.Vec{p[0], p[1], z})
		}
	}
	for i := range n {
		j := (i + 1) % n
		m.F = append(m.F, [3]int32{i, j, n + j}, [3]int32{i, n + j, n + i})
		if i > 0 && i < n-1 {
			m.F = append(m.F, [3]int32{0, i + 1, i}, [3]int32{n, n + i, n + i + 1})
		}
	}
	return m
}

func shifted(m *mesh.Mesh, x, y, z float64) *mesh.Mesh {
	return mesh.Transform(m, mesh.Translate(mesh.Vec{x, y, z}))
}

// sheared moves every point along x by k times its height.
func sheared(m *mesh.Mesh, k float64) *mesh.Mesh {
	out := &mesh.Mesh{F: m.F}
	for _, p := range m.V {
		out.V = append(out.V, mesh.Vec{p[0] + k*p[2], p[1], p[2]})
	}
	return out
}

// aboutZ turns m by degrees.
func aboutZ(m *mesh.Mesh, deg float64) *mesh.Mesh {
	return mesh.Transform(m, mesh.Turn(mesh.Vec{0, 0, 1}, deg*math.Pi/180))
}

// as looks at m just where it is.
func as(m *mesh.Mesh, w func(f *Facts)) []Finding {
	f := Facts{Mesh: m, Found: mesh.Inspect(m), Measures: mesh.Measure(m), Way: bare, Printer: desk}
	if w != nil {
		w(&f)
	}
	return Find(f)
}

// get returns the finding with an ID.
func get(fs []Finding, id string) (Finding, bool) {
	for _, f := range fs {
		if f.ID == id {
			return f, true
		}
	}
	return Finding{}, false
}

// wants checks which of some findings are there: "+id" must be, "-id" must not,
// "+id=stop" must be of that severity.
func wants(t *testing.T, name string, fs []Finding, ids ...string) {
	t.Helper()
	sound(t, name, fs)
	for _, id := range ids {
		severity := ""
		want := id[1:]
		for i := range want {
			if want[i] == '=' {
				want, severity = want[:i], want[i+1:]
				break
			}
		}
		f, ok := get(fs, want)
		if ok != (id[0] == '+') || ok && severity != "" && string(f.Severity) != severity {
			t.Errorf("%s: want %s, got %v %s %q", name, id, ok, f.Severity, f.Message)
		}
	}
}

func within(t *testing.T, name string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.6f, want %.6f ± %g", name, got, want, tolerance)
	}
}
