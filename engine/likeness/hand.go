package likeness

import (
	"math"
)

// Which of two mirror images.
//
// Two witnesses, neither of which needs to see everything.
//
// Twist is the mean of χ over pairs of points (pairs.go). It sees screws,
// springs and propellers, and is nothing but the luck of sampling (below
// twistFloor on symmetric meshes) for a shape that is its own mirror image.
// Rows of two shapes point the same way, or opposite ways.
//
// Skew is the third moments of the surface in the frame of its principal
// axes. The moments are exact, so it sees a hand that is hardly there. The
// ends of each axis are not told apart: one shape is laid onto the other in
// every way of turning axes round, in pairs as a turn does or singly as a
// mirror does; the better fit tells. A shape that is its own mirror image fits
// both ways alike. Where two axes are nearly equal the frame means nothing,
// and the skew of such a shape is kept as nothing.
//
// Either may tell; if they contradict each other, nothing is told.

const (
	twistFloor = 5e-4
	twistAgree = 0.8   // the least cosine
	skewFloor  = 0.012 // in cubed radii of gyration
	skewFit    = 0.5   // the better fit, relative to the other
	// Axes are told apart from here on, fully from twice: differences between
	// the second moments, of 1 in all.
	axesApart = 0.02
)

// handOf says how the hands of two known prints compare.
func handOf(a, b *Print) Hand {
	t, s := twistHand(a, b), skewHand(a, b)
	switch {
	case t == s || s == Untold:
		return t
	case t == Untold:
		return s
	}
	return Untold
}

func twistHand(a, b *Print) Hand {
	var aa, bb, ab float64
	for i := atHand; i < atSkew; i++ {
		x, y := a.number(i), b.number(i)
		aa += float64(x * x)
		bb += float64(y * y)
		ab += float64(x * y)
	}
	if min(aa, bb) < twistFloor*twistFloor {
		return Untold
	}
	switch c := ab / math.Sqrt(float64(aa*bb)); {
	case c >= twistAgree:
		return SameHand
	case c <= -twistAgree:
		return Mirrored
	}
	return Untold
}

func skewHand(a, b *Print) Hand {
	var x, y [10]float64
	for i := range x {
		x[i], y[i] = a.number(atSkew+i), b.number(atSkew+i)
	}
	turn, mirror := byFlips(&x, &y)
	switch {
	case max(turn, mirror) < skewFloor:
	case turn <= skewFit*mirror:
		return SameHand
	case mirror <= skewFit*turn:
		return Mirrored
	}
	return Untold
}

// skew returns the third moments of the surface about its centroid in the
// frame of its principal axes, per area, in the order of thirds; nothing when
// the axes cannot be told apart.
func (s *surface) skew() (row [10]float64) {
	total := s.total(func(i int, sum *[16]float64) { sum[0] += s.area[i] })[0]
	moments := s.total(func(i int, sum *[16]float64) {
		a, b, c := s.corners(i)
		addMoments(sum, s.area[i], a, b, c)
	})
	e, axes := second(&moments, 12*total).principal()
	told := min(e[0]-e[1], e[1]-e[2])/axesApart - 1
	if told <= 0 {
		return row
	}
	var third [10]float64
	for i := range third {
		third[i] = moments[6+i] / (60 * total) * min(told, 1)
	}
	return thirdIn(axes, &third)
}

// byFlips returns how far two rows of skew are apart at best when axes may be
// turned round: in pairs, as a turn does, and singly, as a mirror does.
func byFlips(a, b *[10]float64) (turn, mirror float64) {
	turn, mirror = math.Inf(1), math.Inf(1)
	for flips := range 8 {
		sign := [3]float64{1, 1, 1}
		all := 1.0
		for k := range sign {
			if flips>>k&1 == 1 {
				sign[k] = -1
				all = -all
			}
		}
		sum := 0.0
		for i, at := range thirds {
			d := a[i] - float64(b[i]*(sign[at[0]]*sign[at[1]]*sign[at[2]]))
			sum += float64(float64(at[3]) * float64(d*d))
		}
		if d := math.Sqrt(sum); all > 0 {
			turn = math.Min(turn, d)
		} else {
			mirror = math.Min(mirror, d)
		}
	}
	return turn, mirror
}
