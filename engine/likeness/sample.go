package likeness

import (
	"math"
	"slices"

	"platebook/engine/mesh"
)

// Points spread evenly over a surface.
//
// Source: systematic sampling by area, as in Osada, Funkhouser, Chazelle and
// Dobkin 2002, "Shape distributions", ACM TOG 21 (MEMORY), but with no chance
// in it: the place within a facet comes from Halton's sequence (1960, MEMORY).
//
// Idea: facets are put in the order of a curve through space (Morton 1966,
// MEMORY), and the length of that queue, measured in area, is cut into equal
// stretches with a point in the middle of each. So every region of the surface
// gets its share of points whatever its facets are and in whatever order the
// file has them. Ordering costs one counting sort.
//
// Rejected: the order of the file, because the same shape saved by another
// program comes in another order, and the share of a region is then luck.

// dot is a point of the surface and its normal.
type dot struct{ p, n mesh.Vec }

const (
	facetBits = 5  // cells of the curve along each axis, for facets: 2^5
	dotBits   = 10 // and for points
)

// sample returns n points, each standing for an equal share of the area.
func (s *surface) sample(n int) []dot {
	order := s.queue()
	total := 0.0
	for _, f := range order {
		total += s.area[f]
	}
	dots := make([]dot, 0, n)
	sum, last := 0.0, int32(-1)
	for _, f := range order {
		if s.area[f] == 0 {
			continue
		}
		sum += s.area[f]
		last = f
		// Invariant: every stretch whose middle lies before this facet has its point.
		for len(dots) < n && (float64(len(dots))+0.5)*total <= sum*float64(n) {
			dots = append(dots, s.dot(f, len(dots)))
		}
	}
	for len(dots) < n { // rounding may leave the last one over
		dots = append(dots, s.dot(last, len(dots)))
	}
	return alongCurve(dots)
}

// dot places the i-th point of all on facet f.
func (s *surface) dot(f int32, i int) dot {
	u, v := radical(i+1, 2), radical(i+1, 3)
	if u+v > 1 {
		u, v = 1-u, 1-v
	}
	a, b, c := s.corners(int(f))
	x, y := b.Sub(a), c.Sub(a)
	n := x.Cross(y)
	l := n.Len()
	d := dot{p: a}
	for k := range 3 {
		d.p[k] += float64(u*x[k]) + float64(v*y[k])
		if l > 0 {
			d.n[k] = n[k] / l
		}
	}
	return d
}

// radical mirrors the digits of i in a base about the point: Halton's sequence.
func radical(i, base int) float64 {
	x, digit := 0.0, 1.0
	for ; i > 0; i /= base {
		digit /= float64(base)
		x += float64(digit * float64(i%base))
	}
	return x
}

// queue returns the facets in the order of their cells on the curve.
func (s *surface) queue() []int32 {
	const cells = 1 << (3 * facetBits)
	low, high := s.smooth[s.f[0][0]], s.smooth[s.f[0][0]]
	for i := range s.f {
		a, b, c := s.corners(i)
		for k := range 3 {
			low[k] = min(low[k], a[k], b[k], c[k])
			high[k] = max(high[k], a[k], b[k], c[k])
		}
	}
	g := gridOver(low, high, facetBits)
	cell := make([]uint16, len(s.f))
	blocks := (len(s.f) + block - 1) / block
	share(blocks, func(b int) {
		for i := b * block; i < min((b+1)*block, len(s.f)); i++ {
			p, q, r := s.corners(i)
			cell[i] = uint16(g.cell(mesh.Vec{(p[0] + q[0] + r[0]) / 3, (p[1] + q[1] + r[1]) / 3, (p[2] + q[2] + r[2]) / 3}))
		}
	})
	start := make([]int32, cells+1)
	for _, c := range cell {
		start[c+1]++
	}
	for c := range cells {
		start[c+1] += start[c]
	}
	order := make([]int32, len(s.f))
	for i, c := range cell {
		order[start[c]] = int32(i)
		start[c]++
	}
	return order
}

// alongCurve puts points in the order of their own cells, much finer ones.
// Those of one large facet come in the order of Halton's sequence before, and
// a point and one a number of steps on would lie in some direction from each
// other more often than not.
func alongCurve(dots []dot) []dot {
	low, high := dots[0].p, dots[0].p
	for i := range dots {
		for k, x := range dots[i].p {
			low[k], high[k] = min(low[k], x), max(high[k], x)
		}
	}
	g := gridOver(low, high, dotBits)
	keys := make([]uint64, len(dots)) // cell and index
	for i := range dots {
		keys[i] = uint64(g.cell(dots[i].p))<<32 | uint64(i)
	}
	slices.Sort(keys)
	sorted := make([]dot, len(dots))
	for i, key := range keys {
		sorted[i] = dots[uint32(key)]
	}
	return sorted
}

// grid divides a cube into 2^bits cells along each axis.
type grid struct {
	low  mesh.Vec
	unit float64
	bits int
}

func gridOver(low, high mesh.Vec, bits int) grid {
	size := high.Sub(low)
	return grid{low, max(size[0], size[1], size[2]), bits}
}

// cell returns where on the curve the cell of p is.
func (g grid) cell(p mesh.Vec) (key uint32) {
	if g.unit == 0 {
		return 0
	}
	n := float64(int(1) << g.bits)
	for k := range 3 {
		x := uint32(math.Max(0, math.Min((p[k]-g.low[k])/g.unit*n, n-1)))
		for b := range g.bits {
			key |= x >> b & 1 << (3*b + k)
		}
	}
	return key
}
