package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"platebook/engine/picture"
	"platebook/engine/quote"
)

// packCommand lays the copies of several files out on plates.
type packCommand struct {
	options
	Draw string `help:"Folder for a picture of each plate, from above." placeholder:"DIR" type:"path"`
}

func (c *packCommand) Run(s *streams) error {
	if c.Together {
		return errors.New("--together is for one print; give the files to be packed by themselves")
	}
	base, err := c.ask()
	if err != nil {
		return err
	}
	p := newProgress(s.err)
	defer p.done()
	base.Progress = p.say
	var asks []quote.Ask
	for _, name := range c.Files {
		a := base
		closeFiles, err := open(&a, []string{name})
		if err != nil {
			return err
		}
		defer closeFiles()
		asks = append(asks, a)
	}
	plates, err := quote.FindPlates(asks)
	if err != nil {
		return err
	}
	p.done()
	if c.Draw != "" {
		if err := drawPlates(c.Draw, plates, base); err != nil {
			return err
		}
	}
	if c.JSON {
		e := json.NewEncoder(s.out)
		e.SetEscapeHTML(false)
		err = e.Encode(plates)
	} else {
		platesNote(s.out, plates)
	}
	if err == nil && len(plates.Unplaced) > 0 {
		err = errStopped
	}
	return err
}

func platesNote(w io.Writer, p *quote.Plates) {
	fmt.Fprintf(w, "%s. Places are from the middle of the platform to the middle of the part.\n\n", plural(len(p.Plates), "plate"))
	for i, plate := range p.Plates {
		fmt.Fprintf(w, "Plate %d: %s, %s, %s", i+1, plural(len(plate.Parts), "part"), duration(plate.TimeS), plural(plate.Layers, "layer"))
		for _, id := range sorted(plate.MassG) {
			fmt.Fprintf(w, ", %s g of %s", number(plate.MassG[id], 1), id)
		}
		fmt.Fprintln(w)
		for _, at := range plate.Parts {
			fmt.Fprintf(w, "  %s at %s, %s mm", plain(at.File), number(at.XMM, 1), number(at.YMM, 1))
			if at.TurnDeg != 0 {
				fmt.Fprintf(w, ", turned by %s°", number(at.TurnDeg, 0))
			}
			fmt.Fprintln(w)
		}
		fmt.Fprintln(w)
	}
	for _, r := range p.Requests {
		if r.Price == nil {
			continue
		}
		fmt.Fprintf(w, "%s: %s on %s, %s %s\n", plain(r.File), plural(r.Copies, "copy", "copies"), plural(r.Prints, "plate"), r.Price.Currency, r.Price.Total.Number())
	}
	fmt.Fprintln(w)
	list(w, "Not placed", p.Unplaced)
}

func drawPlates(dir string, p *quote.Plates, a quote.Ask) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for i, plate := range p.Plates {
		f, err := os.Create(filepath.Join(dir, fmt.Sprintf("plate-%d.png", i+1)))
		if err != nil {
			return err
		}
		s := picture.Scene{
			Mesh: plate.Solid, Platform: &[2]float64{a.Printer.Volume[0], a.Printer.Volume[1]},
			Caption: []string{fmt.Sprintf("Plate %d", i+1), fmt.Sprintf("%s, %s", plural(len(plate.Parts), "part"), duration(plate.TimeS))},
		}
		err = errors.Join(picture.Draw(f, s, picture.View{Elevation: 90}, picture.Options{Workers: a.Workers}), f.Close())
		if err != nil {
			return err
		}
	}
	return nil
}
