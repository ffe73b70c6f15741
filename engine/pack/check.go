package pack

import (
	"fmt"
	"math"

	"platebook/engine/region"
)

// Check says whether plates are sound: every item placed once or among the
// unplaced, in a turn it may have, on a plate of its own group, within the
// build volume less its margin, apart from every other by the clearance, and no
// plate over the longest print. It goes by the outlines and knows nothing of
// how plates are made: grown by half the clearance, less two microns
// for rounding, no two may share anything.
func Check(items []Item, o Options, plates []Plate, unplaced []Unplaced) error {
	seen := make([]int, len(items))
	for _, u := range unplaced {
		if u.Item < 0 || u.Item >= len(items) || u.Reason == "" {
			return fmt.Errorf("unplaced item %d of %d, reason %q", u.Item, len(items), u.Reason)
		}
		seen[u.Item]++
	}
	for i, p := range plates {
		for _, at := range p.Placed {
			if at.Item < 0 || at.Item >= len(items) {
				return fmt.Errorf("plate %d holds item %d of %d", i, at.Item, len(items))
			}
			seen[at.Item]++
		}
		if err := p.check(items, o); err != nil {
			return fmt.Errorf("plate %d: %w", i, err)
		}
	}
	for i, n := range seen {
		if n != 1 {
			return fmt.Errorf("item %d is accounted for %d times", i, n)
		}
	}
	return nil
}

func (p Plate) check(items []Item, o Options) error {
	if len(p.Placed) == 0 {
		return fmt.Errorf("it is empty")
	}
	f := o.Platform
	f.Margin, f.Clearance = max(0, f.Margin), max(0, f.Clearance)
	room := region.Box{
		Min: region.Point{X: f.Margin, Y: f.Margin},
		Max: region.Point{X: f.Width - f.Margin, Y: f.Depth - f.Margin},
	}
	var on []int
	grown := make([]region.Region, len(p.Placed))
	boxes := make([]region.Box, len(p.Placed))
	for i, at := range p.Placed {
		it := items[at.Item]
		if it.Group != p.Group {
			return fmt.Errorf("item %d of group %q lies on a plate of %q", at.Item, it.Group, p.Group)
		}
		if f.Height > 0 && it.Height > f.Height {
			return fmt.Errorf("item %d is %d µm tall, the build volume %d", at.Item, it.Height, f.Height)
		}
		if at.Turn < 0 || at.Turn >= max(1, it.Turns) || math.Abs(at.Angle-angle(at.Turn, max(1, it.Turns))) > 1e-12 {
			return fmt.Errorf("item %d is turned by step %d (%v rad) of %d", at.Item, at.Turn, at.Angle, it.Turns)
		}
		r := at.Of(it)
		on = append(on, at.Item)
		if r.Empty() {
			continue // a micron thin, and gone as it was turned
		}
		b := r.Bounds()
		if min(b.Min.X-room.Min.X, b.Min.Y-room.Min.Y, room.Max.X-b.Max.X, room.Max.Y-b.Max.Y) < 0 {
			return fmt.Errorf("item %d lies in %v, beyond %v", at.Item, b, room)
		}
		if d := f.Clearance/2 - 2; d > 0 {
			r = r.Offset(d, region.Round, 1)
		}
		grown[i], boxes[i] = r, r.Bounds()
		for j := range i {
			if !overlap(boxes[i], boxes[j]) {
				continue
			}
			if both := region.Intersect(grown[i], grown[j]); !both.Empty() {
				return fmt.Errorf("items %d and %d are nearer than %d µm: grown by half of that they share %v mm² at %v",
					at.Item, p.Placed[j].Item, f.Clearance, both.Area(), both.Bounds())
			}
		}
	}
	if o.Longest != 0 && o.Time != nil {
		if t := o.Time(on); !(t <= o.Longest) || t != p.Time {
			return fmt.Errorf("it takes %v s, said to be %v s, of %v s allowed", t, p.Time, o.Longest)
		}
	}
	return nil
}

func overlap(a, b region.Box) bool {
	return a.Min.X < b.Max.X && b.Min.X < a.Max.X && a.Min.Y < b.Max.Y && b.Min.Y < a.Max.Y
}
