package findings

import (
	"math"

	"platebook/engine/mesh"
)

// shell is a connected piece of surface. Overlapping shells print as one, so
// shells are gathered into pieces that come off the platform separately.
type shell struct {
	box    mesh.Box
	volume float64  // signed, mm³: negative is a cavity
	moment mesh.Vec // volume × centre of mass
	piece  int32    // index of its piece
	low    int32    // its lowest vertex
}

// piece is what a person would pick up as one thing, as far as the surface
// tells: shells that overlap or rest on one another. Two shells that only
// cross, with no sample point of one inside the other, stay two pieces.
type piece struct {
	box    mesh.Box
	volume float64
	centre mesh.Vec
	shells []int32
}

// Beyond these no pieces are told apart and the part is taken as a whole.
const (
	mostShells  = 4096
	mostQueries = 1 << 16
)

// shells labels every facet with its shell; facets are joined by shared
// vertices. Labels are in the order of the first facet of each shell.
func shells(m *mesh.Mesh) (label []int32, out []shell) {
	parent := make([]int32, len(m.V))
	for i := range parent {
		parent[i] = int32(i)
	}
	find := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	for _, f := range m.F {
		a := find(f[0])
		for _, v := range f[1:] {
			if b := find(v); b < a {
				parent[a] = b
				a = b
			} else {
				parent[b] = a
			}
		}
	}
	// Boxes come from the vertices, of which there are half as many as facets.
	id := make([]int32, len(m.V))
	label = make([]int32, len(m.F))
	for i, f := range m.F {
		root := find(f[0])
		if id[root] == 0 {
			p := m.V[f[0]]
			out = append(out, shell{box: mesh.Box{Min: p, Max: p}, low: f[0]})
			id[root] = int32(len(out))
		}
		label[i] = id[root] - 1
	}
	for v, p := range m.V {
		k := id[find(int32(v))]
		if k == 0 {
			continue // of no facet
		}
		s := &out[k-1]
		for j, x := range p {
			if x < s.box.Min[j] {
				s.box.Min[j] = x
				if j == 2 {
					s.low = int32(v)
				}
			} else if x > s.box.Max[j] {
				s.box.Max[j] = x
			}
		}
	}
	// Sums run over fixed chunks, so they do not depend on the number of cores.
	sums := make([][][4]float64, chunks)
	each(chunks, func(c int) {
		sum := make([][4]float64, len(out))
		for i := len(m.F) * c / chunks; i < len(m.F)*(c+1)/chunks; i++ {
			f := m.F[i]
			a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
			six := a.Dot(b.Cross(c))
			s := &sum[label[i]]
			s[3] += six
			for k := range 3 {
				s[k] += float64(six * (a[k] + b[k] + c[k]))
			}
		}
		sums[c] = sum
	})
	for _, sum := range sums {
		for i, s := range sum {
			out[i].volume += s[3] / 6
			out[i].moment = out[i].moment.Add(mesh.Vec{s[0], s[1], s[2]}.Scale(1.0 / 24))
		}
	}
	return label, out
}

// aside is a way off a vertex, mm, so that a vertical line meets facets and not
// edges: less than any printer can tell.
var aside = [2]float64{0.00037, 0.00023}

func near(a, b mesh.Box, gap float64) bool {
	for k := range 3 {
		if a.Min[k] > b.Max[k]+gap || b.Min[k] > a.Max[k]+gap {
			return false
		}
	}
	return true
}

// pieces gathers shells. A shell belongs with another if a sample point of it
// is inside the other, or stands on it with no more than gap between.
func pieces(m *mesh.Mesh, label []int32, sh []shell, next [][]int32, gap float64) []piece {
	parent := make([]int32, len(sh))
	for i := range parent {
		parent[i] = int32(i)
	}
	find := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	join := func(a, b int32) {
		if a, b = find(a), find(b); a != b {
			parent[max(a, b)] = min(a, b)
		}
	}
	var touches []touch
	known := len(sh) <= mostShells
	if known && len(sh) > 1 {
		touches, known = meet(m, label, samples(m, label, sh, next, gap), gap)
	}
	if !known {
		for i := range sh {
			join(0, int32(i))
		}
	} else {
		for _, t := range touches {
			join(t.shell, t.by)
		}
		// A cavity belongs to whatever it is in, and nothing else falls to it.
		for i := range sh {
			if sh[i].volume < 0 {
				join(int32(i), around(sh, i))
			}
		}
	}
	var out []piece
	id := make([]int32, len(sh))
	for i := range sh {
		root := find(int32(i))
		if id[root] == 0 {
			out = append(out, piece{box: sh[i].box})
			id[root] = int32(len(out))
		}
		sh[i].piece = id[root] - 1
		p := &out[sh[i].piece]
		p.shells = append(p.shells, int32(i))
		p.volume += sh[i].volume
		p.centre = p.centre.Add(sh[i].moment)
		for k := range 3 {
			p.box.Min[k] = math.Min(p.box.Min[k], sh[i].box.Min[k])
			p.box.Max[k] = math.Max(p.box.Max[k], sh[i].box.Max[k])
		}
	}
	for i := range out {
		if p := &out[i]; p.volume > 0 {
			p.centre = p.centre.Scale(1 / p.volume)
		} else { // no solid to weigh: the middle of the box stands in
			p.centre = p.box.Min.Add(p.box.Max).Scale(0.5)
		}
	}
	return out
}

// around returns the smallest positive shell whose box holds shell i, or i.
func around(sh []shell, i int) int32 {
	best, volume := int32(i), math.Inf(1)
	for j := range sh {
		if j == i || sh[j].volume <= 0 || sh[j].volume >= volume {
			continue
		}
		in := true
		for k := range 3 {
			in = in && sh[j].box.Min[k] <= sh[i].box.Min[k] && sh[j].box.Max[k] >= sh[i].box.Max[k]
		}
		if in {
			best, volume = int32(j), sh[j].volume
		}
	}
	return best
}

// neighbours lists for each shell the others whose boxes come within gap of its own.
func neighbours(sh []shell, gap float64) [][]int32 {
	out := make([][]int32, len(sh))
	if len(sh) > mostShells {
		return out
	}
	for i := range sh {
		for j := range i {
			if near(sh[i].box, sh[j].box, gap) {
				out[i] = append(out[i], int32(j))
				out[j] = append(out[j], int32(i))
			}
		}
	}
	return out
}

// comesNear says whether a facet of shell s comes within gap of the box of a neighbour.
func comesNear(m *mesh.Mesh, f [3]int32, sh []shell, next []int32, gap float64) bool {
	if len(next) == 0 || len(next) > 64 { // too many to ask are near for sure
		return len(next) > 0
	}
	a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
	var box mesh.Box
	for k := range 3 {
		box.Min[k], box.Max[k] = min(a[k], b[k], c[k]), max(a[k], b[k], c[k])
	}
	for _, n := range next {
		if near(box, sh[n].box, gap) {
			return true
		}
	}
	return false
}

// spotOn returns the i-th of a sequence of points spread evenly over a facet, its
// middle first (the R2 sequence of M. Roberts, folded into the triangle) (MEMORY).
func spotOn(m *mesh.Mesh, f [3]int32, i int) mesh.Vec {
	a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
	u, v := 1.0/3, 1.0/3
	if i > 0 {
		u, v = math.Mod(0.5+float64(float64(i)*0.7548776662466927), 1), math.Mod(0.5+float64(float64(i)*0.5698402909980532), 1)
		if u+v > 1 {
			u, v = 1-u, 1-v
		}
	}
	return a.Add(b.Sub(a).Scale(u)).Add(c.Sub(a).Scale(v))
}

// samples picks points of each shell near another: its lowest point, and some
// spread over the facets that come near another shell's box.
func samples(m *mesh.Mesh, label []int32, sh []shell, next [][]int32, gap float64) []query {
	const wanted = 128 // of each shell
	var out []query
	for i, s := range sh {
		if len(next[i]) > 0 && len(out) < mostQueries {
			p := m.V[s.low] // beside the vertex, where the line meets facets only
			out = append(out, query{at: mesh.Vec{p[0] + aside[0], p[1] + aside[1], p[2]}, shell: int32(i)})
		}
	}
	candidates := make([]int, len(sh))
	var facets []int32
	for i, l := range label {
		if comesNear(m, m.F[i], sh, next[l], gap) {
			candidates[l]++
			facets = append(facets, int32(i))
		}
	}
	seen := make([]int, len(sh))
	for _, i := range facets {
		l := label[i]
		n := candidates[l]
		// Evenly spread in file order; several on each if there are few.
		from, to := seen[l]*wanted/n, (seen[l]+1)*wanted/n
		seen[l]++
		for k := from; k < to && len(out) < mostQueries; k++ {
			out = append(out, query{at: spotOn(m, m.F[i], k-from), shell: l})
		}
	}
	return out
}
