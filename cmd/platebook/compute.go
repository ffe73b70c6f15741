package main

import (
	"os"

	"platebook/desk/work"
)

// computeCommand computes one task of background work in a process of its own.
// The desk starts it; a person has no use for it.
type computeCommand struct{}

func (computeCommand) Run(s *streams) error {
	if code := work.Compute(os.Stdin, s.out); code != 0 {
		os.Exit(code) // its words are for the desk that started it
	}
	return nil
}
