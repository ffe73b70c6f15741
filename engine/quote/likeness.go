package quote

import (
	"errors"
	"fmt"

	"platebook/engine/likeness"
	"platebook/engine/mesh"
)

// LookAlike is one file held against another. It decides nothing: staff look.
type LookAlike struct {
	File  string  `json:"file"`
	Apart float64 `json:"apart"` // 0 the same shape, 1 nothing in common
	Hand  string  `json:"hand"`
	Says  string  `json:"says"`
}

// LooksLike holds a file against others, whatever their size and however they
// are turned, and returns the most alike, nearest first, and sentences about
// others that cannot be read. The file itself must be readable.
func LooksLike(file Source, among []Source, most int) (alike []LookAlike, passed []string, err error) {
	if most < 1 {
		return nil, nil, errors.New("at least one look-alike must be asked for")
	}
	it, err := shapeOf(file)
	if err != nil {
		return nil, nil, err
	}
	var shelf likeness.Shelf
	var names []string
	for _, s := range among {
		p, err := shapeOf(s)
		if err != nil {
			passed = append(passed, err.Error())
			continue
		}
		shelf.Add(p)
		names = append(names, s.Name)
	}
	for _, m := range shelf.Nearest(it, most) {
		alike = append(alike, LookAlike{File: names[m.Index], Apart: m.Apart, Hand: m.Hand.String(), Says: sayLikeness(m.Likeness)})
	}
	return alike, passed, nil
}

func shapeOf(s Source) (likeness.Print, error) {
	m, err := mesh.Read(s.Bytes, s.Size, s.Name, mesh.Limits{})
	if err != nil {
		return likeness.Print{}, fmt.Errorf("%s: %w", s.Name, err)
	}
	healed, _ := mesh.Heal(m.Mesh)
	p, err := likeness.Of(healed)
	if err != nil {
		return p, fmt.Errorf("%s: %w", s.Name, err)
	}
	return p, nil
}

func sayLikeness(l likeness.Likeness) string {
	switch {
	case l.Apart > likeness.Alike:
		return "a different shape"
	case l.Hand == likeness.Mirrored && l.Apart <= likeness.SameShape:
		return "most likely the mirror image of the same shape"
	case l.Apart <= likeness.SameShape:
		return "most likely the same shape"
	}
	return "alike; look at both"
}
