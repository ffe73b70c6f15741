// Package program builds the real program for tests, without looking for
// races, whatever the tests themselves are built with. What is computed of a
// model is computed in a process of its own, with one thread, and takes ten
// times as long where races are looked for; there are none to find.
package program
