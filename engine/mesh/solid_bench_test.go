package mesh

import (
	"math/rand/v2"
	"strconv"
	"testing"

	"platebook/internal/oracle"
)

// manyFacets repeats a closed part until it has 1.2 million facets: the size of
// a 62 MB STL.
func manyFacets(t testing.TB) *Mesh {
	part, _ := Heal(loadSTL(t, oracle.NPM(t, "stl-models/objects/bunny.bin.stl")))
	if err := Closed(part); err != nil {
		t.Fatal(err)
	}
	var all []*Mesh
	for i := range 1_240_000 / len(part.F) {
		all = append(all, moved(part, float64(i)*0.3, 0, 0))
	}
	return Merge(all...)
}

func BenchmarkSolid(b *testing.B) {
	m := manyFacets(b)
	b.Logf("%d facets, %d vertices", len(m.F), len(m.V))
	for _, c := range []struct {
		name string
		do   func()
	}{
		{"measure", func() { Measure(m) }},
		{"edges", func() { sidesOf(m) }},
		{"inspect", func() { Inspect(m) }},
		{"heal", func() { Heal(m) }},
		{"all", func() { Inspect(m); Measure(m); Heal(m) }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				c.do()
			}
		})
	}
}

func BenchmarkHealOpen(b *testing.B) {
	m := loadSTL(b, oracle.NPM(b, "stl-models/objects/bunny.bin.stl"))
	b.ReportAllocs()
	for b.Loop() {
		Heal(m)
	}
}

// facetSoup is n facets with corners anywhere in a cube of 100 mm: the worst a file
// of so few facets can be, since every facet crosses hundreds of others.
func facetSoup(n int) *Mesh {
	rng := rand.New(rand.NewPCG(2000, 7))
	m := &Mesh{}
	for i := range n {
		for range 3 {
			var v Vec
			for k := range v {
				v[k] = float64(float32(100 * rng.Float64()))
			}
			m.V = append(m.V, v)
		}
		at := int32(3 * i)
		m.F = append(m.F, [3]int32{at, at + 1, at + 2})
	}
	return m
}

func BenchmarkHealSoup(b *testing.B) {
	for _, n := range []int{2000, 200_000} {
		m := facetSoup(n)
		b.Run(strconv.Itoa(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Heal(m)
			}
		})
	}
}
