package slice

import (
	"bytes"
	"math"
	"os"
	"runtime"
	"testing"
	"time"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

func bunny(t testing.TB) *mesh.Mesh {
	return placed(readSTL(t, oracle.NPM(t, "stl-models/objects/bunny.bin.stl")), 80)
}

// BenchmarkBunny cuts the bunny (npm stl-models), 80 mm tall, at 0.2 mm.
func BenchmarkBunny(b *testing.B) {
	m := bunny(b)
	for _, workers := range []int{1, 2} {
		b.Run(map[int]string{1: "one", 2: "two"}[workers], func(b *testing.B) {
			points := 0
			for b.Loop() {
				layers, _, err := Cut(m, Options{First: 0.2, Height: 0.2, MaxGap: 0.4, Workers: workers})
				if err != nil {
					b.Fatal(err)
				}
				points = 0
				for _, l := range layers {
					for _, r := range l.Region {
						points += len(r)
					}
				}
			}
			b.ReportMetric(float64(len(m.F)), "facets")
			b.ReportMetric(float64(points)/400, "points/layer")
		})
	}
}

// BenchmarkAgainstManifold cuts a mesh of 300 thousand facets, a torus with
// bumps, by 300 planes: reading and cutting, beside manifold-3d's load, build and
// slices in node.
func BenchmarkAgainstManifold(b *testing.B) {
	m := placed(torus(20, 8, 600, 250, func(u, v float64) float64 {
		return 1 + 0.2*math.Sin(9*u)*math.Cos(5*v)
	}), 60)
	path := writeSTL(b, m)
	data, err := os.ReadFile(path)
	if err != nil {
		b.Fatal(err)
	}
	var z []float64
	for i := range 300 {
		z = append(z, 0.1+0.2*float64(i))
	}
	var ref struct {
		Status string
		Areas  []float64
		MS     struct{ Load, Build, Cut float64 }
	}
	oracle.Node(b, "manifold_slice.mjs", map[string]any{"stl": path, "z": z}, &ref)
	if ref.Status != "NoError" {
		b.Fatal(ref.Status)
	}
	read, best, area := math.Inf(1), math.Inf(1), 0.0
	for b.Loop() {
		start := time.Now()
		model, err := mesh.Read(bytes.NewReader(data), int64(len(data)), "torus.stl", mesh.DefaultLimits())
		if err != nil {
			b.Fatal(err)
		}
		read = min(read, float64(time.Since(start))/1e6)
		start = time.Now()
		layers, _, err := Cut(model.Mesh, Options{First: 0.2, Height: 0.2})
		if err != nil {
			b.Fatal(err)
		}
		best = min(best, float64(time.Since(start))/1e6)
		area = 0
		for _, l := range layers {
			area += l.Region.Area()
		}
	}
	want := 0.0
	for _, a := range ref.Areas {
		want += a
	}
	b.ReportMetric(float64(len(m.F)), "facets")
	b.ReportMetric(float64(runtime.GOMAXPROCS(0)), "cores")
	b.ReportMetric(read, "read-ms")
	b.ReportMetric(best, "cut-ms")
	b.ReportMetric(ref.MS.Load, "node-load-ms")
	b.ReportMetric(ref.MS.Build, "node-build-ms")
	b.ReportMetric(ref.MS.Cut, "node-cut-ms")
	b.ReportMetric((ref.MS.Load+ref.MS.Build+ref.MS.Cut)/(read+best), "times-faster")
	b.ReportMetric(ref.MS.Cut/best, "times-faster-cut-only")
	b.ReportMetric(1e6*(area/want-1), "area-ppm")
}
