//go:build race

package program

// Raced says whether this program looks for races.
const Raced = true
