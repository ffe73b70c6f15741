// Package motion turns beads into seconds on a given printer.
//
// Time is simulated, not fitted: every bead and every travel goes through a
// two-pass look-ahead under acceleration, with caps at corners and on curves,
// limits of each axis, the flow the nozzle can melt, the least time a layer
// needs, warm-up, changes of layer and tool, and retraction.
package motion
