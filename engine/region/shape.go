package region

import "math"

// Translate returns r moved by (dx, dy).
func (r Region) Translate(dx, dy Micron) Region {
	dx, dy = max(-2*Limit, min(2*Limit, dx)), max(-2*Limit, min(2*Limit, dy))
	return r.each(func(p Point) Point {
		return Point{Micron(fit(p.X)) + dx, Micron(fit(p.Y)) + dy}
	})
}

// Turn returns r turned counter-clockwise about the origin by angle radians,
// vertices rounded to the grid.
func (r Region) Turn(angle float64) Region {
	sin, cos := sincos(angle)
	return r.each(func(p Point) Point {
		x, y := float64(fit(p.X)), float64(fit(p.Y))
		return Point{
			Micron(math.Floor(float64(x*cos) - float64(y*sin) + 0.5)),
			Micron(math.Floor(float64(x*sin) + float64(y*cos) + 0.5)),
		}
	})
}

// each returns r with every vertex moved by f, which keeps orientation.
func (r Region) each(f func(Point) Point) Region {
	out := make(Region, 0, len(r))
	for _, ring := range r.sound() {
		moved := make(Ring, len(ring))
		for i, p := range ring {
			moved[i] = f(p)
		}
		out = append(out, moved)
	}
	return read(rulePositive, out)
}

// Simplify returns r without the vertices that lie within tol of what replaces
// them. D. Douglas and T. Peucker, 1973 (MEMORY), on runs of at most runLength
// vertices, which bounds the time on hostile rings.
func (r Region) Simplify(tol Micron) Region {
	tol = max(0, min(tol, 2*Limit))
	out := make(Region, 0, len(r))
	for _, ring := range r.sound() {
		if thin := ring.thin(tol); len(thin) >= 3 {
			out = append(out, thin)
		}
	}
	return read(rulePositive, out)
}

const runLength = 4096

func (r Ring) thin(tol Micron) Ring {
	n := len(r)
	far := 0
	for i := range r { // the vertex farthest from the first stays as well
		if apart(r[0], r[i]) > apart(r[0], r[far]) {
			far = i
		}
	}
	if sq := float64(tol) * float64(tol); float64(apart(r[0], r[far])) <= sq {
		return nil
	}
	keep := make([]bool, n)
	keep[0], keep[far] = true, true
	var runs [][2]int
	for _, half := range [][2]int{{0, far}, {far, n}} {
		for i := half[0]; i < half[1]; i += runLength {
			j := min(i+runLength, half[1])
			keep[i%n] = true
			runs = append(runs, [2]int{i, j})
		}
	}
	// Invariant: a run still to do has both ends kept.
	for len(runs) > 0 {
		run := runs[len(runs)-1]
		runs = runs[:len(runs)-1]
		a, b := r[run[0]], r[run[1]%n]
		worst, at := float64(tol), 0
		for i := run[0] + 1; i < run[1]; i++ {
			if d := distance(r[i], a, b); d > worst {
				worst, at = d, i
			}
		}
		if at > 0 {
			keep[at] = true
			runs = append(runs, [2]int{run[0], at}, [2]int{at, run[1]})
		}
	}
	var out Ring
	for i, p := range r {
		if keep[i] {
			out = append(out, p)
		}
	}
	return out
}

// apart returns the square of the distance of a and b.
func apart(a, b Point) int64 {
	dx, dy := int64(b.X-a.X), int64(b.Y-a.Y)
	return dx*dx + dy*dy
}

// distance returns how far p is from the segment ab.
func distance(p, a, b Point) float64 {
	l := apart(a, b)
	dx, dy := int64(b.X-a.X), int64(b.Y-a.Y)
	along := dx*int64(p.X-a.X) + dy*int64(p.Y-a.Y)
	switch {
	case along <= 0:
		return math.Sqrt(float64(apart(p, a)))
	case along >= l:
		return math.Sqrt(float64(apart(p, b)))
	}
	c := cross(dx, dy, int64(p.X-a.X), int64(p.Y-a.Y))
	return math.Abs(float64(c)) / math.Sqrt(float64(l))
}
