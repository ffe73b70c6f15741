package main

import "errors"

// demoCommand opens the desk of Larkmere Libraries.
type demoCommand struct{}

func (*demoCommand) Run(s *streams) error { return errors.New("the demonstration desk is being built") }
