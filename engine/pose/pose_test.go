package pose

import (
	"math/rand/v2"
	"testing"

	"platebook/engine/mesh"
)

func TestLook(t *testing.T) {
	tee := []point{{-5, 0}, {5, 0}, {5, 30}, {20, 30}, {20, 40}, {-20, 40}, {-20, 30}, {-5, 30}}
	ell := []point{{0, 0}, {40, 0}, {40, 8}, {8, 8}, {8, 60}, {0, 60}}
	rnd := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name string
		m    *mesh.Mesh
	}{
		{"cone", cone(20, 40, 90)}, {"T", raised(tee, 10)}, {"mushroom", mushroom(5, 30, 20, 5, 90)}, {"L", raised(ell, 12)},
		{"arch", raised(arch(20, 30, 40), 15)}, {"table", table(60, 40, 30, 5, 5)}, {"dome", dome(20, 90)}, {"bar", bar(13, 57, 19, 165, 76, 3.2, 20)},
	} {
		for range 3 {
			m := mesh.Transform(c.m, anyTurn(rnd))
			r, err := Choose(m, desk)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("%s: %+v %v", c.name, r.Chosen.Score, r.Why)
		}
	}
}
