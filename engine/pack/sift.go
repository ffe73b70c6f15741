package pack

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sync"

	"platebook/engine/region"
)

// shape is what copies of a part have in common.
type shape struct {
	outline  region.Region // canonical
	turns    int
	variants []*variant       // no two alike
	used     []*variant       // of them, by the search at hand
	far      bool             // from its own origin
	least    int              // cells of its smallest variant
	smallest [2]region.Micron // of its box, in the turn that is least too big
}

// part is an item that can be placed.
type part struct {
	item  int
	shape *shape
}

const (
	mostTurns   = 64
	utmostTurns = 720              // for what does not fit otherwise
	farthest    = region.Limit / 4 // from the origin, so that there is room to turn and grow
)

// sift makes out what each item covers and which fit no plate. Parts come sorted
// by group, then the largest first, in an order that does not depend on that of
// the items.
func sift(items []Item, o Options) (fit []part, unplaced []Unplaced) {
	known := map[look][]part{} // only ever looked up
	for i := range items {
		it := &items[i]
		var sh *shape
		l := lookOf(it)
		for _, p := range known[l] {
			if same(items[p.item].Outline, it.Outline) {
				sh = p.shape
				break
			}
		}
		if sh == nil {
			sh = newShape(it, o)
			known[l] = append(known[l], part{i, sh})
		}
		if why := sh.unfit(it, i, o); why != "" {
			unplaced = append(unplaced, Unplaced{i, why})
			continue
		}
		fit = append(fit, part{i, sh})
	}
	slices.SortFunc(fit, func(a, b part) int {
		p, q := &items[a.item], &items[b.item]
		if c := cmp.Compare(p.Group, q.Group); c != 0 {
			return c
		}
		if c := a.shape.compare(b.shape); c != 0 {
			return c
		}
		return cmp.Or(cmp.Compare(p.ID, q.ID), cmp.Compare(a.item, b.item))
	})
	return fit, unplaced
}

// look is what equal outlines agree in; few others do.
type look struct {
	turns, rings, points int
	area                 float64
	first                region.Point
}

func lookOf(it *Item) look {
	l := look{turns: it.Turns, rings: len(it.Outline), area: it.Outline.Area()}
	for _, ring := range it.Outline {
		if len(ring) > 0 && l.points == 0 {
			l.first = ring[0]
		}
		l.points += len(ring)
	}
	return l
}

func same(a, b region.Region) bool {
	return slices.EqualFunc(a, b, func(p, q region.Ring) bool { return slices.Equal(p, q) })
}

// compare puts large shapes first.
func (a *shape) compare(b *shape) int {
	if a == b {
		return 0
	}
	points := func(p, q region.Point) int { return cmp.Or(cmp.Compare(p.X, q.X), cmp.Compare(p.Y, q.Y)) }
	return cmp.Or(
		cmp.Compare(b.outline.Area(), a.outline.Area()),
		slices.CompareFunc(a.outline, b.outline, func(p, q region.Ring) int { return slices.CompareFunc(p, q, points) }),
		cmp.Compare(a.turns, b.turns),
	)
}

// steps returns the turns that are tried, most at most. Quarter turns stay in if
// they can.
func steps(turns, most int) []int {
	stride := max(1, (turns+most-1)/most)
	for n := most; n > most/2; n-- {
		if turns > n && turns%n == 0 && (n%4 == 0 || turns%4 != 0 || most < 4) {
			stride = turns / n
			break
		}
	}
	out := []int{0}
	for k := stride; k < turns; k += stride {
		out = append(out, k)
	}
	return out
}

// newShape works out what an item covers in each of its turns. Where it fits in
// none of those that are tried by and large, more are.
func newShape(it *Item, o Options) *shape {
	s := &shape{outline: region.Nonzero(it.Outline...), turns: it.Turns}
	all := s.outline.Bounds()
	if s.far = max(all.Max.X, all.Max.Y, -all.Min.X, -all.Min.Y) > farthest; s.far {
		return s
	}
	if s.outline.Empty() {
		return s
	}
	around := hull(s.outline)
	fat := sync.OnceValue(func() fat { return grown(s.outline, half(o.Platform.Clearance), o.Grid) })
	w, d := o.Platform.room()
	least := region.Micron(math.MaxInt64)
	for _, most := range []int{o.turns, mostTurns, utmostTurns} {
		for _, k := range steps(it.Turns, most) {
			turned := around.Turn(angle(k, s.turns))
			if turned.Empty() {
				continue // it was a micron thin
			}
			b := turned.Bounds()
			wide, deep := b.Max.X-b.Min.X, b.Max.Y-b.Min.Y
			if over := max(wide-w, deep-d); over < least {
				least, s.smallest = over, [2]region.Micron{wide, deep}
			}
			if wide <= w && deep <= d && len(s.variants) < mostTurns {
				s.add(k, b, o, fat())
			}
		}
		if len(s.variants) > 0 || it.Turns <= most {
			break
		}
	}
	return s
}

// add adds the variant of turn k, whose box is b, unless there is one like it.
func (s *shape) add(k int, b region.Box, o Options, f fat) {
	w, d := o.Platform.room()
	g := half(o.Platform.Clearance)
	v := &variant{turn: k, corner: b.Min, wide: b.Max.X - b.Min.X, deep: b.Max.Y - b.Min.Y}
	v.nx, v.ny = int32((w-v.wide)/o.Grid)+1, int32((d-v.deep)/o.Grid)+1
	turned := f.turned(k, s.turns)
	if turned.Empty() {
		return
	}
	v.cells = cover(turned, region.Box{
		Min: region.Point{X: b.Min.X - g, Y: b.Min.Y - g},
		Max: region.Point{X: b.Max.X + g, Y: b.Max.Y + g},
	}, o.Grid)
	if slices.ContainsFunc(s.variants, func(u *variant) bool {
		return u.nx == v.nx && u.ny == v.ny && u.cells.equal(&v.cells)
	}) {
		return
	}
	if s.least == 0 || v.cells.area < s.least {
		s.least = v.cells.area
	}
	s.variants = append(s.variants, v)
}

// unfit says why it cannot be placed, in words, or nothing.
func (s *shape) unfit(it *Item, i int, o Options) string {
	p := o.Platform
	w, d := p.room()
	switch {
	case s.outline.Empty():
		return "has no footprint: its outline is empty, so there is nothing to lay out"
	case s.far:
		return fmt.Sprintf("lies more than %s mm from the origin of its own frame, too far to be turned about it: centre it", mm(farthest))
	case w <= 0 || d <= 0:
		return fmt.Sprintf("has nowhere to go: a platform of %s × %s mm with a margin of %s mm leaves no room; correct the printer's profile",
			mm(p.Width), mm(p.Depth), mm(p.Margin))
	case p.Height > 0 && it.Height > p.Height:
		return fmt.Sprintf("is %s mm tall and the build volume %s mm: print it smaller, lay it down, split it, or use a larger printer",
			mm(it.Height), mm(p.Height))
	case len(s.variants) == 0:
		turned := ""
		if it.Turns > 1 {
			turned = ", in the turn that suits it best,"
		}
		return fmt.Sprintf("takes %s × %s mm%s and the platform has room for %s × %s mm: print it smaller, split it, or use a larger printer",
			mm(s.smallest[0]), mm(s.smallest[1]), turned, mm(w), mm(d))
	}
	if o.Longest != 0 {
		if t := o.Time([]int{i}); !(t <= o.Longest) {
			return fmt.Sprintf("takes %s by itself and the longest print allowed is %s: print it smaller, coarser, or in pieces",
				duration(t), duration(o.Longest))
		}
	}
	return ""
}

// mm says a length in mm, to a tenth if it is not whole.
func mm(m region.Micron) string {
	if m%1000 == 0 {
		return fmt.Sprint(int64(m / 1000))
	}
	return fmt.Sprintf("%.1f", float64(m)/1000)
}

// duration says seconds in hours and minutes, rounded up.
func duration(s float64) string {
	if !(s >= 0 && s < 1e9) {
		return "a time that is no number"
	}
	m := int64(math.Ceil(s / 60))
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}
