package pose

import (
	"math"
	"math/rand/v2"
	"testing"

	"platebook/engine/mesh"
)

// Shapes for tests, closed and facing outward, standing on z = 0.

// lathe turns a profile (radius, height), listed upward, about the z axis in n
// steps. A profile that ends where it began makes a ring.
func lathe(profile [][2]float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	ring := make([][]int32, len(profile))
	for i, p := range profile {
		if i > 0 && p == profile[0] {
			ring[i] = ring[0]
			continue
		}
		if p[0] == 0 {
			m.V = append(m.V, mesh.Vec{0, 0, p[1]})
			ring[i] = []int32{int32(len(m.V) - 1)}
			continue
		}
		for k := range n {
			s, c := math.Sincos(2 * math.Pi * float64(k) / float64(n))
			m.V = append(m.V, mesh.Vec{p[0] * c, p[0] * s, p[1]})
			ring[i] = append(ring[i], int32(len(m.V)-1))
		}
	}
	for i := range len(profile) - 1 {
		lo, hi := ring[i], ring[i+1]
		for k := range n {
			a, b := lo[k%len(lo)], lo[(k+1)%len(lo)]
			c, d := hi[k%len(hi)], hi[(k+1)%len(hi)]
			if a != b {
				m.F = append(m.F, [3]int32{a, b, d})
			}
			if c != d {
				m.F = append(m.F, [3]int32{a, d, c})
			}
		}
	}
	return m
}

// arc lists points of a circle in the profile's plane, from angle a to b.
func arc(r, z, a, b float64, n int) (p [][2]float64) {
	for i := range n + 1 {
		s, c := math.Sincos(a + (b-a)*float64(i)/float64(n))
		p = append(p, [2]float64{r * c, z + r*s})
	}
	for _, i := range []int{0, n} {
		if math.Abs(p[i][0]) < 1e-9 {
			p[i][0] = 0
		}
	}
	return p
}

func ball(r float64, n int) *mesh.Mesh {
	return lathe(arc(r, r, -math.Pi/2, math.Pi/2, n/2), n)
}

func dome(r float64, n int) *mesh.Mesh {
	return lathe(append([][2]float64{{0, 0}}, arc(r, 0, 0, math.Pi/2, n/4)...), n)
}

func rod(r, h float64, n int) *mesh.Mesh {
	return lathe([][2]float64{{0, 0}, {r, 0}, {r, h}, {0, h}}, n)
}

func cone(r, h float64, n int) *mesh.Mesh {
	return lathe([][2]float64{{0, 0}, {r, 0}, {0, h}}, n)
}

// mushroom is a stem with a round plate on top.
func mushroom(stem, tall, plate, thick float64, n int) *mesh.Mesh {
	return lathe([][2]float64{{0, 0}, {stem, 0}, {stem, tall}, {plate, tall}, {plate, tall + thick}, {0, tall + thick}}, n)
}

func block(x0, y0, z0, x1, y1, z1 float64) *mesh.Mesh {
	return prism([]point{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}, z0, z1)
}

// prism raises a counter-clockwise outline from z0 to z1.
func prism(outline []point, z0, z1 float64) *mesh.Mesh {
	n := len(outline)
	m := &mesh.Mesh{}
	for _, z := range []float64{z0, z1} {
		for _, p := range outline {
			m.V = append(m.V, mesh.Vec{p[0], p[1], z})
		}
	}
	for i := range n {
		a, b := int32(i), int32((i+1)%n)
		m.F = append(m.F, [3]int32{a, b, b + int32(n)}, [3]int32{a, b + int32(n), a + int32(n)})
	}
	for _, t := range ears(outline) {
		m.F = append(m.F, [3]int32{t[0], t[2], t[1]}, [3]int32{t[0] + int32(n), t[1] + int32(n), t[2] + int32(n)})
	}
	return m
}

// ears cuts a simple outline into triangles.
func ears(p []point) (out [][3]int32) {
	var left []int32
	for i := range p {
		left = append(left, int32(i))
	}
	turn := func(a, b, c int32) float64 { return p[b].sub(p[a]).left().dot(p[c].sub(p[a])) }
	for len(left) > 2 {
		n := len(left)
		cut := false
		for i := range n {
			a, b, c := left[(i+n-1)%n], left[i], left[(i+1)%n]
			ok := turn(a, b, c) > 0
			for _, q := range left {
				if ok && q != a && q != b && q != c && turn(a, b, q) >= 0 && turn(b, c, q) >= 0 && turn(c, a, q) >= 0 {
					ok = false
				}
			}
			if ok {
				out = append(out, [3]int32{a, b, c})
				left = append(left[:i], left[i+1:]...)
				cut = true
				break
			}
		}
		if !cut {
			panic("outline is not simple and counter-clockwise")
		}
	}
	return out
}

// raised stands a prism drawn in x and y up, so that its y is height and it is
// as deep as it was high.
func raised(outline []point, depth float64) *mesh.Mesh {
	return mesh.Transform(prism(outline, 0, depth), mesh.Turn(mesh.Vec{1, 0, 0}, math.Pi/2))
}

// arch is half a ring on two feet, seen from the front.
func arch(inner, outer float64, n int) []point {
	var p []point
	for i := range n + 1 {
		s, c := math.Sincos(math.Pi * float64(i) / float64(n))
		p = append(p, point{outer * c, outer * s})
	}
	for i := range n + 1 {
		s, c := math.Sincos(math.Pi * float64(n-i) / float64(n))
		p = append(p, point{inner * c, inner * s})
	}
	return p
}

// table has a top and four legs, as five bodies that touch.
func table(w, d, h, thick, leg float64) *mesh.Mesh {
	return mesh.Merge(
		block(0, 0, h-thick, w, d, h),
		block(0, 0, 0, leg, leg, h-thick), block(w-leg, 0, 0, w, leg, h-thick),
		block(0, d-leg, 0, leg, d, h-thick), block(w-leg, d-leg, 0, w, d, h-thick),
	)
}

// bar is a specimen of ASTM D638: ends wo wide, a neck w wide and l long
// between tangent arcs of radius r, lo long in all.
func bar(w, l, wo, lo, r, thick float64, n int) *mesh.Mesh {
	drop := (wo - w) / 2
	reach := math.Sqrt(r*r - (r-drop)*(r-drop)) // of an arc along the bar
	var quarter []point                         // from the neck to the end, upper right
	for i := range n + 1 {
		x := reach * float64(i) / float64(n)
		quarter = append(quarter, point{l/2 + x, w/2 + r - math.Sqrt(r*r-x*x)})
	}
	quarter = append(quarter, point{lo / 2, wo / 2})
	var out []point
	add := func(sx, sy float64, back bool) {
		for i := range quarter {
			q := quarter[i]
			if back {
				q = quarter[len(quarter)-1-i]
			}
			out = append(out, point{sx * q[0], sy * q[1]})
		}
	}
	add(1, -1, false)
	add(1, 1, true)
	add(-1, 1, false)
	add(-1, -1, true)
	return prism(out, 0, thick)
}

// anyTurn is a rotation spread evenly over all of them (Shoemake 1992).
func anyTurn(rnd *rand.Rand) mesh.Affine {
	z := 2*rnd.Float64() - 1
	a := 2 * math.Pi * rnd.Float64()
	s := math.Sqrt(1 - z*z)
	flip := mesh.Turn(mesh.Vec{s*math.Cos(a) + 0, s * math.Sin(a), z + 1}, math.Pi) // z goes anywhere
	return mesh.Turn(mesh.Vec{0, 0, 1}, 2*math.Pi*rnd.Float64()).Then(flip)
}

func moved(m *mesh.Mesh, x, y, z float64) *mesh.Mesh {
	return mesh.Transform(m, mesh.Translate(mesh.Vec{x, y, z}))
}

func turned(m *mesh.Mesh, axis mesh.Vec, degrees float64) *mesh.Mesh {
	return mesh.Transform(m, mesh.Turn(axis, degrees*math.Pi/180))
}

func within(t *testing.T, name string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.6f, want %.6f ± %g", name, got, want, tolerance)
	}
}

var (
	x45  = math.Pi / 4
	desk = Options{Angle: x45, Volume: [3]float64{200, 200, 200}, FirstLayer: 0.2, Workers: 2}
)

// asGiven is the score of m just as it is.
func asGiven(t *testing.T, m *mesh.Mesh, angle, first float64) Score {
	t.Helper()
	o := Options{Angle: angle, FirstLayer: first}
	if err := o.check(); err != nil {
		t.Fatal(err)
	}
	var s scratch
	return newPart(m, o).judge(resting{down: mesh.Vec{0, 0, -1}, from: AsGiven}, &s).Score
}
