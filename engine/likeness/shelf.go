package likeness

import (
	"cmp"
	"runtime"
	"slices"
)

// Shelf holds many prints for finding the nearest among them. The zero Shelf
// is empty. Nearest may be called from several goroutines at once, but not
// while a print is added.
//
// Idea: the weighted numbers of all prints lie in one row of float32, read
// from end to end on all cores; a print is left as soon as its sum exceeds the
// n-th best so far. Rejected: trees. In 84 dimensions they look at nearly
// everything, and a plain row of 100 000 prints is read in less time than a
// person can notice.
type Shelf struct {
	rows   []float32 // rowLen for each print
	prints []Print
}

const rowLen = atHand

// Match is a print of a shelf and how it compares.
type Match struct {
	Index int // in the order of Add, from 0
	Likeness
}

// Add puts p on the shelf and returns its index. A print that is not Known
// takes an index too, and is never found.
func (s *Shelf) Add(p Print) int {
	row := weighted(&p)
	s.rows = append(s.rows, row[:]...)
	s.prints = append(s.prints, p)
	return len(s.prints) - 1
}

// Len returns how many prints are on the shelf.
func (s *Shelf) Len() int { return len(s.prints) }

func weighted(p *Print) (row [rowLen]float32) {
	for i := range row {
		row[i] = float32(p.number(i) * weightOf(i))
	}
	return row
}

type candidate struct {
	sum   float32 // squared
	index int
}

func nearer(a, b candidate) int {
	return cmp.Or(cmp.Compare(a.sum, b.sum), cmp.Compare(a.index, b.index))
}

// Nearest returns the n prints nearest to p, nearest first, of equally near
// ones that of the lower index first; fewer when the shelf holds fewer, none
// when p is not Known. It leaves the judgement to the caller: even the nearest
// may be nothing like p.
func (s *Shelf) Nearest(p Print, n int) []Match {
	n = min(n, len(s.prints))
	if n <= 0 || !p.Known() {
		return nil
	}
	// Each core keeps the n best of its stretch; together they hold the n best
	// of all, however many cores there are.
	row := weighted(&p)
	cores := max(1, min(runtime.GOMAXPROCS(0), len(s.prints)/1024))
	best := make([][]candidate, cores)
	share(cores, func(c int) {
		best[c] = s.scan(&row, p.encloses(), n, len(s.prints)*c/cores, len(s.prints)*(c+1)/cores)
	})
	all := slices.Concat(best...)
	slices.SortFunc(all, nearer)
	matches := make([]Match, 0, n)
	for _, c := range all[:min(n, len(all))] {
		matches = append(matches, Match{c.index, Compare(p, s.prints[c.index])})
	}
	slices.SortStableFunc(matches, func(a, b Match) int {
		return cmp.Or(cmp.Compare(a.Apart, b.Apart), cmp.Compare(a.Index, b.Index))
	})
	return matches
}

// scan returns the n nearest of the prints from … to−1, in order.
func (s *Shelf) scan(row *[rowLen]float32, encloses bool, n, from, to int) []candidate {
	best := make([]candidate, 0, min(n, to-from)+1)
	for i := from; i < to; i++ {
		p := &s.prints[i]
		if !p.Known() {
			continue
		}
		other := (*[rowLen]float32)(s.rows[i*rowLen:])
		sum := squares((*[24]float32)(row[:]), (*[24]float32)(other[:]))
		// Invariant: best is in order; sum only grows.
		if len(best) == n && sum > best[n-1].sum {
			continue
		}
		for k := atSpan; k < atSolid; k++ {
			d := row[k] - other[k]
			sum += float32(d * d)
		}
		if encloses && p.encloses() {
			for k := atSolid; k < rowLen; k++ {
				d := row[k] - other[k]
				sum += float32(d * d)
			}
		}
		c := candidate{sum, i}
		if len(best) == n && nearer(c, best[n-1]) > 0 {
			continue
		}
		at, _ := slices.BinarySearchFunc(best, c, nearer)
		best = slices.Insert(best, at, c)
		if len(best) > n {
			best = best[:n]
		}
	}
	return best
}

// squares adds up the squared differences of the first numbers, in four sums,
// which a core adds at the same time.
func squares(a, b *[24]float32) float32 {
	var s [4]float32
	for k := 0; k < 24; k += 4 {
		d0, d1, d2, d3 := a[k]-b[k], a[k+1]-b[k+1], a[k+2]-b[k+2], a[k+3]-b[k+3]
		s[0] += float32(d0 * d0)
		s[1] += float32(d1 * d1)
		s[2] += float32(d2 * d2)
		s[3] += float32(d3 * d3)
	}
	return s[0] + s[1] + (s[2] + s[3])
}
