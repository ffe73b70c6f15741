package mesh

import "math"

// Vec is a point or a direction in millimetres: x, y, z.
type Vec [3]float64

func (a Vec) Add(b Vec) Vec { return Vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a Vec) Sub(b Vec) Vec { return Vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }

// Scale returns s·a. The products are rounded, so that no processor fuses them
// with what they are added to.
func (a Vec) Scale(s float64) Vec {
	return Vec{float64(a[0] * s), float64(a[1] * s), float64(a[2] * s)}
}

func (a Vec) Dot(b Vec) float64 { return float64(a[0]*b[0]) + float64(a[1]*b[1]) + float64(a[2]*b[2]) }
func (a Vec) Len() float64      { return math.Sqrt(a.Dot(a)) }
func (a Vec) Cross(b Vec) Vec {
	return Vec{
		float64(a[1]*b[2]) - float64(a[2]*b[1]),
		float64(a[2]*b[0]) - float64(a[0]*b[2]),
		float64(a[0]*b[1]) - float64(a[1]*b[0]),
	}
}

// Mesh is an indexed triangle surface. The zero Mesh is empty and usable.
type Mesh struct {
	V []Vec      // vertices, mm
	F [][3]int32 // facets: indices into V, counter-clockwise from outside
	// Colour gives each facet its colour part, an index into
	// Model.ColourParts; nil when the whole mesh is colour part 0.
	Colour []uint8
}

// Box is an axis-aligned bounding box in mm. The box of an empty mesh is the zero Box.
type Box struct{ Min, Max Vec }

// Size returns the edge lengths of the box in mm.
func (b Box) Size() Vec { return b.Max.Sub(b.Min) }
