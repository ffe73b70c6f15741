package picture

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
	"platebook/engine/mesh"
)

// shot renders a mesh alone into n × n samples.
func shot(m *mesh.Mesh, v View, n, workers int) (*buffer, camera) {
	cam := newCamera(v)
	l, r, b, t := cam.extent(m.V)
	cam.fit(l, r, b, t, 4, 4, float64(n-4), float64(n-4))
	return render(project(m.V, &cam, workers), m.F, n, n, workers), cam
}

func covered(b *buffer) (n int) {
	for _, id := range b.facet {
		if id >= 0 {
			n++
		}
	}
	return n
}

var views = []View{{}, {Elevation: 90}, {Azimuth: 30, Elevation: 45}, {Azimuth: 200, Elevation: 12}, {Azimuth: -77, Elevation: -35}, {Elevation: -90}}

// Projected areas in mm², closed forms. A convex solid's is half the sum of
// area × |normal · sight| over its faces.
func TestProjectedArea(t *testing.T) {
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		area func(e mesh.Vec) float64
		near float64 // of the area; what the samples along the outline may add
	}{
		{"cube of 20", box(mesh.Vec{-10, -10, 0}, mesh.Vec{10, 10, 20}),
			func(e mesh.Vec) float64 { return 400 * (math.Abs(e[0]) + math.Abs(e[1]) + math.Abs(e[2])) }, 0.003},
		{"box 30 × 20 × 5", box(mesh.Vec{0, 0, 0}, mesh.Vec{30, 20, 5}),
			func(e mesh.Vec) float64 { return 100*math.Abs(e[0]) + 150*math.Abs(e[1]) + 600*math.Abs(e[2]) }, 0.004},
		{"ball of radius 10", ball(mesh.Vec{3, 4, 5}, 10, 100),
			func(mesh.Vec) float64 { return math.Pi * 100 }, 0.003}, // the ball has 200 sides: area less by π²/6/100² = 0.02 %
	} {
		for _, v := range views {
			b, cam := shot(c.m, v, 800, 1)
			got := float64(covered(b)) / (cam.scale * cam.scale)
			if want := c.area(cam.eye); math.Abs(got-want) > c.near*want {
				t.Errorf("%s, %v: %.2f mm², want %.2f", c.name, v, got, want)
			}
		}
	}
}

// Where things are seen, by hand: the point 1 mm along each axis.
func TestCamera(t *testing.T) {
	s := math.Sqrt(0.5)
	for _, c := range []struct {
		v    View
		axis int
		want [3]float64 // right, down, towards the eye
	}{
		{View{}, 0, [3]float64{1, 0, 0}}, {View{}, 1, [3]float64{0, 0, -1}}, {View{}, 2, [3]float64{0, -1, 0}},
		{View{Elevation: 90}, 0, [3]float64{1, 0, 0}}, {View{Elevation: 90}, 1, [3]float64{0, -1, 0}}, {View{Elevation: 90}, 2, [3]float64{0, 0, 1}},
		{View{Elevation: 45}, 1, [3]float64{0, -s, -s}}, {View{Elevation: 45}, 2, [3]float64{0, -s, s}},
		{View{Azimuth: 90}, 0, [3]float64{0, 0, 1}}, {View{Azimuth: 90}, 1, [3]float64{1, 0, 0}}, // from the right
		{View{Elevation: -90}, 0, [3]float64{1, 0, 0}}, {View{Elevation: -90}, 1, [3]float64{0, 1, 0}},
	} {
		cam := newCamera(c.v)
		var p mesh.Vec
		p[c.axis] = 1
		x, y, z := cam.see(p)
		for i, got := range [3]float64{x, y, z} {
			if math.Abs(got-c.want[i]) > 1e-11 {
				t.Errorf("%v: axis %d is seen at %.3f %.3f depth %.3f, want %v", c.v, c.axis, x, y, z, c.want)
				break
			}
		}
		if c.v.Elevation > 0 {
			if gx, gy, _ := cam.ground(x, y); c.axis < 2 && (math.Abs(gx-p[0]) > 1e-9 || math.Abs(gy-p[1]) > 1e-9) {
				t.Errorf("%v: the ground under the picture of axis %d is %.3f %.3f", c.v, c.axis, gx, gy)
			}
		}
	}
}

// Facets that share edges share no sample and leave none out.
func TestNoGapsNoOverlap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// A square cut into a fan from a point inside it, on awkward coordinates.
		at := func(name string) mesh.Vec {
			return mesh.Vec{rapid.Float64Range(1, 99).Draw(t, name), rapid.Float64Range(1, 99).Draw(t, name), 0}
		}
		m := &mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {100, 0, 0}, {100, 100, 0}, {0, 100, 0}, at("middle")}}
		for i := range int32(4) {
			m.F = append(m.F, [3]int32{i, (i + 1) % 4, 4})
		}
		v := View{Azimuth: rapid.Float64Range(0, 360).Draw(t, "azimuth"), Elevation: rapid.Float64Range(10, 90).Draw(t, "elevation")}
		all, cam := shot(m, v, 120, 1)
		whole := &mesh.Mesh{V: m.V, F: [][3]int32{{0, 1, 2}, {0, 2, 3}}}
		square := render(project(m.V, &cam, 1), whole.F, 120, 120, 1)
		sum := 0
		for _, f := range m.F {
			sum += covered(render(project(m.V, &cam, 1), [][3]int32{f}, 120, 120, 1))
		}
		if n := covered(all); n != sum || n != covered(square) {
			t.Fatalf("%d samples together, %d one by one, %d as two facets", n, sum, covered(square))
		}
	})
}

// Against rays: for a soup of facets, what a sample shows is what a ray through
// it meets first, found by solving for the ray's parameters (Möller and
// Trumbore 1997, MEMORY), which shares nothing with edge functions.
func TestAgainstRays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := &mesh.Mesh{}
		for range rapid.IntRange(3, 24).Draw(t, "vertices") {
			m.V = append(m.V, mesh.Vec{rapid.Float64Range(-9, 9).Draw(t, "x"), rapid.Float64Range(-9, 9).Draw(t, "y"), rapid.Float64Range(0, 9).Draw(t, "z")})
		}
		index := rapid.Int32Range(0, int32(len(m.V)-1))
		for range rapid.IntRange(1, 30).Draw(t, "facets") {
			m.F = append(m.F, [3]int32{index.Draw(t, "a"), index.Draw(t, "b"), index.Draw(t, "c")})
		}
		v := rapid.SampledFrom(views).Draw(t, "view")
		b, cam := shot(m, v, 64, 1)
		for y := 0; y < 64; y += 3 {
			for x := 0; x < 64; x += 3 {
				want, sure := firstHit(m, &cam, float64(x)+0.5, float64(y)+0.5)
				if got := b.facet[y*64+x]; sure && got != want {
					t.Fatalf("%v: sample %d %d shows facet %d, a ray meets %d", v, x, y, got, want)
				}
			}
		}
	})
}

// firstHit is the facet a ray meets first, and whether that is beyond doubt:
// not within a sample's fraction of an edge or of another depth.
func firstHit(m *mesh.Mesh, cam *camera, x, y float64) (first int32, sure bool) {
	o := cam.right.Scale((x - cam.x0) / cam.scale).Add(cam.up.Scale((cam.y0 - y) / cam.scale)).Add(cam.eye.Scale(100))
	dir := cam.eye.Scale(-1)
	first, sure = -1, true
	best, second := math.Inf(1), math.Inf(1)
	for i, f := range m.F {
		p, q, r := m.V[f[0]], m.V[f[1]], m.V[f[2]]
		e, g := q.Sub(p), r.Sub(p)
		h := dir.Cross(g)
		det := e.Dot(h)
		longest := max(e.Len(), g.Len(), r.Sub(q).Len())
		if math.Abs(det)*cam.scale < 0.05*longest { // seen edge-on: too narrow to be sure of
			if !outside(p, q, r, o, cam) {
				sure = false
			}
			continue
		}
		s := o.Sub(p)
		u := s.Dot(h) / det
		k := s.Cross(e)
		w := dir.Dot(k) / det
		slack := 0.02 * longest / math.Abs(det) / cam.scale * longest
		inside := min(u, w, 1-u-w)
		if math.Abs(inside) < slack+1e-9 {
			sure = false
		}
		if inside < 0 {
			continue
		}
		if d := g.Dot(k) / det; d < best {
			first, best, second = int32(i), d, best
		} else {
			second = min(second, d)
		}
	}
	return first, sure && second-best > 0.02
}

// outside reports whether the ray through o is clear of the facet's bounds.
func outside(p, q, r, o mesh.Vec, cam *camera) bool {
	for _, a := range []mesh.Vec{cam.right, cam.up} {
		x, lo, hi := o.Dot(a), min(p.Dot(a), q.Dot(a), r.Dot(a)), max(p.Dot(a), q.Dot(a), r.Dot(a))
		if x < lo-1/cam.scale || x > hi+1/cam.scale {
			return true
		}
	}
	return false
}

// The nearer of two boxes is seen, whichever comes first in the mesh.
func TestNearerWins(t *testing.T) {
	front, back := box(mesh.Vec{-5, -20, 0}, mesh.Vec{5, -10, 10}), box(mesh.Vec{-9, 10, 0}, mesh.Vec{9, 20, 12})
	for _, c := range []struct {
		m    *mesh.Mesh
		want uint8
	}{{join(front, back), 0}, {join(back, front), 1}} {
		b, cam := shot(c.m, View{}, 200, 1)
		x, y, _ := cam.see(mesh.Vec{0, 0, 5})
		id := b.facet[int(y)*200+int(x)]
		if id < 0 || c.m.Colour[id] != c.want {
			t.Errorf("facet %d is seen", id)
		}
	}
}

// A part turned a quarter and an eye turned with it: the same picture.
func TestTurned(t *testing.T) {
	m := join(box(mesh.Vec{-7, -3, 0}, mesh.Vec{8, 4, 5}), ball(mesh.Vec{2, 1, 9}, 4, 12))
	turned := &mesh.Mesh{F: m.F}
	for _, v := range m.V {
		turned.V = append(turned.V, mesh.Vec{-v[1], v[0], v[2]})
	}
	for _, v := range views {
		a, _ := shot(m, v, 150, 1)
		b, _ := shot(turned, View{v.Azimuth + 90, v.Elevation}, 150, 1)
		different := 0
		for i := range a.facet {
			if a.facet[i] != b.facet[i] {
				different++
			}
		}
		// The turned sines may differ by 2⁻⁴⁰, which may move a corner by one 256th of a sample.
		if different > len(a.facet)/1000 {
			t.Errorf("%v: %d samples of %d differ", v, different, len(a.facet))
		}
	}
}

func TestWorkers(t *testing.T) {
	s := lively()
	var first []uint8
	for workers := 1; workers <= 4; workers++ {
		img, err := Image(s, Usual(), Options{Width: 330, Height: 250, Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = img.Pix
		}
		if !slices.Equal(first, img.Pix) {
			t.Errorf("%d workers draw another picture than one", workers)
		}
	}
}

// lively is a scene with everything in it.
func lively() Scene {
	m := join(box(mesh.Vec{-20, -20, 0}, mesh.Vec{20, 20, 20}), ball(mesh.Vec{0, 0, 26}, 14, 40))
	h := make([]Hatch, len(m.F))
	for i := range h {
		h[i] = Hatch(i * int(hatches) / len(h))
	}
	s := Scene{Mesh: m, Highlight: h, Platform: &[2]float64{200, 180}, Caption: []string{"A box and a ball", "in two colours"}}
	for i := range 7 {
		s.Marks = append(s.Marks, Mark{mesh.Vec{float64(i*6 - 18), float64(i%3*10 - 10), float64(i * 6)}, i%5 + 1,
			[]string{"stop", "ask", "note"}[i%3], fmt.Sprintf("Something to say about place %d.", i+1)})
	}
	return s
}

// Straight from above and beneath a gear covers its outline less its bore, by
// the shoelace formula, which takes the corners from the mesh's lower ring.
func TestGearFromAbove(t *testing.T) {
	const teeth = 24
	m := gear(teeth, 30, 8, 12)
	ring := func(from int) (area float64) {
		for i := range 4 * teeth {
			p, q := m.V[from+i], m.V[from+(i+1)%(4*teeth)]
			area += (p[0]*q[1] - q[0]*p[1]) / 2
		}
		return area
	}
	want := ring(0) - ring(4*teeth)
	for _, v := range []View{{Elevation: 90}, {Azimuth: 17, Elevation: 90}, {Elevation: -90}} {
		b, cam := shot(m, v, 900, 1)
		if got := float64(covered(b)) / (cam.scale * cam.scale); math.Abs(got-want) > 0.002*want {
			t.Errorf("%v: %.2f mm², want %.2f", v, got, want)
		}
	}
}
