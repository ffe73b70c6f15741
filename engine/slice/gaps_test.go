package slice

import (
	"math"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/region"
)

// Open meshes: what is closed, what is dropped, what is said. All figures are
// COMPUTED from the shapes.
func TestGaps(t *testing.T) {
	cube := box(mesh.Vec{}, mesh.Vec{20, 20, 20})
	without := func(m *mesh.Mesh, facets ...int) *mesh.Mesh {
		r := &mesh.Mesh{V: m.V}
		for i, f := range m.F {
			if !contains(facets, i) {
				r.F = append(r.F, f)
			}
		}
		return r
	}
	turned := func(m *mesh.Mesh, facets ...int) *mesh.Mesh {
		r := &mesh.Mesh{V: m.V}
		for i, f := range m.F {
			if contains(facets, i) {
				f = [3]int32{f[0], f[2], f[1]}
			}
			r.F = append(r.F, f)
		}
		return r
	}
	// Facets 4 and 5 are the wall y = 0: 4 below its diagonal, 5 above; at height
	// z the diagonal is at x = z.
	soup := &mesh.Mesh{} // every facet with vertices of its own
	for _, f := range cube.F {
		d := int32(len(soup.V))
		soup.V = append(soup.V, cube.V[f[0]], cube.V[f[1]], cube.V[f[2]])
		soup.F = append(soup.F, [3]int32{d, d + 1, d + 2})
	}
	shaken := moved(soup, func(v mesh.Vec) mesh.Vec { return v })
	for i := range shaken.V { // each facet 0.05 mm from where it should be
		d := 0.05 * float64(i/3%3-1)
		shaken.V[i] = mesh.Vec{shaken.V[i][0] + d, shaken.V[i][1] - d, shaken.V[i][2]}
	}
	// A cylinder of which one wall strip of w mm is missing.
	slit := func(w float64) *mesh.Mesh {
		m := lathe(360, [2]float64{w * 180 / math.Pi, 0}, [2]float64{w * 180 / math.Pi, 10})
		return without(m, 0, 1)
	}
	strip := func(w float64) float64 { return 2 * w * 180 / math.Pi * math.Sin(math.Pi/360) }
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		gap  float64
		area float64 // at z = 5.1
		rep  func(z float64) Report
	}{
		{"closed", cube, 1, 400, func(float64) Report { return Report{} }},
		{"no ceiling", without(cube, 2, 3), 0, 400, func(float64) Report { return Report{} }},
		{"a facet missing, too wide", without(cube, 5), 1, 0, func(z float64) Report {
			if z <= 1 {
				return Report{Gaps: 1, LongestMM: z, Layers: 1}
			}
			return Report{Open: 1, OpenMM: 60 + 20 - z, Layers: 1}
		}},
		{"a facet missing, wide gaps allowed", without(cube, 5), 30, 400, func(z float64) Report {
			return Report{Gaps: 1, LongestMM: z, Layers: 1}
		}},
		{"a facet missing, none allowed", without(cube, 5), 0, 0, func(z float64) Report {
			return Report{Open: 1, OpenMM: 60 + 20 - z, Layers: 1}
		}},
		{"a slit a little narrower than allowed", slit(0.398), 0.4, gon(360, 0.398*180/math.Pi), func(float64) Report {
			return Report{Gaps: 1, LongestMM: strip(0.398), Layers: 1}
		}},
		{"a slit a little wider than allowed", slit(0.402), 0.4, 0, func(float64) Report {
			return Report{Open: 1, OpenMM: 359 * strip(0.402), Layers: 1}
		}},
		{"a facet turned over", turned(cube, 5), 0, 400, func(float64) Report { return Report{} }},
		{"half the facets turned over", turned(cube, 4, 6, 8, 10), 0, 400, func(float64) Report { return Report{} }},
		{"nothing welded", soup, 0, 400, func(float64) Report { return Report{} }},
		{"a facet twice", together2(cube, 5), 0, 400, func(z float64) Report {
			return Report{Open: 1, OpenMM: z, Layers: 1}
		}},
		{"a facet twice, once turned over", turned(together2(cube, 5), 12), 0, 400, func(z float64) Report {
			return Report{Open: 1, OpenMM: z, Layers: 1}
		}},
	} {
		layers, got := cut(t, c.m, Options{MaxGap: c.gap})
		var want Report
		for _, l := range layers {
			want.add(c.rep(middle(l)))
		}
		if got.Gaps != want.Gaps || got.Open != want.Open || got.Layers != want.Layers ||
			math.Abs(got.LongestMM-want.LongestMM) > 0.002 || math.Abs(got.OpenMM-want.OpenMM) > 0.002*float64(1+got.Open) {
			t.Errorf("%s: %+v, want %+v", c.name, got, want)
		}
		if r := layers[25].Region; math.Abs(r.Area()-c.area) > grid(r) {
			t.Errorf("%s: %g mm², want %g", c.name, r.Area(), c.area)
		}
	}
	layers, rep := cut(t, shaken, Options{MaxGap: 0.2})
	if rep.Open != 0 || rep.Gaps == 0 || rep.LongestMM > 0.2 {
		t.Errorf("shaken: %+v", rep)
	}
	for _, l := range layers {
		if math.Abs(l.Region.Area()-400) > 80*0.1 {
			t.Errorf("shaken: %g mm² at %g", l.Region.Area(), middle(l))
		}
	}
}

func contains(s []int, i int) bool {
	for _, k := range s {
		if k == i {
			return true
		}
	}
	return false
}

// together2 returns m with facet i there twice.
func together2(m *mesh.Mesh, i int) *mesh.Mesh {
	return &mesh.Mesh{V: m.V, F: append(append([][3]int32(nil), m.F...), m.F[i])}
}

// FuzzCut cuts heaps of facets that bound nothing: no panic, valid regions, and
// the same answer from one worker and from three.
func FuzzCut(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz"), uint8(6), uint8(10))
	f.Add([]byte{0, 0, 0, 9, 0, 0, 0, 9, 0, 0, 0, 9, 0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3}, uint8(4), uint8(0))
	f.Fuzz(func(t *testing.T, data []byte, n, gap uint8) {
		m := &mesh.Mesh{}
		for ; n > 0 && len(data) >= 3; n, data = n-1, data[3:] {
			var v mesh.Vec
			for k := range 3 {
				v[k] = float64(int8(data[k])) / 8
			}
			m.V = append(m.V, v)
		}
		if len(m.V) == 0 {
			return
		}
		for ; len(data) >= 3; data = data[3:] {
			var id [3]int32
			for k := range 3 {
				id[k] = int32(int(data[k]) % len(m.V))
			}
			m.F = append(m.F, id)
		}
		o := Options{First: 0.3, Height: 0.25, MaxGap: float64(gap) / 16, Workers: 1}
		layers, rep := cut(t, m, o)
		o.Workers = 3
		again, rep2 := cut(t, m, o)
		if rep != rep2 || len(layers) != len(again) {
			t.Fatal("another answer", rep, rep2)
		}
		for i, l := range layers {
			a, b := l.Region, again[i].Region
			if len(region.Xor(a, b)) > 0 {
				t.Fatal("another answer in layer", i)
			}
		}
		if rep.OpenMM < 0 || rep.Layers > len(layers) || rep.LongestMM > o.MaxGap+1e-9 {
			t.Fatal(rep)
		}
	})
}
