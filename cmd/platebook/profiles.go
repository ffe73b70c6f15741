package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"text/tabwriter"

	"platebook/engine/printer"
	"platebook/engine/quote"
)

// profilesCommand lists what there is, or shows one profile as the TOML a
// library would change.
type profilesCommand struct {
	Kind     string   `arg:"" optional:"" enum:"printer,material,way,tariff,rules," default:"" help:"printer, material, way, tariff or rules; all are listed unless one is named."`
	ID       string   `arg:"" optional:"" help:"Which one to show."`
	Profiles []string `help:"TOML files of the library's own profiles, laid over those built in." placeholder:"FILE" type:"path"`
}

func (c *profilesCommand) Run(s *streams) error {
	p, err := loadProfiles(c.Profiles)
	if err != nil {
		return err
	}
	switch {
	case c.Kind == "rules":
		return show(s.out)(p.Rules.Show())
	case c.Kind == "":
		return listProfiles(s.out, p)
	case c.ID == "":
		return fmt.Errorf("say which %s to show; `platebook profiles` lists them", c.Kind)
	}
	switch c.Kind {
	case "printer":
		v, err := p.Printer(c.ID)
		if err != nil {
			return err
		}
		return show(s.out)(printer.Show(v))
	case "material":
		v, err := p.Material(c.ID)
		if err != nil {
			return err
		}
		return show(s.out)(printer.Show(v))
	case "way":
		v, err := p.Way(c.ID)
		if err != nil {
			return err
		}
		return show(s.out)(printer.Show(v))
	case "tariff":
		v, err := p.Tariff(c.ID)
		if err != nil {
			return err
		}
		return show(s.out)(v.Show())
	}
	return errors.New("unknown kind of profile " + c.Kind)
}

func loadProfiles(files []string) (*quote.Profiles, error) {
	p := quote.Builtin()
	for _, name := range files {
		text, err := readProfile(name)
		if err != nil {
			return nil, err
		}
		if err := p.Merge(text, filepath.Base(name)); err != nil {
			return nil, err
		}
	}
	return p, nil
}

func show(w io.Writer) func([]byte, error) error {
	return func(text []byte, err error) error {
		if err == nil {
			_, err = w.Write(text)
		}
		return err
	}
}

func listProfiles(w io.Writer, p *quote.Profiles) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, v := range p.Printers {
		fmt.Fprintf(t, "printer\t%s\t%s, %g × %g × %g mm, %s\n", v.ID, v.Name, v.Volume[0], v.Volume[1], v.Volume[2], plural(v.Tools, "material at a time", "materials at a time"))
	}
	for _, v := range p.Materials {
		fmt.Fprintf(t, "material\t%s\t%s, %g g/cm³\n", v.ID, v.Name, v.Density)
	}
	for _, v := range p.Ways {
		fmt.Fprintf(t, "way\t%s\t%s, %g mm layers, %s, %g %% infill\n", v.ID, v.Name, v.LayerHeight, plural(v.Shells, "shell"), v.Infill)
	}
	for _, v := range p.Tariffs() {
		fmt.Fprintf(t, "tariff\t%s\t%s, in %s\n", v.ID, v.Name, v.Currency)
	}
	longest, err := p.Rules.LongestPrint.MarshalText()
	if err != nil {
		return err
	}
	fmt.Fprintf(t, "rules\t\tlongest print %s, on %s, by the tariff of %s\n", longest, p.Rules.Printer, p.Rules.Tariff)
	return t.Flush()
}
