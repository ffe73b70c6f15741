package findings

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
)

// What is under a point: is it inside other material, does it stand on
// something, how far is the fall?
//
// Idea: drop a vertical line from each query point and find every facet it
// crosses. Facets that face down count +1, those that face up −1; their sum
// over facets below a point is its winding number, which is positive inside.
// All queries go through the mesh in one pass: they are sorted into the columns
// of a grid, and each facet visits the columns under its box. So the cost is
// one look at each facet, however many queries there are.

// query is a point to drop a line from. Facets of its own shell do not count
// unless shell is negative.
type query struct {
	at    mesh.Vec
	shell int32
}

// crossing is where the line from a query meets a facet.
type crossing struct {
	query int32
	z     float64
	up    bool // the facet faces up
	shell int32
}

// mostTests bounds how often a sixteenth of the facets may be held against a
// query. A mesh made of facets that all lie under all queries would need more.
const mostTests = 20_000_000

// mostCrossings bounds what is kept of them: a mesh of honest parts has a few
// for each query, a heap of crossing facets thousands.
const mostCrossings = 2_000_000

// drop returns the crossings at or below each query plus reach, by query and
// then from the top down, and whether they are all of them.
func drop(m *mesh.Mesh, label []int32, qs []query, reach float64) ([]crossing, bool) {
	if len(qs) == 0 {
		return nil, true
	}
	lo := mesh.Vec{math.Inf(1), math.Inf(1)}
	hi := mesh.Vec{math.Inf(-1), math.Inf(-1)}
	for _, q := range qs {
		for k := range 2 {
			lo[k], hi[k] = math.Min(lo[k], q.at[k]), math.Max(hi[k], q.at[k])
		}
	}
	side := min(max(int(math.Sqrt(float64(len(qs))))*2, 1), 256)
	var scale [2]float64
	for k := range scale {
		if w := hi[k] - lo[k]; w > 0 {
			scale[k] = float64(side) / w
		}
	}
	cellOf := func(x float64, k int) int {
		return min(max(int((x-lo[k])*scale[k]), 0), side-1)
	}
	start := make([]int32, side*side+1)
	cells := make([]int32, len(qs))
	for i, q := range qs {
		cells[i] = int32(cellOf(q.at[1], 1)*side + cellOf(q.at[0], 0))
		start[cells[i]+1]++
	}
	for i := range side * side {
		start[i+1] += start[i]
	}
	order := make([]int32, len(qs))
	fill := slices.Clone(start)
	for i, c := range cells {
		order[fill[c]] = int32(i)
		fill[c]++
	}
	found := make([][]crossing, chunks)
	var over [chunks]bool
	each(chunks, func(chunk int) {
		var out []crossing
		tests := 0
		for fi := len(m.F) * chunk / chunks; fi < len(m.F)*(chunk+1)/chunks; fi++ {
			f := m.F[fi]
			a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
			x0, x1 := min(a[0], b[0], c[0]), max(a[0], b[0], c[0])
			y0, y1 := min(a[1], b[1], c[1]), max(a[1], b[1], c[1])
			if !(x0 <= hi[0] && x1 >= lo[0] && y0 <= hi[1] && y1 >= lo[1]) {
				continue
			}
			cx0, cx1, cy1 := cellOf(x0, 0), cellOf(x1, 0), cellOf(y1, 1)
			for cy := cellOf(y0, 1); cy <= cy1; cy++ {
				row := cy * side
				under := order[start[row+cx0]:start[row+cx1+1]]
				if tests += len(under); tests > mostTests {
					over[chunk] = true
					return
				}
				for _, qi := range under {
					q := &qs[qi]
					if label[fi] == q.shell {
						continue
					}
					if z, up, ok := pierce(a, b, c, q.at); ok && z <= q.at[2]+reach {
						out = append(out, crossing{qi, z, up, label[fi]})
					}
				}
				if len(out) > mostCrossings/chunks {
					over[chunk] = true
					return
				}
			}
		}
		found[chunk] = out
	})
	out := slices.Concat(found...)
	slices.SortStableFunc(out, func(a, b crossing) int {
		return cmp.Or(cmp.Compare(a.query, b.query), cmp.Compare(b.z, a.z))
	})
	return out, !slices.Contains(over[:], true)
}

// pierce tells where the vertical line through p meets a facet. Edges count on
// one side only, so that a line through an edge meets one of two facets.
func pierce(a, b, c, p mesh.Vec) (z float64, up, ok bool) {
	side := func(u, v mesh.Vec) float64 {
		// The same edge gives the same number, negated, from its other facet.
		if v[0] < u[0] || v[0] == u[0] && v[1] < u[1] {
			return -(float64((u[0]-v[0])*(p[1]-v[1])) - float64((u[1]-v[1])*(p[0]-v[0])))
		}
		return float64((v[0]-u[0])*(p[1]-u[1])) - float64((v[1]-u[1])*(p[0]-u[0]))
	}
	wc, wa, wb := side(a, b), side(b, c), side(c, a)
	if !(wa > 0 && wb > 0 && wc > 0 || wa < 0 && wb < 0 && wc < 0) {
		// A point on an edge belongs to the facet for which that edge has its
		// lower-left end first.
		onEdge := func(w float64, u, v mesh.Vec) bool {
			return w == 0 && (v[1] > u[1] || v[1] == u[1] && v[0] < u[0])
		}
		pos := (wa > 0 || onEdge(wa, b, c)) && (wb > 0 || onEdge(wb, c, a)) && (wc > 0 || onEdge(wc, a, b))
		neg := (wa < 0 || onEdge(wa, c, b)) && (wb < 0 || onEdge(wb, a, c)) && (wc < 0 || onEdge(wc, b, a))
		if !pos && !neg {
			return 0, false, false
		}
	}
	sum := wa + wb + wc
	if sum == 0 {
		return 0, false, false
	}
	z = (float64(wa*a[2]) + float64(wb*b[2]) + float64(wc*c[2])) / sum
	return z, sum > 0, !math.IsNaN(z)
}

// touch is what a query meets: the shell that holds it or that it stands on.
type touch struct {
	query     int32
	shell, by int32
}

// meet finds which other shells hold each query or lie within gap of it, up or
// down, and whether it looked everywhere.
func meet(m *mesh.Mesh, label []int32, qs []query, gap float64) ([]touch, bool) {
	cs, ok := drop(m, label, qs, gap)
	if !ok {
		return nil, false
	}
	var out []touch
	for len(cs) > 0 {
		n := 1
		for n < len(cs) && cs[n].query == cs[0].query {
			n++
		}
		q := qs[cs[0].query]
		winding := map[int32]int{}
		var met []int32
		for _, c := range cs[:n] {
			if math.Abs(c.z-q.at[2]) <= gap {
				out = append(out, touch{cs[0].query, q.shell, c.shell})
			}
			if c.z < q.at[2] {
				if winding[c.shell] == 0 {
					met = append(met, c.shell)
				}
				if c.up {
					winding[c.shell]--
				} else {
					winding[c.shell]++
				}
			}
		}
		for _, s := range met {
			if winding[s] > 0 {
				out = append(out, touch{cs[0].query, q.shell, s})
			}
		}
		cs = cs[n:]
	}
	return out, true
}
