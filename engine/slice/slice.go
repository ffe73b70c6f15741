package slice

import (
	"fmt"
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"platebook/engine/mesh"
	"platebook/engine/region"
	"platebook/engine/say"
)

// Layer is the section of a solid that one layer deposits.
type Layer struct {
	Bottom, Top float64 // mm above the platform; the plane of the cut is half-way
	Region      region.Region
}

// Report tells what had to be closed to make contours.
type Report struct {
	Gaps      int     // gaps closed with a straight edge
	LongestMM float64 // the longest of them
	Open      int     // contours that could not be closed and were dropped
	OpenMM    float64 // their length
	Layers    int     // layers in which anything of this happened
}

// add counts what happened in the layers of q as well.
func (r *Report) add(q Report) {
	r.Gaps += q.Gaps
	r.LongestMM = max(r.LongestMM, q.LongestMM)
	r.Open += q.Open
	r.OpenMM += q.OpenMM
	r.Layers += q.Layers
}

// UsualGap is the widest gap in mm worth closing in contours of open meshes:
// wider than a bead, and it is no longer the same wall.
const UsualGap = 0.4

// What Cut takes at most.
const (
	MaxLayers   = 20000
	maxSegments = 1 << 25 // half a gigabyte of contours
	reachMM     = float64(region.Limit) / 1000
)

// Options say how to cut. Lengths are in mm and are kept to the nanometre.
type Options struct {
	First   float64 // height of the lowest layer
	Height  float64 // height of every other layer
	MaxGap  float64 // the widest gap closed in contours of open meshes
	Workers int     // how many layers to work on at once; 0: one a core. The result is the same.
}

// Cut slices m, whose lowest point of interest is z = 0 (the platform), into
// layers: the lowest from 0 to o.First, the others o.Height each. Facets below
// z = 0 are cut off. The last layer is the last whose middle the part still
// reaches, so at the top less than half a layer is left out and at most half a
// layer is added. A part that does not reach the middle of the first layer
// gives no layers and no error. Layers in which nothing lies are kept, empty.
//
// Heights that are not positive or make more than MaxLayers layers, vertices
// that are not numbers or lie beyond half a kilometre, and contours of more
// than 33 million points in all return an error.
func Cut(m *mesh.Mesh, o Options) ([]Layer, Report, error) {
	top, err := reach(m)
	if err != nil {
		return nil, Report{}, err
	}
	planes, layers, err := o.planes(top)
	if err != nil || len(planes) == 0 {
		return nil, Report{}, err
	}
	workers := o.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	workers = min(workers, len(planes))
	c := sortFacets(m, planes, workers)
	if c.total > maxSegments {
		return nil, Report{}, say.Errorf("the part has too fine a surface for %d layers: "+
			"the outlines would have more than %d million points; use thicker layers or a file with fewer facets",
			len(planes), maxSegments/1000000)
	}
	reports := make([]Report, len(planes))
	var next atomic.Int64
	work := func() {
		j := newJoiner(m, o.MaxGap)
		for {
			b := int(next.Add(1)) - 1
			if b >= c.blocks {
				return
			}
			c.open(b, j)
			for i := b * c.block; i < min((b+1)*c.block, len(planes)); i++ {
				layers[i].Region, reports[i] = j.layer(c, i)
			}
		}
	}
	var wg sync.WaitGroup
	for range workers - 1 {
		wg.Go(work)
	}
	work()
	wg.Wait()
	var all Report
	for _, r := range reports {
		all.add(r)
	}
	return layers, all, nil
}

// Plane returns the section of m at z mm. A vertex on the plane is above it, as
// in Cut, so the section is that just below z. Only gaps within the rounding of
// the grid are closed. Facets with vertices that are no numbers, not there or
// too far away are passed over.
func Plane(m *mesh.Mesh, z float64) (region.Region, Report) {
	if _, err := reach(m); err != nil {
		m = usable(m)
	}
	c := sortFacets(m, []float64{z}, 1)
	if c.total > maxSegments {
		return nil, Report{}
	}
	j := newJoiner(m, 0)
	c.open(0, j)
	return j.layer(c, 0)
}

// planes returns the z of every plane not above top and the layers they stand for.
//
// Heights are whole nanometres, so the k-th layer lies where k·height says
// without the errors of a sum; bottom and top are the floating-point numbers
// nearest to the true ones, and so is the plane half-way.
func (o Options) planes(top float64) ([]float64, []Layer, error) {
	for _, h := range []float64{o.First, o.Height} {
		if !(h > 0 && h <= reachMM) {
			return nil, nil, fmt.Errorf("a layer cannot be %g mm high: give a height above 0, such as 0.2", h)
		}
	}
	first, height := nano(o.First), nano(o.Height)
	if first < 2 || height < 2 {
		return nil, nil, say.Errorf("the layers are too thin to count: give heights in mm, such as 0.2")
	}
	at := func(i int) (bottom, top int64) {
		if i == 0 {
			return 0, first
		}
		bottom = first + int64(i-1)*height
		return bottom, bottom + height
	}
	var planes []float64
	var layers []Layer
	for i := 0; ; i++ {
		b, t := at(i)
		z := float64(b+t) / 2e6
		if !(z <= top) {
			return planes, layers, nil
		}
		if i == MaxLayers {
			return nil, nil, say.Errorf("a part %.0f mm tall makes more than %d layers of %g mm; "+
				"use thicker layers or check the unit of the file", top, MaxLayers, o.Height)
		}
		planes = append(planes, z)
		layers = append(layers, Layer{Bottom: float64(b) / 1e6, Top: float64(t) / 1e6})
	}
}

func nano(mm float64) int64 { return int64(math.Floor(float64(mm*1e6) + 0.5)) }

// reach returns the highest z of m, or an error if a facet of m cannot be cut.
func reach(m *mesh.Mesh) (top float64, err error) {
	top = math.Inf(-1)
	for i := range m.F {
		for _, v := range m.F[i] {
			if uint(v) >= uint(len(m.V)) {
				return 0, say.Errorf("facet %d names vertex %d, which is not there", i, v)
			}
			p := &m.V[v]
			for _, x := range p {
				if !(math.Abs(x) <= reachMM) {
					return 0, say.Errorf("facet %d has a corner at %g mm, which is no place on any printer; "+
						"check the file and its unit", i, x)
				}
			}
			top = max(top, p[2])
		}
	}
	return top, nil
}

// usable returns m without the facets reach would complain of.
func usable(m *mesh.Mesh) *mesh.Mesh {
	ok := &mesh.Mesh{V: m.V}
	for i := range m.F {
		one := mesh.Mesh{V: m.V, F: m.F[i : i+1]}
		if _, err := reach(&one); err == nil {
			ok.F = append(ok.F, m.F[i])
		}
	}
	return ok
}
