package findings

import (
	"math"

	"platebook/engine/mesh"
	"platebook/engine/region"
	"platebook/engine/say"
)

// Sway: a tall thin part gives way to the nozzle.
//
// Notation: a column is what stands by itself above an island of a layer, up to
// where it ends or joins another column; h is how far that is. w is the side of
// the square as stiff as the island in its weakest direction, w = √(12·I/A) for
// the least second moment I and the area A: the thickness of a wall, √3/2 of
// the diameter of a rod. What is narrow for less than a quarter of h is a neck,
// which bends little: w is the widest of the lowest quarter. The slenderness of
// the part is the largest h/w of all columns, from wherever one looks up.
//
// Why h/w: a square cantilever of side w pushed sideways by F at its end bends
// by 4F/(E·w)·(h/w)³ (beam theory, COMPUTED). A nozzle drags with about 1 N and
// filament has some 2500 N/mm² (MEMORY): at h/w = 10 and w = 5 mm that is 0.3 mm,
// most of a bead, and the layers no longer meet.
//
// Idea: the sampled layers are linked by overlap from the top down. An island
// carries on what stands on it and on nothing else; what another island carries
// as well is held by both and ends the column.
const (
	swaySlender = 10   // h/w from which a column sways (CUSTOM)
	swayHeight  = 20   // mm of free height from which it matters (CUSTOM)
	mostColumns = 2000 // islands in all sampled layers together
)

// column is where a part is most slender.
type column struct {
	slender, height, width float64
	at                     mesh.Vec // the foot of it
}

func (l *look) sway() {
	c := l.columns()
	if !(c.slender >= swaySlender && c.height >= swayHeight) {
		return
	}
	l.say("may-sway", Note, say.Of(
		"It has a tall thin part that may sway under the nozzle: %s stand free on a width of %s, %s. From about %d times the width on, the upper layers come out rough or fail: print it lying down, thicker, or slowly.",
		mm(c.height), mm(c.width), where(l.box, c.at), swaySlender), []mesh.Vec{{c.at[0], c.at[1], c.at[2] + c.height}, c.at},
		"slenderness", c.slender, "free_height_mm", c.height, "width_mm", c.width)
}

// columns returns the most slender column of the sampled layers.
func (l *look) columns() column {
	type isle struct {
		r   region.Region
		box region.Box
		top float64 // mm: how far up what it alone carries reaches
		up  int     // the island above through which it does, −1 none
		w   float64
		mid [2]float64
	}
	layers := l.sampled.layers
	isles := make([][]isle, len(layers))
	total := 0
	for i, a := range layers {
		for _, r := range a.Region.Islands() {
			isles[i] = append(isles[i], isle{r: r, box: r.Bounds(), top: a.Top, up: -1})
		}
		if total += len(isles[i]); total > mostColumns {
			return column{}
		}
	}
	var best column
	for i := len(layers) - 1; i >= 0; i-- {
		// Invariant: top is known of all islands above.
		if i+1 < len(layers) {
			up := isles[i+1]
			stands := make([][]int, len(up))
			for k := range up {
				for j := range isles[i] {
					if overlap(isles[i][j].box, up[k].box) && !region.Intersect(isles[i][j].r, up[k].r).Empty() {
						stands[k] = append(stands[k], j)
					}
				}
				if len(stands[k]) == 1 {
					below := &isles[i][stands[k][0]]
					if up[k].top > below.top {
						below.top, below.up = up[k].top, k
					}
				}
			}
		}
		for k := range isles[i] {
			s := &isles[i][k]
			s.w, s.mid = stiffness(s.r)
			h := s.top - layers[i].Bottom
			if h < swayHeight {
				continue
			}
			w := s.w
			for j, u := i+1, s.up; u >= 0 && layers[j].Bottom < layers[i].Bottom+float64(h/4); j++ {
				w = math.Max(w, isles[j][u].w)
				u = isles[j][u].up
			}
			if w > 0 && h/w > best.slender {
				best = column{h / w, h, w, mesh.Vec{s.mid[0], s.mid[1], layers[i].Bottom}}
			}
		}
	}
	return best
}

func overlap(a, b region.Box) bool {
	return a.Min.X <= b.Max.X && b.Min.X <= a.Max.X && a.Min.Y <= b.Max.Y && b.Min.Y <= a.Max.Y
}

// stiffness returns √(12·I/A) of r in its weakest direction and its centroid, mm.
// Moments of a polygon are sums over its edges (Green's theorem).
func stiffness(r region.Region) (w float64, centre [2]float64) {
	b := r.Bounds()
	ox, oy := float64(float64(b.Min.X+b.Max.X)/2), float64(float64(b.Min.Y+b.Max.Y)/2)
	var a, sx, sy, sxx, syy, sxy float64
	for _, ring := range r {
		for i, p := range ring {
			q := ring[(i+1)%len(ring)]
			x0, y0 := (float64(p.X)-ox)/1000, (float64(p.Y)-oy)/1000
			x1, y1 := (float64(q.X)-ox)/1000, (float64(q.Y)-oy)/1000
			c := float64(x0*y1) - float64(x1*y0)
			a += c
			sx += float64(c * (x0 + x1))
			sy += float64(c * (y0 + y1))
			sxx += float64(c * (float64(x0*x0) + float64(x0*x1) + float64(x1*x1)))
			syy += float64(c * (float64(y0*y0) + float64(y0*y1) + float64(y1*y1)))
			sxy += float64(c * (float64(x0*y1) + float64(2*x0*y0) + float64(2*x1*y1) + float64(x1*y0)))
		}
	}
	a /= 2
	if !(a > 1e-6) {
		return 0, centre
	}
	cx, cy := sx/(6*a), sy/(6*a)
	ixx := sxx/12 - float64(a*float64(cx*cx))
	iyy := syy/12 - float64(a*float64(cy*cy))
	ixy := sxy/24 - float64(a*float64(cx*cy))
	half := (ixx - iyy) / 2
	least := float64((ixx+iyy)/2) - math.Sqrt(float64(half*half)+float64(ixy*ixy))
	return math.Sqrt(math.Max(12*least/a, 0)), [2]float64{cx + ox/1000, cy + oy/1000}
}
