package findings

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
)

// Marks of a facet for pictures, as bits.
const (
	MarkOverhang uint8 = 1 << iota // leans further than the angle and is off the platform
	MarkContact                    // lies on the platform
)

// Overhangs, facet by facet.
//
// Notation: n the unit normal of a facet, a the angle from the vertical beyond
// which material needs holding up. A vertical wall has n·z = 0, a ceiling −1;
// the surface leans out by asin(−n·z), so it overhangs if −n·z > sin a.
// Area is that of the facets; the space is the column from each facet straight
// down to the platform, its projected area times its mean height. Material
// further down that supports could stand on is not taken off, so the space is
// an upper bound, exact for a part that has none. Facets inside another body or
// lying on one need nothing: where bodies come near one another, sample points
// on each facet tell which share of it that is.

// leaning judges facets: those it marks lean out more than the angle from the
// vertical. One within platform mm of z = 0 lies on the platform.
type leaning struct{ sin2, platform float64 }

func lean(angle, platform float64) leaning {
	s := math.Sin(angle * math.Pi / 180)
	return leaning{float64(s * s), platform}
}

// mark returns the marks of a facet and its normal, twice its area long.
func (l leaning) mark(a, b, c mesh.Vec) (uint8, mesh.Vec) {
	n := b.Sub(a).Cross(c.Sub(a))
	// Comparing squares spares a root for each facet.
	if !(n[2] < 0 && float64(n[2]*n[2]) > float64(l.sin2*n.Dot(n))) {
		return 0, n
	}
	if max(a[2], b[2], c[2]) <= l.platform {
		return MarkContact, n
	}
	return MarkOverhang, n
}

// Marks returns the marks of every facet of m, which stands on z = 0, for an
// overhang angle in degrees from the vertical.
func Marks(m *mesh.Mesh, angle float64) []uint8 {
	out := make([]uint8, len(m.F))
	l := lean(angle, hair)
	for i, f := range m.F {
		out[i], _ = l.mark(m.V[f[0]], m.V[f[1]], m.V[f[2]])
	}
	return out
}

// hair is what two heights may differ by and still count as one, mm: more than
// single precision loses on a desk's parts.
const hair = 1e-3

// overhang is what hangs over.
type overhang struct {
	area   float64 // of the facets, mm²
	below  float64 // their projected area, mm²
	space  float64 // mm³ from them down to the platform
	places []mesh.Vec
}

// patch sums up the overhang in one cell of a grid.
type patch struct {
	area, below, space float64
	sum                mesh.Vec // area × middle
}

func (p *patch) add(q patch) {
	p.area += q.area
	p.below += q.below
	p.space += q.space
	p.sum = p.sum.Add(q.sum)
}

// overhangs sums up the overhanging facets. Places are the centres of the
// worst patches, by area, in a grid of an eighth of the part's box.
// carried is the share of some facets that other bodies carry.
func overhangs(m *mesh.Mesh, box mesh.Box, angle, platform float64, carried map[int32]float64) overhang {
	const side = 8
	size := box.Size()
	l := lean(angle, platform)
	parts := make([][]patch, chunks)
	each(chunks, func(chunk int) {
		sums := make([]patch, side*side*side)
		for i := len(m.F) * chunk / chunks; i < len(m.F)*(chunk+1)/chunks; i++ {
			f := m.F[i]
			a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
			mark, n := l.mark(a, b, c)
			if mark&MarkOverhang == 0 {
				continue
			}
			free := 1 - carried[int32(i)]
			area, below := float64(free*n.Len()/2), -float64(free*n[2]/2)
			mid := a.Add(b).Add(c).Scale(1.0 / 3)
			cell := 0
			for k := range 3 {
				at := 0
				if size[k] > 0 {
					at = min(max(int((mid[k]-box.Min[k])/size[k]*side), 0), side-1)
				}
				cell = cell*side + at
			}
			sums[cell].add(patch{area, below, float64(below * math.Max(0, mid[2])), mid.Scale(area)})
		}
		parts[chunk] = sums
	})
	sums := make([]patch, side*side*side)
	var all patch
	for _, part := range parts {
		for i, p := range part {
			sums[i].add(p)
			all.add(p)
		}
	}
	o := overhang{area: all.area, below: all.below, space: all.space}
	slices.SortStableFunc(sums, func(a, b patch) int { return cmp.Compare(b.area, a.area) })
	for _, s := range sums[:mostPlaces] {
		if s.area > 0 {
			o.places = append(o.places, s.sum.Scale(1/s.area))
		}
	}
	return o
}

const mostPlaces = 8

// carriedShare samples the overhanging facets that come near another shell.
func (l *look) carriedShare(angle, platform float64) map[int32]float64 {
	m := l.Mesh
	if len(l.shells) == 1 || len(l.shells) > mostShells {
		return nil
	}
	const every, most = 1.0, 400 // mm² for a point, points on a facet
	judge := lean(angle, platform)
	var qs []query
	var owner []int32
	points := map[int32]int{}
	for i, f := range m.F {
		s := l.label[i]
		if len(l.next[s]) == 0 {
			continue
		}
		mark, n := judge.mark(m.V[f[0]], m.V[f[1]], m.V[f[2]])
		if mark&MarkOverhang == 0 || !comesNear(m, f, l.shells, l.next[s], l.layer()) {
			continue
		}
		k := int(math.Min(1+float64(n.Len()/2/every), most))
		if len(qs)+k > mostQueries {
			break
		}
		for j := range k {
			// Like facets side by side get different points.
			qs = append(qs, query{at: spotOn(m, f, i%1024+j), shell: s})
			owner = append(owner, int32(i))
		}
		points[int32(i)] = k
	}
	hits := map[int32]int{}
	last := int32(-1)
	touches, _ := meet(m, l.label, qs, l.layer())
	for _, t := range touches {
		if t.query != last { // a point counts once
			last = t.query
			hits[owner[t.query]]++
		}
	}
	out := make(map[int32]float64, len(hits))
	for i, h := range hits {
		out[i] = float64(h) / float64(points[i])
	}
	return out
}
