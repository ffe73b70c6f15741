package quote

import (
	"errors"
	"math"

	"platebook/engine/findings"
	"platebook/engine/motion"
	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/slice"
	"platebook/engine/tariff"
)

// Check reads the files and says whether they can be printed and what will go
// wrong. A file that cannot be read, or should not be printed, is an answer
// with a finding that stops it; an error means the ask itself is wrong.
func Check(a Ask) (*Answer, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	ans, facts := read(&a)
	if facts != nil {
		a.say("looking for what will go wrong")
		ans.conclude(findings.Find(*facts))
	}
	return ans, nil
}

// Quote is Check with the whole print planned, simulated and priced. Figures
// are left out when there is nothing that can be planned.
func Quote(a Ask) (*Answer, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	ans, facts := read(&a)
	if facts == nil {
		return ans, nil
	}
	if err := figure(&a, ans, facts); err != nil {
		// The ask was looked at before: it is this part that is beyond planning.
		ans.Findings = append(ans.Findings, findings.Finding{
			ID: "not-planned", Severity: findings.Stop, Message: sentence("No print of it can be planned: " + err.Error()),
		})
	}
	a.say("looking for what will go wrong")
	ans.conclude(findings.Find(*facts))
	return ans, nil
}

func (ans *Answer) conclude(found []findings.Finding) {
	ans.Findings = append(ans.Findings, found...)
	ans.Printable = findings.Printable(ans.Findings)
}

// figure plans, simulates and prices what facts describe, and adds to facts
// what the findings need of it. What cannot be laid at all leaves no figures.
func figure(a *Ask, ans *Answer, facts *findings.Facts) error {
	tools, support := a.tools(len(ans.ColourParts))
	parts, err := cut(a, facts, len(tools))
	if err != nil {
		return err
	}
	a.say("planning every bead")
	pl, err := plan.Make(parts, a.Way, a.Printer, support, a.workers())
	if err != nil {
		return err
	}
	a.say("simulating the printer's motion")
	t, err := motion.Simulate(pl, a.Printer, tools, a.workers())
	if err != nil {
		return err
	}
	ans.Plan, facts.Plan = pl, pl
	f := &Figures{
		Printer: a.Printer.Name, Way: a.Way.Name, Copies: a.copies(),
		Layers: len(pl.Layers), MassG: map[string]float64{}, FilamentM: map[string]float64{},
		PrintTimeS: t.Total, TimeS: t.Total * float64(a.copies()), TimeParts: timeParts(t),
	}
	if n := len(pl.Layers); n > 0 {
		f.HeightMM = pl.Layers[n-1].Top
	}
	var items []tariff.Item
	n := float64(a.copies())
	for i, m := range tools {
		// Products are rounded before they are added, so that no processor may fuse them.
		all := func(mm3 float64) float64 { return float64(n * m.Grams(mm3)) }
		// A microgram is beyond any scale: without this, a sum's last digit could
		// push a whole gram over its step.
		grams := math.Round(all(pl.Deposited(i))*1e6) / 1e6
		if grams == 0 {
			continue
		}
		f.MassG[m.ID] += grams
		f.FilamentM[m.ID] += m.Metres(grams)
		v := pl.Volume[i]
		f.SupportsG += all(v[plan.Support] + v[plan.SupportInterface])
		f.BasePurgeG += all(v[plan.Base] + v[plan.Purge])
		items = append(items, tariff.Item{Material: m.ID, Name: m.Name, Grams: grams})
	}
	if len(f.MassG) == 0 {
		// Nothing holds a bead: the findings say so, and a price would be of nothing.
		return nil
	}
	facts.Seconds, facts.LongestSeconds = t.Total, a.LongestPrint
	facts.Grams, facts.SpoolGrams = map[string]float64{}, map[string]float64{}
	for _, m := range tools {
		facts.Grams[m.Name], facts.SpoolGrams[m.Name] = f.MassG[m.ID]/n, m.SpoolGrams
	}
	p, err := a.Tariff.Price(tariff.Order{Items: items, Prints: a.copies(), Copies: a.copies(), Seconds: f.TimeS})
	if err != nil {
		return err
	}
	f.Price, f.PriceSaid = p, a.Tariff.Said()
	ans.Figures = f
	return nil
}

// tools lists the material of each tool for a print of n colour parts, and
// which tool lays supports. On a printer that holds fewer materials than there
// are colour parts, all are planned in the first: the findings say so.
func (a *Ask) tools(n int) (tools []printer.Material, support uint8) {
	n = max(n, 1)
	if n > a.Printer.Tools {
		n = 1
	}
	for i := range n {
		tools = append(tools, a.material(i))
	}
	if a.Way.Supports == printer.Soluble {
		return append(tools, a.SupportMaterial), uint8(len(tools))
	}
	return tools, 0
}

// cut slices each colour part.
func cut(a *Ask, facts *findings.Facts, tools int) ([]plan.Part, error) {
	a.say("cutting layers")
	colours := 1
	if facts.Mesh.Colour != nil {
		for _, c := range facts.Mesh.Colour {
			colours = max(colours, int(c)+1)
		}
	}
	var parts []plan.Part
	o := slice.Options{First: a.Way.FirstLayerHeight, Height: a.Way.LayerHeight, MaxGap: maxGap, Workers: a.workers()}
	for c := range colours {
		m := facts.Mesh
		if colours > 1 {
			m = m.Part(uint8(c))
		}
		if len(m.F) == 0 {
			continue
		}
		layers, rep, err := slice.Cut(m, o)
		if err != nil {
			return nil, err
		}
		facts.Cut = merge(facts.Cut, rep)
		parts = append(parts, plan.Part{Layers: layers, Tool: uint8(min(c, tools-1))})
	}
	if len(parts) == 0 {
		return nil, errors.New("there is nothing to cut")
	}
	if len(parts) == 1 { // Find cuts the whole of several parts itself
		facts.Layers = parts[0].Layers
	}
	return parts, nil
}

// maxGap is the widest gap in mm closed in the contours of an open mesh: wider
// than a bead, and it is no longer the same wall.
const maxGap = 0.4

func merge(a, b slice.Report) slice.Report {
	return slice.Report{
		Gaps: a.Gaps + b.Gaps, LongestMM: max(a.LongestMM, b.LongestMM),
		Open: a.Open + b.Open, OpenMM: a.OpenMM + b.OpenMM, Layers: max(a.Layers, b.Layers),
	}
}
