// Package findings says what will go wrong with a print, in words a librarian
// can pass on. Each finding has a severity (note, ask the patron, stops the
// print), the numbers behind it, and the place in the model it points at.
package findings
