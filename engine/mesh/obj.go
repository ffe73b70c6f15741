package mesh

import (
	"bytes"
	"math"

	"platebook/engine/say"
)

// OBJ, as its format appendix B1 has it: lines of v x y z and f i j k …, where
// an index counts vertices from 1, or back from the last one if negative, and may
// be followed by /texture/normal. A line ending in \ goes on in the next. Lines
// of other kinds shape nothing that can be printed, but names: o, g, usemtl.
// Nothing in the format says a unit or which way is up.

// isOBJ tells whether text has the lines of an OBJ file near its beginning.
func isOBJ(text []byte) bool {
	v, other, lines := 0, 0, 0
	for l := range bytes.Lines(skipMark(text)) {
		if lines++; lines > 2000 {
			break
		}
		s := scanner{b: l}
		w := s.word()
		if len(w) == 0 || w[0] == '#' {
			continue
		}
		switch string(w) {
		case "v":
			ok := true
			for range 3 {
				_, good := number(s.word())
				ok = ok && good
			}
			if ok {
				v++
			}
		case "vt", "vn", "vp", "f", "o", "g", "s", "l", "p", "usemtl", "mtllib", "fo":
		default:
			other++
		}
	}
	return v > 0 && v >= other
}

const seemsOBJ say.Form = "an OBJ file"

// objText is an OBJ being read. Faces are cut into facets once all vertices are known.
type objText struct {
	scanner
	f       *file
	m       *Model
	v       []Vec
	badLine map[int32]int // vertices that are no numbers, and their lines
	corners []int32       // of all faces, one after the other
	ends    []int32       // where each face ends in corners
	lines   []int32       // where each face is in the text, for messages
	tint    []uint8       // of each face
	parts   map[string]uint8
	part    int // the part of the next faces; −1 none yet
	other   int // lines, points, curves
	flat    []string
	weights bool
	unknown int
	where   int
}

func (f *file) obj(text []byte) (*Model, error) {
	p := &objText{scanner: scanner{b: skipMark(text)}, f: f, m: &Model{Format: OBJ}, parts: map[string]uint8{}, part: -1, badLine: map[int32]int{}}
	if err := p.read(); err != nil {
		return nil, err
	}
	if len(p.ends) == 0 {
		what := say.Form("it has no faces")
		switch {
		case p.other > 0:
			what = "it has lines, points or curves only and no faces, so there is nothing to print"
		case len(p.v) > 0:
			what = "it has points only and no faces, so there is nothing to print"
		}
		return nil, unreadable(seemsOBJ, askExport, what)
	}
	mesh, err := p.cut()
	if err != nil {
		return nil, err
	}
	if p.weights {
		p.m.warn(say.Of("Some vertices carry a weight, which plain faces have no use for; it was left out."))
	}
	if p.other > 0 {
		p.m.warn(say.Of("The file also holds lines, points or curves, which cannot be printed; only its faces were read."))
	}
	if p.unknown > 0 {
		p.m.warn(say.Counted(p.unknown,
			"1 line says nothing an OBJ file should say (the first is line %d) and were passed over.",
			"%d lines say nothing an OBJ file should say (the first is line %d) and were passed over.", p.where))
	}
	p.m.Facets = len(mesh.F)
	return f.finish(p.m, shared(mesh), "")
}

// next returns the next word of the line, empty at its end. A backslash before
// the end of a line joins the next line to it.
func (p *objText) next() []byte {
	b := p.b
	for p.at < len(b) {
		c := b[p.at]
		switch {
		case c == '\\' && p.at+1 < len(b) && (b[p.at+1] == '\n' || b[p.at+1] == '\r'):
			if b[p.at+1] == '\r' && p.at+2 < len(b) && b[p.at+2] == '\n' {
				p.at++
			}
			p.at += 2
			continue
		case c == '\n' || c == '\r' || c == '#':
			return nil
		case !blank(c):
			from := p.at
			for p.at < len(b) && !blank(b[p.at]) && !(b[p.at] == '\\' && p.at+1 < len(b) && (b[p.at+1] == '\n' || b[p.at+1] == '\r')) {
				p.at++
			}
			return b[from:p.at]
		}
		p.at++
	}
	return nil
}

// endLine goes to the end of the line, joined lines included.
func (p *objText) endLine() {
	for p.at < len(p.b) && p.b[p.at] != '\n' && p.b[p.at] != '\r' {
		if p.b[p.at] == '#' { // a comment is never continued
			p.rest()
			return
		}
		if p.b[p.at] != '\\' || p.next() == nil {
			p.at++
		}
	}
}

func (p *objText) read() error {
	for p.at < len(p.b) {
		start := p.at
		w := p.next()
		var err error
		switch string(w) {
		case "":
		case "v":
			err = p.vertex()
		case "f", "fo":
			err = p.face(start)
		case "usemtl":
			p.material()
		case "o", "g":
			if s := cleanName(p.rest()); s != "" && p.m.Name == "" {
				p.m.Name = s
			}
		case "l", "p", "curv", "curv2", "surf":
			p.other++
		case "vt", "vn", "vp", "s", "mtllib", "cstype", "deg", "bmat", "step", "parm", "trim", "hole", "scrv",
			"sp", "end", "con", "mg", "bevel", "c_interp", "d_interp", "lod", "shadow_obj", "trace_obj",
			"ctech", "stech", "maplib", "usemap", "call", "csh":
		default:
			if p.unknown++; p.unknown == 1 {
				p.where = line(p.b, start)
			}
		}
		if err != nil {
			return err
		}
		p.endLine()
		for p.at < len(p.b) && (p.b[p.at] == '\n' || p.b[p.at] == '\r') {
			p.at++
		}
	}
	return nil
}

// vertex reads x y z and passes over a weight or a colour. A vertex that is no
// number stays unless a face uses it: some files hold such, and unused.
func (p *objText) vertex() error {
	if len(p.v) >= p.f.lim.Vertices {
		return unreadable(seemsOBJ, askSmall, "it has more than the %d vertices taken here", p.f.lim.Vertices)
	}
	start := p.at
	var v Vec
	for k := range v {
		x, ok := number(p.next())
		if !ok {
			v = Vec{math.NaN(), math.NaN(), math.NaN()}
			if len(p.badLine) < 100_000 {
				p.badLine[int32(len(p.v))] = start
			}
			break
		}
		v[k] = x
	}
	if w := p.next(); len(w) > 0 {
		if x, ok := number(w); ok && x != 1 && len(p.next()) == 0 {
			p.weights = true
		}
	}
	p.v = append(p.v, v)
	return nil
}

func (p *objText) face(start int) error {
	from := len(p.corners)
	for {
		w := p.next()
		if len(w) == 0 {
			break
		}
		if i := bytes.IndexByte(w, '/'); i >= 0 {
			w = w[:i]
		}
		back := len(w) > 0 && w[0] == '-'
		if back {
			w = w[1:]
		}
		n, ok := index(w)
		if !ok || n == 0 {
			return unreadable(seemsOBJ, askAgain, "the face at line %d says %q where the number of a vertex belongs (they count from 1)", line(p.b, start), cleanName(w))
		}
		i := n - 1
		if back {
			i = int32(len(p.v)) - n
		}
		if i < 0 {
			return unreadable(seemsOBJ, askAgain, "the face at line %d counts back %d vertices, and there are only %d before it", line(p.b, start), n, len(p.v))
		}
		p.corners = append(p.corners, i)
	}
	if n := len(p.corners) - from; n < 3 {
		return unreadable(seemsOBJ, askAgain, "the face at line %d has %s and needs 3 at least", line(p.b, start), say.Counted(n, "%s corner", "%s corners"))
	}
	if len(p.corners)-2*(len(p.ends)+1) > p.f.lim.Facets {
		return unreadable(seemsOBJ, askSmall, "it has more than the %d facets taken here", p.f.lim.Facets)
	}
	p.ends = append(p.ends, int32(len(p.corners)))
	p.lines = append(p.lines, int32(start))
	p.tint = append(p.tint, p.tinted(p.part))
	return nil
}

// tinted returns the part faces go to; those before any usemtl have one of their own.
func (p *objText) tinted(part int) uint8 {
	if part < 0 {
		part = p.partOf("")
		p.part = part
	}
	return uint8(part)
}

func (p *objText) partOf(name string) int {
	if k, ok := p.parts[name]; ok {
		return int(k)
	}
	if len(p.m.ColourParts) == 256 {
		if len(p.flat) == 0 {
			p.flat = []string{name}
			p.m.warn(say.Of("The file uses more than 256 materials; those beyond are taken together."))
		}
		return 255
	}
	k := len(p.m.ColourParts)
	p.m.ColourParts = append(p.m.ColourParts, ColourPart{Name: name})
	p.parts[name] = uint8(k)
	return k
}

func (p *objText) material() { p.part = p.partOf(cleanName(p.rest())) }

// cut cuts the faces into facets.
func (p *objText) cut() (*Mesh, error) {
	m := &Mesh{V: p.v, F: make([][3]int32, 0, len(p.corners)-2*len(p.ends))}
	var tint []uint8
	var e earClipper
	from := int32(0)
	for i, end := range p.ends {
		face := p.corners[from:end]
		from = end
		for _, v := range face {
			if int(v) >= len(p.v) {
				return nil, unreadable(seemsOBJ, askAgain, "the face at line %d uses vertex %d, and there are only %d", line(p.b, int(p.lines[i])), v+1, len(p.v))
			}
			if at, ok := p.badLine[v]; ok {
				s := scanner{b: p.b, at: at}
				return nil, badVertexLine(line(p.b, at), s.rest())
			}
		}
		before := len(m.F)
		var ok bool
		if m.F, ok = e.clip(m.F, p.v, face); !ok {
			return nil, unreadable(seemsOBJ, askExport, "its faces have so many corners that cutting them into facets would take too long")
		}
		for range len(m.F) - before {
			tint = append(tint, p.tint[i])
		}
	}
	p.usedParts(tint)
	if len(p.m.ColourParts) > 1 {
		m.Colour = tint
	}
	return m, nil
}

func badVertexLine(line int, text []byte) error {
	return badNumber(seemsOBJ, line, text)
}

// usedParts drops the colour parts no facet is in.
func (p *objText) usedParts(tint []uint8) {
	var used [256]bool
	for _, t := range tint {
		used[t] = true
	}
	var to [256]uint8
	var keep []ColourPart
	for k, c := range p.m.ColourParts {
		if used[k] {
			to[k] = uint8(len(keep))
			keep = append(keep, c)
		}
	}
	for i, t := range tint {
		tint[i] = to[t]
	}
	p.m.ColourParts = keep
	if len(keep) == 1 && keep[0].Name == "" {
		p.m.ColourParts = nil
	}
	for i, c := range p.m.ColourParts {
		if c.Name == "" {
			p.m.ColourParts[i].Name = "no material given"
		}
	}
}
