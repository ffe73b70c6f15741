package region

// Bounds past which an operation goes on on a coarser grid (see arrange.go).
const (
	crossingsFree       = 1 << 20
	crossingsPerSegment = 16
	pairsFree           = 1 << 27
	pairsPerSegment     = 1 << 9
	coarseSteps         = 1 << 20
)

// coarsen rounds the segments loaded to a grid on which all of them together are
// at most so many pixels long and makes every pixel they pass hot.
func (w *work) coarsen(steps int) {
	sum := int64(0)
	for i := range w.segs {
		sum += w.segs[i].span()
	}
	for sum>>w.coarse > int64(steps) {
		w.coarse++
	}
	segs := w.segs
	w.segs, w.keys = w.segs[:0], w.keys[:0]
	for _, s := range segs { // writes stay behind reads
		w.line(w.round(s.ax), w.round(s.ay), w.round(s.bx), w.round(s.by), s.da, s.db)
	}
	w.keys = w.keys[:0]
	for i := range w.segs {
		w.heat(&w.segs[i])
	}
	w.sortSegs()
	w.layStrips()
}

// round rounds a coordinate to the coarse grid, halves up.
func (w *work) round(x int32) int32 {
	if w.coarse == 0 {
		return x
	}
	return (x + 1<<(w.coarse-1)) >> w.coarse
}

// span is the length of s along the axis on which it is longer.
func (s *seg) span() int64 {
	return max(int64(s.bx)-int64(s.ax), int64(s.ax)-int64(s.bx), int64(s.by)-int64(s.ay))
}

// heat makes the pixels that s passes hot, and some neighbours.
func (w *work) heat(s *seg) {
	ax, ay := int64(s.ax), int64(s.ay)
	dx, dy, n := int64(s.bx)-ax, int64(s.by)-ay, s.span()
	w.keys = append(w.keys, pack(s.ax, s.ay), pack(s.bx, s.by))
	x0, x1 := min(s.ax, s.bx), max(s.ax, s.bx)
	// Over one step of the long axis s moves by at most one along the other, half
	// of it before the middle of the step, so the pixels it passes in a step are
	// among the middle one and its two neighbours.
	for i := int64(1); i < n; i++ {
		x, y := s.ax+int32(floorDiv(2*i*dx+n, 2*n)), s.ay+int32(floorDiv(2*i*dy+n, 2*n))
		w.keys = append(w.keys, pack(x, y))
		if n == dy {
			if x > x0 {
				w.keys = append(w.keys, pack(x-1, y))
			}
			if x < x1 {
				w.keys = append(w.keys, pack(x+1, y))
			}
			continue
		}
		if y > s.ay {
			w.keys = append(w.keys, pack(x, y-1))
		}
		if y < s.by {
			w.keys = append(w.keys, pack(x, y+1))
		}
	}
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}
