package quote

import (
	"bytes"
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/say/saytest"
)

// table is a top on two legs: it wants to be turned over.
func table() *mesh.Mesh {
	move := func(m *mesh.Mesh, x, z float64) *mesh.Mesh {
		return mesh.Transform(m, mesh.Translate(mesh.Vec{x, 0, z}))
	}
	return mesh.Merge(move(block(40, 20, 4), 0, 26), move(block(4, 20, 27), -15, 0), move(block(4, 20, 27), 15, 0))
}

// wishing is an ask and a wish with small numbers, so that every size can be tried.
func wishing(t *testing.T, m *mesh.Mesh) (Ask, Wish) {
	t.Helper()
	a := ask(t, source("part.stl", stl(m)))
	a.Printer.Volume = [3]float64{50, 50, 50}
	a.LongestPrint = 0
	return a, Wish{Ways: Builtin().Ways}
}

// tried is a workshop for a wish, as FindWays makes it.
func tried(t *testing.T, a Ask, wish Wish) *workshop {
	t.Helper()
	ans, facts := read(&a)
	w, err := newWorkshop(&a, wish, ans, facts)
	if err != nil {
		t.Fatal(err)
	}
	return w
}

// findWays is FindWays, and wants all it says said in French too.
func findWays(t *testing.T, a Ask, wish Wish) (*Ways, error) {
	t.Helper()
	ways, err := FindWays(a, wish)
	if err == nil {
		inFrench(t, ways)
	}
	return ways, err
}

// inFrench wants all that is said of ways said in French too.
func inFrench(t *testing.T, ways *Ways) {
	t.Helper()
	answerInFrench(t, ways.Answer)
	for _, o := range ways.Offers {
		saytest.French(t, o.ID, o.Saying)
		saytest.French(t, o.ID, o.PoseSaying)
		if o.Says != o.Saying.String() || o.Pose != o.PoseSaying.String() {
			t.Errorf("%s says %q and %q", o.ID, o.Says, o.Saying)
		}
	}
	if len(ways.Without) != len(ways.WithoutSayings) || len(ways.Instead) != len(ways.InsteadSayings) {
		t.Errorf("%d and %d are left out, %d and %d would do", len(ways.Without), len(ways.WithoutSayings), len(ways.Instead), len(ways.InsteadSayings))
	}
	for _, s := range slices.Concat(ways.WithoutSayings, ways.InsteadSayings) {
		saytest.French(t, "ways", s)
	}
}

// answerInFrench wants all that is said of a print said in French too.
func answerInFrench(t testing.TB, ans *Answer) {
	t.Helper()
	for _, f := range ans.Findings {
		saytest.French(t, f.ID, f.Saying)
	}
	for _, s := range ans.HealedSayings {
		saytest.French(t, "healed", s)
	}
	if ans.Figures != nil {
		for _, s := range ans.PriceSayings {
			saytest.French(t, "price", s)
		}
		for _, l := range ans.Price.Lines {
			saytest.French(t, "price", l.Saying)
		}
	}
}

func offered(ways *Ways, id string) *Offer {
	for i := range ways.Offers {
		if ways.Offers[i].ID == id {
			return &ways.Offers[i]
		}
	}
	return nil
}

// offeredLargest is the largest offer, at least nothing.
func offeredLargest(ways *Ways) *Offer {
	for _, id := range []string{"largest", "sensible"} {
		if o := offered(ways, id); o != nil {
			return o
		}
	}
	return &Offer{}
}

// The largest size found by prediction is the one found by trying every size
// around it and every tenth elsewhere, whatever limit ends it.
func TestLargestAgainstEverySize(t *testing.T) {
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		limit Limits
	}{
		{"table, by time", table(), Limits{LongestPrint: 2000}},
		{"table, by budget", table(), Limits{Budget: 2.20}},
		{"table, by the build volume", table(), Limits{}},
		{"block, by time for three", block(20, 12, 8), Limits{Within: 9000}},
		{"cube, by time", block(14, 14, 14), Limits{LongestPrint: 3000}},
	} {
		t.Run(c.name, func(t *testing.T) {
			a, wish := wishing(t, c.m)
			a.Copies = 3
			wish.Limits = c.limit
			ways, err := findWays(t, a, wish)
			if err != nil {
				t.Fatal(err)
			}
			w := tried(t, a, wish)
			rungs := ladder(a.Way, a.Printer, wish.Ways)
			candidates := []printer.Way{rungs[len(rungs)-1]}
			if wish.Budget > 0 {
				candidates = append(candidates, sparsest(rungs))
			}
			want := 0
			for size := 40; size <= w.largestFit(0); size++ {
				if size%10 != 0 && math.Abs(w.scale(size)-offeredLargest(ways).Scale) > 0.035 {
					continue
				}
				for _, way := range candidates {
					if ok, _ := w.keeps(w.try(choice{0, size, way})); ok {
						want = size
					}
				}
			}
			got := offeredLargest(ways)
			if math.Abs(got.Scale-w.scale(want)) > 1e-9 {
				t.Errorf("offered %+v, trying every size gives %.2f", got, w.scale(want))
			}
		})
	}
}

// The sensible way gives up as little as the limits ask: the first rung of the
// ladder that keeps to them, found by trying each.
func TestSensibleAgainstEveryRung(t *testing.T) {
	base, wish := wishing(t, block(30, 25, 14))
	full := quoteOf(t, base)
	for _, share := range []float64{1.01, 0.97, 0.9, 0.8, 0.7} {
		a := base
		wish.LongestPrint = share * full.PrintTimeS
		ways, err := findWays(t, a, wish)
		if err != nil {
			t.Fatal(err)
		}
		w := tried(t, a, wish)
		var want *printer.Way
		for _, way := range ladder(a.Way, a.Printer, wish.Ways) {
			if ok, _ := w.keeps(w.try(choice{0, w.wanted, way})); ok {
				want = &way
				break
			}
		}
		got := offered(ways, "sensible")
		switch {
		case got == nil:
			t.Errorf("%.2f of the time: nothing sensible; %v", share, ways.Without)
		case want == nil && got.Scale >= 1:
			t.Errorf("%.2f of the time: offered %v at full size, and no rung keeps to it", share, got.Settings)
		case want != nil && (got.Way != *want || got.Scale != 1):
			t.Errorf("%.2f of the time: offered %v at %v, trying each gives %v", share, got.Settings, got.Scale, settings(*want))
		}
		if got != nil && got.PrintTimeS > wish.LongestPrint {
			t.Errorf("%.2f of the time: takes %.0f s of %.0f", share, got.PrintTimeS, wish.LongestPrint)
		}
	}
}

func TestTableIsTurnedOver(t *testing.T) {
	a, wish := wishing(t, table())
	ways, err := findWays(t, a, wish)
	if err != nil {
		t.Fatal(err)
	}
	s := offered(ways, "sensible")
	if s == nil || s.SupportsG > 0.05 {
		t.Fatalf("a table on its legs: %+v", s)
	}
	if s.Scale != 1 {
		t.Errorf("at %v of its size", s.Scale)
	}
}

// A wish for the file's own pose is kept to, though turning would be better.
func TestTableStaysAsSent(t *testing.T) {
	a, wish := wishing(t, table())
	wish.AsSent = true
	ways, err := findWays(t, a, wish)
	if err != nil {
		t.Fatal(err)
	}
	if s := offered(ways, "sensible"); s == nil || s.SupportsG < 1 || s.Pose == "" {
		t.Fatalf("a table as sent stands on its legs: %+v", s)
	}
}

func TestSolubleWherePossible(t *testing.T) {
	// A dumb-bell needs supports in every pose.
	m := mesh.Merge(block(30, 30, 10), mesh.Transform(block(6, 6, 22), mesh.Translate(mesh.Vec{0, 0, 9})),
		mesh.Transform(block(30, 30, 10), mesh.Translate(mesh.Vec{0, 0, 30})))
	a, wish := wishing(t, m)
	ways, err := findWays(t, a, wish)
	if err != nil || offered(ways, "soluble") != nil || !strings.Contains(strings.Join(ways.Without, " "), "soluble") {
		t.Errorf("on one tool: %v, %v", err, ways.Without)
	}
	if a.Printer, err = Builtin().Printer("millrace-300-twin"); err != nil {
		t.Fatal(err)
	}
	ways, err = findWays(t, a, wish)
	if err != nil {
		t.Fatal(err)
	}
	if o := offered(ways, "soluble"); o == nil || o.MassG["pva"] <= 0 {
		t.Errorf("on two tools: %+v, %v", o, ways.Without)
	}
}

func TestNothingFits(t *testing.T) {
	a, wish := wishing(t, block(40, 40, 40))
	wish.LongestPrint, a.Copies, wish.Within = 1500, 5, 4000
	ways, err := findWays(t, a, wish)
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range ways.Offers {
		if o.PrintTimeS > wish.LongestPrint || o.TimeS > wish.Within {
			t.Errorf("%s takes %.0f s, all of them %.0f", o.ID, o.PrintTimeS, o.TimeS)
		}
	}
	// Too large for the small printer: another of the library's takes it.
	a, wish = wishing(t, block(90, 60, 20))
	wish.Elsewhere = Builtin().Printers
	ways, err = findWays(t, a, wish)
	if err != nil {
		t.Fatal(err)
	}
	if s := offered(ways, "sensible"); s == nil || s.Scale >= 1 {
		t.Errorf("offered %+v for a part that does not fit", s)
	}
	if !strings.Contains(strings.Join(ways.Instead, " "), "Millrace") {
		t.Errorf("no other printer is named: %v", ways.Instead)
	}
}

func TestWaysWhateverTheCores(t *testing.T) {
	var first []byte
	for _, workers := range []int{1, 2, 5} {
		a, wish := wishing(t, table())
		a.Workers, wish.LongestPrint = workers, 2500
		ways, err := findWays(t, a, wish)
		if err != nil {
			t.Fatal(err)
		}
		got, err := json.Marshal(ways)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = got
		}
		if !bytes.Equal(first, got) {
			t.Errorf("%d workers answer otherwise", workers)
		}
	}
}

// Parts cut from a print are warmed up for one by one, and nobody is sent to cut
// a print into dozens of them. By hand: (T − w) / (L − w), rounded up.
func TestCuts(t *testing.T) {
	for _, c := range []struct {
		seconds, longest, warmUp float64
		want                     int
	}{
		{10 * 3600, 8 * 3600, 0, 2},
		{10 * 3600, 8 * 3600, 600, 2},
		{36 * 60, 5 * 60, 4 * 60, 0}, // 32 parts of a minute each
		{36 * 60, 5 * 60, 2 * 60, 12},
		{36 * 60, 2 * 60, 3 * 60, 0}, // nothing is printed while it warms up
		{3600, 3600, 60, 0},
		{3600, 0, 60, 0}, // no limit
	} {
		if got := cuts(c.seconds, c.longest, c.warmUp); got != c.want {
			t.Errorf("%v s within %v s, %v s of them to warm up: %d parts, want %d", c.seconds, c.longest, c.warmUp, got, c.want)
		}
	}
}
