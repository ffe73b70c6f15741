package pose

import (
	"errors"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"

	"platebook/engine/mesh"
)

var (
	teeOutline = []point{{-5, 0}, {5, 0}, {5, 30}, {20, 30}, {20, 40}, {-20, 40}, {-20, 30}, {-5, 30}}
	ellOutline = []point{{0, 0}, {40, 0}, {40, 8}, {8, 8}, {8, 60}, {0, 60}}
)

// known are parts with a known best side: the direction of the part that must
// face the platform (either sense where both is said), and the figures there.
// All are prisms, bodies of revolution with one flat end, or a table, so the
// best pose needs no supports at all, is the lowest of those that do not, and
// has a contact that is plain to compute (COMPUTED).
var known = []struct {
	name            string
	m               *mesh.Mesh
	down            mesh.Vec
	both            bool
	height, contact float64
}{
	{"cone on its base", cone(20, 40, 90), mesh.Vec{0, 0, -1}, false, 40, disc(20, 90)},
	{"cone, file upside down", turned(cone(20, 40, 90), mesh.Vec{1, 0, 0}, 180), mesh.Vec{0, 0, 1}, false, 40, disc(20, 90)},
	// A T cut from a board lies on the board's face; it needs no supports upside
	// down either, but is four times as tall.
	{"T", raised(teeOutline, 10), mesh.Vec{0, 1, 0}, true, 10, 700},
	// One turned on a lathe has its flat top only.
	{"round T", mushroom(5, 30, 20, 5, 90), mesh.Vec{0, 0, 1}, false, 35, disc(20, 90)},
	{"L bracket", raised(ellOutline, 12), mesh.Vec{0, 1, 0}, true, 12, 40*8 + 8*52},
	// A long one lies on its wider leg; on its end it would be twice as tall.
	{"long L bracket", raised([]point{{0, 0}, {40, 0}, {40, 8}, {8, 8}, {8, 30}, {0, 30}}, 60), mesh.Vec{0, 0, -1}, false, 30, 2400},
	// Upright, its crown hangs over the opening; lying flat nothing does.
	{"arch", raised(arch(20, 30, 40), 15), mesh.Vec{0, 1, 0}, true, 15, disc(30, 80)/2 - disc(20, 80)/2},
	{"table", table(60, 40, 30, 5, 5), mesh.Vec{0, 0, 1}, false, 30, 2400},
	{"dome", dome(20, 88), mesh.Vec{0, 0, -1}, false, 20, disc(20, 88)},
	{"bowl, file upside up", turned(dome(20, 88), mesh.Vec{0, 1, 0}, 180), mesh.Vec{0, 0, 1}, false, 20, disc(20, 88)},
	// ASTM D638 types I and IV: 2623.182 mm² by arcs; chords cut the waist a little wide.
	{"D638 type I", bar(13, 57, 19, 165, 76, 3.2, 40), mesh.Vec{0, 0, 1}, true, 3.2, 2623.182},
	{"D638 type I on edge", turned(bar(13, 57, 19, 165, 76, 3.2, 40), mesh.Vec{1, 0, 0}, 90), mesh.Vec{0, 1, 0}, true, 3.2, 2623.182},
	{"D638 type I on end", turned(bar(13, 57, 19, 165, 76, 3.2, 40), mesh.Vec{0, 1, 0}, 90), mesh.Vec{1, 0, 0}, true, 3.2, 2623.182},
}

// disc is the area of a regular polygon of n corners on a circle.
func disc(r float64, n int) float64 {
	return float64(n) / 2 * r * r * math.Sin(2*math.Pi/float64(n))
}

// As drawn, and turned and moved anyhow, which must not change a figure.
func TestKnownBestSides(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, c := range known {
		for _, turn := range []mesh.Affine{mesh.Identity(), anyTurn(rnd), anyTurn(rnd)} {
			down := turn.Apply(c.down)
			turn.T = mesh.Vec{100 * rnd.NormFloat64(), 100 * rnd.NormFloat64(), 100 * rnd.NormFloat64()}
			m := mesh.Transform(c.m, turn)
			r, err := Choose(m, desk)
			if err != nil {
				t.Fatal(c.name, err)
			}
			checkResult(t, c.name, m, r)
			d := r.Chosen.Down.Dot(down)
			if c.both {
				d = math.Abs(d)
			}
			within(t, c.name+", down", d, 1, 1e-6)
			if r.Chosen.SupportVolume != 0 || r.Chosen.Scar() != 0 || !r.Chosen.Against.Empty() {
				t.Errorf("%s: %+v", c.name, r.Chosen)
			}
			within(t, c.name+", height", r.Chosen.Height, c.height, 1e-5)
			within(t, c.name+", contact", r.Chosen.Contact, c.contact, 1e-3*c.contact)
		}
	}
}

// sameScore holds two scores together within a share of each figure.
func sameScore(t *testing.T, name string, got, want Score, share float64) {
	t.Helper()
	for _, f := range []struct {
		name      string
		got, want float64
	}{
		{"support volume", got.SupportVolume, want.SupportVolume}, {"supported area", got.SupportedArea, want.SupportedArea},
		{"stand area", got.StandArea, want.StandArea}, {"contact", got.Contact, want.Contact}, {"tipping", got.Tipping, want.Tipping},
		{"height", got.Height, want.Height}, {"width", got.Box[0], want.Box[0]}, {"depth", got.Box[1], want.Box[1]},
	} {
		within(t, name+", "+f.name, f.got, f.want, 1e-4+share*math.Abs(f.want))
	}
}

// checkResult holds what any answer must be.
func checkResult(t *testing.T, name string, m *mesh.Mesh, r Result) {
	t.Helper()
	if len(r.Ranked) == 0 || r.Own < 0 || r.Own >= len(r.Ranked) || r.Ranked[r.Own].From != AsGiven {
		t.Fatalf("%s: own pose is number %d of %d", name, r.Own, len(r.Ranked))
	}
	if !reflect.DeepEqual(r.Chosen, r.Ranked[0]) {
		t.Errorf("%s: what is chosen is not first", name)
	}
	if !strings.HasSuffix(r.Why.String(), ".") || strings.ContainsAny(r.Why.String(), "\n") || strings.Contains(r.Why.String(), "NaN") || strings.Contains(r.Why.String(), "Inf") {
		t.Errorf("%s: no sentence: %q", name, r.Why)
	}
	for i, c := range r.Ranked {
		if i > 0 && c.rank < r.Ranked[i-1].rank || (c.rank == sound) != (c.Against.Empty()) {
			t.Errorf("%s: candidate %d out of rank: %q", name, i, c.Against)
		}
		a := c.Pose.A
		for j := range 3 {
			for k := range 3 {
				want := 0.0
				if j == k {
					want = 1
				}
				within(t, name+", rotation", mesh.Vec(a[j]).Dot(mesh.Vec(a[k])), want, 1e-14)
			}
		}
		within(t, name+", determinant", c.Pose.Determinant(), 1, 1e-14)
		down := mesh.Vec{a[0][0]*c.Down[0] + a[0][1]*c.Down[1] + a[0][2]*c.Down[2], 0, mesh.Vec(a[2]).Dot(c.Down)}
		within(t, name+", down", down[2], -1, 1e-12)
		if i > 2 && i != r.Own {
			continue
		}
		got := mesh.Measure(mesh.Transform(m, c.Pose)).Box
		size := got.Size()
		for k := range 3 {
			within(t, name+", box", size[k], c.Box[k], 1e-5*(1+c.Box[k]))
		}
		tol := 1e-5 * (1 + c.Height)
		within(t, name+", on the platform", got.Min[2], 0, tol)
		within(t, name+", in the middle", got.Min[0]+got.Max[0], 0, tol)
		within(t, name+", in the middle", got.Min[1]+got.Max[1], 0, tol)
	}
	for _, i := range r.Pareto {
		for j, c := range r.Ranked {
			p := r.Ranked[i]
			if c.Against.Empty() && c.SupportVolume < p.SupportVolume && c.Scar() < p.Scar() && c.Height < p.Height && c.Tipping > p.Tipping {
				t.Errorf("%s: candidate %d of the Pareto set is beaten by %d", name, i, j)
			}
		}
	}
	if r.Chosen.Against.Empty() && len(r.Pareto) == 0 {
		t.Errorf("%s: no Pareto set", name)
	}
}

// Any number of workers, facets in another order: the same answer.
func TestSameAnswer(t *testing.T) {
	rnd := rand.New(rand.NewPCG(5, 6))
	for _, c := range known[:6] {
		want, err := Choose(c.m, desk)
		if err != nil {
			t.Fatal(err)
		}
		o := desk
		o.Workers = 1
		if r, err := Choose(c.m, o); err != nil || !reflect.DeepEqual(r, want) {
			t.Errorf("%s: another answer from one worker", c.name)
		}
		m := &mesh.Mesh{V: append(slices.Clone(c.m.V), mesh.Vec{999, 999, 999}), F: slices.Clone(c.m.F)} // one vertex nothing uses
		rnd.Shuffle(len(m.F), func(i, j int) { m.F[i], m.F[j] = m.F[j], m.F[i] })
		for i, f := range m.F {
			k := rnd.IntN(3)
			m.F[i] = [3]int32{f[k], f[(k+1)%3], f[(k+2)%3]}
		}
		r, err := Choose(m, desk)
		if err != nil {
			t.Fatal(err)
		}
		sameScore(t, c.name+" shuffled", r.Chosen.Score, want.Chosen.Score, 1e-6)
		within(t, c.name+" shuffled", gap(r.Chosen.Down, want.Chosen.Down), 0, 1e-9)
	}
}

// A full plan overrules the estimate, but only among the best few.
func TestFull(t *testing.T) {
	m := raised(teeOutline, 10)
	quick, err := Choose(m, desk)
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	o := desk
	o.Best = 4
	o.Full = func(placed *mesh.Mesh) (float64, error) {
		asked++
		if lo := mesh.Measure(placed).Box.Min[2]; math.Abs(lo) > 1e-6 {
			t.Errorf("the part stands at %g", lo)
		}
		return -float64(asked), nil // the last asked is the best
	}
	r, err := Choose(m, o)
	if err != nil {
		t.Fatal(err)
	}
	checkResult(t, "planned", m, r)
	if asked < 4 || asked > 5 || r.Chosen.Full != -float64(asked) || !r.Chosen.Planned {
		t.Errorf("asked %d times, chose %g", asked, r.Chosen.Full)
	}
	if !r.Ranked[r.Own].Planned {
		t.Error("the part as given was not planned")
	}
	o.Full = func(*mesh.Mesh) (float64, error) { return 0, errors.New("no") }
	r, err = Choose(m, o)
	if err != nil || r.Chosen.Planned || !r.Chosen.Against.Empty() {
		t.Errorf("where no plan works the next is taken: %v %+v", err, r.Chosen)
	}
	o.Full = func(*mesh.Mesh) (float64, error) { return math.NaN(), nil }
	if r, err = Choose(m, o); err != nil || gap(r.Chosen.Down, quick.Chosen.Down) > 1e-9 {
		t.Errorf("a plan that costs no number counts: %v", err)
	}
}

// What speaks against a pose comes before what it costs.
func TestAgainst(t *testing.T) {
	// 10 × 10 × 120 does not stand in 100 mm of height: it lies, at 45° on the platform.
	o := desk
	o.Volume = [3]float64{100, 100, 100}
	r, err := Choose(block(0, 0, 0, 10, 10, 120), o)
	if err != nil {
		t.Fatal(err)
	}
	if !r.Chosen.Fits || math.Abs(r.Chosen.Height-10) > 1e-6 || !strings.Contains(r.Ranked[r.Own].Against.String(), "does not fit") {
		t.Errorf("%+v: %s", r.Chosen, r.Why)
	}
	// 130 long it cannot lie at all, and the reason says so.
	if r, err = Choose(block(0, 0, 0, 60, 60, 130), o); err != nil || r.Chosen.Fits || !strings.Contains(r.Why.String(), "fits in none") {
		t.Errorf("%v %+v: %s", err, r.Chosen, r.Why)
	}
	// A needle stands without supports, but not for long: atan(1/50) = 1.1°.
	o = desk
	o.Cost = func(s Score) float64 { return -s.Height }
	if r, err = Choose(block(0, 0, 0, 2, 2, 100), o); err != nil || math.Abs(r.Chosen.Height-2) > 1e-6 {
		t.Errorf("%v %+v: %s", err, r.Chosen, r.Why)
	}
	if a := r.Ranked[r.Own].Against.String(); !strings.Contains(a, "1.1°") {
		t.Errorf("the needle stands: %q", a)
	}
	o.LeastTipping = 0.01
	if r, err = Choose(block(0, 0, 0, 2, 2, 100), o); err != nil || r.Chosen.Height < 99 {
		t.Errorf("%v %+v: %s", err, r.Chosen, r.Why)
	}
	// Only vertices of a leaning wall touch: nothing stands, something is chosen.
	if r, err = Choose(&mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {10, 0, 1}, {0, 10, 2}}, F: [][3]int32{{0, 1, 2}}}, desk); err != nil || len(r.Ranked) == 0 {
		t.Errorf("%v %+v", err, r)
	}
}

func TestBadOptions(t *testing.T) {
	cube := block(0, 0, 0, 1, 1, 1)
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
		o    Options
	}{
		{"no mesh", nil, Options{}},
		{"empty mesh", &mesh.Mesh{}, Options{}},
		{"facet out of range", &mesh.Mesh{V: cube.V, F: [][3]int32{{0, 1, 99}}}, Options{}},
		{"no number", &mesh.Mesh{V: []mesh.Vec{{math.NaN()}, {1}, {0, 1}}, F: [][3]int32{{0, 1, 2}}}, Options{}},
		{"angle", cube, Options{Angle: 2}},
		{"angle NaN", cube, Options{Angle: math.NaN()}},
		{"volume", cube, Options{Volume: [3]float64{-1, 1, 1}}},
		{"first layer", cube, Options{FirstLayer: -1}},
		{"tipping", cube, Options{LeastTipping: math.Inf(1)}},
	} {
		if _, err := Choose(c.m, c.o); err == nil || strings.HasSuffix(err.Error(), ".") {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	if r, err := Choose(cube, Options{}); err != nil || r.Chosen.From != AsGiven || !r.Chosen.Fits {
		t.Errorf("zero options: %v %+v", err, r.Chosen)
	}
}
