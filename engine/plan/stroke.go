package plan

import (
	"math"

	"platebook/engine/region"
)

// stroke is a path before it has its place in the order.
type stroke struct {
	kind   Kind
	closed bool
	width  region.Micron
	pts    []region.Point
}

const (
	degree = math.Pi / 180
	right  = math.Pi / 2
)

// round is the sagitta in microns allowed where a corner is rounded.
const round = 20

func mm(d region.Micron) float64 { return float64(d) / 1000 }

// microns rounds mm to the grid; what is absurdly far is clamped.
func microns(d float64) region.Micron {
	return region.Micron(math.Round(max(-1e9, min(1e9, d)) * 1000))
}

// grow offsets r by d with mitred corners, which keep areas and lengths exact.
func grow(r region.Region, d region.Micron) region.Region {
	if len(r) == 0 || d == 0 {
		return r
	}
	return r.Offset(d, region.Mitre, round)
}

// islands are the connected parts of r.
func islands(r region.Region) []region.Region {
	if len(r) == 1 {
		return []region.Region{r}
	}
	return r.Islands()
}

// swell offsets r by d with rounded corners: everything within d of r.
func swell(r region.Region, d region.Micron) region.Region {
	if len(r) == 0 || d == 0 {
		return r
	}
	return r.Offset(d, region.Round, round)
}

// area is in mm².
func area(r region.Region) float64 { return r.Area() }

// perimeter is in mm.
func perimeter(r region.Region) float64 { return r.Perimeter() }

// apart is the square of the distance of two points, in square microns.
func apart(a, b region.Point) int64 {
	dx, dy := int64(a.X-b.X), int64(a.Y-b.Y)
	return dx*dx + dy*dy
}

func distance(a, b region.Point) float64 { return math.Sqrt(float64(apart(a, b))) / 1000 }

// lineLength is in mm.
func lineLength(pts []region.Point) float64 {
	l := 0.0
	for i := 1; i < len(pts); i++ {
		l += distance(pts[i-1], pts[i])
	}
	return l
}

func pathLength(pts []region.Point, closed bool) float64 {
	l := lineLength(pts)
	if closed && len(pts) > 1 {
		l += distance(pts[len(pts)-1], pts[0])
	}
	return l
}

// length of all strokes, mm.
func length(s []stroke) float64 {
	l := 0.0
	for i := range s {
		l += pathLength(s[i].pts, s[i].closed)
	}
	return l
}

// loops makes a closed stroke of every ring.
func loops(r region.Region, kind Kind, w region.Micron) []stroke {
	s := make([]stroke, 0, len(r))
	for _, ring := range r {
		if len(ring) >= 3 {
			s = append(s, stroke{kind: kind, closed: true, width: w, pts: ring})
		}
	}
	return s
}
