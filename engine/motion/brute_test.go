package motion_test

import (
	"math"
	"math/rand/v2"
	"sync"
	"testing"

	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/region"
)

// An independent simulation: time passes in small steps, speed grows by a·dt a
// step, nothing is solved in closed form. It runs the path backward first, to
// learn how fast the head may go anywhere and still brake, and then forward.
// It shares no code with the package and works with angles where that works
// with unit vectors.

// leg is one straight with what is asked of it.
type leg struct {
	x0, y0, x1, y1 float64
	speed, a       float64
}

func (l leg) length() float64 { return math.Hypot(l.x1-l.x0, l.y1-l.y0) }
func (l leg) angle() float64  { return math.Atan2(l.y1-l.y0, l.x1-l.x0) }

// track is what limits the head along a path of legs.
type track struct {
	from     []float64 // where each leg begins, and the last ends
	speed, a []float64 // of each leg
	at       []float64 // speed cap where each leg begins; 0 at both ends
}

// trackOf writes the caps down from their definitions.
func trackOf(legs []leg, pr printer.Printer) track {
	n := len(legs)
	tr := track{from: make([]float64, n+1), speed: make([]float64, n), a: make([]float64, n), at: make([]float64, n+1)}
	turn, across := make([]float64, n+1), make([]float64, n+1)
	corner, circle := make([]float64, n+1), make([]float64, n+1)
	for i, l := range legs {
		tr.from[i+1] = tr.from[i] + l.length()
		cos, sin := math.Abs(math.Cos(l.angle())), math.Abs(math.Sin(l.angle()))
		tr.speed[i] = math.Min(l.speed, math.Min(pr.MaxSpeed[0]/cos, pr.MaxSpeed[1]/sin))
		tr.a[i] = math.Min(l.a, math.Min(pr.MaxAcceleration[0]/cos, pr.MaxAcceleration[1]/sin))
		if i == 0 {
			continue
		}
		b := legs[i-1]
		turn[i] = math.Remainder(l.angle()-b.angle(), 2*math.Pi)
		// The head is accelerated at right angles to the mean direction.
		side := b.angle() + turn[i]/2 + math.Pi/2
		across[i] = math.Min(math.Min(b.a, l.a), math.Min(pr.MaxAcceleration[0]/math.Abs(math.Cos(side)), pr.MaxAcceleration[1]/math.Abs(math.Sin(side))))
		s := math.Sin((math.Pi - math.Abs(turn[i])) / 2)
		corner[i] = pr.CornerDeviation * s / (1 - s)
		// Radius of the circle through three points: product of the sides over four times the area.
		area := math.Abs((b.x1-b.x0)*(l.y1-b.y0)-(l.x1-b.x0)*(b.y1-b.y0)) / 2
		circle[i] = b.length() * l.length() * math.Hypot(l.x1-b.x0, l.y1-b.y0) / (4 * area)
		tr.at[i] = math.Sqrt(across[i] * math.Min(corner[i], circle[i]))
	}
	for i := 1; i+1 < n; i++ {
		if turn[i]*turn[i+1] <= 0 {
			continue
		}
		if circle[i] < corner[i] && circle[i+1] < corner[i+1] { // a piece of a curve
			tr.speed[i] = math.Min(tr.speed[i], math.Sqrt(math.Max(across[i]*circle[i], across[i+1]*circle[i+1])))
		}
		both := math.Abs(turn[i]) + math.Abs(turn[i+1])
		s := math.Sin((math.Pi - both) / 2)
		inside := legs[i].length() / (math.Sin(math.Abs(turn[i])/2) + math.Sin(math.Abs(turn[i+1])/2))
		if r := pr.CornerDeviation * s / (1 - s); both < math.Pi && r > inside { // a small chamfer
			tr.speed[i] = math.Min(tr.speed[i], math.Sqrt(math.Min(across[i], across[i+1])*r))
		}
	}
	return tr
}

// run steps through the track and returns the time it takes. With dt halved
// the answer moves by half as much.
func (tr track) run(dt float64) float64 {
	type sample struct{ s, v float64 }
	n := len(tr.speed)
	end := tr.from[n]
	// Backward from rest at the end.
	limit := []sample{{end, 0}}
	s, v := end, 0.0
	for i := n - 1; i >= 0; {
		was := v
		v = math.Min(v+tr.a[i]*dt, tr.speed[i])
		s -= (v + was) / 2 * dt
		if s <= tr.from[i] {
			s = tr.from[i]
			limit = append(limit, sample{s, v})
			v = math.Min(v, tr.at[i])
			i--
		}
		limit = append(limit, sample{s, v})
	}
	// Forward, under what the backward run allows.
	s, v = 0, 0
	time, at := 0.0, len(limit)-1
	for i := 0; i < n; time += dt {
		for at > 0 && limit[at-1].s <= s {
			at--
		}
		allowed := limit[at].v
		if at > 0 && limit[at-1].s > limit[at].s {
			allowed += (limit[at-1].v - allowed) * (s - limit[at].s) / (limit[at-1].s - limit[at].s)
		}
		was := v
		v = math.Min(v+tr.a[i]*dt, math.Max(allowed, tr.a[i]*dt))
		s += (v + was) / 2 * dt
		for i < n && s >= tr.from[i+1] {
			i++
			v = math.Min(v, tr.at[i])
		}
	}
	return time
}

// wander makes paths that meet or are a short travel apart, of straights that
// stray too far to be simplified, some sharp, some along curves.
func wander(r *rand.Rand, d float64) (paths []plan.Path) {
	x, y, angle := 0.0, 0.0, r.Float64()*7
	var points []region.Point
	flush := func() {
		if len(points) > 1 {
			paths = append(paths, plan.Path{Width: 400, Speed: 20 + 200*r.Float64(), Points: points})
		}
		points = nil
	}
	step := func(length float64) {
		x, y = x+length*math.Cos(angle), y+length*math.Sin(angle)
		points = append(points, mm(x, y)...)
	}
	step(0)
	for range 2 + r.IntN(8) {
		switch r.IntN(5) {
		case 0: // a curve: equal steps and turns, the middle of each at least d/3 off its chord
			turn := (0.1 + r.Float64()) * float64(1-2*r.IntN(2))
			length := 0.3 + r.Float64() + 2*d/(3*math.Sin(0.05))
			for range 3 + r.IntN(20) {
				angle += turn
				step(length)
			}
		case 1: // a small chamfer
			angle += 0.7
			step(0.03 + d*(1+7*r.Float64()))
			angle += 0.7
			step(5 + 5*r.Float64())
		case 2: // a wave: a turn to the other side at every step
			turn := 0.3 + 0.3*r.Float64()
			for i := range 2 + r.IntN(20) {
				angle += turn * float64(1-i%2*2)
				step(0.4 + d)
			}
		case 3: // a new path, with or without a travel
			last := points[len(points)-1]
			flush()
			if r.IntN(2) == 0 {
				angle += 0.2 + 2*r.Float64()
				step(1 + 4*r.Float64())
			} else {
				points = append(points, last)
			}
			angle += 0.2 + 2*r.Float64()
			step(3 + 10*r.Float64())
		default:
			angle += 0.2 + 5.8*r.Float64()
			step(0.5 + 20*r.Float64()*r.Float64())
		}
	}
	flush()
	return paths
}

// legsOf lists the straights of paths and the travels between.
func legsOf(paths []plan.Path, pr printer.Printer) (legs []leg) {
	var x, y float64
	for i, p := range paths {
		for j, q := range p.Points {
			qx, qy := float64(q.X)/1000, float64(q.Y)/1000
			l := leg{x, y, qx, qy, p.Speed, pr.Acceleration}
			if j == 0 {
				l.speed, l.a = pr.TravelSpeed, pr.TravelAcceleration
			}
			if l.length() > 0 && (i > 0 || j > 0) {
				legs = append(legs, l)
			}
			x, y = qx, qy
		}
	}
	return legs
}

// TestAgainstSteps holds the look-ahead against stepping through time, within
// 0.02 % and ten steps.
func TestAgainstSteps(t *testing.T) {
	const dt = 1e-5
	var wg sync.WaitGroup
	for seed := range uint64(120) {
		wg.Go(func() {
			r := rand.New(rand.NewPCG(seed, 1))
			pr := swift(200+3000*r.Float64(), 0.01+0.1*r.Float64())
			pr.TravelAcceleration, pr.TravelSpeed = 200+4000*r.Float64(), 50+200*r.Float64()
			if seed%2 == 0 {
				pr.MaxSpeed = [3]float64{40 + 100*r.Float64(), 40 + 100*r.Float64(), 10}
				pr.MaxAcceleration = [3]float64{100 + 3000*r.Float64(), 100 + 3000*r.Float64(), 100}
			}
			paths := wander(r, pr.CornerDeviation)
			if len(paths) == 0 {
				return
			}
			legs := legsOf(paths, pr)
			want := trackOf(legs, pr).run(dt)
			got := simulate(t, one(paths...), pr).Total
			if math.Abs(got-want) > 2e-4*want+10*dt {
				t.Errorf("seed %d, %d straights: %.6f s, stepping through time %.6f s", seed, len(legs), got, want)
			}
		})
		if seed%2 == 1 {
			wg.Wait()
		}
	}
	wg.Wait()
}
