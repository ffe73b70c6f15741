package mesh

import (
	"bytes"
	"errors"
	"io"
	"math"
	"path"
	"strings"

	"platebook/engine/say"
)

// Read reads a model from a file of size bytes. name is the file's name; its
// ending is a hint at most: the content decides what the file is. Zero limits
// are the defaults. An error is always an *Unreadable.
//
// Whatever Read returns has finite coordinates in millimetres and facets whose
// indices are in range. Nothing is said about its being closed or oriented.
//
// Several goroutines may read src at once; none does after Read returns. The
// model does not depend on how many cores there are.
func Read(src io.ReaderAt, size int64, name string, lim Limits) (*Model, error) {
	return ReadAs(src, size, name, "", lim)
}

// ReadAs is Read with the unit of files that do not say theirs, given by staff;
// the empty unit judges. A unit the file states stands, and a warning says so.
func ReadAs(src io.ReaderAt, size int64, name string, unit Unit, lim Limits) (*Model, error) {
	lim = lim.filled()
	if unit != "" && unit.MM() == 0 {
		return nil, unreadable("a file to be read in a unit we do not know", "give mm, cm, m, inch, foot or micron", "%q is no unit of length", string(unit))
	}
	if size <= 0 {
		return nil, unlike("an empty file, with nothing in it at all", "ask for it to be sent again")
	}
	if size > lim.Bytes {
		return nil, unreadable("a very large file", askSmall, "its %s are more than the %s taken here", megabytes(size), megabytes(lim.Bytes))
	}
	f := &file{src: src, size: size, ext: strings.ToLower(path.Ext(name)), unit: unit, lim: lim}
	m, err := f.read()
	if err != nil {
		var u *Unreadable
		if !errors.As(err, &u) {
			u = &Unreadable{Seems: say.Of("a file we cannot get at"), Err: err, Do: say.Of("try once more")}
		}
		return nil, u
	}
	return m, nil
}

// file is one file being read.
type file struct {
	src  io.ReaderAt
	size int64
	ext  string // with its dot, lower case
	unit Unit   // given by staff, or empty
	lim  Limits
}

const headLen = 4096 // what is looked at to tell what a file is

func (f *file) read() (*Model, error) {
	head := make([]byte, min(f.size, headLen))
	if n, err := f.src.ReadAt(head, 0); n < len(head) {
		return nil, say.Errorf("only %d of its %d bytes could be read: %w", n, f.size, orEOF(err))
	}
	// The length formula comes before any magic number: the header of a binary
	// STL may begin with anything.
	if n, ok := stlCount(head); ok && n > 0 && stlLen(n) == f.size {
		return f.binarySTL(head, n, say.Saying{})
	}
	if isZip(head) {
		return f.threeMF()
	}
	if u := known(head); u != nil && !f.wholeSTL(head) {
		return nil, u
	}
	text, err := f.text(head)
	if err != nil {
		return nil, err
	}
	if text == nil {
		return f.oddBinary(head)
	}
	return f.readText(text)
}

// text returns the whole file as bytes of ASCII, Latin-1 or UTF-8 if it is
// text, nil if it is not.
func (f *file) text(head []byte) ([]byte, error) {
	wide := utf16Order(head)
	begin := bytes.TrimRight(head, "\x00")
	if wide == nil && (!isText(begin) || len(begin) < len(head) && !bytes.ContainsAny(begin, "\r\n")) {
		return nil, nil
	}
	all := make([]byte, f.size)
	if n, err := f.src.ReadAt(all, 0); n < len(all) {
		return nil, say.Errorf("only %d of its %d bytes could be read: %w", n, f.size, orEOF(err))
	}
	if wide != nil {
		return fromUTF16(all, wide), nil
	}
	// Mail and disks fill up with zeros what is shorter than a block.
	return bytes.TrimRight(all, "\x00"), nil
}

func (f *file) readText(text []byte) (*Model, error) {
	if u := knownText(text); u != nil {
		return nil, u
	}
	switch {
	case isASCIISTL(text):
		return f.asciiSTL(text)
	case isOBJ(text), f.ext == ".obj":
		return f.obj(text)
	case hasFacets(text):
		return f.asciiSTL(text)
	}
	u := unlike("plain text, not a model", askModel)
	if len(strings.TrimSpace(string(text[:min(len(text), headLen)]))) == 0 {
		u.Seems = say.Of("a file of blanks, with no model in it")
	}
	return nil, u
}

// finish judges the unit, turns the mesh into millimetres and gives it to m.
// stated is the unit the file names, or empty. The mesh is in file units.
func (f *file) finish(m *Model, mesh *Mesh, stated Unit) (*Model, error) {
	seems := m.Format.seems()
	if len(mesh.F) == 0 {
		return nil, unreadable(seems, askAgain, "it holds no facets, so there is nothing to print")
	}
	if i, ok := badVertex(mesh); ok {
		return nil, unreadable(seems, askAgain, "a corner of facet %d lies %s", firstUse(mesh, i)+1, nowhere(mesh.V[i]))
	}
	size := bounds(mesh.V).Size()
	largest := max(size[0], size[1], size[2])
	switch {
	case stated != "":
		m.Unit, m.UnitStated = stated, true
		if m.UnitReason.Empty() {
			m.UnitReason = say.Of("The file says it is drawn in %s.", stated.words())
		}
		if f.unit != "" && f.unit != stated {
			m.warn(otherUnit(m, stated, f.unit))
		}
	case f.unit != "":
		m.Unit = f.unit
		m.UnitReason = say.Of("Taken as %s because staff said so; %s files name no unit.", f.unit.words(), m.Format.short())
	default:
		m.Unit, m.UnitReason, m.UnitDoubtful = judgeUnit(m.Format, largest)
	}
	if k := m.Unit.MM(); k != 1 {
		for i := range mesh.V {
			mesh.V[i] = mesh.V[i].Scale(k)
		}
	}
	if i, ok := badVertex(mesh); ok {
		return nil, unreadable(seems, askAgain, "in %s a corner of facet %d lies %s", m.Unit.words(), firstUse(mesh, i)+1, nowhere(mesh.V[i]))
	}
	if f.ext != m.Format.ending() && (f.ext == ".stl" || f.ext == ".3mf" || f.ext == ".obj") {
		m.warn(say.Of("The file is named %s but is %s; it was read as what it is.", f.ext, article(m.Format)))
	}
	m.Mesh = mesh
	return m, nil
}

// farthest is how far from the origin a vertex may lie, in the file's numbers
// and again in mm: 10 km. Farther, single precision is no better than 1 mm.
const farthest = 1e7

// badVertex returns the first vertex that is not a place within farthest.
func badVertex(m *Mesh) (int, bool) {
	for i, p := range m.V {
		for _, x := range p {
			if !(x >= -farthest && x <= farthest) {
				return i, true
			}
		}
	}
	return 0, false
}

// firstUse returns the first facet that uses vertex v.
func firstUse(m *Mesh, v int) int {
	for i, f := range m.F {
		if int(f[0]) == v || int(f[1]) == v || int(f[2]) == v {
			return i
		}
	}
	return 0
}

func nowhere(p Vec) say.Saying {
	for _, x := range p {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return say.Of("nowhere: its coordinates are not all numbers")
		}
	}
	return say.Of("at %s, %s, %s, which is too far away to be meant", spot(p[0]), spot(p[1]), spot(p[2]))
}

func bounds(v []Vec) Box {
	if len(v) == 0 {
		return Box{}
	}
	b := Box{v[0], v[0]}
	for _, p := range v {
		for k, x := range p {
			b.Min[k] = min(b.Min[k], x)
			b.Max[k] = max(b.Max[k], x)
		}
	}
	return b
}

func article(f Format) say.Saying {
	switch f {
	case ASCIISTL:
		return say.Of("an ASCII STL")
	case OBJ:
		return say.Of("an OBJ")
	case ThreeMF:
		return say.Of("a 3MF")
	}
	return say.Of("a binary STL")
}

// seems is what a file of the format is said to be, when it is one.
func (f Format) seems() say.Form {
	switch f {
	case ASCIISTL:
		return "a model in an ASCII STL file"
	case OBJ:
		return "a model in an OBJ file"
	case ThreeMF:
		return "a model in a 3MF file"
	}
	return "a model in a binary STL file"
}

// otherUnit says that a file is not read in the unit asked for.
func otherUnit(m *Model, stated, asked Unit) say.Saying {
	if m.Format == ThreeMF && m.UnitReason.Form == namesNone {
		return say.Of("The file names no unit, which for 3MF means millimetres, so it was not read in %s as asked; if that is wrong, change its size instead.", asked.words())
	}
	return say.Of("The file says it is drawn in %s, so it was not read in %s as asked; if that is wrong, change its size instead.", stated.words(), asked.words())
}

// ending is what names of such files end in.
func (f Format) ending() string { return "." + strings.ToLower(f.short()) }

func megabytes(n int64) say.Saying {
	if n < 1<<20 {
		return say.Of("%d kilobytes", (n+1023)>>10)
	}
	return say.Of("%d megabytes", (n+1<<20-1)>>20)
}

func orEOF(err error) error {
	if err == nil || err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
