package plan

import (
	"math"
	"math/rand/v2"
	"testing"

	"platebook/engine/region"
)

// blob is a ring around the origin with a wavy edge, and a hole or two.
func blob(r *rand.Rand) region.Region {
	wavy := func(x, y, size float64) region.Ring {
		var ring region.Ring
		n := 5 + r.IntN(40)
		for i := range n {
			a := 2 * math.Pi * float64(i) / float64(n)
			d := size * (0.6 + 0.4*r.Float64())
			ring = append(ring, pt(x+d*math.Cos(a), y+d*math.Sin(a)))
		}
		return ring
	}
	out := region.Nonzero(wavy(0, 0, 20))
	for range r.IntN(4) {
		out = region.Subtract(out, region.Nonzero(wavy(r.Float64()*20-10, r.Float64()*20-10, 4)))
	}
	return out
}

// An outline drawn around spans does not cross itself, holds the middles of all
// spans, and has their area but for half a pitch at its edges.
func TestOutline(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for range 60 {
		shape := blob(r)
		h := region.Hatch{Angle: r.Float64() * 6, Pitch: region.Micron(100 + r.IntN(400)), Phase: region.Micron(r.IntN(300))}
		rows := h.Rows(shape)
		o := region.Region(outline(rows))
		raw := o.Area()
		clean := region.Nonzero(o...)
		if math.Abs(raw-clean.Area()) > 1e-4 {
			t.Errorf("the outline crosses itself: area %v, read as nonzero %v", raw, clean.Area())
		}
		if bound := shape.Perimeter()*mm(h.Pitch)*0.6 + 0.1; math.Abs(raw-rows.Area(h.Pitch)) > bound {
			t.Errorf("outline of %v mm² around spans of %v mm², bound %v", raw, rows.Area(h.Pitch), bound)
		}
		again := h.Rows(clean)
		lost := rows.Subtract(again).Drop(5)
		if l := lost.Length(); l > rows.Length()*0.02+2*maxRow(rows) {
			t.Errorf("%v of %v mm of spans are outside of their outline", l, rows.Length())
		}
		// Thinned by tol, the outline is nowhere farther than that.
		thinned := region.Nonzero(thin(o, 100)...)
		if d := region.Xor(thinned, clean).Area(); d > clean.Perimeter()*0.1 {
			t.Errorf("thinning by 0.1 mm changes %v mm² of an outline %v mm long", d, clean.Perimeter())
		}
	}
}

// The uppermost or lowest span of a piece is an edge of the outline, and an edge
// may be in or out: allow for the longest.
func maxRow(r region.Rows) float64 {
	l := region.Micron(0)
	for _, row := range r.Row {
		for _, s := range row {
			l = max(l, s.To-s.From)
		}
	}
	return mm(l)
}

// The curve through a square of 2^k cells of its lattice is one line of 4^k − 1
// units, corners included (Hilbert 1891: it visits every cell once).
func TestCurve(t *testing.T) {
	for k := 1; k <= 6; k++ {
		m := &maker{w: 400, spacing: 2000, curveHalf: 64}
		n := 1 << k
		a, b := m.curveHatches()
		// Cells 0 … n−1 of the lattice, which is turned.
		lo, hi := pt(-1, -1), pt(2*float64(n)-1, 2*float64(n)-1)
		square := region.Region{{lo, {X: hi.X, Y: lo.Y}, hi, {X: lo.X, Y: hi.Y}}}.Turn(curveOff * degree)
		lines := m.curve(a.Rows(square), b.Rows(square))
		total := length(lines)
		// Units that leave the square stick out half a unit: the curve goes in and
		// comes out.
		units := math.Pow(4, float64(k)) - 1
		if len(lines) != 1 || math.Abs(total/2-units) > 1.01 {
			t.Errorf("%d × %d cells: %d lines of %v units, want one of %v", n, n, len(lines), total/2, units)
		}
	}
}
