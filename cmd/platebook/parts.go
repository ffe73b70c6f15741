package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"text/tabwriter"

	"platebook/desk/demo"
	"platebook/engine/picture"
	"platebook/engine/quote"
)

// partsCommand runs the engine on the post of an invented library.
type partsCommand struct {
	Out string `help:"Folder for the files, notes and pictures." default:"parts" type:"path"`
}

func (c *partsCommand) Run(s *streams) error {
	if err := os.MkdirAll(c.Out, 0o755); err != nil {
		return err
	}
	fmt.Fprint(s.out, "Larkmere Libraries is invented. This is what came in the post.\n\n")
	t := tabwriter.NewWriter(s.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(t, "file\tmm\tlayers\ttime\tgrams\tprice\tverdict")
	for _, p := range demo.Parts() {
		a, err := c.one(s, p)
		if err != nil {
			return fmt.Errorf("%s: %w", p.File, err)
		}
		layers, time, grams, price := "", "", "", ""
		if f := a.Figures; f != nil {
			layers, time, price = fmt.Sprint(f.Layers), duration(f.TimeS), f.Price.Currency+" "+f.Price.Total.Number()
			total := 0.0
			for _, m := range sorted(f.MassG) {
				total += f.MassG[m]
			}
			grams = number(total, 1)
		}
		mm := fmt.Sprintf("%s × %s × %s", sides(a.SizeMM[0]), sides(a.SizeMM[1]), sides(a.SizeMM[2]))
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\t%s\t%s\n", p.File, mm, layers, time, grams, price, verdict(a))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(s.out, "\nFiles, notes and pictures are in %s: for each part the patron's file, NAME.txt\n(the note on it) and NAME.png (the picture).\n", c.Out)
	return nil
}

// sides is a length for the table: whole mm, but for small parts.
func sides(mm float64) string {
	if mm < 10 {
		return number(mm, 1)
	}
	return number(mm, 0)
}

// one writes the part's file, quotes it as staff would, and keeps note and picture.
func (c *partsCommand) one(s *streams, p demo.Part) (*quote.Answer, error) {
	file := filepath.Join(c.Out, p.File)
	var b bytes.Buffer
	if err := p.Write(&b); err != nil {
		return nil, err
	}
	if err := os.WriteFile(file, b.Bytes(), 0o644); err != nil {
		return nil, err
	}
	o := options{Copies: p.Copies, Printer: p.Printer}
	ask, err := o.ask()
	if err != nil {
		return nil, err
	}
	progress := newProgress(s.err)
	defer progress.done()
	ask.Progress = progress.say
	a, err := answerFor(ask, []string{file}, quote.Quote)
	if err != nil {
		return nil, err
	}
	var text bytes.Buffer
	fmt.Fprintf(&text, "The patron writes: %q\n\n", p.Wish)
	note(&text, a)
	base := file[:len(file)-len(filepath.Ext(file))]
	if err := os.WriteFile(base+".txt", text.Bytes(), 0o644); err != nil {
		return nil, err
	}
	usual := func(w io.Writer, s picture.Scene, o picture.Options) error {
		return picture.Draw(w, s, picture.Usual(), o)
	}
	return a, drawTo(base+".png", a, ask, pixels{}, usual)
}
