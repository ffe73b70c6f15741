package findings

import (
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

// many repeats the bunny side by side until it has about n facets.
func many(b testing.TB, n int) *mesh.Mesh {
	m, err := readStranger(b, oracle.NPM(b, "stl-models/objects/bunny.bin.stl"))
	if err != nil {
		b.Fatal(err)
	}
	var out []*mesh.Mesh
	for i := 0; len(out)*len(m.Mesh.F) < n; i++ {
		out = append(out, mesh.Transform(m.Mesh, mesh.Translate(mesh.Vec{float64(i%4) * 200, float64(i/4) * 200, 0})))
	}
	return mesh.Merge(out...)
}

// A check of a mesh of a million facets has about a quarter of a second for
// its findings; the time of one bunny is for comparison.
func BenchmarkFind(b *testing.B) {
	for _, c := range []struct {
		name   string
		facets int
	}{{"70 k facets", 1}, {"1.2 M facets", 1_200_000}} {
		f := facts(many(b, c.facets), 0.2, supported(bare))
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				Find(f)
			}
		})
	}
}

func BenchmarkHull(b *testing.B) {
	m := many(b, 1)
	for b.Loop() {
		mesh.Hull(m.V)
	}
}

// The small parts test where it is hardest: bodies that nearly fit.
func BenchmarkSmallPart(b *testing.B) {
	for _, c := range []struct {
		name string
		p    []mesh.Vec
	}{{"cube 22.4", boxPoints(22.4, 22.4, 22.4)}, {"cube 22.6", boxPoints(22.6, 22.6, 22.6)}, {"ball 33", spherePoints(33, 1500)}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				SmallPart(c.p, smallBudget)
			}
		})
	}
}
