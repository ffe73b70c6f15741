package quote

import (
	"math"

	"platebook/engine/mesh"
	"platebook/engine/pose"
	"platebook/engine/say"
)

// stand is a pose and why it was chosen.
type stand struct {
	pose.Candidate
	why say.Saying
}

// rightSideUp chooses a pose for m at the size it has. Quick figures choose
// among many; before a sound pose of the file's own is given up, whole plans of
// the two decide. A part too big for the printer is judged as if it were not:
// it may be printed smaller.
func (a *Ask) rightSideUp(m *mesh.Mesh, colours int) (stand, pose.Result, error) {
	o := pose.Options{
		Angle: a.Way.SupportAngle * math.Pi / 180, Volume: a.Printer.Volume, FirstLayer: a.Way.FirstLayerHeight, Workers: a.workers(),
	}
	r, err := pose.Choose(m, o)
	if err == nil && !r.Chosen.Fits {
		o.Volume = [3]float64{}
		r, err = pose.Choose(m, o)
	}
	if err != nil {
		return stand{}, r, err
	}
	own := r.Ranked[r.Own]
	if own.Against.Empty() && own.From != r.Chosen.From &&
		a.costs(mesh.Transform(m, own.Pose), colours) <= a.costs(mesh.Transform(m, r.Chosen.Pose), colours) {
		return stand{own, say.Of("As the file has it: planned whole, the best of the other poses takes no less time and material.")}, r, nil
	}
	return stand{r.Chosen, r.Why}, r, nil
}

// costs is what a print of m as it stands costs, in seconds. A gram counts as a
// minute of printing (CUSTOM: at a desk's usual rates both cost about the same).
func (a *Ask) costs(m *mesh.Mesh, colours int) float64 {
	l, err := a.lay(m, colours, a.Way)
	if err != nil {
		return math.Inf(1)
	}
	grams := 0.0
	for i, t := range l.tools {
		grams += t.Grams(l.plan.Deposited(i))
	}
	return l.time.Total + float64(60*grams)
}
