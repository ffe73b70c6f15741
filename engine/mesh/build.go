package mesh

import (
	"math"
	"math/bits"
	"math/rand/v2"
)

// The exact weld. Notation: a vertex is the same as another when its three
// coordinates have equal bits, −0 being first made +0 (so a NaN equals itself).
//
// A hash table with open addressing and linear probing holds, for each distinct
// vertex, its index and 32 bits of its hash; the coordinates stay in the vertex
// list. Indices are given in order of first appearance, so neither the hash nor
// its seed can be seen in the result; the seed is random because a fixed one
// would let a made-up file put every vertex in one slot.
//
// Tried and left, on 3.7 million corners of 0.6 million vertices: Go's map (1.6
// times the time, 6 times the memory); sorting the corners (2.7 times the time).
type welder struct {
	v    []Vec
	slot []uint64 // hash's upper half << 32 | index + 1; 0 is free
	seed [2]uint64
	hash []uint64 // of v, kept only where keep is set
	keep bool
}

func newSeed() [2]uint64 { return [2]uint64{rand.Uint64() | 1, rand.Uint64() | 1} }

// newWelder expects about n distinct vertices; more are no trouble.
func newWelder(n int, seed [2]uint64) *welder {
	return &welder{
		v:    make([]Vec, 0, n),
		slot: make([]uint64, 1<<bits.Len(uint(max(n, 8)*3/2))),
		seed: seed,
	}
}

// reset forgets the vertices and keeps the memory.
func (w *welder) reset() {
	w.v, w.hash = w.v[:0], w.hash[:0]
	clear(w.slot)
}

func (w *welder) hashOf(p Vec) uint64 {
	hi, lo := bits.Mul64(math.Float64bits(p[0])^w.seed[0], math.Float64bits(p[1])^w.seed[1])
	hi, lo = bits.Mul64(hi^lo^w.seed[0], math.Float64bits(p[2])^0x9E3779B97F4A7C15)
	return hi ^ lo
}

// index returns the index of p, new or known.
func (w *welder) index(p Vec) int32 {
	for i, x := range p {
		if x == 0 {
			p[i] = 0 // −0 becomes +0
		}
	}
	return w.indexHash(p, w.hashOf(p))
}

// add keeps p with its hash for another welder, without looking whether it is known.
func (w *welder) add(p Vec) {
	for i, x := range p {
		if x == 0 {
			p[i] = 0 // −0 becomes +0
		}
	}
	w.v = append(w.v, p)
	w.hash = append(w.hash, w.hashOf(p))
}

// indexHash is index for a p without −0 whose hash is known.
func (w *welder) indexHash(p Vec, h uint64) int32 {
	mask := uint64(len(w.slot) - 1)
	tag := h &^ 0xFFFFFFFF
	i := h & mask
	// Invariant: every vertex in the table lies between its home slot and the
	// next free one, so the first free slot proves p is new.
	for {
		s := w.slot[i]
		if s == 0 {
			break
		}
		if s&^0xFFFFFFFF == tag {
			if k := int32(uint32(s) - 1); same(w.v[k], p) {
				return k
			}
		}
		i = (i + 1) & mask
	}
	w.v = append(w.v, p)
	if w.keep {
		w.hash = append(w.hash, h)
	}
	w.slot[i] = tag | uint64(uint32(len(w.v)))
	if len(w.v)*3 > len(w.slot)*2 {
		w.grow()
	}
	return int32(len(w.v) - 1)
}

// batch is how many vertices are looked up together: their slots and vertices
// fit the first cache.
const batch = 256

// indices appends to to the indices of many vertices, as indexHash gives them
// one after another. Most are known already, and of those the slots are fetched
// first and the vertices then, each fetch waiting for no other: in a file whose
// neighbours are far apart nearly every one misses the cache (a third less
// time). What is not found at its home slot is looked up in order.
func (w *welder) indices(v []Vec, hash []uint64, to []int32) []int32 {
	var slot [batch]uint64
	for len(v) > 0 {
		n := min(len(v), batch)
		mask := uint64(len(w.slot) - 1)
		for i, h := range hash[:n] {
			slot[i] = w.slot[h&mask]
		}
		for i, h := range hash[:n] {
			k := uint32(0)
			if s := slot[i]; s != 0 && s>>32 == h>>32 && same(w.v[uint32(s)-1], v[i]) {
				k = uint32(s)
			}
			to = append(to, int32(k)-1)
		}
		// Invariant: a vertex found above stays where it is, so what follows
		// finds all others as if each had been looked up in its turn.
		for i, k := range to[len(to)-n:] {
			if k < 0 {
				to[len(to)-n+i] = w.indexHash(v[i], hash[i])
			}
		}
		v, hash = v[n:], hash[n:]
	}
	return to
}

func same(a, b Vec) bool {
	return math.Float64bits(a[0]) == math.Float64bits(b[0]) &&
		math.Float64bits(a[1]) == math.Float64bits(b[1]) &&
		math.Float64bits(a[2]) == math.Float64bits(b[2])
}

func (w *welder) grow() {
	w.slot = make([]uint64, 2*len(w.slot))
	mask := uint64(len(w.slot) - 1)
	for k, p := range w.v {
		h := w.hashOf(p)
		i := h & mask
		for w.slot[i] != 0 {
			i = (i + 1) & mask
		}
		w.slot[i] = h&^0xFFFFFFFF | uint64(uint32(k+1))
	}
}

// exactWeld returns m with vertices of equal coordinates made one, numbered in
// the order facets first use them, and vertices no facet uses left out. Facets
// keep their number and order, even those that lose their area.
func exactWeld(m *Mesh) *Mesh {
	w := newWelder(len(m.F)/2+8, newSeed())
	to := make([]int32, len(m.V)) // index + 1 in the welded mesh
	out := &Mesh{F: make([][3]int32, len(m.F)), Colour: m.Colour}
	for i, f := range m.F {
		for k, v := range f {
			if to[v] == 0 {
				to[v] = w.index(m.V[v]) + 1
			}
			out.F[i][k] = to[v] - 1
		}
	}
	out.V = w.v
	return out
}

// compact returns m without the vertices no facet uses, −0 made +0.
func compact(m *Mesh) *Mesh {
	to := make([]int32, len(m.V))
	out := &Mesh{V: make([]Vec, 0, len(m.V)), F: make([][3]int32, len(m.F)), Colour: m.Colour}
	for i, f := range m.F {
		for k, v := range f {
			if to[v] == 0 {
				p := m.V[v]
				for j, x := range p {
					if x == 0 {
						p[j] = 0
					}
				}
				out.V = append(out.V, p)
				to[v] = int32(len(out.V))
			}
			out.F[i][k] = to[v] - 1
		}
	}
	return out
}

// shared returns a mesh whose vertices are shared as its facets need. If the
// surface closes by the file's own indices they stand: a file that keeps two
// touching bodies apart means it. If not, vertices of equal coordinates are made one.
func shared(m *Mesh) *Mesh {
	if boundless(m.F) {
		return compact(m)
	}
	return exactWeld(m)
}

// boundless tells whether every edge is walked as often one way as the other,
// that is, whether the boundary of the facets is nothing. It sums a hash of
// each directed edge less that of its reverse, so it needs no memory; a chance
// error (1 in 2^64) or a made-up one costs only a weld not done.
func boundless(f [][3]int32) bool {
	var sum uint64
	for _, t := range f {
		for k := range t {
			a, b := uint64(uint32(t[k])), uint64(uint32(t[(k+1)%3]))
			sum += scramble(a<<32|b) - scramble(b<<32|a)
		}
	}
	return sum == 0
}

// scramble is the finaliser of splitmix64 (Steele, Lea, Flood 2014; MEMORY).
func scramble(x uint64) uint64 {
	x += 0x9E3779B97F4A7C15
	x = (x ^ x>>30) * 0xBF58476D1CE4E5B9
	x = (x ^ x>>27) * 0x94D049BB133111EB
	return x ^ x>>31
}
