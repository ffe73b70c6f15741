package motion_test

import (
	"fmt"
	"math"
	"testing"

	"platebook/engine/motion"
	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/region"
)

// The figures of this file are COMPUTED from the kinematics of constant
// acceleration: v = at, s = at²/2, and the geometry of the circle that touches
// both sides of a corner.

// swift is a printer that limits nothing but acceleration a and corner deviation d.
func swift(a, d float64) printer.Printer {
	return printer.Printer{
		MaxSpeed: [3]float64{1e4, 1e4, 1e4}, MaxAcceleration: [3]float64{1e6, 1e6, 1e6},
		Acceleration: a, TravelAcceleration: a, TravelSpeed: 100, CornerDeviation: d,
		RetractionTravel: 1e6, HeatRate: 2, PlatformHeatRate: 0.5, AmbientC: 20,
	}
}

// molten melts any flow and sets at once.
var molten = []printer.Material{{MaxFlow: 1e6, NozzleC: 20, PlatformC: 20}, {MaxFlow: 1e6, NozzleC: 20, PlatformC: 20}}

// mm makes points from coordinates x, y, x, y … in mm.
func mm(xy ...float64) []region.Point {
	var points []region.Point
	for i := 0; i+1 < len(xy); i += 2 {
		points = append(points, region.Point{X: region.Micron(math.Round(xy[i] * 1000)), Y: region.Micron(math.Round(xy[i+1] * 1000))})
	}
	return points
}

func bead(speed float64, points []region.Point) plan.Path {
	return plan.Path{Width: 400, Speed: speed, Points: points}
}

// layers stacks layers 0.2 mm high.
func layers(paths ...[]plan.Path) *plan.Plan {
	p := &plan.Plan{}
	for i, l := range paths {
		p.Layers = append(p.Layers, plan.Layer{Bottom: 0.2 * float64(i), Top: 0.2 * float64(i+1), Paths: l})
	}
	return p
}

func one(paths ...plan.Path) *plan.Plan { return layers(paths) }

func simulate(t testing.TB, pl *plan.Plan, pr printer.Printer) motion.Time {
	t.Helper()
	got, err := motion.Simulate(pl, pr, molten, 1)
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.9g s, want %.9g", what, got, want)
	}
}

func TestStraightFromRestToRest(t *testing.T) {
	for _, row := range []struct{ length, speed, acceleration, seconds float64 }{
		{100, 60, 1000, 1.726667},
		{2, 60, 1000, 0.0894427}, // peaks at 44.7214 mm/s
		{3.6, 60, 1000, 0.12},    // just reaches 60 mm/s
		{10, 150, 3000, 0.116667},
		{0.5, 60, 500, 0.0632456},
	} {
		got := simulate(t, one(bead(row.speed, mm(0, 0, row.length, 0))), swift(row.acceleration, 0.05))
		near(t, fmt.Sprint(row), got.Total, row.seconds, 5e-7)
		near(t, fmt.Sprint(row, " as outer shell"), got.Kind[plan.OuterShell], got.Total, 0)
	}
}

// ramp is the time along length from v0 to v1 with a cap, from the definition:
// up to the peak, along, down.
func ramp(length, v0, v1, top, a float64) float64 {
	peak := math.Min(top, math.Sqrt((v0*v0+v1*v1)/2+a*length))
	rest := length - (peak*peak-v0*v0)/(2*a) - (peak*peak-v1*v1)/(2*a)
	return (peak-v0)/a + (peak-v1)/a + rest/peak
}

func TestCorner(t *testing.T) {
	for _, row := range []struct{ angle, speed float64 }{
		{30, 4.1785}, {60, 7.0711}, {90, 10.9868}, {120, 17.9779}, {150, 37.6482}, {170, 114.4096},
	} {
		turn := (180 - row.angle) * math.Pi / 180
		// The corner is passed at the speed of the table. The legs are long, so
		// that the grid does not turn them.
		const leg = 5000
		got := simulate(t, one(bead(400, mm(0, 0, leg, 0, leg+leg*math.Cos(turn), leg*math.Sin(turn)))), swift(1000, 0.05))
		near(t, fmt.Sprint(row), got.Total, 2*ramp(leg, 0, row.speed, 400, 1000), 1e-6)
	}
}

func TestClosedSquare(t *testing.T) {
	p := bead(60, mm(0, 0, 50, 0, 50, 50, 0, 50))
	p.Closed = true
	near(t, "square of 50 mm", simulate(t, one(p), swift(1000, 0.05)).Total, 3.513448, 5e-7)
}

// regular is a closed polygon of n vertices on a circle of radius r.
func regular(n int, r float64) []region.Point {
	var xy []float64
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		xy = append(xy, r*math.Cos(a), r*math.Sin(a))
	}
	return mm(xy...)
}

// TestCurve: on a circle of radius r the head keeps to sqrt(a·r), however
// finely the circle is cut; the corner rule alone would allow 203.6 mm/s on the
// 64-gon. The ends touch, but begin and end at rest.
func TestCurve(t *testing.T) {
	for _, row := range []struct {
		n    int
		r, v float64
	}{
		{64, 20, 141.42}, {128, 20, 141.42}, {1000, 20, 141.42}, {20000, 20, 141.42},
		{64, 5, 70.711}, {3000, 5, 70.711}, {100, 1, 31.623}, {2000, 80, 282.84},
	} {
		p := bead(1000, regular(row.n, row.r))
		p.Closed = true
		got := simulate(t, one(p), swift(1000, 0.05))
		length := 2 * float64(row.n) * row.r * math.Sin(math.Pi/float64(row.n))
		// Vertices rounded to the grid move single radii, and the sleeve lets
		// the chords stray: 1 % is kept everywhere.
		want := ramp(length, 0, 0, row.v, 1000)
		near(t, fmt.Sprint(row), got.Total, want, 0.01*want)
	}
	// The table's own polygon, and again in centimetres for millimetres, where
	// the grid does not matter: 100 times as long, 10 times as fast, 10 times the time.
	p := bead(1000, regular(64, 20))
	p.Closed = true
	near(t, "64-gon", simulate(t, one(p), swift(1000, 0.05)).Total, ramp(125.6132, 0, 0, 141.4214, 1000), 1e-3)
	p.Speed, p.Points = 10000, regular(64, 2000)
	near(t, "64-gon, large", simulate(t, one(p), swift(1000, 5)).Total/10, ramp(125.6132, 0, 0, 141.4214, 1000), 2e-5)
}

// TestStadium: a rounded rectangle: quarter circles of radius 5 at sqrt(a·r),
// straights between them faster. The exact optimum for a cap on each piece.
func TestStadium(t *testing.T) {
	const r, straight, a, top = 5.0, 40.0, 1000.0, 150.0
	for _, n := range []int{12, 40, 200, 1500} {
		// From the middle of one side to the middle of the same side.
		xy := []float64{straight / 2, 0}
		for side := range 4 {
			turn := float64(side) * math.Pi / 2
			cx, cy := straight/2, r
			for i := range n + 1 {
				b := math.Pi/2*float64(i)/float64(n) - math.Pi/2
				x, y := cx+r*math.Cos(b), cy+r*math.Sin(b)-r-straight/2
				xy = append(xy, x*math.Cos(turn)-y*math.Sin(turn), x*math.Sin(turn)+y*math.Cos(turn))
			}
		}
		xy[0], xy[1] = 0, -r-straight/2+r
		xy = append(xy, xy[0], xy[1])
		vc := math.Sqrt(a * r)
		want := 2*ramp(straight/2, 0, vc, top, a) + 3*ramp(straight, vc, vc, top, a) + 4*math.Pi/2*r/vc
		near(t, fmt.Sprint("rounded rectangle cut in ", n), simulate(t, one(bead(top, mm(xy...))), swift(a, 0.05)).Total, want, 0.015*want)
	}
}

func TestAxisLimits(t *testing.T) {
	pr := swift(1000, 0.05)
	pr.MaxSpeed = [3]float64{30, 40, 10}
	pr.MaxAcceleration = [3]float64{300, 800, 100}
	for _, row := range []struct {
		name                 string
		x, y, speed, seconds float64
	}{
		{"along x", 90, 0, 60, ramp(90, 0, 0, 30, 300)},
		{"along y", 0, -90, 60, ramp(90, 0, 0, 40, 800)},
		{"3-4-5: x allows 50 mm/s and 500 mm/s², y 50 and 1000", -60, 80, 60, ramp(100, 0, 0, 50, 500)},
		{"slow enough for both", 60, 80, 20, ramp(100, 0, 0, 20, 500)},
	} {
		near(t, row.name, simulate(t, one(bead(row.speed, mm(0, 0, row.x, row.y))), pr).Total, row.seconds, 1e-9)
	}
	// In a square corner the head is accelerated along the diagonal: x allows 300·√2.
	v := math.Sqrt(300 * math.Sqrt2 * 0.05 * math.Sqrt(0.5) / (1 - math.Sqrt(0.5)))
	near(t, "square corner", simulate(t, one(bead(20, mm(0, 0, 50, 0, 50, 50))), pr).Total, ramp(50, 0, v, 20, 300)+ramp(50, v, 0, 20, 800), 1e-9)
}

func TestFlow(t *testing.T) {
	m := []printer.Material{{MaxFlow: 2.4, NozzleC: 20, PlatformC: 20}}
	got, err := motion.Simulate(one(bead(60, mm(0, 0, 100, 0))), swift(1000, 0.05), m, 1)
	if err != nil {
		t.Fatal(err)
	}
	// 2.4 mm³/s through 0.4 × 0.2 mm is 30 mm/s.
	near(t, "2.4 mm³/s", got.Total, ramp(100, 0, 0, 30, 1000), 1e-9)
}

func TestPathsInARow(t *testing.T) {
	pr := swift(1000, 0.05)
	through := simulate(t, one(bead(60, mm(0, 0, 50, 0, 50, 50))), pr).Total
	for _, row := range []struct {
		name    string
		paths   []plan.Path
		seconds float64
	}{
		{"two beads that meet flow on through the corner", []plan.Path{bead(60, mm(0, 0, 50, 0)), bead(60, mm(50, 0, 50, 50))}, through},
		{"two beads in line pass at full speed", []plan.Path{bead(60, mm(0, 0, 40, 0)), bead(60, mm(40, 0, 100, 0))}, 1.726667},
		{"turning back stops", []plan.Path{bead(60, mm(0, 0, 100, 0, 0, 0))}, 2 * ramp(100, 0, 0, 60, 1000)},
		{"a travel in line changes speed", []plan.Path{bead(60, mm(0, 0, 50, 0)), bead(60, mm(100, 0, 150, 0))},
			2*ramp(50, 0, 60, 60, 1000) + ramp(50, 60, 60, 100, 1000)},
		{"points twice, paths of one point or none", []plan.Path{bead(60, nil), bead(60, mm(0, 0)), bead(60, mm(0, 0, 0, 0, 50, 0, 50, 0, 100, 0, 100, 0)), bead(60, mm(100, 0))}, 1.726667},
	} {
		near(t, row.name, simulate(t, one(row.paths...), pr).Total, row.seconds, 5e-7)
	}
}

func TestRetraction(t *testing.T) {
	pr := swift(1000, 0.05)
	pr.RetractionTravel, pr.RetractionLength, pr.RetractionSpeed = 2, 1, 40
	got := simulate(t, one(bead(60, mm(0, 0, 100, 0)), bead(60, mm(150, 0, 250, 0)), bead(60, mm(251, 0, 351, 0))), pr)
	near(t, "retraction", got.Retraction, 2*1/40.0, 1e-12) // there and back, once
	// The long travel is from rest to rest, the short one in full flight.
	near(t, "travel", got.Travel, ramp(50, 0, 0, 100, 1000)+ramp(1, 60, 60, 100, 1000), 1e-9)
	near(t, "beads", got.Kind[plan.OuterShell], 1.726667+2*ramp(100, 0, 60, 60, 1000), 5e-7)
}

func TestLayers(t *testing.T) {
	pr := swift(1000, 0.05)
	pr.MaxSpeed[2], pr.MaxAcceleration[2], pr.LayerChangeTime = 10, 100, 0.3
	pr.StartTime, pr.EndTime, pr.ToolChangeTime = 90, 20, 5
	m := []printer.Material{{MaxFlow: 1e6, NozzleC: 210, PlatformC: 60, MinLayerTime: 4}, {MaxFlow: 1e6, NozzleC: 240, PlatformC: 70, MinLayerTime: 1}}
	a, b := bead(60, mm(0, 0, 100, 0)), bead(60, mm(0, 10, 100, 10))
	b.Tool, b.Kind = 1, plan.Support
	got, err := motion.Simulate(layers([]plan.Path{a}, nil, []plan.Path{b}, []plan.Path{b}), pr, m, 2)
	if err != nil {
		t.Fatal(err)
	}
	z2, z1 := 2*math.Sqrt(0.4/100), 2*math.Sqrt(0.2/100) // up 0.4 mm over the empty layer, then 0.2 mm: too short to reach 10 mm/s
	// In layer 3 the head goes back askew and then turns into the bead; in layer
	// 4 straight back, so it stops before the bead.
	askew := math.Atan2(10, 100)
	v := math.Sqrt(1000 * 0.05 * math.Sin(askew/2) / (1 - math.Sin(askew/2)))
	third := ramp(math.Hypot(100, 10), 0, v, 100, 1000) + ramp(100, v, 0, 60, 1000) + z2 + 0.3 + 5
	fourth := ramp(100, 0, 0, 100, 1000) + ramp(100, 0, 0, 60, 1000) + z1 + 0.3
	for i, want := range []float64{4, 0, third, fourth} {
		near(t, fmt.Sprint("layer ", i+1), got.Layers[i], want, 1e-9)
	}
	near(t, "layer changes", got.LayerChange, z2+z1+2*0.3, 1e-9)
	near(t, "tool changes", got.ToolChange, 5, 0)
	near(t, "waiting", got.Waiting, 4-1.726667, 5e-7) // the others take longer than 1 s
	near(t, "warm-up", got.WarmUp, 90+20+max((240-20)/2.0, (70-20)/0.5), 1e-9)
	sum := got.WarmUp + got.Travel + got.Retraction + got.LayerChange + got.ToolChange + got.Waiting
	for _, k := range got.Kind {
		sum += k
	}
	near(t, "sum", sum, got.Total, 1e-9)
	// Two materials in one layer: the change is made at rest, even in line, and
	// the slower to set decides.
	b = bead(60, mm(100, 0, 200, 0))
	b.Tool = 1
	m[0].MinLayerTime = 20
	got, err = motion.Simulate(one(a, b), pr, m, 2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "two materials in line", got.Kind[plan.OuterShell], 2*ramp(100, 0, 0, 60, 1000), 1e-9)
	near(t, "two materials set", got.Layers[0], 20, 1e-12)
	m[0].MinLayerTime = 4
	// Only the tools in use are heated.
	got, err = motion.Simulate(one(a), pr, m, 2)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "warm-up of one", got.WarmUp, 110+max(190/2.0, 40/0.5), 1e-9)
}
