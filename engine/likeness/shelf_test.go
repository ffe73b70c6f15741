package likeness

import (
	"cmp"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"platebook/engine/mesh"
)

// many returns n prints of made-up shapes: those of real ones, shaken.
func many(t testing.TB, n int) []Print {
	shapes := []*mesh.Mesh{ell(), box(1, 2, 3), ball(1, 8), stair(20, 0.3, 1), {V: box(1, 1, 1).V, F: box(1, 1, 1).F[:9]}}
	var real []Print
	for _, m := range shapes {
		real = append(real, printOf(t, m))
	}
	r := rand.New(rand.NewPCG(5, 5))
	all := make([]Print, n)
	for i := range all {
		p := real[r.IntN(len(real))]
		var x [nNumbers]float64
		shake := 0.1 * r.Float64()
		for k := range x {
			x[k] = p.number(k) + shake*r.NormFloat64()
		}
		all[i] = pack(&x, p.encloses())
	}
	return all
}

// TestNearest: the same as sorting everything by Distance, on any number of cores.
func TestNearest(t *testing.T) {
	all := many(t, 2500)
	all[17], all[18] = Print{}, all[2000] // nothing; and one that is there twice
	var shelf Shelf
	for i, p := range all {
		if got := shelf.Add(p); got != i {
			t.Fatalf("index %d for the %d-th", got, i)
		}
	}
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, q := range []Print{all[2000], all[1], printOf(t, box(1, 1, 1)), printOf(t, stair(9, 0.5, 2))} {
		want := make([]Match, 0, len(all))
		for i, p := range all {
			if p.Known() {
				want = append(want, Match{i, Compare(q, p)})
			}
		}
		slices.SortFunc(want, func(a, b Match) int {
			return cmp.Or(cmp.Compare(a.Apart, b.Apart), cmp.Compare(a.Index, b.Index))
		})
		for _, n := range []int{1, 2, 10, 2499, 100000} {
			for cores := 1; cores <= 3; cores++ {
				runtime.GOMAXPROCS(cores)
				got := shelf.Nearest(q, n)
				if !slices.Equal(got, want[:min(n, len(want))]) {
					t.Errorf("the nearest %d on %d cores differ from sorting", n, cores)
				}
			}
		}
	}
	for _, n := range []int{0, -1, math.MinInt} {
		if got := shelf.Nearest(all[1], n); len(got) > 0 {
			t.Errorf("%d asked, %d found", n, len(got))
		}
	}
	if got := shelf.Nearest(Print{}, 3); len(got) > 0 {
		t.Errorf("nothing is near to %v", got)
	}
	var empty Shelf
	if got := empty.Nearest(all[1], 3); len(got) > 0 {
		t.Errorf("an empty shelf holds %v", got)
	}
}
