package mesh

import (
	"math"
	"slices"
)

// Which shells lie inside which. A line straight up from a point on a shell
// meets the facets of the others; each met from below counts −1, each met from
// above, that is left through, +1. The sum is how many bodies lie around the
// point less how many cavities.
//
// A line through a vertex or an edge is no special case: a facet is met when an
// odd number of its sides, seen from above, pass on the +y side of the point,
// and a side passes by a half-open rule that depends on nothing but its two
// ends. Facets that share a side always agree about it, so none is counted
// twice or missed.
//
// A grid over x and y tells which facets a line can meet. It is coarsened until
// its lists stay within a few times the number of facets, so a hostile file
// costs time in proportion; when even the looking would cost too much the
// question stays open.

// holding is what lies around a shell.
type holding struct {
	shell int32
	by    []int32 // the closed shells that contain it, in order
	known bool    // whether by was found out
}

// judge finds, for each shell that is closed and negative, how many bodies less
// cavities lie around it.
func judge(sh *shells) {
	var ask []int32
	for i := range sh.list {
		b := &sh.list[i]
		if b.unpaired == 0 && b.volume < 0 && !b.flat() {
			ask = append(ask, int32(i))
		}
	}
	for _, h := range sh.holders(ask) {
		b := &sh.list[h.shell]
		b.around = 0
		for _, o := range h.by {
			if sh.list[o].volume > 0 {
				b.around++
			} else {
				b.around--
			}
		}
	}
}

// nestingWork bounds how many facets holders looks at, those it
// meets counted many times as they are sorted: a fraction of a second's worth.
const nestingWork = 30_000_000

// holders finds the closed shells around each shell asked for. It asks at three
// facets of each and takes the middle answer, in case shells touch or cross.
func (sh *shells) holders(ask []int32) []holding {
	if len(ask) == 0 {
		return nil
	}
	m := sh.s.m
	out := make([]holding, len(ask))
	number := make([]int32, len(sh.list)) // of a shell in ask, plus 1
	for k, i := range ask {
		out[k].shell = i
		number[i] = int32(k) + 1
	}
	samples := make([][3]Vec, len(ask))
	seen := make([]int, len(ask))
	boxes := make([]Box, len(sh.list))
	for i := range boxes {
		boxes[i] = noBox
	}
	for f, i := range sh.of {
		if i < 0 {
			continue
		}
		t := m.F[f]
		for _, v := range t {
			boxes[i].include(m.V[v])
		}
		if number[i] == 0 {
			continue
		}
		k := number[i] - 1
		n := sh.list[i].facets
		p := m.V[t[0]].Add(m.V[t[1]]).Add(m.V[t[2]]).times(1. / 3)
		for j := range 3 {
			if seen[k] == n*(2*j+1)/6 {
				samples[k][j] = p
			}
		}
		seen[k]++
	}
	g := gridOver(m, func(f int) bool {
		i := sh.of[f]
		return i >= 0 && sh.list[i].unpaired == 0 && !sh.list[i].flat()
	})
	work := 0
	for k, i := range ask {
		var by [3][]int32
		for j, p := range samples[k] {
			c := g.cell(p)
			work += len(c)
			if work > nestingWork {
				return out
			}
			var met []int32 // 2·shell, +1 if left; sorted, so a shell's meetings are together
			for _, f := range c {
				if o := sh.of[f]; o != i {
					switch meets(m, m.F[f], p) {
					case 1:
						met = append(met, o<<1|1)
					case -1:
						met = append(met, o<<1)
					}
				}
			}
			work += 16 * len(met)
			slices.Sort(met)
			for a := 0; a < len(met); {
				b, sum := a, 0
				for ; b < len(met) && met[b]>>1 == met[a]>>1; b++ {
					sum += int(met[b]&1)*2 - 1
				}
				o := met[a] >> 1
				if sum != 0 && boxes[i].within(boxes[o]) && sh.smaller(i, o) {
					by[j] = append(by[j], o)
				}
				a = b
			}
		}
		slices.SortStableFunc(by[:], func(p, q []int32) int { return len(p) - len(q) })
		out[k].by, out[k].known = by[1], true
	}
	return out
}

// smaller reports whether shell i bounds less than o. Shells that cross may each
// seem to lie in the other; this settles it, so that "lies in" has no rings.
func (sh *shells) smaller(i, o int32) bool {
	v, w := math.Abs(sh.list[i].volume), math.Abs(sh.list[o].volume)
	return v < w || v == w && i > o
}

// meets returns +1 if the line up from p leaves through the facet's back, −1 if
// it enters through its face, 0 if it misses.
func meets(m *Mesh, f [3]int32, p Vec) int {
	a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
	if max(a[2], b[2], c[2]) < p[2] {
		return 0
	}
	n := b2i(passes(a, b, p)) + b2i(passes(b, c, p)) + b2i(passes(c, a, p))
	if n&1 == 0 {
		return 0
	}
	normal := b.Sub(a).Cross(c.Sub(a))
	// Above when p lies on the facet's under side: the plane's height at p.
	under := normal.Dot(a.Sub(p))
	switch {
	case normal[2] > 0 && under > 0:
		return 1
	case normal[2] < 0 && under < 0:
		return -1
	}
	return 0
}

// passes reports whether the side a–b, seen from above, crosses the line from p
// towards +y. Its answer is the same for b–a.
func passes(a, b, p Vec) bool {
	if (a[0] <= p[0]) == (b[0] <= p[0]) {
		return false
	}
	if a[0] > b[0] {
		a, b = b, a
	}
	d := float64((b[0]-a[0])*(p[1]-a[1])) - float64((b[1]-a[1])*(p[0]-a[0]))
	return d < 0
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// grid lists, for each cell over x and y, the facets whose box touches it.
type grid struct {
	min   Vec
	scale [2]float64 // cells per mm
	n     [2]int
	start []int32
	list  []int32
}

func gridOver(m *Mesh, include func(f int) bool) *grid {
	box := m.Bounds()
	g := &grid{min: box.Min}
	size := box.Size()
	count := 0
	for f := range m.F {
		if include(f) {
			count++
		}
	}
	side := min(1024, max(1, int(math.Sqrt(float64(count)/2))))
	// Invariant: halving the side at worst leaves one cell, whose list is within bounds.
	for {
		for k := range 2 {
			g.n[k], g.scale[k] = 1, 0
			if size[k] > 0 {
				g.n[k], g.scale[k] = side, float64(side)/size[k]
			}
		}
		total := 0
		for f := range m.F {
			if include(f) {
				x0, x1, y0, y1 := g.span(m, f)
				total += (x1 - x0 + 1) * (y1 - y0 + 1)
			}
		}
		if total <= 8*count+1024 || side == 1 {
			break
		}
		side /= 2
	}
	g.start = make([]int32, g.n[0]*g.n[1]+1)
	visit := func(do func(cell int, f int32)) {
		for f := range m.F {
			if include(f) {
				x0, x1, y0, y1 := g.span(m, f)
				for y := y0; y <= y1; y++ {
					for x := x0; x <= x1; x++ {
						do(y*g.n[0]+x, int32(f))
					}
				}
			}
		}
	}
	visit(func(cell int, _ int32) { g.start[cell+1]++ })
	for i := 1; i < len(g.start); i++ {
		g.start[i] += g.start[i-1]
	}
	g.list = make([]int32, g.start[len(g.start)-1])
	at := slices.Clone(g.start)
	visit(func(cell int, f int32) {
		g.list[at[cell]] = f
		at[cell]++
	})
	return g
}

// place returns the cell column (k 0) or row (k 1) of a coordinate.
func (g *grid) place(k int, x float64) int {
	return min(g.n[k]-1, max(0, int((x-g.min[k])*g.scale[k])))
}

func (g *grid) span(m *Mesh, f int) (x0, x1, y0, y1 int) {
	a, b, c := m.V[m.F[f][0]], m.V[m.F[f][1]], m.V[m.F[f][2]]
	return g.place(0, min(a[0], b[0], c[0])), g.place(0, max(a[0], b[0], c[0])),
		g.place(1, min(a[1], b[1], c[1])), g.place(1, max(a[1], b[1], c[1]))
}

// cell returns the facets a line up from p can meet.
func (g *grid) cell(p Vec) []int32 {
	i := g.place(1, p[1])*g.n[0] + g.place(0, p[0])
	return g.list[g.start[i]:g.start[i+1]]
}
