package region

import (
	"math"
	"math/rand"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// rowOps are the booleans, each with what it says of two memberships.
var rowOps = []struct {
	name string
	do   func(a, b Rows) Rows
	poly func(a, b Region) Region
	is   func(a, b bool) bool
}{
	{"union", Rows.Union, func(a, b Region) Region { return Union(a, b) }, func(a, b bool) bool { return a || b }},
	{"intersect", Rows.Intersect, Intersect, func(a, b bool) bool { return a && b }},
	{"subtract", Rows.Subtract, Subtract, func(a, b bool) bool { return a && !b }},
	{"xor", Rows.Xor, Xor, func(a, b bool) bool { return a != b }},
}

// drawRows draws rows with small coordinates, so that ends often meet.
func drawRows(t *rapid.T, name string) Rows {
	a := Rows{frame: Hatch{Pitch: 10}.frame(), First: rapid.IntRange(-3, 3).Draw(t, name+" first")}
	for range rapid.IntRange(0, 4).Draw(t, name+" rows") {
		var row []Span
		at := Micron(rapid.IntRange(-9, 9).Draw(t, "from"))
		for _, d := range rapid.SliceOfN(rapid.IntRange(1, 4), 0, 6).Draw(t, "steps") {
			to := at + Micron(d)
			row = append(row, Span{at, to})
			at = to + Micron(rapid.IntRange(1, 4).Draw(t, "gap"))
		}
		a.Row = append(a.Row, row)
	}
	a.trim()
	return a
}

func has(a Rows, line int, along float64) bool {
	for _, s := range a.Line(line) {
		if float64(s.From) < along && along < float64(s.To) {
			return true
		}
	}
	return false
}

func sameRows(a, b Rows) bool {
	return a.First == b.First && a.frame == b.frame && slices.EqualFunc(a.Row, b.Row, slices.Equal[[]Span])
}

// Booleans point by point: between neighbouring grid points nothing changes.
func TestRowsBooleans(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := drawRows(t, "a"), drawRows(t, "b")
		for _, op := range rowOps {
			r := op.do(a, b)
			if err := validRows(r); err != nil {
				t.Fatalf("%s of %v and %v: %v", op.name, a, b, err)
			}
			for line := -4; line < 9; line++ {
				for x := -10; x < 60; x++ {
					along := float64(x) + 0.5
					if has(r, line, along) != op.is(has(a, line, along), has(b, line, along)) {
						t.Fatalf("%s of %v and %v is wrong on line %d at %g: %v", op.name, a, b, line, along, r)
					}
				}
			}
		}
	})
}

// Set algebra holds as values: there is one form of each set.
func TestRowsAlgebra(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b, c := drawRows(t, "a"), drawRows(t, "b"), drawRows(t, "c")
		for _, law := range []struct {
			name        string
			left, right Rows
		}{
			{"a∪a = a", a.Union(a), a},
			{"a∩a = a", a.Intersect(a), a},
			{"a\\a = ∅", a.Subtract(a), Rows{frame: a.frame}},
			{"a∪∅ = a", a.Union(Rows{}), a},
			{"∅∪a = a", Rows{}.Union(a), a},
			{"a∪b = b∪a", a.Union(b), b.Union(a)},
			{"a∩b = b∩a", a.Intersect(b), b.Intersect(a)},
			{"(a∪b)∪c = a∪(b∪c)", a.Union(b).Union(c), a.Union(b.Union(c))},
			{"a∩(b∪c) = (a∩b)∪(a∩c)", a.Intersect(b.Union(c)), a.Intersect(b).Union(a.Intersect(c))},
			{"a\\(b∪c) = (a\\b)\\c", a.Subtract(b.Union(c)), a.Subtract(b).Subtract(c)},
			{"a⊕b = (a\\b)∪(b\\a)", a.Xor(b), a.Subtract(b).Union(b.Subtract(a))},
			{"(a⊕b)⊕b = a", a.Xor(b).Xor(b), a},
			{"a∩b = a\\(a\\b)", a.Intersect(b), a.Subtract(a.Subtract(b))},
			{"grow, then shrink, closes", a.Grow(3).Shrink(3), a.Close(6)},
			{"dropped and kept make all", a.Drop(3).Union(a.Subtract(a.Drop(3))), a},
		} {
			if !sameRows(law.left, law.right) {
				t.Fatalf("%s: %v and %v, of %v, %v, %v", law.name, law.left, law.right, a, b, c)
			}
		}
		if got := a.Union(b).Length() + a.Intersect(b).Length(); math.Abs(got-a.Length()-b.Length()) > 1e-12 {
			t.Fatal("lengths do not add up")
		}
	})
}

// What moves ends, as a table: one row before, one row after.
func TestRowsAlong(t *testing.T) {
	in := []Span{{0, 10}, {12, 20}, {30, 31}, {40, 60}}
	for _, c := range []struct {
		name string
		do   func(Rows) Rows
		want []Span
	}{
		{"shrink 0", func(a Rows) Rows { return a.Shrink(0) }, in},
		{"shrink 1", func(a Rows) Rows { return a.Shrink(1) }, []Span{{1, 9}, {13, 19}, {41, 59}}},
		{"shrink 5", func(a Rows) Rows { return a.Shrink(5) }, []Span{{45, 55}}},
		{"shrink all", func(a Rows) Rows { return a.Shrink(10) }, nil},
		{"grow 1", func(a Rows) Rows { return a.Grow(1) }, []Span{{-1, 21}, {29, 32}, {39, 61}}},
		{"grow 5", func(a Rows) Rows { return a.Grow(5) }, []Span{{-5, 65}}},
		{"grow −1", func(a Rows) Rows { return a.Grow(-1) }, []Span{{1, 9}, {13, 19}, {41, 59}}},
		{"shrink −1", func(a Rows) Rows { return a.Shrink(-1) }, []Span{{-1, 21}, {29, 32}, {39, 61}}},
		{"close 1", func(a Rows) Rows { return a.Close(1) }, in},
		{"close 2", func(a Rows) Rows { return a.Close(2) }, []Span{{0, 20}, {30, 31}, {40, 60}}},
		{"close 9", func(a Rows) Rows { return a.Close(9) }, []Span{{0, 20}, {30, 60}}},
		{"close 10", func(a Rows) Rows { return a.Close(10) }, []Span{{0, 60}}},
		{"close −5", func(a Rows) Rows { return a.Close(-5) }, in},
		{"drop 1", func(a Rows) Rows { return a.Drop(1) }, in},
		{"drop 9", func(a Rows) Rows { return a.Drop(9) }, []Span{{0, 10}, {40, 60}}},
		{"drop all", func(a Rows) Rows { return a.Drop(21) }, nil},
	} {
		a := Rows{First: 7, Row: [][]Span{append([]Span(nil), in...)}}
		got := c.do(a)
		if !slices.Equal(got.Line(7), c.want) || validRows(got) != nil || !slices.Equal(a.Row[0], in) {
			t.Errorf("%s: %v, want %v", c.name, got.Line(7), c.want)
		}
	}
	a := Rows{Row: [][]Span{in}}
	if a.Length() != 0.039 || a.Area(400) != 0.0156 || a.Empty() || !(Rows{}).Empty() {
		t.Error(a.Length(), a.Area(400))
	}
}

// The two forms against each other: spans of a boolean of polygons are the
// boolean of their spans, but for the micron by which edges were snapped.
func TestRowsAgainstPolygons(t *testing.T) {
	for i, k := range kinds {
		if k.name == "full range" {
			continue
		}
		rng := rand.New(rand.NewSource(int64(600 + i)))
		for done := 0; done < 50_000; { // lines
			a, b := Nonzero(k.make(rng)...), Nonzero(k.make(rng)...)
			h := Hatch{Angle: rng.Float64() * 7, Pitch: 1}
			ra, rb := h.Rows(a), h.Rows(b)
			done += 1000 + len(ra.Row) + len(rb.Row)
			for _, op := range rowOps {
				want, got := h.Rows(op.poly(a, b)), op.do(ra, rb)
				if err := validRows(got); err != nil {
					t.Fatal(k.name, op.name, err)
				}
				ends := 0
				for _, row := range want.Xor(got).Row {
					ends += len(row)
				}
				// A strip of √½ µm along all edges, the error of sampling it a micron
				// apart (as in TestRowsArea), and ends rounded twice.
				bound := booleanBound(a, b) + 0.001*length(a, b) + 1e-6*float64(ends)
				if d := want.Xor(got).Area(h.Pitch); d > bound {
					t.Errorf("%s %s %+v: they differ by %g mm², bound %g", k.name, op.name, h, d, bound)
				}
			}
			// Without a polygon boolean between, equal to the last bit.
			if got := h.Rows(append(append(Region{}, a...), b...)); !sameRows(got, ra.Union(rb)) {
				t.Errorf("%s: the union of rows is not the rows of the union", k.name)
			}
		}
	}
}

// FuzzRows: anything at all may come in; what comes out is rows, the same for
// rings begun elsewhere, and booleans of it are rows.
func FuzzRows(f *testing.F) {
	rng := rand.New(rand.NewSource(1))
	for i := range 20 {
		data := make([]byte, 20+10*i)
		rng.Read(data)
		f.Add(data, uint8(i), float64(i)/3, int64(1+i), int64(i-5))
	}
	f.Fuzz(func(t *testing.T, data []byte, how uint8, angle float64, pitch, phase int64) {
		a, b := fuzzed(data, how)
		h := Hatch{angle, Micron(pitch), Micron(phase)}
		if how%8 == 7 { // wide: keep the number of lines to what a test has time for
			h.Pitch = max(h.Pitch, Limit/2000)
		}
		ra, rb := h.Rows(a), h.Rows(b)
		turned := Region{}
		for _, ring := range a {
			turned = append(turned, append(append(Ring{}, ring[len(ring)/2:]...), ring[:len(ring)/2]...))
		}
		if !sameRows(h.Rows(turned), ra) {
			t.Fatal("another answer for rings begun elsewhere")
		}
		for i, r := range []Rows{
			ra, rb, ra.Union(rb), ra.Intersect(rb), ra.Subtract(rb), ra.Xor(rb),
			ra.Shrink(1), ra.Grow(1), ra.Close(2), ra.Drop(2), ra.Shrink(Micron(pitch)), ra.Grow(Micron(phase)),
		} {
			if err := validRows(r); err != nil {
				t.Fatal(i, err)
			}
		}
		if got := ra.Xor(rb); !sameRows(got, ra.Union(rb).Subtract(ra.Intersect(rb))) {
			t.Fatal("xor", got)
		}
		for y, row := range ra.Row {
			for _, s := range row {
				ra.Point(ra.First+y, s.From)
			}
		}
		h.Point(math.MaxInt, Micron(phase))
		Rows{}.Point(math.MinInt, math.MinInt64)
	})
}
