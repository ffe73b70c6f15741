package mesh

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The weld against its definition, written with Go's own map: vertices of equal
// value are one, numbered by first use (−0 equals +0; the inputs hold no NaN).
func TestExactWeld(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 8))
	for round := range 200 {
		steps := 1 + r.IntN(30) // few places, so many corners meet
		m := &Mesh{}
		for range 1 + r.IntN(400) {
			v := Vec{float64(r.IntN(steps)), float64(r.IntN(steps)) / 3, float64(r.IntN(steps)) * 1e-9}
			for k := range v {
				if r.IntN(2) == 0 {
					v[k] = -v[k]
				}
			}
			m.V = append(m.V, v)
		}
		for range r.IntN(800) {
			m.F = append(m.F, [3]int32{r.Int32N(int32(len(m.V))), r.Int32N(int32(len(m.V))), r.Int32N(int32(len(m.V)))})
		}
		known := map[Vec]int32{}
		var wantV []Vec
		wantF := make([][3]int32, len(m.F))
		for i, f := range m.F {
			for k, v := range f {
				p := m.V[v]
				j, ok := known[p]
				if !ok {
					j = int32(len(wantV))
					known[p] = j
					wantV = append(wantV, p)
				}
				wantF[i][k] = j
			}
		}
		got := exactWeld(m)
		if !slices.Equal(got.V, wantV) || !slices.Equal(got.F, wantF) {
			t.Fatalf("round %d: %d vertices, want %d", round, len(got.V), len(wantV))
		}
		again := exactWeld(got)
		if !slices.Equal(again.V, got.V) || !slices.Equal(again.F, got.F) {
			t.Fatalf("round %d: welding twice is not welding once", round)
		}
		for _, v := range got.V {
			for _, x := range v {
				if x == 0 && math.Signbit(x) {
					t.Fatal("−0 is left")
				}
			}
		}
	}
}

// boundless against counting the edges each way in a map.
func TestBoundless(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 10))
	closed := 0
	for range 3000 {
		var f [][3]int32
		for range r.IntN(8) {
			f = append(f, [3]int32{r.Int32N(4), r.Int32N(4), r.Int32N(4)})
		}
		if r.IntN(2) == 0 { // as many facets again, turned over and in another order
			for i := len(f) - 1; i >= 0; i-- {
				f = append(f, [3]int32{f[i][1], f[i][0], f[i][2]})
			}
		}
		edges := map[[2]int32]int{}
		for _, t := range f {
			for k := range t {
				edges[[2]int32{t[k], t[(k+1)%3]}]++
				edges[[2]int32{t[(k+1)%3], t[k]}]--
			}
		}
		want := true
		for _, n := range edges {
			want = want && n == 0
		}
		if want {
			closed++
		}
		if got := boundless(f); got != want {
			t.Fatalf("%v: %v, want %v", f, got, want)
		}
	}
	if closed < 500 || closed > 2500 {
		t.Errorf("%d of 3000 closed: the cases are lopsided", closed)
	}
}

// Vertices made to differ in single bits of one coordinate, as on a fine grid or
// a column of equal x and y, must not crowd the table.
func TestWelderSpreads(t *testing.T) {
	for _, at := range []func(i int) Vec{
		func(i int) Vec { return Vec{0, 0, float64(float32(i))} },
		func(i int) Vec { return Vec{float64(i) / 1024, 0, 0} },
		func(i int) Vec { return Vec{math.Ldexp(1, i%60), float64(i / 60), 0} },
		func(i int) Vec { return Vec{math.Float64frombits(uint64(i)), 1, 1} },
	} {
		w := newWelder(8, newSeed())
		for i := range 100_000 {
			w.index(at(i))
		}
		// Longest run of taken slots: about ln n over (load − 1 − ln load), some
		// 150 here, if the hash spreads; thousands if it does not.
		run, longest := 0, 0
		for _, s := range w.slot {
			if run++; s == 0 {
				run = 0
			}
			longest = max(longest, run)
		}
		if len(w.v) != 100_000 || longest > 1000 {
			t.Errorf("%d vertices, a run of %d slots", len(w.v), longest)
		}
	}
}

// Looking up many vertices together numbers them as one after another does,
// whether they repeat near or far and while the table grows.
func TestIndicesTogether(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 9))
	for _, kinds := range []int{1, 7, 300, 5000} {
		one, many := newWelder(8, newSeed()), newWelder(8, newSeed())
		for range 6 {
			v := make([]Vec, rng.IntN(3000))
			var hash []uint64
			var want []int32
			for i := range v {
				v[i] = Vec{float64(rng.IntN(kinds)), 1, 2}
				hash = append(hash, many.hashOf(v[i]))
				want = append(want, one.index(v[i]))
			}
			if got := many.indices(v, hash, nil); !slices.Equal(got, want) {
				t.Fatalf("%d kinds: not numbered alike", kinds)
			}
		}
		if !slices.Equal(one.v, many.v) {
			t.Fatalf("%d kinds: other vertices", kinds)
		}
	}
}
