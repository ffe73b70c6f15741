package pack

import (
	"math"

	"platebook/engine/region"
)

// stripRows is how many steps of the grid a strip may be deep.
const stripRows = 1 << 14

// Strip lays items out on one strip of the platform's width, whatever their
// group, and as short as it finds: for a look at how tightly parts can lie, and
// to hold the search against published strips. Depth, Height and Longest are
// not looked at. It returns how deep the strip is, margins included.
func Strip(items []Item, o Options) (Plate, region.Micron, []Unplaced) {
	o.Platform.Depth, o.Platform.Height, o.Longest = 0, 0, 0
	o = o.sane()
	o = o.afford(items, region.Limit)
	o.Platform.Depth = min(o.Grid*stripRows, region.Limit/4)
	fit, unplaced := sift(items, o)
	if len(fit) == 0 {
		return Plate{}, 0, unplaced
	}
	s := newSearch(items, fit, o)
	s.shortest()
	p, depth := s.strip()
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
	// Any order fits a strip long enough.
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

// strip returns the best strip and its depth.
func (s *search) strip() (Plate, region.Micron) {
	s.top, s.may = s.bestTop, math.MaxInt
	s.cells = math.MaxInt32
	var out Plate
	s.lay(s.best, 1, func(placed []spot) {
		depth := region.Micron(0)
		for _, t := range placed {
			depth = max(depth, region.Micron(t.y)*s.o.Grid+t.v.deep)
		}
		s.o.Platform.Depth = depth + 2*s.o.Platform.Margin
		out = s.settle(placed)
	})
	return out, s.o.Platform.Depth
}
