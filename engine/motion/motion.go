package motion

import (
	"platebook/engine/plan"
	"platebook/engine/printer"
)

// Time is the simulated duration of a plan, s.
type Time struct {
	Total       float64
	WarmUp      float64             // warm-up, start and end
	Kind        [plan.Kinds]float64 // depositing, by kind
	Travel      float64
	Retraction  float64
	LayerChange float64
	ToolChange  float64
	Waiting     float64   // for layers to set: minimum layer time
	Layers      []float64 // each layer, all of the above but WarmUp
}

// Simulate runs pl on pr. materials are by tool. workers bounds the cores
// used; the answer does not depend on it.
func Simulate(pl *plan.Plan, pr printer.Printer, materials []printer.Material, workers int) (Time, error) {
	panic("not built yet")
}
