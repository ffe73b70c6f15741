// Package region holds exact planar regions on an integer grid of one micron.
//
// It serves two forms of the same thing: polygons, where a contour is the bead
// (shells, support outlines, exact areas), and spans along the lines of a
// hatch, where a line is the bead (solid layers, infill, support fill).
//
// Nothing of layers, printers or meshes enters. Winding numbers (nonzero), not
// contour order, say what is inside. No operation fails or panics on any input:
// coordinates beyond Limit are clamped, and what cannot be a region is empty.
package region
