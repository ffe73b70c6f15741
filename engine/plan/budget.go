package plan

// Budgets: what a plan may hold in memory, whatever the layers.
//
// A layer is planned on its own, so what grows without end is what is kept of
// many layers at once: the spans in which supports are thought of, and the beads
// themselves. The first are kept of a window of layers that moves down the part;
// the second are counted as they are laid, and past the budget there is no
// plan. Beside them stands what a few layers take while they are worked on, and
// large ones are worked on few at a time. Together some 450 MB, so that with
// what a garbage collector leaves lying a plan takes about 1 GB at most beyond
// the layers it is given. The sizes are counted from lengths, never measured, so
// that the verdict is the same on every machine.

import (
	"math"
	"slices"
	"sync"

	"platebook/engine/region"
	"platebook/engine/say"
)

const (
	maxLaid   = 256 << 20 // bytes of all beads
	heldSpans = 2 << 20   // spans of the layers in a window: 32 MB, and as much again each for overhangs and the space below
	maxPoints = 1 << 20   // points of one layer
	atOnce    = 1 << 18   // points of the layers worked on at once, some 500 bytes each
	crowd     = 32        // layers worked on at once
	leastOpen = 8         // layers of a window, at least
	coarsest  = 8         // beads: the widest pitch on which supports are thought of
)

// Bytes: a stroke and the path it becomes, a point, a span of rows, a row of spans.
const (
	strokeBytes = 48 + 72
	pointBytes  = 16
	rowSpans    = 2 // what an empty row takes, in spans
)

// gate lets layers through to be worked on, no more than atOnce points together.
type gate struct {
	mu   sync.Mutex
	left sync.Cond
	used int
}

// through runs f when there is room for a layer of n points.
func (g *gate) through(n int, f func()) {
	room := max(atOnce/crowd, min(n, atOnce))
	g.mu.Lock()
	for g.used+room > atOnce {
		g.left.Wait()
	}
	g.used += room
	g.mu.Unlock()
	f()
	g.mu.Lock()
	g.used -= room
	g.mu.Unlock()
	g.left.Broadcast()
}

// corners is the number of points of r.
func corners(r region.Region) int {
	n := 0
	for _, ring := range r {
		n += len(ring)
	}
	return n
}

// crossings is about how often the lines of h cross the outline of r.
func crossings(r region.Region, h region.Hatch) float64 {
	sin, cos := math.Sincos(h.Angle)
	sum := 0.0
	for _, ring := range r {
		if len(ring) == 0 {
			continue
		}
		p := ring[len(ring)-1]
		for _, q := range ring {
			x, y := float64(q.X-p.X), float64(q.Y-p.Y)
			sum += math.Abs(float64(y*cos) - float64(x*sin))
			p = q
		}
	}
	return sum / float64(h.Pitch)
}

// spansOf is about how many spans the rows of r on h take, rows counted as spans.
func spansOf(r region.Region, h region.Hatch) int {
	if len(r) == 0 {
		return 0
	}
	b := r.Bounds()
	rows := (float64(b.Max.X-b.Min.X) + float64(b.Max.Y-b.Min.Y)) / float64(h.Pitch)
	// To a whole span, and the same on every machine unless a sine's last bit decides.
	return int(math.Round(float64(crossings(r, h)/2) + float64(rowSpans*rows)))
}

// bytes is what a draft takes.
func (d *draft) bytes() int64 {
	n := int64(0)
	for _, g := range d.groups {
		for _, s := range g.stages {
			for i := range s {
				n += strokeBytes + int64(pointBytes*len(s[i].pts))
			}
		}
	}
	return n
}

// keep keeps the draft of layer i, unless all together have become too much.
// Whether they do does not depend on the order in which layers come.
func (m *maker) keep(drafts []draft, i int, d draft) {
	if m.laid.Add(d.bytes()) <= maxLaid {
		drafts[i] = d
	}
}

// full says whether more has been laid than a plan may hold.
func (m *maker) full() bool { return m.laid.Load() > maxLaid }

func (m *maker) errFull() error {
	return say.Errorf("the beads would have more than about %d million points: choose a wider bead, higher layers, less infill or a smaller part", maxLaid/pointBytes>>20)
}

// worst is the largest sum of n neighbours in a row.
func worst(size []int, n int) int {
	best, sum := 0, 0
	for i, s := range size {
		sum += s
		if i >= n {
			sum -= size[i-n]
		}
		best = max(best, sum)
	}
	return best
}

// same says of every layer whether it is like the one below it.
func same(rs []region.Region) []bool {
	out := make([]bool, len(rs))
	for i := 1; i < len(rs); i++ {
		out[i] = slices.EqualFunc(rs[i], rs[i-1], func(a, b region.Ring) bool { return slices.Equal(a, b) })
	}
	return out
}
