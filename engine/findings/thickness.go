package findings

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
)

// What the touching balls found, once it has been proved.
//
// A facet near another one says little where bodies overlap or a scan is
// folded, so of what looks thin, and of what looks like a gap, an even choice is
// held against winding numbers: the middle must be solid (or free), and just
// beyond both sides it must not be. What fails counts as neither.

// mostProved bounds how many walls, and how many gaps, are looked at so; fewSeen
// is how many there must be before a word is said.
const (
	mostProved = 1500
	fewSeen    = 3
)

// upright is the most a wall's normal may point up or down, as a cosine: beyond
// 45° it is a sheet, which layers build up, and not a wall, which beads fill.
const upright = math.Sqrt2 / 2

// slot is how far the sides of a gap may open, as a cosine: 15°. The bottom of a
// groove that opens wider fills by less than anybody sees (CUSTOM).
var slot = -math.Cos(15 * math.Pi / 180)

// touchingGap is how near bodies may be and still be meant to join, mm (CUSTOM).
const touchingGap = 0.02

// seen is a wall or a gap at one point of the surface.
type seen struct {
	at     mesh.Vec // the middle of the ball
	n      mesh.Vec // across the wall
	thick  float64  // mm, the diameter of the ball
	width  float64  // mm, of a wall as a layer cuts it, of a sheet from top to bottom
	weight float64  // share of the surface
	facet  [2]int32
	small  bool // thin in two directions
}

func (s seen) sheet() bool { return math.Abs(s.n[2]) > upright }

// thickness is what is known of walls and gaps all over the surface.
type thickness struct {
	walls, gaps []seen // the thinnest first
}

// thickness looks for walls up to two beads or two layers thin and gaps up to a
// bead wide.
func (l *look) thickness() thickness {
	n := mostPoints
	if len(l.Mesh.F) > hugeMesh {
		n = hugePoints
	}
	bead := l.bead()
	area := l.Measures.Area
	if !(area > 0) {
		area = mesh.Measure(l.Mesh).Area
	}
	n = max(int(math.Min(float64(n), 16*area/float64(bead*bead))), fewPoints)
	pts := scatter(l.Mesh, n)
	in, out, ok := balls(l.Mesh, pts, almost*math.Max(bead, l.layer()), almost*bead/2)
	if !ok {
		return thickness{}
	}
	var t thickness
	for i, p := range pts {
		if b := in[i]; b.facet >= 0 {
			t.walls = append(t.walls, newSeen(p, b, 0))
		}
		if b := out[i]; b.facet >= 0 && 2*b.r >= touchingGap && l.normal(b.facet).Dot(p.n) < slot {
			t.gaps = append(t.gaps, newSeen(p, b, 1))
		}
	}
	t.walls, t.gaps = few(t.walls), few(t.gaps)
	l.prove(&t)
	return t
}

// almost is how much less than so many beads is called less: a wall exactly as
// thick as a bead is thick enough.
const almost = 0.95

func newSeen(p point, b bubble, side int) seen {
	s := seen{
		at: p.centre(b.r, side), n: p.n, thick: 2 * b.r, weight: p.weight,
		facet: [2]int32{p.facet, b.facet},
	}
	flat := math.Abs(p.n[2])
	if !s.sheet() {
		flat = math.Sqrt(1 - float64(flat*flat))
	}
	s.width = s.thick / flat
	return s
}

// few sorts by width and keeps at most mostProved, each with the weight of all
// that it stands for.
func few(all []seen) []seen {
	slices.SortStableFunc(all, func(a, b seen) int { return cmp.Compare(a.width, b.width) })
	k := min(len(all), mostProved)
	out := make([]seen, k)
	for i := range k {
		from, to := i*len(all)/k, (i+1)*len(all)/k
		out[i] = all[from]
		for _, s := range all[from+1 : to] {
			out[i].weight += s.weight
		}
	}
	return out
}

// prove drops what winding numbers contradict.
func (l *look) prove(t *thickness) {
	var ask []mesh.Vec
	for _, s := range t.walls {
		ask = append(ask, l.ends(s, 1)...)
	}
	for _, s := range t.gaps {
		ask = append(ask, l.ends(s, -1)...)
	}
	solid, ok := l.solidAt(ask)
	if !ok {
		*t = thickness{}
		return
	}
	keep := func(list []seen, filled bool) []seen {
		out := list[:0]
		for _, s := range list {
			if solid[0] == filled && solid[1] != filled && solid[2] != filled {
				out = append(out, s)
			}
			solid = solid[3:]
		}
		return out
	}
	t.walls = keep(t.walls, true)
	t.gaps = keep(t.gaps, false)
}

// ends are the middle of a wall or gap and a point just beyond each side of it.
func (l *look) ends(s seen, out float64) []mesh.Vec {
	p := s.at.Add(s.n.Scale(float64(out * (float64(s.thick/2) + hair))))
	f := l.Mesh.F[s.facet[1]]
	a, b, c := l.Mesh.V[f[0]], l.Mesh.V[f[1]], l.Mesh.V[f[2]]
	q := closest(a, b, c, s.at)
	q = q.Add(l.normal(s.facet[1]).Scale(float64(out * hair)))
	return []mesh.Vec{s.at, p, q}
}

// normal is the unit normal of a facet, nothing of one without area.
func (l *look) normal(facet int32) mesh.Vec {
	f := l.Mesh.F[facet]
	t, _ := newTriangle(l.Mesh.V[f[0]], l.Mesh.V[f[1]], l.Mesh.V[f[2]])
	return t.n
}

// solidAt says of each point whether it is in the solid, and whether it could be told.
func (l *look) solidAt(at []mesh.Vec) ([]bool, bool) {
	qs := make([]query, len(at))
	for i, p := range at {
		qs[i] = query{at: p, shell: -1}
	}
	winding := make([]int, len(at))
	crossings, ok := drop(l.Mesh, l.label, qs, 0)
	for _, c := range crossings {
		switch {
		case c.z >= qs[c.query].at[2]:
		case c.up:
			winding[c.query]--
		default:
			winding[c.query]++
		}
	}
	out := make([]bool, len(at))
	for i, w := range winding {
		out[i] = w > 0
	}
	return out, ok
}

// apart makes places of walls or gaps, in order, some way apart.
func apart(list []seen) []mesh.Vec {
	spots := make([]spot, len(list))
	for i, s := range list {
		spots[i].at = s.at
	}
	return spread(spots)
}
