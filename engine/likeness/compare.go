package likeness

import "math"

// What Distance means, judged on meshes from packages and not proved (the
// tests print the tables). Copies that were only scaled, turned or mirrored
// stay within 0.01 of the original; cut into other facets, within 0.035;
// roughened by 0.5 % of the diagonal or decimated to 50 cells along it, within
// 0.06, thin walls being the farthest. A shape stretched along one axis by a
// tenth is at 0.02 to 0.04, by a fifth at 0.04 to 0.075, by a half at 0.08 to
// 0.15. Of 27 different shapes the closest two, both no more than thin sheets,
// are at 0.08; 7 of all 351 pairs are within 0.12. Of 150 heaps of two to six boxes
// put down by chance, 1 pair of 11 175 was within 0.065, 244 within 0.12.
//
// A file with something added (a base, a second body) is another shape.
const (
	// SameShape: at or below, the two are most likely one shape, or differ
	// little: in a detail, or in a proportion.
	SameShape = 0.065
	// Alike: at or below, they are worth showing side by side; above, different.
	Alike = 0.12
)

// Hand is how the hands of two shapes compare.
type Hand int

const (
	// Untold: at least one of the shapes is (nearly) its own mirror image, or
	// the two are not Alike, so that there is nothing to compare.
	Untold   Hand = iota
	SameHand      // they are alike as they are
	Mirrored      // one is like the mirror image of the other
)

func (h Hand) String() string {
	return [...]string{"no telling its hand", "same hand", "mirrored"}[max(0, min(h, Mirrored))]
}

// Likeness is how two shapes compare.
type Likeness struct {
	Apart float64 // their Distance
	Hand  Hand
}

// Compare returns how a and b compare.
func Compare(a, b Print) Likeness {
	l := Likeness{Apart: Distance(a, b)}
	if l.Apart <= Alike {
		l.Hand = handOf(&a, &b)
	}
	return l
}

// Distance returns how far apart the shapes of a and b are: 0 for the same
// print, below 1 for any two shapes, 1 when one of them is not Known. See
// SameShape and Alike. The hand does not count: a shape is at no distance from
// its mirror image. What is inside counts only if both shapes enclose a volume.
func Distance(a, b Print) float64 {
	if !a.Known() || !b.Known() {
		return 1
	}
	last := atHand
	if !a.encloses() || !b.encloses() {
		last = atSolid
	}
	sum := 0.0
	for i := range last {
		d := (a.number(i) - b.number(i)) * weightOf(i)
		sum += float64(d * d)
	}
	d := math.Sqrt(sum)
	return d / (1 + d)
}

const (
	perSlice = 0.2041241452319315 // 1/√24: a row of 24 slices counts as one number
	// What is inside counts less: thin walls, rough or decimated, change their
	// volume before they change their look.
	solidWeight = 0.3
)

// weightOf returns how much number i counts in the distance.
func weightOf(i int) float64 {
	switch {
	case i < atWaves:
		return perSlice
	case i < atSolid:
		return 1
	case i < atHand:
		return solidWeight
	}
	return 0
}
