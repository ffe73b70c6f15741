package plan

import (
	"fmt"
	"math"

	"platebook/engine/region"
)

// sound says what is wrong with a plan that can be told from itself: volumes
// that are not those of the paths, points outside the extent, paths that lay nothing.
func sound(pl *Plan) error {
	sum := make([][Kinds]float64, len(pl.Volume))
	for i, l := range pl.Layers {
		if !(l.Top > l.Bottom) || i > 0 && math.Abs(l.Bottom-pl.Layers[i-1].Top) > 1e-6 {
			return fmt.Errorf("layer %d lies from %v to %v", i, l.Bottom, l.Top)
		}
		for k, p := range l.Paths {
			where := fmt.Sprintf("layer %d, path %d", i, k)
			if int(p.Tool) >= len(sum) || p.Kind >= Kinds {
				return fmt.Errorf("%s: tool %d, kind %d", where, p.Tool, p.Kind)
			}
			if p.Width <= 0 || !(p.Speed > 0) || len(p.Points) < 2 {
				return fmt.Errorf("%s: width %d, speed %v, %d points", where, p.Width, p.Speed, len(p.Points))
			}
			long := 0.0
			for j := range p.Points {
				q := p.Points[j]
				if q.X < pl.Min.X || q.Y < pl.Min.Y || q.X > pl.Max.X || q.Y > pl.Max.Y {
					return fmt.Errorf("%s: %v is outside of %v to %v", where, q, pl.Min, pl.Max)
				}
				var next region.Point
				switch {
				case j+1 < len(p.Points):
					next = p.Points[j+1]
				case p.Closed:
					next = p.Points[0]
				default:
					continue
				}
				long += math.Hypot(float64(next.X-q.X), float64(next.Y-q.Y))
			}
			if !(long > 0) {
				return fmt.Errorf("%s has no length", where)
			}
			sum[p.Tool][p.Kind] += long / 1000 * float64(p.Width) / 1000 * (l.Top - l.Bottom)
		}
	}
	for t := range sum {
		for k := range sum[t] {
			if math.Abs(sum[t][k]-pl.Volume[t][k]) > 1e-9*(1+sum[t][k]) {
				return fmt.Errorf("tool %d, kind %d: the paths hold %v mm³, the plan says %v", t, k, sum[t][k], pl.Volume[t][k])
			}
		}
	}
	return nil
}
