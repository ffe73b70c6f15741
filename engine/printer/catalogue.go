package printer

import (
	"embed"
	"fmt"
	"slices"
	"sort"
	"strings"
)

//go:embed profiles/*.toml
var profiles embed.FS

// Catalogue holds every printer model, material and way that can be chosen,
// in the order they were first named.
type Catalogue struct {
	Printers  []Printer
	Materials []Material
	Ways      []Way
}

// Builtin returns a fresh copy of the profiles that come with the program:
// the invented Larkmere Libraries' printers, common materials, three ways.
func Builtin() *Catalogue {
	c := &Catalogue{}
	// ReadDir sorts by name: materials, printers, ways.
	entries, err := profiles.ReadDir("profiles")
	for _, e := range entries {
		var text []byte
		if err == nil {
			text, err = profiles.ReadFile("profiles/" + e.Name())
		}
		if err == nil {
			err = c.merge(text, e.Name())
		}
	}
	if err == nil {
		err = c.Validate()
	}
	if err != nil {
		panic("built-in profiles: " + err.Error()) // the files are part of the program, and its tests read them
	}
	return c
}

// Printer returns the printer model called id, or an error listing those there are.
func (c *Catalogue) Printer(id string) (Printer, error) {
	if i := find(c.Printers, id); i >= 0 {
		return c.Printers[i], nil
	}
	return Printer{}, notFound("printer", id, c.Printers)
}

// Material returns the material called id, or an error listing those there are.
func (c *Catalogue) Material(id string) (Material, error) {
	if i := find(c.Materials, id); i >= 0 {
		m := c.Materials[i]
		m.Cautions = slices.Clone(m.Cautions)
		return m, nil
	}
	return Material{}, notFound("material", id, c.Materials)
}

// Way returns the way called id, or an error listing those there are.
func (c *Catalogue) Way(id string) (Way, error) {
	if i := find(c.Ways, id); i >= 0 {
		return c.Ways[i], nil
	}
	return Way{}, notFound("way", id, c.Ways)
}

// Validate reports the first thing that cannot be right in any profile, and
// any printer whose defaults are not in the catalogue.
func (c *Catalogue) Validate() error {
	for _, m := range c.Materials {
		if err := m.Validate(); err != nil {
			return err
		}
	}
	for _, w := range c.Ways {
		if err := w.Validate(); err != nil {
			return err
		}
	}
	for _, p := range c.Printers {
		if err := p.Validate(); err != nil {
			return err
		}
		for _, d := range []struct {
			key, id string
			lookup  func(string) error
		}{
			{"default_material", p.DefaultMaterial, func(id string) error { _, err := c.Material(id); return err }},
			{"default_support_material", p.DefaultSupportMaterial, func(id string) error { _, err := c.Material(id); return err }},
			{"default_way", p.DefaultWay, func(id string) error { _, err := c.Way(id); return err }},
		} {
			if err := d.lookup(d.id); err != nil {
				return fmt.Errorf("printer %s: %s: %w", p.ID, d.key, err)
			}
		}
	}
	return nil
}

// clone copies c so that a merge that fails half-way changes nothing.
func (c *Catalogue) clone() *Catalogue {
	d := &Catalogue{slices.Clone(c.Printers), slices.Clone(c.Materials), slices.Clone(c.Ways)}
	for i := range d.Materials {
		d.Materials[i].Cautions = slices.Clone(d.Materials[i].Cautions)
	}
	return d
}

// profile is what the three kinds have in common.
type profile interface {
	Printer | Material | Way
}

func idOf[P profile](p P) string {
	switch v := any(p).(type) {
	case Printer:
		return v.ID
	case Material:
		return v.ID
	case Way:
		return v.ID
	}
	return ""
}

func find[P profile](list []P, id string) int {
	return slices.IndexFunc(list, func(p P) bool { return idOf(p) == id })
}

func notFound[P profile](kind, id string, list []P) error {
	if len(list) == 0 {
		return fmt.Errorf("there is no %s %q: no %s is described at all", kind, id, kind)
	}
	ids := make([]string, len(list))
	for i, p := range list {
		ids[i] = idOf(p)
	}
	near := nearest(id, ids)
	sort.Strings(ids)
	if near != "" {
		return fmt.Errorf("there is no %s %q; did you mean %q? There are: %s", kind, id, near, strings.Join(ids, ", "))
	}
	return fmt.Errorf("there is no %s %q; there are: %s", kind, id, strings.Join(ids, ", "))
}
