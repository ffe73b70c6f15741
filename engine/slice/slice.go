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

// Cut slices m, whose lowest point of interest is z = 0 (the platform), into
// layers of height mm, the lowest first mm high. Facets below z = 0 are cut
// off. maxGap is the widest gap in mm that is closed in contours of open
// meshes. Heights that are not positive, or would give more than MaxLayers
// layers, return an error.
func Cut(m *mesh.Mesh, first, height, maxGap float64) ([]Layer, Report, error) {
	panic("not built yet")
}

var _ = region.Limit
