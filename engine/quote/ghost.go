package quote

import (
	"cmp"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/plan"
	"platebook/engine/region"
)

// supportCell is the width of the columns that stand for supports in a picture, µm.
const supportCell = 1500

// bridgedMM is the gap in a column that is drawn over: lines of supports wander.
const bridgedMM = 4

// ghost is the room that supports take, as columns: for a picture, not for
// measuring. It is nil when there are none.
func ghost(pl *plan.Plan) *mesh.Mesh {
	if pl == nil {
		return nil
	}
	type cell struct{ x, y region.Micron }
	type run struct{ from, to float64 }
	columns := map[cell][]run{}
	for _, l := range pl.Layers {
		here := map[cell]bool{}
		for _, p := range l.Paths {
			if p.Kind != plan.Support && p.Kind != plan.SupportInterface {
				continue
			}
			for i := 1; i < len(p.Points); i++ {
				a, b := p.Points[i-1], p.Points[i]
				n := max(max(b.X-a.X, a.X-b.X), max(b.Y-a.Y, a.Y-b.Y))/supportCell + 1
				for k := range n + 1 {
					here[cell{floor(a.X + (b.X-a.X)*k/n), floor(a.Y + (b.Y-a.Y)*k/n)}] = true
				}
			}
		}
		for c := range here {
			runs := columns[c]
			if k := len(runs) - 1; k >= 0 && l.Bottom-runs[k].to < bridgedMM {
				runs[k].to = l.Top
			} else {
				runs = append(runs, run{l.Bottom, l.Top})
			}
			columns[c] = runs
		}
	}
	if len(columns) == 0 {
		return nil
	}
	order := make([]cell, 0, len(columns))
	for c := range columns {
		order = append(order, c)
	}
	slices.SortFunc(order, func(a, b cell) int { return cmp.Or(cmp.Compare(a.x, b.x), cmp.Compare(a.y, b.y)) })
	m := &mesh.Mesh{}
	for _, c := range order {
		for _, r := range columns[c] {
			x, y := float64(c.x*supportCell)/1000, float64(c.y*supportCell)/1000
			column(m, mesh.Vec{x, y, r.from}, mesh.Vec{x + supportCell/1000.0, y + supportCell/1000.0, r.to})
		}
	}
	return m
}

// floor is the cell a coordinate lies in.
func floor(v region.Micron) region.Micron {
	if v < 0 {
		return -((supportCell - 1 - v) / supportCell)
	}
	return v / supportCell
}

// column adds a box from a to b.
func column(m *mesh.Mesh, a, b mesh.Vec) {
	n := int32(len(m.V))
	for i := range 8 {
		v := a
		for k := range 3 {
			if i>>k&1 == 1 {
				v[k] = b[k]
			}
		}
		m.V = append(m.V, v)
	}
	for _, f := range [][3]int32{
		{0, 2, 3}, {0, 3, 1}, {4, 5, 7}, {4, 7, 6}, {0, 1, 5}, {0, 5, 4},
		{2, 6, 7}, {2, 7, 3}, {0, 4, 6}, {0, 6, 2}, {1, 3, 7}, {1, 7, 5},
	} {
		m.F = append(m.F, [3]int32{f[0] + n, f[1] + n, f[2] + n})
	}
}
