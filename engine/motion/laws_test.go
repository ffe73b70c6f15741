package motion_test

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"platebook/engine/motion"
	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/region"
)

// Laws that hold whatever the path.

// drawPrinter draws one that treats both axes alike.
func drawPrinter(t *rapid.T) printer.Printer {
	pr := swift(rapid.Float64Range(50, 5000).Draw(t, "acceleration"), rapid.Float64Range(0.001, 0.1).Draw(t, "deviation"))
	pr.TravelAcceleration = rapid.Float64Range(50, 5000).Draw(t, "travel acceleration")
	pr.TravelSpeed = rapid.Float64Range(10, 300).Draw(t, "travel speed")
	pr.RetractionTravel = rapid.Float64Range(0, 50).Draw(t, "retraction travel")
	pr.RetractionLength, pr.RetractionSpeed = rapid.Float64Range(0, 5).Draw(t, "retraction"), 30
	pr.MaxSpeed[2], pr.MaxAcceleration[2] = 10, 100
	return pr
}

// drawPoints draws points in steps of step µm, within 32 mm or 12 steps of each other.
func drawPoints(t *rapid.T, least int, step region.Micron) []region.Point {
	at := rapid.Int64Range(0, rapid.SampledFrom([]int64{12, int64(32000 / step)}).Draw(t, "span"))
	return rapid.SliceOfN(rapid.Custom(func(t *rapid.T) region.Point {
		return region.Point{X: step * region.Micron(at.Draw(t, "x")), Y: step * region.Micron(at.Draw(t, "y"))}
	}), least, 12).Draw(t, "points")
}

func drawPlan(t *rapid.T) *plan.Plan {
	pl := &plan.Plan{}
	for i := range rapid.IntRange(1, 4).Draw(t, "layers") {
		l := plan.Layer{Bottom: 0.2 * float64(i), Top: 0.2 * float64(i+1)}
		for range rapid.IntRange(0, 5).Draw(t, "paths") {
			l.Paths = append(l.Paths, plan.Path{
				Kind: plan.Kind(rapid.IntRange(0, int(plan.Kinds)-1).Draw(t, "kind")), Tool: uint8(rapid.IntRange(0, 1).Draw(t, "tool")),
				Closed: rapid.Bool().Draw(t, "closed"), Width: 400, Speed: rapid.Float64Range(5, 300).Draw(t, "speed"),
				Points: drawPoints(t, 0, rapid.SampledFrom([]region.Micron{1, 20, 2000}).Draw(t, "step")),
			})
		}
		pl.Layers = append(pl.Layers, l)
	}
	return pl
}

// TestFasterNeverTakesLonger raises each limit of speed or acceleration in turn.
func TestFasterNeverTakesLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pl, pr := drawPlan(t), drawPrinter(t)
		pr.MaxSpeed = [3]float64{rapid.Float64Range(20, 300).Draw(t, "vx"), rapid.Float64Range(20, 300).Draw(t, "vy"), 5}
		pr.MaxAcceleration = [3]float64{rapid.Float64Range(50, 3000).Draw(t, "ax"), rapid.Float64Range(50, 3000).Draw(t, "ay"), 50}
		slow, err := motion.Simulate(pl, pr, molten, 1)
		if err != nil {
			t.Fatal(err)
		}
		for i, limit := range []*float64{&pr.Acceleration, &pr.TravelAcceleration, &pr.TravelSpeed, &pr.RetractionSpeed,
			&pr.MaxSpeed[0], &pr.MaxSpeed[1], &pr.MaxSpeed[2], &pr.MaxAcceleration[0], &pr.MaxAcceleration[1], &pr.MaxAcceleration[2]} {
			was := *limit
			*limit *= rapid.Float64Range(1, 3).Draw(t, "times")
			fast, err := motion.Simulate(pl, pr, molten, 1)
			if err != nil || fast.Total > slow.Total*(1+1e-12) {
				t.Fatalf("limit %d raised from %v to %v: %v s became %v s (%v)", i, was, *limit, slow.Total, fast.Total, err)
			}
			*limit = was
		}
		for i := range pl.Layers {
			for j := range pl.Layers[i].Paths {
				pl.Layers[i].Paths[j].Speed *= 1.5
			}
		}
		if fast, err := motion.Simulate(pl, pr, molten, 1); err != nil || fast.Total > slow.Total*(1+1e-12) {
			t.Fatalf("beads half as fast again: %v s became %v s (%v)", slow.Total, fast.Total, err)
		}
	})
}

// TestCutInTwo: a straight cut in two on the grid is the same straight, to the last bit.
func TestCutInTwo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pr := drawPrinter(t)
		p := bead(rapid.Float64Range(5, 300).Draw(t, "speed"), drawPoints(t, 2, rapid.SampledFrom([]region.Micron{2, 100, 4000}).Draw(t, "step")))
		p.Closed = rapid.Bool().Draw(t, "closed")
		whole, err := motion.Simulate(one(p), pr, molten, 1)
		if err != nil {
			t.Fatal(err)
		}
		i := rapid.IntRange(1, len(p.Points)-1).Draw(t, "where")
		a, b := p.Points[i-1], p.Points[i]
		middle := region.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
		p.Points = append(append(append([]region.Point{}, p.Points[:i]...), middle), p.Points[i:]...)
		cut, err := motion.Simulate(one(p), pr, molten, 1)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(whole, cut); d != "" {
			t.Fatal(d)
		}
	})
}

// TestLongerTakesLonger: a path that goes on takes no less time.
func TestLongerTakesLonger(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pr := swift(1000, 0.001) // strays so little that no point is left out for being near the line
		points := drawPoints(t, 2, 100)
		before := 0.0
		for n := range points {
			got, err := motion.Simulate(one(bead(60, points[:n+1])), pr, molten, 1)
			if err != nil || got.Total < before*(1-1e-9) {
				t.Fatalf("%d points: %v s became %v s (%v)", n+1, before, got.Total, err)
			}
			before = got.Total
		}
	})
}

// TestBounds: no bead is faster than its length over its speed, and none
// slower than stopping at every point (closed form).
func TestBounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const a, v, d = 1000.0, 60.0, 0.02
		points := drawPoints(t, 2, rapid.SampledFrom([]region.Micron{1, 50, 3000}).Draw(t, "step"))
		got, err := motion.Simulate(one(bead(v, points)), swift(a, d), molten, 1)
		if err != nil {
			t.Fatal(err)
		}
		least, most := 0.0, 0.0
		for i := 1; i < len(points); i++ {
			l := math.Hypot(float64(points[i].X-points[i-1].X), float64(points[i].Y-points[i-1].Y)) / 1000
			// Each end of a straight may stray by an eighth of d.
			least += math.Max(0, l-d/4) / v
			if l > 0 {
				most += ramp(l, 0, 0, v, a)
			}
		}
		if got.Total < least || got.Total > most*(1+1e-12) {
			t.Fatalf("%v s is not between %v and %v s", got.Total, least, most)
		}
	})
}

// TestTurnedMirroredScaled: the answer does not know where on the platform it
// is or how it is turned. Four times as large at twice the speed takes twice
// the time (dimensions: acceleration is length over time squared).
func TestTurnedMirroredScaled(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pr := drawPrinter(t)
		pr.RetractionTravel = 1e9
		p := bead(rapid.Float64Range(5, 300).Draw(t, "speed"), drawPoints(t, 2, rapid.SampledFrom([]region.Micron{1, 50, 3000}).Draw(t, "step")))
		moved := func(f func(region.Point) region.Point) float64 {
			q := p
			q.Points = nil
			for _, x := range p.Points {
				q.Points = append(q.Points, f(x))
			}
			got, err := motion.Simulate(one(q), pr, molten, 1)
			if err != nil {
				t.Fatal(err)
			}
			return got.Total
		}
		want := moved(func(x region.Point) region.Point { return x })
		same := func(what string, got, want float64) {
			if math.Abs(got-want) > 1e-9*want {
				t.Fatalf("%s: %v s, want %v", what, got, want)
			}
		}
		same("turned", moved(func(x region.Point) region.Point { return region.Point{X: -x.Y, Y: x.X} }), want)
		same("mirrored", moved(func(x region.Point) region.Point { return region.Point{X: -x.X, Y: x.Y} }), want)
		pr.CornerDeviation *= 4
		p.Speed *= 2
		same("four times as large", moved(func(x region.Point) region.Point { return region.Point{X: 4 * x.X, Y: 4 * x.Y} }), 2*want)
	})
}

// TestSumsAndWorkers: the parts make up the whole, and the number of cores does not show.
func TestSumsAndWorkers(t *testing.T) {
	check := func(t rapid.TB, pl *plan.Plan, pr printer.Printer, m []printer.Material) {
		alone, err := motion.Simulate(pl, pr, m, 1)
		if err != nil {
			t.Fatal(err)
		}
		for _, workers := range []int{-1, 0, 2, 3, 4, 1000} {
			got, err := motion.Simulate(pl, pr, m, workers)
			if d := cmp.Diff(alone, got); err != nil || d != "" {
				t.Fatalf("%d workers: %v %s", workers, err, d)
			}
		}
		kinds, byLayer := alone.Travel+alone.Retraction+alone.LayerChange+alone.ToolChange+alone.Waiting, 0.0
		for _, k := range alone.Kind {
			kinds += k
		}
		for _, l := range alone.Layers {
			byLayer += l
		}
		if math.Abs(kinds+alone.WarmUp-alone.Total) > 1e-9*alone.Total || math.Abs(byLayer+alone.WarmUp-alone.Total) > 1e-9*alone.Total {
			t.Fatalf("total %v, parts %v, layers %v, warm-up %v", alone.Total, kinds, byLayer, alone.WarmUp)
		}
	}
	c := printer.Builtin()
	check(t, tower(40, 600), c.Printers[2], c.Materials[:2])
	rapid.Check(t, func(t *rapid.T) { check(t, drawPlan(t), drawPrinter(t), c.Materials[:2]) })
}
