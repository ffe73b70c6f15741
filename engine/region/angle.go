package region

import "math"

// Sines and angles that come out the same on every processor: the math package
// may fuse multiplications and additions, or be assembly, where these only use
// the five operations IEEE 754 rounds exactly.

// sincos returns sine and cosine of x radians, to about 1e-15 for moderate x.
func sincos(x float64) (s, c float64) {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return 0, 1
	}
	x = math.Mod(x, 2*math.Pi)
	k := math.Floor(float64(x*(2/math.Pi)) + 0.5)
	x -= float64(k * (math.Pi / 2))
	x2 := float64(x * x)
	s, c = 1, 1
	for i := 16; i > 0; i -= 2 { // Taylor, innermost term first
		s = 1 - float64(float64(s*x2)/float64(i*(i+1)))
		c = 1 - float64(float64(c*x2)/float64(i*(i-1)))
	}
	s = float64(s * x)
	switch (int(k)%4 + 4) % 4 {
	case 1:
		return c, -s
	case 2:
		return -s, -c
	case 3:
		return -c, s
	}
	return s, c
}

// angleOf returns the angle in [0, π] of the unit vector (c, s), s ≥ 0.
func angleOf(c, s float64) float64 {
	if c < 0 {
		return math.Pi - angleOf(-c, s)
	}
	c = min(c, 1)
	for range 3 { // halve
		h := math.Sqrt(float64((1 + c) / 2))
		c, s = h, float64(s/float64(2*h))
	}
	t := float64(s / c) // at most tan(π/16)
	t2 := float64(t * t)
	sum := 0.0
	for i := 23; i > 0; i -= 2 { // arctangent series, innermost term first
		sum = float64(1/float64(i)) - float64(sum*t2)
	}
	return float64(8 * float64(sum*t))
}
