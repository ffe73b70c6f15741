package work

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"platebook/desk"
	"platebook/engine/quote"
)

// task is one thing to compute. It goes to a process of its own as JSON, so it
// holds everything the answer depends on.
type task struct {
	Kind     desk.JobKind  `json:"kind"`
	Settings desk.Settings `json:"settings"`
	Files    []source      `json:"files"`
	// For ways.
	Plan   desk.Plan `json:"plan"`
	Models []string  `json:"models"` // printer models the library has

	// Out is a folder for what is made; each file in it is named by its hash.
	Out string `json:"out"`
}

// source is a file to look at, as a copy on disk.
type source struct {
	ID   desk.ID `json:"id"`
	Name string  `json:"name"`
	Path string  `json:"path"`
}

// result is what came of a task.
type result struct {
	Checked *desk.Checked `json:"checked,omitempty"`
	Ways    []desk.Way    `json:"ways,omitempty"`
	Basis   desk.Basis    `json:"basis"`
	Made    []desk.Hash   `json:"made,omitempty"` // files in Out
}

// compute does a task. doing, if not nil, hears what it is at.
func compute(t task, doing func(string)) (result, error) {
	c := computing{task: t, doing: doing, made: map[desk.Hash]bool{}}
	var err error
	if c.book, err = desk.Catalogue(t.Settings); err != nil {
		return result{}, err
	}
	var r result
	switch t.Kind {
	case desk.CheckFile:
		r, err = c.check()
	case desk.FindWays:
		r, err = c.ways()
	default:
		err = fmt.Errorf("there is nothing to compute for %q", t.Kind)
	}
	r.Made = c.list
	return r, err
}

// computing is a task being done.
type computing struct {
	task
	doing func(string)
	book  *quote.Profiles
	made  map[desk.Hash]bool
	list  []desk.Hash
	open  []*os.File
}

// say passes on what is being done.
func (c *computing) say(doing string) {
	if c.doing != nil {
		c.doing(doing)
	}
}

// source opens one of the task's files.
func (c *computing) source(id desk.ID) (quote.Source, error) {
	for _, s := range c.Files {
		if s.ID != id {
			continue
		}
		f, err := os.Open(s.Path)
		if err != nil {
			return quote.Source{}, err
		}
		c.open = append(c.open, f)
		info, err := f.Stat()
		if err != nil {
			return quote.Source{}, err
		}
		return quote.Source{Name: s.Name, Bytes: f, Size: info.Size()}, nil
	}
	return quote.Source{}, fmt.Errorf("the plan names file %s, which the request does not have", id)
}

// close closes what source opened.
func (c *computing) close() error {
	var errs []error
	for _, f := range c.open {
		errs = append(errs, f.Close())
	}
	c.open = nil
	return errors.Join(errs...)
}

// keep puts bytes into the folder for what is made.
func (c *computing) keep(b []byte) (desk.Hash, error) {
	h := desk.HashOf(b)
	if c.made[h] {
		return h, nil
	}
	c.made[h] = true
	c.list = append(c.list, h)
	return h, os.WriteFile(filepath.Join(c.Out, string(h)), b, 0o600)
}

// base is what asks of one task have in common: the printer, the materials, the
// way, the tariff and the rules. Empty ids are the library's usual ones.
func (c *computing) base(p desk.Plan) (quote.Ask, error) {
	a := quote.Ask{
		Workers: 1, Tariff: c.Settings.Tariff, OneColour: p.OneColour,
		LongestPrint: c.Settings.Rules.Longest.Seconds(), Progress: c.say,
	}
	usual := c.Settings.Rules.Usual
	var err error
	if a.Printer, err = c.book.Printer(first(p.Printer, usual.Printer, c.book.Rules.Printer)); err != nil {
		return a, err
	}
	materials := p.Materials
	if len(materials) == 0 {
		materials = []string{""}
	}
	for _, id := range materials {
		m, err := c.book.Material(first(id, usual.Material, a.Printer.DefaultMaterial))
		if err != nil {
			return a, err
		}
		a.Materials = append(a.Materials, m)
	}
	if id := first(p.Support, a.Printer.DefaultSupportMaterial); id != "" {
		if a.SupportMaterial, err = c.book.Material(id); err != nil {
			return a, err
		}
	}
	a.Way, err = c.book.Way(first(p.Way, usual.Way, a.Printer.DefaultWay))
	return a, err
}

// first is the first that is not empty.
func first(ids ...string) string {
	for _, id := range ids {
		if id != "" {
			return id
		}
	}
	return ""
}
