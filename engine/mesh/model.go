package mesh

import (
	"fmt"
	"image/color"
)

// Format is what kind of file a model came in, as its content shows.
type Format string

const (
	BinarySTL Format = "binary STL"
	ASCIISTL  Format = "ASCII STL"
	ThreeMF   Format = "3MF"
	OBJ       Format = "OBJ"
)

// Model is what one file holds, its coordinates already in millimetres.
type Model struct {
	// Name is the name the file gives its solid or object, printable UTF-8 of
	// at most 80 characters; often empty.
	Name   string
	Format Format
	Facets int // as in the file; polygons count as the facets they were cut into

	// Unit is the unit the file's numbers were taken in. UnitStated says the
	// file itself names it (3MF does); otherwise it was judged by size or given
	// by staff. UnitReason is a sentence for people: how the unit was found and
	// what else it could be. UnitDoubtful asks for a second look.
	Unit         Unit
	UnitStated   bool
	UnitReason   string
	UnitDoubtful bool

	Mesh *Mesh
	// ColourParts are the materials or colours the file tells apart, those in
	// use only; empty if it tells none apart. Mesh.Colour indexes it.
	ColourParts []ColourPart
	// Warnings are sentences about what was odd in the file and yet read.
	Warnings []string
}

// ColourPart is one material or colour of a model.
type ColourPart struct {
	Name   string      // may be empty
	Colour color.NRGBA // the zero value if the file gives none
}

func (m *Model) warn(format string, a ...any) {
	m.Warnings = append(m.Warnings, fmt.Sprintf(format, a...))
}

// Unreadable says why a file gives no model. Its text is one sentence for the
// person at the desk: what the file seems to be, what is wrong, what to do.
type Unreadable struct {
	Seems string // what the file seems to be, with its article: "a JPEG picture"
	Err   error  // what is wrong with it; nil if being that is the trouble
	Do    string // what to do next
}

func (u *Unreadable) Error() string {
	s := "this seems to be " + u.Seems
	if u.Err != nil {
		s += ": " + u.Err.Error()
	}
	if u.Do != "" {
		s += "; " + u.Do
	}
	return s
}

func (u *Unreadable) Unwrap() error { return u.Err }

// What to do next, where the same advice serves several troubles.
const (
	askModel  = "ask for the model itself, as an STL, 3MF or OBJ file"
	askAgain  = "ask for the file to be exported and sent again"
	askExport = "ask for it to be exported as STL or 3MF from the program it was drawn in"
	askSmall  = "ask for a simpler export of the model, with fewer facets"
)

func unreadable(seems, do, format string, a ...any) *Unreadable {
	return &Unreadable{Seems: seems, Err: fmt.Errorf(format, a...), Do: do}
}
