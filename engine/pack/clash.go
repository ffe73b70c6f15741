package pack

// Where two variants clash.
//
// Notation. Variant a has its anchor at cell (0, 0). The clash of a and b is the
// set of anchors of b at which they cover a cell in common: the Minkowski sum of
// a and −b on cells, known as the no-fit polygon of a and b (R. Art, An approach
// to the two dimensional irregular cutting stock problem, 1966, MEMORY).
//
// Idea. Row by row it is a union of runs: span s of a and span t of b in the
// same row clash while s.from − t.to < dx < s.to − t.from. A hole of a that is
// wide enough for b is a gap between runs, with nothing special about it.
//
// Tried and rejected: keeping the covered cells of the plate and asking for
// each anchor anew (some hundred times slower, as all rows of a part are gone
// through for every anchor); polygons instead of cells (exact, but unions of
// forty of them for each part and turn).

// clash is runs by row; row k is dy = low + k.
type clash struct {
	low   int32
	start []int32
	spans []span
}

// scratch is what newClash works in.
type scratch struct{ bits []uint64 }

// newClash returns the clash of a and b, and how much work it was.
func (w *scratch) newClash(a, b *raster) (clash, int64) {
	shift := b.wide - 1 // dx ≥ −shift
	words := int(a.wide+shift+63) / 64
	if len(w.bits) < words {
		w.bits = make([]uint64, words)
	}
	bits := w.bits[:words]
	c := clash{low: 1 - b.high(), start: make([]int32, 1, a.high()+b.high())}
	work := int64(0)
	for dy := c.low; dy < a.high(); dy++ {
		clear(bits)
		from, to := max(0, dy), min(a.high(), dy+b.high())
		lo, hi := int32(0), int32(0) // a run not set yet: those of neighbouring rows overlap as a rule
		for k := from; k < to; k++ {
			for _, s := range a.spans[a.start[k]:a.start[k+1]] {
				for _, t := range b.spans[b.start[k-dy]:b.start[k-dy+1]] {
					l, h := s.from-t.to+1, s.to-t.from
					if l > hi || h < lo {
						setRun(bits, lo+shift, hi+shift)
						lo, hi = l, h
						work += 2
						continue
					}
					lo, hi = min(lo, l), max(hi, h)
				}
			}
		}
		setRun(bits, lo+shift, hi+shift)
		c.spans = appendRuns(c.spans, bits, -shift)
		c.start = append(c.start, int32(len(c.spans)))
		work += int64(to-from) + int64(words) + 8
	}
	return c, work
}

// mirrored returns the clash of b and a, given that of a and b.
func (c *clash) mirrored() clash {
	rows := len(c.start) - 1
	m := clash{low: 1 - c.low - int32(rows), start: make([]int32, 1, rows+1), spans: make([]span, 0, len(c.spans))}
	for k := rows - 1; k >= 0; k-- {
		row := c.spans[c.start[k]:c.start[k+1]]
		for i := len(row) - 1; i >= 0; i-- {
			m.spans = append(m.spans, span{1 - row[i].to, 1 - row[i].from})
		}
		m.start = append(m.start, int32(len(m.spans)))
	}
	return m
}

// field is the anchors a variant can still have on the plate at hand: rows of
// bits, set where it cannot.
type field struct {
	bits   []uint64
	words  int
	nx, ny int32
	plate  int   // the plate it was made for
	done   int   // how many parts of that plate it knows of
	low    int32 // below this row there is no anchor left
}

// reset makes f ready for an empty plate.
func (f *field) reset(plate int, nx, ny int32) {
	f.plate, f.done, f.low = plate, 0, 0
	f.nx, f.ny, f.words = nx, ny, int(nx+63)/64
	n := f.words * int(ny)
	if cap(f.bits) < n {
		f.bits = make([]uint64, n)
	}
	f.bits = f.bits[:n]
	clear(f.bits)
	if nx&63 != 0 {
		for i := f.words - 1; i < n; i += f.words {
			f.bits[i] = ^uint64(0) << (uint(nx) & 63)
		}
	}
}

// add takes the anchors away at which the variant clashes with a part at (x, y).
func (f *field) add(c *clash, x, y int32) int64 {
	base := y + c.low
	k, end := max(0, f.low-base), min(int32(len(c.start))-1, f.ny-base)
	for ; k < end; k++ {
		row := f.bits[int(base+k)*f.words:][:f.words]
		for _, s := range c.spans[c.start[k]:c.start[k+1]] {
			setRun(row, max(0, s.from+x), min(f.nx, s.to+x))
		}
	}
	return int64(max(0, end-max(0, f.low-base)))*3 + 4
}
