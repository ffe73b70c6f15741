package findings

import (
	"math"
	"math/rand"
	"testing"

	"platebook/engine/mesh"
)

func boxPoints(x, y, z float64) []mesh.Vec { return block(0, 0, 0, x, y, z).V }

// spherePoints are points evenly over a sphere of diameter d.
func spherePoints(d float64, n int) []mesh.Vec {
	var out []mesh.Vec
	for i := range n {
		z := 1 - float64(2*i+1)/float64(n)
		s, c := math.Sincos(float64(i) * 2.399963229728653)
		r := math.Sqrt(1 - z*z)
		out = append(out, mesh.Vec{r * c, r * s, z}.Scale(d/2))
	}
	return out
}

func turnedAt(p []mesh.Vec, rng *rand.Rand) []mesh.Vec {
	r := cell{wx: rng.Float64()*2 - 1, wy: rng.Float64()*2 - 1, psi: rng.Float64() * 6}.middle()
	out := make([]mesh.Vec, len(p))
	for i, q := range p {
		out[i] = r.apply(q).Add(mesh.Vec{3, -7, 11})
	}
	return out
}

// Source: 16 CFR 1501.4, in inches: 1.25 wide, 1 to 2.25 deep. Its consequences
// are closed forms (COMPUTED): a ball fits up to a diameter of 31.75; a thin rod
// up to √(31.75² + 57.15²) = 65.378, from the rim to the far end of the floor; a
// cube upright up to 31.75/√2 = 22.451; a rod as wide as the cylinder up to the
// depth of the shallow side, 25.4. The ball of 44.4 mm is that of the test for
// children of three and over, 16 CFR 1500.18(a)(17) (MEMORY).
func TestSmallPart(t *testing.T) {
	// In the rounded millimetres of the rule, 31.7, 25.4 and 57.1, its volume is
	// 32 556 mm³; in the inches that govern it is a little more.
	within(t, "volume", smallVolume*(31.7*31.7*82.5)/(31.75*31.75*82.55), 32556, 0.5)
	within(t, "longest line", smallChord, 65.378, 0.001)
	rng := rand.New(rand.NewSource(1))
	for _, c := range []struct {
		name string
		p    []mesh.Vec
		want Certainty
	}{
		{"ball 30", spherePoints(30, 1500), Fits},
		{"ball 31.7", spherePoints(31.7, 1500), Fits},
		{"ball 33", spherePoints(33, 1500), DoesNotFit},
		{"ball 44.4", spherePoints(44.4, 1500), DoesNotFit},
		{"rod 57 × 1", rod(0.5, 0, 57, 24).V, Fits},
		{"rod 60 × 1", rod(0.5, 0, 60, 24).V, Fits},
		{"rod 65 × 0.1", rod(0.05, 0, 65, 8).V, Fits},
		{"rod 65.5 × 1", rod(0.5, 0, 65.5, 24).V, DoesNotFit},
		{"rod 25.4 × 31.7", rod(15.85, 0, 25.4, 90).V, Fits},
		{"rod 30 × 31.7", rod(15.85, 0, 30, 90).V, DoesNotFit},
		{"cube 20", boxPoints(20, 20, 20), Fits},
		{"cube 22.4", boxPoints(22.4, 22.4, 22.4), Fits},
		{"cube 23", boxPoints(23, 23, 23), DoesNotFit},
		{"cube 26", boxPoints(26, 26, 26), DoesNotFit},
		{"plate 40 × 20 × 2", boxPoints(40, 20, 2), Fits},
		{"plate 50 × 50 × 2", boxPoints(50, 50, 2), DoesNotFit},
		{"a point", []mesh.Vec{{1, 2, 3}}, Fits},
	} {
		for range 3 {
			if got, n := SmallPart(turnedAt(c.p, rng), 8000); got != c.want {
				t.Errorf("%s: got %v after %d cells, want %v", c.name, got, n, c.want)
			}
		}
	}
}

// holds checks one placement by the words of the rule: below the opening, within
// the wall, above the floor.
func holds(p []mesh.Vec, slack float64) bool {
	for _, q := range p {
		if q[2] > slack || math.Hypot(q[0], q[1]) > 15.875+slack || q[2] < -(41.275+q[0])-slack {
			return false
		}
	}
	return true
}

// A second answer by another road: random rotations, and for each a search over
// a grid of places. Where it finds a fit there is one. Bodies are random boxes
// and clouds about as large as the cylinder.
func TestSmallPartAgainstTrying(t *testing.T) {
	rng := rand.New(rand.NewSource(3))
	found := 0
	for range 40 {
		p := boxPoints(5+40*rng.Float64(), 5+25*rng.Float64(), 2+20*rng.Float64())
		if rng.Intn(2) == 0 {
			for i := range p {
				p[i] = p[i].Add(mesh.Vec{rng.Float64(), rng.Float64(), rng.Float64()}.Scale(8))
			}
		}
		volume := 0.0
		v, f := mesh.Hull(p)
		volume = mesh.Measure(&mesh.Mesh{V: v, F: f}).Volume
		got, _ := SmallPart(p, 8000)
		if got == Fits && volume > smallVolume {
			t.Errorf("a body of %.0f mm³ is said to fit", volume)
		}
		fits := false
		q := make([]mesh.Vec, len(p))
		for range 200 {
			r := cell{wx: rng.NormFloat64(), wy: rng.NormFloat64(), psi: rng.Float64() * 7, down: rng.Intn(2) == 0}.middle()
			lo, hi := mesh.Vec{1e9, 1e9, 1e9}, mesh.Vec{-1e9, -1e9, -1e9}
			for i := range p {
				q[i] = r.apply(p[i])
				for k := range 3 {
					lo[k], hi[k] = math.Min(lo[k], q[i][k]), math.Max(hi[k], q[i][k])
				}
			}
			if hi[2]-lo[2] > 57.2 || max(hi[0]-lo[0], hi[1]-lo[1]) > 31.8 {
				continue
			}
			for gx := -6.0; gx <= 6 && !fits; gx++ {
				for gy := -6.0; gy <= 6 && !fits; gy++ {
					d := mesh.Vec{gx - (lo[0]+hi[0])/2, gy - (lo[1]+hi[1])/2, -hi[2]}
					moved := make([]mesh.Vec, len(q))
					for i := range q {
						moved[i] = q[i].Add(d)
					}
					fits = holds(moved, 0)
				}
			}
		}
		if fits {
			found++
			if got != Fits {
				t.Errorf("a fit was found by trying, but the answer is %v for %v", got, p)
			}
		}
	}
	if found < 10 {
		t.Errorf("trying found only %d fits: it tests nothing", found)
	}
}

// What is said to fit is placed as said and checked by the words of the rule.
func TestSmallPartPlacement(t *testing.T) {
	rng := rand.New(rand.NewSource(5))
	n := 0
	for range 200 {
		corners, facets := mesh.Hull(boxPoints(5+50*rng.Float64(), 5+25*rng.Float64(), 2+20*rng.Float64()))
		answer, r, _ := fitSearch(corners, facets, smallCylinder{}, 3000)
		p, _ := centred(corners)
		if answer != Fits {
			continue
		}
		n++
		q := make([]mesh.Vec, len(p))
		top := math.Inf(-1)
		for i := range p {
			q[i] = r.apply(p[i])
			top = math.Max(top, q[i][2])
		}
		x, ok := leftmost(q, smallRadius)
		if !ok {
			t.Fatal("the discs have no point in common")
		}
		// The y that goes with x: where the discs' chords at x meet.
		lo, hi := math.Inf(-1), math.Inf(1)
		for _, c := range q {
			h := math.Sqrt(math.Max(0, smallRadius*smallRadius-(x-c[0])*(x-c[0])))
			lo, hi = math.Max(lo, c[1]-h), math.Min(hi, c[1]+h)
		}
		for i := range q {
			q[i] = q[i].Sub(mesh.Vec{x, (lo + hi) / 2, top})
		}
		if !holds(q, 1e-4) {
			t.Errorf("a body said to fit does not: %v", q)
		}
	}
	if n < 50 {
		t.Errorf("only %d of 200 fit: it tests little", n)
	}
}

func TestSmallPartFinding(t *testing.T) {
	wants(t, "bead", as(ball(8, 48), nil), "+small-part=ask")
	wants(t, "bookend", as(block(0, 0, 0, 90, 80, 4), nil), "-small-part")
	wants(t, "cube of 30", as(block(0, 0, 0, 30, 30, 30), nil), "-small-part")
	// A loose piece counts by itself; one that is joined on does not.
	plate := block(0, 0, 0, 90, 80, 4)
	wants(t, "plate and bead", as(mesh.Merge(plate, shifted(ball(8, 48), 120, 0, 0)), nil), "+small-part", "+several-pieces")
	wants(t, "plate with knob", as(mesh.Merge(plate, block(40, 40, 3.5, 50, 50, 10)), nil), "-small-part", "-several-pieces")
	wants(t, "plate with knob that just touches", as(mesh.Merge(plate, block(40, 40, 4, 50, 50, 10)), nil), "-small-part", "-several-pieces")
	wants(t, "crossing bars", as(mesh.Merge(block(-50, -5, 0, 50, 5, 8), block(-5, -50, 0, 5, 50, 8)), nil), "-small-part")
}

// A rectangle of p × q, p > a, fits into one of a × b if and only if
// b ≥ (2pqa + (p²−q²)·√(p²+q²−a²)) / (p²+q²). Source: W. B. Carver, American
// Mathematical Monthly 64 (1957), problem E 1225 (MEMORY). Boxes as tall as the
// build volume, and too long to lie down, can only be turned flat.
func TestTiltedPoseAgainstCarver(t *testing.T) {
	const a, h = 100, 400
	for _, c := range []struct{ p, q float64 }{{105, 10}, {110, 20}, {120, 5}, {130, 30}, {102, 8}} {
		b := (2*c.p*c.q*a + (c.p*c.p-c.q*c.q)*math.Sqrt(c.p*c.p+c.q*c.q-a*a)) / (c.p*c.p + c.q*c.q)
		corners, facets := mesh.Hull(boxPoints(c.p, c.q, h))
		for _, k := range []struct {
			b    float64
			want Certainty
		}{{b * 1.02, Fits}, {b * 0.95, DoesNotFit}} {
			got, _, n := fitSearch(corners, facets, buildBox{a, k.b, h + 0.5}, 6000)
			if got != k.want && (got != Unsure || k.want == Fits) {
				t.Errorf("%g × %g in %d × %.2f (limit %.2f): got %v after %d cells, want %v", c.p, c.q, a, k.b, b, got, n, k.want)
			}
		}
	}
}
