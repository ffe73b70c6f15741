// Package bench holds the figures that matter of the whole program, measured
// from outside: the built program against other programs on the same file, in
// one run. It has tests only; `make bench` runs them.
package bench
