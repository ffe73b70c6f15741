package motion_test

import (
	"fmt"
	"math"
	"testing"

	"platebook/engine/motion"
	"platebook/engine/plan"
	"platebook/engine/printer"
)

// tower is n layers of wavy shells and straight infill, about k straights each.
func tower(n, k int) *plan.Plan {
	pl := &plan.Plan{}
	for i := range n {
		l := plan.Layer{Bottom: 0.2 * float64(i), Top: 0.2 * float64(i+1)}
		for _, r := range []float64{30, 29.55} {
			var xy []float64
			for j := range k / 3 {
				a := 2 * math.Pi * float64(j) / float64(k/3)
				wave := r + 2*math.Sin(9*a+float64(i)/50) + 0.01*float64(j%2) // too rough to be simplified
				xy = append(xy, wave*math.Cos(a), wave*math.Sin(a))
			}
			l.Paths = append(l.Paths, plan.Path{Closed: true, Width: 450, Speed: 50, Points: mm(xy...), Kind: plan.OuterShell})
		}
		for j := range k / 6 {
			y := -20 + 40*float64(j)/float64(k/6)
			l.Paths = append(l.Paths, plan.Path{Width: 450, Speed: 80, Points: mm(-20, y, 20, y), Kind: plan.Infill})
		}
		pl.Layers = append(pl.Layers, l)
	}
	return pl
}

// BenchmarkSimulate runs 400 layers of 3000 straights.
func BenchmarkSimulate(b *testing.B) {
	pl := tower(400, 3000)
	c := printer.Builtin()
	for _, workers := range []int{1, 2} {
		b.Run(fmt.Sprint("workers=", workers), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := motion.Simulate(pl, c.Printers[0], c.Materials[:1], workers); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
