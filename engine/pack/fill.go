package pack

import "math/bits"

// A rule says which of two places is better; all like the lower x in a row.
type rule int

const (
	lowFirst  rule = iota // lowest lower side, then leftmost
	lowTop                // lowest upper side, then leftmost
	leftFirst             // leftmost right side, then lowest
	corner                // nearest to the corner, by right plus upper side
	rules
)

// key is compared number by number; less is better.
type key [3]int32

func (a key) less(b key) bool {
	for i := range a {
		if a[i] != b[i] {
			return a[i] < b[i]
		}
	}
	return false
}

func (r rule) key(x, y int32, v *variant) key {
	right, top := x+v.cells.wide, y+v.cells.high()
	switch r {
	case lowFirst:
		return key{y, x, top}
	case lowTop:
		return key{top, right, y}
	case leftFirst:
		return key{right, top, y}
	}
	return key{right + top, top, y}
}

// best returns the best anchor left in f.
func (f *field) best(r rule, v *variant) (x, y int32, best key, ok bool, work int64) {
	for k := f.low; k < f.ny; k++ {
		words := int32(f.words)
		if ok { // as far as there may be a better one
			end := best[0] - v.cells.wide
			if r == corner {
				end -= k + v.cells.high()
			}
			if end <= 0 {
				break
			}
			words = min(words, (end+63)/64)
		}
		row := f.bits[int(k)*f.words:][:words]
		work++
		for i, w := range row {
			if w == ^uint64(0) {
				continue
			}
			at := int32(i)*64 + int32(bits.TrailingZeros64(^w))
			if q := r.key(at, k, v); !ok || q.less(best) {
				x, y, best, ok = at, k, q, true
			}
			break
		}
		if !ok {
			f.low = k + 1
		} else if r <= lowTop {
			break // higher rows are worse
		}
	}
	return x, y, best, ok, work
}

// spot is a part as placed in cells.
type spot struct {
	gene gene
	v    *variant
	x, y int32
}

// A gene is a part and the variant it must be placed in, −1 for any.
type gene struct{ part, only int32 }

// fill lays the parts of order out on one plate, in that order, each where the
// rule likes it best, and returns what was placed and what did not fit.
//
// Invariant: a field that has heard of all parts on the plate has a bit unset
// for just the anchors at which its variant clashes with none of them.
func (s *search) fill(order []gene, r rule, placed []spot, rest []gene) ([]spot, []gene) {
	s.plate++
	placed, rest = placed[:0], rest[:0]
	s.onPlate = s.onPlate[:0]
	s.lost = 0
	free := s.cells
	for i, g := range order {
		p := s.parts[g.part]
		s.work += 4 // so that work never stands still
		if s.lost > s.may {
			return placed, append(rest, order[i:]...)
		}
		if p.shape.least > free || !s.timely(p.item) {
			rest = append(rest, g)
			s.lost += p.shape.least
			continue
		}
		var to spot
		var best key
		for i, v := range p.shape.used {
			if g.only >= 0 && int(g.only) != i || v.nx <= 0 || min(v.ny, s.rows(v)) <= 0 {
				continue
			}
			f := s.field(v, placed)
			x, y, k, ok, work := f.best(r, v)
			s.work += work + 4
			if ok && (to.v == nil || k.less(best)) {
				to, best = spot{g, v, x, y}, k
			}
		}
		if to.v == nil {
			rest = append(rest, g)
			s.lost += p.shape.least
			continue
		}
		placed = append(placed, to)
		free -= to.v.cells.area
		s.takes(p.item)
	}
	return placed, rest
}

// field returns the field of v with everything placed taken into account.
func (s *search) field(v *variant, placed []spot) *field {
	f := &s.fields[v.id]
	if f.plate != s.plate {
		f.reset(s.plate, v.nx, min(v.ny, s.rows(v)))
		s.work += int64(len(f.bits) / 4)
	}
	for ; f.done < len(placed) && f.low < f.ny; f.done++ {
		p := placed[f.done]
		s.work += f.add(s.clash(p.v, v), p.x, p.y)
	}
	return f
}

// clash returns the clash of two variants, which is kept while there is room.
func (s *search) clash(a, b *variant) *clash {
	at := a.id*len(s.fields) + b.id
	if c := s.clashes[at]; c != nil {
		return c
	}
	var c clash
	if m := s.clashes[b.id*len(s.fields)+a.id]; m != nil {
		c = m.mirrored()
		s.work += int64(2 * len(c.spans))
	} else {
		var work int64
		c, work = s.scratch.newClash(&a.cells, &b.cells)
		s.work += work
	}
	if s.kept += len(c.spans) + len(c.start); s.kept > mostKept {
		clear(s.clashes)
		s.kept = len(c.spans) + len(c.start)
	}
	s.clashes[at] = &c
	return &c
}

const mostKept = 1 << 24 // spans of clashes kept: 128 MB
