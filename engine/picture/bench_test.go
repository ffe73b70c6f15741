package picture

import (
	"testing"

	"platebook/engine/mesh"
)

// large has 1.2 million facets: 64 balls in a block.
func large() *mesh.Mesh {
	var balls []*mesh.Mesh
	for i := range 64 {
		balls = append(balls, ball(mesh.Vec{float64(i % 4 * 20), float64(i / 4 % 4 * 20), 10 + float64(i/16*20)}, 10, 69))
	}
	m := join(balls...)
	m.Colour = nil
	return m
}

func BenchmarkLarge(b *testing.B) {
	s := Scene{Mesh: stand(large(), 80), Platform: &[2]float64{220, 220}}
	b.Logf("%d facets", len(s.Mesh.F))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Image(s, Usual(), Options{Workers: 2}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkBox(b *testing.B) {
	s := Scene{Mesh: box(mesh.Vec{-20, -20, 0}, mesh.Vec{20, 20, 30}), Platform: &[2]float64{220, 220}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Image(s, Usual(), Options{Workers: 2}); err != nil {
			b.Fatal(err)
		}
	}
}
