// Package work does what nobody waits for: it checks files as they come in,
// seeks ways to print them, and has the desk look round by the clock.
//
// Work is a row in the desk's own database, put there in the transaction that
// causes it, so it is neither lost nor done for something that never happened.
// River takes the rows up, tries again after a while what failed, and goes on
// at the next start with what a dead process left. What is computed of a file
// is computed in a process of its own where the program can start one: a
// hostile file can take no more than its time and memory, and the pages stay
// quick. No rule of the desk stands here; those are calls on desk.Desk.
package work
