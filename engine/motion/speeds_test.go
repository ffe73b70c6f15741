package motion

import (
	"math"
	"testing"

	"platebook/engine/printer"
)

// COMPUTED from the kinematics of constant acceleration; mm, s.

func TestPass(t *testing.T) {
	for _, row := range []struct{ length, entry, exit, speed, acceleration, seconds float64 }{
		{20, 10, 5, 60, 1000, 0.379375},
		{100, 0, 0, 60, 1000, 1.726667},
		{2, 0, 0, 60, 1000, 0.0894427},
		{10, 60, 60, 60, 1000, 10.0 / 60},
		{1.8, 60, 0, 60, 1000, 0.06}, // brakes all the way: v²/2a
		{1.8, 0, 60, 60, 1000, 0.06}, // and the other way about
	} {
		s := straight{length: row.length, speed2: row.speed * row.speed, acceleration: row.acceleration}
		seconds, exit := s.pass(row.entry, row.exit*row.exit)
		if math.Abs(seconds-row.seconds) > 5e-7 || math.Abs(exit-row.exit) > 1e-9 {
			t.Errorf("%v: %.7f s, leaves at %v", row, seconds, exit)
		}
	}
	// An exit faster than can be reached is reached as far as it goes.
	s := straight{length: 2, speed2: 3600, acceleration: 100}
	if seconds, exit := s.pass(0, 3600); math.Abs(exit-20) > 1e-9 || math.Abs(seconds-0.2) > 1e-9 {
		t.Errorf("%v s, leaves at %v", seconds, exit)
	}
	if rest(0, 10, 10) != 0 {
		t.Error("no way takes time")
	}
}

func TestBend(t *testing.T) {
	h := head{pr: &printer.Printer{CornerDeviation: 0.05, MaxSpeed: [3]float64{1e4, 1e4, 1}, MaxAcceleration: [3]float64{1e5, 1e5, 1}}}
	turning := func(by, length float64) (b bend, corner, curve float64) {
		p := h.straight(point{}, point{length, 0}, 0, 100, 1000)
		q := h.straight(point{length, 0}, point{length + length*math.Cos(by), length * math.Sin(by)}, 0, 100, 1000)
		b = h.bendOf(&p, &q)
		return b, math.Sqrt(b.acceleration * b.corner), math.Sqrt(b.acceleration * b.radius)
	}
	for _, row := range []struct{ angle, speed float64 }{
		{30, 4.1785}, {60, 7.0711}, {90, 10.9868}, {120, 17.9779}, {150, 37.6482}, {170, 114.4096},
	} {
		for _, side := range []float64{1, -1} {
			if _, corner, _ := turning(side*(180-row.angle)*math.Pi/180, 10); math.Abs(corner-row.speed) > 5e-5 {
				t.Errorf("%v°: %.5f mm/s, want %v", row.angle, corner, row.speed)
			}
		}
	}
	// A 64-gon of radius 20: the corner rule and the physical cap.
	if _, corner, curve := turning(math.Pi/32, 40*math.Sin(math.Pi/64)); math.Abs(corner-203.6) > 0.05 || math.Abs(curve-141.4214) > 5e-5 {
		t.Errorf("64-gon: corner %v, curve %v mm/s", corner, curve)
	}
	// Small turns keep their digits: c/(1−c) is 8/φ² to first order.
	for _, phi := range []float64{1e-3, 1e-5, 1e-7} {
		if b, _, _ := turning(phi, 10); math.Abs(b.corner/(0.05*8/(phi*phi))-1) > 1e-6 || math.Abs(b.radius/(10/phi)-1) > 1e-6 {
			t.Errorf("turn %v: %+v", phi, b)
		}
	}
	if b, _, _ := turning(0, 10); b.turn != 0 {
		t.Errorf("straight on: %+v", b)
	}
}
