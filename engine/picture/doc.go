// Package picture draws a part: a shaded PNG from any direction, from six
// directions at once, or several ways to print it side by side, with what the
// findings point at marked and supports as ghosts, in a palette of our own that
// is safe for colour-blind eyes.
package picture
