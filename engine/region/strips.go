package region

import (
	"math/bits"
	"slices"
)

// The plane is laid out in vertical strips, so that a segment is held only
// against segments and hot pixels near it in x as well as in y. Strips are a
// power of two wide, few enough that a segment lies in four of them on average
// at most, and hold some dozens of segments each.

// A pixel is a hot pixel: its centre and its place in H.
type pixel struct{ x, y, id int32 }

const perStrip = 24

func (w *work) stripOf(x int32) int { return int((x - w.left) >> w.shift) }

// rule chooses the strips for n things that are held against the segments, and
// returns how many there are.
func (w *work) rule(n int) int {
	left, right, sum := limit, -limit, int64(0)
	for i := range w.sorted {
		s := &w.sorted[i]
		left, right = min(left, s.ax, s.bx), max(right, s.ax, s.bx)
		sum += max(int64(s.bx)-int64(s.ax), int64(s.ax)-int64(s.bx))
	}
	if left > right {
		left, right = 0, 0
	}
	// A strip must be wider than width·perStrip/n, and than sum/3n, so that no
	// more than 3n borders are crossed.
	many, width := int64(max(n, 1)), int64(right)-int64(left)+1
	w.left = left
	w.shift = uint(bits.Len64(uint64(max(1, width*perStrip/many, sum/(3*many)))))
	w.strips = int((width-1)>>w.shift) + 1
	return w.strips
}

// layStrips sorts the segments into strips, keeping their order.
func (w *work) layStrips() {
	count := w.rule(len(w.sorted)) + 1
	w.strip = slices.Grow(w.strip[:0], count+1)[:count+1]
	clear(w.strip)
	for i := range w.sorted {
		s := &w.sorted[i]
		a, b := w.stripOf(s.ax), w.stripOf(s.bx)
		for k := min(a, b); k <= max(a, b); k++ {
			w.strip[k+2]++
		}
	}
	for i := 2; i < len(w.strip); i++ {
		w.strip[i] += w.strip[i-1]
	}
	total := int(w.strip[count])
	w.inStrip = slices.Grow(w.inStrip[:0], total)[:total]
	for i := range w.sorted {
		s := &w.sorted[i]
		a, b := w.stripOf(s.ax), w.stripOf(s.bx)
		for k := min(a, b); k <= max(a, b); k++ {
			w.inStrip[w.strip[k+1]] = int32(i)
			w.strip[k+1]++
		}
	}
	w.strip = w.strip[:count]
}

// spread sorts H into strips, keeping its order.
func (w *work) spread() {
	if len(w.hx) > 2*len(w.sorted) {
		w.rule(len(w.hx)) // so many crossings call for narrower strips
	}
	count := w.strips + 1
	w.pixel = slices.Grow(w.pixel[:0], count+1)[:count+1]
	clear(w.pixel)
	for _, x := range w.hx {
		w.pixel[w.stripOf(x)+2]++
	}
	for i := 2; i < len(w.pixel); i++ {
		w.pixel[i] += w.pixel[i-1]
	}
	w.pixels = slices.Grow(w.pixels[:0], len(w.hx))[:len(w.hx)]
	for i, x := range w.hx {
		at := &w.pixel[w.stripOf(x)+1]
		w.pixels[*at] = pixel{x, w.hy[i], int32(i)}
		*at++
	}
	w.pixel = w.pixel[:count]
	w.low = append(w.low[:0], w.pixel...)
}

// pixelsFrom returns the hot pixels of a strip from height y up. Segments come in
// order of their lower ends, floor rises with them, and y is not below it.
func (w *work) pixelsFrom(strip int, y int32) []pixel {
	pixels := w.pixels[:w.pixel[strip+1]]
	from := int(w.low[strip])
	for from < len(pixels) && pixels[from].y < w.floor {
		from++
	}
	w.low[strip] = int32(from)
	for near := min(from+8, len(pixels)); from < near; from++ {
		if pixels[from].y >= y {
			return pixels[from:]
		}
	}
	to := len(pixels)
	for from < to {
		mid := int(uint(from+to) >> 1)
		if pixels[mid].y < y {
			from = mid + 1
		} else {
			to = mid
		}
	}
	return pixels[from:]
}

// within returns heights of s between which it passes the strip, with a grid step
// to spare, for a segment that is in more than one.
func (w *work) within(s *seg, strip int) (lo, hi int32) {
	ax, dx, dy := int64(s.ax), int64(s.bx)-int64(s.ax), int64(s.by)-int64(s.ay)
	x := int64(w.left) + int64(strip)<<w.shift
	from, to := x-1-ax, x+int64(1)<<w.shift-ax // the pixels of the strip end half a step outside
	if dx < 0 {
		from, to, dx = -to, -from, -dx
	}
	from, to = max(0, from), min(dx, to)
	return max(s.ay, s.ay+int32(from*dy/dx)-1), min(s.by, s.ay+int32(to*dy/dx)+1)
}

// radix sorts keys by their bits from bit low up and returns them and the spare
// slice, which may have changed places. Keys equal in these bits keep their order.
func radix(keys, spare []uint64, low int) ([]uint64, []uint64) {
	if len(keys) < 96 {
		// Lower bits, if any, number the keys, so the order is the same.
		slices.Sort(keys)
		return keys, spare
	}
	const digit = 11
	spare = slices.Grow(spare[:0], len(keys))[:len(keys)]
	varies := uint64(0)
	for _, k := range keys {
		varies |= k ^ keys[0]
	}
	varies = varies >> low << low
	for varies != 0 {
		at := bits.TrailingZeros64(varies)
		var place [1 << digit]int32
		for _, k := range keys {
			place[k>>at&(1<<digit-1)]++
		}
		sum := int32(0)
		for i, n := range place {
			place[i] = sum
			sum += n
		}
		for _, k := range keys {
			p := &place[k>>at&(1<<digit-1)]
			spare[*p] = k
			*p++
		}
		keys, spare = spare, keys
		varies = varies >> at >> digit << digit << at
	}
	return keys, spare
}
