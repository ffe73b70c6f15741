package region

import (
	"fmt"
	"math"
	"math/rand"
	"testing"
)

// On a coarse grid of g µm rounding moves the ends of a segment by √½·g and
// snapping its points by as much again.
func TestCoarse(t *testing.T) {
	for i, k := range kinds {
		t.Run(k.name, func(t *testing.T) {
			rng := rand.New(rand.NewSource(int64(500 + i)))
			for _, steps := range []int{100, 3000} {
				for range 8 {
					r := k.make(rng)
					w := newWork()
					for _, ring := range r {
						w.add(ring, 1, 0)
					}
					w.coarse = 0
					w.coarsen(steps)
					w.hot()
					w.snap()
					w.sortEdges()
					w.sweep(ruleNonzero)
					got := w.stitch()
					grid := float64(int64(1) << w.coarse)
					for _, ring := range got {
						for j := range ring {
							ring[j] = Point{ring[j].X >> w.coarse, ring[j].Y >> w.coarse}
						}
					}
					w.done()
					sound(t, fmt.Sprintf("coarse %s", show(r)), got)
					area := got.Area() * grid * grid
					want := slabArea(r, nil, func(a, _ bool) bool { return a })
					bound := math.Sqrt2*grid*length(r)/1000 + 8*grid*grid/1e6
					if math.Abs(area-want) > bound {
						t.Fatalf("grid %g: area %g, want %g ± %g: %s", grid, area, want, bound, show(r))
					}
				}
			}
		})
	}
}
