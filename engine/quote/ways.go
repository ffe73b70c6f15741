package quote

import (
	"math"
	"slices"

	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/pose"
	"platebook/engine/printer"
	"platebook/engine/say"
)

// Wish is what a patron wants beyond a size, which the Ask carries.
type Wish struct {
	Limits
	Largest bool // as big as it goes
	AsSent  bool // this way up, as the file has it
	// Ways are those of the library: they bound layer height and infill.
	Ways []printer.Way
	// Elsewhere are the library's other printers, for when nothing fits here.
	Elsewhere []printer.Printer
}

// Ways are the few ways worth offering for one part.
type Ways struct {
	*Answer                     // the file, and what the check found in it
	Offers         []Offer      `json:"ways"`
	Without        []string     `json:"without,omitempty"` // ways not offered, and why
	Instead        []string     `json:"instead,omitempty"` // what would do, when nothing does
	WithoutSayings []say.Saying `json:"without_sayings,omitempty"`
	InsteadSayings []say.Saying `json:"instead_sayings,omitempty"`
	Plans          int          `json:"plans"` // whole plans made to find them
}

// Offer is one complete way to print the part.
type Offer struct {
	ID         string     `json:"id"` // sensible, cheaper, finer, largest or soluble
	Says       string     `json:"says"`
	Saying     say.Saying `json:"saying,omitzero"` // what Says says
	Scale      float64    `json:"scale"`
	SizeMM     mesh.Vec   `json:"size_mm"`  // this way up, before it is spun
	SpinDeg    float64    `json:"spin_deg"` // about the vertical, to fit the platform
	Pose       string     `json:"pose"`     // why this way up
	PoseSaying say.Saying `json:"pose_saying,omitzero"`
	Settings   Settings   `json:"settings"`
	*Figures

	Solid *mesh.Mesh  `json:"-"` // as it stands on the platform
	Way   printer.Way `json:"-"`
}

// Settings are those of a way that a patron would ask about.
type Settings struct {
	LayerHeightMM float64 `json:"layer_height_mm"`
	InfillPercent float64 `json:"infill_percent"`
	Shells        int     `json:"shells"`
	SolidTop      int     `json:"solid_top"`
	SolidBottom   int     `json:"solid_bottom"`
	Supports      string  `json:"supports"`
	Base          string  `json:"base"`
}

// without notes a way that is not offered, and why.
func (w *Ways) without(s say.Saying) {
	w.Without, w.WithoutSayings = append(w.Without, s.String()), append(w.WithoutSayings, s)
}

// instead notes what would do.
func (w *Ways) instead(s say.Saying) {
	w.Instead, w.InsteadSayings = append(w.Instead, s.String()), append(w.InsteadSayings, s)
}

// FindWays tries many complete ways to print the part of a, and offers the few
// that matter. a.Way is the way to start from. Ways of the same part share what
// they have in common; the same ask and wish give the same answer.
func FindWays(a Ask, wish Wish) (*Ways, error) {
	if err := a.check(); err != nil {
		return nil, err
	}
	ans, facts := read(&a)
	ways := &Ways{Answer: ans, Offers: []Offer{}}
	if facts == nil {
		return ways, nil
	}
	ans.conclude(findings.Find(*facts))
	for _, f := range ans.Findings {
		if f.Severity == findings.Stop && !slices.Contains(mended, f.ID) {
			ways.Without = append(ways.Without, "No way is offered before what stops the print is settled: "+f.Message)
			ways.WithoutSayings = append(ways.WithoutSayings, say.Of("No way is offered before what stops the print is settled: %s", f.Saying))
			return ways, nil
		}
	}
	w, err := newWorkshop(&a, wish, ans, facts)
	if err != nil {
		return nil, err
	}
	o := offers{workshop: w, wish: wish, out: ways, asked: w.wanted}
	o.make()
	ways.Plans = w.count
	return ways, nil
}

// mended are findings that stop the print as asked, and that another size, pose
// or printer may mend.
var mended = []string{"too-big", "turn-to-fit", "no-room-for-base", "over-longest-print", "two-materials"}

// newWorkshop chooses the poses worth trying.
func newWorkshop(a *Ask, wish Wish, ans *Answer, facts *findings.Facts) (*workshop, error) {
	w := &workshop{a: a, colours: len(ans.ColourParts), limit: wish.Limits, step: 0.01, tried: map[choice]*trial{}, cuts: map[cutKey]cutting{}}
	if w.limit.LongestPrint == 0 {
		w.limit.LongestPrint = a.LongestPrint
	}
	if ans.Scale < 0.2 {
		w.step = 0.001
	}
	if ans.Scale < 0.02 {
		w.step = 0.0001
	}
	w.exact, w.wanted = ans.Scale, max(1, int(math.Round(ans.Scale/w.step)))
	a.say("looking for the right side up")
	best, r, err := a.rightSideUp(facts.Mesh, w.colours)
	if err != nil {
		return nil, err
	}
	back := mesh.Scale(mesh.Vec{1 / ans.Scale, 1 / ans.Scale, 1 / ans.Scale})
	add := func(c pose.Candidate, why say.Saying) {
		w.poses = append(w.poses, mesh.Transform(facts.Mesh, c.Pose.Then(back)))
		w.turn = append(w.turn, why)
	}
	if wish.AsSent {
		add(r.Ranked[r.Own], say.Of("As the file has it, as was wished."))
		return w, nil
	}
	add(best.Candidate, best.why)
	// A flatter pose may be larger before it meets the ceiling.
	for _, c := range r.Ranked {
		if c.Against.Empty() && c.Height < 0.8*best.Height {
			add(c, say.Of("Lying lower, it can be larger."))
			break
		}
	}
	return w, nil
}

// coarsest is way with the thickest layers and the least infill the library
// has a way for, as far as the nozzle can lay them.
func coarsest(way printer.Way, p printer.Printer, library []printer.Way) printer.Way {
	l := ladder(way, p, library)
	return l[len(l)-1]
}

// ladder lists ways from the one given to the coarsest of the library, each
// giving up a little more than the one before: infill first, a percent at a
// time, then layer height, a fiftieth of a millimetre at a time. Each takes
// less time than the one before.
func ladder(way printer.Way, p printer.Printer, library []printer.Way) []printer.Way {
	thick, sparse := way.LayerHeight, way.Infill
	for _, l := range library {
		if l.Fits(p) == nil {
			thick = max(thick, l.LayerHeight)
		}
		if l.Infill > 0 {
			sparse = min(sparse, l.Infill)
		}
	}
	out := []printer.Way{way}
	for last := way; last.Infill > sparse; {
		last.Infill = max(sparse, math.Ceil(last.Infill)-1)
		out = append(out, last)
	}
	for last := out[len(out)-1]; ; {
		h := math.Round(float64(last.LayerHeight*50)+1) / 50
		if h > thick+1e-9 {
			break
		}
		last = withLayers(last, h)
		if last.Fits(p) != nil {
			break
		}
		out = append(out, last)
	}
	return out
}

// withLayers changes the layer height, and keeps solid layers as thick in all.
func withLayers(w printer.Way, h float64) printer.Way {
	n := func(layers int) int {
		if layers == 0 {
			return 0
		}
		return max(2, int(math.Round(float64(layers)*w.LayerHeight/h)))
	}
	w.SolidTop, w.SolidBottom = n(w.SolidTop), n(w.SolidBottom)
	w.LayerHeight = h
	w.FirstLayerHeight = max(w.FirstLayerHeight, h)
	return w
}

// finest is the library's way with the thinnest layers, if thinner than way's,
// with way's supports and base.
func finest(way printer.Way, p printer.Printer, library []printer.Way) (printer.Way, bool) {
	fine := slices.Clone(library)
	fine = slices.DeleteFunc(fine, func(l printer.Way) bool { return l.LayerHeight >= way.LayerHeight || l.Fits(p) != nil })
	if len(fine) == 0 {
		return way, false
	}
	f := slices.MinFunc(fine, func(x, y printer.Way) int {
		switch {
		case x.LayerHeight < y.LayerHeight:
			return -1
		case x.LayerHeight > y.LayerHeight:
			return 1
		}
		return 0
	})
	f.Supports, f.Base = way.Supports, way.Base
	f.Infill = max(f.Infill, way.Infill)
	return f, true
}

func settings(w printer.Way) Settings {
	return Settings{w.LayerHeight, w.Infill, w.Shells, w.SolidTop, w.SolidBottom, string(w.Supports), string(w.Base)}
}

func sizeWords(v mesh.Vec) say.Saying {
	return say.Of("%.0f × %.0f × %.0f mm", v[0], v[1], v[2])
}
