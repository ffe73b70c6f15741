package pack_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"platebook/engine/pack"
	"platebook/engine/region"
)

// BenchmarkForty lays out 40 copies of an irregular part in 8 turns.
func BenchmarkForty(b *testing.B) {
	items := copies(40, pack.Item{Outline: knob(), Turns: 8})
	o := pack.Options{Platform: pack.Platform{Width: 250_000, Depth: 210_000, Margin: 5000, Clearance: 3000}}
	b.ReportAllocs()
	for b.Loop() {
		plates, _ := pack.Pack(items, o)
		b.ReportMetric(float64(len(plates)), "plates")
		b.ReportMetric(float64(len(plates[0].Placed)), "first")
	}
}

// BenchmarkCorners is a part of 5000 corners in 8 turns, most of it the outline.
func BenchmarkCorners(b *testing.B) {
	var r region.Ring
	for i := range 5000 {
		a := 2 * math.Pi * float64(i) / 5000
		d := 20_000 + 5000*math.Sin(5*a) + 100*math.Sin(300*a)
		r = append(r, region.Point{X: region.Micron(d * math.Cos(a)), Y: region.Micron(d * math.Sin(a))})
	}
	items := copies(3, pack.Item{Outline: region.Nonzero(r), Turns: 8})
	o := pack.Options{Platform: pack.Platform{Width: 250_000, Depth: 210_000, Clearance: 3000}}
	for b.Loop() {
		pack.Pack(items, o)
	}
}

// BenchmarkDifferent lays out parts no two of which are alike.
func BenchmarkDifferent(b *testing.B) {
	for _, n := range []int{20, 80} {
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			r := rand.New(rand.NewPCG(1, 1))
			var items []pack.Item
			for i := range n {
				var ring region.Ring
				corners, size := 5+r.IntN(20), 10_000+35_000*r.Float64()
				for k := range corners {
					a, d := 2*math.Pi*float64(k)/float64(corners), size*(0.35+0.65*r.Float64())
					ring = append(ring, region.Point{X: region.Micron(d * math.Cos(a)), Y: region.Micron(d * math.Sin(a))})
				}
				items = append(items, pack.Item{ID: fmt.Sprint(i), Outline: region.Nonzero(ring), Turns: 8})
			}
			o := pack.Options{Platform: pack.Platform{Width: 250_000, Depth: 210_000, Clearance: 3000}}
			for b.Loop() {
				plates, _ := pack.Pack(items, o)
				b.ReportMetric(float64(len(plates)), "plates")
			}
		})
	}
}
