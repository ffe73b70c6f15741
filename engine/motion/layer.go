package motion

import (
	"fmt"
	"math"

	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/region"
)

// travelling is the kind of a straight that deposits nothing, beside plan's kinds.
const travelling = plan.Kinds

// head walks the layers one worker was given. Its buffers are kept from layer
// to layer.
type head struct {
	pr        *printer.Printer
	materials []printer.Material

	spending            // of the current layer
	run      []straight // moves since the head last stood still
	line     []point    // the path at hand, simplified
}

// layer simulates one layer and leaves what it took in h.spending.
func (h *head) layer(l *plan.Layer, s start) error {
	h.spending = spending{}
	h.run = h.run[:0]
	height := l.Top - l.Bottom
	begun, setting := false, 0.0
	for i := range l.Paths {
		p := &l.Paths[i]
		if len(p.Points) == 0 {
			continue
		}
		m := &h.materials[p.Tool] // scan has seen that it is there
		width := float64(p.Width) / 1000
		if !between(p.Speed, leastSpeed, mostSpeed) || !(width > 0) || p.Kind >= plan.Kinds {
			return fmt.Errorf("path %d: a bead of kind %d cannot be laid at %v mm/s, %v mm wide; all must be positive", i+1, p.Kind, p.Speed, width)
		}
		if !onGrid(p.Points) {
			return fmt.Errorf("path %d: it leaves the grid, %v m each way; move the parts to the middle of the platform", i+1, float64(region.Limit)/1e6)
		}
		if s.first {
			s.first, s.at, s.tool = false, p.Points[0], p.Tool
		} else if !begun {
			h.layerChange = rest(s.climb, h.pr.MaxSpeed[2], h.pr.MaxAcceleration[2]) + h.pr.LayerChangeTime
		}
		begun = true
		setting = max(setting, m.MinLayerTime)
		if p.Tool != s.tool {
			h.stand()
			h.toolChange += h.pr.ToolChangeTime
			s.tool = p.Tool
		}
		h.travelTo(s.at, p.Points[0])
		h.lay(p, min(p.Speed, m.MaxFlow/float64(width*height)))
		s.at = end(p)
	}
	h.stand()
	h.waiting = max(0, setting-h.moving())
	return nil
}

// travelTo moves without depositing. A travel no longer than RetractionTravel
// flows on from the bead before and into the bead after, through corners; a
// longer one stands still at both ends while the filament is drawn back and
// pushed forward again.
func (h *head) travelTo(from, to region.Point) {
	if from == to {
		return
	}
	s := h.straight(toPoint(from), toPoint(to), travelling, h.pr.TravelSpeed, h.pr.TravelAcceleration)
	if s.length <= h.pr.RetractionTravel || h.pr.RetractionLength == 0 {
		h.run = append(h.run, s)
		return
	}
	h.stand()
	h.retraction += 2 * h.pr.RetractionLength / h.pr.RetractionSpeed
	h.run = append(h.run, s)
	h.stand()
}

// lay adds the straights of a bead.
func (h *head) lay(p *plan.Path, speed float64) {
	h.line = simplify(h.line[:0], p.Points, p.Closed, h.pr.CornerDeviation*smoothing)
	for i := 1; i < len(h.line); i++ {
		h.run = append(h.run, h.straight(h.line[i-1], h.line[i], p.Kind, speed, h.pr.Acceleration))
	}
}

// straight returns the move from a to b, different points, under the limits
// of each axis: an axis that makes the share |u| of the way allows limit/|u|.
func (h *head) straight(a, b point, kind plan.Kind, speed, acceleration float64) straight {
	dx, dy := b.x-a.x, b.y-a.y
	length := math.Sqrt(float64(dx*dx) + float64(dy*dy))
	s := straight{ux: dx / length, uy: dy / length, length: length, kind: kind, bend: acceleration}
	ux, uy := math.Abs(s.ux), math.Abs(s.uy)
	speed = share(share(speed, h.pr.MaxSpeed[0], ux), h.pr.MaxSpeed[1], uy)
	s.acceleration = share(share(acceleration, h.pr.MaxAcceleration[0], ux), h.pr.MaxAcceleration[1], uy)
	s.speed2 = speed * speed
	return s
}

// share returns the lesser of v and limit/u.
func share(v, limit, u float64) float64 {
	if v*u > limit {
		return limit / u
	}
	return v
}

// stand brings the head to rest: the moves since it last stood are timed and
// forgotten.
func (h *head) stand() {
	if len(h.run) == 0 {
		return
	}
	h.timeRun()
	h.run = h.run[:0]
}
