package picture

import (
	"errors"
	"fmt"
	"image/color"
	"math"

	"platebook/engine/mesh"
)

// View is where the part is looked at from, in degrees. Azimuth 0 stands in
// front, looking along +y with +x to the right, and grows towards +x;
// Elevation 90 looks straight down, 0 from the side, below 0 from beneath.
type View struct{ Azimuth, Elevation float64 }

// Usual is the view of a picture when nobody asks for another: 45° down, a
// little to the right of the front.
func Usual() View { return View{Azimuth: 30, Elevation: 45} }

// Scene is what is drawn. Lengths are millimetres.
type Scene struct {
	Mesh *mesh.Mesh
	// Colours are those of the colour parts, by Mesh.Colour; they are muted to
	// go with the paper. A colour part without one is clay.
	Colours []color.NRGBA
	// Highlight hatches facets, by facet; nil hatches none.
	Highlight []Hatch
	Marks     []Mark
	// Support is drawn as a ghost over the part: what has to hold it up. It may
	// be as simple as a few boxes.
	Support *mesh.Mesh
	// Up, if not nil, is where the file's own up points now that the part is in
	// its pose; a small arrow shows it.
	Up *mesh.Vec
	// Platform is the size of the build platform in x and y. It lies in z = 0
	// with its middle at x = y = 0, and is seen from above only.
	Platform *[2]float64
	// Caption stands at the top left, its first line in bold.
	Caption []string
}

// Hatch says what a facet is hatched for; each kind has its own hatching.
type Hatch uint8

const (
	Plain    Hatch = iota // not hatched
	Overhang              // leaning lines
	Thin                  // crossed lines
	Other                 // level lines
	hatches
)

// Mark points at a place with a numbered tag. Marks of the same number share a
// line of the legend.
type Mark struct {
	At       mesh.Vec
	Number   int
	Severity string // stop, ask or note
	Label    string // for the legend; empty leaves it out
}

// Options say how the picture is made. The picture does not depend on Workers.
type Options struct {
	Width, Height int // pixels; 0 means 1200 by 900, or 1600 by 1100 for several views
	Workers       int // 0 means one
}

// Limits of a picture, in pixels, and of the marks drawn on it.
const (
	leastSide  = 64
	mostSide   = 4096
	mostPixels = 8 << 20
	mostMarks  = 500
)

// mostCoordinate is the farthest a vertex may be from the origin, mm: far
// beyond any printer, and near enough that no sum of squares overflows.
const mostCoordinate = 1e9

// complete checks the options; without a size they get the usual one.
func (o *Options) complete(width, height int) error {
	if o.Width == 0 && o.Height == 0 {
		o.Width, o.Height = width, height
	}
	if o.Width < leastSide || o.Height < leastSide || o.Width > mostSide || o.Height > mostSide || o.Width*o.Height > mostPixels {
		return fmt.Errorf("a picture of %d × %d pixels cannot be drawn: give each side %d to %d, and %d million pixels at most in all",
			o.Width, o.Height, leastSide, mostSide, mostPixels/1_000_000)
	}
	if o.Workers < 0 {
		return fmt.Errorf("%d workers cannot draw; give 1 or more", o.Workers)
	}
	o.Workers = min(max(o.Workers, 1), 64)
	return nil
}

func (v View) check() error {
	if !(math.Abs(v.Azimuth) <= 3600) {
		return fmt.Errorf("an azimuth of %g° cannot be used; give −360 to 360", v.Azimuth)
	}
	if !(math.Abs(v.Elevation) <= 90) {
		return fmt.Errorf("an elevation of %g° cannot be used; give −90 (from beneath) to 90 (straight down)", v.Elevation)
	}
	return nil
}

func finite(v mesh.Vec) bool {
	for _, x := range v {
		if !(math.Abs(x) <= mostCoordinate) {
			return false
		}
	}
	return true
}

// sound says what is wrong with a mesh that cannot be drawn.
func sound(m *mesh.Mesh, what string) error {
	if len(m.F) > math.MaxInt32 || len(m.V) > math.MaxInt32 {
		return fmt.Errorf("the %s has too many facets to draw", what)
	}
	for i, v := range m.V {
		if !finite(v) {
			return fmt.Errorf("vertex %d of the %s is not at a place that can be drawn (%g, %g, %g mm)", i, what, v[0], v[1], v[2])
		}
	}
	n := int32(len(m.V))
	for i, f := range m.F {
		if min(f[0], f[1], f[2]) < 0 || max(f[0], f[1], f[2]) >= n {
			return fmt.Errorf("facet %d of the %s points at a vertex that is not there", i, what)
		}
	}
	return nil
}

func (s *Scene) check() error {
	m := s.Mesh
	if m == nil || len(m.F) == 0 {
		return errors.New("there is nothing to draw: the part has no facets")
	}
	if err := sound(m, "part"); err != nil {
		return err
	}
	if s.Support != nil {
		if err := sound(s.Support, "support"); err != nil {
			return err
		}
	}
	if s.Up != nil && (!finite(*s.Up) || !(s.Up.Len() > 1e-9)) {
		return fmt.Errorf("up in the file is no direction (%g, %g, %g)", s.Up[0], s.Up[1], s.Up[2])
	}
	if m.Colour != nil && len(m.Colour) != len(m.F) {
		return fmt.Errorf("the part has %d facets and %d colours for them; it needs one each", len(m.F), len(m.Colour))
	}
	if s.Highlight != nil && len(s.Highlight) != len(m.F) {
		return fmt.Errorf("the part has %d facets and %d hatchings for them; it needs one each", len(m.F), len(s.Highlight))
	}
	for i, h := range s.Highlight {
		if h >= hatches {
			return fmt.Errorf("facet %d has hatching %d, and there are %d", i, h, hatches-1)
		}
	}
	if len(s.Marks) > mostMarks {
		return fmt.Errorf("%d marks are too many for a picture; give %d at most", len(s.Marks), mostMarks)
	}
	for _, k := range s.Marks {
		if !finite(k.At) {
			return fmt.Errorf("mark %d is not at a place that can be drawn", k.Number)
		}
		if k.Number < 0 || k.Number > 999 {
			return fmt.Errorf("mark %d cannot be drawn; number marks 0 to 999", k.Number)
		}
	}
	if p := s.Platform; p != nil && (!(p[0] > 0 && p[0] <= 1e5) || !(p[1] > 0 && p[1] <= 1e5)) {
		return fmt.Errorf("a build platform of %g × %g mm cannot be drawn", p[0], p[1])
	}
	return nil
}
