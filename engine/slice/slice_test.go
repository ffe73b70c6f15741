package slice

import (
	"math"
	"math/rand"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"platebook/engine/mesh"
	"platebook/engine/region"
)

// cut cuts at 0.2 mm, gaps not closed, and insists on valid regions.
func cut(t testing.TB, m *mesh.Mesh, o Options) ([]Layer, Report) {
	t.Helper()
	if o.Height == 0 {
		o.Height = 0.2
	}
	if o.First == 0 {
		o.First = o.Height
	}
	layers, rep, err := Cut(m, o)
	if err != nil {
		t.Fatal(err)
	}
	for i, l := range layers {
		if err := region.Valid(l.Region); err != nil {
			t.Fatalf("layer %d: %v", i, err)
		}
	}
	return layers, rep
}

// middle is the height of the plane of a layer.
func middle(l Layer) float64 { return (l.Bottom + l.Top) / 2 }

// grid bounds the error in mm² that rounding corners to the grid makes: each
// moves by at most √½ µm.
func grid(r region.Region) float64 { return r.Perimeter()*0.00071 + 1e-6 }

// gon is the area of a regular polygon of n corners at radius r.
func gon(n int, r float64) float64 {
	return float64(n) / 2 * math.Sin(2*math.Pi/float64(n)) * r * r
}

// at returns the radius at height z of a profile.
func at(profile [][2]float64, z float64) float64 {
	for k := 1; k < len(profile); k++ {
		a, b := profile[k-1], profile[k]
		if a[1] < z && z <= b[1] {
			return a[0] + (b[0]-a[0])*(z-a[1])/(b[1]-a[1])
		}
	}
	return 0
}

// Sections of solids of revolution: the facets between two circles of a lathe
// lie in planes, so a section is a regular polygon whose radius follows the
// profile. That is exact. The closed form of the smooth solid (REFERENCES:
// COMPUTED) bounds it: chords lie inside the solid and never deeper than d, so
// the section lies between that of the solid and that of the solid worn by d.
func TestSolidsOfRevolution(t *testing.T) {
	const n = 360
	sagitta := 1 - math.Cos(math.Pi/n) // of a chord of the unit circle
	ball, ring := sphere(10, n), torus(20, 5, n, n, nil)
	ballProfile := make([][2]float64, 0, n/2+1)
	for k := range n/2 + 1 {
		a := math.Pi * (float64(k)/float64(n/2) - 0.5)
		ballProfile = append(ballProfile, [2]float64{10 * math.Cos(a), 10 + 10*math.Sin(a)})
	}
	ballProfile[0][0], ballProfile[n/2][0] = 0, 0
	tube := func(z float64) (in, out float64) { // radii of the torus of chords, z from its middle
		v := math.Asin(math.Abs(z) / 5)
		k := math.Floor(v * n / (2 * math.Pi))
		a, b := 2*math.Pi*k/n, 2*math.Pi*(k+1)/n
		s := (math.Abs(z) - 5*math.Sin(a)) / (5*math.Sin(b) - 5*math.Sin(a))
		w := 5*math.Cos(a) + s*(5*math.Cos(b)-5*math.Cos(a))
		return 20 - w, 20 + w
	}
	for _, c := range []struct {
		name   string
		m      *mesh.Mesh
		height float64
		facets func(z float64) float64    // section of the facets
		smooth func(z, d float64) float64 // closed form of the solid worn by d
		d      float64
	}{
		{"sphere R 10", placed(ball, 0), 20,
			func(z float64) float64 { return gon(n, at(ballProfile, z)) },
			func(z, d float64) float64 { return math.Pi * ((10-d)*(10-d) - (z-10)*(z-10)) }, 20 * sagitta},
		{"cone r 10 h 20", lathe(n, [2]float64{10, 0}, [2]float64{0, 20}), 20,
			func(z float64) float64 { return gon(n, 10*(1-z/20)) },
			func(z, d float64) float64 {
				r := max(0, 10*(1-z/20)-d*math.Hypot(1, 0.5))
				return math.Pi * r * r
			}, 10 * sagitta},
		{"torus R 20 r 5", placed(ring, 0), 10,
			func(z float64) float64 { in, out := tube(z - 5); return gon(n, out) - gon(n, in) },
			func(z, d float64) float64 { return math.Pi * 80 * math.Sqrt((5-d)*(5-d)-(z-5)*(z-5)) }, 30 * sagitta},
		{"cylinder r 10", lathe(n, [2]float64{10, 0}, [2]float64{10, 20}), 20,
			func(float64) float64 { return gon(n, 10) },
			func(_, d float64) float64 { return math.Pi * (10 - d) * (10 - d) }, 10 * sagitta},
		{"cube 20", box(mesh.Vec{}, mesh.Vec{20, 20, 20}), 20,
			func(float64) float64 { return 400 }, func(float64, float64) float64 { return 400 }, 0},
	} {
		layers, rep := cut(t, c.m, Options{})
		if rep != (Report{}) {
			t.Errorf("%s: %+v", c.name, rep)
		}
		if want := int(math.Round(c.height / 0.2)); len(layers) != want {
			t.Errorf("%s: %d layers, want %d", c.name, len(layers), want)
		}
		volume, smooth := 0.0, 0.0
		for i, l := range layers {
			z, got := middle(l), l.Region.Area()
			if want := c.facets(z); math.Abs(got-want) > grid(l.Region) {
				t.Errorf("%s layer %d: %.6f mm², the facets' section is %.6f", c.name, i, got, want)
			}
			if most, least := c.smooth(z, 0), c.smooth(z, c.d); !(got <= most+grid(l.Region) && got >= least-grid(l.Region)) {
				t.Errorf("%s layer %d: %.6f mm², the closed form is %.6f to %.6f", c.name, i, got, least, most)
			}
			volume += got * (l.Top - l.Bottom)
			smooth += c.smooth(z, 0) * (l.Top - l.Bottom)
		}
		if math.Abs(volume/smooth-1) > 0.001 {
			t.Errorf("%s: %g mm³ in all, want %g", c.name, volume, smooth)
		}
	}
}

// What several bodies make: nonzero winding decides. Areas are COMPUTED.
func TestBodies(t *testing.T) {
	cube := func(x, y, z, side float64) *mesh.Mesh {
		return box(mesh.Vec{x, y, z}, mesh.Vec{x + side, y + side, z + side})
	}
	prism := func(pts ...[2]float64) *mesh.Mesh { // walls only: floor and ceiling meet no plane
		m := &mesh.Mesh{}
		n := int32(len(pts))
		for _, p := range pts {
			m.V = append(m.V, mesh.Vec{p[0], p[1], 0}, mesh.Vec{p[0], p[1], 20})
		}
		for i := range n {
			j := (i + 1) % n
			m.F = append(m.F, [3]int32{2 * i, 2 * j, 2*j + 1}, [3]int32{2 * i, 2*j + 1, 2*i + 1})
		}
		return m
	}
	inner := cube(5, 5, 5, 10)
	for _, c := range []struct {
		name        string
		m           *mesh.Mesh
		below, half float64 // mm² at 1.1 mm and at 10.1 mm
		rings       int     // at 10.1 mm
	}{
		{"cube", cube(0, 0, 0, 20), 400, 400, 1},
		{"inverted", inverted(cube(0, 0, 0, 20)), 400, 400, 1},
		{"apart", together(cube(0, 0, 0, 20), cube(30, 0, 0, 20)), 800, 800, 2},
		{"apart, one inverted", together(cube(0, 0, 0, 20), inverted(cube(30, 0, 0, 20))), 800, 800, 2},
		{"overlapping", together(cube(0, 0, 0, 20), cube(10, 10, 0, 20)), 700, 700, 1},
		{"touching by a face", together(cube(0, 0, 0, 20), cube(20, 0, 0, 20)), 800, 800, 1},
		{"touching by an edge", together(cube(0, 0, 0, 20), cube(20, 20, 0, 20)), 800, 800, 2},
		{"twice the same", together(cube(0, 0, 0, 20), cube(0, 0, 0, 20)), 400, 400, 1},
		{"one inside", together(cube(0, 0, 0, 20), inner), 400, 400, 1},
		{"cavity", together(cube(0, 0, 0, 20), inverted(inner)), 400, 300, 2},
		{"cavity, all inverted", inverted(together(cube(0, 0, 0, 20), inverted(inner))), 400, 300, 2},
		{"body in a cavity", together(cube(0, 0, 0, 20), inverted(inner), cube(8, 8, 8, 4)), 400, 316, 3},
		{"sunk into the platform", cube(0, 0, -5, 20), 400, 400, 1},
		{"below the platform", together(cube(0, 0, 0, 20), cube(40, 0, -30, 20)), 400, 400, 1},
		{"floating", together(cube(0, 0, 0, 20), cube(40, 0, 5, 10)), 400, 500, 2},
		{"crossed prism", prism([2]float64{0, 0}, [2]float64{20, 20}, [2]float64{20, 0}, [2]float64{0, 20}), 200, 200, 2},
		{"five-pointed star, drawn across", prism(star()...), starArea, starArea, 1},
		{"walls at a slant", prism([2]float64{0, 0}, [2]float64{30, 10}, [2]float64{10, 30}), 400, 400, 1},
	} {
		for _, way := range []struct {
			name  string
			times float64
			do    func(*mesh.Mesh) *mesh.Mesh
		}{
			{"as it is", 1, func(m *mesh.Mesh) *mesh.Mesh { return m }},
			{"turned", 1, func(m *mesh.Mesh) *mesh.Mesh {
				return moved(m, func(v mesh.Vec) mesh.Vec { return mesh.Vec{0.6*v[0] - 0.8*v[1], 0.8*v[0] + 0.6*v[1], v[2]} })
			}},
			{"mirrored", 1, func(m *mesh.Mesh) *mesh.Mesh {
				return inverted(moved(m, func(v mesh.Vec) mesh.Vec { return mesh.Vec{-v[0], v[1], v[2]} }))
			}},
			{"doubled", 2, func(m *mesh.Mesh) *mesh.Mesh {
				return together(m, moved(m, func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[0] + 100, v[1], v[2]} }))
			}},
			{"far away", 1, func(m *mesh.Mesh) *mesh.Mesh {
				return moved(m, func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[0] + 400000, v[1] - 400000, v[2]} })
			}},
		} {
			layers, rep := cut(t, way.do(c.m), Options{})
			if rep != (Report{}) {
				t.Errorf("%s, %s: %+v", c.name, way.name, rep)
			}
			for i, want := range map[int]float64{5: c.below, 50: c.half} {
				if got := layers[i].Region; math.Abs(got.Area()-way.times*want) > grid(got) {
					t.Errorf("%s, %s: %g mm² at %g, want %g", c.name, way.name, got.Area(), middle(layers[i]), way.times*want)
				}
			}
			if got := len(layers[50].Region); got != int(way.times)*c.rings {
				t.Errorf("%s, %s: %d rings, want %d times %d", c.name, way.name, got, int(way.times), c.rings)
			}
		}
	}
}

// star is a pentagram of radius 10. Nonzero winding fills it with its middle:
// ten triangles from the centre, sides R and ρ = R·sin 18°/sin 54° (the radius
// of its inner corners), 36° between them.
func star() [][2]float64 {
	var pts [][2]float64
	for k := range 5 {
		a := 4 * math.Pi * float64(k) / 5
		pts = append(pts, [2]float64{10 * math.Cos(a), 10 * math.Sin(a)})
	}
	return pts
}

var starArea = 10 * 0.5 * 10 * 10 * math.Sin(math.Pi/10) / math.Sin(3*math.Pi/10) * math.Sin(math.Pi/5)

// A vertex on a plane is above it, so a section is that of just below.
func TestFacesOnPlanes(t *testing.T) {
	low, high := box(mesh.Vec{}, mesh.Vec{20, 20, 0.5}), box(mesh.Vec{5, 5, 0.5}, mesh.Vec{15, 15, 0.9})
	// Planes at 0.1, 0.3, 0.5, 0.7, 0.9.
	layers, _ := cut(t, together(low, high), Options{})
	var got []float64
	for _, l := range layers {
		got = append(got, l.Region.Area())
	}
	if d := cmp.Diff(got, []float64{400, 400, 400, 100, 100}); d != "" {
		t.Error(d)
	}
	for _, c := range []struct{ z, want float64 }{
		{-1, 0}, {0, 0}, {0.25, 400}, {0.5, 400}, {math.Nextafter(0.5, 1), 100}, {0.9, 100}, {math.Nextafter(0.9, 1), 0},
		{math.Inf(1), 0}, {math.Inf(-1), 0}, {math.NaN(), 0},
	} {
		if r, rep := Plane(together(low, high), c.z); r.Area() != c.want || rep != (Report{}) {
			t.Errorf("plane %g: %g mm², want %g; %+v", c.z, r.Area(), c.want, rep)
		}
	}
	// An octahedron whose waist lies on a plane, and one standing on its tip on it.
	tip := lathe(4, [2]float64{0, 0}, [2]float64{0.3, 0.3}, [2]float64{0, 0.6})
	for _, dz := range []float64{0, 0.3, 0.1} {
		m := moved(tip, func(v mesh.Vec) mesh.Vec { return mesh.Vec{v[0], v[1], v[2] + dz} })
		layers, rep := cut(t, m, Options{})
		for _, l := range layers {
			r := math.Max(0, 0.3-math.Abs(middle(l)-0.3-dz))
			if math.Abs(l.Region.Area()-2*r*r) > grid(l.Region) {
				t.Errorf("octahedron up by %g: %g mm² at %g, want %g", dz, l.Region.Area(), middle(l), 2*r*r)
			}
		}
		if rep != (Report{}) {
			t.Error(rep)
		}
	}
}

// How many layers a part makes, and that their heights are the decimals a
// person would write, without the drift of a sum.
func TestLayers(t *testing.T) {
	for _, c := range []struct {
		part, first, height float64
		n                   int
		top                 string // of the last layer
	}{
		{20, 0.2, 0.2, 100, "20"},
		{20.0999, 0.2, 0.2, 100, "20"}, // less than half a layer left over
		{20.1, 0.2, 0.2, 101, "20.2"},  // half a layer or more
		{20, 0.3, 0.2, 100, "20.1"},
		{0.1, 0.2, 0.2, 1, "0.2"},
		{0.0999, 0.2, 0.2, 0, ""}, // does not reach the middle of the first layer
		{0.25, 0.2, 0.2, 1, "0.2"},
		{0.3, 0.2, 0.2, 2, "0.4"},
		{100, 0.35, 0.07, 1425, "100.03"},
		{0.7, 0.1, 0.1, 7, "0.7"},
		{5, 0.28, 1. / 3, 15, "4.946662"}, // heights are kept to the nanometre
	} {
		layers, _ := cut(t, box(mesh.Vec{}, mesh.Vec{1, 1, c.part}), Options{First: c.first, Height: c.height})
		if len(layers) != c.n {
			t.Errorf("%v: %d layers", c, len(layers))
			continue
		}
		if c.n == 0 {
			continue
		}
		if top := strconv.FormatFloat(layers[c.n-1].Top, 'g', -1, 64); top != c.top {
			t.Errorf("%v: the last layer ends at %s", c, top)
		}
		for i, l := range layers {
			if i == 0 && l.Bottom != 0 || i > 0 && l.Bottom != layers[i-1].Top || l.Region.Area() != 1 {
				t.Fatalf("%v: layer %d is %v", c, i, l)
			}
		}
	}
}

func TestRefused(t *testing.T) {
	cube := box(mesh.Vec{}, mesh.Vec{20, 20, 20})
	with := func(x float64) *mesh.Mesh {
		m := box(mesh.Vec{}, mesh.Vec{20, 20, 20})
		m.V[3][1] = x
		return m
	}
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		o    Options
		says string
	}{
		{"no height", cube, Options{First: 0.2}, "above 0"},
		{"no first height", cube, Options{Height: 0.2}, "above 0"},
		{"negative", cube, Options{First: 0.2, Height: -1}, "above 0"},
		{"not a number", cube, Options{First: nan, Height: 0.2}, "above 0"},
		{"infinite", cube, Options{First: 0.2, Height: inf}, "above 0"},
		{"far too thin", cube, Options{First: 1e-9, Height: 0.2}, "too thin"},
		{"too many", cube, Options{First: 0.2, Height: 0.0009}, "thicker layers"},
		{"vertex not a number", with(nan), Options{First: 0.2, Height: 0.2}, "unit"},
		{"vertex infinite", with(-inf), Options{First: 0.2, Height: 0.2}, "unit"},
		{"vertex far away", with(1e9), Options{First: 0.2, Height: 0.2}, "unit"},
		{"no such vertex", &mesh.Mesh{V: cube.V, F: [][3]int32{{0, 1, 8}}}, Options{First: 0.2, Height: 0.2}, "not there"},
		{"negative vertex", &mesh.Mesh{V: cube.V, F: [][3]int32{{0, 1, -8}}}, Options{First: 0.2, Height: 0.2}, "not there"},
	} {
		layers, _, err := Cut(c.m, c.o)
		if err == nil || layers != nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
		Plane(c.m, 10) // must not panic
	}
	// Vertices no facet uses may be anything.
	for _, x := range []float64{nan, inf, -inf, 1e300} {
		for _, height := range []float64{0.2, 5, 10, 15, 40} {
			m := box(mesh.Vec{}, mesh.Vec{20, 20, 20})
			m.V = append(m.V, mesh.Vec{x, x, x})
			if layers, _ := cut(t, m, Options{Height: height}); len(layers) == 0 || layers[0].Region.Area() != 400 {
				t.Error("unused vertex", x, height, layers)
			}
			Plane(m, 1)
		}
	}
	// A heap of needles as tall as can be: 40 million segments.
	needles := &mesh.Mesh{}
	for i := range 2000 {
		x, d := float64(i), int32(len(needles.V))
		needles.V = append(needles.V, mesh.Vec{x, 0, 0}, mesh.Vec{x, 1, 0}, mesh.Vec{x, 0, 3999})
		needles.F = append(needles.F, [3]int32{d, d + 1, d + 2})
	}
	if _, _, err := Cut(needles, Options{First: 0.2, Height: 0.2}); err == nil || !strings.Contains(err.Error(), "fewer facets") {
		t.Error("needles", err)
	}
	if layers, rep, err := Cut(&mesh.Mesh{}, Options{First: 0.2, Height: 0.2}); len(layers) != 0 || rep != (Report{}) || err != nil {
		t.Error("empty mesh", layers, rep, err)
	}
	if _, _, err := Cut(box(mesh.Vec{}, mesh.Vec{1, 1, MaxLayers * 0.2}), Options{First: 0.2, Height: 0.2}); err != nil {
		t.Error("the most layers", err)
	}
}

// The answer does not depend on the number of workers, nor on the order of
// facets or of their corners.
func TestAnyOrder(t *testing.T) {
	m := placed(torus(20, 5, 90, 40, func(u, v float64) float64 { return 1 + 0.3*math.Sin(7*u+3*v) }), 0)
	m.F = m.F[:len(m.F)-60] // some contours stay open, some gaps are closed
	o := Options{MaxGap: 1, Workers: 1}
	want, report := cut(t, m, o)
	if report.Gaps == 0 || report.Open == 0 {
		t.Error("the torus should have both gaps and open contours", report)
	}
	for _, o.Workers = range []int{0, 3, 1000} {
		got, rep := cut(t, m, o)
		if !cmp.Equal(got, want) || rep != report {
			t.Errorf("%d workers: another answer", o.Workers)
		}
	}
	rng := rand.New(rand.NewSource(1))
	rng.Shuffle(len(m.F), func(i, j int) { m.F[i], m.F[j] = m.F[j], m.F[i] })
	for i := range m.F {
		for range rng.Intn(3) {
			f := m.F[i]
			m.F[i] = [3]int32{f[1], f[2], f[0]}
		}
	}
	got, rep := cut(t, m, o)
	if !cmp.Equal(got, want) || rep.Gaps != report.Gaps || rep.Open != report.Open ||
		rep.Layers != report.Layers || math.Abs(rep.OpenMM-report.OpenMM) > 1e-9 {
		t.Error("another answer for shuffled facets", rep, report)
	}
}

// Point by point against the winding number in space: the solid angle of all
// facets seen from the point, over 4π. A. van Oosterom and J. Strackee, The solid
// angle of a plane triangle, 1983 (MEMORY).
func TestWinding(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Float64Range(0, 10)
		var bodies []*mesh.Mesh
		for range rapid.IntRange(1, 4).Draw(t, "bodies") {
			b := &mesh.Mesh{F: [][3]int32{{0, 2, 1}, {0, 1, 3}, {1, 2, 3}, {2, 0, 3}}}
			for range 4 {
				b.V = append(b.V, mesh.Vec{coordinate.Draw(t, "x"), coordinate.Draw(t, "y"), coordinate.Draw(t, "z")})
			}
			bodies = append(bodies, b) // as drawn: some are inside out
		}
		m := together(bodies...)
		z := rapid.Float64Range(0.01, 9.99).Draw(t, "height")
		r, rep := Plane(m, z)
		if rep != (Report{}) {
			t.Fatal(rep)
		}
		for range 20 {
			x, y := coordinate.Draw(t, "px"), coordinate.Draw(t, "py")
			p := region.Point{X: region.Micron(math.Round(x * 1000)), Y: region.Micron(math.Round(y * 1000))}
			if near(r, p, 3) {
				continue
			}
			w := winding(m, mesh.Vec{float64(p.X) / 1000, float64(p.Y) / 1000, z})
			if math.Abs(w-math.Round(w)) > 0.01 {
				continue // in a facet of a body that this one hides
			}
			if inside := r.Contains(p) == region.Inside; inside != (math.Round(w) != 0) {
				t.Fatalf("%v: winding %g, inside %v", p, w, inside)
			}
		}
	})
}

func winding(m *mesh.Mesh, p mesh.Vec) float64 {
	sum := 0.0
	for _, f := range m.F {
		a, b, c := m.V[f[0]].Sub(p), m.V[f[1]].Sub(p), m.V[f[2]].Sub(p)
		la, lb, lc := a.Len(), b.Len(), c.Len()
		sum += 2 * math.Atan2(a.Dot(b.Cross(c)), la*lb*lc+a.Dot(b)*lc+b.Dot(c)*la+c.Dot(a)*lb)
	}
	return sum / (4 * math.Pi)
}

// near says whether p is within d microns of an edge of r.
func near(r region.Region, p region.Point, d float64) bool {
	for _, ring := range r {
		for i, a := range ring {
			b := ring[(i+1)%len(ring)]
			abx, aby := float64(b.X-a.X), float64(b.Y-a.Y)
			apx, apy := float64(p.X-a.X), float64(p.Y-a.Y)
			s := max(0, min(1, (apx*abx+apy*aby)/(abx*abx+aby*aby)))
			if math.Hypot(apx-s*abx, apy-s*aby) <= d {
				return true
			}
		}
	}
	return false
}
