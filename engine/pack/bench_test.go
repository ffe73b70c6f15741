package pack_test

import (
	"testing"

	"platebook/engine/pack"
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
