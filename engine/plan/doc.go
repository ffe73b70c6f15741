// Package plan turns layers into beads: shells, solid layers, infill,
// supports, base and purge, in the order they are laid, with the travel between.
//
// It holds no time and no price. A bead of width w laid in a layer of height h
// deposits w·h per millimetre, so beads side by side at pitch w fill the layer
// exactly and the volume deposited at 100 % density is the volume of the part.
package plan
