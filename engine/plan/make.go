package plan

// Make: from layers to beads.
//
//	gather     what each tool lays in each layer, and all tools together   parallel
//	for windows of layers, from the top down:
//	    overhangs  what would be laid on air                               parallel
//	    columns    the space below it                                      top down
//	    draft      shells, solid, infill, supports of each layer           parallel
//	assemble   base, tools, purge, order, travel                           bottom up
//	count      volumes                                                     parallel
//
// Layers are independent but for the two sweeps, so any number of workers gives
// the same answer: each writes its own layer, and sums run in layer order.

import (
	"fmt"
	"runtime"
	"slices"
	"sync"
	"sync/atomic"

	"platebook/engine/printer"
	"platebook/engine/region"
)

type maker struct {
	way         *printer.Way
	p           *printer.Printer
	w           region.Micron // bead
	spacing     region.Micron // of infill
	supportTool uint8
	workers     int

	n           int // layers of the model
	bottom, top []float64
	tools       int
	lays        [][]lot         // [layer]: what each tool lays
	whole       []region.Region // [layer]: what all lay
	span        region.Micron   // the largest extent of a layer along an axis
	curveHalf   int             // half the side of the space-filling curve, cells
	load        []int           // points of each layer, and lines
	gate        gate
	laid        atomic.Int64 // bytes of beads
}

// lot is what one tool lays in one layer.
type lot struct {
	tool uint8
	r    region.Region
}

// draft is a layer before its order.
type draft struct {
	groups              []group
	under, single, lost float64 // mm²
}

// Make plans parts laid together. Parts given first win where parts overlap.
// Tools are indices into what the caller will weigh; supportTool lays supports.
// The layers of all parts must lie on the same planes, as slice.Cut gives them
// for one layer height. workers bounds the cores used, 0 is one a core; the
// answer does not depend on it. An error says which setting is out of range.
func Make(parts []Part, way printer.Way, p printer.Printer, supportTool uint8, workers int) (*Plan, error) {
	if err := check(parts, &way, &p, supportTool); err != nil {
		return nil, err
	}
	m := &maker{way: &way, p: &p, w: microns(way.BeadWidth), supportTool: supportTool, workers: min(workers, 256)}
	m.gate.left.L = &m.gate.mu
	if workers <= 0 {
		m.workers = runtime.GOMAXPROCS(0)
	}
	if way.Infill > 0 {
		m.spacing = max(m.w, microns(way.BeadWidth*100/way.Infill))
	}
	if err := m.gather(parts); err != nil {
		return nil, err
	}
	if err := m.affordable(); err != nil {
		return nil, err
	}
	d, err := m.newHold()
	if err != nil {
		return nil, err
	}
	standing := d
	if m.supports() {
		m.tools = max(m.tools, int(supportTool)+1)
	} else {
		standing = nil
	}
	drafts := make([]draft, m.n)
	for hi := m.n; hi > 0 && !m.full(); {
		lo := d.window(hi)
		m.open(d, lo, hi)
		m.layers(lo, hi, func(i int) { m.keep(drafts, i, m.draft(standing, i)) })
		d.close(lo, hi)
		hi = lo
	}
	if m.full() {
		return nil, m.errFull()
	}
	pl := &Plan{}
	for i := range m.n {
		pl.OverhangArea += d.area[i]
		pl.SupportSpace += float64(d.under[i] * (m.top[i] - m.bottom[i]))
		pl.Bridges += d.nBridge[i]
		pl.BridgeArea += d.bridge[i]
	}
	for i := range drafts {
		h := m.top[i] - m.bottom[i]
		pl.ThinWall += float64(drafts[i].under * h)
		pl.SingleWall += float64(drafts[i].single * h)
		pl.Lost += float64(drafts[i].lost * h)
	}
	m.assemble(pl, standing, drafts, parts)
	m.count(pl)
	return pl, nil
}

// each runs f for 0 … n−1 on the workers.
func (m *maker) each(n int, f func(i int)) {
	var next atomic.Int64
	var wg sync.WaitGroup
	for range min(m.workers, n) {
		wg.Go(func() {
			for i := next.Add(1) - 1; i < int64(n); i = next.Add(1) - 1 {
				f(int(i))
			}
		})
	}
	wg.Wait()
}

// layers runs f for layers lo to hi on the workers, large ones few at a time.
// It stops when there will be no plan.
func (m *maker) layers(lo, hi int, f func(i int)) {
	m.each(hi-lo, func(k int) {
		if i := hi - 1 - k; !m.full() {
			m.gate.through(m.load[i], func() { f(i) })
		}
	})
}

// supports says whether the way has any.
func (m *maker) supports() bool {
	return m.way.Supports != printer.NoSupports && m.way.Supports != ""
}

// gather works out what each tool lays in each layer.
func (m *maker) gather(parts []Part) error {
	for _, p := range parts {
		m.tools = max(m.tools, int(p.Tool)+1)
		for i, l := range p.Layers {
			if i == m.n {
				m.bottom, m.top = append(m.bottom, l.Bottom), append(m.top, l.Top)
				m.n++
			} else if abs(m.bottom[i]-l.Bottom) > 1e-6 || abs(m.top[i]-l.Top) > 1e-6 {
				return fmt.Errorf("the parts are sliced at different heights (layer %d): slice them with the same layer height", i+1)
			}
		}
	}
	m.lays, m.whole = make([][]lot, m.n), make([]region.Region, m.n)
	m.each(m.n, func(i int) { m.lays[i], m.whole[i] = share(parts, i) })
	return nil
}

// share divides layer i among the tools.
func share(parts []Part, i int) ([]lot, region.Region) {
	var lots []lot
	var all region.Region
	var boxes []region.Box
	for _, p := range parts {
		if i >= len(p.Layers) || len(p.Layers[i].Region) == 0 {
			continue
		}
		r := p.Layers[i].Region
		box := r.Bounds()
		separate := true // copies on a plate do not overlap: no need to cut
		for _, b := range boxes {
			separate = separate && !overlap(b, box)
		}
		boxes = append(boxes, box)
		if len(all) == 0 {
			all = r
			lots = append(lots, lot{p.Tool, r})
			continue
		}
		at := -1
		for k := range lots {
			if lots[k].tool == p.Tool {
				at = k
			}
		}
		// Invariant: lots do not overlap, and all is their union.
		join := region.Union
		if separate {
			join = beside
		} else {
			r = region.Subtract(r, all)
		}
		all = join(all, r)
		if at < 0 {
			lots = append(lots, lot{p.Tool, r})
		} else {
			lots[at].r = join(lots[at].r, r)
		}
	}
	return lots, all
}

// beside is the union of regions that do not overlap.
func beside(rs ...region.Region) region.Region { return slices.Concat(rs...) }

func overlap(a, b region.Box) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X && a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y
}

// draft makes the strokes of layer i.
func (m *maker) draft(d *hold, i int) draft {
	var out draft
	h := m.hatch(i)
	var more covers
	for _, l := range m.lays[i] {
		for _, island := range islands(l.r) {
			q := build(island, m.way.Shells, m.w)
			out.under += q.under
			out.single += q.single
			out.lost += q.lost
			g := group{tool: l.tool}
			for k := len(q.shells) - 1; k >= 0; k-- {
				g.stages = append(g.stages, q.shells[k])
			}
			g.stages = append(g.stages, q.thin)
			if len(q.inner) > 0 {
				solid, sparse := m.split(h.Rows(q.inner), more.get(m, i, h), m.w)
				g.stages = append(g.stages, fillSolid(solid, Solid, m.w), m.sparse(i, q.inner, sparse, h, &more))
			}
			if g.any() { // a tool with nothing to lay is not called for
				out.groups = append(out.groups, g)
			}
		}
	}
	if d != nil {
		if s := m.prop(d, i); len(s) > 0 {
			out.groups = append(out.groups, group{tool: m.supportTool, stages: [][]stroke{s}})
		}
	}
	return out
}

func abs(x float64) float64 { return max(x, -x) }
