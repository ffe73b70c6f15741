package slice

import (
	"slices"
	"sync"

	"platebook/engine/mesh"
)

// Which facets meet which plane.
//
// Notation. n facets, m planes with rising z₀ … z₍ₘ₋₁₎, k segments in all. The
// rank of a vertex is the number of planes not above it: it is above or on
// plane i just if rank > i. A facet whose lowest and highest rank are lo and hi
// meets planes lo … hi−1; an edge likewise.
//
// Idea. From here on only ranks are compared, never z, so all facets around a
// vertex agree where it is. Facets are sorted into blocks of planes by counting:
// a facet is named in every block it meets. A worker opens a block at a time
// and sorts its facets on to single planes. Time O(n + m + k), memory n/2 ranks
// and n + k/16 facet numbers.
//
// The idea of sorting facets by the planes they meet, so that no plane looks at
// a facet in vain: R. Minetto, N. Volpato, J. Stolfi, R. Gregori, M. da Silva,
// An optimal algorithm for 3D triangle mesh slicing, Computer-Aided Design 92,
// 2017 (MEMORY).
//
// Tried and rejected: an active list carried from plane to plane (cannot be
// shared among cores); all pairs of facet and plane in one list (4k bytes).

// A cutting is a mesh sorted for its planes.
type cutting struct {
	m             *mesh.Mesh
	z             []float64
	rank          []int32 // of every vertex
	block, blocks int     // planes a block, blocks
	start         []int   // facet[start[b]:start[b+1]] meet block b
	facet         []int32
	total         int // segments in all
}

func sortFacets(m *mesh.Mesh, z []float64, workers int) *cutting {
	c := &cutting{m: m, z: z, block: max(1, min(16, len(z)/8))}
	c.blocks = (len(z) + c.block - 1) / c.block
	c.rankAll(workers)
	c.start = make([]int, c.blocks+2)
	for i := range m.F {
		lo, hi := c.meets(i)
		if lo == hi {
			continue
		}
		c.total += hi - lo
		for b := lo / c.block; b <= (hi-1)/c.block; b++ {
			c.start[b+2]++
		}
		if c.total > maxSegments {
			return c
		}
	}
	for b := 2; b < len(c.start); b++ {
		c.start[b] += c.start[b-1]
	}
	c.facet = make([]int32, c.start[c.blocks+1])
	for i := range m.F {
		lo, hi := c.meets(i)
		if lo == hi {
			continue
		}
		for b := lo / c.block; b <= (hi-1)/c.block; b++ {
			c.facet[c.start[b+1]] = int32(i)
			c.start[b+1]++
		}
	}
	return c
}

// meets returns the planes lo … hi−1 that facet i meets.
func (c *cutting) meets(i int) (lo, hi int) {
	f := &c.m.F[i]
	p, q, r := c.rank[f[0]], c.rank[f[1]], c.rank[f[2]]
	return int(min(p, q, r)), int(max(p, q, r))
}

// rankAll ranks every vertex. Planes after the first are evenly spaced, so a
// division guesses the rank and comparison with the planes themselves settles it.
func (c *cutting) rankAll(workers int) {
	c.rank = make([]int32, len(c.m.V))
	n := len(c.z)
	scale := 0.0
	if n > 2 {
		scale = float64(n-2) / (c.z[n-1] - c.z[1])
	}
	some := func(from, to int) {
		for i, v := range c.m.V[from:to] {
			k := 0
			if guess := float64((v[2]-c.z[min(1, n-1)])*scale) + 2; guess >= 1 {
				k = int(min(guess, float64(n)))
			}
			for k > 0 && c.z[k-1] > v[2] {
				k--
			}
			for k < n && c.z[k] <= v[2] {
				k++
			}
			c.rank[from+i] = int32(k)
		}
	}
	nv := len(c.m.V)
	if workers == 1 || nv < 1<<14 {
		some(0, nv)
		return
	}
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() { some(nv*w/workers, nv*(w+1)/workers) })
	}
	wg.Wait()
}

// open sorts the facets of block b on to its planes, in j.
func (c *cutting) open(b int, j *joiner) {
	first, last := b*c.block, min((b+1)*c.block, len(c.z))
	n := last - first
	j.first = first
	j.start = slices.Grow(j.start[:0], n+2)[:n+2]
	clear(j.start)
	list := c.facet[c.start[b]:c.start[b+1]]
	for _, f := range list {
		lo, hi := c.meets(int(f))
		for i := max(lo, first); i < min(hi, last); i++ {
			j.start[i-first+2]++
		}
	}
	for i := 2; i < len(j.start); i++ {
		j.start[i] += j.start[i-1]
	}
	total := j.start[n+1]
	j.facet = slices.Grow(j.facet[:0], total)[:total]
	for _, f := range list {
		lo, hi := c.meets(int(f))
		for i := max(lo, first); i < min(hi, last); i++ {
			s := &j.start[i-first+1]
			j.facet[*s] = f
			*s++
		}
	}
}
