package findings

import (
	"math"

	"platebook/engine/mesh"
	"platebook/engine/say"
)

// Too big and too small.
//
// Along the axes a part has six poses that matter for its box: the six orders
// of its sides. If none fits, a tilted pose still may: fitSearch looks for one
// and either finds it, or proves there is none, or says it does not know.

// buildBox is a build volume as a container for fitSearch: x, y, z in mm.
type buildBox mesh.Vec

func (b buildBox) fits(p []mesh.Vec, slack float64, free bool) bool {
	lo, hi := p[0], p[0]
	for _, q := range p {
		for k := range q {
			lo[k], hi[k] = math.Min(lo[k], q[k]), math.Max(hi[k], q[k])
		}
	}
	if hi[2]-lo[2] > b[2]+2*slack+1e-9 {
		return false
	}
	if free { // a turn about z: it lies in the circle around the platform
		r := float64(math.Sqrt(float64(b[0]*b[0])+float64(b[1]*b[1])) / 2)
		_, ok := leftmost(p, r+slack+1e-9)
		return ok
	}
	return hi[0]-lo[0] <= b[0]+2*slack+1e-9 && hi[1]-lo[1] <= b[1]+2*slack+1e-9
}

// orders are the ways to lay the sides of a box along x, y, z; the first is as it is.
var orders = [6][3]int{{0, 1, 2}, {1, 0, 2}, {0, 2, 1}, {2, 1, 0}, {1, 2, 0}, {2, 0, 1}}

// boxSearchBudget bounds the cells looked at for a tilted pose.
const boxSearchBudget = 6000

func (l *look) size() {
	size := l.box.Size()
	l.tooSmall(size)
	v := mesh.Vec(l.Printer.Volume)
	if !(v[0] > 0 && v[1] > 0 && v[2] > 0) {
		return
	}
	turned, scale := bestOrder(size, v)
	if turned == 0 {
		l.withBase(v)
		return
	}
	what := say.Of("The part is %s and the build volume of %s is %s.", sides(size), l.printerName(), sides(v))
	numbers := []any{"size_x_mm", size[0], "size_y_mm", size[1], "size_z_mm", size[2],
		"volume_x_mm", v[0], "volume_y_mm", v[1], "volume_z_mm", v[2]}
	if turned > 0 {
		o := orders[turned]
		l.say("turn-to-fit", Stop, say.Of("%s It does not fit as it stands, but it fits turned so that it measures %s.",
			what, sides(mesh.Vec{size[o[0]], size[o[1]], size[o[2]]})), nil, numbers...)
		return
	}
	percentFit := math.Floor(scale*1000) / 10
	numbers = append(numbers, "fits_at_percent", percentFit)
	smaller := say.Of("Without a base around it, it fits at %s %% of this size; otherwise it has to be cut into parts or printed elsewhere.", figure(percentFit))
	corners, facets := mesh.Hull(l.used())
	answer, r, _ := fitSearch(corners, facets, buildBox(v), boxSearchBudget)
	switch answer {
	case Fits:
		how := say.Of("It does not fit along the axes in any order of its sides, but it fits tilted, which needs supports.")
		if up := r[2]; max(math.Abs(up[0]), math.Abs(up[1]), math.Abs(up[2])) > 0.99999 {
			how = say.Of("It does not fit along the axes in any order of its sides, but it fits lying or standing diagonally on the platform.")
		}
		l.say("turn-to-fit", Stop, say.Join(" ", what, how, say.Of("Along the axes it fits at %s %% of this size.", figure(percentFit))), nil, numbers...)
	case DoesNotFit:
		l.say("too-big", Stop, say.Join(" ", what, say.Of("It is too big in every pose, tilted ones included."), smaller), nil, numbers...)
	default:
		l.say("too-big", Stop, say.Join(" ", what, say.Of("It is too big in every pose along the axes, and no tilted pose was found that fits."), smaller), nil, numbers...)
	}
}

// bestOrder returns the first order of the sides of a box in which it fits into
// v, −1 if none, and the largest scale at which some order fits.
func bestOrder(size, v mesh.Vec) (turned int, scale float64) {
	turned = -1
	for i, o := range orders {
		s := math.Inf(1)
		for k := range 3 {
			s = math.Min(s, (v[k]+hair)/math.Max(size[o[k]], hair))
		}
		if s >= 1 && turned < 0 {
			turned = i
		}
		scale = math.Max(scale, s)
	}
	return turned, scale
}

// fitsAt says whether the part would fit along the axes at a scale; yes if the
// build volume is not known.
func (l *look) fitsAt(scale float64) bool {
	v := mesh.Vec(l.Printer.Volume)
	if !(v[0] > 0 && v[1] > 0 && v[2] > 0) {
		return true
	}
	_, most := bestOrder(l.box.Size(), v)
	return scale <= most
}

// withBase looks at what the plan lays around a part that fits by itself.
func (l *look) withBase(v mesh.Vec) {
	if l.Plan == nil {
		return
	}
	x, y := float64(l.Plan.Max.X-l.Plan.Min.X)/1000, float64(l.Plan.Max.Y-l.Plan.Min.Y)/1000
	if x <= v[0]+hair && y <= v[1]+hair {
		return
	}
	l.say("no-room-for-base", Stop, say.Of(
		"The part fits, but with its base and supports it takes %s × %s mm of a platform of %s × %s mm. Choose a smaller base or none, turn it, or make it smaller.",
		figure(x), figure(y), figure(v[0]), figure(v[1])), nil,
		"needs_x_mm", x, "needs_y_mm", y, "volume_x_mm", v[0], "volume_y_mm", v[1])
}

// smallestSide is what can be held and taken off a platform (CUSTOM).
const smallestSide = 5

func (l *look) tooSmall(size mesh.Vec) {
	largest := max(size[0], size[1], size[2])
	bead, first := l.bead(), l.first()
	switch {
	case size[2] < first/2:
		l.say("too-small", Stop, say.Of(
			"The part is only %s high, less than half of the first layer (%s), so nothing of it would be printed. It may have been drawn in another unit, or it is a flat drawing: ask the patron.",
			mm(size[2]), mm(first)), nil, "height_mm", size[2], "first_layer_mm", first)
	case min(size[0], size[1]) < bead*0.95:
		do := say.Of("ask the patron")
		if p := math.Ceil(100 * bead / math.Max(min(size[0], size[1]), 1e-6)); p <= 1000 && l.fitsAt(p/100) {
			do = say.Of("ask the patron, or print it at %s %% or more", figure(p))
		}
		l.say("too-small", Stop, say.Of(
			"The part is %s: all of it is thinner than one bead (%s). It may have been drawn in another unit, or it is a flat drawing: %s.",
			sides(size), mm(bead), do), nil,
			"thinnest_mm", min(size[0], size[1]), "bead_mm", bead)
	case largest < smallestSide:
		l.say("too-small", Ask, say.Of(
			"The part is %s, hardly large enough to hold or to take off the platform. It may have been drawn in another unit: ask the patron.",
			sides(size)), nil, "largest_mm", largest)
	}
}

// used returns the vertices facets use.
func (l *look) used() []mesh.Vec {
	all := make([]int, len(l.pieces))
	for i := range all {
		all[i] = i
	}
	var out []mesh.Vec
	points := l.points(all)
	for i := range all {
		out = append(out, points[i]...)
	}
	return out
}
