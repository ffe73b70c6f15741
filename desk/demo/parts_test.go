package demo

import (
	"bytes"
	"math"
	"testing"

	"platebook/engine/mesh"
)

func signedVolume(m *mesh.Mesh) float64 {
	var six float64
	for _, f := range m.F {
		six += m.V[f[0]].Dot(m.V[f[1]].Cross(m.V[f[2]]))
	}
	return six / 6
}

func openEdges(m *mesh.Mesh) int {
	edges := map[[2]int32]int{}
	for _, f := range m.F {
		for i := range 3 {
			a, b := f[i], f[(i+1)%3]
			edges[[2]int32{a, b}]++
			edges[[2]int32{b, a}]--
		}
	}
	open := 0
	for _, n := range edges {
		if n != 0 {
			open++
		}
	}
	return open
}

// The volumes are closed forms of the shapes as drawn (COMPUTED).
func TestShapesAreSolid(t *testing.T) {
	ngon := func(r float64, n int) float64 { return float64(n) / 2 * r * r * math.Sin(2*math.Pi/float64(n)) }
	cases := []struct {
		name   string
		m      *mesh.Mesh
		volume float64
	}{
		{"box", box(1, 2, 3, 5, 7, 9), 4 * 5 * 6},
		{"tube", ribbon(arc(0, 0, 5, 0, 355, 72), arc(0, 0, 3, 0, 355, 72), 0, 10, true), 10 * (ngon(5, 72) - ngon(3, 72))},
		{"cone", turn([]point{{0, 0}, {6, 0}, {0, 9}}, 64), ngon(6, 64) * 9 / 3},
		{"loft", loft([][]mesh.Vec{square(4, 0), square(4, 3)}), 16 * 3},
		{"straight tube", tube([]point{{0, 0}, {0, 10}, {0, 20}}, 60, 5, func(float64) (float64, float64) { return 3, 3 }), ngon(3, 60) * 20},
		{"vessel", vessel(20, 2, 4, 10, 50, func(_, _ float64) float64 { return 10 }), ngon(10, 50)*20 - ngon(8, 50)*16},
		{"relief", relief(3, 4, 2, func(_, _ float64) float64 { return 5 }), 6 * 8 * 5},
		{"upright box", upright(box(1, 2, 3, 5, 7, 9)), 120},
	}
	for _, c := range cases {
		if got := signedVolume(c.m); math.Abs(got-c.volume) > 1e-9*c.volume || openEdges(c.m) != 0 {
			t.Errorf("%s: volume %.6f, want %.6f; %d open edges", c.name, got, c.volume, openEdges(c.m))
		}
	}
}

func TestPartsAreWhatTheirPatronsThink(t *testing.T) {
	for _, p := range Parts() {
		for i, b := range p.Bodies {
			if v := signedVolume(b); (v <= 0) != (p.File == "inside-out-tray.stl") {
				t.Errorf("%s, body %d: volume %.3f", p.File, i, v)
			}
			if open := openEdges(b); (open != 0) != (p.File == "herb-pot.stl") {
				t.Errorf("%s, body %d: %d open edges", p.File, i, open)
			}
		}
		var a, b bytes.Buffer
		if err := p.Write(&a); err != nil {
			t.Error(err)
		}
		if err := p.Write(&b); err != nil || !bytes.Equal(a.Bytes(), b.Bytes()) || a.Len() == 0 {
			t.Errorf("%s: two writings differ or are empty (%v)", p.File, err)
		}
	}
}

func square(side, z float64) []mesh.Vec {
	return []mesh.Vec{{0, 0, z}, {side, 0, z}, {side, side, z}, {0, side, z}}
}

// Files have names of their own, and no two parts are the same.
func TestPartsAreDifferent(t *testing.T) {
	seen := map[string]string{}
	for _, p := range Parts() {
		var b bytes.Buffer
		if err := p.Write(&b); err != nil {
			t.Fatal(err)
		}
		for _, k := range []string{p.File, b.String()} {
			if other, ok := seen[k]; ok {
				t.Errorf("%s is %s again", p.File, other)
			}
			seen[k] = p.File
		}
	}
	if len(Parts()) < 36 {
		t.Errorf("%d parts", len(Parts()))
	}
}
