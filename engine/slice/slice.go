package slice

import (
	"platebook/engine/mesh"
	"platebook/engine/region"
)

// Layer is the section of a solid that one layer deposits.
type Layer struct {
	Bottom, Top float64 // mm above the platform; the plane of the cut is half-way
	Region      region.Region
}

// Report tells what had to be closed to make contours.
type Report struct {
	Gaps      int     // gaps closed with a straight edge
	LongestMM float64 // the longest of them
	Open      int     // contours that could not be closed and were dropped
	OpenMM    float64 // their length
	Layers    int     // layers in which anything of this happened
}

// MaxLayers is the most layers Cut makes.
const MaxLayers = 20000

// Options say how to cut. Lengths are in mm.
type Options struct {
	First   float64 // height of the lowest layer
	Height  float64 // height of every other layer
	MaxGap  float64 // the widest gap closed in contours of open meshes
	Workers int     // how many layers to work on at once; 0: one a core. The result is the same.
}

// Cut slices m, whose lowest point of interest is z = 0 (the platform), into
// layers. Facets below z = 0 are cut off.
func Cut(m *mesh.Mesh, o Options) ([]Layer, Report, error) {
	panic("not built yet")
}

// Plane returns the section of m at z mm. As in Cut, a vertex on the plane is above.
func Plane(m *mesh.Mesh, z float64) (region.Region, Report) {
	panic("not built yet")
}
