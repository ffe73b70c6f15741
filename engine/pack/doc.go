// Package pack lays parts out on plates: which part goes on which plate, where,
// and how far turned about the vertical.
//
// It holds footprints as true outlines, holes included, so a part may lie in
// another's bay or ring; the clearance between them; and the search for few
// plates. Nothing of meshes, materials or printers enters: what may share a
// plate is a word (Group), and how long a plate takes is a function the caller
// brings along.
//
// The idea: whether two footprints clash depends only on how far apart they lie,
// so the clashing distances of two shapes are worked out once, as runs of cells,
// and laying out thousands of plates is little more than setting bits.
package pack
