package region

// Regions as spans on the lines of a hatch. A boolean of two of them is a merge
// of sorted spans, line by line, and a span is a bead. What this form cannot do
// well is move a boundary: along the line alone that is biased (1 to 14 % of
// the core of a thin wall), so shrink the polygon and clip again.

// Span is a stretch of a line, From < To, along its direction, measured from
// the foot of the perpendicular from the origin.
type Span struct{ From, To Micron }

// Rows holds spans on the lines of one hatch: Row[i] those of line First+i,
// sorted, disjoint and not touching. The first and the last row are not empty;
// empty Rows have no Row. The spans of one Rows lie in one piece of memory and
// are shared with no other.
type Rows struct {
	First int
	Row   [][]Span
	frame frame
}

// Empty says whether a holds no span.
func (a Rows) Empty() bool { return len(a.Row) == 0 }

// Spans returns how many spans a has.
func (a Rows) Spans() int {
	n := 0
	for _, row := range a.Row {
		n += len(row)
	}
	return n
}

// Line returns the spans of line k, none if there are none.
func (a Rows) Line(k int) []Span {
	if k < a.First || k-a.First >= len(a.Row) {
		return nil
	}
	return a.Row[k-a.First]
}

// Point returns the grid point nearest to line k of the hatch of a at along.
func (a Rows) Point(k int, along Micron) Point { return a.frame.point(k, along) }

// Length returns the length of all spans in mm.
func (a Rows) Length() float64 { return float64(a.length()) / 1000 }

// Area returns the area in mm² of all spans, each as wide as pitch. That of
// h.Rows(r) at h.Pitch estimates the area of r without bias if the phase of h
// is random.
func (a Rows) Area(pitch Micron) float64 { return float64(a.length()) * float64(pitch) / 1e6 }

func (a Rows) length() int64 {
	var sum Micron
	for _, row := range a.Row {
		for _, s := range row {
			sum += s.To - s.From
		}
	}
	return int64(sum)
}

// A table has bit p|q<<1 set if what is (p) or is not in a and is (q) or is not
// in b belongs to the result.
type table uint8

const (
	tableUnion     table = 1<<1 | 1<<2 | 1<<3
	tableIntersect table = 1 << 3
	tableSubtract  table = 1 << 1
	tableXor       table = 1<<1 | 1<<2
)

// Union returns what is in a or b, which must be rows of the same hatch.
func (a Rows) Union(b Rows) Rows { return a.with(b, tableUnion) }

// Intersect returns what is in both a and b, which must be rows of the same hatch.
func (a Rows) Intersect(b Rows) Rows { return a.with(b, tableIntersect) }

// Subtract returns what is in a and not in b, which must be rows of the same hatch.
func (a Rows) Subtract(b Rows) Rows { return a.with(b, tableSubtract) }

// Xor returns what is in one of a and b only, which must be rows of the same hatch.
func (a Rows) Xor(b Rows) Rows { return a.with(b, tableXor) }

func (a Rows) with(b Rows, t table) Rows {
	out := Rows{frame: a.frame}
	if a.frame.pitch == 0 {
		out.frame = b.frame // a is the zero Rows
	}
	first, last := a.First, a.First+len(a.Row)
	switch {
	case t == tableIntersect:
		first, last = max(first, b.First), min(last, b.First+len(b.Row))
	case len(b.Row) == 0 || t == tableSubtract:
	case len(a.Row) == 0:
		first, last = b.First, b.First+len(b.Row)
	default:
		first, last = min(first, b.First), max(last, b.First+len(b.Row))
	}
	if first >= last || last-first > 2*maxLines {
		return out
	}
	n := 0
	for k := first; k < last; k++ {
		n += len(a.Line(k)) + len(b.Line(k))
	}
	spans := make([]Span, 0, n)
	out.First, out.Row = first, make([][]Span, last-first)
	for i := range out.Row {
		from := len(spans)
		spans = merge(spans, a.Line(first+i), b.Line(first+i), t)
		out.Row[i] = spans[from:len(spans):len(spans)]
	}
	out.trim()
	return out
}

// merge appends to out the spans of one line that t keeps of a and b: at most
// len(a)+len(b) of them.
func merge(out, a, b []Span, t table) []Span {
	var from Micron
	in := table(0)
	i, j := 0, 0 // ends passed, two for each span: odd is inside
	// Invariant: every end before the i-th of a and the j-th of b is passed, and
	// in says whether the place just right of the last one is kept.
	for i < 2*len(a) || j < 2*len(b) {
		var x Micron
		switch {
		case i == 2*len(a):
			x = end(b, j)
		case j == 2*len(b):
			x = end(a, i)
		default:
			x = min(end(a, i), end(b, j))
		}
		if i < 2*len(a) && end(a, i) == x {
			i++
		}
		if j < 2*len(b) && end(b, j) == x {
			j++
		}
		was := in
		if in = t >> (i&1 | j&1<<1) & 1; in == was {
			continue
		}
		if in == 1 {
			from = x
		} else if from < x {
			out = append(out, Span{from, x})
		}
	}
	return out
}

// end returns the i-th of all ends of s.
func end(s []Span, i int) Micron {
	if i&1 == 0 {
		return s[i>>1].From
	}
	return s[i>>1].To
}

// each returns a with every line made new by f, which appends to its first
// argument at most as many spans as the line has.
func (a Rows) each(f func(out, row []Span) []Span) Rows {
	n := 0
	for _, row := range a.Row {
		n += len(row)
	}
	spans := make([]Span, 0, n)
	out := Rows{First: a.First, Row: make([][]Span, len(a.Row)), frame: a.frame}
	for i, row := range a.Row {
		from := len(spans)
		spans = f(spans, row)
		out.Row[i] = spans[from:len(spans):len(spans)]
	}
	out.trim()
	return out
}

// Shrink draws in both ends of every span by d, as a bead's line stays half a
// bead away from what it must not cover. It knows nothing of the walls beside
// the line, so it is no substitute for shrinking the region: where a wall runs
// at a slant to the line the clearance is less than d. A negative d grows.
func (a Rows) Shrink(d Micron) Rows {
	if d < 0 {
		return a.Grow(-d)
	}
	return a.each(func(out, row []Span) []Span {
		for _, s := range row {
			if s.From+d < s.To-d {
				out = append(out, Span{s.From + d, s.To - d})
			}
		}
		return out
	})
}

// Grow puts out both ends of every span by d; spans that then touch become one.
// As Shrink, it sees along the line only. A negative d shrinks.
func (a Rows) Grow(d Micron) Rows {
	if d < 0 {
		return a.Shrink(-d)
	}
	return a.each(func(out, row []Span) []Span { return join(out, row, d, 2*d) })
}

// Close fills gaps between spans of a line that are not longer than gap.
func (a Rows) Close(gap Micron) Rows {
	return a.each(func(out, row []Span) []Span { return join(out, row, 0, max(0, gap)) })
}

// join appends the spans of row, d longer at either end, made one where the
// gap between them is at most gap.
func join(out, row []Span, d, gap Micron) []Span {
	from := len(out)
	for _, s := range row {
		if n := len(out); n > from && s.From-(out[n-1].To-d) <= gap {
			out[n-1].To = max(out[n-1].To, s.To+d)
			continue
		}
		out = append(out, Span{s.From - d, s.To + d})
	}
	return out
}

// Drop removes the spans shorter than least.
func (a Rows) Drop(least Micron) Rows {
	return a.each(func(out, row []Span) []Span {
		for _, s := range row {
			if s.To-s.From >= least {
				out = append(out, s)
			}
		}
		return out
	})
}

// trim drops empty rows at both ends.
func (a *Rows) trim() {
	lo, hi := 0, len(a.Row)
	for lo < hi && len(a.Row[lo]) == 0 {
		lo++
	}
	for lo < hi && len(a.Row[hi-1]) == 0 {
		hi--
	}
	a.First, a.Row = a.First+lo, a.Row[lo:hi]
	if lo == hi {
		a.First, a.Row = 0, nil
	}
}
