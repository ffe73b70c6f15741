package likeness

import (
	"math"

	"platebook/engine/mesh"
)

// Moments of the solid a closed surface encloses.
//
// Notation: a facet with corners a, b, c and the origin span a tetrahedron of
// signed volume v = a·(b×c)/6; s = a+b+c, and t runs over a, b, c. Then
//
//	∫ x_i x_j     = v/20  (s_i s_j + Σ t_i t_j)
//	∫ x_i x_j x_k = v/120 (s_i s_j s_k + Σ (t_i t_j s_k + t_i s_j t_k + s_i t_j t_k) + 2 Σ t_i t_j t_k)
//
// Source: the integrals of monomials over a simplex (Stroud 1971, MEMORY)
// summed as in Zhang and Chen 2001, "Efficient feature extraction for 2D/3D
// objects in mesh representation" (MEMORY). About the centre of mass they do
// not depend on how the surface is cut into facets, and rough facets cancel
// out, which areas do not.
//
// Idea: divided by powers of the volume and taken as what no turn changes:
// the axes of the second moments, and of the third moments the length of the
// part that is a vector and of the part that is not (degree 1 and 3; Lo and
// Don 1989, MEMORY).

type solid struct {
	volume float64
	axes   [3]float64  // eigenvalues of ∫xxᵀ / volume^(5/3), largest first
	third  [10]float64 // ∫xxx / volume², in the order of thirds
}

// leak is how far the volume may change, relative to itself, when the origin
// moves by a radius of gyration: 0 for a closed surface.
const leak = 0.02

// solid returns the moments of what the surface encloses; false when it
// encloses nothing to speak of or is too open to say what.
func (s *surface) solid() (solid, bool) {
	// 0: 6 × volume; 1–3: 2 × vector area; 4–6: 24 × volume × centre.
	sums := s.total(func(i int, sum *[16]float64) {
		f := s.f[i]
		a, b, c := s.v[f[0]], s.v[f[1]], s.v[f[2]]
		v := a.Dot(b.Cross(c))
		n := b.Sub(a).Cross(c.Sub(a))
		sum[0] += v
		for k := range 3 {
			sum[1+k] += n[k]
			sum[4+k] += float64(v * (a[k] + b[k] + c[k]))
		}
	})
	volume := sums[0] / 6
	open := mesh.Vec{sums[1] / 2, sums[2] / 2, sums[3] / 2}
	// A sheet seen from both sides encloses nothing but rounding.
	if math.Abs(volume) < 1e-4 || open.Len()/3 > leak*math.Abs(volume) {
		return solid{}, false
	}
	o := mesh.Vec{sums[4] / (24 * volume), sums[5] / (24 * volume), sums[6] / (24 * volume)}
	moments := s.total(func(i int, sum *[16]float64) {
		f := s.f[i]
		a, b, c := s.v[f[0]].Sub(o), s.v[f[1]].Sub(o), s.v[f[2]].Sub(o)
		addMoments(sum, a.Dot(b.Cross(c)), a, b, c)
	})
	if volume < 0 { // inside out
		volume = -volume
		for i := range moments {
			moments[i] = -moments[i]
		}
	}
	length := cubeRoot(volume)
	m := second(&moments, 120*volume*length*length)
	sd := solid{volume: volume, axes: m.axes()}
	for i := range sd.third {
		sd.third[i] = moments[6+i] / (720 * volume * volume)
	}
	return sd, true
}

// lopsided returns the lengths of the degrees 1 and 3 of the third moments.
func (sd *solid) lopsided() (one, three float64) {
	var v mesh.Vec
	all := 0.0
	for i, at := range thirds {
		x := sd.third[i]
		all += float64(float64(at[3]) * x * x)
		// T_iij counts towards v_j.
		switch {
		case at[0] == at[1]:
			v[at[2]] += x
		case at[1] == at[2]:
			v[at[0]] += x
		}
	}
	first := float64(0.6 * v.Dot(v))
	return math.Sqrt(first), math.Sqrt(math.Max(0, all-first))
}
