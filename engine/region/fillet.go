package region

// Fillets: runs of short edges around a reflex corner of a radius less than the
// offset. Every strip there crosses every other, k edges make k² crossings, and
// nothing of them is left in the end.
//
// # Notation
//
// e0, then vertices v1 … vk joined by short edges, then ek+1: a run of reflex
// corners, turning by at most a right angle in all. V is where e0 and ek+1 meet if
// they are made longer, X where they meet when moved by d; T0 and Tk are the feet
// of X on their lines.
//
// # Idea
//
// If T0 and Tk lie on e0 and ek+1 (made longer up to V), and X is at least d from
// the line of every short edge, then offsetting the sharp corner V gives the same
// as offsetting the run, and the curve may go through X at once.
// Growing, say: the sharp corner has a piece Q more outside, between V and the
// run. A point p that only Q would reach is one whose disc of radius d misses e0
// and ek+1 but meets Q. The disc D around X touches e0 and ek+1 in T0 and Tk and
// does not meet Q. The part of p's disc outside D is connected and can leave the
// gap between V and D neither through e0 or ek+1 nor through D, so it lies in the
// gap; as the discs are equal it is wider than half a disc, so p's disc lies
// between the two lines; then p lies in the cone from X away from V. But along
// the cone the distance from the line of every short edge only grows.
//
// Where a run turns farther (the round end of a thin rib), vertices are dropped
// first that lie between edges short against d and within filletTolerance of what
// remains.

// filletTolerance is a grid step.
const filletTolerance = 1

// longestRun bounds the work on hostile rings.
const longestRun = 256

// run looks for a run of reflex corners from ring[i] to ring[j] whose sides before
// and after, once moved, meet in X = ring[i] + (x, y). It returns j, or i if there
// is none.
func (o *offsetter) run(ring Ring, i int) (j int, x, y int64) {
	s := &o.sides[i]
	for j = i + 1; j < len(ring) && j-i < longestRun; j++ {
		t := &o.sides[j+1]
		c := float64(s.nx*t.nx) + float64(s.ny*t.ny)
		if c < sharpest || o.turn(&o.sides[j], t) > 0 {
			break
		}
		det := float64(s.nx*t.ny) - float64(s.ny*t.nx)
		if det*o.sign >= 0 {
			continue // no turn to speak of as yet
		}
		qx, qy := float64(ring[j].X-ring[i].X), float64(ring[j].Y-ring[i].Y)
		far := o.dist + float64(float64(t.nx*qx)+float64(t.ny*qy))
		fx := float64(float64(float64(o.dist*t.ny)-float64(far*s.ny)) / det)
		fy := float64(float64(float64(far*s.nx)-float64(o.dist*t.nx)) / det)
		foot := float64(float64(fx*float64(s.dx))+float64(fy*float64(s.dy))) / s.len
		feet := float64(float64((fx-qx)*float64(t.dx))+float64((fy-qy)*float64(t.dy))) / t.len
		if foot < -s.len || feet > t.len || !o.clear(ring, i, j, fx, fy) {
			continue
		}
		x, y = nearest(fx), nearest(fy)
		return j, x, y
	}
	return i, 0, 0
}

// clear says whether ring[i] + (x, y) is dist from every side between ring[i] and
// ring[j].
func (o *offsetter) clear(ring Ring, i, j int, x, y float64) bool {
	for k := i; k < j; k++ {
		t := &o.sides[k+1]
		px, py := x-float64(ring[k].X-ring[i].X), y-float64(ring[k].Y-ring[i].Y)
		if float64(px*t.nx)+float64(py*t.ny) < o.dist-0.25 {
			return false
		}
	}
	return true
}

// thin drops vertices of fillets from a ring whose sides are measured. It keeps at
// least three.
func (o *offsetter) thin(ring Ring) Ring {
	out := o.thinned[:0]
	from := 0 // the vertex kept last
	for i, p := range ring {
		if i > 0 && i+1 < len(ring) && i-from < longestRun && o.fillet(i) {
			within := true
			for k := from + 1; k <= i && within; k++ {
				within = distance(ring[k], ring[from], ring[i+1]) <= filletTolerance
			}
			if within {
				continue
			}
		}
		out = append(out, p)
		from = i
	}
	o.thinned = out
	if len(out) < 3 {
		return ring
	}
	return out
}

// fillet says whether ring[i] lies between two edges short against the distance,
// at or next to a reflex corner whose sides meet only beyond their ends. (Next to:
// on the grid a fine fillet wobbles.)
func (o *offsetter) fillet(i int) bool {
	n := len(o.sides) - 1
	return max(o.sides[i].len, o.sides[i+1].len) < o.dist/8 &&
		(o.late(i) || o.late((i+n-1)%n) || o.late((i+1)%n))
}

// late says whether ring[i] is a reflex corner whose sides, once moved, meet only
// beyond their ends.
func (o *offsetter) late(i int) bool {
	s, t := &o.sides[i], &o.sides[i+1]
	return o.turn(s, t) < 0 && !o.meetEarly(s, t)
}
