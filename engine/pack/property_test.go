package pack_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"platebook/engine/pack"
	"platebook/engine/region"
)

// outlines draws rods, frames, triangles, Ls and stars, anywhere in their frame.
func outlines(t *rapid.T) region.Region {
	size := rapid.Float64Range(2, 70).Draw(t, "size")
	less := size * rapid.Float64Range(0.05, 0.95).Draw(t, "less")
	var r region.Region
	switch rapid.IntRange(0, 4).Draw(t, "kind") {
	case 0:
		r = box(size, less)
	case 1:
		r = frame(size, less)
	case 2:
		r = poly(0, 0, size, 0, less, rapid.Float64Range(0.01, 70).Draw(t, "high"))
	case 3:
		r = ell(size, less)
	default:
		n := rapid.IntRange(3, 9).Draw(t, "points")
		var xy []float64
		for i := range 2 * n {
			d := []float64{size / 2, less / 2}[i%2]
			a := math.Pi * float64(i) / float64(n)
			xy = append(xy, d*math.Cos(a), d*math.Sin(a))
		}
		r = poly(xy...)
	}
	far := rapid.Int64Range(-1e6, 1e6)
	return r.Turn(rapid.Float64Range(0, 7).Draw(t, "lies")).Translate(region.Micron(far.Draw(t, "x")), region.Micron(far.Draw(t, "y")))
}

type job struct {
	items   []pack.Item
	seconds []float64
	o       pack.Options
}

func jobs(t *rapid.T) job {
	var j job
	for range rapid.IntRange(1, 5).Draw(t, "kinds") {
		it := pack.Item{
			Outline: outlines(t),
			Turns:   rapid.SampledFrom([]int{0, 1, 2, 3, 4, 8, 100}).Draw(t, "turns"),
			Group:   rapid.SampledFrom([]string{"a", "a", "b"}).Draw(t, "group"),
			Height:  region.Micron(rapid.IntRange(0, 110).Draw(t, "height")) * 1000,
		}
		s := float64(rapid.IntRange(1, 4000).Draw(t, "seconds"))
		for range rapid.IntRange(1, 6).Draw(t, "copies") {
			it.ID = fmt.Sprintf("%03d", len(j.items))
			j.items = append(j.items, it)
			j.seconds = append(j.seconds, s)
		}
	}
	j.o = pack.Options{
		Platform: pack.Platform{
			Width:     region.Micron(rapid.IntRange(10_000, 200_000).Draw(t, "width")),
			Depth:     region.Micron(rapid.IntRange(10_000, 200_000).Draw(t, "depth")),
			Height:    100_000,
			Margin:    region.Micron(rapid.IntRange(0, 5000).Draw(t, "margin")),
			Clearance: region.Micron(rapid.SampledFrom([]int{0, 1, 7, 1000, 3001, 20_000}).Draw(t, "clearance")),
		},
		Grid: region.Micron(rapid.SampledFrom([]int{0, 777, 1000, 3000}).Draw(t, "grid")),
		Work: 300_000,
	}
	if rapid.Bool().Draw(t, "limited") {
		j.o.Longest, j.o.Time = 4500, linear(600, j.seconds)
	}
	return j
}

// byID says a layout in words that do not depend on where items stand in a list.
func byID(items []pack.Item, plates []pack.Plate, unplaced []pack.Unplaced) []string {
	var out []string
	for _, p := range plates {
		var on []string
		for _, at := range p.Placed {
			on = append(on, fmt.Sprint(items[at.Item].ID, " ", at.X, " ", at.Y, " ", at.Turn))
		}
		slices.Sort(on)
		out = append(out, fmt.Sprint(p.Group, " ", p.Time, ": ", strings.Join(on, "; ")))
	}
	why := map[string]string{}
	for _, u := range unplaced {
		why[items[u.Item].ID] = u.Reason
	}
	for _, id := range slices.Sorted(maps.Keys(why)) {
		out = append(out, id+" "+why[id])
	}
	return out
}

// TestSound: whatever the items, every one is placed once or said why not, apart
// from all others and within the platform and the time; in any order alike.
func TestSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := jobs(t)
		plates, unplaced := pack.Pack(j.items, j.o)
		if err := pack.Check(j.items, j.o, plates, unplaced); err != nil {
			t.Fatal(err)
		}
		again, still := pack.Pack(j.items, j.o)
		if d := cmp.Diff(plates, again) + cmp.Diff(unplaced, still); d != "" {
			t.Fatal(d)
		}

		turn := rapid.Permutation(indices(len(j.items))).Draw(t, "order")
		k := j
		k.items, k.seconds = nil, nil
		for _, i := range turn {
			k.items, k.seconds = append(k.items, j.items[i]), append(k.seconds, j.seconds[i])
		}
		if k.o.Time != nil {
			k.o.Time = linear(600, k.seconds)
		}
		other, left := pack.Pack(k.items, k.o)
		if d := cmp.Diff(byID(j.items, plates, unplaced), byID(k.items, other, left)); d != "" {
			t.Fatal(d)
		}
	})
}

// TestSearch: the search never ends with more plates than it began with.
func TestSearch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := jobs(t)
		long, _ := pack.Pack(j.items, j.o)
		j.o.Work = -1
		short, unplaced := pack.Pack(j.items, j.o)
		if err := pack.Check(j.items, j.o, short, unplaced); err != nil {
			t.Fatal(err)
		}
		if len(long) > len(short) {
			t.Fatalf("%d plates after a search, %d without", len(long), len(short))
		}
	})
}

// TestStripSound: the same of strips.
func TestStripSound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := jobs(t)
		for i := range j.items {
			j.items[i].Group = ""
		}
		plate, depth, unplaced := pack.Strip(j.items, j.o)
		var plates []pack.Plate
		if len(plate.Placed) > 0 {
			plates = append(plates, plate)
		}
		j.o.Platform.Depth, j.o.Platform.Height, j.o.Longest = depth, 0, 0
		if err := pack.Check(j.items, j.o, plates, unplaced); err != nil {
			t.Fatal(err)
		}
	})
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// TestCheck: a plate that is spoilt is found out.
func TestCheck(t *testing.T) {
	items := copies(6, part(ell(40, 15), 4))
	items[5].Group = "other"
	for _, row := range []struct {
		says  string
		spoil func(p []pack.Plate) []pack.Plate
	}{
		{"", func(p []pack.Plate) []pack.Plate { return p }},
		{"beyond", func(p []pack.Plate) []pack.Plate { p[0].Placed[0].X -= 30_000; return p }},
		{"nearer than 2000", func(p []pack.Plate) []pack.Plate {
			p[0].Placed[1].X, p[0].Placed[1].Y = p[0].Placed[0].X+1, p[0].Placed[0].Y
			p[0].Placed[1].Angle, p[0].Placed[1].Turn = p[0].Placed[0].Angle, p[0].Placed[0].Turn
			return p
		}},
		{"accounted for 0 times", func(p []pack.Plate) []pack.Plate { p[0].Placed = p[0].Placed[1:]; return p }},
		{"accounted for 0 times", func(p []pack.Plate) []pack.Plate { return p[:1] }},
		{"item 9 of 6", func(p []pack.Plate) []pack.Plate { p[1].Placed[0].Item = 9; return p }},
		{"of group", func(p []pack.Plate) []pack.Plate { p[0].Group = "x"; return p }},
		{"turned by", func(p []pack.Plate) []pack.Plate { p[0].Placed[0].Turn = 4; return p }},
		{"turned by", func(p []pack.Plate) []pack.Plate { p[0].Placed[0].Angle++; return p }},
		{"is empty", func(p []pack.Plate) []pack.Plate { return append(p, pack.Plate{}) }},
		{"s allowed", func(p []pack.Plate) []pack.Plate { p[0].Time--; return p }},
	} {
		o := pack.Options{Platform: platform(90, 90, 2), Work: -1, Longest: 100, Time: linear(5, make([]float64, 6))}
		plates, unplaced := pack.Pack(items, o)
		err := pack.Check(items, o, row.spoil(plates), unplaced)
		if (err == nil) != (row.says == "") || err != nil && !strings.Contains(err.Error(), row.says) {
			t.Errorf("%v, want %q", err, row.says)
		}
	}
}
