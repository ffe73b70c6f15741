package mesh

import (
	"bytes"

	"platebook/engine/say"
)

// ASCII STL:
//
//	solid name
//	facet normal nx ny nz
//	outer loop
//	vertex x y z        three times
//	endloop
//	endfacet
//	endsolid name
//
// Words are parted by blanks of any kind and may be in capitals; a file may
// hold several solids. The normal is redundant and often wrong, so it is passed
// over: the order of the corners decides. Coordinates keep the precision they
// are written with.

// isASCIISTL tells whether text is an ASCII STL: its first word is solid or
// facet and a facet or an end follows before long.
func isASCIISTL(text []byte) bool {
	s := scanner{b: skipMark(text)}
	w := s.word()
	if is(w, "facet") {
		return is(s.word(), "normal")
	}
	if !is(w, "solid") {
		return false
	}
	low := bytes.ToLower(text[:min(len(text), 64<<10)])
	return bytes.Contains(low, []byte("facet")) || bytes.Contains(low, []byte("endsolid")) || len(bytes.TrimSpace(text)) == 5
}

// hasFacets tells whether text that begins otherwise, with a remark perhaps, goes
// on as an ASCII STL.
func hasFacets(text []byte) bool {
	low := bytes.ToLower(text[:min(len(text), headLen)])
	return bytes.Contains(low, []byte("facet normal")) && bytes.Contains(low, []byte("outer loop"))
}

// skipMark drops a UTF-8 byte order mark.
func skipMark(b []byte) []byte { return bytes.TrimPrefix(b, []byte("\xEF\xBB\xBF")) }

// stlText is an ASCII STL being read.
type stlText struct {
	scanner
	w       *welder
	f       [][3]int32
	file    *file
	names   []string
	solids  int
	open    bool // between solid and endsolid
	normals int  // facets without a usable normal
	strange int  // lines that say nothing STL knows
	where   int  // line of the first of them
}

const asciiSeems say.Form = "an ASCII STL"

func (f *file) asciiSTL(text []byte) (*Model, error) {
	text = skipMark(text)
	// A facet of a thrifty writer takes some 80 bytes, most take 250.
	p := &stlText{scanner: scanner{b: text}, w: newWelder(len(text)/500+8, newSeed()), file: f}
	p.f = make([][3]int32, 0, len(text)/200+8)
	if err := p.read(); err != nil {
		return nil, err
	}
	m := &Model{Format: ASCIISTL, Facets: len(p.f)}
	if len(p.names) > 0 {
		m.Name = p.names[0]
	}
	if p.solids > 1 {
		m.warn(say.Of("The file holds %d solids; they are taken together as one model.", p.solids))
	}
	if p.open {
		m.warn(say.Of("The file does not end with endsolid; a part of it may be missing."))
	}
	if p.normals > 0 {
		m.warn(noNormal(p.normals))
	}
	if p.strange > 0 {
		m.warn(say.Counted(p.strange,
			"1 line says nothing an STL file should say (the first is line %d) and were passed over.",
			"%d lines say nothing an STL file should say (the first is line %d) and were passed over.", p.where))
	}
	return f.finish(m, &Mesh{V: p.w.v, F: p.f}, "")
}

func (p *stlText) read() error {
	for {
		w := p.word()
		switch {
		case len(w) == 0:
			return nil
		case is(w, "facet"):
			if err := p.facet(); err != nil {
				return err
			}
		case is(w, "solid"):
			p.solids++
			p.open = true
			if name := cleanName(p.title()); name != "" && len(p.names) == 0 {
				p.names = append(p.names, name)
			}
		case is(w, "endsolid"):
			p.open = false
			p.title()
		default:
			if p.strange++; p.strange == 1 {
				p.where = line(p.b, p.at)
			}
			p.rest()
		}
	}
}

// title returns a name: the rest of the line, or up to the first facet where
// all is written on one line.
func (p *stlText) title() []byte {
	from, b := p.at, p.b
	for i := from; i < len(b); i++ {
		c := b[i]
		if c == '\n' || c == '\r' || blank(c) && i+6 < len(b) && is(b[i+1:i+6], "facet") && blank(b[i+6]) {
			p.at = i
			return b[from:i]
		}
	}
	p.at = len(b)
	return b[from:]
}

// facet reads one facet from after its first word.
func (p *stlText) facet() error {
	if len(p.f) >= p.file.lim.Facets {
		return unreadable(asciiSeems, askSmall, "it has more than the %d facets taken here", p.file.lim.Facets)
	}
	start := p.at
	// The normal: whatever stands before the loop.
	n, good := 0, 0
	for {
		w := p.word()
		if is(w, "outer") {
			break
		}
		if len(w) == 0 {
			return p.cut(start)
		}
		if n == 0 && is(w, "normal") {
			continue
		}
		if x, ok := number(w); ok && x-x == 0 {
			good++
		}
		if n++; n > 8 || is(w, "vertex") || is(w, "endfacet") || is(w, "facet") {
			return p.wrong(start, say.Of("has no outer loop"))
		}
	}
	if good < 3 {
		p.normals++
	}
	if w := p.word(); !is(w, "loop") {
		if len(w) == 0 {
			return p.cut(start)
		}
		return p.wrong(start, say.Of("has no outer loop"))
	}
	var t [3]int32
	corners := 0
	for {
		w := p.word()
		if is(w, "vertex") {
			var v Vec
			for k := range v {
				w := p.word()
				x, ok := number(w)
				if !ok {
					if len(w) == 0 {
						return p.cut(start)
					}
					return p.notNumber(w)
				}
				v[k] = x
			}
			if corners < 3 {
				t[corners] = p.w.index(v)
			}
			corners++
			continue
		}
		if is(w, "endloop") {
			break
		}
		if len(w) == 0 {
			return p.cut(start)
		}
		return p.wrong(start, say.Of("says %q where a vertex or endloop belongs", cleanName(w)))
	}
	if corners != 3 {
		return p.wrong(start, say.Counted(corners, "has %s corner where an STL facet has 3", "has %s corners where an STL facet has 3"))
	}
	if w := p.word(); !is(w, "endfacet") {
		if len(w) == 0 {
			return p.cut(start)
		}
		return p.wrong(start, say.Of("has no endfacet"))
	}
	if len(p.w.v) > p.file.lim.Vertices {
		return p.file.loose(asciiSeems)
	}
	p.f = append(p.f, t)
	return nil
}

func (p *stlText) cut(start int) error {
	return unreadable(asciiSeems+" cut short", "it may have been cut off on its way, so ask for it to be sent again",
		"it ends in the middle of facet %d, which begins at line %d", len(p.f)+1, line(p.b, start))
}

func (p *stlText) wrong(start int, what say.Saying) error {
	return unreadable(asciiSeems, askAgain, "facet %d at line %d %s", len(p.f)+1, line(p.b, start), what)
}

func (p *stlText) notNumber(w []byte) error {
	return badNumber(asciiSeems, line(p.b, p.at), w)
}

func badNumber(seems say.Form, line int, w []byte) error {
	if bytes.IndexByte(w, ',') >= 0 {
		return unreadable(seems, askAgain, "line %d says %q where a number belongs (it is written with a decimal comma; a decimal point is needed)", line, cleanName(w))
	}
	return unreadable(seems, askAgain, "line %d says %q where a number belongs", line, cleanName(w))
}
