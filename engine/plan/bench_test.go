package plan

import (
	"testing"

	"platebook/engine/printer"
)

var standard = func(w *printer.Way) {
	w.Supports, w.Base, w.BeadWidth = printer.Breakaway, printer.Skirt, 0.45
	w.SolidTop, w.SolidBottom, w.Pattern = 5, 4, printer.Grid
}

func BenchmarkBunny(b *testing.B) {
	_, layers := load(b, "stl-models/objects/bunny.bin.stl", 80, 0.2)
	for _, c := range []struct {
		name   string
		change func(w *printer.Way)
	}{
		{"standard", standard},
		{"no supports", func(w *printer.Way) { standard(w); w.Supports = printer.NoSupports }},
		{"lines", func(w *printer.Way) { standard(w); w.Pattern = printer.Lines }},
		{"curve", func(w *printer.Way) { standard(w); w.Pattern = printer.Curve }},
		{"full", func(w *printer.Way) { standard(w); w.Infill = 100 }},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				pl, err := Make([]Part{{Layers: layers}}, testWay(c.change), testPrinter, 0, 2)
				if err != nil {
					b.Fatal(err)
				}
				n, pts := 0, 0
				for _, l := range pl.Layers {
					n += len(l.Paths)
					for _, p := range l.Paths {
						pts += len(p.Points)
					}
				}
				b.ReportMetric(float64(n), "paths")
				b.ReportMetric(float64(pts), "points")
			}
		})
	}
}
