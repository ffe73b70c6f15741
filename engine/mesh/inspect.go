package mesh

import (
	"errors"
	"fmt"
	"math"
	"slices"
)

// Report says how far a mesh is from being the surface of a solid.
type Report struct {
	Facets, Vertices int

	OpenEdges  int     // edges with one facet
	OpenLength float64 // mm, all open edges together
	OpenPlaces []Vec   // middles of the longest open edges, longest first, at most places
	Loops      int     // closed loops the open edges form

	NonManifold       int   // edges where more than two facets meet
	NonManifoldPlaces []Vec // middles of some of them, at most places
	Uneven            int   // those of them whose facets do not cancel in pairs
	Inconsistent      int   // edges whose two facets disagree on which side is outside
	Duplicates        int   // facets on the same three vertices as an earlier one, either way round
	Degenerate        int   // facets that name a vertex twice or have no area

	Shells     int // sets of facets connected over edges
	OpenShells int // shells that are not closed
	Inverted   int // closed shells that are inside out
	Cavities   int // closed shells that bound a hollow inside a body
	Flat       int // closed shells that enclose nothing
	Bodies     int // closed shells that bound a body; bodies may overlap
}

// places is how many points a Report or Repairs lists of each kind.
const places = 5

// Closed reports whether there is a facet and facets cancel along every edge,
// as the function Closed asks.
func (r Report) Closed() bool {
	return r.Facets > 0 && r.OpenEdges == 0 && r.Uneven == 0 && r.Inconsistent == 0
}

// ErrInvalid is what Valid's errors wrap.
var ErrInvalid = errors.New("not a valid mesh")

// Reach is the farthest a coordinate may lie from the origin, in mm. It is a
// thousand kilometres, and keeps volumes from overflowing.
const Reach = 1e9

// Valid returns an error if m names vertices it does not have, has coordinates
// that are not numbers or lie beyond Reach, or colours not matching its facets.
// Everything else in this package except reading takes valid meshes only.
func Valid(m *Mesh) error {
	if len(m.F) > 1<<28 || len(m.V) > 1<<29 {
		return fmt.Errorf("%w: %d facets on %d vertices are too many", ErrInvalid, len(m.F), len(m.V))
	}
	if m.Colour != nil && len(m.Colour) != len(m.F) {
		return fmt.Errorf("%w: %d facets have %d colours", ErrInvalid, len(m.F), len(m.Colour))
	}
	for i, v := range m.V {
		for _, x := range v {
			if !(math.Abs(x) <= Reach) {
				return fmt.Errorf("%w: vertex %d lies at %v", ErrInvalid, i, v)
			}
		}
	}
	n := int32(len(m.V))
	for i, f := range m.F {
		for _, v := range f {
			if v < 0 || v >= n {
				return fmt.Errorf("%w: facet %d names vertex %d of %d", ErrInvalid, i, v, n)
			}
		}
	}
	return nil
}

// Closed returns an error unless the facets of m bound something everywhere:
// there is a facet, and along every edge as many facets run one way as the
// other. That is what slicing and Volume need; whether the mesh is also
// manifold and right side out, Inspect says.
func Closed(m *Mesh) error {
	if err := Valid(m); err != nil {
		return err
	}
	if len(m.F) == 0 {
		return errors.New("the mesh has no facets")
	}
	var bad [8]int
	s := sidesOf(m)
	parts := share(len(m.V), 1<<13, func(part, from, to int) {
		n := 0
		s.each(from, to, func(_, _ int32, along []uint64) {
			if balance(along) != 0 {
				n++
			}
		})
		bad[part] = n
	})
	total := 0
	for _, n := range bad[:parts] {
		total += n
	}
	if total > 0 {
		return fmt.Errorf("the surface is not closed: facets do not meet in pairs at %d edges", total)
	}
	return nil
}

// Inspect looks at every edge and shell of m, which must be Valid. It changes nothing.
func Inspect(m *Mesh) Report { return inspect(m, &looked{}) }

func inspect(m *Mesh, k *looked) Report {
	r := Report{Facets: len(m.F), Vertices: len(m.V)}
	e := k.edges(m)
	r.OpenEdges, r.NonManifold, r.Uneven = len(e.open), e.crowded, e.uneven
	r.Inconsistent, r.Duplicates = e.inconsistent, e.duplicates
	r.NonManifoldPlaces = e.crowdedAt
	if len(e.open) > 0 {
		var length tally
		for _, side := range e.open {
			length.add(m.sideLength(side))
		}
		r.OpenLength = length.sum()
		r.OpenPlaces = longest(m, e.open)
		r.Loops = len(loops(m, e.open))
	}
	sh := k.shells(m)
	r.Shells, r.Degenerate = len(sh.list), len(sh.thin)
	judge(sh)
	for i := range sh.list {
		switch b := &sh.list[i]; {
		case b.unpaired > 0:
			r.OpenShells++
		case b.flat():
			r.Flat++
		case b.volume > 0:
			r.Bodies++
		case b.around > 0:
			r.Cavities++
		default:
			r.Inverted++
			r.Bodies++
		}
		if b := &sh.list[i]; b.facets == 2 && b.unpaired == 0 {
			r.Duplicates++ // two facets back to back: no edge of theirs is crowded
		}
	}
	return r
}

// edgeSurvey is what looking at each edge alone finds.
type edgeSurvey struct {
	open                                      []int32 // the only side along its edge
	crowded, uneven, inconsistent, duplicates int
	crowdedAt                                 []Vec
}

func surveyEdges(s *sides) edgeSurvey {
	m := s.m
	var by [8]edgeSurvey
	parts := share(len(m.V), 1<<13, func(part, from, to int) {
		var e edgeSurvey
		s.each(from, to, func(a, b int32, along []uint64) {
			switch len(along) {
			case 2:
				if (along[0]^along[1])&1 == 0 {
					e.inconsistent++
				}
				return
			case 1:
				e.open = append(e.open, sideOf(along[0]))
				return
			}
			e.crowded++
			if balance(along) != 0 {
				e.uneven++
			}
			if len(e.crowdedAt) < places {
				e.crowdedAt = append(e.crowdedAt, m.V[a].Add(m.V[b]).times(0.5))
			}
			e.duplicates += repeats(m, b, along)
		})
		by[part] = e
	})
	e := by[0]
	for _, o := range by[1:parts] {
		e.open = append(e.open, o.open...)
		e.crowded += o.crowded
		e.uneven += o.uneven
		e.inconsistent += o.inconsistent
		e.duplicates += o.duplicates
		e.crowdedAt = append(e.crowdedAt, o.crowdedAt...)
	}
	e.crowdedAt = e.crowdedAt[:min(places, len(e.crowdedAt))]
	return e
}

// repeats counts facets along one edge a–b that stand on the same third vertex
// as another, each only at the edge of its two smallest vertices.
func repeats(m *Mesh, b int32, along []uint64) int {
	var apex []int32
	for _, e := range along {
		if c := m.apex(sideOf(e)); c > b {
			apex = append(apex, c)
		}
	}
	slices.Sort(apex)
	return len(apex) - len(slices.Compact(apex))
}

// thin is the height, relative to the longest side, below which a facet counts
// as having no area. It is rounding in float32 coordinates, not a wish.
const thin = 1e-7

// slender reports whether the triangle has no area, as far as float32 files can say.
func slender(a, b, c Vec) bool {
	u, v := b.Sub(a), c.Sub(a)
	w, n := v.Sub(u), u.Cross(v)
	l2 := max(u.Dot(u), v.Dot(v), w.Dot(w))
	h2 := n.Dot(n) // (height × longest side)²
	return h2 <= float64(l2*l2)*(thin*thin)
}

func (m *Mesh) sideLength(side int32) float64 {
	a, b := m.ends(side)
	return m.V[b].Sub(m.V[a]).Len()
}

// longest returns the middles of the longest sides, longest first.
func longest(m *Mesh, list []int32) []Vec {
	type at struct {
		side int32
		l    float64
	}
	var top []at
	for _, side := range list {
		l := m.sideLength(side)
		if len(top) == places && l <= top[places-1].l {
			continue
		}
		i, _ := slices.BinarySearchFunc(top, l, func(t at, l float64) int {
			if t.l >= l {
				return -1
			}
			return 1
		})
		top = slices.Insert(top, i, at{side, l})
		top = top[:min(len(top), places)]
	}
	var out []Vec
	for _, t := range top {
		a, b := m.ends(t.side)
		out = append(out, m.V[a].Add(m.V[b]).times(0.5))
	}
	return out
}
