package motion_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"platebook/engine/motion"
	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/region"
)

func TestErrors(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	good := func() *plan.Plan {
		return layers([]plan.Path{bead(60, mm(0, 0, 10, 0))}, []plan.Path{bead(60, mm(0, 0, 10, 0))})
	}
	for _, row := range []struct {
		says   string
		change func(pl *plan.Plan, pr *printer.Printer, m []printer.Material)
	}{
		{"layer 2: path 1: a bead of kind 0 cannot be laid at NaN mm/s", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[1].Paths[0].Speed = nan }},
		{"at 0 mm/s", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[1].Paths[0].Speed = 0 }},
		{"at -3 mm/s", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[1].Paths[0].Speed = -3 }},
		{"at +Inf mm/s", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[1].Paths[0].Speed = inf }},
		{"0 mm wide", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[0].Paths[0].Width = 0 }},
		{"kind 200", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[0].Paths[0].Kind = 200 }},
		{"leaves the grid", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) {
			pl.Layers[0].Paths[0].Points[1].X = math.MaxInt64
		}},
		{"leaves the grid", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) {
			pl.Layers[0].Paths[0].Points[0].Y = -region.Limit - 1
		}},
		{"layer 1, path 1: it is laid by tool 7, but only 2 materials", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[0].Paths[0].Tool = 7 }},
		{"layer 2: it goes from 0.2 to 0.2 mm", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[1].Top = 0.2 }},
		{"layer 1: it goes from 0 to NaN mm", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[0].Top = nan }},
		{"layer 1: it goes from -Inf", func(pl *plan.Plan, _ *printer.Printer, _ []printer.Material) { pl.Layers[0].Bottom = -inf }},
		{"acceleration 0 must be", func(_ *plan.Plan, pr *printer.Printer, _ []printer.Material) { pr.Acceleration = 0 }},
		{"travel speed NaN must be", func(_ *plan.Plan, pr *printer.Printer, _ []printer.Material) { pr.TravelSpeed = nan }},
		{"travel acceleration -1 must be", func(_ *plan.Plan, pr *printer.Printer, _ []printer.Material) { pr.TravelAcceleration = -1 }},
		{"max speed of axis y 0 must be", func(_ *plan.Plan, pr *printer.Printer, _ []printer.Material) { pr.MaxSpeed[1] = 0 }},
		{"max acceleration of axis z +Inf must be", func(_ *plan.Plan, pr *printer.Printer, _ []printer.Material) { pr.MaxAcceleration[2] = inf }},
		{"corner deviation -0.1 must be", func(_ *plan.Plan, pr *printer.Printer, _ []printer.Material) { pr.CornerDeviation = -0.1 }},
		{"retraction speed 0 must be", func(_ *plan.Plan, pr *printer.Printer, _ []printer.Material) { pr.RetractionLength = 1 }},
		{"heat rate 0 must be", func(_ *plan.Plan, pr *printer.Printer, _ []printer.Material) { pr.HeatRate = 0 }},
		{"max flow 0 mm³/s", func(_ *plan.Plan, _ *printer.Printer, m []printer.Material) { m[1].MaxFlow = 0 }},
		{"least layer time NaN s", func(_ *plan.Plan, _ *printer.Printer, m []printer.Material) { m[0].MinLayerTime = nan }},
	} {
		pl, pr, m := good(), swift(1000, 0.05), append([]printer.Material{}, molten...)
		row.change(pl, &pr, m)
		if got, err := motion.Simulate(pl, pr, m, 2); err == nil || !strings.Contains(err.Error(), row.says) || got.Total != 0 {
			t.Errorf("%v, %v; want %q", got.Total, err, row.says)
		}
	}
	if _, err := motion.Simulate(nil, swift(1, 1), molten, 1); err == nil {
		t.Error("no plan, no error")
	}
	// Nothing to lay takes no time.
	for _, pl := range []*plan.Plan{{}, layers(nil, nil), one(bead(nan, nil))} {
		if got, err := motion.Simulate(pl, swift(1000, 0.05), nil, 2); err != nil || got.Total != 0 || len(got.Layers) != len(pl.Layers) {
			t.Errorf("%+v, %v", got, err)
		}
	}
}

// FuzzSimulate: whatever the plan and the printer, there is an error or a
// finite time that is the same on any number of cores.
func FuzzSimulate(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz0123456789"), 1000.0, 0.05, 60.0, 1.0)
	f.Add([]byte{0, 0, 1, 1, 0, 0, 2, 255, 255, 3, 0, 0, 9, 9, 9}, 1e9, 0.0, 1e6, 0.0)
	f.Add([]byte{7, 1, 1, 7, 1, 1, 7, 1, 1}, 1e-3, 1e6, 1e-3, 1e6)
	f.Fuzz(func(t *testing.T, data []byte, a, d, v, retraction float64) {
		if len(data) > 600 {
			return
		}
		pr := swift(a, d)
		pr.TravelSpeed, pr.RetractionTravel, pr.RetractionLength, pr.RetractionSpeed = v, retraction, retraction, v
		pl := layers(nil)
		// Three bytes a point; the first says how far and whether something new begins.
		for ; len(data) >= 3; data = data[3:] {
			l := &pl.Layers[len(pl.Layers)-1]
			switch {
			case data[0] < 10 && len(pl.Layers) < 10:
				pl.Layers = append(pl.Layers, plan.Layer{Bottom: l.Top, Top: l.Top + float64(data[0]-1)/8})
				fallthrough
			case data[0] < 60 || len(l.Paths) == 0:
				l = &pl.Layers[len(pl.Layers)-1]
				l.Paths = append(l.Paths, plan.Path{Kind: plan.Kind(data[0] % 10), Tool: data[0] % 7 / 3, Closed: data[0]%2 == 0, Width: region.Micron(data[1]) << (data[0] % 50), Speed: v * float64(data[2]) / 64})
			default:
				p := &l.Paths[len(l.Paths)-1]
				p.Points = append(p.Points, region.Point{X: region.Micron(int8(data[1])) << (data[0] % 24), Y: region.Micron(int8(data[2])) << (data[0] % 24)})
			}
		}
		got, err := motion.Simulate(pl, pr, molten, 1)
		again, err2 := motion.Simulate(pl, pr, molten, 3)
		if d := cmp.Diff(got, again); d != "" || (err == nil) != (err2 == nil) {
			t.Fatal(d, err, err2)
		}
		parts := []float64{got.Total, got.WarmUp, got.Travel, got.Retraction, got.LayerChange, got.ToolChange, got.Waiting}
		for _, x := range append(append(parts, got.Kind[:]...), got.Layers...) {
			if !(x >= 0) || math.IsInf(x, 0) {
				t.Fatalf("%+v", got)
			}
		}
	})
}
