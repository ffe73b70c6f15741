package likeness

import (
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

// One print against 100 000: under 50 ms.
func BenchmarkNearest(b *testing.B) {
	var shelf Shelf
	all := many(b, 100_000)
	for _, p := range all {
		shelf.Add(p)
	}
	for b.Loop() {
		if found := shelf.Nearest(all[31415], 20); found[0].Index != 31415 {
			b.Fatal(found[0])
		}
	}
}

// A print must cost little beside reading the file.
func BenchmarkOf(b *testing.B) {
	bunny := load(b, oracle.NPM(b, "stl-models/objects/bunny.bin.stl"))
	var herd []*mesh.Mesh
	for i := range 17 {
		herd = append(herd, moved(bunny, 200*float64(i%4), 200*float64(i/4), 0))
	}
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{{"box", box(1, 2, 3)}, {"bunny", bunny}, {"1.2 M facets", mesh.Merge(herd...)}} {
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				if _, err := Of(c.m); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
