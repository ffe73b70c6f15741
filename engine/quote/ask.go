package quote

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/tariff"
)

// Source is a file to read: its name as the patron gave it, its bytes, its length.
type Source struct {
	Name  string
	Bytes io.ReaderAt
	Size  int64
}

// Ask is everything an answer depends on. Two equal Asks have equal answers.
type Ask struct {
	// Sources are the files: one, or one for each colour part of a single print.
	Sources []Source
	// Unit overrides the unit of files that do not say theirs; empty judges by size.
	Unit mesh.Unit
	// Scale multiplies the size; 0 means 1.
	Scale float64
	// Target is a wanted size in mm along x, y, z; 0 leaves an axis free. With
	// several given, the part is made as large as fits within all of them: its
	// proportions never change.
	Target mesh.Vec
	// Turn turns the part to the pose that prints best; otherwise it stays as its
	// file has it.
	Turn   bool
	Copies int // 0 means 1
	// OneColour prints all colour parts in the first material. Colours that an
	// OBJ file tells apart are for looks, and always printed in one.
	OneColour bool

	Printer printer.Printer
	// Materials are by colour part; the last serves all further parts.
	Materials       []printer.Material
	SupportMaterial printer.Material // for soluble supports
	Way             printer.Way
	Tariff          tariff.Tariff
	// LongestPrint is the longest one print may take here, s; 0 sets no limit.
	LongestPrint float64

	// Workers bounds the cores used; 0 means one. The answer does not depend on it.
	Workers int
	// Progress, if set, hears what is being done, from the calling goroutine.
	Progress func(doing string)
}

const maxCopies = 1000

// check reports what in the ask itself cannot be answered.
func (a *Ask) check() error {
	if len(a.Sources) == 0 {
		return errors.New("there is no file to look at")
	}
	if len(a.Materials) == 0 {
		return errors.New("no material is given to print with")
	}
	if a.Unit != "" && a.Unit.MM() == 0 {
		return fmt.Errorf("%q is no unit we know", a.Unit)
	}
	if a.Copies < 0 || a.Copies > maxCopies {
		return fmt.Errorf("%d copies cannot be quoted: ask for 1 to %d", a.Copies, maxCopies)
	}
	if s := a.Scale; s != 0 && !(s >= 0.001 && s <= 1000) {
		return fmt.Errorf("a scale of %g cannot be used: give a number from 0.001 to 1000, 1 for the size in the file", s)
	}
	if a.Scale != 0 && a.Target != (mesh.Vec{}) {
		return errors.New("a scale and a wanted size cannot both be kept to: give one of them")
	}
	for i, t := range a.Target {
		if t != 0 && !(t >= 0.1 && t <= 10_000) {
			return fmt.Errorf("a size of %g mm along %c cannot be used: give 0.1 to 10 000 mm", t, "xyz"[i])
		}
	}
	if !(a.LongestPrint >= 0) || math.IsInf(a.LongestPrint, 1) {
		return errors.New("the longest print allowed must be a time, or 0 for no limit")
	}
	return a.checkProfiles()
}

func (a *Ask) checkProfiles() error {
	for _, m := range append(slices.Clone(a.Materials), a.SupportMaterial) {
		if m.ID == "" && a.Way.Supports != printer.Soluble {
			continue
		}
		if err := m.Validate(); err != nil {
			return err
		}
	}
	// On a printer with one tool the finding about two materials says enough.
	if a.Way.Supports == printer.Soluble && a.Printer.Tools > 1 && !a.SupportMaterial.Soluble {
		return fmt.Errorf("%s does not dissolve: choose a soluble material for the supports, such as pva, or breakaway supports", a.SupportMaterial.Name)
	}
	if err := a.Printer.Validate(); err != nil {
		return err
	}
	if err := a.Way.Validate(); err != nil {
		return err
	}
	// A printer with too few tools for soluble supports is a finding, not a wrong ask.
	way := a.Way
	way.Supports = printer.NoSupports
	if err := way.Fits(a.Printer); err != nil {
		return err
	}
	return a.Tariff.Validate()
}

func (a *Ask) copies() int { return max(a.Copies, 1) }

// workers is at least one.
func (a *Ask) workers() int { return max(a.Workers, 1) }

func (a *Ask) say(doing string) {
	if a.Progress != nil {
		a.Progress(doing)
	}
}

// material is what colour part i is laid in.
func (a *Ask) material(i int) printer.Material { return a.Materials[min(i, len(a.Materials)-1)] }

// factor is the scale for a part of the given size.
func (a *Ask) factor(size mesh.Vec) float64 {
	f := a.Scale
	if f == 0 {
		f = 1
	}
	fit := math.Inf(1)
	for i, t := range a.Target {
		if t > 0 && size[i] > 0 {
			fit = min(fit, t/size[i])
		}
	}
	if math.IsInf(fit, 1) {
		return f
	}
	return fit
}
