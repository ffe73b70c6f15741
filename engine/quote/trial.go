package quote

import (
	"fmt"
	"math"
	"strconv"

	"platebook/engine/mesh"
	"platebook/engine/plan"
	"platebook/engine/pose"
	"platebook/engine/printer"
	"platebook/engine/say"
	"platebook/engine/slice"
)

// Trying ways.
//
// A choice is a pose, a size and a way to lay material; trying it means the
// whole plan and simulation, and nothing is tried twice. Sizes are whole steps
// of a hundredth of the size in the file (a thousandth, for parts printed at
// less than a fifth of it), since that is what staff can type elsewhere.
type choice struct {
	pose int
	size int // in steps
	way  printer.Way
}

// trial is what came of a choice.
type trial struct {
	choice
	figures *Figures   // nil if it cannot be laid
	why     say.Saying // then
}

// workshop tries choices and remembers.
type workshop struct {
	a       *Ask
	colours int
	step    float64      // scale of one step of size
	exact   float64      // the scale asked for
	wanted  int          // the step nearest to it
	poses   []*mesh.Mesh // the part at file size, standing
	turn    []say.Saying // in words, why each pose
	limit   Limits

	tried map[choice]*trial
	cuts  map[cutKey]cutting
	count int // plans made
}

// Limits are what a way must keep to.
type Limits struct {
	LongestPrint float64 // s, one print; 0 is no limit
	Within       float64 // s, all copies together; 0 is no limit
	Budget       float64 // in the tariff's currency; 0 is no limit
}

type cutKey struct {
	pose, size    int
	first, height float64
}

type cutting struct {
	parts  []plan.Part
	report slice.Report
}

// mostCuts bounds the layers kept for other ways at the same size.
const mostCuts = 4

// scale is that of a size. The step nearest to the size asked for stands for
// exactly that.
func (w *workshop) scale(size int) float64 {
	if size == w.wanted {
		return w.exact
	}
	return float64(float64(size) * w.step)
}

// at returns pose p at a size, spun about the vertical if it fits only so.
func (w *workshop) at(p, size int) *mesh.Mesh {
	s := w.scale(size)
	t := mesh.Turn(mesh.Vec{0, 0, 1}, w.spin(p, size)).Then(mesh.Scale(mesh.Vec{s, s, s}))
	m := mesh.Transform(w.poses[p], t)
	b := m.Bounds()
	x, y := float64((b.Min[0]+b.Max[0])/2), float64((b.Min[1]+b.Max[1])/2)
	for i := range m.V {
		m.V[i] = m.V[i].Sub(mesh.Vec{x, y, b.Min[2]})
	}
	return m
}

// spin is how far pose p is spun about the vertical to fit at a size, radians.
func (w *workshop) spin(p, size int) float64 {
	angle, _ := pose.Spin(w.poses[p], w.room(w.scale(size)))
	return angle
}

// room is the platform less what the base takes, in mm of the part at file size.
func (w *workshop) room(scale float64) [2]float64 {
	v, m := w.a.Printer.Volume, baseMargin(w.a.Way)
	return [2]float64{max(v[0]-2*m, 0) / scale, max(v[1]-2*m, 0) / scale}
}

// baseMargin is what a base needs beside the part, mm.
func baseMargin(w printer.Way) float64 {
	switch w.Base {
	case printer.Skirt:
		return w.SkirtGap + float64(float64(w.SkirtLoops)*w.BeadWidth)
	case printer.Brim:
		return w.BrimWidth
	case printer.Raft:
		return w.RaftMargin
	}
	return 0
}

// fits reports whether pose p fits the build volume at a size.
func (w *workshop) fits(p, size int) bool {
	s := w.scale(size)
	b := w.poses[p].Bounds()
	if float64((b.Max[2]-b.Min[2])*s) > w.a.Printer.Volume[2] {
		return false
	}
	_, ok := pose.Spin(w.poses[p], w.room(s))
	return ok
}

// largestFit is the largest size at which pose p fits; 0 if none does.
func (w *workshop) largestFit(p int) int {
	lo, hi := 0, 1
	for hi < mostSize && w.fits(p, hi) {
		lo, hi = hi, 2*hi
	}
	// Invariant: lo fits or is 0, hi does not or is out of bounds.
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; w.fits(p, mid) {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

const mostSize = 1 << 20

// try lays a choice, or remembers it.
func (w *workshop) try(c choice) *trial {
	if t, ok := w.tried[c]; ok {
		return t
	}
	t := &trial{choice: c}
	w.tried[c] = t
	w.count++
	if err := w.lay(t); err != nil {
		t.figures, t.why = nil, say.Of("%s", err)
	}
	return t
}

func (w *workshop) lay(t *trial) error {
	tools, support := w.a.tools(w.colours, t.way.Supports)
	w.a.say(fmt.Sprintf("trying layers of %s mm at %s %% of the size", num(t.way.LayerHeight), num(100*w.scale(t.size))))
	key := cutKey{t.pose, t.size, t.way.FirstLayerHeight, t.way.LayerHeight}
	c, ok := w.cuts[key]
	if !ok {
		var err error
		if c.parts, c.report, err = w.a.cut(w.at(t.pose, t.size), t.way, len(tools)); err != nil {
			return err
		}
		if len(w.cuts) >= mostCuts {
			clear(w.cuts)
		}
		w.cuts[key] = c
	}
	l, err := w.a.plan(c.parts, t.way, tools, support)
	if err != nil {
		return err
	}
	if t.figures, err = w.a.figures(l, t.way); err != nil {
		return err
	}
	if t.figures == nil {
		t.why = say.Of("nothing of it holds a bead")
	}
	return nil
}

// keeps says whether a trial keeps to every limit, and names the one it breaks.
func (w *workshop) keeps(t *trial) (ok bool, breaks say.Saying) {
	f := t.figures
	switch l := w.limit; {
	case f == nil:
		return false, t.why
	case !w.fits(t.pose, t.size):
		return false, say.Of("it does not fit the build volume of the %s", w.a.Printer.Name)
	case l.LongestPrint > 0 && f.PrintTimeS > l.LongestPrint:
		return false, say.Of("one print takes %s, and the longest allowed is %s", hours(f.PrintTimeS), hours(l.LongestPrint))
	case l.Within > 0 && f.TimeS > l.Within:
		return false, say.Of("printing takes %s, and there are %s", hours(f.TimeS), hours(l.Within))
	case l.Budget > 0 && total(f) > l.Budget:
		return false, say.Of("it costs %s, and the budget is %s", money(f), say.Digits(strconv.FormatFloat(l.Budget, 'f', -1, 64)))
	}
	return true, say.Saying{}
}

// total is a price as a number, for comparing only.
func total(f *Figures) float64 {
	v, err := strconv.ParseFloat(f.Price.Total.Number(), 64)
	if err != nil {
		return math.Inf(1)
	}
	return v
}

// hours writes a time for people, to the minute, upward.
func hours(s float64) say.Saying {
	m := int(math.Ceil(s / 60))
	switch {
	case m < 60:
		return say.Of("%d min", m)
	case m%60 == 0:
		return say.Of("%d h", m/60)
	}
	return say.Of("%d h %d min", m/60, m%60)
}
