package findings

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
)

// Does a convex body fit into a container in some rotation?
//
// Notation: q the points of the body about a centre, ρ the largest |q|;
// R(w, ψ) a rotation: a turn by ψ about z, then the turn whose axis and angle
// are the vector w in the xy plane (so w says where the z axis goes); a cell a
// square of w with half-side s and an interval of ψ with half-width h.
//
// Source: branch and bound over rotations, bounded by how far a rotation can
// move a point (Hartley and Kahl, IJCV 82 (2009), lemma 1: rotations by vectors
// w and w' differ by an angle of at most |w−w'|) (MEMORY).
//
// Idea: any rotation of a cell moves every point by at most
// δρ = (√2·s + h)·ρ from where the cell's middle puts it. So if the middle does
// not fit into a container grown by δρ, nothing in the cell fits into the
// container, and that is proof. If a middle does fit, that is proof as well.
// Otherwise split. The squares of w over two hemispheres hold every direction.
// While a cell leaves ψ free the container has to answer for all ψ at once.
//
// The answer is certain or it is Unsure, when the budget of cells runs out:
// the body then comes within a fraction of a millimetre of fitting exactly.

// Certainty is an answer that knows its limits.
type Certainty int

const (
	Unsure Certainty = iota
	Fits
	DoesNotFit
)

// container says whether points fit into it grown by slack mm, with any
// translation. Growing a container by slack must let in every body whose points
// are slack or less from points that fit. free asks whether they may fit after
// some turn about z: yes when not known.
type container interface {
	fits(p []mesh.Vec, slack float64, free bool) bool
}

// rotation is a 3×3 matrix by rows.
type rotation [3]mesh.Vec

func (r rotation) apply(p mesh.Vec) mesh.Vec { return mesh.Vec{r[0].Dot(p), r[1].Dot(p), r[2].Dot(p)} }

func (r rotation) times(q rotation) rotation {
	var out rotation
	for i := range 3 {
		for j := range 3 {
			out[i][j] = r[i].Dot(mesh.Vec{q[0][j], q[1][j], q[2][j]})
		}
	}
	return out
}

// cell is a set of rotations; down says the z axis is first turned over.
type cell struct {
	wx, wy, s float64
	psi, h    float64
	down      bool
}

// spin is the rotation by the vector (wx, wy, 0).
func spin(wx, wy float64) rotation {
	a := math.Sqrt(float64(wx*wx) + float64(wy*wy))
	if a < 1e-12 {
		return rotation{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}
	}
	x, y, s, c := wx/a, wy/a, math.Sin(a), math.Cos(a)
	k := 1 - c
	return rotation{
		{c + float64(x*x*k), x * y * k, y * s},
		{x * y * k, c + float64(y*y*k), -x * s},
		{-y * s, x * s, c},
	}
}

// middle brings points of the body into the container's frame. The inverse of
// R(w, ψ) is used: then w moves the container's axis over the body and ψ stays
// a turn about that axis.
func (c cell) middle() rotation {
	s, k := math.Sin(c.psi), math.Cos(c.psi)
	r := rotation{{k, -s, 0}, {s, k, 0}, {0, 0, 1}}.times(spin(c.wx, c.wy))
	if c.down {
		r = r.times(rotation{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}})
	}
	return r
}

const freeTurn = math.Pi

// turns splits a cell that leaves ψ free into steps of ψ as wide as its square.
func (c cell) turns() []cell {
	n := int(math.Ceil(math.Pi / (2 * c.s)))
	h := math.Pi / float64(n)
	out := make([]cell, n)
	for i := range out {
		out[i] = cell{c.wx, c.wy, c.s, float64(2*i+1) * h, h, c.down}
	}
	return out
}

// split halves a cell in each of its dimensions; a free ψ stays free.
func (c cell) split() []cell {
	out := make([]cell, 0, 8)
	s, h, psi := float64(c.s/2), c.h, []float64{c.psi}
	if h < freeTurn {
		h = float64(h / 2)
		psi = []float64{c.psi - h, c.psi + h}
	}
	for _, dx := range [2]float64{-s, s} {
		for _, dy := range [2]float64{-s, s} {
			x, y := float64(c.wx+dx), float64(c.wy+dy)
			nx, ny := math.Max(0, math.Abs(x)-s), math.Max(0, math.Abs(y)-s)
			if float64(nx*nx)+float64(ny*ny) > math.Pi*math.Pi/4 {
				continue // all of it belongs to the other hemisphere
			}
			for _, t := range psi {
				out = append(out, cell{x, y, s, t, h, c.down})
			}
		}
	}
	return out
}

// fitSearch decides whether a convex body, given by its corners and facets as
// Hull returns them, fits into c in some rotation, and gives one that does.
// budget bounds the cells looked at; what is spent is returned. The answer does
// not depend on anything but its input.
func fitSearch(corners []mesh.Vec, facets [][3]int32, c container, budget int) (Certainty, rotation, int) {
	if len(corners) == 0 {
		return Fits, rotation{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}, 0
	}
	all, rho := centred(corners)
	s := &search{c: c, all: all, few: extremes(all), rho: rho, budget: budget}
	s.moved, s.turned = make([]mesh.Vec, len(s.few)), make([]mesh.Vec, len(all))
	if r, ok := s.onFaces(faceNormals(corners, facets)); ok {
		return Fits, r, s.spent
	}
	now := []cell{{s: math.Pi / 2, h: freeTurn}, {s: math.Pi / 2, h: freeTurn, down: true}}
	// Invariant: every rotation that fits is in a cell of now or of then.
	for len(now) > 0 {
		var then []cell
		for _, k := range now {
			if s.spent++; s.spent > s.budget {
				return Unsure, rotation{}, s.spent
			}
			delta := float64(math.Sqrt2 * k.s)
			if k.h < freeTurn {
				delta += k.h
			}
			r := k.middle()
			answer := s.try(r, delta, k.h == freeTurn)
			switch {
			case answer == Fits:
				return Fits, r, s.spent
			case answer == DoesNotFit:
			case k.h == freeTurn && (k.s < 0.01 || k.s < 0.1 && c.fits(s.moved, 0, true)):
				then = append(then, k.turns()...)
			default:
				then = append(then, k.split()...)
			}
		}
		now = then
	}
	return DoesNotFit, rotation{}, s.spent
}

// search is a fitSearch in progress.
type search struct {
	c             container
	all, few      []mesh.Vec // corners about a centre; few of them tell most cells apart
	moved, turned []mesh.Vec // few and all after a rotation
	rho           float64
	budget, spent int
}

// try says whether the body fits turned by r, or in no rotation within delta
// of r, free turns about z included if free.
func (s *search) try(r rotation, delta float64, free bool) Certainty {
	// A hair more than δρ, for the rounding of the arithmetic.
	slack := float64(delta*s.rho) + float64(1e-9*(1+s.rho))
	if !s.c.fits(place(s.moved, s.few, r), slack, free) {
		return DoesNotFit
	}
	if !s.c.fits(s.moved, 0, false) {
		return Unsure
	}
	s.spent += len(s.all) / 64 // looking at all of them costs as much as so many cells
	if s.c.fits(place(s.turned, s.all, r), 0, false) {
		return Fits
	}
	if !s.c.fits(s.turned, slack, free) {
		return DoesNotFit
	}
	return Unsure
}

func place(dst, src []mesh.Vec, r rotation) []mesh.Vec {
	for i, p := range src {
		dst[i] = r.apply(p)
	}
	return dst
}

// onFaces tries the body standing and hanging on its largest faces, turned in
// every way. Bodies with flat faces fit that way first, and often just so, where
// the cells would have to be very small.
func (s *search) onFaces(normals []mesh.Vec) (rotation, bool) {
	for _, n := range normals {
		for _, up := range [2]float64{1, -1} {
			base := upward(n.Scale(up))
			if s.spent++; s.spent > s.budget/2 {
				return rotation{}, false
			}
			if !s.c.fits(place(s.moved, s.few, base), 0, true) {
				continue
			}
			type turn struct{ psi, h float64 }
			now := []turn{{math.Pi / 2, math.Pi / 2}, {3 * math.Pi / 2, math.Pi / 2}}
			for len(now) > 0 {
				var then []turn
				for _, t := range now {
					if s.spent++; s.spent > s.budget/2 {
						return rotation{}, false
					}
					r := cell{psi: t.psi}.middle().times(base)
					switch answer := s.try(r, t.h, false); {
					case answer == Fits:
						return r, true
					case answer == Unsure && t.h > 1e-4:
						then = append(then, turn{t.psi - float64(t.h/2), t.h / 2}, turn{t.psi + float64(t.h/2), t.h / 2})
					}
				}
				now = then
			}
		}
	}
	return rotation{}, false
}

// upward is a rotation that turns the unit vector n to z.
func upward(n mesh.Vec) rotation {
	side := mesh.Vec{1, 0, 0}
	if math.Abs(n[0]) > 0.6 {
		side = mesh.Vec{0, 1, 0}
	}
	x := side.Cross(n)
	x = x.Scale(1 / x.Len())
	return rotation{x, n.Cross(x), n}
}

// faceNormals returns the outward unit normals of a body's largest faces, at
// most 24, largest first.
func faceNormals(corners []mesh.Vec, facets [][3]int32) []mesh.Vec {
	type face struct {
		key  [3]int32
		n    mesh.Vec // sum of the facets' normals, as long as twice their area
		area float64
	}
	var faces []face
	for _, f := range facets {
		n := corners[f[1]].Sub(corners[f[0]]).Cross(corners[f[2]].Sub(corners[f[0]]))
		l := n.Len()
		if !(l > 0) {
			continue
		}
		var key [3]int32
		for k := range n {
			key[k] = int32(math.Round(n[k] / l * 500))
		}
		faces = append(faces, face{key, n, l})
	}
	slices.SortStableFunc(faces, func(a, b face) int { return slices.Compare(a.key[:], b.key[:]) })
	var merged []face
	for _, f := range faces {
		if n := len(merged); n > 0 && merged[n-1].key == f.key {
			merged[n-1].n = merged[n-1].n.Add(f.n)
			merged[n-1].area += f.area
		} else {
			merged = append(merged, f)
		}
	}
	slices.SortStableFunc(merged, func(a, b face) int { return cmp.Compare(b.area, a.area) })
	var out []mesh.Vec
	for _, f := range merged[:min(len(merged), 24)] {
		if l := f.n.Len(); l > 0 {
			out = append(out, f.n.Scale(1/l))
		}
	}
	return out
}

// centred returns the points about the middle of their box and the largest
// distance from there.
func centred(points []mesh.Vec) ([]mesh.Vec, float64) {
	lo, hi := points[0], points[0]
	for _, p := range points {
		for k := range p {
			lo[k], hi[k] = math.Min(lo[k], p[k]), math.Max(hi[k], p[k])
		}
	}
	mid := lo.Add(hi.Sub(lo).Scale(0.5))
	out := make([]mesh.Vec, len(points))
	rho := 0.0
	for i, p := range points {
		out[i] = p.Sub(mid)
		rho = math.Max(rho, out[i].Len())
	}
	return out, rho
}

// extremes picks at most 64 of the points, those farthest out in as many
// directions spread over the sphere (a spiral of equal areas).
func extremes(points []mesh.Vec) []mesh.Vec {
	const most = 64
	if len(points) <= most {
		return points
	}
	taken := make(map[int]bool, most)
	var out []mesh.Vec
	for i := range most {
		z := 1 - float64(float64(2*i+1)/most)
		r := math.Sqrt(1 - float64(z*z))
		a := float64(i) * 2.399963229728653 // golden angle
		d := mesh.Vec{r * math.Cos(a), r * math.Sin(a), z}
		best, at := math.Inf(-1), 0
		for j, p := range points {
			if s := d.Dot(p); s > best {
				best, at = s, j
			}
		}
		if !taken[at] {
			taken[at] = true
			out = append(out, points[at])
		}
	}
	return out
}
