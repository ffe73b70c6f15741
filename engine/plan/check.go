package plan

import (
	"errors"
	"fmt"

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/say"
)

// What a plan may cost at most. A full plate of 300 mm cubed in 0.1 mm layers
// needs some two million lines.
const (
	maxLines  = 20_000_000 // lines of all hatches
	maxCells  = 4_000_000  // cells of the space-filling curve in a layer
	maxLayers = 100_000
	maxTools  = 16
	maxReach  = 5000.0 // mm from the origin
)

// check says which input is out of range.
func check(parts []Part, way *printer.Way, p *printer.Printer, supportTool uint8) error {
	if len(parts) == 0 {
		return errors.New("there is no part to plan")
	}
	for _, r := range []struct {
		name        string
		v, low, top float64
		unit        string
	}{
		{"layer height", way.LayerHeight, 0.005, 10, "mm"},
		{"first layer height", way.FirstLayerHeight, 0.005, 10, "mm"},
		{"bead width", way.BeadWidth, 0.05, 20, "mm"},
		{"number of shells", float64(way.Shells), 0, 1000, ""},
		{"number of solid top layers", float64(way.SolidTop), 0, maxLayers, ""},
		{"number of solid bottom layers", float64(way.SolidBottom), 0, maxLayers, ""},
		{"infill", way.Infill, 0, 100, "percent"},
		{"support angle", way.SupportAngle, 0, 90, "degrees"},
		{"support gap", way.SupportGap, 0, 100, "mm"},
		{"number of support gap layers", float64(way.SupportGapLayers), 0, 1000, ""},
		{"number of support interface layers", float64(way.SupportInterface), 0, 1000, ""},
		{"number of skirt loops", float64(way.SkirtLoops), 0, 1000, ""},
		{"skirt gap", way.SkirtGap, 0, 1000, "mm"},
		{"brim width", way.BrimWidth, 0, 1000, "mm"},
		{"raft margin", way.RaftMargin, 0, 1000, "mm"},
		{"number of raft layers", float64(way.RaftLayers), 0, 1000, ""},
		{"shell speed", way.ShellSpeed, 0.01, 1e5, "mm/s"},
		{"inner shell speed", way.InnerShellSpeed, 0.01, 1e5, "mm/s"},
		{"solid speed", way.SolidSpeed, 0.01, 1e5, "mm/s"},
		{"infill speed", way.InfillSpeed, 0.01, 1e5, "mm/s"},
		{"support speed", way.SupportSpeed, 0.01, 1e5, "mm/s"},
		{"first layer speed", way.FirstLayerSpeed, 0.01, 1e5, "mm/s"},
		{"purge volume", p.PurgeVolume, 0, 1e5, "mm³"},
		{"nozzle", p.Nozzle, 0, 20, "mm"},
	} {
		if !(r.v >= r.low && r.v <= r.top) { // NaN too
			return fmt.Errorf("the %s is %v %s, but must be from %v to %v", r.name, r.v, r.unit, r.low, r.top)
		}
	}
	if h := max(way.LayerHeight, way.FirstLayerHeight); h > way.BeadWidth {
		return fmt.Errorf("a layer %v mm high is higher than its bead is wide (%v mm): choose lower layers or a wider bead", h, way.BeadWidth)
	}
	if p.Nozzle > 0 && (way.BeadWidth > 3*p.Nozzle || way.BeadWidth < p.Nozzle/2) {
		return fmt.Errorf("a nozzle of %v mm cannot lay a bead %v mm wide: choose one from %v to %v mm", p.Nozzle, way.BeadWidth, p.Nozzle/2, 3*p.Nozzle)
	}
	switch way.Supports {
	case "", printer.NoSupports:
	case printer.Breakaway, printer.Soluble:
		if !(way.SupportInfill >= 1 && way.SupportInfill <= 100) {
			return fmt.Errorf("the support infill is %v percent, but must be from 1 to 100", way.SupportInfill)
		}
	default:
		return fmt.Errorf("supports are none, breakaway or soluble, not %q", string(way.Supports))
	}
	switch way.Base {
	case "", printer.NoBase, printer.Skirt, printer.Brim, printer.Raft:
	default:
		return fmt.Errorf("the base is none, skirt, brim or raft, not %q", string(way.Base))
	}
	switch way.Pattern {
	case "", printer.Lines, printer.Grid, printer.Curve:
	default:
		return fmt.Errorf("the infill pattern is lines, grid or curve, not %q", string(way.Pattern))
	}
	if supportTool >= maxTools {
		return fmt.Errorf("the supports ask for tool %d, but there can be %d tools at most", supportTool+1, maxTools)
	}
	for k, part := range parts {
		if part.Tool >= maxTools {
			return fmt.Errorf("part %d asks for tool %d, but there can be %d tools at most", k+1, part.Tool+1, maxTools)
		}
		if len(part.Layers) > maxLayers {
			return say.Errorf("part %d has %d layers, more than %d: choose higher layers", k+1, len(part.Layers), maxLayers)
		}
		for i, l := range part.Layers {
			if h := l.Top - l.Bottom; !(l.Bottom >= 0 && h > 0 && l.Top <= 1e6) {
				return say.Errorf("layer %d of part %d lies from %v to %v mm, which is no layer", i+1, k+1, l.Bottom, l.Top)
			}
			far := region.Micron(maxReach * 1000)
			for _, ring := range l.Region {
				for _, p := range ring {
					if max(p.X, -p.X, p.Y, -p.Y) > far {
						return say.Errorf("part %d reaches more than %v m from the origin: is it the size that was meant?", k+1, maxReach/1000)
					}
				}
			}
		}
	}
	return nil
}

// affordable says whether the plan fits in memory, and finds how large it is.
func (m *maker) affordable() error {
	lines := 0.0
	reach := region.Micron(0)
	m.load = make([]int, m.n)
	hatch := region.Hatch{Angle: supportOff * degree, Pitch: m.w}
	m.each(m.n, func(i int) { m.load[i] = corners(m.whole[i]) + spansOf(m.whole[i], hatch)/8 })
	for i, r := range m.whole {
		if n := corners(r); n > maxPoints {
			return say.Errorf("the outline of layer %d has %.1f million points, more than %d million: choose a file with fewer facets", i+1, float64(n)/1e6, maxPoints>>20)
		}
		b := r.Bounds()
		x, y := float64(b.Max.X-b.Min.X), float64(b.Max.Y-b.Min.Y)
		lines += 4 * (x + y) / float64(m.w)
		m.span = max(m.span, b.Max.X-b.Min.X, b.Max.Y-b.Min.Y)
		reach = max(reach, b.Max.X, -b.Min.X, b.Max.Y, -b.Min.Y)
		if m.way.Pattern == printer.Curve && m.spacing > 0 && x*y/float64(m.spacing)/float64(m.spacing) > maxCells {
			return say.Errorf("the space-filling curve would have more than %d cells in a layer: choose another pattern or a lower density", maxCells)
		}
	}
	if lines > maxLines {
		return say.Errorf("the plan would have about %.0f million lines, more than %d million: choose a wider bead, higher layers or a smaller part", lines/1e6, maxLines/1_000_000)
	}
	if m.spacing > 0 {
		// The hatch is turned, so a corner reaches √2 as far.
		for m.curveHalf = 1; region.Micron(m.curveHalf)*m.spacing < 3*reach/2+m.spacing; {
			m.curveHalf *= 2
		}
	}
	return nil
}
