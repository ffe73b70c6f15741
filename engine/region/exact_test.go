package region

import (
	"math"
	"math/rand"
	"slices"
	"testing"
)

// slabArea returns the area in mm² where is(winding of a, winding of b), by
// cutting the plane at the height of every vertex and every crossing: between
// two cuts no edges cross, so the region is trapezoids (COMPUTED, float64).
func slabArea(a, b Region, is func(a, b bool) bool) float64 {
	type line struct {
		x0, y0, x1, y1 float64 // y0 < y1
		n              [2]int
	}
	var lines []line
	var ys []float64
	for k, r := range []Region{a, b} {
		for _, ring := range r {
			for i, p := range ring {
				q := ring[(i+1)%len(ring)]
				ys = append(ys, float64(p.Y))
				l := line{x0: float64(p.X), y0: float64(p.Y), x1: float64(q.X), y1: float64(q.Y)}
				l.n[k] = 1
				if p.Y > q.Y {
					l = line{x0: l.x1, y0: l.y1, x1: l.x0, y1: l.y0}
					l.n[k] = -1
				}
				if p.Y != q.Y {
					lines = append(lines, l)
				}
			}
		}
	}
	for i, s := range lines {
		for _, t := range lines[:i] {
			sx, sy, tx, ty := s.x1-s.x0, s.y1-s.y0, t.x1-t.x0, t.y1-t.y0
			den := sx*ty - sy*tx
			if den == 0 {
				continue
			}
			u := ((t.x0-s.x0)*ty - (t.y0-s.y0)*tx) / den
			v := ((t.x0-s.x0)*sy - (t.y0-s.y0)*sx) / den
			if u > 0 && u < 1 && v > 0 && v < 1 {
				ys = append(ys, s.y0+u*sy)
			}
		}
	}
	slices.Sort(ys)
	type hit struct {
		x float64
		n [2]int
	}
	sum := 0.0
	for i := 1; i < len(ys); i++ {
		mid := (ys[i-1] + ys[i]) / 2
		var hits []hit
		for _, l := range lines {
			if l.y0 <= mid && mid < l.y1 {
				hits = append(hits, hit{l.x0 + (mid-l.y0)/(l.y1-l.y0)*(l.x1-l.x0), l.n})
			}
		}
		slices.SortFunc(hits, func(a, b hit) int {
			if a.x < b.x {
				return -1
			}
			return 1
		})
		wa, wb := 0, 0
		for j, h := range hits {
			if is(wa != 0, wb != 0) {
				sum += (h.x - hits[j-1].x) * (ys[i] - ys[i-1])
			}
			wa, wb = wa-h.n[0], wb-h.n[1]
		}
	}
	return sum / 1e6
}

// Snap rounding moves no point of an edge by more than √½ µm.
func TestBooleansAgainstSlabs(t *testing.T) {
	for i, k := range kinds {
		t.Run(k.name, func(t *testing.T) {
			rng := rand.New(rand.NewSource(int64(400 + i)))
			worst := 0.0
			for range 12 {
				a, b := k.make(rng), k.make(rng)
				bound := math.Sqrt(0.5)*1e-3*length(a, b) + 1e-6
				for _, op := range ops {
					got, want := op.do(a, b).Area(), slabArea(a, b, op.is)
					diff := math.Abs(got - want)
					worst = max(worst, diff/bound)
					if diff > bound {
						t.Errorf("%s of %s and %s: area %.6f, want %.6f ± %.6f", op.name, show(a), show(b), got, want, bound)
					}
				}
			}
			t.Logf("largest difference %.0f %% of its bound", 100*worst)
		})
	}
}
