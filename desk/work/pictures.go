package work

import (
	"fmt"
	"io"
	"maps"
	"slices"

	"platebook/desk"
	"platebook/engine/picture"
)

// scene shows a way: its one part as it stands, or its first plate.
func (m *made) scene() picture.Scene {
	if m.plates != nil {
		return picture.Scene{Mesh: m.plates[0].Solid}
	}
	return m.side(0).Scene
}

// side is what the engine shows of part i.
func (m *made) side(i int) picture.Way {
	p := m.parts[i]
	return m.offers[i].Side(&p.ask, p.found.ColourParts)
}

// drawWay draws a way as it stands on the platform.
func (c *computing) drawWay(m *made) (err error) {
	s := m.scene()
	v := m.parts[0].ask.Printer.Volume
	s.Platform = &[2]float64{v[0], v[1]}
	s.Caption = nil // what it is stands beside it, in the reader's language
	m.way.Still, err = c.draw(func(w io.Writer) error {
		return picture.Draw(w, s, picture.Usual(), picture.Options{Width: 1000, Height: 750, Workers: 1})
	})
	return err
}

// drawSideBySide draws all ways at one scale, for choosing.
func (c *computing) drawSideBySide(all []*made) (desk.Hash, error) {
	if len(all) == 0 {
		return "", nil
	}
	var sides []picture.Way
	for _, m := range all {
		if m.alone() {
			sides = append(sides, m.side(0))
			continue
		}
		sides = append(sides, picture.Way{Scene: m.scene(), Title: m.title(), Lines: []string{m.figures(), m.way.Says}, Chosen: m.id == "sensible"})
	}
	return c.draw(func(w io.Writer) error {
		return picture.SideBySide(w, []string{"Ways to print it, all drawn to the same scale."}, sides, picture.Usual(), picture.Options{Workers: 1})
	})
}

func (m *made) title() string { return upper(m.id) }

// figures says time, grams and price in a line.
func (m *made) figures() string {
	grams := 0.0
	for _, id := range slices.Sorted(maps.Keys(m.way.Grams)) {
		grams += m.way.Grams[id]
	}
	return fmt.Sprintf("%s, %.0f g, %s", hours(m.way.Seconds), grams, money(m))
}
