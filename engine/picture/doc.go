// Package picture draws a part: a shaded PNG from any direction, with what
// the findings point at marked on it, in a palette of our own that is safe for
// colour-blind eyes.
package picture
