// Package pose says which way up a part prints best, and how to spin it so
// that it fits the platform.
//
// It holds the candidates (faces of the convex hull, principal axes, the part
// as its file has it), what each one costs in supports, scars, contact and
// height, and the choice among them. No printer, layer or price enters: what a
// pose costs comes in as a function, a quick one for all candidates and a full
// plan for the best few.
//
// The idea: a figure that facets give exactly is taken from facets, and only
// what they cannot tell, what lies under an overhang, is sampled, as a
// correction that is nothing for most parts. So a candidate costs a few looks at
// each facet, and dozens are scored in the time of one plan.
//
// Lengths are mm, angles radians. A pose is a rotation, never a mirror image.
package pose
