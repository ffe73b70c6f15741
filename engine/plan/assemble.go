package plan

// Assembling: base, tools and purge come together here, layer after layer, as
// each layer begins where the one before ended.

import (
	"platebook/engine/printer"
	"platebook/engine/region"
)

// assemble puts everything in order, layer after layer.
func (m *maker) assemble(pl *Plan, d *hold, drafts []draft, parts []Part) {
	if m.n == 0 {
		return
	}
	baseTool := parts[0].Tool
	if len(m.lays[0]) > 0 {
		baseTool = m.lays[0][0].tool
	}
	var foot region.Region
	if m.way.Base != printer.NoBase && m.way.Base != "" {
		foot = m.foot(d)
	}
	rafts := 0
	if m.way.Base == printer.Raft && len(foot) > 0 {
		rafts = m.way.RaftLayers
	}
	all := make([]draft, rafts, rafts+m.n)
	lift := 0.0
	pl.Layers = make([]Layer, rafts+m.n)
	for k := range rafts {
		all[k].groups = []group{{tool: baseTool, stages: [][]stroke{m.raft(foot, k, rafts)}}}
		h := m.way.LayerHeight
		if k == 0 {
			h = m.way.FirstLayerHeight
		}
		pl.Layers[k] = Layer{Bottom: lift, Top: lift + h}
		lift += h
	}
	all = append(all, drafts...)
	clear(drafts) // so that each can go once it is laid
	for i := range m.n {
		pl.Layers[rafts+i] = Layer{Bottom: m.bottom[i] + lift, Top: m.top[i] + lift}
	}
	var base []group
	if s := m.base(foot); len(s) > 0 {
		base = []group{{tool: baseTool, stages: [][]stroke{}}}
		for i := range s { // in this order: from the outside in
			base[0].stages = append(base[0].stages, s[i:i+1])
		}
	}
	used := make([][]uint8, len(all))
	heights := make([]float64, len(all))
	for i := range all {
		var has [256]bool
		for _, g := range all[i].groups {
			has[g.tool] = true
		}
		if i == 0 && base != nil {
			has[baseTool] = true
		}
		for t, yes := range has {
			if yes {
				used[i] = append(used[i], uint8(t))
			}
		}
		heights[i] = pl.Layers[i].Top - pl.Layers[i].Bottom
	}
	order, changes := toolOrder(used)
	if base != nil && len(order[0]) > 1 { // what begins the first layer lays the base
		order[0], changes = baseFirst(used, baseTool)
	}
	b := m.place(changes, heights, bounds(all, base))
	hd := &head{m: m}
	now := -1
	for i := range all {
		hd.out = make([]Path, 0, strokesIn(all[i].groups))
		hd.first = i == 0
		change := 0
		for _, t := range order[i] {
			if now >= 0 && int(t) != now && b.last >= i {
				s := b.change(change, m.p.PurgeVolume, heights[i], m.w)
				hd.lay(&s, t)
				change++
			}
			now = int(t)
			if i == 0 && t == baseTool {
				hd.groups(base)
			}
			var mine []group
			for _, g := range all[i].groups {
				if g.tool == t {
					mine = append(mine, g)
				}
			}
			hd.groups(mine)
		}
		if i <= b.last && change == 0 {
			hd.stage(b.floor(m.w), uint8(max(now, 0)))
		}
		pl.Layers[i].Paths = hd.out
		all[i] = draft{}
	}
}

// baseFirst is toolOrder for a first layer that begins with tool t.
func baseFirst(used [][]uint8, t uint8) ([]uint8, []int) {
	first := append([][]uint8{{t}}, used...)
	o, c := toolOrder(first)
	c = c[1:]
	return o[1], c
}

func strokesIn(gs []group) int {
	n := 0
	for _, g := range gs {
		for _, s := range g.stages {
			n += len(s)
		}
	}
	return n
}

// bounds is the box around all strokes.
func bounds(all []draft, base []group) region.Box {
	var b region.Box
	first := true
	add := func(gs []group) {
		for _, g := range gs {
			for _, st := range g.stages {
				for _, s := range st {
					for _, p := range s.pts {
						if first {
							b, first = region.Box{Min: p, Max: p}, false
						}
						b.Min = region.Point{X: min(b.Min.X, p.X), Y: min(b.Min.Y, p.Y)}
						b.Max = region.Point{X: max(b.Max.X, p.X), Y: max(b.Max.Y, p.Y)}
					}
				}
			}
		}
	}
	for i := range all {
		add(all[i].groups)
	}
	add(base)
	return b
}

// count sums what is laid.
func (m *maker) count(pl *Plan) {
	each := make([][][Kinds]float64, len(pl.Layers))
	m.each(len(pl.Layers), func(i int) {
		v := make([][Kinds]float64, m.tools)
		l := &pl.Layers[i]
		for k := range l.Paths {
			v[l.Paths[k].Tool][l.Paths[k].Kind] += l.Paths[k].Volume(l.Top - l.Bottom)
		}
		each[i] = v
	})
	pl.Volume = make([][Kinds]float64, m.tools)
	first := true
	for i := range each {
		for t := range each[i] {
			for k, x := range each[i][t] {
				pl.Volume[t][k] += x
			}
		}
		for _, p := range pl.Layers[i].Paths {
			for _, q := range p.Points {
				if first {
					pl.Min, pl.Max, first = q, q, false
				}
				pl.Min = region.Point{X: min(pl.Min.X, q.X), Y: min(pl.Min.Y, q.Y)}
				pl.Max = region.Point{X: max(pl.Max.X, q.X), Y: max(pl.Max.Y, q.Y)}
			}
		}
	}
}
