package plan

import (
	"platebook/engine/printer"
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
	// ThinWallArea is, in mm³ over all layers, the part of the model narrower
	// than a bead; Lost is the part of that too thin to lay at all.
	ThinWall, Lost float64
	// OverhangArea is the area held up by supports, mm², and OverhangVolume
	// the volume of the space under it that supports stand in, mm³.
	OverhangArea, SupportSpace float64
}

// Make plans parts laid together. Parts given first win where parts overlap.
// Tools are indices into what the caller will weigh; supportTool lays supports.
// workers bounds the cores used; the answer does not depend on it.
func Make(parts []Part, way printer.Way, p printer.Printer, supportTool uint8, workers int) (*Plan, error) {
	panic("not built yet")
}
