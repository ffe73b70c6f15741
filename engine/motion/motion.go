package motion

import (
	"errors"
	"fmt"
	"math"
	"sync"
	"sync/atomic"

	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/region"
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
//
// What is assumed, where printers differ: nozzle and platform warm up at the
// same time; StartTime brings the head to the first point of the plan; every
// layer begins and ends at rest, and between layers the platform moves by the
// difference of their tops at the Z axis's own limits, then LayerChangeTime
// passes; filament is drawn back and pushed forward with the head at rest; a
// layer that took less than the longest MinLayerTime of its materials waits.
// A layer without paths takes no time, a plan without any takes none at all.
//
// The error says which number of the plan, printer or material cannot be used.
func Simulate(pl *plan.Plan, pr printer.Printer, materials []printer.Material, workers int) (Time, error) {
	if pl == nil {
		return Time{}, errors.New("there is no plan to simulate")
	}
	if err := checkPrinter(pr); err != nil {
		return Time{}, err
	}
	for i, m := range materials {
		if !between(m.MaxFlow, leastFlow, mostSpeed) || !between(m.MinLayerTime, 0, mostTime) ||
			!between(m.NozzleC, -mostHeat, mostHeat) || !between(m.PlatformC, -mostHeat, mostHeat) {
			return Time{}, fmt.Errorf("material %q of tool %d: max flow %v mm³/s, least layer time %v s, nozzle %v °C or platform %v °C cannot be used; correct the material's profile",
				m.Name, i, m.MaxFlow, m.MinLayerTime, m.NozzleC, m.PlatformC)
		}
	}
	starts, used, err := scan(pl, len(materials))
	if err != nil {
		return Time{}, err
	}

	spent := make([]spending, len(pl.Layers))
	failed := make([]error, len(pl.Layers))
	var next atomic.Int64
	work := func() {
		h := head{pr: &pr, materials: materials}
		for i := next.Add(1) - 1; i < int64(len(pl.Layers)); i = next.Add(1) - 1 {
			if err := h.layer(&pl.Layers[i], starts[i]); err != nil {
				failed[i] = fmt.Errorf("layer %d: %w", i+1, err)
			}
			spent[i] = h.spending
		}
	}
	var wg sync.WaitGroup
	for range min(workers, len(pl.Layers)) - 1 {
		wg.Go(work)
	}
	work()
	wg.Wait()

	// Sums are taken in the order of layers, so that the cores that did the
	// work cannot show in the last digit.
	t := Time{Layers: make([]float64, len(pl.Layers))}
	for i := range spent {
		if failed[i] != nil {
			return Time{}, failed[i]
		}
		s := &spent[i]
		for k, v := range s.kind {
			t.Kind[k] += v
		}
		t.Travel += s.travel
		t.Retraction += s.retraction
		t.LayerChange += s.layerChange
		t.ToolChange += s.toolChange
		t.Waiting += s.waiting
		t.Layers[i] = s.moving() + s.waiting
		t.Total += t.Layers[i]
	}
	if len(used) > 0 {
		t.WarmUp = warmUp(&pr, materials, used) + pr.StartTime + pr.EndTime
	}
	t.Total += t.WarmUp
	return t, nil
}

// spending is what one layer takes, s.
type spending struct {
	kind                                                 [plan.Kinds]float64
	travel, retraction, layerChange, toolChange, waiting float64
}

func (s *spending) moving() float64 {
	sum := s.travel + s.retraction + s.layerChange + s.toolChange
	for _, v := range s.kind {
		sum += v
	}
	return sum
}

// start is the state in which a layer finds the printer.
type start struct {
	first bool         // nothing was laid before: the head is at the first point
	at    region.Point // where the head is
	tool  uint8        // what it holds
	climb float64      // mm to the top of this layer
}

// scan finds how each layer starts, so that layers can be simulated apart,
// and the tools in use, each once.
func scan(pl *plan.Plan, tools int) (starts []start, used []uint8, err error) {
	starts = make([]start, len(pl.Layers))
	var seen [256]bool
	now := start{first: true}
	top := 0.0
	for i := range pl.Layers {
		l := &pl.Layers[i]
		if h := l.Top - l.Bottom; !between(h, leastHeight, mostLength) || !between(math.Abs(l.Top), 0, mostLength) {
			return nil, nil, fmt.Errorf("layer %d: it goes from %v to %v mm, which is no height of a layer", i+1, l.Bottom, l.Top)
		}
		now.climb = math.Abs(l.Top - top)
		starts[i] = now
		for j := range l.Paths {
			p := &l.Paths[j]
			if len(p.Points) == 0 {
				continue
			}
			if int(p.Tool) >= tools {
				return nil, nil, fmt.Errorf("layer %d, path %d: it is laid by tool %d, but only %d materials are given", i+1, j+1, p.Tool, tools)
			}
			if !seen[p.Tool] {
				seen[p.Tool] = true
				used = append(used, p.Tool)
			}
			now.first, now.tool, now.at, top = false, p.Tool, end(p), l.Top
		}
	}
	return starts, used, nil
}

// end returns where a path with points ends.
func end(p *plan.Path) region.Point {
	if p.Closed {
		return p.Points[0]
	}
	return p.Points[len(p.Points)-1]
}

// warmUp returns how long it takes until the hottest nozzle and the platform
// are warm, heated at the same time.
func warmUp(pr *printer.Printer, materials []printer.Material, used []uint8) float64 {
	nozzle, platform := pr.AmbientC, pr.AmbientC
	for _, tool := range used {
		nozzle = max(nozzle, materials[tool].NozzleC)
		platform = max(platform, materials[tool].PlatformC)
	}
	return max((nozzle-pr.AmbientC)/pr.HeatRate, (platform-pr.AmbientC)/pr.PlatformHeatRate)
}

// Bounds of what can be simulated. They are far outside any printer; between
// them squares neither overflow nor vanish.
const (
	leastSpeed, mostSpeed   = 1e-3, 1e6 // mm/s
	leastAcc, mostAcc       = 1e-3, 1e9 // mm/s²
	leastFlow               = 1e-6      // mm³/s
	leastHeight, mostLength = 1e-6, 1e6 // mm
	mostTime                = 1e9       // s
	mostHeat                = 1e4       // °C
)

// between reports whether v is a number in [least, most].
func between(v, least, most float64) bool { return v >= least && v <= most }

func checkPrinter(pr printer.Printer) error {
	type row struct {
		what           string
		v, least, most float64
	}
	rows := []row{
		{"acceleration", pr.Acceleration, leastAcc, mostAcc},
		{"travel acceleration", pr.TravelAcceleration, leastAcc, mostAcc},
		{"travel speed", pr.TravelSpeed, leastSpeed, mostSpeed},
		{"corner deviation", pr.CornerDeviation, 0, mostLength},
		{"retraction length", pr.RetractionLength, 0, mostLength},
		{"retraction travel", pr.RetractionTravel, 0, math.Inf(1)},
		{"layer change time", pr.LayerChangeTime, 0, mostTime},
		{"tool change time", pr.ToolChangeTime, 0, mostTime},
		{"start time", pr.StartTime, 0, mostTime},
		{"end time", pr.EndTime, 0, mostTime},
		{"heat rate", pr.HeatRate, leastSpeed, mostSpeed},
		{"platform heat rate", pr.PlatformHeatRate, leastSpeed, mostSpeed},
		{"ambient temperature", pr.AmbientC, -mostHeat, mostHeat},
	}
	if pr.RetractionLength > 0 {
		rows = append(rows, row{"retraction speed", pr.RetractionSpeed, leastSpeed, mostSpeed})
	}
	for axis := range 3 {
		rows = append(rows, row{"max speed of axis " + "xyz"[axis:axis+1], pr.MaxSpeed[axis], leastSpeed, mostSpeed},
			row{"max acceleration of axis " + "xyz"[axis:axis+1], pr.MaxAcceleration[axis], leastAcc, mostAcc})
	}
	for _, r := range rows {
		if !between(r.v, r.least, r.most) {
			return fmt.Errorf("printer %q: %s %v must be from %v to %v; correct the printer's profile", pr.Name, r.what, r.v, r.least, r.most)
		}
	}
	return nil
}
