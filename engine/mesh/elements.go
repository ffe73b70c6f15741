package mesh

import (
	"encoding/xml"
	"io"
	"strings"

	"platebook/engine/say"
)

// Walking through the XML of a model part, one element after the other.

// modelReader reads the XML of one part. Each method that reads an element is
// called after its start and returns after its end.
type modelReader struct {
	p     *package3
	r     *partReader
	d     *xml.Decoder
	ns    map[string]string // prefix to namespace
	depth int
	part  *modelPart
}

// next returns the next start of an element, or ok false at the end of the
// present one. Text is passed over.
func (d *modelReader) next() (e xml.StartElement, ok bool, err error) {
	for {
		d.r.token = d.r.got
		t, err := d.d.RawToken()
		if err != nil {
			if err == io.EOF {
				err = say.Errorf("it ends before the model does")
			}
			return e, false, err
		}
		switch t := t.(type) {
		case xml.Directive:
			return e, false, errDTD
		case xml.StartElement:
			if d.depth++; d.depth > d.p.lim.Depth {
				return e, false, errDeep
			}
			for _, a := range t.Attr {
				switch {
				case a.Name.Space == "xmlns":
					d.declare(a.Name.Local, a.Value)
				case a.Name.Space == "" && a.Name.Local == "xmlns":
					d.declare("", a.Value)
				}
			}
			return t, true, nil
		case xml.EndElement:
			d.depth--
			return e, false, nil
		}
	}
}

// declare notes a namespace. A prefix keeps its first meaning in a part, which
// is the root's: what redeclares it deeper down is not core.
func (d *modelReader) declare(prefix, uri string) {
	if _, ok := d.ns[prefix]; !ok && len(d.ns) < 200 {
		d.ns[prefix] = uri
	}
}

// space returns the namespace of an element.
func (d *modelReader) space(e xml.StartElement) string {
	for _, a := range e.Attr {
		if a.Name.Local == "xmlns" && a.Name.Space == "" && e.Name.Space == "" {
			return a.Value
		}
		if a.Name.Space == "xmlns" && a.Name.Local == e.Name.Space {
			return a.Value
		}
	}
	return d.ns[e.Name.Space]
}

// skip passes over the present element.
func (d *modelReader) skip() error {
	for level := 1; level > 0; {
		_, ok, err := d.next()
		if err != nil {
			return err
		}
		if ok {
			level++
		} else {
			level--
		}
	}
	return nil
}

// foreign passes over an element of another namespace and says so if it may
// change the shape or its colours.
func (d *modelReader) foreign(e xml.StartElement) error {
	ns := d.space(e)
	if ns != nsCore {
		if w := namespaces[ns]; w != "" {
			d.p.once(say.Of("The file uses %s, which are not read here; what was read is its plain mesh.", say.Of(w)))
		}
	}
	return d.skip()
}

// each reads the children of the present element, calling f for those of core.
func (d *modelReader) each(f func(e xml.StartElement) error) error {
	for {
		e, ok, err := d.next()
		if err != nil {
			return err
		}
		if !ok {
			return nil
		}
		if d.space(e) == nsCore {
			err = f(e)
		} else {
			err = d.foreign(e)
		}
		if err != nil {
			return err
		}
	}
}

// text returns the text of the present element, which has no children that matter.
func (d *modelReader) text() (string, error) {
	var s strings.Builder
	for level := 1; level > 0; {
		d.r.token = d.r.got
		t, err := d.d.RawToken()
		if err != nil {
			return "", err
		}
		switch t := t.(type) {
		case xml.Directive:
			return "", errDTD
		case xml.StartElement:
			if level++; d.depth+level > d.p.lim.Depth {
				return "", errDeep
			}
		case xml.EndElement:
			level--
		case xml.CharData:
			s.Write(t[:min(len(t), 4*nameLen)])
		}
		if s.Len() > 16*nameLen {
			s.Reset() // no title is that long
		}
	}
	d.depth--
	return s.String(), nil
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Space == "" && a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}
