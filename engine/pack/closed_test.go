package pack_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"platebook/engine/pack"
	"platebook/engine/region"
)

// poly is a region of one ring, corners in mm.
func poly(xy ...float64) region.Region {
	var r region.Ring
	for i := 0; i < len(xy); i += 2 {
		r = append(r, region.Point{X: region.Micron(math.Round(xy[i] * 1000)), Y: region.Micron(math.Round(xy[i+1] * 1000))})
	}
	return region.Nonzero(r)
}

func box(w, d float64) region.Region { return poly(0, 0, w, 0, w, d, 0, d) }

// disc has n corners on a circle of diameter d mm.
func disc(d float64, n int) region.Region {
	var xy []float64
	for i := range n {
		a := 2 * math.Pi * float64(i) / float64(n)
		xy = append(xy, d/2*math.Cos(a), d/2*math.Sin(a))
	}
	return poly(xy...)
}

// ell is a square of side s without its upper right square of side s−arm.
func ell(s, arm float64) region.Region { return poly(0, 0, s, 0, s, arm, arm, arm, arm, s, 0, s) }

func frame(outer, inner float64) region.Region {
	o, i := box(outer, outer), box(inner, inner)
	d := region.Micron((outer - inner) * 500)
	return region.Subtract(o, i.Translate(d, d))
}

func platform(w, d, clearance float64) pack.Platform {
	return pack.Platform{Width: region.Micron(w * 1000), Depth: region.Micron(d * 1000), Clearance: region.Micron(clearance * 1000)}
}

func several(lists ...[]pack.Item) []pack.Item {
	var out []pack.Item
	for i, l := range lists {
		for _, it := range l {
			it.ID = fmt.Sprint(i, it.ID)
			out = append(out, it)
		}
	}
	return out
}

func part(r region.Region, turns int) pack.Item { return pack.Item{Outline: r, Turns: turns} }

// TestByHand: layouts anyone can draw, and the plates they take.
func TestByHand(t *testing.T) {
	triangle := poly(0, 0, 100, 0, 0, 100)
	for _, row := range []struct {
		name   string
		items  []pack.Item
		on     pack.Platform
		grid   region.Micron
		plates int
		why    string
	}{
		{"nothing", nil, platform(100, 100, 3), 0, 0, ""},
		{"dominoes", copies(8, part(box(20, 10), 4)), platform(40, 40, 0), 0, 1, "they tile it"},
		{"one domino more", copies(9, part(box(20, 10), 4)), platform(40, 40, 0), 0, 2, "area"},
		{"dominoes as they stand", copies(8, part(box(20, 10), 0)), platform(40, 30, 0), 0, 2, "6 a plate"},
		{"dominoes either way", copies(7, part(box(20, 10), 2)), platform(30, 50, 0), 0, 2, "5 a plate unless a quarter turn is allowed"},
		{"dominoes, quarter turns", copies(7, part(box(20, 10), 4)), platform(30, 50, 0), 0, 1, "15 squares of 10 hold 7"},
		{"two triangles make a square", copies(2, part(triangle, 2)), platform(100.5, 100, 0), 500, 1, "half a turn; one cell for the slope"},
		{"two triangles, finer grid", copies(2, part(triangle, 2)), platform(100.1, 100, 0), 100, 1, "the same"},
		{"two triangles as they stand", copies(2, part(triangle, 1)), platform(100.5, 100, 0), 500, 2, "the same way up they overlap"},
		{"two Ls in one another", copies(2, part(ell(100, 50), 2)), platform(100, 150, 0), 0, 1, "2 × 7500 = 100 × 150; their boxes take 100 × 200"},
		{"two Ls too thick for that", copies(2, part(ell(100, 50), 2)), platform(100, 149, 0), 0, 2, "area"},
		{"two Ls 20 mm apart", copies(2, part(ell(100, 40), 2)), platform(100.5, 161, 20), 0, 1, "arms of 40 with 20 between them: 100 × 160"},
		{"Ls of three squares", copies(8, part(ell(20, 10), 4)), platform(60, 40, 0), 0, 1, "two tile 30 × 20, eight 60 × 40"},
		{"four squares in a frame", several([]pack.Item{part(frame(100, 80), 1)}, copies(4, part(box(38, 38), 1))), platform(100, 100, 1), 0, 1, "2 × 38 + 3 × 1 = 79 < 80"},
		{"four squares too large for the frame", several([]pack.Item{part(frame(100, 80), 1)}, copies(4, part(box(39, 39), 1))), platform(100, 100, 1), 0, 2, "2 × 39 + 3 × 1 = 81 > 80"},
		{"frames in frames", []pack.Item{part(frame(100, 80), 4), part(frame(78, 58), 4), part(frame(56, 36), 4), part(disc(34, 64), 4)}, platform(100, 100, 1), 0, 1, "1 mm around each"},
		{"squares with clearance", copies(25, part(box(10, 10), 1)), platform(58.2, 58.2, 2), 100, 1, "5 × 10 + 4 × 2 = 58"},
		{"one square more", copies(26, part(box(10, 10), 1)), platform(69, 69, 2), 100, 2, "5 a side until 70"},
		{"a rod along the diagonal", []pack.Item{part(box(300, 10), 8)}, platform(240, 240, 3), 0, 1, "310/√2 = 219.2"},
		{"a longer rod, in degrees", []pack.Item{part(box(330, 5), 360)}, platform(240, 240, 3), 0, 1, "335/√2 = 236.9, and more than 240 at 44° and 46°: 240.9"},
		{"discs side by side", copies(4, part(disc(50, 128), 16)), platform(103.5, 103.5, 3), 0, 1, "2 × 50 + 3"},
	} {
		o := pack.Options{Platform: row.on, Grid: row.grid, Work: 5_000_000}
		plates, unplaced := pack.Pack(row.items, o)
		if err := pack.Check(row.items, o, plates, unplaced); err != nil || len(unplaced) > 0 {
			t.Errorf("%s: %v %v", row.name, err, unplaced)
		}
		if len(plates) != row.plates {
			t.Errorf("%s: %d plates, want %d: %s", row.name, len(plates), row.plates, row.why)
		}
	}
}

// TestTube: discs of diameter d in a strip of width w < d(1+√3/2) lie zigzag,
// √(d²−(w−d)²) further with each (closed form). With d = 20 and w = 36 that is
// 12 mm, the sides 16, 12, 20 being a right triangle.
func TestTube(t *testing.T) {
	const d, w, n = 20.0, 36.0, 6
	items := copies(n, part(disc(d, 96), 1))
	plate, depth, unplaced := pack.Strip(items, pack.Options{Platform: platform(w, 0, 0), Grid: 200, Work: 2e7})
	o := pack.Options{Platform: platform(w, float64(depth)/1000, 0)}
	if err := pack.Check(items, o, []pack.Plate{plate}, unplaced); err != nil {
		t.Fatal(err)
	}
	least := func(d float64) float64 { return d + (n-1)*math.Sqrt(d*d-(w-d)*(w-d)) }
	// The discs have corners on the circle, and sides a little inside it; each
	// contact may lose a cell of either.
	low, high := least(d*math.Cos(math.Pi/96)), least(d)+(n-1)*0.4
	if got := float64(depth) / 1000; got < low || got > high {
		t.Errorf("%v mm deep, want %v to %v", got, low, high)
	}
}

// TestSheets: sheets cut up without waste go back on as many plates that are a
// tenth deeper; fewer cannot hold their area.
func TestSheets(t *testing.T) {
	for _, s := range strips(t) {
		if class := classes[s.sheet]; class == "C4" || class == "C2" {
			for _, n := range []int{1, 3} {
				var items []pack.Item
				for i := range n {
					for _, it := range s.items {
						it.ID = fmt.Sprint(i, " ", it.ID)
						items = append(items, it)
					}
				}
				o := pack.Options{Platform: platform(float64(s.sheet[0]), math.Ceil(1.1*float64(s.sheet[1])), 0), Grid: 1000}
				plates, unplaced := pack.Pack(items, o)
				if err := pack.Check(items, o, plates, unplaced); err != nil {
					t.Fatal(s.name, err)
				}
				if len(plates) != n {
					t.Errorf("%s %d times: %d plates", s.name, n, len(plates))
				}
			}
		}
	}
}

// linear is a warm-up and the sum of what the parts take, s.
func linear(warmUp float64, seconds []float64) func(items []int) float64 {
	return func(items []int) float64 {
		sum := warmUp
		for _, i := range items {
			sum += seconds[i]
		}
		return sum
	}
}

// TestTime: plates are closed by the longest print.
func TestTime(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	hours := func(h ...float64) []float64 {
		for i := range h {
			h[i] *= 3600
		}
		return h
	}
	// Days of 8 h cut in pieces at whole minutes: n plates hold them.
	cut := func(n int) (out []float64) {
		for range n {
			left := 480
			for left > 0 {
				m := min(left, 60+r.IntN(180))
				if left-m < 60 {
					m = left
				}
				out = append(out, float64(60*m))
				left -= m
			}
		}
		return out
	}
	for _, row := range []struct {
		name       string
		warmUp     float64
		seconds    []float64
		longest    float64
		least, may int
	}{
		{"one hour each, warm-up 12 min", 720, hours(1, 1, 1, 1, 1, 1, 1, 1, 1, 1), 3.2 * 3600, 4, 4},
		{"no room for the warm-up", 1200, hours(1, 1, 1, 1, 1, 1, 1, 1, 1, 1), 3.2 * 3600, 5, 5},
		{"all within", 720, hours(1, 1, 1, 1), 10 * 3600, 1, 1},
		{"no limit", 720, hours(100, 100), 0, 1, 1},
		{"pairs that fill 10 h", 0, hours(7, 6, 5, 5, 4, 3), 36000, 3, 3},
		{"first fit by size takes 4", 0, hours(4, 4, 3, 3, 2, 2, 2, 2, 1, 1), 8 * 3600, 3, 3},
		{"4 days", 0, cut(4), 8 * 3600, 4, 5},
		{"9 days", 0, cut(9), 8 * 3600, 9, 10},
	} {
		items := copies(len(row.seconds), part(box(10, 10), 1))
		o := pack.Options{Platform: platform(200, 200, 2), Longest: row.longest, Time: linear(row.warmUp, row.seconds), Work: 5_000_000}
		plates, unplaced := pack.Pack(items, o)
		if err := pack.Check(items, o, plates, unplaced); err != nil || len(unplaced) > 0 {
			t.Errorf("%s: %v %v", row.name, err, unplaced)
		}
		if n := len(plates); n < row.least || n > row.may {
			t.Errorf("%s: %d plates, want %d to %d", row.name, n, row.least, row.may)
		}
	}
}

// TestGroups: parts share a plate only with their like.
func TestGroups(t *testing.T) {
	items := copies(9, part(box(10, 10), 1))
	for i := range items {
		items[i].Group = []string{"PLA 0.2", "PETG 0.2", "PLA 0.1"}[i%3]
	}
	o := pack.Options{Platform: platform(200, 200, 2)}
	plates, unplaced := pack.Pack(items, o)
	if err := pack.Check(items, o, plates, unplaced); err != nil {
		t.Fatal(err)
	}
	var groups []string
	for _, p := range plates {
		groups = append(groups, p.Group)
	}
	if got := strings.Join(groups, ", "); got != "PETG 0.2, PLA 0.1, PLA 0.2" {
		t.Error(got)
	}
}

// TestUnplaced: what cannot be placed says why and keeps nothing else off.
func TestUnplaced(t *testing.T) {
	seconds := func(items []int) float64 {
		sum := 600.0
		for _, i := range items {
			sum += []float64{3600, 7 * 3600, math.NaN()}[max(0, i-1)]
		}
		return sum
	}
	good := part(box(50, 50), 4)
	tall := good
	tall.Height = 200_500
	for _, row := range []struct {
		says  string
		items []pack.Item
		o     pack.Options
	}{
		{"its outline is empty", []pack.Item{good, {}}, pack.Options{}},
		{"its outline is empty", []pack.Item{good, part(region.Region{{{X: 5, Y: 5}, {X: 9, Y: 9}}}, 4)}, pack.Options{}},
		{"lies more than 134217.7 mm from the origin", []pack.Item{good, part(box(10, 10).Translate(200_000_000, 0), 1)}, pack.Options{}},
		{"takes 300 × 20.5 mm and the platform has room for 190 × 170 mm", []pack.Item{good, part(box(300, 20.5), 1)}, pack.Options{}},
		{"takes 300 × 20 mm, in the turn that suits it best, and", []pack.Item{good, part(box(300, 20), 4)}, pack.Options{}},
		{"is 200.5 mm tall and the build volume 200 mm", []pack.Item{good, tall}, pack.Options{}},
		{"takes 7 h 10 min by itself and the longest print allowed is 6 h", []pack.Item{good, good, good}, pack.Options{Longest: 6 * 3600, Time: seconds}},
		{"takes a time that is no number by itself", []pack.Item{good, good, tall, good}, pack.Options{Longest: 6 * 3600, Time: seconds}},
	} {
		o := row.o
		o.Platform = pack.Platform{Width: 200_000, Depth: 180_000, Height: 200_000, Margin: 5000, Clearance: 3000}
		plates, unplaced := pack.Pack(row.items, o)
		if err := pack.Check(row.items, o, plates, unplaced); err != nil {
			t.Errorf("%s: %v", row.says, err)
		}
		if len(unplaced) == 0 || !strings.Contains(unplaced[len(unplaced)-1].Reason, row.says) {
			t.Errorf("%v, want %q", unplaced, row.says)
		}
		if len(plates) != 1 {
			t.Errorf("%s: %d plates", row.says, len(plates))
		}
	}
	if _, unplaced := pack.Pack([]pack.Item{good}, pack.Options{}); len(unplaced) != 1 || !strings.Contains(unplaced[0].Reason, "leaves no room") {
		t.Errorf("no platform: %v", unplaced)
	}
}

// TestCostly: a grid finer than can be worked with is coarsened, not obeyed.
func TestCostly(t *testing.T) {
	var items []pack.Item
	for i := range 300 {
		items = append(items, pack.Item{ID: fmt.Sprint(i), Outline: box(20+float64(i)/10, 10), Turns: 360})
	}
	o := pack.Options{Platform: platform(250, 250, 1), Grid: 1, Work: -1}
	plates, unplaced := pack.Pack(items, o)
	if err := pack.Check(items, o, plates, unplaced); err != nil || len(unplaced) > 0 {
		t.Error(err, unplaced)
	}
}

// TestLongStrip: a strip has an end, and says so.
func TestLongStrip(t *testing.T) {
	items := copies(2, part(box(600, 80_000), 1))
	plate, depth, unplaced := pack.Strip(items, pack.Options{Platform: platform(1000, 0, 0)})
	if len(plate.Placed) != 1 || depth != 80_000_000 || len(unplaced) != 1 || !strings.Contains(unplaced[0].Reason, "finds no room") {
		t.Error(plate, depth, unplaced)
	}
}

// TestManyCorners: outlines of thousands of corners, which are simplified as they
// grow, keep their clearance on a grid far finer than that.
func TestManyCorners(t *testing.T) {
	items := copies(5, part(disc(5, 3000), 8))
	o := pack.Options{Platform: platform(9, 0, 1), Grid: 20, Work: -1}
	plate, depth, unplaced := pack.Strip(items, o)
	o.Platform.Depth = depth
	if err := pack.Check(items, o, []pack.Plate{plate}, unplaced); err != nil {
		t.Error(err)
	}
	// Zigzag as in TestTube, discs of 6 in a strip of 10, less the clearance.
	if least := 5 + 4*math.Sqrt(6*6-4*4); float64(depth)/1000 > least+0.5 {
		t.Errorf("%d µm deep, the least is %.3f mm", depth, least)
	}
}
