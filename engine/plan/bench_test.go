package plan

import (
	"testing"

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/slice"
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

// A plate of copies, and a part as large as a printer.
func BenchmarkPlate(b *testing.B) {
	one := torus(10, 4, 0.2)
	var parts []Part
	for k := range 36 {
		layers := append([]slice.Layer(nil), one...)
		for i := range layers {
			layers[i].Region = layers[i].Region.Translate(region.Micron(30000*(k%6)), region.Micron(30000*(k/6)))
		}
		parts = append(parts, Part{Layers: layers})
	}
	for _, c := range []struct {
		name  string
		parts []Part
	}{
		{"36 copies", parts},
		{"large", []Part{{Layers: torus(100, 40, 0.2)}}},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Make(c.parts, testWay(standard), testPrinter, 0, 2); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Layers that would take gigabytes if all their rows were held: 3000 walls too
// thin to lay, walls that can be laid, and boxes through one another.
func BenchmarkCrowded(b *testing.B) {
	for _, c := range []struct {
		name   string
		layers []slice.Layer
	}{
		{"3000 teeth", teeth(3000, 0.03, 100)},
		{"300 walls", teeth(300, 0.3, 50)},
		{"1500 boxes", boxes(1500, 60)},
	} {
		b.Run(c.name, func(b *testing.B) {
			b.ReportAllocs()
			most := 0.0
			for b.Loop() {
				most = max(most, peak(func() {
					if _, err := Make([]Part{{Layers: c.layers}}, testWay(standard), testPrinter, 0, 2); err != nil {
						b.Fatal(err)
					}
				}))
			}
			b.ReportMetric(most, "peak-MB")
		})
	}
}
