package mesh

import (
	"math"
	"testing"
)

// near is the relative agreement asked of computed volumes and areas: many
// roundings, nothing else.
const near = 1e-10

func close1(got, want, scale float64) bool { return math.Abs(got-want) <= near*scale }

// ngon is the area of a regular polygon of n corners over that of its circle.
func ngon(n int) float64 { return float64(n) / (2 * math.Pi) * math.Sin(2*math.Pi/float64(n)) }

// outlineOf lists the corners of a tensile specimen: half-width w at the neck
// for half-length l, arcs of radius r tangent to the neck up to half-width wo,
// straight to half-length lo; each arc in n chords.
func outlineOf(w, l, r, wo, lo float64, n int) [][2]float64 {
	var q [][2]float64 // first quarter, from the end to the neck
	q = append(q, [2]float64{lo, wo})
	turn := math.Acos(1 - (wo-w)/r)
	for i := n; i >= 0; i-- {
		s, c := math.Sincos(turn * float64(i) / float64(n))
		q = append(q, [2]float64{l + r*s, w + r*(1-c)})
	}
	var p [][2]float64
	for _, s := range [][2]float64{{1, 1}, {-1, 1}, {-1, -1}, {1, -1}} {
		for i := range q {
			k := i
			if s[0]*s[1] < 0 {
				k = len(q) - 1 - i // keeps going round
			}
			p = append(p, [2]float64{s[0] * q[k][0], s[1] * q[k][1]})
		}
	}
	return p
}

// chordLoss is the area between an arc and its n chords.
func chordLoss(r, turn float64, n int) float64 {
	return r * r / 2 * (turn - float64(n)*math.Sin(turn/float64(n)))
}

func TestMeasure(t *testing.T) {
	const n = 96
	// A body turned in n steps has every level ngon(n) times its circle's area,
	// so its volume is that of the body turned from its profile times ngon(n).
	frusta := func(p [][2]float64) (v float64) {
		for i := range len(p) - 1 {
			a, b := p[i][0], p[i+1][0]
			v += math.Pi / 3 * (a*a + a*b + b*b) * (p[i+1][1] - p[i][1])
		}
		return v * ngon(n)
	}
	var ballProfile, ringProfile [][2]float64
	for i := range n/2 + 1 {
		s, c := math.Sincos(math.Pi * float64(i) / (n / 2))
		ballProfile = append(ballProfile, [2]float64{10 * s, -10 * c})
	}
	for i := range n + 1 {
		s, c := math.Sincos(2 * math.Pi * float64(i%n) / n)
		ringProfile = append(ringProfile, [2]float64{20 + 5*c, 5 * s})
	}
	// Specimens: ASTM D638 type I (W 13, L 57, WO 19, LO 165, R 76, 3.2 thick)
	// and ISO 527-2 type 1A (10, 80, 20, 170, R 24, 4 thick); areas follow from
	// the tangent arcs, less what the chords cut into them: arcs are hollow, so
	// their chords add area instead.
	specimen := func(w, l, r, wo, lo, thick float64, k int) (*Mesh, float64) {
		turn := math.Acos(1 - (wo-w)/r)
		return extrude(outlineOf(w, l, r, wo, lo, k), thick), 4 * chordLoss(r, turn, k) * thick
	}
	d638, d638More := specimen(6.5, 28.5, 76, 9.5, 82.5, 3.2, 24)
	iso, isoMore := specimen(5, 40, 24, 10, 85, 4, 24)
	for _, c := range []struct {
		name         string
		m            *Mesh
		volume, area float64 // area 0: not compared
		smooth       float64 // volume of the smooth body, 0 if the same
		off          float64 // by how much tessellation may be off it, relative
		source       string
	}{
		{"cube", cuboid(10, 10, 10), 1000, 600, 0, 0, "closed form"},
		{"box", cuboid(1, 2, 3), 6, 22, 0, 0, "closed form"},
		{"cone r=10 h=20", lathe([][2]float64{{0, 0}, {10, 0}, {0, 20}}, n), frusta([][2]float64{{10, 0}, {0, 20}}), 0,
			math.Pi * 100 * 20 / 3, 1 - ngon(n), "closed form"},
		{"sphere r=10", ball(10, n), frusta(ballProfile), 0,
			4. / 3 * math.Pi * 1000, 1 - math.Pow(math.Cos(math.Pi/n), 3)*ngon(n), "closed form; the profile holds a ball of radius r·cos(π/n)"},
		{"torus R=20 r=5", lathe(ringProfile, n), frusta(ringProfile), 0,
			9869.604401, 1 - ngon(n)*ngon(n) + 1e-9, "2π²Rr²"},
		{"D638 type I", d638, 8394.182 + d638More, 0, 0, 0, "ASTM D638 dimensions, tangent arcs"},
		{"ISO 527-2 1A", iso, 9600.084 + isoMore, 0, 0, 0, "ISO 527-2 dimensions, tangent arcs; radius from memory"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if err := Closed(c.m); err != nil {
				t.Fatal(err)
			}
			r := Inspect(c.m)
			if !r.Closed() || r.Bodies != 1 || r.Shells != 1 || r.NonManifold+r.Duplicates+r.Degenerate != 0 {
				t.Fatalf("%+v", r)
			}
			v := Measure(c.m).Volume
			tol := near
			if c.source[0] == 'A' || c.source[0] == 'I' {
				tol = 1e-7 // the reference is given to seven figures
			}
			if math.Abs(v-c.volume) > tol*c.volume {
				t.Errorf("volume %.9g, want %.9g (%s)", v, c.volume, c.source)
			}
			if c.smooth > 0 && (v > c.smooth || c.smooth-v > c.off*c.smooth) {
				t.Errorf("volume %.9g, smooth body %.9g", v, c.smooth)
			}
			if c.area > 0 && !close1(Measure(c.m).Area, c.area, c.area) {
				t.Errorf("area %.9g, want %.9g", Measure(c.m).Area, c.area)
			}
			everyWay(t, c.m)
		})
	}
}

// everyWay checks that a closed mesh measures the same turned and mirrored and
// far away, and twice as much twice.
func everyWay(t *testing.T, m *Mesh) {
	t.Helper()
	was, report := Measure(m), Inspect(m)
	v, d := was.Volume, was.Box.Size().Len()
	for _, c := range []struct {
		name   string
		t      Affine
		factor float64 // of the volume
	}{
		{"turned", Turn(Vec{1, 2, 3}, 0.7), 1},
		{"turned back", Turn(Vec{-3, 1, 0.5}, -2.9), 1},
		{"mirrored", Scale(Vec{-1, 1, 1}), 1},
		{"mirrored and turned", Scale(Vec{1, -1, 1}).Then(Turn(Vec{0, 1, 1}, 1)), 1},
		{"twice as wide, thrice as high", Scale(Vec{2, 1, 3}), 6},
		{"far away", Translate(Vec{1e6, -2e6, 3e5}), 1},
		{"an inch, a yard away", Scale(Vec{25.4, 25.4, 25.4}).Then(Translate(Vec{914.4, 0, 0})), 25.4 * 25.4 * 25.4},
	} {
		g := Transform(m, c.t)
		got := Measure(g)
		// Far away the coordinates themselves hold fewer places.
		scale := math.Abs(c.factor*v) + 1e-16/near*c.t.T.Len()*was.Area*4
		if !close1(got.Volume, c.factor*v, scale) {
			t.Errorf("%s: volume %.17g, want %.17g", c.name, got.Volume, c.factor*v)
		}
		if r := Inspect(g); r.Bodies != report.Bodies || r.Closed() != report.Closed() || r.Shells != report.Shells || r.Cavities != report.Cavities {
			t.Errorf("%s: %+v, was %+v", c.name, r, report)
		}
		if report.Closed() {
			if e := got.Centre.Sub(c.t.Apply(was.Centre)).Len(); e > near*25*d+1e-14*c.t.T.Len() {
				t.Errorf("%s: centre off by %g mm", c.name, e)
			}
		}
	}
	two := Merge(m, moved(m, 3*d, 0, 0))
	if got := Measure(two).Volume; !close1(got, 2*v, 10*math.Abs(v)) {
		t.Errorf("twice: volume %.17g, want %.17g", got, 2*v)
	}
	if r := Inspect(two); r.Bodies != 2*report.Bodies || r.Shells != 2*report.Shells {
		t.Errorf("twice: %+v", r)
	}
}

func TestMeasureNothing(t *testing.T) {
	if got := Measure(&Mesh{V: []Vec{{1, 2, 3}}}); got != (Measures{}) {
		t.Errorf("no facets measure %+v", got)
	}
	flat := &Mesh{V: []Vec{{0, 0, 5}, {6, 0, 5}, {0, 6, 5}}, F: [][3]int32{{0, 1, 2}}}
	if got := Measure(flat); got.Area != 18 || got.Volume != 0 || got.Centre.Sub(Vec{2, 2, 5}).Len() > 1e-14 {
		t.Errorf("a triangle measures %+v", got)
	}
}

// The answer must not depend on the number of cores: blocks are summed in a
// fixed order. Run on one and on several.
func TestMeasureSameOnAnyCores(t *testing.T) {
	m := Transform(ball(10, 200), Turn(Vec{1, 1, 0.3}, 0.4))
	onCores(t, func() any { return Measure(m) })
	onCores(t, func() any { return Inspect(m).OpenLength })
	open := without(soup(m), 7, 70, 700)
	onCores(t, func() any { h, r := Heal(open); return []any{h, r} })
}
