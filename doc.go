// Package platebook is the root of the house; see docs/house.md. The program
// is cmd/platebook.
package platebook
