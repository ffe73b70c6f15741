package findings

import (
	"cmp"
	"math"
	"slices"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/say"
)

// Warping: sharp corners of a large flat base lift off.
//
// Notation: D the distance of a corner of the first layer from the middle of the
// island it belongs to, ΔT by how much the material cools after it has set. The
// layers above shrink by α·ΔT·D towards the middle and lever the corner up.
// Plastics set near the temperature that the platform is kept at, so ΔT is that
// less the air's, and α is about 8·10⁻⁵ 1/K for all common filaments (MEMORY). A
// corner is said to be at risk where α·ΔT·D reaches warpShrink (CUSTOM): 63 mm
// from the middle with a platform at 60 °C, 31 mm with one at 100 °C.
//
// A corner is sharp if the outline turns by cornerTurn or more within the arc
// of a fillet of cornerRadius: rounded further, the pull spreads out (CUSTOM).
const (
	shrinkage    = 8e-5 // 1/K
	warpShrink   = 0.2  // mm
	warpArea     = 200  // mm² of an island: smaller ones have no grip to lose
	cornerTurn   = 60   // degrees
	cornerRadius = 3    // mm
)

func (l *look) warp() {
	if l.contact == nil {
		return
	}
	m, cooling := l.warmest()
	if !(cooling > 0) {
		return
	}
	type corner struct {
		at      mesh.Vec
		shrinks float64
	}
	var risky []corner
	longest := 0.0
	for _, island := range l.contact.Region.Islands() {
		if island.Area() < warpArea {
			continue
		}
		_, mid := stiffness(island)
		for _, p := range corners(island[0]) {
			dx, dy := float64(p.X)/1000-mid[0], float64(p.Y)/1000-mid[1]
			d := math.Sqrt(float64(dx*dx) + float64(dy*dy))
			if s := shrinkage * cooling * d; s >= warpShrink {
				risky = append(risky, corner{mesh.Vec{float64(p.X) / 1000, float64(p.Y) / 1000, 0}, s})
				longest = math.Max(longest, d)
			}
		}
	}
	if len(risky) == 0 {
		return
	}
	slices.SortStableFunc(risky, func(a, b corner) int { return cmp.Compare(b.shrinks, a.shrinks) })
	var places []mesh.Vec
	for _, c := range risky {
		places = append(places, c.at)
	}
	do := say.Of("A brim or a raft holds them down; rounded corners warp less.")
	if l.margin() > 0 {
		do = say.Of("Its base helps to hold them down.")
	}
	l.say("may-warp", Note, say.Join(" ", say.Counted(len(risky),
		"One sharp corner of its base may lift off the platform as the part cools: it lies %s from the middle, where %s shrinks by about %s.",
		"%d sharp corners of its base may lift off the platform as the part cools: the farthest lies %s from the middle, where %s shrinks by about %s.",
		mm(longest), m.Name, mm(risky[0].shrinks)), do), places,
		"corners", len(risky), "farthest_mm", longest, "shrinks_mm", risky[0].shrinks)
}

// warmest returns the material that cools most after it has set, and by how much.
func (l *look) warmest() (m printer.Material, cooling float64) {
	air := positive(l.Printer.AmbientC, 20)
	for _, a := range l.Materials {
		if c := a.PlatformC - air; c > cooling && c < 300 && a.Name != "" {
			m, cooling = a, c
		}
	}
	return m, cooling
}

// corners returns the sharp corners of an outline, counter-clockwise.
func corners(ring region.Ring) []region.Point {
	simple := region.Region{ring}.Simplify(50)
	if len(simple) != 1 {
		return nil
	}
	r := simple[0]
	n := len(r)
	turn, edge := make([]float64, n), make([]float64, n) // at each vertex; to the next
	for i, p := range r {
		a, b := r[(i+n-1)%n], r[(i+1)%n]
		ux, uy := float64(p.X-a.X), float64(p.Y-a.Y)
		vx, vy := float64(b.X-p.X), float64(b.Y-p.Y)
		turn[i] = math.Atan2(float64(ux*vy)-float64(uy*vx), float64(ux*vx)+float64(uy*vy)) * 180 / math.Pi
		edge[i] = math.Sqrt(float64(vx*vx)+float64(vy*vy)) / 1000
	}
	// Begin after a vertex that turns by nothing much, so that no corner is split.
	from := 0
	for i := range edge {
		if edge[(i+n-1)%n] > edge[(from+n-1)%n] {
			from = i
		}
	}
	const reach = cornerRadius * cornerTurn * math.Pi / 180
	var out []region.Point
	for k := 0; k < n; {
		// Invariant: corners at the vertices before the k-th are known.
		sum, long, j := turn[(from+k)%n], 0.0, k
		for sum < cornerTurn && j+1 < n {
			if long += edge[(from+j)%n]; long > reach {
				break
			}
			j++
			sum += turn[(from+j)%n]
		}
		if sum < cornerTurn-1e-6 {
			k++
			continue
		}
		out = append(out, r[(from+(k+j)/2)%n])
		// The rest of the same corner is not another one.
		for long = 0; j+1 < n && turn[(from+j+1)%n] > 0; j++ {
			if long += edge[(from+j)%n]; long > reach {
				break
			}
		}
		k = j + 1
	}
	return out
}
