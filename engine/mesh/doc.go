// Package mesh holds triangles: it reads them from a patron's file (STL, 3MF,
// OBJ), welds, inspects, heals and measures them.
//
// It knows nothing of printers, layers or people. Coordinates are millimetres
// once a file is read; facets are counter-clockwise seen from outside. Every
// number in a file is hostile until Read has looked at it.
//
// The idea: a solid is a closed oriented surface. Whatever is not one is
// either healed without guessing, and the healing reported, or reported only.
package mesh
