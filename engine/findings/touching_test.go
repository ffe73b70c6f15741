package findings

import (
	"fmt"
	"math"
	"testing"

	"platebook/engine/mesh"
)

// tilts are odd angles that no facet of a shape is aligned with.
var tilts = []mesh.Affine{
	mesh.Identity(),
	mesh.Turn(mesh.Vec{1, 2, 3}, 0.7),
	mesh.Turn(mesh.Vec{-2, 1, 0.3}, 2.1).Then(mesh.Translate(mesh.Vec{310, -45, 80})),
}

// inward turns a shape into a cavity of the same shape.
func inward(m *mesh.Mesh) *mesh.Mesh {
	out := &mesh.Mesh{V: m.V}
	for _, f := range m.F {
		out.F = append(out.F, [3]int32{f[0], f[2], f[1]})
	}
	return out
}

// Shells, slabs and tubes of known wall, all over their surface (COMPUTED). A
// ball or tube of n sides is thinner than its circle by the sagitta, R(1−cos(π/n));
// a ball off the middle of a side of a rod, by half a side, meets the sides
// beyond that much sooner. Near an edge the ball slips past the edge within and
// is larger, so nowhere may it be smaller than the wall, and over most of the
// surface it is the wall.
func TestBallsInKnownWalls(t *testing.T) {
	sag := func(r float64, n int) float64 { return r * (1 - math.Cos(math.Pi/float64(n))) }
	for _, c := range []struct {
		name      string
		m         *mesh.Mesh
		wall, tol float64
		share     float64 // of the surface that bounds the wall, at least
	}{
		{"slab of 0.3", block(0, 0, 0, 30, 30, 0.3), 0.3, 1e-9, 0.97},
		{"slab of 1.7", block(0, 0, 0, 30, 30, 1.7), 1.7, 1e-9, 0.88},
		{"hollow ball of wall 0.4", mesh.Merge(ball(10, 64), inward(shifted(ball(9.6, 64), 0, 0, 0.4))), 0.4, 2 * sag(10, 64), 0.99},
		{"hollow ball of wall 1.2", mesh.Merge(ball(10, 64), inward(shifted(ball(8.8, 64), 0, 0, 1.2))), 1.2, 2 * sag(10, 64), 0.99},
		{"tube of wall 0.5", lathe([][2]float64{{7.5, 0}, {8, 0}, {8, 30}, {7.5, 30}, {7.5, 0}}, 180), 0.5, 2 * sag(8, 180), 0.97},
		{"hollow box of wall 0.8", mesh.Merge(block(0, 0, 0, 20, 20, 20), inward(block(0.8, 0.8, 0.8, 19.2, 19.2, 19.2))), 0.8, 1e-9, 0.85},
		{"rod of diameter 0.9", rod(0.45, 0, 40, 90), 0.9, 0.45 * math.Pi / 90, 0.97},
	} {
		for i, turn := range tilts {
			m := mesh.Transform(c.m, turn)
			pts := scatter(m, 600)
			in, _, ok := balls(m, pts, 1.2, 0.1)
			if !ok {
				t.Fatalf("%s: too much work", c.name)
			}
			var all, met float64
			for k, p := range pts {
				all += p.weight
				if in[k].facet < 0 {
					continue
				}
				d := 2 * in[k].r
				if d < c.wall-c.tol-1e-9 {
					t.Errorf("%s, tilt %d: %.6f at %v, want %.6f ± %g", c.name, i, d, p.at, c.wall, c.tol)
					break
				}
				if d < c.wall+c.tol+1e-9 {
					met += p.weight
				}
			}
			if met < c.share*all {
				t.Errorf("%s, tilt %d: that wall on %.3f of the surface, want %.3f", c.name, i, met/all, c.share)
			}
		}
	}
}

// In a wedge of angle a, at x from its edge, the touching ball has the diameter
// 2x·tan(a/2) (COMPUTED); from 45° on it is a corner and no wall.
func TestBallsInWedges(t *testing.T) {
	for _, deg := range []float64{3, 10, 25, 44, 46, 60, 90} {
		a := deg * math.Pi / 180
		m := prism([][2]float64{{0, 0}, {40, 0}, {40 * math.Cos(a), 40 * math.Sin(a)}}, 0, 30)
		for i, turn := range tilts {
			tilted := mesh.Transform(m, turn)
			pts := scatter(m, 4000)
			far := scatter(tilted, 4000)
			in, _, _ := balls(tilted, far, 0.8, 0.1)
			seen := 0
			for k, b := range in {
				p := pts[k]
				x := math.Hypot(p.at[0], p.at[1])
				// Only the two faces that meet at the edge.
				if math.Abs(p.n[2]) > 0.5 || x > 30 || b.facet < 0 {
					continue
				}
				seen++
				if want := 2 * x * math.Tan(a/2); math.Abs(2*b.r-want) > 1e-6*(1+want) {
					t.Errorf("%g°, tilt %d, %.3f from the edge: %.6f, want %.6f", deg, i, x, 2*b.r, want)
					break
				}
			}
			if (seen > 10) != (deg < wedge) {
				t.Errorf("%g°, tilt %d: seen as a wall at %d points", deg, i, seen)
			}
		}
	}
}

// Two plates at a known distance, and a pin in a hole: the gap is the distance,
// and the difference of radii (COMPUTED).
func TestBallsInKnownGaps(t *testing.T) {
	const n = 180
	hole := lathe([][2]float64{{4, 0}, {10, 0}, {10, 12}, {4, 12}, {4, 0}}, n)
	for _, gap := range []float64{0.05, 0.2, 0.35} {
		plates := mesh.Merge(block(0, 0, 0, 20, 3, 20), block(0, 3+gap, 0, 20, 8, 20))
		hinge := mesh.Merge(hole, rod(4-gap, 0, 12, n))
		sag := 4 * (1 - math.Cos(math.Pi/n))
		for _, c := range []struct {
			name string
			m    *mesh.Mesh
			tol  float64
			area float64 // mm² on both sides
		}{
			{"plates", plates, 1e-9, 2 * 20 * 20},
			{"pin in a hole", hinge, 2 * sag, 2 * math.Pi * (4 + 4 - gap) * 12},
		} {
			for i, turn := range tilts {
				m := mesh.Transform(c.m, turn)
				pts := scatter(m, 2000)
				_, out, _ := balls(m, pts, 0.1, 0.4)
				var met float64
				for k, p := range pts {
					if out[k].facet < 0 {
						continue
					}
					met += p.weight
					if d := 2 * out[k].r; math.Abs(d-gap) > c.tol+1e-9 {
						t.Errorf("%s %g apart, tilt %d: %.6f", c.name, gap, i, d)
						break
					}
				}
				within(t, fmt.Sprintf("%s %g apart, tilt %d: area", c.name, gap, i), met*mesh.Measure(m).Area, c.area, 0.02*c.area)
			}
		}
	}
}
