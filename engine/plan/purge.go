package plan

// Purge: material spent on changing from one material to the other.
//
// Notation. V is the printer's PurgeVolume for one change, c the most changes
// there are in a layer, h the least layer height of a layer with a change.
//
// Tools within a layer. A layer begins with the tool the layer before ended
// with, if it has work for it; the others follow in order, but one that the
// next layer needs goes last. With two tools that is the least number of
// changes there can be: one for each layer that needs the tool not in use.
//
// The block is a square of area c·V/h beside everything else, one strip for
// each change. A change lays exactly V in its strip, to and fro; where a layer
// is higher, or there are fewer changes, the lines are farther apart. It is laid up to the
// last layer with a change: layers without one get its outline and a few lines,
// or the next change would be laid on air.

import (
	"math"

	"platebook/engine/printer"
	"platebook/engine/region"
)

const (
	purgeAway  = 5.0 // mm between the block and all else (CUSTOM)
	purgeFloor = 0.2 // density of the block in layers without a change
)

// toolOrder says in which order layers use tools: used[i] are the tools layer
// i has work for, ascending.
func toolOrder(used [][]uint8) (order [][]uint8, changes []int) {
	order, changes = make([][]uint8, len(used)), make([]int, len(used))
	now := -1
	for i, u := range used {
		has := func(t int, list []uint8) bool {
			for _, x := range list {
				if int(x) == t {
					return true
				}
			}
			return false
		}
		var first, middle, last []uint8
		var next []uint8
		for j := i + 1; j < len(used); j++ {
			if len(used[j]) > 0 {
				next = used[j]
				break
			}
		}
		for _, t := range u {
			switch {
			case int(t) == now:
				first = append(first, t)
			case len(last) == 0 && has(int(t), next):
				last = append(last, t)
			default:
				middle = append(middle, t)
			}
		}
		order[i] = append(append(first, middle...), last...)
		for _, t := range order[i] {
			if now >= 0 && int(t) != now {
				changes[i]++
			}
			now = int(t)
		}
	}
	return order, changes
}

// block is where purge goes.
type block struct {
	min    region.Point
	side   region.Micron
	strips int
	last   int // the last layer it is laid in; -1 for none
}

// place finds room for the block beside the box around all that is laid.
func (m *maker) place(changes []int, heights []float64, box region.Box) block {
	b := block{last: -1}
	v := m.p.PurgeVolume
	if v <= 0 {
		return b
	}
	low := math.Inf(1)
	for i, c := range changes {
		if c > 0 {
			b.last = i
			b.strips = max(b.strips, c)
			low = min(low, heights[i])
		}
	}
	if b.last < 0 {
		return b
	}
	b.side = max(microns(math.Sqrt(float64(b.strips)*v/low)), 4*m.w*region.Micron(b.strips))
	gap := microns(purgeAway)
	at := []region.Point{
		{X: box.Max.X + gap, Y: box.Min.Y},
		{X: box.Min.X - gap - b.side, Y: box.Min.Y},
		{X: box.Min.X, Y: box.Max.Y + gap},
		{X: box.Min.X, Y: box.Min.Y - gap - b.side},
	}
	b.min = at[0]
	lo, hi := m.platform()
	for _, p := range at {
		if p.X >= lo.X && p.Y >= lo.Y && p.X+b.side <= hi.X && p.Y+b.side <= hi.Y {
			b.min = p
			break
		}
	}
	return b
}

// platform returns the corners of the build platform.
func (m *maker) platform() (lo, hi region.Point) {
	x, y := microns(m.p.Volume[0]), microns(m.p.Volume[1])
	if m.p.Origin == "centre" {
		return region.Point{X: -x / 2, Y: -y / 2}, region.Point{X: x / 2, Y: y / 2}
	}
	return lo, region.Point{X: x, Y: y}
}

// strip lays V at height h in strip k.
func (b block) change(k int, v, h float64, w region.Micron) stroke {
	wide := b.side / region.Micron(b.strips) // along X
	need := v / float64(h*mm(w))             // mm of bead
	x0, x1 := b.min.X+region.Micron(k)*wide+w/2, b.min.X+region.Micron(k+1)*wide-w/2
	y0, y1 := b.min.Y+w/2, b.min.Y+b.side-w/2
	// n lines of length x1−x0 and the joins between them, y1−y0 in all.
	n := int(math.Floor((need - mm(y1-y0)) / mm(x1-x0)))
	n = max(2, min(n, int((y1-y0)/w)+1))
	var pts []region.Point
	for i := range n {
		y := y0 + (y1-y0)*region.Micron(i)/region.Micron(n-1)
		a, c := x0, x1
		if i%2 == 1 {
			a, c = c, a
		}
		pts = append(pts, region.Point{X: a, Y: y}, region.Point{X: c, Y: y})
	}
	return stroke{kind: Purge, width: exact(v, h, lineLength(pts)), pts: pts}
}

// exact is the width that lays v mm³ over l mm at height h, to the micron.
func exact(v, h, l float64) region.Micron { return max(1, microns(v/float64(h*l))) }

// floor lays the block in a layer without a change.
func (b block) floor(w region.Micron) []stroke {
	lo, hi := region.Point{X: b.min.X + w/2, Y: b.min.Y + w/2}, region.Point{X: b.min.X + b.side - w/2, Y: b.min.Y + b.side - w/2}
	out := []stroke{{kind: Purge, closed: true, width: w, pts: []region.Point{lo, {X: hi.X, Y: lo.Y}, hi, {X: lo.X, Y: hi.Y}}}}
	n := int(float64(b.side)*purgeFloor/float64(w)) + 1
	for i := 1; i < n; i++ {
		y := lo.Y + (hi.Y-lo.Y)*region.Micron(i)/region.Micron(n)
		out = append(out, stroke{kind: Purge, width: w, pts: []region.Point{{X: lo.X, Y: y}, {X: hi.X, Y: y}}})
	}
	return out
}

// speed is the speed asked for, mm/s, in a layer; first says it is on the platform.
func speed(w *printer.Way, k Kind, first bool) float64 {
	if first {
		return w.FirstLayerSpeed
	}
	switch k {
	case OuterShell, ThinWall:
		return w.ShellSpeed
	case InnerShell:
		return w.InnerShellSpeed
	case Infill:
		return w.InfillSpeed
	case Support, SupportInterface:
		return w.SupportSpeed
	}
	return w.SolidSpeed
}
