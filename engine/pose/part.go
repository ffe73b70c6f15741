package pose

import (
	"math"
	"sync"
	"sync/atomic"

	"platebook/engine/mesh"
)

// part is what all candidates share.
type part struct {
	f      [][3]int32
	v      []mesh.Vec // the vertices facets use, about the middle of their box
	middle mesh.Vec
	twice  []float64  // twice the area of each facet
	hull   []mesh.Vec // corners, about the middle
	faces  [][3]int32 // of the hull
	mass   mesh.Vec   // centre of mass, about the middle
	lean   float64    // a facet overhangs if less than −lean of its normal points up
	first  float64    // what lies at most so high is on the platform, mm
	volume [3]float64
}

const (
	// hair is what two heights may differ by and still count as one, mm: more
	// than single precision loses on a desk's parts.
	hair = 1e-3
	// grace is added to the sine of the support angle, so that a face drawn at
	// just that angle is not judged by the rounding of its corners.
	grace = 1e-5
)

func newPart(m *mesh.Mesh, o Options) *part {
	ms := mesh.Measure(m)
	p := &part{volume: o.Volume, first: max(o.FirstLayer, hair)}
	// Of Turn's matrix, sine and cosine come out the same on every machine.
	p.lean = mesh.Turn(mesh.Vec{0, 0, 1}, o.Angle).A[1][0] + grace
	p.middle = ms.Box.Min.Add(ms.Box.Max).Scale(0.5)
	p.f, p.v = usedVertices(m)
	for i, v := range p.v {
		p.v[i] = v.Sub(p.middle)
	}
	p.twice = make([]float64, len(p.f))
	for i, f := range p.f {
		a := p.v[f[0]]
		p.twice[i] = p.v[f[1]].Sub(a).Cross(p.v[f[2]].Sub(a)).Len()
	}
	p.hull, p.faces = mesh.Hull(p.v)
	// An open surface may have its "mass" anywhere.
	p.mass = ms.Centre.Sub(p.middle)
	half := ms.Box.Size().Scale(0.5)
	for k, x := range p.mass {
		if !(ms.Volume > 0) || !(math.Abs(x) <= half[k]) {
			p.mass = mesh.Vec{}
			break
		}
	}
	return p
}

// usedVertices returns m's facets and a copy of the vertices they use, the
// facets renamed if there are others.
func usedVertices(m *mesh.Mesh) ([][3]int32, []mesh.Vec) {
	name := make([]int32, len(m.V)) // new index + 1
	used := 0
	for _, f := range m.F {
		for _, v := range f {
			if name[v] == 0 {
				name[v] = 1
				used++
			}
		}
	}
	v := make([]mesh.Vec, 0, used)
	for i := range name {
		if name[i] != 0 {
			v = append(v, m.V[i])
			name[i] = int32(len(v))
		}
	}
	if used == len(m.V) {
		return m.F, v
	}
	fs := make([][3]int32, len(m.F))
	for i, f := range m.F {
		fs[i] = [3]int32{name[f[0]] - 1, name[f[1]] - 1, name[f[2]] - 1}
	}
	return fs, v
}

// each calls work(worker, i) for every i below n on so many workers.
func each(n, workers int, work func(worker, i int)) {
	var next atomic.Int64
	run := func(w int) {
		for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
			work(w, int(i))
		}
	}
	var wg sync.WaitGroup
	for w := 1; w < workers; w++ {
		wg.Go(func() { run(w) })
	}
	run(0)
	wg.Wait()
}
