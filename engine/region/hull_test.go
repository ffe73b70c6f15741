package region

import (
	"testing"

	"pgregory.net/rapid"
)

// A hull is what its definition says: corners are points given, every point is
// on its left or on it, and it turns left at every corner.
func TestHullByDefinition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		coordinate := rapid.Custom(func(t *rapid.T) Micron {
			if rapid.Bool().Draw(t, "small") {
				return Micron(rapid.Int64Range(-4, 4).Draw(t, "c"))
			}
			return Micron(rapid.Int64Range(-int64(Limit), int64(Limit)).Draw(t, "c"))
		})
		var points []Point
		given := map[Point]bool{}
		for range rapid.IntRange(0, 30).Draw(t, "n") {
			p := Point{coordinate.Draw(t, "x"), coordinate.Draw(t, "y")}
			points, given[p] = append(points, p), true
		}
		h := Hull(points)
		for i, a := range h {
			b, c := h[(i+1)%len(h)], h[(i+2)%len(h)]
			if !given[a] {
				t.Fatalf("corner %v is no point", a)
			}
			if len(h) < 3 {
				continue
			}
			if leftTurn(a, b, c) <= 0 {
				t.Fatalf("no left turn at %v", b)
			}
			for _, p := range points {
				if leftTurn(a, b, p) < 0 {
					t.Fatalf("%v is outside of %v–%v", p, a, b)
				}
			}
		}
		if len(h) < 3 && len(points) > 0 {
			// All in one line: the turn of any three is none.
			for _, p := range points {
				if leftTurn(h[0], h[len(h)-1], p) != 0 {
					t.Fatalf("%v is not in line, and the hull has %d corners", p, len(h))
				}
			}
		}
	})
}
