package pose

import (
	"errors"
	"fmt"
	"math"

	"platebook/engine/mesh"
	"platebook/engine/say"
)

// Options say what is asked of a pose.
type Options struct {
	// Angle is how far a face may lean from the vertical before it needs
	// supports, radians from 0 to π/2.
	Angle float64
	// Volume is what the part may fill, mm: width, depth, height. Zero means
	// without limit.
	Volume [3]float64
	// FirstLayer is the height, mm, up to which the part lies on the platform
	// rather than on supports; at least a micron is taken.
	FirstLayer float64
	// LeastTipping is the tipping angle, radians, below which a pose is taken
	// only if no other will do. Zero means 10° (CUSTOM).
	LeastTipping float64

	// Cost is a quick estimate of what a print in such a pose costs, in any
	// unit, less being better; nil means Material. It is called from several
	// goroutines.
	Cost func(Score) float64
	// Full, if not nil, is what a print of the part as it stands really costs.
	// It is asked about the Best cheapest candidates by Cost, and about the
	// part as given, one after another, and then decides. Best 0 means 3.
	Full func(placed *mesh.Mesh) (float64, error)
	Best int

	Workers int // cores to use at most; the answer does not depend on it
}

// Score is what a pose costs. Figures are rounded to a millionth.
type Score struct {
	// SupportVolume is the space, mm³, straight below overhanging faces, down
	// to the platform or to the part: what supports may fill, however sparsely.
	SupportVolume float64
	SupportedArea float64 // mm² of overhanging surface, scarred by what holds it up
	StandArea     float64 // mm² of the part's surface that such columns stand on, scarred as well
	// Contact is the area, mm², that lies on the platform or within the first
	// layer's height of it, as a shadow.
	Contact float64
	// Tipping is how far the platform may be tilted until the part tips over,
	// radians: the angle between the vertical and the line from the contact's
	// nearest edge to the centre of mass. Negative: it falls over by itself.
	Tipping float64
	Height  float64
	Box     [3]float64 // mm, as it stands: Box[2] is Height
	Fits    bool       // within Volume
}

// Scar is all surface, mm², that supports touch.
func (s Score) Scar() float64 { return s.SupportedArea + s.StandArea }

// Material is a plain measure of what a pose costs, in mm³ of beads: a fifth of
// the space for supports, 0.4 mm of bead on every scar, and 5 mm³ for every mm
// of height, which is what a printer could lay while it changes layers (CUSTOM).
func Material(s Score) float64 {
	return float64(0.2*s.SupportVolume) + float64(0.4*s.Scar()) + float64(5*s.Height)
}

// From says where a candidate came from.
type From string

const (
	AsGiven  From = "as given" // the part as its file has it
	FromFace From = "face"     // a face of the convex hull
	FromAxis From = "axis"     // a principal axis
)

// Candidate is one pose and what it costs.
type Candidate struct {
	Score
	// Pose takes the part as given to where it stands: on z = 0, the middle of
	// its box above the origin. It is a rotation and a shift; the part as given
	// is spun only if it does not fit otherwise.
	Pose mesh.Affine
	Down mesh.Vec // unit direction of the part as given that faces the platform
	From From
	Face float64 // mm² of the hull's face it stands on, 0 if on none

	Cost    float64 // by Options.Cost
	Planned bool    // Options.Full was asked
	Full    float64 // and said so
	// Against says why it is not for choosing, or only in need; empty if nothing
	// speaks against it.
	Against say.Saying
	rank    int
}

// Result is the answer of Choose.
type Result struct {
	// Ranked is every candidate, the best first: those nothing speaks against,
	// by Full where planned, then by Cost; then the unsteady, the toppling, and
	// what does not fit.
	Ranked []Candidate
	// Pareto are the indices of the candidates nothing speaks against that no
	// other such candidate beats in support volume, scar, height and tipping
	// angle together.
	Pareto []int
	Own    int // index of the part as given
	Chosen Candidate
	Why    say.Saying // a sentence for staff
}

// least and most bound how many candidates are scored; between them it is as
// many as visits to facets and vertices allow. On the models of TestSaving at
// most 24, 48 and 150 save 24.4, 26.0 and 26.4 % of the space for supports.
const (
	least, most = 12, 48
	visits      = 20_000_000
)

// Choose says which way up m prints best. The answer is the same on every
// machine, for any number of workers and, but for rounding, however the file
// had the part turned. An error says what of the question makes no sense; a
// part that fits in no pose is an answer (see Candidate.Against).
func Choose(m *mesh.Mesh, o Options) (Result, error) {
	if err := o.check(); err != nil {
		return Result{}, err
	}
	if m == nil || len(m.F) == 0 {
		return Result{}, errors.New("there is no part to be placed: the model has no facets")
	}
	if err := mesh.Valid(m); err != nil {
		return Result{}, fmt.Errorf("the part cannot be placed: %w", err)
	}
	p := newPart(m, o)
	list := p.restings(min(max(visits/(len(p.f)+len(p.v)), least), most))
	all := make([]Candidate, len(list))
	workers := min(max(o.Workers, 1), len(list))
	hands := make([]scratch, workers)
	each(len(list), workers, func(worker, i int) {
		all[i] = p.judge(list[i], &hands[worker])
		all[i].Cost = o.Cost(all[i].Score)
	})
	o.object(all)
	order(all)
	o.plan(m, all)
	order(all)
	r := Result{Ranked: all, Chosen: all[0], Pareto: pareto(all)}
	for i := range all {
		if all[i].From == AsGiven {
			r.Own = i
		}
	}
	r.Why = why(&all[0], &all[r.Own])
	return r, nil
}

// check makes zero options what they stand for.
func (o *Options) check() error {
	if !(o.Angle >= 0 && o.Angle <= math.Pi/2) {
		return fmt.Errorf("a support angle of %v radians makes no sense; give one from 0 to π/2", o.Angle)
	}
	if !(o.FirstLayer >= 0 && o.FirstLayer <= 100) {
		return fmt.Errorf("a first layer of %v mm makes no sense; give one from 0 to 100", o.FirstLayer)
	}
	if !(o.LeastTipping >= 0 && o.LeastTipping <= math.Pi/2) {
		return fmt.Errorf("a least tipping angle of %v radians makes no sense; give one from 0 to π/2", o.LeastTipping)
	}
	for k, x := range o.Volume {
		if !(x >= 0) {
			return fmt.Errorf("a build volume of %v mm along %s makes no sense", x, "xyz"[k:k+1])
		}
		if x == 0 {
			o.Volume[k] = math.Inf(1)
		}
	}
	if o.LeastTipping == 0 {
		o.LeastTipping = 10 * math.Pi / 180
	}
	if o.Cost == nil {
		o.Cost = Material
	}
	if o.Best <= 0 {
		o.Best = 3
	}
	return nil
}
