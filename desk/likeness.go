package desk

import (
	"context"
	"fmt"
	"time"

	"platebook/engine/likeness"
)

// Resemblance is a declined model that another looks like. It decides nothing:
// staff look at the two, read why the first was declined, and judge.
type Resemblance struct {
	Code   Code // of the request that was declined
	Reason string
	At     time.Time
	Apart  float64 // 0 the same shape, 1 nothing in common
	Says   string
}

// mostAlike is how many are shown beside a file.
const mostAlike = 5

// Resembles lists what was declined before and looks like a shape, the
// nearest first; shape is a print of the likeness room, as text.
func (d *Desk) Resembles(ctx context.Context, shape string) ([]Resemblance, error) {
	var all []Resemblance
	err := d.Store.Read(ctx, func(tx Tx) error {
		shapes, err := tx.Shapes()
		if err != nil {
			return err
		}
		all = resembling(shape, shapes)
		return nil
	})
	return all, err
}

// findAlike sets beside the files what they look like.
func (v *RequestView) findAlike(tx Tx) error {
	var shapes []Shape
	for _, f := range v.Files {
		if f.Result == nil || f.Result.Shape == "" {
			continue
		}
		if shapes == nil {
			var err error
			if shapes, err = tx.Shapes(); err != nil {
				return err
			}
			if len(shapes) == 0 {
				return nil
			}
		}
		if alike := resembling(f.Result.Shape, shapes); len(alike) > 0 {
			v.Alike = append(v.Alike, FileAlike{f, alike})
		}
	}
	return nil
}

// resembling picks the shapes near enough to be shown. What cannot be read, or
// was made by another version, resembles nothing.
func resembling(shape string, shapes []Shape) []Resemblance {
	var p likeness.Print
	if p.UnmarshalText([]byte(shape)) != nil {
		return nil
	}
	var shelf likeness.Shelf
	for _, s := range shapes {
		var q likeness.Print
		if q.UnmarshalText([]byte(s.Shape)) != nil {
			q = likeness.Print{} // keeps the indices in step
		}
		shelf.Add(q)
	}
	var all []Resemblance
	for _, m := range shelf.Nearest(p, mostAlike) {
		if m.Apart > likeness.Alike {
			break
		}
		s := shapes[m.Index]
		say := "Looks like the model of " + string(s.Code)
		if m.Apart <= likeness.SameShape {
			say = "Most likely the same shape as in " + string(s.Code)
		}
		if m.Hand == likeness.Mirrored {
			say += ", mirrored"
		}
		all = append(all, Resemblance{s.Code, s.Reason, s.At, m.Apart, fmt.Sprintf("%s (%.0f %% apart).", say, 100*m.Apart)})
	}
	return all
}
