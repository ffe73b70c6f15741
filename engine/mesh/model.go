package mesh

import (
	"image/color"

	"platebook/engine/say"
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
	UnitReason   say.Saying
	UnitDoubtful bool

	Mesh *Mesh
	// ColourParts are the materials or colours the file tells apart, those in
	// use only; empty if it tells none apart. Mesh.Colour indexes it.
	ColourParts []ColourPart
	// Warnings are sentences about what was odd in the file and yet read.
	Warnings []say.Saying
}

// ColourPart is one material or colour of a model.
type ColourPart struct {
	Name   string      // may be empty
	Colour color.NRGBA // the zero value if the file gives none
}

func (m *Model) warn(s say.Saying) { m.Warnings = append(m.Warnings, s) }

// Unreadable says why a file gives no model. Its text is one sentence for the
// person at the desk: what the file seems to be, what is wrong, what to do.
type Unreadable struct {
	Seems say.Saying // what the file seems to be, with its article: "a JPEG picture"
	Err   error      // what is wrong with it; nil if being that is the trouble
	Do    say.Saying // what to do next
}

func (u *Unreadable) Error() string { return u.Saying().String() }

// Saying is what Error says, to be said in any language.
func (u *Unreadable) Saying() say.Saying {
	s := say.Of("this seems to be %s", u.Seems)
	if u.Err != nil {
		s = say.Of("this seems to be %s: %s", u.Seems, u.Err)
	}
	return say.Join("; ", s, u.Do)
}

func (u *Unreadable) Unwrap() error { return u.Err }

// What to do next, where the same advice serves several troubles.
const (
	askModel  say.Form = "ask for the model itself, as an STL, 3MF or OBJ file"
	askAgain  say.Form = "ask for the file to be exported and sent again"
	askExport say.Form = "ask for it to be exported as STL or 3MF from the program it was drawn in"
	askSmall  say.Form = "ask for a simpler export of the model, with fewer facets"
)

// unreadable says what a file seems to be, what to do, and what is wrong with it.
func unreadable(seems, do, wrong say.Form, with ...any) *Unreadable {
	return &Unreadable{Seems: say.Of(seems), Err: say.Errorf(wrong, with...), Do: say.Of(do)}
}

// unlike says what a file is that gives no model, and what to do.
func unlike(seems, do say.Form) *Unreadable { return &Unreadable{Seems: say.Of(seems), Do: say.Of(do)} }
