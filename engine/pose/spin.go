package pose

import (
	"math"
	"slices"

	"platebook/engine/mesh"
)

// Spinning a footprint so that it fits a rectangle.
//
// Notation: P a convex outline with corners p; θ a turn of P; u(θ) and v(θ) the
// directions of P that come to lie along x and y; w(θ), d(θ) the width and depth
// of P then, W × D the platform.
//
// Idea: between two turns at which an edge of P comes to lie along an axis, the
// same two corners bound the width and the same two the depth, so
// w(θ) = |q−p|·cos(θ−α), an arch over its stretch: it is at most W but for one
// gap in the middle. The least turn at which both fit is therefore an end of a
// stretch or an end of a gap: a handful of angles for each stretch, and the
// answer, either way, is exact but for rounding. A rectangle looks the same
// after half a turn, so −90° to 90° are all turns there are.
//
// Source: the stretches are those of the calipers in Toussaint 1983 (see
// flat.go). Rejected: trying every degree, which misses the long thin part that
// fits along the diagonal only.

// Spin returns the turn about the vertical, in radians counter-clockwise, after
// which the footprint of m fits a platform of platform[0] × platform[1] mm, and
// whether there is one. It is the smallest such turn in size, 0 if m fits as it
// is, from −π/2 to π/2, rounded to 1e-9. To fit is to overhang by no more than a
// millionth of a millimetre. A platform side that is no positive number fits
// nothing, an infinite one everything. m must be mesh.Valid; an empty one fits.
func Spin(m *mesh.Mesh, platform [2]float64) (angle float64, ok bool) {
	_, used := usedVertices(m)
	pts := make([]point, len(used))
	for i, v := range used {
		pts[i] = point{v[0], v[1]}
	}
	return spin(outline(pts), platform)
}

// hairfit is what fitting may overlook, mm: rounding on a part of any size.
func hairfit(size float64) float64 { return 1e-6 + float64(1e-9*size) }

func fitsIn(x, limit float64) bool { return x <= limit+hairfit(x) && limit > 0 }

func spin(hull []point, platform [2]float64) (angle float64, ok bool) {
	fits := func(theta float64) bool {
		w, d := extents(hull, along(theta))
		return fitsIn(w, platform[0]) && fitsIn(d, platform[1])
	}
	if len(hull) == 0 || fits(0) {
		return 0, true
	}
	if len(hull) < 2 {
		return 0, false
	}
	best := math.Inf(1)
	// try keeps theta, known to fit the corners that bound its stretch.
	try := func(theta float64) {
		if a, b := math.Abs(theta), math.Abs(best); a < b-1e-9 || a < b+1e-9 && theta > best {
			best = theta
		}
	}
	at := stretches(hull)
	var c [4]int // corners farthest along u, −u, v, −v
	for i := range len(at) - 1 {
		from, to := at[i], at[i+1]
		u := along((from + to) / 2)
		v := u.left()
		for k, dir := range [4]point{u, {-u[0], -u[1]}, v, {-v[0], -v[1]}} {
			c[k] = climb(hull, c[k], dir)
		}
		w, d := hull[c[0]].sub(hull[c[1]]), hull[c[2]].sub(hull[c[3]])
		angles := [6]float64{from, to}
		// w(θ) = w·u(θ) = |w|·cos(θ + atan2(w.y, w.x)); d(θ) likewise.
		angles[2], angles[3] = ends(-math.Atan2(w[1], w[0]), math.Sqrt(w.dot(w)), platform[0], from)
		angles[4], angles[5] = ends(math.Atan2(d[0], d[1]), math.Sqrt(d.dot(d)), platform[1], from)
		for _, a := range angles {
			if !(a >= from && a <= to) {
				continue
			}
			u := along(a)
			if fitsIn(w.dot(u), platform[0]) && fitsIn(d.dot(u.left()), platform[1]) {
				try(a)
			}
		}
	}
	best = math.Round(best*1e9) / 1e9
	if math.IsInf(best, 0) || !fits(best) {
		return 0, false
	}
	return best, true
}

// along is the direction of the part that a turn by theta brings to lie along x.
func along(theta float64) point {
	r := mesh.Turn(mesh.Vec{0, 0, 1}, theta).A
	return point{r[0][0], r[0][1]}
}

// stretches returns, in order from −π/2 to π/2, the turns at which an edge of
// the outline comes to lie along an axis, with 0 and both ends.
func stretches(hull []point) []float64 {
	at := []float64{-math.Pi / 2, 0, math.Pi / 2}
	for i, p := range hull {
		e := hull[(i+1)%len(hull)].sub(p)
		a := -math.Atan2(e[1], e[0])
		a -= float64(math.Floor(a/(math.Pi/2)) * (math.Pi / 2)) // 0 to π/2
		if a > 0 && a < math.Pi/2 {
			at = append(at, a, a-math.Pi/2)
		}
	}
	slices.Sort(at)
	return slices.Compact(at)
}

// ends returns the ends of the gap in which reach·cos(θ−middle) exceeds limit,
// a whole number of turns off so that they come after from; NaN without a gap.
func ends(middle, reach, limit, from float64) (float64, float64) {
	if !(reach > limit) || !(limit > 0) {
		return math.NaN(), math.NaN()
	}
	half := math.Acos(limit / reach)
	after := func(a float64) float64 {
		return a + float64(math.Ceil((from-1e-12-a)/(2*math.Pi))*(2*math.Pi))
	}
	return after(middle - half), after(middle + half)
}

// climb walks from corner i to the corner farthest along dir.
func climb(hull []point, i int, dir point) int {
	n := len(hull)
	for range n {
		next, last := (i+1)%n, (i+n-1)%n
		here := hull[i].dot(dir)
		switch {
		case hull[next].dot(dir) > here:
			i = next
		case hull[last].dot(dir) > here:
			i = last
		default:
			return i
		}
	}
	return i
}
