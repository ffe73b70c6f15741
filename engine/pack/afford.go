package pack

import "platebook/engine/region"

// Working out where two outlines clash takes their heights in cells multiplied,
// for each turn of either. Copies cost nothing, but a layout of n outlines in t
// turns each needs n²·t/2 clashes, which for hundreds of different parts would
// be minutes. So the grid is coarsened, and turns are thinned out, until one
// layout can be had in a second or so.

// thrift is by how much, from the finest on.
var thrift = []struct {
	coarser region.Micron
	turns   int
}{{1, mostTurns}, {1, 16}, {2, 16}, {2, 8}, {2, 4}, {4, 4}, {4, 2}, {4, 1}, {8, 1}, {16, 1}, {32, 1}}

const affordable = 200_000_000 // pairs of rows

// size returns the longer side of an outline's box, at most 2·Limit.
func size(it *Item) region.Micron {
	b := it.Outline.Bounds()
	s := max(b.Max.X-b.Min.X, b.Max.Y-b.Min.Y)
	if s < 0 { // of coordinates that are no coordinates
		return 2 * region.Limit
	}
	return min(s, 2*region.Limit)
}

// afford settles grid and turns. Items larger than most are taken to fit nowhere.
func (o Options) afford(items []Item, most region.Micron) Options {
	type extent struct {
		group string
		size  int64 // µm
		turns int
	}
	var extents []extent
	known := map[string]map[look]bool{}
	for i := range items {
		it := &items[i]
		side := size(it)
		if l := lookOf(it); side <= most && !known[it.Group][l] {
			if known[it.Group] == nil {
				known[it.Group] = map[look]bool{}
			}
			known[it.Group][l] = true
			extents = append(extents, extent{it.Group, int64(side + o.Platform.Clearance), it.Turns})
		}
	}
	for _, t := range thrift {
		type sums struct{ plain, turned int64 }
		groups := map[string]sums{}
		heaviest := 0.0
		for _, e := range extents {
			g := groups[e.group]
			g.plain += e.size
			g.turned += e.size * int64(max(1, min(e.turns, t.turns)))
			groups[e.group] = g
			grid := float64(o.Grid * t.coarser)
			heaviest = max(heaviest, float64(g.plain)/grid*(float64(g.turned)/grid)/2)
		}
		if heaviest <= affordable || t == thrift[len(thrift)-1] {
			o.Grid, o.turns = o.Grid*t.coarser, t.turns
			break
		}
	}
	return o
}
