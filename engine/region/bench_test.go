package region

import (
	"encoding/binary"
	"math"
	"os"
	"testing"
	"time"

	"platebook/internal/oracle"
)

// bunnyLayers slices the bunny at 80 mm height into 400 layers.
func bunnyLayers(t testing.TB, every int) []Region { return cut(t, "bunny", 80, 400, every) }

// cut slices a solid of npm stl-models, scaled to a height in mm, in the plainest
// way: each facet that meets a plane gives a segment, segments are joined by their
// ends on the grid.
func cut(t testing.TB, name string, height float64, count, every int) []Region {
	t.Helper()
	data, err := os.ReadFile(oracle.NPM(t, "stl-models/objects/"+name+".bin.stl"))
	if err != nil {
		t.Fatal(err)
	}
	n := int(binary.LittleEndian.Uint32(data[80:]))
	facets := make([][3][3]float64, n)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range facets {
		for j := range 3 {
			for k := range 3 {
				at := 84 + 50*i + 12 + 12*j + 4*k
				facets[i][j][k] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[at:])))
			}
			low, high = min(low, facets[i][j][2]), max(high, facets[i][j][2])
		}
	}
	scale := height / (high - low)
	var layers []Region
	for layer := 0; layer < count; layer += every {
		z := low + (float64(layer)+0.5)*height/float64(count)/scale
		next := map[Point]Point{}
		var starts []Point
		for _, f := range facets {
			var from, to Point
			for j := range 3 {
				a, b := f[j], f[(j+1)%3]
				if (a[2] < z) == (b[2] < z) {
					continue
				}
				s := (z - a[2]) / (b[2] - a[2])
				p := Point{
					Micron(math.Round((a[0] + s*(b[0]-a[0])) * scale * 1000)),
					Micron(math.Round((a[1] + s*(b[1]-a[1])) * scale * 1000)),
				}
				if a[2] < z {
					to = p
				} else {
					from = p
				}
			}
			if from != to {
				if _, taken := next[from]; !taken {
					starts = append(starts, from)
					next[from] = to
				}
			}
		}
		var rings Region
		for _, s := range starts {
			var ring Ring
			for p := s; ; {
				q, ok := next[p]
				if !ok {
					break
				}
				delete(next, p)
				ring = append(ring, p)
				p = q
			}
			if len(ring) > 2 {
				rings = append(rings, ring)
			}
		}
		layers = append(layers, Nonzero(rings...))
	}
	return layers
}

func flat(r Region) [][]int64 {
	out := make([][]int64, len(r))
	for i, ring := range r {
		for _, p := range ring {
			out[i] = append(out[i], int64(p.X), int64(p.Y))
		}
	}
	return out
}

type timing struct {
	MS   float64 `json:"ms"`
	Area float64 `json:"area"`
}

// clipperTimes asks clipper2-wasm to do the work of the two benchmarks below.
func clipperTimes(b *testing.B, layers []Region) (offsets, neighbours timing) {
	b.Helper()
	in := struct {
		Layers [][][]int64 `json:"layers"`
		D      int         `json:"d"`
		Arc    int         `json:"arc"`
	}{D: -400, Arc: 5}
	for _, r := range layers {
		in.Layers = append(in.Layers, flat(r))
	}
	var out struct{ Offsets, Neighbours timing }
	oracle.Node(b, "clipper_bench.mjs", in, &out)
	return out.Offsets, out.Neighbours
}

// against runs job over all layers and reports its time beside the reference's.
func against(b *testing.B, layers int, ref timing, job func() float64) {
	b.Helper()
	var area float64
	best := math.Inf(1)
	for b.Loop() {
		start := time.Now()
		area = job()
		best = min(best, float64(time.Since(start))/1e6/float64(layers))
	}
	b.ReportMetric(best, "ms/layer")
	b.ReportMetric(ref.MS, "wasm-ms/layer")
	b.ReportMetric(best/ref.MS, "ratio")
	b.ReportMetric(1e6*area/ref.Area-1, "area-difference")
}

func BenchmarkThreeOffsets(b *testing.B) {
	layers := bunnyLayers(b, 1)
	ref, _ := clipperTimes(b, layers)
	b.ReportAllocs()
	against(b, len(layers), ref, func() float64 {
		sum := 0.0
		for _, r := range layers {
			for range 3 {
				r = r.Offset(-400, Round, 5)
			}
			sum += r.Area()
		}
		return sum
	})
}

func BenchmarkNeighbours(b *testing.B) {
	layers := bunnyLayers(b, 1)
	_, ref := clipperTimes(b, layers)
	near := make([]Region, len(layers))
	for i := range layers {
		for _, j := range []int{i - 2, i - 1, i + 1, i + 2} {
			if j >= 0 && j < len(layers) {
				near[i] = append(near[i], layers[j]...)
			}
		}
	}
	b.ReportAllocs()
	against(b, len(layers), ref, func() float64 {
		sum := 0.0
		for i, r := range layers {
			sum += Subtract(r, near[i]).Area()
		}
		return sum
	})
}

func BenchmarkNonzero(b *testing.B) {
	layers := bunnyLayers(b, 1)
	points := 0
	for _, r := range layers {
		for _, ring := range r {
			points += len(ring)
		}
	}
	b.ReportMetric(float64(points)/float64(len(layers)), "points/layer")
	for b.Loop() {
		for _, r := range layers {
			Nonzero(r...)
		}
	}
	b.ReportMetric(float64(points)/float64(len(layers)), "points/layer")
}
