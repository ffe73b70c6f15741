package picture

import (
	"math"
	"sync"

	"platebook/engine/mesh"
)

// The z-buffer. Vertices are snapped to 1/256 of a sample; which samples a
// facet covers is decided by integer edge functions with a tie rule, so
// neighbours share no sample and leave none out, on any machine (Pineda 1988,
// MEMORY). The picture is cut into bands of rows. Each band has the list of
// facets that touch it, in the order of the mesh, and is drawn by one worker:
// the result does not depend on how many there are.
//
// Rejected: sorting facets by depth (they may intersect); one z-buffer per
// worker merged at the end (memory times workers).

const (
	subBits = 8
	sub     = 1 << subBits
	rows    = 32 // of samples, in a band
)

// point is a vertex in the picture: position in 1/sub samples, depth in samples.
type point struct {
	x, y int32
	z    float32
}

// buffer holds what is seen at each sample.
type buffer struct {
	w, h  int
	depth []float32 // towards the eye; −Inf where there is nothing
	facet []int32   // −1 where there is nothing
}

// each runs f(worker, 0..n-1) on up to workers goroutines, numbered from 0.
func each(n, workers int, f func(worker, i int)) {
	if workers = min(workers, n); workers <= 1 {
		for i := range n {
			f(0, i)
		}
		return
	}
	var wg sync.WaitGroup
	var mu sync.Mutex
	next := 0
	for worker := range workers {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= n {
					return
				}
				f(worker, i)
			}
		})
	}
	wg.Wait()
}

// chunks cuts 0..n into parts of equal length and runs f on each.
func chunks(n, parts, workers int, f func(part, from, to int)) {
	each(parts, workers, func(_, i int) { f(i, n*i/parts, n*(i+1)/parts) })
}

func project(vs []mesh.Vec, c *camera, workers int) []point {
	ps := make([]point, len(vs))
	chunks(len(vs), 64, workers, func(_, from, to int) {
		for i := from; i < to; i++ {
			x, y, z := c.see(vs[i])
			ps[i] = point{int32(math.RoundToEven(x * sub)), int32(math.RoundToEven(y * sub)), float32(z)}
		}
	})
	return ps
}

// firstSample is the first sample whose centre is not before a; lastSample
// the last not after it.
func firstSample(a int32) int { return int(a-sub/2+sub-1) >> subBits }
func lastSample(a int32) int  { return int(a-sub/2) >> subBits }

// rowsOf returns the rows of samples a facet may cover; to < from if none.
func rowsOf(a, b, c point) (from, to int) {
	if firstSample(min(a.x, b.x, c.x)) > lastSample(max(a.x, b.x, c.x)) {
		return 0, -1
	}
	return firstSample(min(a.y, b.y, c.y)), lastSample(max(a.y, b.y, c.y))
}

// render draws the facets into a fresh buffer of w × h samples.
func render(ps []point, fs [][3]int32, w, h, workers int) *buffer {
	b := &buffer{w: w, h: h, depth: make([]float32, w*h), facet: make([]int32, w*h)}
	bands := (h + rows - 1) / rows
	// Count what touches each band, by part of the mesh; then each part has its
	// own places in each band's list, and the lists are in the order of the mesh.
	const parts = 32
	count := make([][]int32, parts)
	touch := func(f [3]int32) (int, int) {
		from, to := rowsOf(ps[f[0]], ps[f[1]], ps[f[2]])
		from, to = max(from, 0), min(to, h-1)
		if from > to {
			return 0, -1
		}
		return from / rows, to / rows
	}
	chunks(len(fs), parts, workers, func(part, from, to int) {
		n := make([]int32, bands)
		for _, f := range fs[from:to] {
			first, last := touch(f)
			for i := first; i <= last; i++ {
				n[i]++
			}
		}
		count[part] = n
	})
	start := make([]int, bands+1)
	total := 0
	for i := range bands {
		start[i] = total
		for p := range parts {
			n := int(count[p][i])
			count[p][i] = int32(total - start[i])
			total += n
		}
	}
	start[bands] = total
	list := make([]int32, total)
	chunks(len(fs), parts, workers, func(part, from, to int) {
		for i, f := range fs[from:to] {
			first, last := touch(f)
			for k := first; k <= last; k++ {
				list[start[k]+int(count[part][k])] = int32(from + i)
				count[part][k]++
			}
		}
	})
	each(bands, workers, func(_, i int) {
		top, bottom := i*rows, min((i+1)*rows, h)
		for k := top * w; k < bottom*w; k++ {
			b.depth[k], b.facet[k] = float32(math.Inf(-1)), -1
		}
		for _, id := range list[start[i]:start[i+1]] {
			f := fs[id]
			b.fill(id, ps[f[0]], ps[f[1]], ps[f[2]], top, bottom)
		}
	})
	return b
}

// fill draws one facet into the rows top ≤ y < bottom: where it is nearer than
// what is there, it takes the sample.
func (b *buffer) fill(id int32, p, q, r point, top, bottom int) {
	area := int64(q.x-p.x)*int64(r.y-p.y) - int64(r.x-p.x)*int64(q.y-p.y)
	if area == 0 {
		return
	}
	if area < 0 {
		q, r, area = r, q, -area
	}
	x0, x1 := max(firstSample(min(p.x, q.x, r.x)), 0), min(lastSample(max(p.x, q.x, r.x)), b.w-1)
	y0, y1 := max(firstSample(min(p.y, q.y, r.y)), top), min(lastSample(max(p.y, q.y, r.y)), bottom-1)
	// Depth is a plane over the picture, kept within the facet's own depths.
	zmin, zmax := min(p.z, q.z, r.z), max(p.z, q.z, r.z)
	dq, dr := float64(q.z)-float64(p.z), float64(r.z)-float64(p.z)
	gx := (float64(dq*float64(r.y-p.y)) - float64(dr*float64(q.y-p.y))) / float64(area)
	gy := (float64(dr*float64(q.x-p.x)) - float64(dq*float64(r.x-p.x))) / float64(area)
	ex, ey, ec := edge(p, q)
	fx, fy, fc := edge(q, r)
	hx, hy, hc := edge(r, p)
	for y := y0; y <= y1; y++ {
		sy := int64(y)<<subBits + sub/2
		sx := int64(x0)<<subBits + sub/2
		e, f, h := ex*sx+ey*sy+ec, fx*sx+fy*sy+fc, hx*sx+hy*sy+hc
		row := float64(p.z) + float64(gy*float64(sy-int64(p.y)))
		at := y*b.w + x0
		// Invariant: e, f, h are the edge functions at sample x of row y.
		for x := x0; x <= x1; x++ {
			if e|f|h >= 0 {
				z := float32(row + float64(gx*float64(int64(x)<<subBits+sub/2-int64(p.x))))
				z = min(max(z, zmin), zmax)
				if z > b.depth[at] {
					b.depth[at], b.facet[at] = z, id
				}
			}
			e, f, h = e+ex<<subBits, f+fx<<subBits, h+hx<<subBits
			at++
		}
	}
}

// edge returns a, b, c with a·x + b·y + c ≥ 0 for what is inside the edge from
// p to q of a facet of positive area. A sample on the edge itself belongs to
// it only if the edge is a left or a top one.
func edge(p, q point) (a, b, c int64) {
	a, b = int64(p.y)-int64(q.y), int64(q.x)-int64(p.x)
	c = -a*int64(p.x) - b*int64(p.y)
	if !(a > 0 || (a == 0 && b > 0)) {
		c--
	}
	return a, b, c
}
