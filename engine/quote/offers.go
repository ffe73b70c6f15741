package quote

import (
	"math"
	"strconv"

	"platebook/engine/printer"
	"platebook/engine/say"
)

// offers makes the list, in an order a patron can read: what is sensible first,
// then what differs from it.
type offers struct {
	*workshop
	wish  Wish
	out   *Ways
	asked int // size in steps: as asked, or the largest that fits

	sensible *trial
}

func (o *offers) make() {
	highest := o.largestFit(0)
	if highest == 0 {
		o.out.without(say.Of("No size of it fits the build volume of the %s.", o.a.Printer.Name))
		o.elsewhere()
		return
	}
	if o.wish.Largest {
		o.asked = highest
	}
	o.makeSensible(highest)
	if o.sensible == nil {
		o.instead(highest)
		return
	}
	if o.sensible.size < o.asked && !o.wish.Largest || o.colours > o.a.Printer.Tools {
		o.elsewhere()
	}
	o.makeCheaper()
	o.makeFiner()
	o.makeLargest()
	o.makeSoluble()
}

// offer adds a trial to the list.
func (o *offers) offer(id string, t *trial, says say.Saying) {
	s := o.scale(t.size)
	turn := o.turn[t.pose]
	if t.size != o.workshop.wanted && !turn.Empty() {
		turn = say.Of("Judged at the size asked for: %s", say.Within(turn))
	}
	if o.colours > o.a.Printer.Tools {
		says = say.Join(" ", says, say.Of("In one colour: the %s holds %d at a time.", o.a.Printer.Name, o.a.Printer.Tools))
	}
	spin := o.spin(t.pose, t.size) * 180 / math.Pi
	if spin != 0 {
		says = say.Join(" ", says, say.Of("It fits only when spun by %.0f° on the platform.", spin))
	}
	o.out.Offers = append(o.out.Offers, Offer{
		ID: id, Says: says.String(), Saying: says, Scale: s, SizeMM: o.poses[t.pose].Bounds().Size().Scale(s), SpinDeg: spin, Pose: turn.String(), PoseSaying: turn,
		Settings: settings(t.way), Figures: t.figures, Solid: o.at(t.pose, t.size), Way: t.way,
	})
}

// makeSensible keeps the wanted size and gives up infill and layer height only
// as far as the limits ask; when that is not enough, size.
func (o *offers) makeSensible(highest int) {
	size := min(o.asked, highest)
	rungs := ladder(o.a.Way, o.a.Printer, o.wish.Ways)
	try := func(i int) bool {
		ok, _ := o.keeps(o.try(choice{0, size, rungs[i]}))
		return ok
	}
	if !o.wish.Largest {
		lo, hi := 0, len(rungs)-1 // Invariant: if any rung will do, the first that does is in lo…hi.
		if !try(lo) && try(hi) {
			for hi-lo > 1 {
				if mid := (lo + hi) / 2; try(mid) {
					hi = mid
				} else {
					lo = mid
				}
			}
			lo = hi
		}
		if try(lo) {
			o.sensible = o.try(choice{0, size, rungs[lo]})
			o.offer("sensible", o.sensible, o.saySensible(lo > 0, size < o.asked))
			return
		}
	}
	if t := o.largest(0, rungs[0], o.tried[choice{0, size, rungs[0]}], size); t != nil && t.size >= o.smallest() {
		o.sensible = t
		o.offer("sensible", t, o.saySensible(false, true))
	}
}

// smallest is the least size worth offering: a fifth of what was asked for, for
// below that it is another thing (CUSTOM).
func (o *offers) smallest() int { return max(1, min(o.asked, o.workshop.wanted)/5) }

func (o *offers) saySensible(coarser, smaller bool) say.Saying {
	t := o.sensible
	switch {
	case coarser:
		return say.Of("The usual way takes too much; with %s it keeps to the limits.", lays(t.way))
	case smaller && o.wish.Largest:
		return say.Of("As large as the usual way allows, %s.", o.percent(t))
	case smaller:
		return say.Of("The size asked for is not possible in the usual way; at %s it is.", o.percent(t))
	}
	return say.Of("The library's usual way.")
}

// makeCheaper keeps size and pose and gives up what costs most.
func (o *offers) makeCheaper() {
	rungs := ladder(o.sensible.way, o.a.Printer, o.wish.Ways)
	var best *trial
	// Sparse infill alone, then thick layers as well: the first costs less to look at.
	for _, way := range []printer.Way{sparsest(rungs), rungs[len(rungs)-1]} {
		if way == o.sensible.way {
			continue
		}
		t := o.try(choice{o.sensible.pose, o.sensible.size, way})
		if ok, _ := o.keeps(t); ok && (best == nil || total(t.figures) < total(best.figures)) {
			best = t
		}
	}
	if best == nil || total(best.figures) >= total(o.sensible.figures) {
		o.out.without(say.Of("Nothing cheaper by less infill or thicker layers: they do not lower the price of this part."))
		return
	}
	o.offer("cheaper", best, say.Of("%s instead of %s: %s; it %s.",
		money(best.figures), money(o.sensible.figures), givesUp(o.sensible.way, best.way), o.time(best)))
}

// farBeyond a limit is where an estimate by layers alone, good to a tenth or
// so, is believed without a plan.
const farBeyond = 1.15

// sparsest is the rung with least infill among those of the first's layer height.
func sparsest(rungs []printer.Way) printer.Way {
	way := rungs[0]
	for _, r := range rungs {
		if r.LayerHeight == way.LayerHeight {
			way = r
		}
	}
	return way
}

func (o *offers) makeFiner() {
	way, ok := finest(o.sensible.way, o.a.Printer, o.wish.Ways)
	if !ok {
		o.out.without(say.Of("Nothing finer: these are the thinnest layers the library has a way for."))
		return
	}
	// Thinner layers are more of them, each as long as before: where that alone
	// is far beyond the limit, no plan is needed to say so.
	f := o.sensible.figures
	about := f.TimeParts.WarmUp + float64((f.PrintTimeS-f.TimeParts.WarmUp)*o.sensible.way.LayerHeight/way.LayerHeight)
	if l := o.limit.LongestPrint; l > 0 && about > farBeyond*l {
		o.out.without(say.Of("Nothing finer: with layers of %s mm one print would take about %s, and the longest allowed is %s.",
			num(way.LayerHeight), hours(about), hours(l)))
		return
	}
	t := o.try(choice{o.sensible.pose, o.sensible.size, way})
	if ok, breaks := o.keeps(t); !ok {
		o.out.without(say.Of("Nothing finer: with layers of %s mm %s.", num(way.LayerHeight), breaks))
		return
	}
	o.offer("finer", t, say.Of("Layers of %s mm instead of %s show less; it %s and costs %s.",
		num(way.LayerHeight), num(o.sensible.way.LayerHeight), o.time(t), money(t.figures)))
}

// makeLargest gives up infill and layer height for size.
func (o *offers) makeLargest() {
	coarse := ladder(o.sensible.way, o.a.Printer, o.wish.Ways)
	best := o.largestIn(coarse[len(coarse)-1])
	if o.limit.Budget > 0 {
		// Thin layers can be the lighter ones: for a budget, sparse infill alone counts too.
		if t := o.largestIn(sparsest(coarse)); best == nil || t != nil && t.size > best.size {
			best = t
		}
	}
	if best == nil || best.size <= o.sensible.size {
		o.out.without(say.Of("Nothing larger keeps to the limits, by the ways tried."))
		return
	}
	end := say.Of("all that fits the build volume")
	if best.size < o.largestFit(best.pose) {
		end = say.Of("all that keeps to the limits")
	}
	says := say.Of("%s: %s. A print takes %s, and it costs %s", say.Start(o.percent(best)), end, hours(best.figures.PrintTimeS), money(best.figures))
	o.offer("largest", best, say.End(say.Join("; ", says, givesUp(o.sensible.way, best.way))))
}

// largestIn is the largest trial in a way, over the poses. It is nil if none
// keeps to the limits.
func (o *offers) largestIn(way printer.Way) *trial {
	var best *trial
	for p := range o.poses {
		highest := o.largestFit(p)
		if best != nil && highest <= best.size {
			continue
		}
		if p > 0 && best != nil && best.size < o.largestFit(best.pose) {
			continue // it is the time or the price that ends there: another pose changes little
		}
		near := o.sensible
		if t := o.tried[choice{p, near.size, way}]; t != nil {
			near = t
		}
		if t := o.largest(p, way, near, highest); t != nil && (best == nil || t.size > best.size) {
			best = t
		}
	}
	return best
}

func (o *offers) makeSoluble() {
	s := o.sensible
	switch {
	case s.figures.SupportsG < 0.05 || s.way.Supports == printer.Soluble:
		return // nothing to dissolve, or it is the usual way already
	case o.a.Printer.Tools <= max(1, o.colours):
		o.out.without(say.Of("No soluble supports: the %s has no place for a further material.", o.a.Printer.Name))
		return
	case !o.a.SupportMaterial.Soluble:
		o.out.without(say.Of("No soluble supports: %s does not dissolve.", o.a.SupportMaterial.Name))
		return
	}
	way := s.way
	way.Supports = printer.Soluble
	t := o.try(choice{s.pose, s.size, way})
	if ok, breaks := o.keeps(t); !ok {
		o.out.without(say.Of("No soluble supports: %s.", breaks))
		return
	}
	o.offer("soluble", t, say.Of("Supports of %s dissolve in water and leave a cleaner surface; it %s and costs %s instead of %s.",
		o.a.SupportMaterial.Name, o.time(t), money(t.figures), money(s.figures)))
}

// instead says what would do when no size keeps to the limits.
func (o *offers) instead(highest int) {
	size := min(o.asked, highest)
	rungs := ladder(o.a.Way, o.a.Printer, o.wish.Ways)
	last := rungs[len(rungs)-1]
	t := o.try(choice{0, size, last})
	if _, breaks := o.keeps(t); !breaks.Empty() {
		o.out.without(say.Of("Nothing keeps to the limits: even with %s, %s.", lays(last), breaks))
	}
	if t := o.largest(0, last, t, size); t != nil && t.size >= o.smallest() {
		o.out.instead(say.Of("Smaller: at %s, with %s, it takes %s and costs %s.",
			o.percent(t), lays(last), hours(t.figures.PrintTimeS), money(t.figures)))
	}
	if n := o.a.copies(); n > 1 && t.figures != nil {
		one := t.figures.PrintTimeS
		if l := o.limit.Within; l > 0 && one <= l {
			o.out.instead(say.Of("Fewer copies: %d can be printed in that time, of %d.", int(l/one), n))
		}
	}
	if t.figures != nil {
		if n := cuts(t.figures.PrintTimeS, o.limit.LongestPrint, t.figures.TimeParts.WarmUp); n > 0 {
			o.out.instead(say.Of("Cut into parts printed by themselves, at least %d of them.", n))
		}
	}
	o.elsewhere()
}

// mostPieces is how many parts somebody may be advised to cut a print into.
const mostPieces = 12

// cuts is how many parts a print that takes so many seconds has to be cut into
// at the least, where each is warmed up for by itself; 0 where it keeps to the
// limit as it is, or where cutting it is no advice.
func cuts(seconds, longest, warmUp float64) int {
	if !(longest > warmUp) || !(seconds > longest) {
		return 0
	}
	if n := math.Ceil((seconds - warmUp) / (longest - warmUp)); n <= mostPieces {
		return int(n)
	}
	return 0
}

// elsewhere looks for another of the library's printers that would do.
func (o *offers) elsewhere() {
	for _, p := range o.wish.Elsewhere {
		if p.ID == o.a.Printer.ID || p.Tools < max(1, o.colours) {
			continue
		}
		other := *o.a
		other.Printer = p
		w := &workshop{a: &other, colours: o.colours, step: o.step, exact: o.exact, wanted: o.wanted, poses: o.poses, turn: o.turn, limit: o.limit,
			tried: map[choice]*trial{}, cuts: map[cutKey]cutting{}}
		if !w.fits(0, o.wanted) {
			continue
		}
		t := w.try(choice{0, o.asked, coarsest(o.a.Way, p, o.wish.Ways)})
		o.count += w.count
		if ok, _ := w.keeps(t); ok {
			o.out.instead(say.Of("On a %s: with %s it fits there at the size asked for, a print takes %s, and it costs %s.",
				p.Name, lays(t.way), hours(t.figures.PrintTimeS), money(t.figures)))
		}
	}
}

// percent says a size against that of the file, with the millimetres.
func (w *workshop) percent(t *trial) say.Saying {
	s := w.scale(t.size)
	return say.Of("%s %% of the size in the file, %s", num(100*s), sizeWords(w.poses[t.pose].Bounds().Size().Scale(s)))
}

func money(f *Figures) say.Saying {
	return say.Money(say.Digits(f.Price.Total.Number()), f.Price.Currency)
}

func (o *offers) time(t *trial) say.Saying {
	d := t.figures.PrintTimeS - o.sensible.figures.PrintTimeS
	switch {
	case d > 60:
		return say.Of("takes %s longer", hours(d))
	case d < -60:
		return say.Of("takes %s less", hours(-d))
	}
	return say.Of("takes as long")
}

// lays says a way's infill and layer height.
func lays(w printer.Way) say.Saying {
	return say.Of("%s %% infill and layers of %s mm", num(w.Infill), num(w.LayerHeight))
}

// givesUp says what b has less of than a.
func givesUp(a, b printer.Way) say.Saying {
	var out []say.Saying
	if b.Infill < a.Infill {
		out = append(out, say.Of("it is lighter inside (%s %% infill instead of %s %%) and not as strong", num(b.Infill), num(a.Infill)))
	}
	if b.LayerHeight > a.LayerHeight {
		out = append(out, say.Of("its layers show more (%s mm instead of %s mm)", num(b.LayerHeight), num(a.LayerHeight)))
	}
	return say.Join(", and ", out...)
}

func num(x float64) say.Digits {
	return say.Digits(strconv.FormatFloat(math.Round(x*1000)/1000, 'f', -1, 64))
}
