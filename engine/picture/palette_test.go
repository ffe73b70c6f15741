package picture

import (
	"image/color"
	"math"
	"testing"
)

// Relative luminance and contrast ratio: WCAG 2.2, definitions (MEMORY).
func linear(c uint8) float64 {
	v := float64(c) / 255
	if v <= 0.04045 {
		return v / 12.92
	}
	return math.Pow((v+0.055)/1.055, 2.4)
}

func light(c rgb) [3]float64 { return [3]float64{linear(c[0]), linear(c[1]), linear(c[2])} }

func luminance(l [3]float64) float64 { return 0.2126*l[0] + 0.7152*l[1] + 0.0722*l[2] }

func contrast(a, b [3]float64) float64 {
	x, y := luminance(a), luminance(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Simulation of eyes that lack one kind of cone, on linear light: Machado,
// Oliveira and Fernandes 2009, table for severity 1.0 (MEMORY; each row sums to
// 1, so that greys stay grey, which the test checks).
var eyes = map[string][3][3]float64{
	"all three cones":  {{1, 0, 0}, {0, 1, 0}, {0, 0, 1}},
	"protanopia":       {{0.152286, 1.052583, -0.204868}, {0.114503, 0.786281, 0.099216}, {-0.003882, -0.048116, 1.051998}},
	"deuteranopia":     {{0.367322, 0.860646, -0.227968}, {0.280085, 0.672501, 0.047413}, {-0.011820, 0.042940, 0.968881}},
	"tritanopia":       {{1.255528, -0.076749, -0.178779}, {-0.078411, 0.930809, 0.147602}, {0.004733, 0.691367, 0.303900}},
	"no colour at all": {{0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}, {0.2126, 0.7152, 0.0722}},
}

func seenBy(m [3][3]float64, c rgb) [3]float64 {
	var out [3]float64
	l := light(c)
	for i := range out {
		for k := range l {
			out[i] += m[i][k] * l[k]
		}
		out[i] = min(max(out[i], 0), 1)
	}
	return out
}

// deltaE is the colour difference CIE 1976 under D65 (MEMORY). About 2 is just
// noticeable side by side.
func deltaE(a, b [3]float64) float64 {
	lab := func(l [3]float64) [3]float64 {
		f := func(t float64) float64 {
			if t > 216.0/24389 {
				return math.Cbrt(t)
			}
			return (24389.0/27*t + 16) / 116
		}
		x := f((0.4124564*l[0] + 0.3575761*l[1] + 0.1804375*l[2]) / 0.95047)
		y := f(0.2126729*l[0] + 0.7151522*l[1] + 0.0721750*l[2])
		z := f((0.0193339*l[0] + 0.1191920*l[1] + 0.9503041*l[2]) / 1.08883)
		return [3]float64{116*y - 16, 500 * (x - y), 200 * (y - z)}
	}
	p, q := lab(a), lab(b)
	return math.Sqrt((p[0]-q[0])*(p[0]-q[0]) + (p[1]-q[1])*(p[1]-q[1]) + (p[2]-q[2])*(p[2]-q[2]))
}

func TestContrast(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b rgb
		want float64 // WCAG 2.2: 1.4.3 text 4.5, 1.4.11 graphics 3
	}{
		{"text on paper", ink, paper, 4.5}, {"small print on paper", faint, paper, 4.5},
		{"number on stop", sheet, sanguine, 4.5}, {"number on ask", sheet, indigo, 4.5}, {"number of note", inkBrown, sheet, 4.5},
		{"stop on paper", sanguine, paper, 3}, {"stop on platform", sanguine, sheet, 3}, {"stop on part", sanguine, clay, 3},
		{"ask on paper", indigo, paper, 3}, {"ask on platform", indigo, sheet, 3}, {"ask on part", indigo, clay, 3},
		{"note on paper", inkBrown, paper, 3}, {"note on part", inkBrown, clay, 3},
		{"outline on platform", mix(sheet, ink, 215), sheet, 3}, {"hatching on part", mix(clay, ink, 205), clay, 3},
		{"support's edge on paper", mix(paper, petrol, veilEdge), paper, 3}, {"support's edge on platform", mix(sheet, petrol, veilEdge), sheet, 3},
		{"support's edge on part", mix(clay, petrol, veilEdge), clay, 2}, // beside it there is the hatching too
		{"support's hatching on platform", mix(sheet, petrol, veilLine), sheet, 2},
	} {
		for eye, m := range eyes {
			if got := contrast(seenBy(m, c.a), seenBy(m, c.b)); got < c.want {
				t.Errorf("%s, %s: contrast %.2f, want %.1f", c.name, eye, got, c.want)
			}
		}
	}
	if got := contrast(light(rgb{255, 255, 255}), light(rgb{})); math.Abs(got-21) > 1e-9 {
		t.Errorf("white on black is %.3f, and by definition 21", got)
	}
}

func TestColourBlind(t *testing.T) {
	for eye, m := range eyes {
		for _, row := range m {
			if s := row[0] + row[1] + row[2]; math.Abs(s-1) > 2e-6 {
				t.Errorf("%s: a row sums to %g", eye, s)
			}
		}
		if eye == "no colour at all" {
			continue // there, shapes tell tags apart: square, disc, ring
		}
		things := []struct {
			name string
			c    rgb
		}{{"part", clay}, {"platform", sheet}, {"stop", sanguine}, {"ask", indigo}, {"note", inkBrown}, {"supports", petrol}}
		for i, a := range things {
			for _, b := range things[:i] {
				if d := deltaE(seenBy(m, a.c), seenBy(m, b.c)); d < 20 {
					t.Errorf("%s: %s and %s differ by ΔE %.1f only", eye, a.name, b.name, d)
				}
			}
		}
	}
	// Worked value: pure red against pure green, ΔE*ab 170.6 (MEMORY).
	if d := deltaE(light(rgb{255, 0, 0}), light(rgb{0, 255, 0})); math.Abs(d-170.6) > 0.5 {
		t.Errorf("red to green is %.1f", d)
	}
}

// However black or white a colour part's own colour, shading shows on it.
func TestMuted(t *testing.T) {
	for _, c := range []color.NRGBA{{0, 0, 0, 255}, {255, 255, 255, 255}, {255, 0, 0, 255}, {0, 0, 255, 255}, {0, 255, 0, 255}} {
		r := newRamp(mute(c))
		for i := 1; i < 256; i++ {
			if luminance(light(r[i])) < luminance(light(r[i-1]))-1e-3 {
				t.Errorf("%v: light %d is darker than %d", c, i, i-1)
			}
		}
		if got := contrast(light(r[255]), light(r[0])); got < 2 {
			t.Errorf("%v: from shadow to light is %.2f only", c, got)
		}
	}
	if mute(color.NRGBA{}) != clay {
		t.Error("no colour is not clay")
	}
}
