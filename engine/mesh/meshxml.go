package mesh

import (
	"bytes"
	"encoding/xml"

	"platebook/engine/say"
)

// The lists of vertices and triangles are nearly all of a 3MF file, and written
// by programs in one plain way: <vertex x="1" y="2" z="3"/>. A quick path reads
// that way straight from the buffer, some ten times faster than the XML
// decoder; whatever is written otherwise is left where it stands for the
// decoder, which comes to the same result.

func (d *modelReader) mesh(o *object) error {
	err := d.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "vertices":
			return d.list(o, "vertex", d.vertex)
		case "triangles":
			return d.list(o, "triangle", d.triangle)
		case "trianglesets": // names for facets; they change nothing
		}
		return d.skip()
	})
	if err != nil {
		return err
	}
	for i, t := range o.f {
		for _, v := range t {
			if int(v) >= len(o.v) {
				return unreadable(seems3MF, askAgain, "triangle %d of object %d uses vertex %d, and there are only %d (they count from 0)", i+1, o.id, v, len(o.v))
			}
		}
		if t[0] == t[1] || t[1] == t[2] || t[2] == t[0] {
			d.p.once(say.Of("Some triangles use the same corner twice, which 3MF forbids; they have no area and do no harm."))
		}
	}
	return nil
}

// attributes is one element's attributes as name and value in turn.
type attributes [][2][]byte

// list reads the children called name, quickly where it can.
func (d *modelReader) list(o *object, name string, one func(*object, attributes) error) error {
	open := []byte("<" + name)
	var room [16][2][]byte
	slow := make(attributes, 0, 16)
	for {
		for d.ns[""] == nsCore {
			as, n := d.quick(open, room[:0])
			if n == 0 {
				break
			}
			if err := one(o, as); err != nil {
				return err
			}
			d.r.at += n
		}
		e, ok, err := d.next()
		if err != nil {
			return err
		}
		if !ok {
			return nil
		}
		if e.Name.Local != name || d.space(e) != nsCore {
			if err := d.foreign(e); err != nil {
				return err
			}
			continue
		}
		slow = slow[:0]
		for _, a := range e.Attr {
			n := a.Name.Local
			if a.Name.Space != "" {
				n = a.Name.Space + ":" + n
			}
			slow = append(slow, [2][]byte{[]byte(n), []byte(a.Value)})
		}
		if err := one(o, slow); err != nil {
			return err
		}
		if err := d.skip(); err != nil {
			return err
		}
	}
}

// plainName holds the bytes of attribute names the quick path takes.
var plainName = func() (t [256]bool) {
	for c := range t {
		t[c] = c|0x20 >= 'a' && c|0x20 <= 'z' || c >= '0' && c <= '9' || c == '_' || c == '-' || c == ':' || c == '.'
	}
	return t
}()

// quickLen is how much of the buffer must be at hand to read one element.
const quickLen = 512

// quick reads one element that stands next in the buffer, blanks before it
// allowed, and returns its attributes and length, 0 if it is not plain enough.
// The attributes last until the buffer is filled again.
func (d *modelReader) quick(open []byte, as attributes) (attributes, int) {
	r := d.r
	if len(r.buf)-r.at < quickLen {
		r.token = r.got
		r.fill()
	}
	b := r.buf[r.at:]
	i := 0
	for i < len(b) && blank(b[i]) {
		i++
	}
	if !bytes.HasPrefix(b[i:], open) {
		return nil, 0
	}
	i += len(open)
	for {
		from := i
		for i < len(b) && blank(b[i]) {
			i++
		}
		if i+1 < len(b) && b[i] == '/' && b[i+1] == '>' {
			return as, i + 2
		}
		if from == i || len(as) == cap(as) {
			return nil, 0
		}
		name := i
		for i < len(b) && plainName[b[i]] {
			i++
		}
		end := i
		if end == name || b[name] == 'x' && bytes.HasPrefix(b[name:end], []byte("xmlns")) || i+1 >= len(b) || b[i] != '=' || b[i+1] != '"' {
			return nil, 0
		}
		i += 2
		value := i
		for i < len(b) && b[i] != '"' {
			if c := b[i]; c == '&' || c == '<' || c < ' ' || c >= 0x7F {
				return nil, 0
			}
			i++
		}
		if i >= len(b) {
			return nil, 0
		}
		as = append(as, [2][]byte{b[name:end], b[value:i]})
		i++
	}
}

func (d *modelReader) vertex(o *object, as attributes) error {
	if d.p.vertices++; d.p.vertices > d.p.lim.Vertices {
		return unreadable(seems3MF, askSmall, "it has more than the %d vertices taken here", d.p.lim.Vertices)
	}
	var v Vec
	got := 0
	for _, a := range as {
		if len(a[0]) != 1 {
			continue
		}
		k := int(a[0][0]) - 'x'
		if k < 0 || k > 2 {
			continue
		}
		x, ok := number(bytes.TrimSpace(a[1]))
		if !ok || x-x != 0 {
			return unreadable(seems3MF, askAgain, "vertex %d of object %d says %q where a number belongs", len(o.v), o.id, cleanName(a[1]))
		}
		v[k] = x
		got |= 1 << k
	}
	if got != 7 {
		return unreadable(seems3MF, askAgain, "vertex %d of object %d lacks one of x, y and z", len(o.v), o.id)
	}
	o.v = append(o.v, v)
	return nil
}

func (d *modelReader) triangle(o *object, as attributes) error {
	if d.p.triangles++; d.p.triangles > d.p.lim.Facets {
		return unreadable(seems3MF, askSmall, "it has more than the %d facets taken here", d.p.lim.Facets)
	}
	var t [3]int32
	p := [3]int32{-1, -1, -1}
	group := int32(-1)
	got := 0
	for _, a := range as {
		n := a[0]
		switch {
		case len(n) == 2 && n[0] == 'v' && n[1] >= '1' && n[1] <= '3':
			x, ok := index(a[1])
			if !ok {
				return unreadable(seems3MF, askAgain, "triangle %d of object %d says %q where the number of a vertex belongs", len(o.f)+1, o.id, cleanName(a[1]))
			}
			t[n[1]-'1'] = x
			got |= 1 << (n[1] - '1')
		case len(n) == 2 && n[0] == 'p' && n[1] >= '1' && n[1] <= '3':
			if x, ok := index(a[1]); ok {
				p[n[1]-'1'] = x
			}
		case string(n) == "pid":
			if x, ok := index(a[1]); ok {
				group = x
			}
		default:
			d.p.once(say.Of("Triangles carry data of another program (%s), painted colours perhaps; it is not used.", cleanName(n)))
		}
	}
	if got != 7 {
		return unreadable(seems3MF, askAgain, "triangle %d of object %d lacks one of its corners", len(o.f)+1, o.id)
	}
	if p[0] >= 0 || group >= 0 {
		// Core 1.4, 4.1.4.1: p1 alone serves the whole triangle, pid defaults
		// to the object's, and without p1 the object's property holds.
		for len(o.props) < len(o.f) {
			o.props = append(o.props, o.prop)
		}
		own := o.prop
		if p[0] >= 0 {
			if group < 0 {
				group = o.prop.group
			}
			own = property{group, p[0]}
		}
		if own.group < 0 {
			own = noProperty
		}
		if p[1] >= 0 && p[1] != p[0] || p[2] >= 0 && p[2] != p[0] {
			d.p.once(say.Of("Some triangles fade from one colour to another; they take the colour of their first corner."))
		}
		o.props = append(o.props, own)
	} else if o.props != nil {
		o.props = append(o.props, o.prop)
	}
	o.f = append(o.f, t)
	return nil
}

// index reads a whole number from 0 to 2^31−1.
func index(b []byte) (int32, bool) {
	b = bytes.TrimSpace(b)
	if len(b) == 0 || len(b) > 10 {
		return 0, false
	}
	n := int64(0)
	for _, c := range b {
		d := c - '0'
		if d > 9 {
			return 0, false
		}
		n = n*10 + int64(d)
	}
	return int32(n), n < 1<<31
}
