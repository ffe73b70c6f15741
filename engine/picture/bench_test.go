package picture

import (
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
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

func BenchmarkSheet(b *testing.B) {
	s := Scene{Mesh: stand(binarySTL(b, oracle.NPM(b, "stl-models/objects/bunny.bin.stl")), 80), Platform: &[2]float64{220, 220}}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := sheetCells(s, Options{Workers: 2}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLargeSheet(b *testing.B) {
	s := Scene{Mesh: stand(large(), 80), Platform: &[2]float64{220, 220}}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := sheetCells(s, Options{Workers: 2}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSideBySide(b *testing.B) {
	m := binarySTL(b, oracle.NPM(b, "stl-models/objects/bunny.bin.stl"))
	var ways []Way
	for _, tall := range []float64{80, 60, 120, 80} {
		ways = append(ways, Way{Scene: Scene{Mesh: stand(m, tall), Support: box(mesh.Vec{-20, -20, 0}, mesh.Vec{-10, -10, 30}), Platform: &[2]float64{220, 220}},
			Title: "A way", Lines: []string{"80 × 62 × 79 mm", "3 h 12 min, 44 g"}})
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := waysCells([]string{"bunny.stl"}, ways, Usual(), Options{Workers: 2}); err != nil {
			b.Fatal(err)
		}
	}
}
