package plan

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/slice"
)

// dice hands out bytes, and noughts when they are used up.
type dice struct{ b []byte }

func (d *dice) byte() byte {
	if len(d.b) == 0 {
		return 0
	}
	x := d.b[0]
	d.b = d.b[1:]
	return x
}

func (d *dice) float() float64 {
	var b [8]byte
	d.b = d.b[copy(b[:], d.b):]
	return math.Float64frombits(binary.LittleEndian.Uint64(b[:]))
}

// ring has up to 8 corners within 6.4 mm of the origin, crossing itself or not.
func (d *dice) ring() region.Ring {
	var r region.Ring
	for range d.byte() % 9 {
		r = append(r, region.Point{X: region.Micron(int8(d.byte())) * 50, Y: region.Micron(int8(d.byte())) * 50})
	}
	return r
}

// parts are up to 3 of up to 6 layers of up to 3 rings, canonical or not.
func (d *dice) parts(canonical bool) []Part {
	var parts []Part
	for range d.byte() % 4 {
		p := Part{Tool: d.byte() % 3}
		for i := range int(d.byte() % 7) {
			var r region.Region
			for range d.byte() % 4 {
				r = append(r, d.ring())
			}
			if canonical {
				r = region.Nonzero(r...)
			}
			p.Layers = append(p.Layers, slice.Layer{Bottom: float64(i) * 0.25, Top: float64(i+1) * 0.25, Region: r})
		}
		parts = append(parts, p)
	}
	return parts
}

func (d *dice) way() printer.Way {
	pick := func(v ...float64) float64 {
		k := int(d.byte())
		if k == 255 {
			return d.float() // anything at all
		}
		return v[k%len(v)]
	}
	return testWay(func(w *printer.Way) {
		w.LayerHeight, w.FirstLayerHeight = 0.25, pick(0.25, 0.1, 0.3)
		w.BeadWidth = pick(0.4, 0.3, 0.35, 0.8, 1.1)
		w.Shells = int(d.byte() % 5)
		w.SolidTop, w.SolidBottom = int(d.byte()%4), int(d.byte()%4)
		w.Infill = pick(15, 0, 100, 40, 3, 1e-6, 5e-324)
		w.Pattern = []printer.Pattern{printer.Lines, printer.Grid, printer.Curve, ""}[d.byte()%4]
		w.Supports = []printer.Supports{printer.NoSupports, printer.Breakaway, printer.Soluble, ""}[d.byte()%4]
		w.SupportAngle = pick(45, 0, 90, 60, 89.9)
		w.SupportInfill = pick(15, 1, 100)
		w.SupportGap = pick(0.5, 0, 3)
		w.SupportGapLayers, w.SupportInterface = int(d.byte()%3), int(d.byte()%3)
		w.Base = []printer.Base{printer.NoBase, printer.Skirt, printer.Brim, printer.Raft, ""}[d.byte()%5]
		w.SkirtGap, w.BrimWidth, w.RaftMargin = pick(3, 0), pick(4, 0, 1), pick(3, 0, 1)
		w.SkirtLoops, w.RaftLayers = int(d.byte()%3), int(d.byte()%4)
	})
}

// Nothing makes Make panic, and what it makes is sound, the same again, and no
// more than can be: the model at most, with what rounds off at its edges.
func FuzzMake(f *testing.F) {
	f.Add([]byte{1, 0, 3, 1, 4, 100, 100, 156, 100, 156, 156, 100, 156})
	f.Add([]byte("two parts of several layers each, with rings that cross themselves in any way a text may"))
	f.Fuzz(func(t *testing.T, data []byte) { tryDice(t, data) })
}

// The same on dice thrown here.
func TestDice(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 400 {
		data := make([]byte, 60+r.IntN(400))
		for i := range data {
			data[i] = byte(r.Uint32())
		}
		tryDice(t, data)
	}
}

func tryDice(t *testing.T, data []byte) {
	t.Helper()
	d := &dice{data}
	canonical := d.byte()%4 != 0
	way := d.way()
	parts := d.parts(canonical)
	p := testPrinter
	pl, err := Make(parts, way, p, d.byte()%3, 2)
	if err != nil {
		return
	}
	if err := sound(pl); err != nil {
		t.Fatal(err)
	}
	if !canonical {
		return
	}
	// Laid of the model: not more than its area and a bead around it.
	most := 0.0
	for i := range 7 {
		var all region.Region
		for _, q := range parts {
			if i < len(q.Layers) {
				all = append(all, q.Layers[i].Region...)
			}
		}
		most += region.Nonzero(all...).Offset(microns(way.BeadWidth), region.Round, 10).Area() * 0.25
	}
	laid := 0.0
	for tool := range pl.Volume {
		for k := range Support {
			laid += pl.Volume[tool][k]
		}
	}
	if laid > most*1.02+0.01 {
		t.Fatalf("laid %v mm³ of a model of %v mm³ with a bead around it", laid, most)
	}
}
