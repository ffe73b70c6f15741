package plan

// Helpers on spans along the lines of a hatch: islands of spans, chains of
// spans that one bead can follow to and fro, and outlines drawn around spans.
//
// Two spans touch if they lie on neighbouring lines and overlap. Islands are
// the classes of that relation (union–find). A chain is a run of spans, one a
// line, each the only one that touches its neighbour on either side.

import (
	"platebook/engine/region"
)

// classes numbers the spans of r in order and returns, for each line, the
// number of its first span, and the class of every span.
func classes(r region.Rows) (start []int, class []int32) {
	start = make([]int, len(r.Row)+1)
	for y, row := range r.Row {
		start[y+1] = start[y] + len(row)
	}
	class = make([]int32, start[len(r.Row)])
	for i := range class {
		class[i] = int32(i)
	}
	find := func(i int32) int32 {
		for class[i] != i {
			class[i] = class[class[i]]
			i = class[i]
		}
		return i
	}
	for y := 1; y < len(r.Row); y++ {
		touching(r.Row[y-1], r.Row[y], func(a, b int) {
			p, q := find(int32(start[y-1]+a)), find(int32(start[y]+b))
			class[max(p, q)] = min(p, q)
		})
	}
	for i := range class {
		class[i] = find(int32(i))
	}
	return start, class
}

// touching calls f for every pair of overlapping spans, in order.
func touching(a, b []region.Span, f func(i, j int)) {
	i, j := 0, 0
	for i < len(a) && j < len(b) {
		if a[i].From < b[j].To && b[j].From < a[i].To {
			f(i, j)
		}
		if a[i].To < b[j].To {
			i++
		} else {
			j++
		}
	}
}

// without drops the islands of r smaller than least mm².
func without(r region.Rows, least float64, pitch region.Micron) region.Rows {
	if least <= 0 || len(r.Row) == 0 {
		return r
	}
	start, class := classes(r)
	size := make([]float64, len(class))
	for y, row := range r.Row {
		for j, s := range row {
			size[class[start[y]+j]] += float64(float64(s.To-s.From) * float64(pitch) * mm2)
		}
	}
	return filter(r, start, func(n int) bool { return size[class[n]] >= least })
}

// filter keeps the spans for whose number keep holds.
func filter(r region.Rows, start []int, keep func(n int) bool) region.Rows {
	out := r
	out.Row = make([][]region.Span, len(r.Row))
	for y, row := range r.Row {
		for j, s := range row {
			if keep(start[y] + j) {
				out.Row[y] = append(out.Row[y], s)
			}
		}
	}
	return out
}

// link is a span on a line.
type link struct {
	line int
	span region.Span
}

// chains returns the spans of r as chains, in the order their first lines come.
// A chain breaks where its flank steps sideways by more than step.
func chains(r region.Rows, step region.Micron) [][]link {
	var out [][]link
	var open []int // chain of each span of the line before
	for y, row := range r.Row {
		now := make([]int, len(row))
		for j := range now {
			now[j] = -1
		}
		if y > 0 && len(open) > 0 {
			above := r.Row[y-1]
			up, down := make([]int, len(above)), make([]int, len(row))
			touching(above, row, func(i, j int) { up[i]++; down[j]++ })
			touching(above, row, func(i, j int) {
				if up[i] == 1 && down[j] == 1 && sideways(above[i], row[j]) <= step {
					now[j] = open[i]
				}
			})
		}
		for j, s := range row {
			if now[j] < 0 {
				now[j] = len(out)
				out = append(out, nil)
			}
			out[now[j]] = append(out[now[j]], link{r.First + y, s})
		}
		open = now
	}
	return out
}

func sideways(a, b region.Span) region.Micron {
	return max(a.From-b.From, b.From-a.From, a.To-b.To, b.To-a.To)
}

// outline draws rings around the spans of r, from end of span to end of span.
//
// Between two lines the spans of both fall into clusters of spans that touch,
// from left to right. A cluster's outermost ends are joined across; between
// neighbouring spans of one line in a cluster the gap is closed along the line;
// a span alone in its cluster is closed along itself. So every end has one join
// on either side of its line, the joins make closed rings, and no two cross.
func outline(r region.Rows) region.Region {
	start, after := joins(r)
	return trace(r, start, after)
}

// joins returns, for each line, the number of its first span, and the end each
// end of a span is joined to. Ends are numbered 2·span for From, 2·span+1 for To.
func joins(r region.Rows) (start []int, after []int32) {
	start = make([]int, len(r.Row)+1)
	for y, row := range r.Row {
		start[y+1] = start[y] + len(row)
	}
	n := start[len(r.Row)]
	after = make([]int32, 2*n)
	join := func(a, b int) { after[a] = int32(b) }
	for y := 0; y <= len(r.Row); y++ {
		// The gap between line y−1 (lower) and line y (upper).
		var lower, upper []region.Span
		lo, up := 0, 0
		if y > 0 {
			lower, lo = r.Row[y-1], start[y-1]
		}
		if y < len(r.Row) {
			upper, up = r.Row[y], start[y]
		}
		i, j := 0, 0
		for i < len(lower) || j < len(upper) {
			// Invariant: everything left of lower[i] and upper[j] is joined.
			i0, j0 := i, j
			var reach region.Micron
			if j == len(upper) || i < len(lower) && lower[i].From <= upper[j].From {
				reach = lower[i].To
				i++
			} else {
				reach = upper[j].To
				j++
			}
			for {
				if i < len(lower) && lower[i].From < reach {
					reach = max(reach, lower[i].To)
					i++
				} else if j < len(upper) && upper[j].From < reach {
					reach = max(reach, upper[j].To)
					j++
				} else {
					break
				}
			}
			a, b := 2*(lo+i0), 2*(lo+i-1)+1 // ends of the cluster on the lower line
			c, d := 2*(up+j0), 2*(up+j-1)+1 // and on the upper
			switch {
			case j == j0:
				join(b, a) // the lower span ends here: close it from right to left
			case i == i0:
				join(c, d) // the upper span begins here: from left to right
			default:
				join(b, d)
				join(c, a)
			}
			for k := i0; k < i-1; k++ { // a gap in the lower line
				join(2*(lo+k)+1, 2*(lo+k+1))
			}
			for k := j0; k < j-1; k++ { // a gap in the upper line
				join(2*(up+k+1), 2*(up+k)+1)
			}
		}
	}
	return start, after
}

// trace follows the joins. Every end has one join that leaves it: with the
// inside on the left, To ends lead up and From ends lead down.
func trace(r region.Rows, start []int, after []int32) region.Region {
	at := make([]region.Point, len(after))
	for y, row := range r.Row {
		for j, s := range row {
			k := 2 * (start[y] + j)
			at[k], at[k+1] = r.Point(r.First+y, s.From), r.Point(r.First+y, s.To)
		}
	}
	var out region.Region
	done := make([]bool, len(after))
	for i := range after {
		if done[i] {
			continue
		}
		var ring region.Ring
		for k := int32(i); !done[k]; k = after[k] {
			done[k] = true
			ring = append(ring, at[k])
		}
		if len(ring) >= 3 {
			out = append(out, ring)
		}
	}
	return out
}
