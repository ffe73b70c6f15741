package findings

import (
	"math"
	"math/rand"
	"testing"

	"platebook/engine/mesh"
)

func boxPoints(x, y, z float64) []mesh.Vec {
	var out []mesh.Vec
	for i := range 8 {
		out = append(out, mesh.Vec{x * float64(i&1), y * float64(i>>1&1), z * float64(i>>2)})
	}
	return out
}

func ballPoints(d float64, n int) []mesh.Vec {
	var out []mesh.Vec
	for i := range n {
		z := 1 - float64(2*i+1)/float64(n)
		a, r := float64(i)*2.399963229728653, math.Sqrt(1-z*z)
		out = append(out, mesh.Vec{r * math.Cos(a), r * math.Sin(a), z}.Scale(d/2))
	}
	return out
}

func rodPoints(d, l float64) []mesh.Vec {
	var out []mesh.Vec
	for i := range 48 {
		a := 2 * math.Pi * float64(i) / 48
		for _, z := range [2]float64{0, l} {
			out = append(out, mesh.Vec{d / 2 * math.Cos(a), d / 2 * math.Sin(a), z})
		}
	}
	return out
}

func turnedAbout(p []mesh.Vec, seed int64) []mesh.Vec {
	rng := rand.New(rand.NewSource(seed))
	r := spin(rng.Float64()*2-1, rng.Float64()*2-1)
	c := cell{psi: rng.Float64() * 6}
	m := c.middle().times(r)
	out := make([]mesh.Vec, len(p))
	for i, q := range p {
		out[i] = m.apply(q).Add(mesh.Vec{3, -7, 11})
	}
	return out
}

func TestFitQuick(t *testing.T) {
	for _, c := range []struct {
		name string
		p    []mesh.Vec
		want Certainty
	}{
		{"ball 30", ballPoints(30, 2000), Fits},
		{"ball 31.7", ballPoints(31.7, 2000), Fits},
		{"ball 33", ballPoints(33, 2000), DoesNotFit},
		{"ball 44.4", ballPoints(44.4, 2000), DoesNotFit},
		{"rod 57", rodPoints(1, 57), Fits},
		{"rod 60", rodPoints(1, 60), Fits},
		{"rod 64", rodPoints(.5, 64), Fits},
		{"rod 65", rodPoints(.1, 65), Fits},
		{"rod 65.5", rodPoints(1, 65.5), DoesNotFit},
		{"cube 20", boxPoints(20, 20, 20), Fits},
		{"cube 22", boxPoints(22, 22, 22), Fits},
		{"cube 22.4", boxPoints(22.4, 22.4, 22.4), Fits},
		{"cube 22.5", boxPoints(22.5, 22.5, 22.5), Unsure},
		{"cube 23", boxPoints(23, 23, 23), Unsure},
		{"cube 24", boxPoints(24, 24, 24), DoesNotFit},
		{"cube 26", boxPoints(26, 26, 26), DoesNotFit},
		{"cube 30", boxPoints(30, 30, 30), DoesNotFit},
		{"plate 40x20", boxPoints(40, 20, 2), Fits},
		{"plate 50x50", boxPoints(50, 50, 2), DoesNotFit},
		{"plate 44x30", boxPoints(44, 30, 2), Unsure},
	} {
		for s := range int64(2) {
			got, n := SmallPart(turnedAbout(c.p, s), 400000)
			t.Log(c.name, got, n)
		}
	}
}
