package slice

import (
	"math"
	"math/bits"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/region"
)

// One plane: segments, nodes, contours.
//
// A node is an edge of the mesh, named by its two vertices, where it meets the
// plane. A facet that meets the plane has one edge going down through it and
// one going up, in the order of its corners; its segment leads from the node of
// the first to that of the second, which with corners counter-clockwise from
// outside puts the inside on its left. The neighbour runs along the shared edge
// the other way, so where one segment ends the next begins. Segments are joined
// by nodes, never by coordinates, so a contour of a closed surface closes.
//
// The place of a node is worked out once, from the lower to the upper vertex,
// and rounded to the grid once.
//
// Where more than two facets share an edge, several segments meet in a node;
// ends are paired with beginnings as they come. Which with which does not
// matter: the winding number depends on the segments only. Ends left over belong
// to open surfaces; gaps.go closes what it can.

// A joiner is the room one worker works in; it serves any number of planes.
type joiner struct {
	m   *mesh.Mesh
	gap float64 // microns

	first int // facet[start[i-first]:start[i-first+1]] meet plane i
	start []int
	facet []int32

	slot  []int32  // hash table of nodes: number + 1, or 0
	shift uint     // the table has 1<<(64-shift) slots
	key   []uint64 // of every node
	at    []region.Point
	out   []int32 // first segment that begins in a node and is not yet followed, or -1

	seg   []segment
	point []region.Point // of all rings
	rings []region.Ring
	gaps  gaps
}

// A segment leads from node to node.
type segment struct {
	from, to   int32
	next, prev int32 // in its chain, or -1
	other      int32 // next that begins in the same node
	done       bool
}

func newJoiner(m *mesh.Mesh, maxGap float64) *joiner {
	if !(maxGap > 0) {
		maxGap = 0
	}
	return &joiner{m: m, gap: min(maxGap, reachMM) * 1000}
}

// layer returns the section at plane i of the block that is open.
func (j *joiner) layer(c *cutting, i int) (region.Region, Report) {
	facets := j.facet[j.start[i-j.first]:j.start[i-j.first+1]]
	if len(facets) == 0 {
		return nil, Report{}
	}
	j.segments(c, int32(i), facets)
	open := j.follow()
	j.point, j.rings = j.point[:0], j.rings[:0]
	var rep Report
	if open > 0 {
		rep = j.close()
	}
	j.loops()
	return region.Nonzero(j.rings...), rep
}

// segments makes the segments and nodes of plane i.
func (j *joiner) segments(c *cutting, i int32, facets []int32) {
	// A closed surface has as many nodes as segments, an open one up to twice as
	// many. Of the table only the part this plane needs is used, so that it stays
	// in the cache.
	size := 1 << bits.Len(uint(len(facets)*3))
	if len(j.slot) < size {
		j.slot = make([]int32, size)
	}
	j.shift = uint(64 - bits.TrailingZeros(uint(size)))
	clear(j.slot[:size])
	j.key, j.at, j.seg = j.key[:0], j.at[:0], j.seg[:0]
	z := c.z[i]
	for _, id := range facets {
		f := c.m.F[id]
		a, b, d := c.rank[f[0]] > i, c.rank[f[1]] > i, c.rank[f[2]] > i
		// Turn the corners so that the first is alone on its side of the plane.
		switch {
		case b != a && b != d:
			f = [3]int32{f[1], f[2], f[0]}
			a = b
		case d != a && d != b:
			f = [3]int32{f[2], f[0], f[1]}
			a = d
		}
		p, q := j.node(f[0], f[1], a, z), j.node(f[0], f[2], a, z)
		if !a { // f[0] is below: the edge to f[1] goes up
			p, q = q, p
		}
		j.seg = append(j.seg, segment{from: p, to: q, next: -1, prev: -1})
	}
}

// node returns the node of the edge between vertices a and b; high says that a
// is the upper one.
func (j *joiner) node(a, b int32, high bool, z float64) int32 {
	if high {
		a, b = b, a
	}
	key := uint64(uint32(a))<<32 | uint64(uint32(b))
	// Fibonacci hashing (Knuth, The Art of Computer Programming 3, 6.4, MEMORY);
	// vertices that are neighbours differ in their low bits, a and b alike.
	at := (key ^ key>>29) * 0x9E3779B97F4A7C15 >> j.shift
	mask := uint64(1)<<(64-j.shift) - 1
	// Invariant: a node in the table lies between its home and the next free slot.
	for j.slot[at] != 0 {
		if n := j.slot[at] - 1; j.key[n] == key {
			return n
		}
		at = (at + 1) & mask
	}
	j.key = append(j.key, key)
	j.slot[at] = int32(len(j.key))
	p, q := &j.m.V[a], &j.m.V[b]
	t := (z - p[2]) / (q[2] - p[2])
	j.at = append(j.at, region.Point{X: between(p[0], q[0], t), Y: between(p[1], q[1], t)})
	return int32(len(j.key) - 1)
}

// between returns the grid coordinate a share t of the way from a to b mm.
func between(a, b, t float64) region.Micron {
	x := a + float64(t*(b-a))
	return region.Micron(math.Floor(float64(x*1000) + 0.5))
}

// follow pairs every segment's end with a beginning in the same node, while
// there are any, and returns how many ends are left over.
func (j *joiner) follow() (open int) {
	j.out = slices.Grow(j.out[:0], len(j.key))[:len(j.key)]
	for i := range j.out {
		j.out[i] = -1
	}
	for i := len(j.seg) - 1; i >= 0; i-- {
		s := &j.seg[i]
		s.other = j.out[s.from]
		j.out[s.from] = int32(i)
	}
	// Invariant: out[v] lists the segments from v that nothing leads to yet.
	for i := range j.seg {
		s := &j.seg[i]
		link := &j.out[s.to]
		if *link < 0 {
			open++
			continue
		}
		if j.seg[*link].other >= 0 {
			link = j.ahead(link, s.from)
		}
		t := *link
		*link = j.seg[t].other
		s.next, j.seg[t].prev = t, int32(i)
	}
	return open
}

// ahead looks for a segment that does not lead straight back to where s comes
// from: of a facet there twice, turned over the second time, one copy must not
// swallow the other and leave the contour open. A few steps are enough for
// meshes of any sense and bound the time for others.
func (j *joiner) ahead(link *int32, from int32) *int32 {
	l := link
	for range 8 {
		if *l < 0 {
			break
		}
		if j.seg[*l].to != from {
			return l
		}
		l = &j.seg[*l].other
	}
	return link
}

// loops makes rings of the chains that close by themselves.
func (j *joiner) loops() {
	for i := range j.seg {
		if j.seg[i].done {
			continue
		}
		begin := len(j.point)
		for s := &j.seg[i]; !s.done; s = &j.seg[s.next] {
			s.done = true
			j.put(begin, j.at[s.from])
		}
		j.ring(begin)
	}
}

// put adds a point to the ring that begins at begin, unless it repeats the last.
func (j *joiner) put(begin int, p region.Point) {
	if n := len(j.point); n == begin || j.point[n-1] != p {
		j.point = append(j.point, p)
	}
}

// ring ends the ring that begins at begin.
func (j *joiner) ring(begin int) {
	r := j.point[begin:]
	for len(r) > 1 && r[0] == r[len(r)-1] {
		r = r[:len(r)-1]
	}
	if len(r) < 3 {
		j.point = j.point[:begin]
		return
	}
	j.rings = append(j.rings, region.Ring(r[:len(r):len(r)]))
}
