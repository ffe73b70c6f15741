package pack

import (
	"math"

	"platebook/engine/region"
)

// stripRows is how many steps of the grid a strip may be deep.
const stripRows = 1 << 15

// Strip lays items out on one strip of the platform's width, whatever their
// group, and as short as it finds: for a look at how tightly parts can lie, and
// to hold the search against published strips. Depth, Height and Longest are
// not looked at. It returns how deep the strip is, margins included.
func Strip(items []Item, o Options) (Plate, region.Micron, []Unplaced) {
	o.Platform.Depth, o.Platform.Height, o.Longest = 0, 0, 0
	o = o.sane()
	o = o.afford(items, 2*region.Limit)
	need := region.Micron(0) // deep enough whatever the turns
	for i := range items {
		need += 2*size(&items[i]) + o.Platform.Clearance + 2*o.Grid
	}
	o.Grid = max(o.Grid, up(need, stripRows))
	o.Platform.Depth = min(need+2*o.Platform.Margin, region.Limit/4)
	fit, unplaced := sift(items, o)
	if len(fit) == 0 {
		return Plate{}, 0, unplaced
	}
	s := newSearch(items, fit, o)
	s.shortest()
	p, depth, left := s.strip()
	for _, i := range left {
		unplaced = append(unplaced, Unplaced{i, "finds no room: the strip is as long as can be; lay out fewer parts at a time"})
	}
	return p, depth, unplaced
}

// shortest searches for a short strip: a layout of one plate whose top is lower
// than any before. While a top is aimed at, the better layout is the one that
// leaves less out.
func (s *search) shortest() {
	least, tallest := 0, int32(0)
	for _, p := range s.parts {
		least += p.shape.least
		low := int32(math.MaxInt32)
		for _, v := range p.shape.used {
			low = min(low, v.cells.high())
		}
		tallest = max(tallest, low)
	}
	g := half(s.o.Platform.Clearance)
	w, _ := s.o.Platform.room()
	across := int(up(w+2*g, s.o.Grid))
	lowest := max(tallest, int32((least+across-1)/across))
	aim := func(top int32) {
		s.top = top
		s.cells = min(across*int(top), math.MaxInt32)
	}
	// Any order fits a strip long enough, unless that is longer than can be.
	aim(2*lowest + tallest)
	whole := func(p plan, may int) (merit, bool) {
		s.may = may
		m := s.lay(p, 1, nil)
		return m, m.plates == 1
	}
	first := plan{order: make([]gene, len(s.parts)), rule: lowFirst}
	for i := range first.order {
		first.order[i] = gene{int32(i), -1}
	}
	for s.best.order == nil {
		if _, ok := whole(first, math.MaxInt); ok {
			s.best = first
			break
		}
		if region.Micron(s.top)*s.o.Grid > s.o.Platform.Depth+region.Micron(2*g) {
			s.best, s.bestTop = first, s.top
			return
		}
		aim(2 * s.top)
	}
	reached := func() bool {
		top := int32(0)
		for _, t := range s.placed {
			top = max(top, t.y+t.v.cells.high())
		}
		s.bestTop = top
		aim(top - 1)
		return top <= lowest || s.work >= s.o.Work
	}
	if reached() {
		return
	}
	now, lost := s.best.clone(), math.MaxInt // what is lost with the aim at hand
	s.orders(func(order []gene) bool {
		for r := range rules {
			p := plan{order, r}
			_, ok := whole(p, lost)
			if s.lost < lost {
				now, lost = p.clone(), s.lost
			}
			if ok {
				s.best, lost = p.clone(), math.MaxInt
				if reached() {
					return false
				}
			}
			if s.work >= s.o.Work/4 {
				return false
			}
		}
		return true
	})
	for s.bestTop > lowest && s.work < s.o.Work {
		p := now.clone()
		s.change(&p)
		_, ok := whole(p, lost)
		if s.lost <= lost {
			now, lost = p, s.lost
		}
		if ok {
			s.best, lost = p.clone(), math.MaxInt
			if reached() {
				return
			}
		}
	}
}

// strip returns the best strip, its depth, and what found no room.
func (s *search) strip() (Plate, region.Micron, []int) {
	s.top, s.may, s.cells = s.bestTop, math.MaxInt, math.MaxInt32
	depth := region.Micron(0)
	plates, left := s.plates(1, func(placed []spot) {
		for _, t := range placed {
			depth = max(depth, region.Micron(t.y)*s.o.Grid+t.v.deep)
		}
		depth += 2 * s.o.Platform.Margin
		s.o.Platform.Depth = depth
	})
	return plates[0], depth, left
}
