package mesh

import (
	"encoding/xml"
	"fmt"
	"image/color"
	"io"
	"path"
	"strconv"
	"strings"
)

// 3MF core specification 1.4.0. A model part holds resources (objects, each a
// mesh or a list of placed components; groups of materials) and a build: items
// that place objects. The document is read once, forward, into objects; expand
// then places them. Elements of other namespaces are passed over, and said.

const (
	nsCore     = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
	nsMaterial = "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"
	nsProduce  = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
)

// namespaces in words, for those a model may need (the specifications'
// published names; MEMORY for the less common).
var namespaces = map[string]string{
	"http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02":       "beam lattices",
	"http://schemas.microsoft.com/3dmanufacturing/beamlattice/balls/2020/07": "beam lattices with balls",
	"http://schemas.microsoft.com/3dmanufacturing/slice/2015/07":             "ready-made slices",
	"http://schemas.microsoft.com/3dmanufacturing/securecontent/2019/04":     "encrypted content",
	"http://schemas.microsoft.com/3dmanufacturing/securecontent/2019/07":     "encrypted content",
	"http://schemas.microsoft.com/3dmanufacturing/trianglesets/2021/07":      "named sets of triangles",
	"http://schemas.3mf.io/3dmanufacturing/volumetric/2022/01":               "volumetric data",
	"http://schemas.3mf.io/3dmanufacturing/implicit/2023/12":                 "implicit shapes",
	"http://schemas.3mf.io/3dmanufacturing/booleanoperations/2023/07":        "boolean operations",
	"http://schemas.3mf.io/3dmanufacturing/displacement/2023/10":             "displaced surfaces",
	"http://schemas.microsoft.com/3dmanufacturing/displacement/2022/07":      "displaced surfaces",
	nsMaterial: "colours and textures",
	nsProduce:  "objects in several parts",
}

// matrix is an affine transform in 3MF order: rows m00 m01 m02, m10 …, m30 m31
// m32, for row vectors: p' = p·M.
type matrix [12]float64

var identity = matrix{1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0}

// reference is a component or a build item: an object and where it goes.
type reference struct {
	part string // of the object; empty means the same part
	id   int
	m    matrix
}

// property names one entry of a property group.
type property struct{ group, index int32 }

var noProperty = property{-1, -1}

type object struct {
	id    int
	kind  string
	name  string
	prop  property
	v     []Vec
	f     [][3]int32
	props []property // of each facet, nil if no facet has its own
	comps []reference
	part  *modelPart

	// what expand finds
	ready  *Mesh // shared vertices, local coordinates
	totals *totals
	onPath bool
}

type modelPart struct {
	name    string
	unit    Unit
	stated  bool
	title   string
	objects map[int]*object
	order   []*object
	groups  map[int32][]ColourPart
	build   []reference
}

// package3 is a 3MF package being read.
type package3 struct {
	*opc
	m         *Model
	parts3    map[string]*modelPart
	triangles int
	vertices  int
	places    int // objects, components, items and materials met
	said      map[string]bool
}

func (f *file) threeMF() (*Model, error) {
	o, err := f.openPackage()
	if err != nil {
		return nil, err
	}
	start, odd, err := o.startPart()
	if err != nil {
		return nil, err
	}
	p := &package3{opc: o, m: &Model{Format: ThreeMF}, parts3: map[string]*modelPart{}, said: map[string]bool{}}
	if odd != "" {
		p.m.warn("%s", odd)
	}
	root, err := p.load(start)
	if err != nil {
		return nil, err
	}
	mesh, err := p.expand(root)
	if err != nil {
		return nil, err
	}
	p.m.Name = root.title
	if p.m.Name == "" {
		for _, o := range root.order {
			if o.name != "" {
				p.m.Name = o.name
				break
			}
		}
	}
	p.m.Facets = len(mesh.F)
	m, err := f.finish(p.m, mesh, root.unit)
	if err == nil && !root.stated && m.UnitStated {
		m.UnitReason = "The file names no unit, which for 3MF means millimetres."
	}
	return m, err
}

// once warns of a thing the first time it is met.
func (p *package3) once(format string, a ...any) {
	s := fmt.Sprintf(format, a...)
	if !p.said[s] && len(p.said) < 50 {
		p.said[s] = true
		p.m.warn("%s", s)
	}
}

func (p *package3) count() error {
	if p.places++; p.places > p.lim.Instances {
		return unreadable(seems3MF, askSmall, "it lists more than the %d objects and materials taken here", p.lim.Instances)
	}
	return nil
}

// load reads a model part once, and the parts it refers to.
func (p *package3) load(name string) (*modelPart, error) {
	if m := p.parts3[name]; m != nil {
		return m, nil
	}
	r, err := p.open(name)
	if err != nil {
		return nil, err
	}
	defer r.r.Close()
	d := &modelReader{p: p, r: r, d: r.decoder(), ns: map[string]string{}, part: &modelPart{
		name: name, unit: Millimetre, objects: map[int]*object{}, groups: map[int32][]ColourPart{},
	}}
	p.parts3[name] = d.part
	err = d.model()
	if err == nil {
		err = r.drain()
	}
	if err != nil {
		return nil, r.said(name, err)
	}
	// References are followed after the part is closed, so nesting costs no memory.
	r.r.Close()
	for _, o := range d.part.order {
		for i := range o.comps {
			if o.comps[i].part != "" {
				if _, err := p.load(o.comps[i].part); err != nil {
					return nil, err
				}
			}
		}
	}
	for i := range d.part.build {
		if d.part.build[i].part != "" {
			if _, err := p.load(d.part.build[i].part); err != nil {
				return nil, err
			}
		}
	}
	return d.part, nil
}

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
				err = fmt.Errorf("it ends before the model does")
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
			d.p.once("The file uses %s, which are not read here; what was read is its plain mesh.", w)
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

func (d *modelReader) model() error {
	e, ok, err := d.next()
	if err != nil {
		return err
	}
	if !ok || e.Name.Local != "model" {
		return fmt.Errorf("it does not begin with a model")
	}
	if s := d.space(e); s != nsCore {
		d.p.once("The model is not written for the 3MF core namespace of 2015 we know; it was read all the same.")
		d.ns[e.Name.Space] = nsCore
	}
	for _, a := range e.Attr {
		if a.Name.Space != "" {
			continue
		}
		switch a.Name.Local {
		case "unit":
			u, err := ParseUnit(a.Value)
			if err != nil {
				return unreadable(seems3MF, askAgain, "it gives its unit as %q, which is none that 3MF has", cleanName([]byte(a.Value)))
			}
			d.part.unit, d.part.stated = u, true
		case "requiredextensions":
			for _, prefix := range strings.Fields(a.Value) {
				ns := d.ns[prefix]
				if ns == nsProduce || ns == nsCore || ns == nsMaterial {
					continue
				}
				w := namespaces[ns]
				if w == "" {
					w = "an extension we do not know (" + cleanName([]byte(prefix)) + ")"
				}
				d.p.once("The file says it cannot be made rightly without %s, which is not read here: compare the picture with what is wanted.", w)
			}
		}
	}
	return d.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "resources":
			return d.resources()
		case "build":
			return d.each(func(e xml.StartElement) error {
				if e.Name.Local == "item" {
					ref, err := d.reference(e)
					if err != nil {
						return err
					}
					d.part.build = append(d.part.build, ref)
				}
				return d.skip()
			})
		case "metadata":
			if attr(e, "name") == "Title" && d.part.title == "" {
				s, err := d.text()
				d.part.title = cleanName([]byte(s))
				return err
			}
		}
		return d.skip()
	})
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

func (d *modelReader) resources() error {
	for {
		e, ok, err := d.next()
		if err != nil {
			return err
		}
		if !ok {
			return nil
		}
		switch ns := d.space(e); {
		case ns == nsCore && e.Name.Local == "object":
			err = d.object(e)
		case ns == nsCore && e.Name.Local == "basematerials":
			err = d.group(e, "base", nsCore, "name", "displaycolor")
		case ns == nsMaterial && e.Name.Local == "colorgroup":
			err = d.group(e, "color", nsMaterial, "", "color")
		default:
			err = d.foreign(e)
		}
		if err != nil {
			return err
		}
	}
}

// group reads a group of materials or colours.
func (d *modelReader) group(e xml.StartElement, child, ns, name, colour string) error {
	id, err := resourceID(attr(e, "id"))
	if err != nil {
		return err
	}
	var list []ColourPart
	for {
		e, ok, err := d.next()
		if err != nil {
			return err
		}
		if !ok {
			break
		}
		if e.Name.Local == child && d.space(e) == ns {
			if err := d.p.count(); err != nil {
				return err
			}
			c, known := parseColour(attr(e, colour))
			part := ColourPart{Name: cleanName([]byte(attr(e, name))), Colour: c}
			if !known {
				d.p.once("A material's colour is not written as 3MF says; the material is kept without it.")
			}
			if part.Name == "" && known {
				part.Name = fmt.Sprintf("#%02X%02X%02X", c.R, c.G, c.B)
			}
			list = append(list, part)
		}
		if err := d.skip(); err != nil {
			return err
		}
	}
	if _, ok := d.part.groups[int32(id)]; ok {
		return unreadable(seems3MF, askAgain, "it uses the number %d for two resources", id)
	}
	d.part.groups[int32(id)] = list
	return nil
}

// parseColour reads #RRGGBB or #RRGGBBAA.
func parseColour(s string) (color.NRGBA, bool) {
	s = strings.TrimSpace(s)
	if len(s) != 7 && len(s) != 9 || s[0] != '#' {
		return color.NRGBA{}, false
	}
	x, err := strconv.ParseUint(s[1:], 16, 32)
	if err != nil {
		return color.NRGBA{}, false
	}
	if len(s) == 7 {
		x = x<<8 | 0xFF
	}
	return color.NRGBA{uint8(x >> 24), uint8(x >> 16), uint8(x >> 8), uint8(x)}, true
}

func resourceID(s string) (int, error) {
	n, err := strconv.ParseInt(strings.TrimSpace(s), 10, 32)
	if err != nil || n < 0 {
		return 0, unreadable(seems3MF, askAgain, "it says %q where the number of a resource belongs", cleanName([]byte(s)))
	}
	return int(n), nil
}

func (d *modelReader) reference(e xml.StartElement) (reference, error) {
	if err := d.p.count(); err != nil {
		return reference{}, err
	}
	ref := reference{m: identity}
	var err error
	if ref.id, err = resourceID(attr(e, "objectid")); err != nil {
		return ref, err
	}
	for _, a := range e.Attr {
		switch {
		case a.Name.Local == "path" && d.ns[a.Name.Space] == nsProduce:
			ref.part = partName(path.Dir(d.part.name), a.Value)
			if ref.part == d.part.name {
				ref.part = ""
			}
		case a.Name.Local == "printable" && (a.Value == "0" || strings.EqualFold(a.Value, "false")):
			d.p.once("The file marks an item as one not to print; it was read all the same.")
		case a.Name.Local == "transform" && a.Name.Space == "":
			if ref.m, err = parseMatrix(a.Value); err != nil {
				return ref, err
			}
		}
	}
	return ref, nil
}

func parseMatrix(s string) (matrix, error) {
	var m matrix
	w := strings.Fields(s)
	if len(w) != 12 {
		return m, unreadable(seems3MF, askAgain, "a transform has %s where it needs 12", many(len(w), "number"))
	}
	for i, w := range w {
		x, ok := number([]byte(w))
		if !ok || x-x != 0 {
			return m, unreadable(seems3MF, askAgain, "a transform says %q where a number belongs", cleanName([]byte(w)))
		}
		m[i] = x
	}
	return m, nil
}

func (d *modelReader) object(e xml.StartElement) error {
	if err := d.p.count(); err != nil {
		return err
	}
	id, err := resourceID(attr(e, "id"))
	if err != nil {
		return err
	}
	o := &object{id: id, kind: attr(e, "type"), name: cleanName([]byte(attr(e, "name"))), prop: noProperty, part: d.part}
	if s := attr(e, "pid"); s != "" {
		g, err := resourceID(s)
		if err != nil {
			return err
		}
		i := 0
		if s := attr(e, "pindex"); s != "" {
			if i, err = resourceID(s); err != nil {
				return err
			}
		}
		o.prop = property{int32(g), int32(i)}
	}
	if d.part.objects[id] != nil {
		return unreadable(seems3MF, askAgain, "it uses the number %d for two objects", id)
	}
	d.part.objects[id] = o
	d.part.order = append(d.part.order, o)
	return d.each(func(e xml.StartElement) error {
		switch e.Name.Local {
		case "mesh":
			return d.mesh(o)
		case "components":
			return d.each(func(e xml.StartElement) error {
				if e.Name.Local == "component" {
					ref, err := d.reference(e)
					if err != nil {
						return err
					}
					o.comps = append(o.comps, ref)
				}
				return d.skip()
			})
		}
		return d.skip()
	})
}
