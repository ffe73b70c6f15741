package region

import (
	"fmt"
	"math"
	"math/big"
	"math/rand"
	"sync"
	"testing"

	"pgregory.net/rapid"
)

// regions draws rings on a lattice: coarse ones overlap everywhere, fine ones
// cross at points that must be rounded.
func regions(t *rapid.T, name string) Region {
	step := rapid.SampledFrom([]Micron{1, 7, 1000, 123_457}).Draw(t, name+" step")
	size := rapid.SampledFrom([]Micron{3, 12, 60}).Draw(t, name+" size")
	at := rapid.Custom(func(t *rapid.T) Point {
		return Point{
			step * Micron(rapid.Int64Range(-int64(size), int64(size)).Draw(t, "x")),
			step * Micron(rapid.Int64Range(-int64(size), int64(size)).Draw(t, "y")),
		}
	})
	r := Region{}
	for _, ring := range rapid.SliceOfN(rapid.SliceOfN(at, 3, 9), 0, 4).Draw(t, name) {
		r = append(r, Ring(ring))
	}
	return r
}

// Set algebra. What is equal as sets without new crossings must be equal as
// values; where a second operation crosses edges anew, areas agree to rounding.
func TestAlgebra(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := Nonzero(regions(t, "a")...), Nonzero(regions(t, "b")...)
		union, both := Union(a, b), Intersect(a, b)
		ab, ba, xor := Subtract(a, b), Subtract(b, a), Xor(a, b)
		for name, r := range map[string]Region{"a": a, "b": b, "∪": union, "∩": both, "a-b": ab, "b-a": ba, "⊕": xor} {
			if err := Valid(r); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		for _, c := range []struct {
			law string
			x   Region
			y   Region
		}{
			{"A∪B = B∪A", union, Union(b, a)},
			{"A∩B = B∩A", both, Intersect(b, a)},
			{"A⊕B = B⊕A", xor, Xor(b, a)},
			{"A∪A = A", Union(a, a), a},
			{"A∪A∪A = A", Union(a, a, a), a},
			{"A∩A = A", Intersect(a, a), a},
			{"A∪∅ = A", Union(a, nil), a},
			{"A∖∅ = A", Subtract(a, nil), a},
			{"A⊕∅ = A", Xor(nil, a), a},
			{"A∖A = ∅", Subtract(a, a), nil},
			{"A⊕A = ∅", Xor(a, a), nil},
			{"A∩∅ = ∅", Intersect(a, nil), nil},
			{"∅∖A = ∅", Subtract(nil, a), nil},
			{"∪ of three = ∪ of two and one", Union(a, b, nil), union},
			{"a clockwise ring is as good", Union(flip(a), b), union},
			{"Simplify(0)", a.Simplify(0), a},
			{"Offset(0)", a.Offset(0, Round, 5), a},
			{"Turn(0)", a.Turn(0), a},
			{"there and back", a.Translate(1<<20, -77).Translate(-1<<20, 77), a},
			{"moved together", Subtract(a.Translate(99, -1001), b.Translate(99, -1001)), ab.Translate(99, -1001)},
			{"offset moved", a.Translate(99, -1001).Offset(20, Round, 1), a.Offset(20, Round, 1).Translate(99, -1001)},
			{"offset in turn moved", a.Translate(99, -1001).Offset(-20, Mitre, 1), a.Offset(-20, Mitre, 1).Translate(99, -1001)},
		} {
			if !same(c.x, c.y) {
				t.Fatalf("%s: %s is not %s", c.law, show(c.x), show(c.y))
			}
		}
		bound := 1.5e-3*length(a, b) + 1e-9 // √½ µm on either side of the equation
		for _, c := range []struct {
			law  string
			x, y float64
		}{
			{"|A∪B| + |A∩B| = |A| + |B|", union.Area() + both.Area(), a.Area() + b.Area()},
			{"|A⊕B| = |A∖B| + |B∖A|", xor.Area(), ab.Area() + ba.Area()},
			{"|A∖B| + |A∩B| = |A|", ab.Area() + both.Area(), a.Area()},
			{"A∖B ∪ A∩B = A", Xor(Union(ab, both), a).Area(), 0},
			{"A⊕B = A∪B ∖ A∩B", Xor(Subtract(union, both), xor).Area(), 0},
			{"A∖B ∩ B = ∅", Intersect(ab, b).Area(), 0},
			{"A ∖ (A∪B) = ∅", Subtract(a, union).Area(), 0},
		} {
			if math.Abs(c.x-c.y) > bound {
				t.Fatalf("%s: %.9f is not %.9f ± %.9f", c.law, c.x, c.y, bound)
			}
		}
	})
}

func flip(r Region) Region {
	out := make(Region, len(r))
	for i := range r {
		out[i] = backward(r[i])
	}
	return out
}

// Growing and shrinking. Each result is right to 2 µm and the arc tolerance, so
// after two of them 8 µm are allowed; slivers that rounding leaves do not count.
func TestOffsetProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Nonzero(regions(t, "r")...)
		d := Micron(rapid.Int64Range(1, 3000).Draw(t, "d"))
		join := rapid.SampledFrom([]Join{Round, Mitre, Square}).Draw(t, "join")
		const arc = 2
		const slack = 8
		grown, shrunk := r.Offset(d, join, arc), r.Offset(-d, join, arc)
		for name, x := range map[string]Region{"grown": grown, "shrunk": shrunk} {
			if err := Valid(x); err != nil {
				t.Fatalf("%s: %v", name, err)
			}
		}
		laws := []struct {
			law           string
			inner, around Region
		}{
			{"r ⊂ grown", r, grown},
			{"shrunk ⊂ r", shrunk, r},
			{"grown by d ⊂ grown by d+20", grown, r.Offset(d+20, join, arc)},
			{"shrunk by d+20 ⊂ shrunk by d", r.Offset(-d-20, join, arc), shrunk},
		}
		if join == Round { // a mitre grows corners by more than it shrinks them
			laws = append(laws, []struct {
				law           string
				inner, around Region
			}{
				{"r less a little ⊂ grown, then shrunk", r.Offset(-slack, Mitre, 1), grown.Offset(-d, join, arc)},
				{"shrunk, then grown ⊂ r and a little", shrunk.Offset(d, join, arc), r.Offset(slack, Mitre, 1)},
			}...)
		}
		for _, c := range laws {
			if out := Subtract(c.inner, c.around); out.Area() > 1.5e-3*length(c.inner, c.around) {
				t.Fatalf("%s: %s sticks out of %s", c.law, show(out), show(c.around))
			}
		}
	})
}

// A vertex Simplify drops lies within tol of what it leaves.
func TestSimplify(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := Nonzero(regions(t, "r")...)
		tol := Micron(rapid.Int64Range(0, 500).Draw(t, "tol"))
		s := r.Simplify(tol)
		if err := Valid(s); err != nil {
			t.Fatal(err)
		}
		if diff, bound := Xor(r, s).Area(), float64(tol+2)/1000*length(r)+1e-9; diff > bound {
			t.Fatalf("differs by %g mm², bound %g", diff, bound)
		}
	})
	// A circle of 2000 corners, radius 10 mm: the chord whose sagitta is 10 µm
	// spans 2·acos(1 - 0.001), so 71 corners are enough (COMPUTED).
	r := Nonzero(ngon(2000, 10_000)).Simplify(10)
	if len(r) != 1 || len(r[0]) > 2*71 || len(r[0]) < 60 {
		t.Errorf("%d corners left", len(r[0]))
	}
}

// Valid and check against the definition, edge by edge and pair by pair.
func TestValidByDefinition(t *testing.T) {
	rng := rand.New(rand.NewSource(5))
	good, bad := 0, 0
	for range 15_000 {
		var r Region
		switch rng.Intn(3) {
		case 0:
			r = rings(rng, 1, 3+rng.Intn(3), 5, 1)
		case 1:
			r = rings(rng, 2, 3, 7, 1)
		default: // spoil a good one
			if r = Nonzero(rings(rng, 2, 5, 9, 1)...); len(r) > 0 {
				ring := r[rng.Intn(len(r))]
				ring[rng.Intn(len(ring))].X += Micron(rng.Intn(2))
			}
		}
		want := plainlySound(r)
		if got := check(r); (got == nil) != (want == "") {
			t.Fatalf("%s: %v, by definition %q", show(r), got, want)
		}
		if want == "" {
			good++
		} else {
			bad++
		}
	}
	if good < 1000 || bad < 1000 {
		t.Errorf("%d good and %d bad are too few", good, bad)
	}
}

// plainlySound says what is wrong with r: an edge that meets another elsewhere
// than in a common end, or that has not winding 1 on the left and 0 on the right.
func plainlySound(r Region) string {
	type line struct{ a, b Point }
	var lines []line
	for _, ring := range r {
		if len(ring) < 3 {
			return "short"
		}
		for i, p := range ring {
			lines = append(lines, line{p, ring[(i+1)%len(ring)]})
		}
	}
	side := func(l line, p Point) Micron {
		return (l.b.X-l.a.X)*(p.Y-l.a.Y) - (l.b.Y-l.a.Y)*(p.X-l.a.X)
	}
	on := func(l line, p Point) bool { // within l, ends excluded
		return side(l, p) == 0 && p != l.a && p != l.b &&
			min(l.a.X, l.b.X) <= p.X && p.X <= max(l.a.X, l.b.X) &&
			min(l.a.Y, l.b.Y) <= p.Y && p.Y <= max(l.a.Y, l.b.Y)
	}
	for i, l := range lines {
		if l.a == l.b {
			return "zero"
		}
		for _, m := range lines[:i] {
			if l == m || l.a == m.b && l.b == m.a {
				return "twice"
			}
			if on(l, m.a) || on(l, m.b) || on(m, l.a) || on(m, l.b) {
				return "touch"
			}
			if side(l, m.a)*side(l, m.b) < 0 && side(m, l.a)*side(m, l.b) < 0 {
				return "cross"
			}
		}
	}
	for _, l := range lines {
		dx, dy := float64(l.b.X-l.a.X), float64(l.b.Y-l.a.Y)
		x, y := float64(l.a.X)+dx*0.4987, float64(l.a.Y)+dy*0.4987
		const e = 1e-6
		if n, _ := winding(r, x-dy*e, y+dx*e); n != 1 {
			return "left"
		}
		if n, _ := winding(r, x+dy*e, y-dx*e); n != 0 {
			return "right"
		}
	}
	return ""
}

// part against exact rational arithmetic.
func TestPart(t *testing.T) {
	rng := rand.New(rand.NewSource(6))
	half := big.NewRat(1, 2)
	for i := range 30_000 {
		den := 2 + rng.Int63n(int64(1)<<(2+i%60))
		num := 1 + rng.Int63n(den-1)
		if i%7 == 0 && den%2 == 0 {
			num = den / 2 // halves
		}
		d := rng.Int63n(1<<31) - 1<<30
		if i%3 == 0 {
			d %= 100
		}
		x := new(big.Rat).SetFrac(big.NewInt(num), big.NewInt(den))
		x.Mul(x, new(big.Rat).SetInt64(d)).Add(x, half)
		want := new(big.Int).Div(x.Num(), x.Denom()) // Euclid's: floor, as Denom > 0
		if got := part(d, num, den); int64(got) != want.Int64() {
			t.Fatalf("part(%d, %d, %d) = %d, want %v", d, num, den, got, want)
		}
	}
}

// What a work held before, and who works beside it, changes nothing.
func TestConcurrent(t *testing.T) {
	rng := rand.New(rand.NewSource(7))
	var in, want []Region
	for range 40 {
		r := kinds[rng.Intn(len(kinds))].make(rng)
		in, want = append(in, r), append(want, Nonzero(r...).Offset(50, Round, 5))
	}
	var group sync.WaitGroup
	for range 4 {
		order := rng.Perm(len(in))
		group.Go(func() {
			for _, i := range order {
				if got := Nonzero(in[i]...).Offset(50, Round, 5); !same(got, want[i]) {
					t.Errorf("%s: differs when done beside others", show(in[i]))
				}
			}
		})
	}
	group.Wait()
}

// Anything at all may come in.
func TestHostile(t *testing.T) {
	far := Micron(math.MaxInt64)
	for i, r := range []Region{
		nil, {}, {nil}, {{}}, {{{1, 2}}}, {{{1, 2}, {3, 4}}}, {{{far, far}, {-far, far}, {0, -far - 1}}},
		{{{far, 0}, {-far - 1, 0}, {far, 1}, {-far - 1, 1}}}, {nil, rect(0, 0, 1, 1), {}},
		{rect(-far, -far, far, far), rect(-Limit, -Limit, Limit, Limit)},
	} {
		for j, out := range []Region{
			Nonzero(r...), Union(r, r, r), Union(r), Intersect(r, r), Subtract(r, nil), Xor(nil, r),
			r.Offset(far, Round, far), r.Offset(-far-1, Square, -far-1), r.Offset(far, Mitre, 0), r.Offset(1, Join(9), 1),
			r.Simplify(far), r.Simplify(-far), r.Translate(far, -far-1), r.Turn(math.NaN()), r.Turn(1e300), r.Turn(1),
		} {
			sound(t, fmt.Sprintf("%d %d", i, j), out)
		}
		r.Area()
		r.Perimeter()
		r.Bounds()
		r.Contains(Point{far, -far})
		r.Islands()
	}
}
