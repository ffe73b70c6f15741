package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strconv"
	"time"

	"platebook/engine/picture"
	"platebook/engine/quote"
)

// waysCommand offers the few ways worth offering for each print.
type waysCommand struct {
	options
	Largest bool    `help:"As big as it goes."`
	Budget  string  `help:"The most it may cost, in the tariff's currency." placeholder:"AMOUNT"`
	Within  *length `help:"Time there is for all copies together, such as 20h." placeholder:"TIME"`
	Draw    string  `help:"A PNG of the ways side by side; for one print." placeholder:"PNG" type:"path"`
}

func (c *waysCommand) Run(s *streams) error {
	book, err := loadProfiles(c.Profiles)
	if err != nil {
		return err
	}
	wish := quote.Wish{Largest: c.Largest, Ways: book.Ways, Elsewhere: book.Printers}
	if c.Budget != "" {
		v, err := strconv.ParseFloat(c.Budget, 64)
		if err != nil || !(v > 0 && v < 1e9) {
			return fmt.Errorf("--budget must be an amount such as 5.00, not %q", c.Budget)
		}
		wish.Budget = v
	}
	if c.Within != nil {
		wish.Within = time.Duration(*c.Within).Seconds()
	}
	if c.Largest && (c.Scale != nil || c.Wide != nil || c.Deep != nil || c.Tall != nil) {
		return errors.New("--largest and a wanted size cannot both be kept to: give one of them")
	}
	if c.Draw != "" && len(c.Files) > 1 && !c.Together {
		return errors.New("--draw is of one print: give one file, or --together for the colour parts of one")
	}
	var found *quote.Ways
	answer := func(a quote.Ask) (*quote.Answer, error) {
		var err error
		if found, err = quote.FindWays(a, wish); err != nil {
			return nil, err
		}
		if c.Draw != "" {
			err = drawWays(c.Draw, found, a)
		}
		return found.Answer, err
	}
	// What counts is whether there is a way: what stops the part at the size asked
	// for may be what the ways mend.
	none := false
	err = c.each(s, answer, func(*quote.Answer) error {
		none = none || len(found.Offers) == 0
		if c.JSON {
			e := json.NewEncoder(s.out)
			e.SetEscapeHTML(false)
			return e.Encode(found)
		}
		waysNote(s.out, found)
		return nil
	})
	switch {
	case err != nil && !errors.Is(err, errStopped):
		return err
	case none:
		return errStopped
	}
	return nil
}

// drawWays draws the ways side by side, if there are any.
func drawWays(path string, ways *quote.Ways, a quote.Ask) error {
	if len(ways.Offers) == 0 {
		return nil
	}
	var sides []picture.Way
	for i := range ways.Offers {
		sides = append(sides, ways.Offers[i].Side(&a, ways.ColourParts))
	}
	var b bytes.Buffer
	caption := []string{plain(ways.File), "Ways to print it, all drawn to the same scale."}
	if err := picture.SideBySide(&b, caption, sides, picture.Usual(), picture.Options{Workers: a.Workers}); err != nil {
		return err
	}
	return os.WriteFile(path, b.Bytes(), 0o644)
}

// waysNote writes the ways as a note.
func waysNote(w io.Writer, ways *quote.Ways) {
	note(w, ways.Answer)
	for _, o := range ways.Offers {
		f := o.Figures
		grams := 0.0
		for _, id := range sorted(f.MassG) {
			grams += f.MassG[id]
		}
		copies := ""
		if f.Copies > 1 {
			copies = fmt.Sprintf("%d copies of ", f.Copies)
		}
		fmt.Fprintf(w, "%s: %s%s × %s × %s mm, %s, %s g, %s %s\n", title(o.ID), copies,
			number(o.SizeMM[0], 1), number(o.SizeMM[1], 1), number(o.SizeMM[2], 1),
			duration(f.TimeS), number(grams, 1), f.Price.Currency, f.Price.Total.Number())
		para(w, "  ", o.Says)
		supports := "no supports"
		if f.SupportsG >= 0.05 {
			supports = fmt.Sprintf("%s g of %s supports", number(f.SupportsG, 1), o.Settings.Supports)
		}
		para(w, "  ", fmt.Sprintf("%s of %s mm, %s %% infill, %s, %s.", plural(f.Layers, "layer"),
			number(o.Settings.LayerHeightMM, 3), number(o.Settings.InfillPercent, 0), plural(o.Settings.Shells, "shell"), supports))
		para(w, "  ", o.Pose)
		fmt.Fprintln(w)
	}
	list(w, "Not offered", ways.Without)
	list(w, "What would do", ways.Instead)
}

func list(w io.Writer, title string, lines []string) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintln(w, title)
	for _, l := range lines {
		para(w, "  – ", l)
	}
	fmt.Fprintln(w)
}

func title(id string) string {
	return map[string]string{
		"sensible": "Sensible", "cheaper": "Cheaper", "finer": "Finer", "largest": "Largest", "soluble": "Soluble supports",
	}[id]
}
