package mesh

import (
	"runtime"
	"slices"
	"sync"
)

// Notation: facet f has corners 0, 1, 2; its side 3f+k runs from corner k to
// corner k+1. An edge is an unordered pair of vertices with all the sides that
// run along it, either way.
//
// Idea: a counting sort of the sides by their smaller vertex, then a tiny sort
// of each vertex's dozen sides by the larger one. Two flat arrays, no pointers,
// 8 bytes a side. A map from vertex pairs to facets was four times slower and
// took six times the memory; a radix sort of whole keys moved everything twice.

// sides holds every edge of a mesh. Facets that name a vertex twice have no
// part in it: their sides cancel by themselves.
type sides struct {
	m     *Mesh
	start []int32  // sides of smaller end v are list[start[v]:start[v+1]]
	list  []uint64 // larger end<<32 | side<<1 | 1 when it runs from larger to smaller
}

func sideOf(e uint64) int32  { return int32(uint32(e) >> 1) }
func facetOf(e uint64) int32 { return sideOf(e) / 3 }
func backward(e uint64) bool { return e&1 == 1 }

// next3 and prev3 turn a corner index of a facet.
var (
	next3 = [3]int32{1, 2, 0}
	prev3 = [3]int32{2, 0, 1}
)

// ends returns the vertices a side runs from and to.
func (m *Mesh) ends(side int32) (from, to int32) {
	f := &m.F[side/3]
	k := side % 3
	return f[k], f[next3[k]]
}

// apex returns the corner opposite a side.
func (m *Mesh) apex(side int32) int32 { return m.F[side/3][prev3[side%3]] }

func collapsed(f [3]int32) bool { return f[0] == f[1] || f[1] == f[2] || f[2] == f[0] }

// share splits 0..n into at most one run for each core and works on them at
// once. What work does must not depend on how the runs fall.
func share(n, least int, work func(part, from, to int)) (parts int) {
	parts = max(1, min(runtime.GOMAXPROCS(0), 8, n/max(least, 1)))
	if parts == 1 {
		work(0, 0, n)
		return 1
	}
	var wg sync.WaitGroup
	for p := range parts {
		wg.Go(func() { work(p, n*p/parts, n*(p+1)/parts) })
	}
	wg.Wait()
	return parts
}

// sidesOf gathers the edges of m, which must be Valid. The order within an
// edge is by side, whatever the number of cores.
func sidesOf(m *Mesh) *sides {
	nv := len(m.V)
	counts := make([][]int32, 8)
	parts := share(len(m.F), 1<<14, func(part, from, to int) {
		c := make([]int32, nv)
		for _, f := range m.F[from:to] {
			if collapsed(f) {
				continue
			}
			c[min(f[0], f[1])]++
			c[min(f[1], f[2])]++
			c[min(f[2], f[0])]++
		}
		counts[part] = c
	})
	s := &sides{m: m, start: make([]int32, nv+1)}
	// counts[p][v] becomes where part p writes the next side of v.
	at := int32(0)
	for v := range nv {
		s.start[v] = at
		for _, c := range counts[:parts] {
			n := c[v]
			c[v] = at
			at += n
		}
	}
	s.start[nv] = at
	s.list = make([]uint64, at)
	share(len(m.F), 1<<14, func(part, from, to int) {
		c := counts[part]
		for i, f := range m.F[from:to] {
			if collapsed(f) {
				continue
			}
			side := uint64(3*(from+i)) << 1
			for k, a := range f {
				b := f[next3[k]]
				e := side + uint64(k)<<1
				if a > b {
					a, b, e = b, a, e|1
				}
				s.list[c[a]] = uint64(b)<<32 | e
				c[a]++
			}
		}
	})
	share(nv, 1<<13, func(_, from, to int) {
		for v := from; v < to; v++ {
			b := s.list[s.start[v]:s.start[v+1]]
			if len(b) > 24 {
				slices.Sort(b)
				continue
			}
			for i := 1; i < len(b); i++ {
				e, j := b[i], i
				for ; j > 0 && b[j-1] > e; j-- {
					b[j] = b[j-1]
				}
				b[j] = e
			}
		}
	})
	return s
}

// each calls visit for every edge whose smaller end lies in [from, to), with
// the sides along it; a and b are its ends, a < b.
func (s *sides) each(from, to int, visit func(a, b int32, along []uint64)) {
	for v := from; v < to; v++ {
		list := s.list[s.start[v]:s.start[v+1]]
		for len(list) > 0 {
			b := list[0] >> 32
			n := 1
			for n < len(list) && list[n]>>32 == b {
				n++
			}
			visit(int32(v), int32(b), list[:n])
			list = list[n:]
		}
	}
}

// along returns the sides that run along the edge a–b, none if there is no such edge.
func (s *sides) along(a, b int32) []uint64 {
	if a > b {
		a, b = b, a
	}
	list := s.list[s.start[a]:s.start[a+1]]
	from, _ := slices.BinarySearch(list, uint64(b)<<32)
	to, _ := slices.BinarySearch(list, uint64(b+1)<<32)
	return list[from:to]
}

// What mates says of a side that has no single mate.
const (
	open    = -1 // no other side runs along the edge
	crowded = -2 // more than one other side does
)

// mates gives each side the one other side along its edge, whichever way that
// runs, or open, or crowded. Sides of collapsed facets are open.
func (s *sides) mates() []int32 {
	mate := make([]int32, 3*len(s.m.F))
	for i := range mate {
		mate[i] = open
	}
	share(len(s.m.V), 1<<13, func(_, from, to int) {
		s.each(from, to, func(_, _ int32, along []uint64) {
			switch len(along) {
			case 1:
			case 2:
				p, q := sideOf(along[0]), sideOf(along[1])
				mate[p], mate[q] = q, p
			default:
				for _, e := range along {
					mate[sideOf(e)] = crowded
				}
			}
		})
	})
	return mate
}

// balance returns how many more sides run forward than backward.
func balance(along []uint64) int {
	n := 0
	for _, e := range along {
		if backward(e) {
			n--
		} else {
			n++
		}
	}
	return n
}
