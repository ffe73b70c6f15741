package motion

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"platebook/engine/region"
)

// TestSimplify: what is kept are points of the path in order, both ends among
// them, and nothing left out is further than the tolerance from the chord that
// took its place. Distances are measured anew, in their plain definition.
func TestSimplify(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tolerance := rapid.Float64Range(0, 0.02).Draw(t, "tolerance")
		closed := rapid.Bool().Draw(t, "closed")
		// Small steps in a wandering direction, so that the sleeve is long.
		angle, x, y := 0.0, 0.0, 0.0
		var points []region.Point
		for range rapid.IntRange(1, 60).Draw(t, "n") {
			angle += rapid.Float64Range(-0.5, 0.5).Draw(t, "turn") * rapid.SampledFrom([]float64{0.1, 1, 6}).Draw(t, "sharp")
			length := rapid.Float64Range(0, 20).Draw(t, "length") * rapid.SampledFrom([]float64{0.1, 1, 20}).Draw(t, "scale")
			x, y = x+length*math.Cos(angle), y+length*math.Sin(angle)
			points = append(points, region.Point{X: region.Micron(x), Y: region.Micron(y)})
		}
		line := simplify(nil, points, closed, tolerance)
		if closed {
			points = append(points, points[0])
		}
		if line[0] != toPoint(points[0]) || line[len(line)-1] != toPoint(points[len(points)-1]) && len(line) > 1 {
			t.Fatalf("ends: %v of %v", line, points)
		}
		// fits[i]: line[:k] can be matched to points[:i+1], the last kept being
		// points[i], with everything left out near its chord.
		fits := make([]bool, len(points))
		fits[0] = true
		for k := 1; k < len(line); k++ {
			if line[k] == line[k-1] {
				t.Fatalf("twice the same vertex: %v", line)
			}
			next := make([]bool, len(points))
			for i := range points {
				if !fits[i] {
					continue
				}
				for j := i + 1; j < len(points); j++ {
					next[j] = next[j] || toPoint(points[j]) == line[k] && within(points[i+1:j], line[k-1], line[k], tolerance)
				}
			}
			fits = next
		}
		if len(line) > 1 && !fits[len(points)-1] {
			t.Fatalf("tolerance %v: %v strays from %v", tolerance, line, points)
		}
	})
}

// within reports whether the points are at most t from the segment ab.
func within(points []region.Point, a, b point, t float64) bool {
	for _, q := range points {
		p := toPoint(q)
		along := ((p.x-a.x)*(b.x-a.x) + (p.y-a.y)*(b.y-a.y)) / (math.Hypot(b.x-a.x, b.y-a.y) * math.Hypot(b.x-a.x, b.y-a.y))
		along = max(0, min(1, along))
		if math.Hypot(p.x-a.x-along*(b.x-a.x), p.y-a.y-along*(b.y-a.y)) > t+1e-9 {
			return false
		}
	}
	return true
}

// TestSimplifyLeavesOut: points that wander less than the tolerance go.
func TestSimplifyLeavesOut(t *testing.T) {
	var points []region.Point
	for i := range 1000 {
		points = append(points, region.Point{X: region.Micron(10 * i), Y: region.Micron(i % 2)})
	}
	if n := len(simplify(nil, points, false, 0.0025)); n != 2 {
		t.Errorf("a line with steps of one grid unit keeps %d points", n)
	}
	if n := len(simplify(nil, points, false, 0.0001)); n != 1000 {
		t.Errorf("a tenth of a grid unit allows nothing, but keeps %d points", n)
	}
	// The second of three points, 1 mm on and 2 µm off, lets a sleeve of 2.5 µm
	// rise by 4.5 µm a mm (COMPUTED).
	for y, want := range map[region.Micron]int{449: 2, 451: 3, -51: 3, -49: 2} {
		if n := len(simplify(nil, []region.Point{{}, {X: 1000, Y: 2}, {X: 100000, Y: y}}, false, 0.0025)); n != want {
			t.Errorf("a third point %d µm off at 100 mm: %d points kept, want %d", y, n, want)
		}
	}
	// A circle of radius 10 mm: chords no longer than sqrt(8rt) within the sleeve
	// of t on both sides, and at least a third of that.
	points = nil
	for i := range 30000 {
		a := 2 * math.Pi * float64(i) / 30000
		points = append(points, region.Point{X: region.Micron(math.Round(10000 * math.Cos(a))), Y: region.Micron(math.Round(10000 * math.Sin(a)))})
	}
	chord := math.Sqrt(8 * 10 * 0.0025)
	if n := float64(len(simplify(nil, points, true, 0.0025))); n < 20*math.Pi/(1.2*chord) || n > 3*20*math.Pi/chord {
		t.Errorf("a circle keeps %v points", n)
	}
}
