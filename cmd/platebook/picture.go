package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"strings"

	"platebook/engine/picture"
	"platebook/engine/quote"
)

// pictureCommand draws one print as it would stand on the platform.
type pictureCommand struct {
	options
	Out  string    `short:"o" required:"" help:"The PNG to write." placeholder:"PNG" type:"path"`
	From direction `help:"Where to look from: degrees round from the front, and degrees down." default:"30,45" placeholder:"ROUND,DOWN"`
	Size pixels    `help:"Size of the picture; 1200x900, or 1600x1100 for six sides, unless said." placeholder:"WIDTHxHEIGHT"`
	Six  bool      `name:"six-sides" help:"All six sides on one sheet, for judging what the part is."`
	With bool      `name:"with-supports" help:"Plan the print, and show the room its supports take."`
}

type direction picture.View

func (d *direction) UnmarshalText(text []byte) error {
	round, down, ok := strings.Cut(string(text), ",")
	a, err1 := strconv.ParseFloat(strings.TrimSpace(round), 64)
	e, err2 := strconv.ParseFloat(strings.TrimSpace(down), 64)
	if !ok || err1 != nil || err2 != nil {
		return fmt.Errorf("%q is not a direction: write it like 30,45", text)
	}
	*d = direction{Azimuth: a, Elevation: e}
	return nil
}

type pixels [2]int

func (p *pixels) UnmarshalText(text []byte) error {
	w, h, ok := strings.Cut(string(text), "x")
	a, err1 := strconv.Atoi(w)
	b, err2 := strconv.Atoi(h)
	if !ok || err1 != nil || err2 != nil {
		return fmt.Errorf("%q is not a size: write it like 1200x900", text)
	}
	*p = pixels{a, b}
	return nil
}

func (c *pictureCommand) Run(s *streams) error {
	if len(c.Files) > 1 && !c.Together {
		return errors.New("a picture is of one print: give one file, or --together for the colour parts of one")
	}
	ask, err := c.ask()
	if err != nil {
		return err
	}
	p := newProgress(s.err)
	defer p.done()
	ask.Progress = p.say
	look := quote.Check
	if c.With {
		look = quote.Quote
	}
	a, err := answerFor(ask, c.Files, look)
	if err != nil {
		return err
	}
	if a.Solid == nil {
		note(s.err, a)
		return errStopped
	}
	draw := func(w io.Writer, s picture.Scene, o picture.Options) error {
		return picture.Draw(w, s, picture.View(c.From), o)
	}
	if c.Six {
		draw = picture.Sheet
	}
	if err := drawTo(c.Out, a, ask, c.Size, draw); err != nil {
		return err
	}
	if c.JSON {
		if err := c.write(s)(a); err != nil {
			return err
		}
	}
	if !a.Printable {
		return errStopped
	}
	return nil
}

// drawTo draws an answer into a file. The file is written whole or not at all.
func drawTo(path string, a *quote.Answer, ask quote.Ask, size pixels, draw func(io.Writer, picture.Scene, picture.Options) error) error {
	if a.Solid == nil {
		return nil
	}
	var b bytes.Buffer
	o := picture.Options{Width: size[0], Height: size[1], Workers: ask.Workers}
	if err := draw(&b, quote.Scene(&ask, a), o); err != nil {
		return err
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}
