package findings

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
)

// Islands: places where printing has to begin in mid-air.
//
// Every island of a layer that nothing in the layer below carries begins at a
// low point of the surface: a vertex no neighbour of which is lower, with the
// solid above it. So low points are found on the facets, exactly and in one
// pass, and no layer is missed between sampled planes. A dip less than a layer
// deep is no island: climbing from it by less than one layer height one meets
// something lower. (Merge trees say the same in general; the flood here is the
// part of one below a single layer.) What lies inside another shell or stands
// on something is carried.
//
// Ties in height are broken by index, so a flat underside has one lowest vertex
// on the whole, once floods have joined the others to it.

// island is a place that begins in mid-air.
type island struct {
	at     mesh.Vec
	vertex int32
	facet  int32    // one at the vertex
	gap    float64  // free height below it, to the platform or to other material
	box    mesh.Box // of the surface less than a layer above it
}

// mostIslands bounds what is looked at further.
const mostIslands = 4096

// islands returns the low points above clear mm that nothing carries, worst
// first: the largest underside, then the lowest.
func islands(m *mesh.Mesh, label []int32, clear, layer float64) []island {
	low := lowPoints(m, clear)
	if len(low) == 0 {
		return nil
	}
	found := flood(m, low, layer)
	slices.SortStableFunc(found, func(a, b island) int {
		return cmp.Or(cmp.Compare(b.shade(), a.shade()), cmp.Compare(a.at[2], b.at[2]), cmp.Compare(a.vertex, b.vertex))
	})
	if len(found) > mostIslands {
		found = found[:mostIslands]
	}
	qs := make([]query, len(found))
	for i := range found {
		found[i].gap = found[i].at[2]
		qs[i] = query{at: found[i].at, shell: -1}
	}
	for i := range qs {
		qs[i].at[0] += aside[0]
		qs[i].at[1] += aside[1]
	}
	carried := make([]bool, len(found))
	winding := make([]int, len(found))
	// The island's own underside is not below it; anything else that near carries
	// it, another shell that it just touches included.
	crossings, ok := drop(m, label, qs, hair)
	if !ok {
		return nil
	}
	for _, c := range crossings {
		i := c.query
		depth := qs[i].at[2] - c.z
		if depth < hair && c.shell == label[found[i].facet] {
			continue
		}
		if c.up {
			winding[i]--
			if found[i].gap == found[i].at[2] {
				found[i].gap = depth
			}
			carried[i] = carried[i] || depth <= layer
		} else {
			winding[i]++
		}
	}
	out := found[:0]
	for i, f := range found {
		if !carried[i] && winding[i] <= 0 {
			out = append(out, f)
		}
	}
	return out
}

// shade is the area of the island's underside, roughly: that of its box.
func (i island) shade() float64 {
	s := i.box.Size()
	return s[0] * s[1]
}

// lowPoints returns the vertices higher than clear that no neighbour is lower
// than and under which the surface faces down, lowest first.
func lowPoints(m *mesh.Mesh, clear float64) []int32 {
	const used, beaten = 1, 2
	state := make([]uint8, len(m.V))
	for _, f := range m.F {
		a, b, c := f[0], f[1], f[2]
		if lower(m, b, a) {
			a, b = b, a
		}
		if lower(m, c, a) {
			a, c = c, a
		}
		state[a] |= used
		state[b] |= used | beaten
		state[c] |= used | beaten
	}
	var out []int32
	for v, s := range state {
		if s == used && m.V[v][2] > clear {
			out = append(out, int32(v))
		}
	}
	if len(out) == 0 {
		return nil
	}
	down := make(map[int32]float64, len(out))
	for _, f := range m.F {
		for _, v := range f {
			if state[v] != used || !(m.V[v][2] > clear) {
				continue
			}
			n := m.V[f[1]].Sub(m.V[f[0]]).Cross(m.V[f[2]].Sub(m.V[f[0]]))
			if l := n.Len(); l > 0 {
				down[v] += n[2] / l
			}
		}
	}
	out = slices.DeleteFunc(out, func(v int32) bool { return !(down[v] < 0) })
	slices.SortFunc(out, func(a, b int32) int {
		return cmp.Or(cmp.Compare(m.V[a][2], m.V[b][2]), cmp.Compare(a, b))
	})
	return out
}

func lower(m *mesh.Mesh, a, b int32) bool {
	za, zb := m.V[a][2], m.V[b][2]
	return za < zb || za == zb && a < b
}

// flood keeps the low points from which no climb of less than layer leads to
// anything lower, with the box of what such a climb reaches.
func flood(m *mesh.Mesh, low []int32, layer float64) []island {
	start, facets := facetsAt(m)
	visited := make([]int32, len(m.V)) // number of the flood, 0 none
	var out []island
	var queue []int32
	// Invariant: all vertices visited so far belong to floods from lower points;
	// meeting one means a climb leads to something lower. So each vertex is
	// visited once.
	for i, v := range low {
		me := int32(i + 1)
		if visited[v] != 0 {
			continue
		}
		top := m.V[v][2] + layer
		box := mesh.Box{Min: m.V[v], Max: m.V[v]}
		queue = append(queue[:0], v)
		visited[v] = me
		alone := true
		for i := 0; i < len(queue); i++ {
			u := queue[i]
			for _, fi := range facets[start[u]:start[u+1]] {
				for _, w := range m.F[fi] {
					p := m.V[w]
					if w == u || p[2] >= top {
						continue
					}
					if lower(m, w, v) {
						alone = false
						continue
					}
					if visited[w] != 0 {
						alone = alone && visited[w] == me
						continue
					}
					visited[w] = me
					queue = append(queue, w)
					for k := range p {
						box.Min[k], box.Max[k] = math.Min(box.Min[k], p[k]), math.Max(box.Max[k], p[k])
					}
				}
			}
		}
		if alone {
			out = append(out, island{at: m.V[v], vertex: v, facet: facets[start[v]], box: box})
		}
	}
	return out
}

// facetsAt lists the facets at each vertex v: facets[start[v]:start[v+1]].
func facetsAt(m *mesh.Mesh) (start, facets []int32) {
	start = make([]int32, len(m.V)+1)
	for _, f := range m.F {
		for _, v := range f {
			start[v+1]++
		}
	}
	for v := range m.V {
		start[v+1] += start[v]
	}
	facets = make([]int32, 3*len(m.F))
	next := slices.Clone(start)
	for i, f := range m.F {
		for _, v := range f {
			facets[next[v]] = int32(i)
			next[v]++
		}
	}
	return start, facets
}
