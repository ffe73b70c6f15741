package plan

// Base: what helps the first layer hold (PWG 5100.21 print-base).
//
// A skirt is SkirtLoops closed beads around everything that touches the
// platform, supports too, SkirtGap away: it starts the flow. A brim is beads
// side by side outward from the outline of the first layer, as many as
// BrimWidth takes, laid from the outside in. A raft is RaftLayers layers under
// everything and RaftMargin further out, which lift the part: the first is as
// high as a first layer, the others as any layer. Its layers cross, and only
// the uppermost is laid solidly.
//
// Holes of the outline are filled before it grows: nothing is laid inside a
// ring to help it hold.

import (
	"math"

	"platebook/engine/printer"
	"platebook/engine/region"
)

const raftDensity = 0.6 // of the layers below the uppermost (CUSTOM)

// outer returns r without its holes.
func outer(r region.Region) region.Region {
	var out []region.Ring
	for _, is := range islands(r) {
		out = append(out, is[0])
	}
	return region.Nonzero(out...)
}

// foot is the outline of all that stands on the platform in the first layer.
func (m *maker) foot(d *hold) region.Region {
	if m.n == 0 {
		return nil
	}
	f := m.whole[0]
	if d != nil {
		if all, _ := m.standing(d, 0); len(all.Row) > 0 {
			f = region.Union(f, region.Nonzero(outline(all)...))
		}
	}
	return outer(f)
}

// base lays skirt or brim around foot.
func (m *maker) base(foot region.Region) []stroke {
	var out []stroke
	switch m.way.Base {
	case printer.Skirt:
		for k := m.way.SkirtLoops - 1; k >= 0; k-- {
			r := swell(foot, microns(m.way.SkirtGap)+m.w/2+region.Micron(k)*m.w)
			out = append(out, loops(outer(r), Base, m.w)...)
		}
	case printer.Brim:
		n := int(math.Round(m.way.BrimWidth / m.way.BeadWidth))
		for k := n - 1; k >= 0; k-- {
			r := swell(foot, m.w/2+region.Micron(k)*m.w)
			out = append(out, loops(outer(r), Base, m.w)...)
		}
	}
	return out
}

// raft lays raft layer k of n.
func (m *maker) raft(foot region.Region, k, n int) []stroke {
	r := swell(foot, microns(m.way.RaftMargin))
	line := grow(r, -m.w/2)
	out := loops(line, Base, m.w)
	inner := grow(line, -(m.w - m.w/2))
	h := m.hatch(k)
	rows := h.Rows(inner)
	if k+1 == n {
		return append(out, fillSolid(rows, Base, m.w)...)
	}
	return append(out, fillLines(rows, h, microns(m.way.BeadWidth/raftDensity), Base, m.w, joinInfill)...)
}
