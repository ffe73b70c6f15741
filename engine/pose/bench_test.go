package pose

import (
	"fmt"
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

// BenchmarkBunny chooses a pose for some 70 000 facets, reading left out: it
// has a second on two cores.
func BenchmarkBunny(b *testing.B) {
	m := stranger(b, oracle.NPM(b, "stl-models/objects/bunny.bin.stl"))
	for _, workers := range []int{1, 2} {
		b.Run(fmt.Sprint("workers=", workers), func(b *testing.B) {
			o := desk
			o.Workers = workers
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Choose(m, o); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkLarge is the bunny seventeen times over, 1.2 million facets.
func BenchmarkLarge(b *testing.B) {
	one := stranger(b, oracle.NPM(b, "stl-models/objects/bunny.bin.stl"))
	var all []*mesh.Mesh
	for i := range 17 {
		all = append(all, moved(one, float64(i%5)*200, float64(i/5)*200, 0))
	}
	m := mesh.Merge(all...)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Choose(m, desk); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSpin(b *testing.B) {
	m := stranger(b, oracle.NPM(b, "stl-models/objects/bunny.bin.stl"))
	size := mesh.Measure(m).Box.Size()
	for b.Loop() {
		Spin(m, [2]float64{size[0] * 0.99, size[1] * 1.2})
	}
}
