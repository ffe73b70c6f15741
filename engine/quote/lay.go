package quote

import (
	"math"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/motion"
	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/say"
	"platebook/engine/slice"
	"platebook/engine/tariff"
)

// laid is a part laid in beads and simulated: all that a price needs.
type laid struct {
	tools  []printer.Material
	layers []slice.Layer // of the whole mesh; nil for several colour parts
	cut    slice.Report
	plan   *plan.Plan
	time   motion.Time
}

// cut slices each colour part of m, which stands on z = 0.
func (a *Ask) cut(m *mesh.Mesh, way printer.Way, tools int) ([]plan.Part, slice.Report, error) {
	colours := 1
	for _, c := range m.Colour {
		colours = max(colours, int(c)+1)
	}
	var parts []plan.Part
	var all slice.Report
	o := slice.Options{First: way.FirstLayerHeight, Height: way.LayerHeight, MaxGap: slice.UsualGap, Workers: a.workers()}
	for c := range colours {
		part := m
		if colours > 1 {
			part = m.Part(uint8(c))
		}
		if len(part.F) == 0 {
			continue
		}
		layers, r, err := slice.Cut(part, o)
		if err != nil {
			return nil, all, err
		}
		all = slice.Report{
			Gaps: all.Gaps + r.Gaps, LongestMM: max(all.LongestMM, r.LongestMM),
			Open: all.Open + r.Open, OpenMM: all.OpenMM + r.OpenMM, Layers: max(all.Layers, r.Layers),
		}
		parts = append(parts, plan.Part{Layers: layers, Tool: uint8(min(c, tools-1))})
	}
	if len(parts) == 0 {
		return nil, all, say.Errorf("there is nothing to cut")
	}
	// Where colour parts overlap the later one wins, as 3MF has it and as letters
	// sunk into a plate want it; a plan lets the first win.
	slices.Reverse(parts)
	return parts, all, nil
}

// lay cuts, plans and simulates m, of so many colour parts, in the given way.
func (a *Ask) lay(m *mesh.Mesh, colours int, way printer.Way) (*laid, error) {
	a.say("cutting layers")
	tools, support := a.tools(colours, way.Supports)
	parts, report, err := a.cut(m, way, len(tools))
	if err != nil {
		return nil, err
	}
	a.say("planning every bead")
	l, err := a.plan(parts, way, tools, support)
	if err != nil {
		return nil, err
	}
	l.cut = report
	return l, nil
}

// plan lays what was cut, and simulates it.
func (a *Ask) plan(parts []plan.Part, way printer.Way, tools []printer.Material, support uint8) (*laid, error) {
	l := &laid{tools: tools}
	if len(parts) == 1 {
		l.layers = parts[0].Layers
	}
	var err error
	if l.plan, err = plan.Make(parts, way, a.Printer, support, a.workers()); err != nil {
		return nil, err
	}
	l.time, err = motion.Simulate(l.plan, a.Printer, tools, a.workers())
	return l, err
}

// tools lists the material of each tool for a print of n colour parts, and
// which tool lays supports. On a printer that holds fewer materials than there
// are colour parts, all are planned in the first: the findings say so.
func (a *Ask) tools(n int, supports printer.Supports) (tools []printer.Material, support uint8) {
	n = max(n, 1)
	if n > a.Printer.Tools {
		n = 1
	}
	for i := range n {
		tools = append(tools, a.material(i))
	}
	if supports == printer.Soluble {
		return append(tools, a.SupportMaterial), uint8(len(tools))
	}
	return tools, 0
}

// figures weighs and prices what was laid. It is nil when nothing holds a
// bead: the findings say so, and a price would be of nothing.
func (a *Ask) figures(l *laid, way printer.Way) (*Figures, error) {
	f := &Figures{
		Printer: a.Printer.Name, Way: way.Name, Copies: a.copies(),
		Layers: len(l.plan.Layers), MassG: map[string]float64{}, FilamentM: map[string]float64{},
		PrintTimeS: l.time.Total, TimeS: l.time.Total * float64(a.copies()), TimeParts: timeParts(l.time),
	}
	if n := len(l.plan.Layers); n > 0 {
		f.HeightMM = l.plan.Layers[n-1].Top
	}
	var items []tariff.Item
	n := float64(a.copies())
	part := 0.0 // mm³ that stay with the patron
	for i, m := range l.tools {
		// Products are rounded before they are added, so that no processor may fuse them.
		all := func(mm3 float64) float64 { return float64(n * m.Grams(mm3)) }
		// A microgram is beyond any scale: without this, a sum's last digit could
		// push a whole gram over its step.
		grams := math.Round(all(l.plan.Deposited(i))*1e6) / 1e6
		if grams == 0 {
			continue
		}
		f.MassG[m.ID] += grams
		f.FilamentM[m.ID] += m.Metres(grams)
		v := l.plan.Volume[i]
		part += l.plan.Deposited(i) - v[plan.Support] - v[plan.SupportInterface] - v[plan.Base] - v[plan.Purge]
		f.SupportsG += all(v[plan.Support] + v[plan.SupportInterface])
		f.BasePurgeG += all(v[plan.Base] + v[plan.Purge])
		items = append(items, tariff.Item{Material: m.ID, Name: m.Name, Grams: grams})
	}
	if part <= 0 {
		return nil, nil
	}
	var err error
	f.Price, err = a.Tariff.Price(tariff.Order{Items: items, Prints: a.copies(), Copies: a.copies(), Seconds: f.TimeS})
	f.PriceSayings = a.Tariff.Sayings()
	f.PriceSaid = say.Strings(f.PriceSayings)
	return f, err
}
