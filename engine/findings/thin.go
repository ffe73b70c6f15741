package findings

import (
	"cmp"
	"math"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"platebook/engine/mesh"
	"platebook/engine/region"
	"platebook/engine/slice"
)

// Walls thinner than a bead.
//
// Notation: R the region of a layer, w the width of a bead, r a little less
// than w/2. R opened by r (shrunk, then grown back) is what a disc of radius r
// can reach without leaving R; what opening takes away is too thin for a bead.
// Growing back with mitred corners leaves right angles whole, so a box has no
// thin corners. Source: opening as in Serra, Image Analysis and Mathematical
// Morphology (1982) (MEMORY).
//
// Idea: not every layer is looked at. Planes are spread evenly and weighted by
// the height each stands for; their number is such that the contours together
// stay under a budget, so a part of a million facets costs no more than one of
// fifty thousand. The share found is an estimate over the sampled layers; with
// 24 planes a wall has to be thin over a twenty-fourth of the height to be
// sure to be seen, which the message allows for ("about").
//
// Rejected: rays from facet to facet through the solid, which see thin plates
// lying flat as well (those print) and cost a spatial index; intervals along a
// hatch, which call every acute corner thin.
const (
	mostPlanes   = 48
	pointsBudget = 60_000
	// tooManyPoints in a single plane are not looked at at all.
	tooManyPoints = 150_000
)

// thin is what is too thin for a bead.
type thin struct {
	share  float64 // of the part's volume, 0 to 1
	width  float64 // mm: half of the thin area is at least this wide, roughly
	places []mesh.Vec
	planes int
}

// sampled are layers that stand for the whole part.
type sampled struct {
	layers []slice.Layer
	weight []float64    // mm of height each stands for
	cut    slice.Report // of our own cut
	ours   bool
}

// sample chooses among the layers of f, or cuts some if f has none.
func sample(m *mesh.Mesh, box mesh.Box, layers []slice.Layer, first, gap float64) sampled {
	var s sampled
	if layers != nil {
		points := 0
		for _, l := range layers {
			for _, r := range l.Region {
				points += len(r)
			}
		}
		n := planes(float64(points)/float64(max(len(layers), 1)), len(layers))
		for i := range n {
			k := (2*i + 1) * len(layers) / (2 * n)
			s.layers = append(s.layers, layers[k])
			s.weight = append(s.weight, 1)
		}
		return s
	}
	height := box.Max[2]
	if m == nil || !(height > 0) || !(first > 0) {
		return s
	}
	var crossed float64
	for _, f := range m.F {
		a, b, c := m.V[f[0]][2], m.V[f[1]][2], m.V[f[2]][2]
		crossed += max(a, b, c) - min(a, b, c)
	}
	if !(crossed/height < tooManyPoints) {
		return s
	}
	n := planes(crossed/height, mostPlanes)
	first = math.Min(first, height)
	step := math.Max((height-first)/float64(n), first)
	cut, report, err := slice.Cut(m, slice.Options{First: first, Height: step, MaxGap: gap})
	if err != nil {
		return s
	}
	s.layers, s.cut, s.ours = cut, report, true
	for _, l := range cut {
		s.weight = append(s.weight, math.Min(l.Top, height)-math.Min(l.Bottom, height))
	}
	return s
}

// planes returns how many of at most most planes of perPlane points stay
// within the budget; at least one if there are any.
func planes(perPlane float64, most int) int {
	n := min(most, mostPlanes)
	if perPlane > 0 {
		n = min(n, int(pointsBudget/perPlane))
	}
	return min(max(n, 1), most)
}

// chunks is how many pieces a sum over facets is cut into, whatever the cores.
const chunks = 16

// each calls work for 0..n−1 on all cores.
func each(n int, work func(i int)) {
	workers := min(runtime.GOMAXPROCS(0), n, 16)
	if workers <= 1 {
		for i := range n {
			work(i)
		}
		return
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				work(i)
			}
		})
	}
	wg.Wait()
}

// thinWalls measures what of the sampled layers is thinner than bead mm.
func thinWalls(s sampled, bead float64) thin {
	type found struct {
		all, thin float64 // mm²
		spots     []spot
	}
	if len(s.layers) == 0 || !(bead > 0.01) {
		return thin{}
	}
	// A wall exactly as thick as a bead is thick enough.
	r := region.Micron(math.Round(bead * 1000 * 0.475))
	out := make([]found, len(s.layers))
	each(len(s.layers), func(i int) {
		l := s.layers[i].Region
		all := l.Area()
		// Detail finer than a twentieth of a bead does not make a wall thin.
		simple := l.Simplify(region.Micron(math.Round(bead * 1000 / 40)))
		opened := simple.Offset(-r, region.Mitre, 1).Offset(r, region.Mitre, 1)
		f := found{all: all}
		for _, part := range region.Subtract(simple, opened).Islands() {
			a := part.Area()
			f.thin += a
			f.spots = append(f.spots, spotOf(part, a, s.layers[i], s.weight[i]))
		}
		out[i] = f
	})
	var t thin
	var all, part float64
	var spots []spot
	for i, f := range out {
		all += float64(f.all * s.weight[i])
		part += float64(f.thin * s.weight[i])
		spots = append(spots, f.spots...)
	}
	t.planes = len(s.layers)
	if !(all > 0) || !(part > 0) {
		return t
	}
	t.share = math.Min(part/all, 1)
	slices.SortStableFunc(spots, func(a, b spot) int { return cmp.Compare(a.width, b.width) })
	var sum, upto float64
	for _, p := range spots {
		sum += p.weight
	}
	for _, p := range spots {
		if upto += p.weight; upto >= sum/2 {
			t.width = p.width
			break
		}
	}
	slices.SortStableFunc(spots, func(a, b spot) int { return cmp.Compare(b.weight, a.weight) })
	t.places = spread(spots)
	return t
}

// spot is one thin bit of one layer.
type spot struct {
	weight float64 // mm³
	width  float64 // mm, as that of a strip of the same area and perimeter
	at     mesh.Vec
}

func spotOf(part region.Region, area float64, l slice.Layer, weight float64) spot {
	// The middle of the longest edge lies along the wall and not at its end.
	var p, q region.Point
	longest := -1.0
	for i, a := range part[0] {
		b := part[0][(i+1)%len(part[0])]
		dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
		if d := float64(dx*dx) + float64(dy*dy); d > longest {
			longest, p, q = d, a, b
		}
	}
	return spot{
		weight: area * weight,
		width:  2 * area / math.Max(part.Perimeter(), 1e-6),
		at: mesh.Vec{
			float64(p.X+q.X) / 2000, float64(p.Y+q.Y) / 2000, (l.Bottom + l.Top) / 2,
		},
	}
}

// spread keeps the first spots that are not close to one kept before.
func spread(spots []spot) []mesh.Vec {
	const apart = 3 // mm
	var out []mesh.Vec
	for _, s := range spots {
		if len(out) == mostPlaces {
			break
		}
		if !slices.ContainsFunc(out, func(p mesh.Vec) bool { return p.Sub(s.at).Len() < apart }) {
			out = append(out, s.at)
		}
	}
	return out
}
