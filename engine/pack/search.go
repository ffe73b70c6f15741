package pack

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/region"
)

// Searching for few plates.
//
// Idea. A layout is the outcome of an order of the parts, a turn demanded of
// some of them, and a rule by which each finds its place: plates are filled one
// after the other, each with whatever of the order still fits. Orders by size
// come first, then patterns of turns in which copies may interlock, then the
// best so far is changed a little, over and over, and the change kept if it is
// no worse. Of two layouts with as many plates the better is the one with the
// fuller plates, by sum of squares (E. Falkenauer, A hybrid grouping genetic
// algorithm for bin packing, 1996, MEMORY): it is nearer to emptying one.
//
// Work is counted, not timed, and chance comes from a seed that never changes,
// so a layout is the same everywhere.

// search is what a search works in.
type search struct {
	items    []Item
	o        Options
	parts    []part     // the largest first
	variants []*variant // by id
	cells    int        // of a plate
	top      int32      // cells an upper side may reach

	fields  []field  // by variant
	clashes []*clash // by variant, times the number of variants, and variant
	kept    int      // size of clashes
	scratch scratch

	plate   int   // plates filled so far, which tells fields apart
	onPlate []int // items on the plate at hand, ascending; only if time is limited
	asked   []int // those and one more
	placed  []spot
	a, b    []gene // what is left for the next plate, by turns
	may     int    // cells of parts that may be left out before fill gives up
	lost    int    // cells it left out

	work    int64
	chance  uint64
	best    plan
	bestTop int32 // of a strip
}

const mostVariants = 2048

func newSearch(items []Item, parts []part, o Options) *search {
	s := &search{items: items, o: o, parts: parts, top: math.MaxInt32, may: math.MaxInt}
	g := half(o.Platform.Clearance)
	w, d := o.Platform.room()
	s.cells = int(up(w+2*g, o.Grid)) * int(up(d+2*g, o.Grid))
	var shapes []*shape
	seen := map[*shape]bool{}
	n := 0
	for _, p := range parts {
		if !seen[p.shape] {
			seen[p.shape] = true
			shapes = append(shapes, p.shape)
			n += len(p.shape.variants)
		}
	}
	every := (n + mostVariants - 1) / mostVariants // which variants are used
	for _, sh := range shapes {
		sh.used = sh.used[:0]
		for i := 0; i < len(sh.variants); i += every {
			v := sh.variants[i]
			v.id = len(s.variants)
			s.variants = append(s.variants, v)
			sh.used = append(sh.used, v)
		}
	}
	s.fields = make([]field, len(s.variants))
	s.clashes = make([]*clash, len(s.variants)*len(s.variants))
	return s
}

// rows returns how many rows of anchors v has below the top.
func (s *search) rows(v *variant) int32 { return max(0, s.top-v.cells.high()+1) }

// timely says whether the plate at hand may hold an item as well.
func (s *search) timely(item int) bool {
	if s.o.Longest == 0 {
		return true
	}
	at, _ := slices.BinarySearch(s.onPlate, item)
	s.asked = append(s.asked[:0], s.onPlate[:at]...)
	s.asked = append(s.asked, item)
	s.asked = append(s.asked, s.onPlate[at:]...)
	s.work += int64(100 + 2*len(s.asked))
	return s.o.Time(s.asked) <= s.o.Longest
}

// takes puts an item on the plate at hand.
func (s *search) takes(item int) {
	if s.o.Longest != 0 {
		at, _ := slices.BinarySearch(s.onPlate, item)
		s.onPlate = slices.Insert(s.onPlate, at, item)
	}
}

// plan is an order with the rule to lay it out by.
type plan struct {
	order []gene
	rule  rule
}

func (p plan) clone() plan { return plan{slices.Clone(p.order), p.rule} }

// merit is what a layout is judged by.
type merit struct {
	plates int
	full   float64 // sum of squares
}

func (a merit) worse(b merit) bool {
	return a.plates > b.plates || a.plates == b.plates && a.full < b.full
}

// lay lays out p on at most limit plates and shows each to keep, if any. If not
// all fit, the merit is that of plates without number.
func (s *search) lay(p plan, limit int, keep func([]spot)) merit {
	var m merit
	rest := p.order
	for len(rest) > 0 && m.plates < limit {
		s.placed, s.a = s.fill(rest, p.rule, s.placed, s.a)
		if len(s.placed) == 0 {
			break // only if Time does not say the same twice
		}
		if keep != nil {
			keep(s.placed)
		}
		m.plates++
		full := 0
		for _, t := range s.placed {
			full += t.v.cells.area
		}
		f := float64(full) / float64(s.cells)
		if s.o.Longest != 0 {
			f = max(f, s.o.Time(s.onPlate)/s.o.Longest)
		}
		m.full += float64(f * f)
		s.a, s.b = s.b, s.a
		rest = s.b
	}
	if len(rest) > 0 {
		m.plates = math.MaxInt
	}
	return m
}

// random returns a number from 0 to n−1 (G. Steele, D. Lea, C. Flood, Fast
// splittable pseudorandom number generators, 2014, MEMORY).
func (s *search) random(n int) int {
	s.chance += 0x9e3779b97f4a7c15
	z := s.chance
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return int((z ^ z>>31) % uint64(n))
}

// orders calls f with orders to begin with until it says to stop.
func (s *search) orders(f func(order []gene) bool) {
	n := len(s.parts)
	base := make([]gene, n)
	for i := range base {
		base[i] = gene{int32(i), -1}
	}
	kinds := 0
	for i := range s.parts {
		if i == 0 || s.parts[i].shape != s.parts[i-1].shape {
			kinds++
		}
	}
	if !f(base) {
		return
	}
	if kinds > 1 {
		for _, size := range []func(v *variant) region.Micron{
			func(v *variant) region.Micron { return max(v.wide, v.deep) },
			func(v *variant) region.Micron { return v.wide + v.deep },
			func(v *variant) region.Micron { return min(v.wide, v.deep) },
			func(v *variant) region.Micron { return v.deep },
			func(v *variant) region.Micron { return v.wide },
		} {
			o := slices.Clone(base)
			slices.SortStableFunc(o, func(a, b gene) int {
				return cmp.Compare(size(s.parts[b.part].shape.used[0]), size(s.parts[a.part].shape.used[0]))
			})
			if !f(o) {
				return
			}
		}
	}
	if s.o.Longest != 0 {
		times := make([]float64, n)
		for i, p := range s.parts {
			times[i] = s.o.Time([]int{p.item})
		}
		o := slices.Clone(base)
		slices.SortStableFunc(o, func(a, b gene) int { return cmp.Compare(times[b.part], times[a.part]) })
		if !f(o) {
			return
		}
	}
	// Copies in turns a and b alternately.
	for a := range int32(mostPattern) {
		for b := range int32(mostPattern) {
			o := slices.Clone(base)
			another := false // layout than before
			for i := range o {
				used := int32(len(s.parts[i].shape.used))
				k := a
				if i%2 == 1 {
					k = b
				}
				o[i].only = k * max(1, used/mostPattern) % used
				another = another || max(a, b) < used
			}
			if another && !f(o) {
				return
			}
		}
	}
}

const mostPattern = 8

// change alters p a little.
func (s *search) change(p *plan) {
	n := len(p.order)
	if s.random(24) == 0 {
		p.rule = rule(s.random(int(rules)))
	}
	for range 1 + s.random(3) {
		i, j := s.random(n), s.random(n)
		switch s.random(3) {
		case 0:
			p.order[i], p.order[j] = p.order[j], p.order[i]
		case 1:
			g := p.order[i]
			p.order = slices.Insert(slices.Delete(p.order, i, i+1), j, g)
		default:
			used := len(s.parts[p.order[i].part].shape.used)
			p.order[i].only = int32(s.random(used+1)) - 1
		}
	}
}

// fewest searches for few plates; the best is left in s.best.
func (s *search) fewest() {
	least := 0
	for _, p := range s.parts {
		least += p.shape.least
	}
	least = (least + s.cells - 1) / s.cells
	first := true
	var m merit
	done := func() bool { return m.plates <= max(1, least) || s.work >= s.o.Work }
	s.orders(func(order []gene) bool {
		for r := range rules {
			p := plan{order, r}
			limit := math.MaxInt
			if !first {
				limit = m.plates
			}
			if got := s.lay(p, limit, nil); first || m.worse(got) {
				m, s.best, first = got, p.clone(), false
			}
			if done() {
				return false
			}
		}
		return true
	})
	for now := m; !done(); {
		p := s.best.clone()
		s.change(&p)
		if got := s.lay(p, now.plates, nil); !got.worse(now) {
			now, m, s.best = got, got, p
		}
	}
}

// plates returns the best layout, limit plates at most, and what it could not
// place after all. It calls seen, if any, before each.
func (s *search) plates(limit int, seen func([]spot)) (out []Plate, left []int) {
	missing := make([]bool, len(s.parts))
	for i := range missing {
		missing[i] = true
	}
	s.lay(s.best, limit, func(placed []spot) {
		if seen != nil {
			seen(placed)
		}
		out = append(out, s.settle(placed))
		for _, t := range placed {
			missing[t.gene.part] = false
		}
	})
	for i, m := range missing {
		if m {
			left = append(left, s.parts[i].item)
		}
	}
	return out, left
}

// settle turns cells into a plate, in the middle of the platform.
func (s *search) settle(placed []spot) Plate {
	grid := s.o.Grid
	w, d := s.o.Platform.room()
	right, top := region.Micron(0), region.Micron(0)
	for _, t := range placed {
		right = max(right, region.Micron(t.x)*grid+t.v.wide)
		top = max(top, region.Micron(t.y)*grid+t.v.deep)
	}
	left, low := s.o.Platform.Margin+(w-right)/2, s.o.Platform.Margin+(d-top)/2
	p := Plate{Group: s.items[s.parts[placed[0].gene.part].item].Group}
	for _, t := range placed {
		it := s.parts[t.gene.part].item
		p.Placed = append(p.Placed, Placement{
			Item:  it,
			X:     left + region.Micron(t.x)*grid - t.v.corner.X,
			Y:     low + region.Micron(t.y)*grid - t.v.corner.Y,
			Turn:  t.v.turn,
			Angle: angle(t.v.turn, s.items[it].Turns),
		})
	}
	slices.SortFunc(p.Placed, func(a, b Placement) int { return a.Item - b.Item })
	if s.o.Longest != 0 {
		p.Time = s.o.Time(s.onPlate)
	}
	return p
}
