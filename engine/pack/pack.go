package pack

import (
	"math"

	"platebook/engine/region"
)

// An Item is one part to lay out.
type Item struct {
	ID string // settles the order of equal parts; best unique
	// Outline is the footprint in a frame of the part's own: everything of the
	// part, its supports and its base, seen from above.
	Outline region.Region
	// Group is what parts on one plate must agree in: material, layer height, …
	Group  string
	Height region.Micron // 0 fits every platform
	// Turns is how many equal steps a full turn has in which the part may be
	// spun; 0 and 1 leave it as it stands, 4 are quarter turns. Of more than
	// 64 as many are tried, evenly spread, and more if it fits in none of them.
	Turns int
}

// A Platform is what a plate has room for.
type Platform struct {
	Width, Depth region.Micron // along x and y; its corner is at (0, 0)
	Height       region.Micron // of the build volume; 0 is any
	Margin       region.Micron // kept free along all four sides
	Clearance    region.Micron // kept free between two parts
}

// Options says what to pack for.
type Options struct {
	Platform Platform
	// Longest is what one plate may take, s; 0 is no limit.
	Longest float64
	// Time returns what a plate with these items (indices, ascending) takes, s.
	// It must not fall as items are added, nor keep the slice, and should be
	// quick: it is asked at every step. Without it there is no limit.
	Time func(items []int) float64
	// Grid is the step in which parts are placed and their outlines rounded
	// outward; 0 is 0.5 mm, or a 600th of a platform of more than 300 mm. It is
	// coarsened to cut a platform into 2048 steps at most, and for many different
	// parts, of which fewer turns are tried as well.
	Grid region.Micron
	// Work bounds the search for fewer plates, in steps of a few nanoseconds;
	// 0 is DefaultWork, less than 1 goes without search. It counts work, not
	// time: the answer is the same everywhere.
	Work int64

	turns int // most turns tried of a part; set by afford
}

// DefaultWork is the bound on the search if none is given.
const DefaultWork = 100_000_000

// A Placement is where an item lies: its outline turned counter-clockwise by
// Angle about the origin of its own frame, then moved by (X, Y).
type Placement struct {
	Item  int // index into the items given
	X, Y  region.Micron
	Turn  int     // steps, of Item.Turns
	Angle float64 // radians: 2π·Turn / Item.Turns
}

// Of returns the outline of it as placed.
func (p Placement) Of(it Item) region.Region {
	return it.Outline.Turn(p.Angle).Translate(p.X, p.Y)
}

// angle returns step of turns equal steps in radians.
func angle(step, turns int) float64 {
	if step == 0 {
		return 0
	}
	return float64(2*math.Pi*float64(step)) / float64(turns)
}

// A Plate is parts laid out together on one build platform.
type Plate struct {
	Group  string
	Placed []Placement // by item
	Time   float64     // s, if Options.Longest is set
}

// Unplaced is an item that no plate can hold, and why: a sentence that begins
// after the part's name.
type Unplaced struct {
	Item   int
	Reason string
}

// Pack lays items out on as few plates as it finds. Plates are ordered by
// group, and what lies on a plate is moved to its middle.
// The answer does not depend on the order of the items so long as those of equal
// outline have different IDs, nor on the machine.
func Pack(items []Item, o Options) ([]Plate, []Unplaced) {
	o = o.sane()
	o = o.afford(items, 2*max(o.Platform.Width, o.Platform.Depth))
	fit, unplaced := sift(items, o)
	var plates []Plate
	for len(fit) > 0 {
		n := 1
		for n < len(fit) && items[fit[n].item].Group == items[fit[0].item].Group {
			n++
		}
		s := newSearch(items, fit[:n], o)
		s.fewest()
		laid, left := s.plates(math.MaxInt, nil)
		plates = append(plates, laid...)
		for _, i := range left {
			unplaced = append(unplaced, Unplaced{i, "was within the longest print allowed when first asked and later was not: its time must not change; compute it again"})
		}
		fit = fit[n:]
	}
	return plates, unplaced
}

// sane returns o with every number in its range.
func (o Options) sane() Options {
	p := &o.Platform
	for _, m := range []*region.Micron{&p.Width, &p.Depth, &p.Height, &p.Margin, &p.Clearance} {
		*m = max(0, min(*m, region.Limit/4))
	}
	o.Grid = max(0, min(o.Grid, region.Limit/4))
	if longer := max(p.Width, p.Depth, p.Clearance); o.Grid == 0 {
		o.Grid = max(500, longer/600)
	} else {
		o.Grid = max(4, longer/mostCells+1, o.Grid)
	}
	if o.Time == nil || o.Longest == 0 {
		o.Longest, o.Time = 0, nil
	}
	if o.Work == 0 {
		o.Work = DefaultWork
	}
	return o
}

const mostCells = 2048 // along a platform

// room returns what a part may be wide and deep.
func (p Platform) room() (w, d region.Micron) {
	return p.Width - 2*p.Margin, p.Depth - 2*p.Margin
}
