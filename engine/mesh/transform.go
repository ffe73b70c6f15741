package mesh

import "math"

// Affine maps a point p to A·p + T. The zero Affine maps everything to the
// origin; start from Identity.
type Affine struct {
	A [3][3]float64 // rows
	T Vec           // mm
}

// Identity returns the map that leaves every point where it is.
func Identity() Affine { return Scale(Vec{1, 1, 1}) }

// Translate moves by d mm.
func Translate(d Vec) Affine { t := Identity(); t.T = d; return t }

// Scale stretches each axis by its own factor, about the origin. A negative
// factor mirrors.
func Scale(s Vec) Affine {
	return Affine{A: [3][3]float64{{s[0], 0, 0}, {0, s[1], 0}, {0, 0, s[2]}}}
}

// Turn rotates by angle radians about an axis through the origin, counter-
// clockwise seen with the axis pointing at the eye. A zero axis turns nothing.
// Source: Rodrigues' formula.
func Turn(axis Vec, angle float64) Affine {
	l := axis.Len()
	if l == 0 || math.IsInf(l, 0) || math.IsNaN(l) {
		return Identity()
	}
	x, y, z := axis[0]/l, axis[1]/l, axis[2]/l
	s, c := sincos(angle)
	d := 1 - c
	e := func(p, q, r float64) float64 { return float64(float64(p*q)*d) + r }
	return Affine{A: [3][3]float64{
		{e(x, x, c), e(x, y, -float64(z*s)), e(x, z, float64(y*s))},
		{e(y, x, float64(z*s)), e(y, y, c), e(y, z, -float64(x*s))},
		{e(z, x, -float64(y*s)), e(z, y, float64(x*s)), e(z, z, c)},
	}}
}

// sincos is math.Sincos with every product rounded before it is added to, so
// that a pose is the same to the last digit on every machine: the angle less
// quarter turns (in two parts, Cody and Waite 1980), then Taylor's series.
func sincos(x float64) (sin, cos float64) {
	x = math.Remainder(x, 2*math.Pi)
	const head, tail = 0x1.921fb544p0, 0x1.0b4611a626331p-34 // of π/2; head·k is exact
	k := math.Round(x / (math.Pi / 2))
	r := x - float64(k*head) - float64(k*tail)
	r2 := float64(r * r)
	sin, cos = 1, 1
	for n := 20.; n >= 2; n -= 2 {
		// Horner: sin r / r = 1 − r²/(2·3)(1 − r²/(4·5)(…)), cos r alike.
		sin = 1 - float64(r2/(n*(n+1))*sin)
		cos = 1 - float64(r2/(n*(n-1))*cos)
	}
	sin = float64(sin * r)
	switch int(k) & 3 {
	case 1:
		return cos, -sin
	case 2:
		return -sin, -cos
	case 3:
		return -cos, sin
	}
	return sin, cos
}

// Apply maps one point.
func (t Affine) Apply(p Vec) Vec {
	var q Vec
	for i, r := range t.A {
		q[i] = Vec(r).Dot(p) + t.T[i]
	}
	return q
}

// Then returns the map that does t first and u after.
func (t Affine) Then(u Affine) Affine {
	var r Affine
	for i := range 3 {
		for j := range 3 {
			r.A[i][j] = Vec(u.A[i]).Dot(Vec{t.A[0][j], t.A[1][j], t.A[2][j]})
		}
	}
	r.T = u.Apply(t.T)
	return r
}

// Determinant is what the map multiplies volumes by; negative when it mirrors.
func (t Affine) Determinant() float64 { return Vec(t.A[0]).Dot(Vec(t.A[1]).Cross(Vec(t.A[2]))) }

// Transform returns m mapped by t. A map that mirrors also turns the facets
// round, so that a solid does not become inside out.
func Transform(m *Mesh, t Affine) *Mesh {
	r := &Mesh{V: make([]Vec, len(m.V)), F: make([][3]int32, len(m.F)), Colour: append([]uint8(nil), m.Colour...)}
	share(len(m.V), 1<<14, func(_, from, to int) {
		for i, v := range m.V[from:to] {
			r.V[from+i] = t.Apply(v)
		}
	})
	copy(r.F, m.F)
	if t.Determinant() < 0 {
		for i := range r.F {
			r.F[i] = flipped(r.F[i])
		}
	}
	return r
}

func flipped(f [3]int32) [3]int32 { return [3]int32{f[0], f[2], f[1]} }

// Merge returns all meshes as one, nothing welded. It copies, except that a
// single mesh is returned as it is.
func Merge(ms ...*Mesh) *Mesh {
	if len(ms) == 1 {
		return ms[0]
	}
	nv, nf, coloured := 0, 0, false
	for _, m := range ms {
		nv += len(m.V)
		nf += len(m.F)
		coloured = coloured || m.Colour != nil
	}
	r := &Mesh{V: make([]Vec, 0, nv), F: make([][3]int32, 0, nf)}
	if coloured {
		r.Colour = make([]uint8, nf)
	}
	for _, m := range ms {
		d := int32(len(r.V))
		if m.Colour != nil {
			copy(r.Colour[len(r.F):], m.Colour)
		}
		r.V = append(r.V, m.V...)
		for _, f := range m.F {
			r.F = append(r.F, [3]int32{f[0] + d, f[1] + d, f[2] + d})
		}
	}
	return r
}

// Part returns the facets of one colour part, with only the vertices they use.
// The surface where two colour parts meet is theirs only if the file drew it.
func (m *Mesh) Part(colour uint8) *Mesh {
	if m.Colour == nil {
		if colour == 0 {
			return m
		}
		return &Mesh{}
	}
	return m.pick(func(f int) bool { return m.Colour[f] == colour })
}

// Bodies returns each shell of m as a mesh of its own, in order of their first
// facets; a cavity comes with the smallest body around it. Facets that name a vertex twice are left out. m
// must be Valid.
func Bodies(m *Mesh) []*Mesh {
	sh := shellsOf(sidesOf(m))
	owner := make([]int32, len(sh.list))
	var ask []int32
	for i := range sh.list {
		owner[i] = int32(i)
		if b := &sh.list[i]; b.unpaired == 0 && b.volume < 0 && !b.flat() {
			ask = append(ask, int32(i))
		}
	}
	for _, h := range sh.holders(ask) {
		best := int32(-1)
		for _, o := range h.by {
			if sh.list[o].volume > 0 && (best < 0 || sh.smaller(o, best)) {
				best = o
			}
		}
		if best >= 0 {
			owner[h.shell] = best
		}
	}
	// Facets of each owner together, in order.
	count := make([]int32, len(sh.list)+1)
	for _, i := range sh.of {
		if i >= 0 {
			count[owner[i]+1]++
		}
	}
	for i := range sh.list {
		count[i+1] += count[i]
	}
	order := make([]int32, count[len(sh.list)])
	next := append([]int32(nil), count...)
	for f, i := range sh.of {
		if i >= 0 {
			order[next[owner[i]]] = int32(f)
			next[owner[i]]++
		}
	}
	var out []*Mesh
	name := make([]int32, len(m.V)) // new index + 1; wiped after each body
	for i := range sh.list {
		fs := order[count[i]:count[i+1]]
		if len(fs) == 0 {
			continue
		}
		r := &Mesh{}
		for _, f := range fs {
			t := m.F[f]
			for k, v := range t {
				if name[v] == 0 {
					r.V = append(r.V, m.V[v])
					name[v] = int32(len(r.V))
				}
				t[k] = name[v] - 1
			}
			r.F = append(r.F, t)
			if m.Colour != nil {
				r.Colour = append(r.Colour, m.Colour[f])
			}
		}
		for _, f := range fs {
			for _, v := range m.F[f] {
				name[v] = 0
			}
		}
		out = append(out, r)
	}
	return out
}

// pick returns the facets that keep says, in order, with only the vertices they use.
func (m *Mesh) pick(keep func(f int) bool) *Mesh {
	r := &Mesh{}
	name := make([]int32, len(m.V)) // new index + 1
	for i, f := range m.F {
		if !keep(i) {
			continue
		}
		for k, v := range f {
			if name[v] == 0 {
				r.V = append(r.V, m.V[v])
				name[v] = int32(len(r.V))
			}
			f[k] = name[v] - 1
		}
		r.F = append(r.F, f)
		if m.Colour != nil {
			r.Colour = append(r.Colour, m.Colour[i])
		}
	}
	return r
}
