package mesh

import (
	"encoding/xml"
	"fmt"
	"image/color"
	"path"
	"strconv"
	"strings"

	"platebook/engine/say"
)

// What a model part says, element by element: core specification 1.4.0,
// chapters 3 to 5, and the colour groups of the materials extension.

func (d *modelReader) model() error {
	e, ok, err := d.next()
	if err != nil {
		return err
	}
	if !ok || e.Name.Local != "model" {
		return say.Errorf("it does not begin with a model")
	}
	if s := d.space(e); s != nsCore {
		d.p.once(say.Of("The model is not written for the 3MF core namespace of 2015 we know; it was read all the same."))
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
				w := say.Of(namespaces[ns])
				if w.Empty() {
					w = say.Of("an extension we do not know (%s)", cleanName([]byte(prefix)))
				}
				d.p.once(say.Of("The file says it cannot be made rightly without %s, which is not read here: compare the picture with what is wanted.", w))
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
				d.p.once(say.Of("A material's colour is not written as 3MF says; the material is kept without it."))
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
			d.p.once(say.Of("The file marks an item as one not to print; it was read all the same."))
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
		return m, unreadable(seems3MF, askAgain, "a transform has %s where it needs 12", say.Counted(len(w), "%s number", "%s numbers"))
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
