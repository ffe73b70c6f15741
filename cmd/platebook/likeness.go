package main

import (
	"encoding/json"
	"fmt"
	"io"
	"path/filepath"

	"platebook/engine/quote"
)

// likenessCommand shows which of some files a file is like. It decides nothing.
type likenessCommand struct {
	File  string   `arg:"" help:"The file that came in." type:"path"`
	Among []string `arg:"" help:"Files to hold it against." type:"path"`
	Most  int      `help:"How many to show." default:"5"`
	JSON  bool     `name:"json" help:"One JSON object a line for each look-alike."`
}

func (c *likenessCommand) Run(s *streams) error {
	shape := func(name string) (quote.Source, func(), error) {
		var a quote.Ask
		done, err := open(&a, []string{name})
		if err != nil {
			return quote.Source{}, nil, err
		}
		return a.Sources[0], done, nil
	}
	src, done, err := shape(c.File)
	if err != nil {
		return err
	}
	defer done()
	var among []quote.Source
	for _, name := range c.Among {
		src, done, err := shape(name)
		if err != nil {
			return err
		}
		defer done()
		among = append(among, src)
	}
	found, passed, err := quote.LooksLike(src, among, c.Most)
	if err != nil {
		return err
	}
	for _, p := range passed {
		fmt.Fprintln(s.err, "passed over:", plain(p))
	}
	for _, l := range found {
		if c.JSON {
			e := json.NewEncoder(s.out)
			e.SetEscapeHTML(false)
			if err := e.Encode(l); err != nil {
				return err
			}
			continue
		}
		likeNote(s.out, filepath.Base(c.File), l)
	}
	return nil
}

func likeNote(w io.Writer, file string, l quote.LookAlike) {
	fmt.Fprintf(w, "%s: %s (%s apart, of 1)\n", plain(l.File), plain(l.Says), number(l.Apart, 3))
}
