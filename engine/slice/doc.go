// Package slice turns a solid into layers.
//
// The mesh is cut by horizontal planes half-way up each layer; a vertex that
// lies exactly on a plane counts as above it, everywhere, so contours close.
// Coordinates snap to the micron grid once, here. What is inside is decided by
// nonzero winding, so overlapping bodies, self-intersections and cavities are
// not special cases. Small gaps of open meshes are closed and reported.
package slice
