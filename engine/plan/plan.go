package plan

import (
	"platebook/engine/region"
	"platebook/engine/slice"
)

// Kind says what a path is for.
type Kind uint8

const (
	OuterShell Kind = iota
	InnerShell
	ThinWall // a single bead, narrower or wider than nominal, where shells do not fit
	Solid
	Infill
	Support
	SupportInterface
	Base
	Purge
	Kinds // number of kinds
)

// Path is a line of beads laid without stopping. The head travels from the end
// of one path to the start of the next.
type Path struct {
	Kind   Kind
	Tool   uint8         // index of the material
	Closed bool          // the last point joins the first; the path ends where it starts
	Width  region.Micron // bead width; the cross-section is Width × layer height
	Speed  float64       // mm/s asked for; motion may not reach it
	Points []region.Point
}

// Layer is what is laid at one height, in order. A base raft's layers come first.
type Layer struct {
	Bottom, Top float64 // mm above the platform
	Paths       []Path
}

// Part is one colour part of what is printed: its layers and the tool that lays it.
type Part struct {
	Layers []slice.Layer
	Tool   uint8
}

// Plan is a whole plate, in order.
type Plan struct {
	Layers []Layer
	// Volume is what is deposited, mm³, by tool and kind: the sum of
	// Width × layer height × length over the paths.
	Volume [][Kinds]float64
	// Extent bounds every path, base and supports included.
	Min, Max region.Point
	// ThinWall is, in mm³ over all layers, the part of the model narrower than
	// a bead; Lost is the part of that too thin to lay at all; SingleWall is
	// the part at least one bead wide but not two.
	ThinWall, Lost, SingleWall float64
	// OverhangArea is the area, mm² on the slant, of faces beyond the support
	// angle, and SupportSpace the volume below them, mm³, before gaps are taken
	// off. Both are known even if the way has no supports.
	OverhangArea, SupportSpace float64
	// Bridges counts places laid on air from one side to another, which need
	// no support, and BridgeArea is their area, mm².
	Bridges    int
	BridgeArea float64
}

// Volume returns what the path deposits in a layer of the given height, mm³.
func (p *Path) Volume(height float64) float64 {
	return float64(float64(mm(p.Width)*height) * pathLength(p.Points, p.Closed))
}

// Deposited returns all that a tool deposits, mm³; 0 for a tool not used.
func (p *Plan) Deposited(tool int) float64 {
	if tool < 0 || tool >= len(p.Volume) {
		return 0
	}
	v := 0.0
	for _, x := range p.Volume[tool] {
		v += x
	}
	return v
}
