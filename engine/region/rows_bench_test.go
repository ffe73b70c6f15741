package region

import (
	"math"
	"testing"
	"time"
)

// BenchmarkRows clips the lines of a 0.4 mm hatch, turned off the axes, to the
// layers of the bunny.
func BenchmarkRows(b *testing.B) {
	layers := bunnyLayers(b, 1)
	h := Hatch{Angle: 0.8, Pitch: 400, Phase: 123}
	points, spans := 0, 0
	for _, r := range layers {
		for _, ring := range r {
			points += len(ring)
		}
		for _, row := range h.Rows(r).Row {
			spans += len(row)
		}
	}
	b.ReportAllocs()
	best := math.Inf(1)
	for b.Loop() {
		start := time.Now()
		for _, r := range layers {
			h.Rows(r)
		}
		best = min(best, float64(time.Since(start))/1e3/float64(len(layers)))
	}
	b.ReportMetric(float64(points)/float64(len(layers)), "points/layer")
	b.ReportMetric(float64(spans)/float64(len(layers)), "spans/layer")
	b.ReportMetric(best, "µs/layer")
}

// BenchmarkRowsNeighbours takes the four neighbours of a layer away from it, as
// spans (clipped anew and clipped before) and as polygons.
func BenchmarkRowsNeighbours(b *testing.B) {
	layers := bunnyLayers(b, 1)
	h := Hatch{Angle: 0.8, Pitch: 400, Phase: 123}
	rows := make([]Rows, len(layers))
	for i, r := range layers {
		rows[i] = h.Rows(r)
	}
	near := func(i int, do func(j int)) {
		for _, j := range []int{i - 2, i - 1, i + 1, i + 2} {
			if j >= 0 && j < len(layers) {
				do(j)
			}
		}
	}
	timed := func(job func(i int) float64) (us, area float64) {
		us = math.Inf(1)
		for range 3 {
			start := time.Now()
			area = 0
			for i := range layers {
				area += job(i)
			}
			us = min(us, float64(time.Since(start))/1e3/float64(len(layers)))
		}
		return us, area
	}
	polygons, want := timed(func(i int) float64 {
		var all Region
		near(i, func(j int) { all = append(all, layers[j]...) })
		return Subtract(layers[i], all).Area()
	})
	anew, _ := timed(func(i int) float64 {
		a := h.Rows(layers[i])
		near(i, func(j int) { a = a.Subtract(h.Rows(layers[j])) })
		return a.Area(h.Pitch)
	})
	b.ReportAllocs()
	merged, got := math.Inf(1), 0.0
	for b.Loop() {
		us, area := timed(func(i int) float64 {
			a := rows[i]
			near(i, func(j int) { a = a.Subtract(rows[j]) })
			return a.Area(h.Pitch)
		})
		merged, got = min(merged, us), area
	}
	b.ReportMetric(merged, "merged-µs/layer")
	b.ReportMetric(anew, "clipped-µs/layer")
	b.ReportMetric(polygons, "polygons-µs/layer")
	b.ReportMetric(polygons/anew, "times-faster-clipped")
	b.ReportMetric(polygons/merged, "times-faster-merged")
	b.ReportMetric(100*(got/want-1), "area-%")
}
