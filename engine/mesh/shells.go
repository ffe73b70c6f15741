package mesh

import (
	"math"
	"slices"
)

// Notation: a shell is a set of facets connected over edges. Where exactly two
// facets meet they are connected. Where more meet, and as many run one way as
// the other, each is connected to the one that bounds the same wedge of
// material: going round the edge, material begins at a facet seen running
// backward and ends at one running forward, and beginnings and ends match like
// brackets. So two cubes that share an edge are two shells, each closed.
//
// Tried and rejected: connecting everything at a crowded edge (two touching
// bodies become one), connecting nothing (a body cut along a crowded line falls
// into pieces that are not closed).

type shell struct {
	facets   int
	first    int32 // its first facet
	unpaired int   // sides whose edge is open, uneven or inconsistent
	origin   Vec   // for volume
	// volume is signed, mm³. Of a shell with open edges it is that of the shell
	// capped by a fan over them from the mean of their middles: exact for one
	// flat hole, of the right sign for most others.
	volume float64
	bulk   float64 // the same with every facet's part taken positive
	around int     // bodies around it less cavities; judge sets it
}

// flat reports whether the shell encloses nothing but rounding.
func (b *shell) flat() bool { return math.Abs(b.volume) <= 1e-9*b.bulk }

type shells struct {
	s    *sides
	of   []int32 // facet → shell, -1 for collapsed facets
	list []shell // in order of their first facets
	thin []int32 // facets without area, in order
}

// shellsOf divides the facets into shells.
func shellsOf(s *sides) *shells {
	m := s.m
	up := make([]int32, len(m.F))
	for i := range up {
		up[i] = int32(i)
	}
	find := func(i int32) int32 {
		for up[i] != i {
			up[i] = up[up[i]]
			i = up[i]
		}
		return i
	}
	join := func(i, j int32) {
		i, j = find(i), find(j)
		if i < j {
			up[j] = i
		} else {
			up[i] = j
		}
	}
	var loose []int32 // facets with an unpaired side, once for each
	var rim []int32   // the sides of loose
	s.each(0, len(m.V), func(_, _ int32, along []uint64) {
		switch len(along) {
		case 1:
			loose = append(loose, facetOf(along[0]))
			rim = append(rim, sideOf(along[0]))
		case 2:
			join(facetOf(along[0]), facetOf(along[1]))
			if (along[0]^along[1])&1 == 0 {
				loose = append(loose, facetOf(along[0]))
				rim = append(rim, sideOf(along[0]))
			}
		default:
			for _, p := range wedges(m, along) {
				if p[1] == open {
					loose = append(loose, p[0]/3)
					rim = append(rim, p[0])
					continue
				}
				join(p[0]/3, p[1]/3)
			}
		}
	})
	sh := &shells{s: s, of: up}
	// Roots are the smallest of their set, so each is met before its others.
	for i := range up {
		if collapsed(m.F[i]) {
			up[i] = -1
			continue
		}
		r := up[i]
		if int(r) == i {
			up[i] = int32(len(sh.list))
			sh.list = append(sh.list, shell{first: int32(i)})
		} else {
			// Invariant: every facet before i already holds its shell's number.
			up[i] = up[r]
		}
		sh.list[up[i]].facets++
	}
	for _, f := range loose {
		sh.list[up[f]].unpaired++
	}
	sh.measure(rim)
	return sh
}

// measure finds the volume of each shell.
func (sh *shells) measure(rim []int32) {
	m := sh.s.m
	for i := range sh.list {
		b := &sh.list[i]
		if b.unpaired == 0 {
			b.origin = m.V[m.F[b.first][0]]
		}
	}
	for _, side := range rim {
		b := &sh.list[sh.of[side/3]]
		p, q := m.ends(side)
		b.origin = b.origin.Add(m.V[p].Add(m.V[q]).times(0.5 / float64(b.unpaired)))
	}
	// The parts are found on all cores, and added up in order on one.
	part := make([]float64, len(m.F))
	var empty [8][]int32
	n := share(len(m.F), 1<<13, func(worker, from, to int) {
		var list []int32
		for i := from; i < to; i++ {
			j := sh.of[i]
			if j < 0 {
				list = append(list, int32(i))
				continue
			}
			f, o := &m.F[i], &sh.list[j].origin
			a, b, c := &m.V[f[0]], &m.V[f[1]], &m.V[f[2]]
			ux, uy, uz := b[0]-a[0], b[1]-a[1], b[2]-a[2]
			vx, vy, vz := c[0]-a[0], c[1]-a[1], c[2]-a[2]
			nx := float64(uy*vz) - float64(uz*vy)
			ny := float64(uz*vx) - float64(ux*vz)
			nz := float64(ux*vy) - float64(uy*vx)
			part[i] = (float64(nx*(a[0]-o[0])) + float64(ny*(a[1]-o[1])) + float64(nz*(a[2]-o[2]))) / 6
			// A bound that spares most facets the exact question.
			n2 := float64(nx*nx) + float64(ny*ny) + float64(nz*nz)
			l2 := float64(ux*ux) + float64(uy*uy) + float64(uz*uz) + float64(vx*vx) + float64(vy*vy) + float64(vz*vz)
			if n2 <= float64(l2*l2)*(4*thin*thin) && slender(*a, *b, *c) {
				list = append(list, int32(i))
			}
		}
		empty[worker] = list
	})
	for _, l := range empty[:n] {
		sh.thin = append(sh.thin, l...)
	}
	for i, v := range part {
		if j := sh.of[i]; j >= 0 {
			b := &sh.list[j]
			b.volume += v
			b.bulk += math.Abs(v)
		}
	}
}

// wedges pairs the sides along a crowded edge: sides of one pair bound the same
// wedge of material. A side with no partner comes with open.
func wedges(m *Mesh, along []uint64) [][2]int32 {
	type leaf struct {
		turn float64 // round the edge, 0 ≤ turn < 4 for a full turn
		end  bool    // material ends here
		side int32
	}
	a, b := m.ends(sideOf(along[0]))
	if backward(along[0]) {
		a, b = b, a
	}
	// x and y span the plane across the edge; y is x turned a quarter by the
	// right hand about a→b.
	axis := m.V[b].Sub(m.V[a])
	x := m.V[m.apex(sideOf(along[0]))].Sub(m.V[a])
	y := axis.Cross(x)
	x = y.Cross(axis)
	if l := y.Len(); l > 0 {
		y = y.times(1 / l)
	}
	if l := x.Len(); l > 0 {
		x = x.times(1 / l)
	}
	leaves := make([]leaf, len(along))
	for i, e := range along {
		d := m.V[m.apex(sideOf(e))].Sub(m.V[a])
		leaves[i] = leaf{turnOf(d.Dot(x), d.Dot(y)), !backward(e), sideOf(e)}
	}
	// Where facets coincide, what ends comes before what begins, so that bodies
	// lying against each other stay apart. Of twins the first is matched first,
	// at each of their edges alike.
	slices.SortFunc(leaves, func(p, q leaf) int {
		switch {
		case p.turn < q.turn:
			return -1
		case p.turn > q.turn:
			return 1
		case p.end != q.end:
			if p.end {
				return -1
			}
			return 1
		case p.end:
			return int(p.side - q.side)
		}
		return int(q.side - p.side)
	})
	var pairs [][2]int32
	done, waits := make([]bool, len(leaves)), make([]bool, len(leaves))
	var begun []int
	// Twice round: the second time matches what began before the first leaf.
	for i := range 2 * len(leaves) {
		i %= len(leaves)
		switch l := leaves[i]; {
		case done[i]:
		case !l.end:
			if !waits[i] {
				waits[i] = true
				begun = append(begun, i)
			}
		case len(begun) > 0:
			j := begun[len(begun)-1]
			begun = begun[:len(begun)-1]
			done[i], done[j] = true, true
			pairs = append(pairs, [2]int32{leaves[j].side, l.side})
		}
	}
	for i, l := range leaves {
		if !done[i] {
			pairs = append(pairs, [2]int32{l.side, open})
		}
	}
	return pairs
}

// turnOf grows with the angle of (x, y) from 0 to 4, without the trigonometry
// that processors round differently.
func turnOf(x, y float64) float64 {
	l := math.Abs(x) + math.Abs(y)
	if l == 0 {
		return 0
	}
	if y >= 0 {
		return 1 - x/l
	}
	return 3 + x/l
}
