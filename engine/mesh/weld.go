package mesh

import (
	"math"
	"slices"
)

// Welding by tolerance. Only vertices on open edges are welded: what closes
// already needs nothing, and a whole-mesh weld would blunt fine detail. Each
// vertex, in order, joins the nearest earlier one within the tolerance that has
// not joined another itself, so a chain of close points does not run together.
//
// A weld maps facets to facets or to nothing, so what was balanced stays so. It
// is taken only if it leaves fewer open edges and crowds no edge; points at
// which it would crowd one are left out and it is tried again.
//
// The tolerance is tried at a tenth first: less moving is better if it does.

// weldTolerance is how far apart vertices may be welded, as a share of the
// diagonal of the box.
const weldTolerance = 1e-5

// cells per axis of a pointGrid: a cell is no smaller than the weld tolerance.
const cellBits = 17

// pointGrid finds points near a place: their cells sorted by number.
type pointGrid struct {
	m    *Mesh
	min  Vec
	size float64 // of a cell
	cell []uint64
	v    []int32 // vertex in cell, sorted with it
	work int     // vertices looked at
}

// weldWork bounds how many vertices a weld looks at: a fraction of a second's worth.
// Only a file made to crowd one spot comes near it.
const weldWork = 20_000_000

func gridOfPoints(m *Mesh, vs []int32, box Box, size float64) *pointGrid {
	g := &pointGrid{m: m, min: box.Min, size: size}
	type at struct {
		cell uint64
		v    int32
	}
	list := make([]at, len(vs))
	for i, v := range vs {
		list[i] = at{g.number(g.coordinates(m.V[v])), v}
	}
	slices.SortFunc(list, func(p, q at) int {
		if p.cell != q.cell {
			if p.cell < q.cell {
				return -1
			}
			return 1
		}
		return int(p.v - q.v)
	})
	g.cell = make([]uint64, len(list))
	g.v = make([]int32, len(list))
	for i, a := range list {
		g.cell[i], g.v[i] = a.cell, a.v
	}
	return g
}

func (g *pointGrid) coordinates(p Vec) (c [3]int64) {
	for k := range 3 {
		c[k] = int64(math.Floor((p[k] - g.min[k]) / g.size))
		c[k] = min(1<<cellBits-1, max(0, c[k]))
	}
	return c
}

func (g *pointGrid) number(c [3]int64) uint64 {
	return uint64(c[0])<<(2*cellBits) | uint64(c[1])<<cellBits | uint64(c[2])
}

// near calls visit with every vertex in the cell of p or one touching it.
func (g *pointGrid) near(p Vec, visit func(v int32)) {
	c := g.coordinates(p)
	for x := max(0, c[0]-1); x <= min(1<<cellBits-1, c[0]+1); x++ {
		for y := max(0, c[1]-1); y <= min(1<<cellBits-1, c[1]+1); y++ {
			// The three cells along z are neighbours in the list.
			lo := g.number([3]int64{x, y, max(0, c[2]-1)})
			hi := g.number([3]int64{x, y, min(1<<cellBits-1, c[2]+1)}) + 1
			i, _ := slices.BinarySearch(g.cell, lo)
			for ; i < len(g.cell) && g.cell[i] < hi; i++ {
				g.work++
				visit(g.v[i])
			}
		}
	}
}

// rimVertices returns the vertices at the ends of sides, each once, in order.
func rimVertices(m *Mesh, list []int32) []int32 {
	vs := make([]int32, 0, 2*len(list))
	for _, side := range list {
		a, b := m.ends(side)
		vs = append(vs, a, b)
	}
	slices.Sort(vs)
	return slices.Compact(vs)
}

// weldNear returns m with vertices on open edges welded within tol mm, how many
// joined another, and the edges of the result. It returns m itself when that
// brings nothing.
func weldNear(m *Mesh, e edgeSurvey, box Box, tol float64) (*Mesh, int) {
	if len(e.open) == 0 || !(tol > 0) {
		return m, 0
	}
	vs := rimVertices(m, e.open)
	g := gridOfPoints(m, vs, box, max(tol, box.Size().Len()/(1<<cellBits-2)))
	barred := make([]bool, len(m.V))
	for range 3 {
		to := make([]int32, len(m.V))
		for i := range to {
			to[i] = int32(i)
		}
		joined := 0
		for _, v := range vs {
			if barred[v] {
				continue
			}
			if g.work > weldWork {
				return m, 0
			}
			best, d := v, tol
			g.near(m.V[v], func(u int32) {
				if u >= v || to[u] != u || barred[u] {
					return
				}
				if l := m.V[u].Sub(m.V[v]).Len(); l < d || l == d && u < best {
					best, d = u, l
				}
			})
			if best != v {
				to[v] = best
				joined++
			}
		}
		if joined == 0 {
			return m, 0
		}
		w := &Mesh{V: m.V, F: make([][3]int32, len(m.F)), Colour: m.Colour}
		for i, f := range m.F {
			w.F[i] = [3]int32{to[f[0]], to[f[1]], to[f[2]]}
		}
		s := sidesOf(w)
		f := surveyEdges(s)
		if f.crowded <= e.crowded {
			if len(f.open) < len(e.open) {
				return w, joined
			}
			return m, 0
		}
		// Leave out what crowds an edge.
		crowds := make([]bool, len(m.V))
		s.each(0, len(w.V), func(a, b int32, along []uint64) {
			if len(along) > 2 {
				crowds[a], crowds[b] = true, true
			}
		})
		for v, u := range to {
			if crowds[u] {
				barred[v] = true
			}
		}
	}
	return m, 0
}
