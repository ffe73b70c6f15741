package slice

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/region"
)

// Chains that do not close by themselves.
//
// A chain is a run of segments with nothing before its first and after its last.
// Its tail is end 2c, its head end 2c+1. Ends are matched in pairs, nearest
// first, a head with a tail within the gap allowed; in the very same place two
// heads or two tails will do, as where a facet is turned over. A chain, or
// several already matched, may close on itself only across less than half its
// own length: else every short run would be swallowed by itself.
//
// For each end only the few nearest others are weighed, out of those that come
// first when ends lie sorted in bands as high as the gap; when these are used
// up, ends still free are weighed again. So neither time nor memory grows with
// the square of the ends, whatever the mesh.

const (
	few    = 4  // nearest ends weighed at a time
	looked = 64 // ends looked at in a band
	rounds = 16
)

type chain struct {
	first, last int32
	length      float64 // microns
}

// An end of a chain, where it is.
type end struct {
	at   region.Point
	band int64
	id   int32
}

type pair struct {
	apart float64 // squared, microns
	a, b  int32
}

func (p pair) alike() bool { return (p.a^p.b)&1 == 0 }

func comparePairs(p, q pair) int {
	if c := cmp.Compare(p.apart, q.apart); c != 0 {
		return c
	}
	if p.alike() != q.alike() {
		if q.alike() {
			return -1
		}
		return 1
	}
	if c := cmp.Compare(p.a, q.a); c != 0 {
		return c
	}
	return cmp.Compare(p.b, q.b)
}

// gaps is what close works in.
type gaps struct {
	chains  []chain
	partner []int32   // of every end, or -1
	root    []int32   // of every chain: those matched together have one root
	length  []float64 // of all chains of a root
	ends    []end
	pairs   []pair
}

// close makes rings of the open chains where their gaps allow it.
func (j *joiner) close() Report {
	g := &j.gaps
	g.chains, g.partner, g.root, g.length = g.chains[:0], g.partner[:0], g.root[:0], g.length[:0]
	for i := range j.seg {
		if j.seg[i].prev >= 0 {
			continue
		}
		c := chain{first: int32(i)}
		for k := int32(i); k >= 0; k = j.seg[k].next {
			s := &j.seg[k]
			s.done = true
			c.last = k
			c.length += math.Sqrt(apart(j.at[s.from], j.at[s.to]))
		}
		g.root = append(g.root, int32(len(g.chains)))
		g.length = append(g.length, c.length)
		g.chains = append(g.chains, c)
		g.partner = append(g.partner, -1, -1)
	}
	for range rounds {
		j.weigh()
		if !g.match() {
			break
		}
	}
	return j.trace()
}

// place returns where an end is.
func (j *joiner) place(e int32) region.Point {
	c := &j.gaps.chains[e/2]
	if e&1 == 0 {
		return j.at[j.seg[c.first].from]
	}
	return j.at[j.seg[c.last].to]
}

// apart returns the squared distance of a and b in microns.
func apart(a, b region.Point) float64 {
	dx, dy := float64(a.X-b.X), float64(a.Y-b.Y)
	return float64(dx*dx) + float64(dy*dy)
}

// weigh lists the pairs of free ends worth a match.
func (j *joiner) weigh() {
	g := &j.gaps
	g.ends, g.pairs = g.ends[:0], g.pairs[:0]
	high := max(1, int64(math.Ceil(j.gap)))
	for e, p := range g.partner {
		if p < 0 {
			at := j.place(int32(e))
			g.ends = append(g.ends, end{at, floorDiv(int64(at.Y), high), int32(e)})
		}
	}
	slices.SortFunc(g.ends, func(a, b end) int {
		if c := cmp.Compare(a.band, b.band); c != 0 {
			return c
		}
		if c := cmp.Compare(a.at.X, b.at.X); c != 0 {
			return c
		}
		return cmp.Compare(a.id, b.id)
	})
	up := 0 // the first end that may be in reach of ends[i] in the band above
	for i, a := range g.ends {
		var best [few]pair
		n := 0
		look := func(from int, band int64) {
			for k := from; k < min(from+looked, len(g.ends)); k++ {
				b := g.ends[k]
				if b.band != band || float64(b.at.X-a.at.X) > j.gap {
					return
				}
				p := pair{apart(a.at, b.at), min(a.id, b.id), max(a.id, b.id)}
				if p.apart > float64(j.gap*j.gap) || p.alike() && p.apart > 0 {
					continue
				}
				at := n
				for at > 0 && comparePairs(p, best[at-1]) < 0 {
					at--
				}
				if at < few {
					n = min(n+1, few)
					copy(best[at+1:n], best[at:])
					best[at] = p
				}
			}
		}
		look(i+1, a.band)
		if j.gap >= 1 {
			for up < len(g.ends) && (g.ends[up].band <= a.band ||
				g.ends[up].band == a.band+1 && float64(a.at.X-g.ends[up].at.X) > j.gap) {
				up++
			}
			look(up, a.band+1)
		}
		g.pairs = append(g.pairs, best[:n]...)
	}
	slices.SortFunc(g.pairs, comparePairs)
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// match takes the pairs, nearest first, and says whether it took any.
func (g *gaps) match() bool {
	took := false
	for _, p := range g.pairs {
		if g.partner[p.a] >= 0 || g.partner[p.b] >= 0 {
			continue
		}
		a, b := g.find(p.a/2), g.find(p.b/2)
		if a == b && float64(4*p.apart) > float64(g.length[a]*g.length[a]) {
			continue
		}
		g.partner[p.a], g.partner[p.b] = p.b, p.a
		took = true
		if a != b {
			g.root[max(a, b)] = min(a, b)
			g.length[min(a, b)] += g.length[max(a, b)]
		}
	}
	return took
}

func (g *gaps) find(c int32) int32 {
	for g.root[c] != c {
		g.root[c] = g.root[g.root[c]]
		c = g.root[c]
	}
	return c
}

// trace makes rings of the chains matched round and counts the others.
func (j *joiner) trace() Report {
	g := &j.gaps
	var rep Report
	seen := make([]bool, len(g.chains))
	// First the runs that end somewhere, then only rounds are left.
	for e, p := range g.partner {
		if p >= 0 || seen[e/2] {
			continue
		}
		length := 0.0
		for e := int32(e); e >= 0; e = g.partner[e^1] {
			seen[e/2] = true
			length += g.chains[e/2].length
		}
		if length > 0 {
			rep.Open++
			rep.OpenMM += length / 1000
		}
	}
	for c := range g.chains {
		if !seen[c] {
			j.round(int32(2*c), seen, &rep)
		}
	}
	if rep.Gaps > 0 || rep.Open > 0 {
		rep.Layers = 1
	}
	return rep
}

// round makes the ring of the chains matched round from end e, which is walked
// the way most of its length runs.
func (j *joiner) round(e int32, seen []bool, rep *Report) {
	g := &j.gaps
	begin := len(j.point)
	ahead := 0.0
	for !seen[e/2] {
		seen[e/2] = true
		c := &g.chains[e/2]
		if e&1 == 0 {
			ahead += c.length
			for k := c.first; k >= 0; k = j.seg[k].next {
				j.put(begin, j.at[j.seg[k].from])
			}
		} else {
			ahead -= c.length
			j.put(begin, j.at[j.seg[c.last].to])
			for k := c.last; j.seg[k].prev >= 0; k = j.seg[k].prev {
				j.put(begin, j.at[j.seg[k].from])
			}
		}
		j.put(begin, j.place(e^1))
		to := g.partner[e^1]
		if d := math.Sqrt(apart(j.place(e^1), j.place(to))); d > 0 {
			rep.Gaps++
			rep.LongestMM = max(rep.LongestMM, d/1000)
		}
		e = to
	}
	if ahead < 0 {
		slices.Reverse(j.point[begin:])
	}
	j.ring(begin)
}
