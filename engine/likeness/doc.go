// Package likeness tells whether a shape looks like one seen before: it makes
// a small print of a shape, says how far apart two prints are and in what they
// agree, and finds the nearest among many.
//
// A print does not change when the shape is scaled, turned, moved, cut into
// other facets, or (by much) decimated or roughened. Mirror images have the
// same print but for its hand, so they are found and told apart.
//
// The room never decides. It knows nothing of people, requests or what has
// been declined; staff look at the two shapes and judge.
package likeness
