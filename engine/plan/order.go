package plan

// Order: which bead comes after which.
//
// A layer is a list of groups: one for each island of each tool, one for the
// supports. A group is a list of stages, and a stage a list of strokes. From
// where the head is, the nearest group begins; within it, stages go in order:
// inner shells, outer shell, thin walls, solid, infill. Shells go from the
// inside out so that the outer one, the one people see, has something to lean
// on and is not pushed about; what fills them comes after them so that its ends
// meet walls. Within a stage the nearest stroke is next; an open stroke may
// begin at either end, a closed one anywhere: shells at the nearest corner that
// turns inward, where a seam hides, if they have one, else at the nearest point.
//
// The nearest neighbour is some quarter longer than the best tour (D. Rosenkrantz,
// R. Stearns, P. Lewis, 1977, bound it; the quarter is common experience,
// MEMORY), and needs no search. Past tooMany strokes a stage is swept in the
// order of the hatch instead, so that time does not grow as the square.

import (
	"math"

	"platebook/engine/region"
)

const (
	tooMany = 2000
	glance  = 16  // points of a closed stroke looked at when choosing it
	inward  = 0.5 // sine of the turn of a corner that hides a seam: 30°
)

type group struct {
	tool   uint8
	stages [][]stroke
}

// any says whether there is anything to lay in g.
func (g *group) any() bool {
	for _, s := range g.stages {
		if len(s) > 0 {
			return true
		}
	}
	return false
}

// head lays strokes and remembers where it is.
type head struct {
	at    region.Point
	on    bool // at means something
	first bool // layer on the platform
	m     *maker
	out   []Path
}

// groups lays the groups gs, nearest first.
func (h *head) groups(gs []group) {
	left := make([]int, len(gs))
	for i := range left {
		left[i] = i
	}
	many := len(gs) > tooMany
	for len(left) > 0 {
		best, at := int64(math.MaxInt64), 0
		for i, g := range left {
			if d := h.toGroup(&gs[g]); d < best {
				best, at = d, i
			}
			if many {
				break
			}
		}
		g := &gs[left[at]]
		left = append(left[:at], left[at+1:]...)
		for _, s := range g.stages {
			h.stage(s, g.tool)
		}
	}
}

func (h *head) toGroup(g *group) int64 {
	if !h.on {
		return 0
	}
	for _, s := range g.stages {
		best := int64(math.MaxInt64)
		for i := range s {
			d, _ := h.to(&s[i])
			best = min(best, d)
			if i > 64 {
				break
			}
		}
		if len(s) > 0 {
			return best
		}
	}
	return math.MaxInt64 - 1
}

// to returns the square of the distance to s and, if s is open, whether its far end is the nearer.
func (h *head) to(s *stroke) (int64, bool) {
	if !s.closed {
		a, b := apart(h.at, s.pts[0]), apart(h.at, s.pts[len(s.pts)-1])
		return min(a, b), b < a
	}
	best := int64(math.MaxInt64)
	for i := 0; i < len(s.pts); i += 1 + len(s.pts)/glance {
		best = min(best, apart(h.at, s.pts[i]))
	}
	return best, false
}

// stage lays strokes in nearest order.
func (h *head) stage(ss []stroke, tool uint8) {
	left := make([]int32, len(ss))
	for i := range left {
		left[i] = int32(i)
	}
	many := len(ss) > tooMany
	for len(left) > 0 {
		at := 0
		if h.on && !many {
			best := int64(math.MaxInt64)
			for i, k := range left {
				if d, _ := h.to(&ss[k]); d < best {
					best, at = d, i
				}
			}
		}
		k := left[at]
		if many {
			left = left[1:]
		} else {
			left[at] = left[len(left)-1]
			left = left[:len(left)-1]
		}
		h.lay(&ss[k], tool)
	}
}

// lay lays one stroke from its nearest end.
func (h *head) lay(s *stroke, tool uint8) {
	if len(s.pts) < 2 || s.width <= 0 {
		return
	}
	p := Path{Kind: s.kind, Tool: tool, Closed: s.closed, Width: s.width, Speed: speed(h.m.way, s.kind, h.first)}
	if s.closed {
		k := h.seam(s)
		p.Points = make([]region.Point, 0, len(s.pts))
		p.Points = append(append(p.Points, s.pts[k:]...), s.pts[:k]...)
		h.at = p.Points[0]
	} else {
		p.Points = s.pts
		if _, far := h.to(s); far && h.on {
			p.Points = make([]region.Point, len(s.pts))
			for i, q := range s.pts {
				p.Points[len(s.pts)-1-i] = q
			}
		}
		h.at = p.Points[len(p.Points)-1]
	}
	h.on = true
	h.out = append(h.out, p)
}

// seam is the point of a closed stroke to begin at.
func (h *head) seam(s *stroke) int {
	near, dn := 0, int64(math.MaxInt64)
	hidden, dh := -1, int64(math.MaxInt64)
	n := len(s.pts)
	for i, p := range s.pts {
		d := apart(h.at, p)
		if !h.on {
			d = -int64(p.Y) // the first seam of all is at the back
		}
		if d < dn {
			near, dn = i, d
		}
		if d < dh && (s.kind == OuterShell || s.kind == InnerShell) {
			a, b := s.pts[(i+n-1)%n], s.pts[(i+1)%n]
			ux, uy := float64(p.X-a.X), float64(p.Y-a.Y)
			vx, vy := float64(b.X-p.X), float64(b.Y-p.Y)
			// The inside is on the left of a ring: a right turn is an inward corner.
			if turn := float64(ux*vy) - float64(uy*vx); turn < 0 &&
				turn*turn > inward*inward*(float64(ux*ux)+float64(uy*uy))*(float64(vx*vx)+float64(vy*vy)) {
				hidden, dh = i, d
			}
		}
	}
	if hidden >= 0 {
		return hidden
	}
	return near
}
