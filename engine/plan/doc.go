// Package plan turns layers into beads: shells, solid layers, infill,
// supports, base and purge, in the order they are laid, with the travel between.
//
// It holds no time and no price. A bead of width w laid in a layer of height h
// deposits w·h per millimetre, so beads side by side at pitch w fill the layer
// exactly and the volume deposited at 100 % density is the volume of the part.
//
// Shapes are settled by polygons where an outline is the bead (shells, outlines
// of supports) and by spans along the lines of a hatch where a line is the bead
// (solid layers, infill, where supports stand): an interval is already a bead,
// and its boolean is a merge. See make.go for the order of work, and the top of
// each file for its part of it.
package plan
