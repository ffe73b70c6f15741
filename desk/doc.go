// Package desk is the ground floor of the wing that serves people: what a
// request, a quote, a run, a spool and an outcome are, what may follow what,
// and who may do it.
//
// A call on Desk is one thing a person (or the clock) does. It checks who may,
// changes rows in one transaction, writes the history line beside them, and
// only then does anyone hear of it. What a room above must bring along (a
// store, a place for files, a clock) stands here as an interface.
//
// It computes nothing of geometry: for that it asks the engine. It knows no
// SQL, no HTML and no clock of its own.
package desk
