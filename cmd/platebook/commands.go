package main

import (
	"platebook/engine/quote"
)

type checkCommand struct{ options }

func (c *checkCommand) Run(s *streams) error { return c.each(s, quote.Check, c.write(s)) }

type quoteCommand struct{ options }

func (c *quoteCommand) Run(s *streams) error { return c.each(s, quote.Quote, c.write(s)) }
