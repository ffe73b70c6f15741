// Package engine is the wing that computes. It knows no clock, no disk, no
// network and no people: readers go in, values come out. Enter by engine/quote.
package engine
