package likeness

import (
	"math"
	"slices"
)

// How points of a surface lie to each other.
//
// Notation: p, q points with unit normals n, m; d = q−p, r = |d|, e = d/r.
//
// Reach: the distribution of |p|, how far the surface reaches from its centroid.
// Span: the distribution of r over all pairs. Source: "D1" and "D2" of Osada,
// Funkhouser, Chazelle and Dobkin 2002, "Shape distributions" (MEMORY). Each
// is kept as the means of equal slices of the sorted values, so that the
// distance of two such rows is what it takes to move one distribution onto the
// other (the Wasserstein distance of order 2), and no value falls off the end
// of a histogram.
//
// Hand: pair distances cannot tell mirror images apart. For each pair
// χ = (n·(e×m))(n·e)(m·e), a number that changes sign in a mirror and does not
// change when p and q are exchanged or a normal is turned round, so it needs
// no orientation. With α, β the angles of n and m to e and φ the twist from
// one to the other, χ = ¼ sin2α sin2β sinφ. Its mean over the pairs about a
// distance apart, for several distances, is the hand: nothing for a shape that
// is its own mirror image. Source: the form of the chirality index of Osipov,
// Pickup and Dunmur 1995 for molecules (MEMORY), with normals for bonds; kept
// by distance and not summed, because a screw has one hand near and the other
// far.
//
// Rejected: signs of third moments in the principal frame. They vanish for a
// screw, a propeller and whatever else is symmetric about an axis of turning,
// and jump when axes are nearly equal.

const (
	nDots   = 8192 // points
	nSteps  = 64   // pairs each point is in, as the first
	nReach  = 24   // slices
	nSpan   = 24
	nHand   = 12   // distances at which the hand is looked at
	handGap = 0.35 // between them, in radii of gyration
)

// reach returns the slices of the distances from the centroid.
func reach(dots []dot) (row [nReach]float64) {
	r := make([]float64, len(dots))
	for i := range dots {
		r[i] = dots[i].p.Len()
	}
	slices.Sort(r)
	for k := range row {
		from, to := len(r)*k/nReach, len(r)*(k+1)/nReach
		for _, x := range r[from:to] {
			row[k] += x
		}
		row[k] /= float64(to - from)
	}
	return row
}

const spanBins = 4096

// tally counts pairs.
type tally struct {
	count [spanBins]uint32
	hand  [nHand + 1]float64 // sums of χ; the last is beyond
}

// pairs returns the slices of the distances of pairs, and the hand.
//
// Not all pairs are looked at: each point is paired with those a number of
// steps further on in the queue of points (which comes back to its beginning),
// one number from each of nSteps equal ranges up to half the queue, and the
// next point with others of the same ranges. As neighbours in the queue are
// neighbours in space, that is an even sieve over all pairs. Rejected: all
// pairs of fewer points, as many in all, which lie farther from their limit;
// the same steps for every point, which fall in step with the curve.
func pairs(dots []dot) (span [nSpan]float64, hand [nHand]float64) {
	far := 0.0
	for i := range dots {
		far = math.Max(far, dots[i].p.Len())
	}
	if far == 0 {
		return span, hand
	}
	bin := 2 * far / (spanBins - 1)
	const some = 4 // ranges, summed before the sums are
	tallies := make([]tally, nSteps/some)
	share(len(tallies), func(b int) {
		tallies[b] = tallyOf(dots, b*some, (b+1)*some, bin)
	})
	all := &tallies[0]
	for i := range tallies[1:] {
		t := &tallies[1+i]
		for k, c := range t.count {
			all.count[k] += c
		}
		for k, x := range t.hand {
			all.hand[k] += x
		}
	}
	count := len(dots) * nSteps
	for k := range hand {
		hand[k] = all.hand[k] / float64(count)
	}
	return all.slices(count, bin), hand
}

// tallyOf counts the pairs of each point with those a step further on in the
// ranges from … to−1.
func tallyOf(dots []dot, from, to int, bin float64) (t tally) {
	n := len(dots)
	width := n / (2 * nSteps)
	for i := range dots {
		a := dots[i]
		for j := from; j < to; j++ {
			// 79 and 37 are prime to any width that is a power of two: all steps of
			// the range come up equally often, and neighbours take different ones.
			step := j*width + (79*i+37*j)%width + 1
			b := dots[(i+step)%n]
			x, y, z := b.p[0]-a.p[0], b.p[1]-a.p[1], b.p[2]-a.p[2]
			r2 := float64(x*x) + float64(y*y) + float64(z*z)
			r := math.Sqrt(r2)
			t.count[min(int(r/bin), spanBins-1)]++
			if r2 < 1e-30 { // one point, but for rounding
				continue
			}
			n, m := a.n, b.n
			ne := float64(n[0]*x) + float64(n[1]*y) + float64(n[2]*z)
			me := float64(m[0]*x) + float64(m[1]*y) + float64(m[2]*z)
			if ne == 0 || me == 0 {
				continue // both on one flat face, most often
			}
			twist := float64(n[0]*(float64(y*m[2])-float64(z*m[1]))) +
				float64(n[1]*(float64(z*m[0])-float64(x*m[2]))) +
				float64(n[2]*(float64(x*m[1])-float64(y*m[0])))
			chi := float64(twist*ne) * me / float64(r*r2)
			// The pair counts at the two distances it lies between.
			at := r/handGap - 1
			if at < 0 {
				t.hand[0] += float64(chi * (1 + at))
				continue
			}
			k := int(at)
			if k >= nHand {
				continue
			}
			w := at - float64(k)
			t.hand[k] += float64(chi * (1 - w))
			t.hand[k+1] += float64(chi * w)
		}
	}
	return t
}

// slices returns the means of equal slices of count sorted distances, each
// taken as the middle of its bin.
func (t *tally) slices(count int, bin float64) (row [nSpan]float64) {
	each := float64(count) / nSpan
	k, room := 0, each
	for b, c := range t.count {
		// Invariant: slices before k are full, slice k has room for room more.
		for left := float64(c); left > 0; {
			take := math.Min(left, room)
			row[k] += float64(take * (float64(b) + 0.5))
			left -= take
			room -= take
			if room > 0 || k == nSpan-1 {
				break
			}
			k, room = k+1, each
		}
	}
	for k := range row {
		row[k] *= bin / each
	}
	return row
}
