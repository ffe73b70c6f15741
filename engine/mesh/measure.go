package mesh

import "math"

// Notation: a facet with corners a, b, c taken from a local origin spans a
// tetrahedron of signed volume a·(b×c)/6 with centroid (a+b+c)/4.
//
// Source: the divergence theorem; the sums are those of Zhang and Chen 2001,
// "Efficient feature extraction for 2D/3D objects in mesh representation".
//
// Idea: the origin is the middle of the box, so a part far from the origin of
// its file loses nothing to cancellation. Facets are summed in blocks of fixed
// length and the blocks with Neumaier's compensation, in order: the answer does
// not depend on the number of cores. Products are rounded before they are
// added, so no processor may fuse them.

// Measures are the sizes of a mesh.
type Measures struct {
	Volume float64 // mm³, signed: positive when facets face outward. Means little unless the mesh is Closed.
	Area   float64 // mm²
	Centre Vec     // of mass, mm; of the surface when the volume is nothing, of the box when that is nothing too
	Box    Box     // of the vertices that facets use
}

// block is how many facets are summed before compensation.
const block = 512

// Measure returns the sizes of m, which must be Valid; an empty mesh measures nothing.
func Measure(m *Mesh) Measures {
	box := m.Bounds()
	if len(m.F) == 0 {
		return Measures{}
	}
	o := box.middle()
	blocks := (len(m.F) + block - 1) / block
	sums := make([][8]float64, blocks)
	share(blocks, 16, func(_, from, to int) {
		for i := from; i < to; i++ {
			sums[i] = sumBlock(m, m.F[i*block:min((i+1)*block, len(m.F))], o)
		}
	})
	var total [8]tally
	for i := range sums {
		for k, x := range sums[i] {
			total[k].add(x)
		}
	}
	ms := Measures{Volume: total[0].sum() / 6, Area: total[1].sum() / 2, Box: box, Centre: o}
	size := box.Size()
	if v := ms.Volume; math.Abs(v) > 1e-12*size[0]*size[1]*size[2] {
		ms.Centre = o.Add(Vec{total[2].sum(), total[3].sum(), total[4].sum()}.times(1 / (24 * v)))
	} else if ms.Area > 0 {
		ms.Centre = o.Add(Vec{total[5].sum(), total[6].sum(), total[7].sum()}.times(1 / (6 * ms.Area)))
	}
	return ms
}

// sumBlock adds up, for some facets, six times the volume, twice the area, and
// both times the sum of the corners. Coordinates are spelt out: the compiler
// keeps them in registers, which it does not do with a Vec (twice as fast).
func sumBlock(m *Mesh, facets [][3]int32, o Vec) (s [8]float64) {
	var vol, area, vx, vy, vz, ax, ay, az float64
	for i := range facets {
		f := &facets[i]
		a, b, c := &m.V[f[0]], &m.V[f[1]], &m.V[f[2]]
		x, y, z := a[0]-o[0], a[1]-o[1], a[2]-o[2]
		ux, uy, uz := b[0]-a[0], b[1]-a[1], b[2]-a[2]
		wx, wy, wz := c[0]-a[0], c[1]-a[1], c[2]-a[2]
		nx := float64(uy*wz) - float64(uz*wy)
		ny := float64(uz*wx) - float64(ux*wz)
		nz := float64(ux*wy) - float64(uy*wx)
		v := float64(x*nx) + float64(y*ny) + float64(z*nz)
		n := math.Sqrt(float64(nx*nx) + float64(ny*ny) + float64(nz*nz))
		x, y, z = float64(3*x)+ux+wx, float64(3*y)+uy+wy, float64(3*z)+uz+wz // sum of the corners
		vol += v
		area += n
		vx += float64(v * x)
		vy += float64(v * y)
		vz += float64(v * z)
		ax += float64(n * x)
		ay += float64(n * y)
		az += float64(n * z)
	}
	return [8]float64{vol, area, vx, vy, vz, ax, ay, az}
}

// tally is a compensated sum (Neumaier 1974).
type tally struct{ s, lost float64 }

func (t *tally) add(x float64) {
	s := t.s + x
	if math.Abs(t.s) >= math.Abs(x) {
		t.lost += (t.s - s) + x
	} else {
		t.lost += (x - s) + t.s
	}
	t.s = s
}

func (t *tally) sum() float64 { return t.s + t.lost }

// Bounds returns the box of the vertices that facets use, in mm; m must be Valid.
func (m *Mesh) Bounds() Box {
	if len(m.F) == 0 {
		return Box{}
	}
	used := make([]bool, len(m.V))
	for _, f := range m.F {
		used[f[0]], used[f[1]], used[f[2]] = true, true, true
	}
	var boxes [8]Box
	parts := share(len(m.V), 1<<14, func(part, from, to int) {
		b := noBox
		for i := from; i < to; i++ {
			if used[i] {
				b.include(m.V[i])
			}
		}
		boxes[part] = b
	})
	b := boxes[0]
	for _, c := range boxes[1:parts] {
		b.include(c.Min)
		b.include(c.Max)
	}
	return b
}

// noBox includes nothing; the first point included becomes the box.
var noBox = Box{
	Vec{math.Inf(1), math.Inf(1), math.Inf(1)},
	Vec{math.Inf(-1), math.Inf(-1), math.Inf(-1)},
}

func (b *Box) include(p Vec) {
	for k, x := range p {
		if x < b.Min[k] {
			b.Min[k] = x
		}
		if x > b.Max[k] {
			b.Max[k] = x
		}
	}
}

func (b Box) middle() Vec { return b.Min.Add(b.Max).times(0.5) }

// within reports whether b lies in c, borders included.
func (b Box) within(c Box) bool {
	for k := range 3 {
		if b.Min[k] < c.Min[k] || b.Max[k] > c.Max[k] {
			return false
		}
	}
	return true
}

// times is Scale whose products are rounded before anything is added to them.
func (a Vec) times(s float64) Vec {
	return Vec{float64(a[0] * s), float64(a[1] * s), float64(a[2] * s)}
}
