package likeness

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"sync"

	"platebook/engine/mesh"
)

// Notation: a facet with corners a, b, c and area A has, about any origin,
// ∫x dA = A(a+b+c)/3 and ∫|x|² dA = A(|a|²+|b|²+|c|²+|a+b+c|²)/12.
//
// Idea: everything later is measured from the centroid of the surface in units
// of its radius of gyration, so place and size are gone before anything else
// is computed. The surface and not the solid gives the frame because every
// mesh has a surface, and only some enclose a volume.
//
// A rough copy of a fine mesh has more area where facets are small, and would
// weigh more there. So vertices first move towards the neighbours they have
// nearby (Taubin 1995 tells the effect of such steps; MEMORY): what is rough
// on a scale below nearby becomes smooth, and a mesh of larger facets stays as
// it is.
//
// Rejected: the frame of principal axes, which would take out the turn as
// well. It jumps when two axes are nearly equal, as those of most round parts
// are; what follows does not depend on the turn instead. Also rejected:
// merging the vertices of each cell of a grid, which does the same for noise
// but depends on the turn and joins thin walls.

// ErrNoSurface is what Of's error wraps when there is nothing to compare.
var ErrNoSurface = errors.New("the model has no surface that could be compared")

// surface is a mesh in its own frame: origin at the centroid of the smoothed
// surface, unit its radius of gyration.
type surface struct {
	v      []mesh.Vec
	smooth []mesh.Vec // the same vertices, smoothed
	f      [][3]int32
	area   []float64 // of each smoothed facet
}

const (
	nearby = 0.03 // how far a neighbour counts, in radii of gyration: some 1.5 % of a diagonal
	rounds = 4    // of smoothing
)

// block is how many facets are summed before the sums are: the answer does not
// depend on the number of cores.
const block = 1024

func surfaceOf(m *mesh.Mesh) (*surface, error) {
	if err := mesh.Valid(m); err != nil {
		return nil, fmt.Errorf("take a print: %w", err)
	}
	box := mesh.Measure(m).Box
	size := box.Size()
	unit := max(size[0], size[1], size[2])
	if !(unit > 0 && unit < math.Inf(1)) {
		return nil, fmt.Errorf("take a print: %w", ErrNoSurface)
	}
	s := &surface{v: make([]mesh.Vec, len(m.V)), f: m.F, area: make([]float64, len(m.F))}
	for i, p := range m.V {
		for k := range p {
			// A vertex of no facet may lie anywhere; it must not matter.
			s.v[i][k] = math.Max(-1, math.Min(1, (p[k]-box.Min[k])/unit-0.5))
		}
	}
	s.smooth = s.v
	if !s.settle() {
		return nil, fmt.Errorf("take a print: %w", ErrNoSurface)
	}
	s.smooth = smoothed(s.v, s.f)
	if !s.settle() { // a needle, which closed up: let it be rough
		s.smooth = s.v
		s.settle()
	}
	return s, nil
}

// settle puts the vertices into the frame of the smoothed surface and finds
// the areas in it; false when there is no surface.
func (s *surface) settle() bool {
	// 0: area; 1–3: area × sum of corners.
	sums := s.total(func(i int, sum *[16]float64) {
		a, b, c := s.corners(i)
		n := float64(b.Sub(a).Cross(c.Sub(a)).Len() / 2)
		s.area[i] = n
		sum[0] += n
		for k := range 3 {
			sum[1+k] += float64(n * (a[k] + b[k] + c[k]))
		}
	})
	if !(sums[0] > 0) {
		return false
	}
	var o mesh.Vec
	for k := range o {
		o[k] = sums[1+k] / (3 * sums[0])
	}
	spread := s.total(func(i int, sum *[16]float64) {
		a, b, c := s.corners(i)
		a, b, c = a.Sub(o), b.Sub(o), c.Sub(o)
		all := a.Add(b).Add(c)
		sum[0] += float64(s.area[i] * (a.Dot(a) + b.Dot(b) + c.Dot(c) + all.Dot(all)))
	})
	r := math.Sqrt(spread[0] / (12 * sums[0]))
	if !(r > 0) {
		return false
	}
	rows := [][]mesh.Vec{s.v, s.smooth}
	if &s.v[0] == &s.smooth[0] {
		rows = rows[:1]
	}
	for _, v := range rows {
		for i, p := range v {
			v[i] = mesh.Vec{(p[0] - o[0]) / r, (p[1] - o[1]) / r, (p[2] - o[2]) / r}
		}
	}
	for i := range s.area {
		s.area[i] /= r * r
	}
	return true
}

// smoothed returns v with every vertex moved towards its neighbours along the
// edges of f, the less the farther they are and not at all from nearby on.
func smoothed(v []mesh.Vec, f [][3]int32) []mesh.Vec {
	v = append([]mesh.Vec(nil), v...)
	sums := make([]mesh.Vec, len(v))
	weights := make([]float64, len(v))
	for range rounds {
		copy(sums, v)
		for i := range weights {
			weights[i] = 1
		}
		near := false
		for _, t := range f {
			for k, i := range t {
				j := t[(k+1)%3]
				p, q := &v[i], &v[j]
				x, y, z := q[0]-p[0], q[1]-p[1], q[2]-p[2]
				w := 1 - (float64(x*x)+float64(y*y)+float64(z*z))/(nearby*nearby)
				if w <= 0 {
					continue
				}
				near = true
				weights[i] += w
				weights[j] += w
				a, b := &sums[i], &sums[j]
				for k := range 3 {
					a[k] += float64(w * q[k])
					b[k] += float64(w * p[k])
				}
			}
		}
		if !near {
			break
		}
		for i, w := range weights {
			for k := range 3 {
				v[i][k] = sums[i][k] / w
			}
		}
	}
	return v
}

// corners returns the corners of a smoothed facet.
func (s *surface) corners(i int) (a, b, c mesh.Vec) {
	f := s.f[i]
	return s.smooth[f[0]], s.smooth[f[1]], s.smooth[f[2]]
}

// total sums over the facets what add puts into sum for each.
func (s *surface) total(add func(i int, sum *[16]float64)) (total [16]float64) {
	blocks := (len(s.f) + block - 1) / block
	sums := make([][16]float64, blocks)
	share(blocks, func(b int) {
		for i := b * block; i < min((b+1)*block, len(s.f)); i++ {
			add(i, &sums[b])
		}
	})
	for i := range sums {
		for k, x := range sums[i] {
			total[k] += x
		}
	}
	return total
}

// share does work for every i below n, on all cores.
func share(n int, work func(i int)) {
	cores := min(runtime.GOMAXPROCS(0), n)
	if cores <= 1 {
		for i := range n {
			work(i)
		}
		return
	}
	var wg sync.WaitGroup
	for c := range cores {
		wg.Go(func() {
			for i := c; i < n; i += cores {
				work(i)
			}
		})
	}
	wg.Wait()
}
