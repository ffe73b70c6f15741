package pack_test

import (
	"fmt"
	"math"
	"testing"

	"platebook/engine/pack"
	"platebook/engine/region"
)

// knob is an irregular part: no axis of symmetry, bays on three sides.
func knob() region.Region {
	var r region.Ring
	for i := range 60 {
		a := 2 * math.Pi * float64(i) / 60
		d := 15 + 6*math.Sin(3*a) + 4*math.Cos(2*a)
		r = append(r, region.Point{X: region.Micron(1000 * d * math.Cos(a)), Y: region.Micron(1000 * d * math.Sin(a))})
	}
	return region.Nonzero(r)
}

func copies(n int, it pack.Item) []pack.Item {
	var out []pack.Item
	for i := range n {
		it.ID = fmt.Sprintf("%s %03d", it.ID, i)
		out = append(out, it)
	}
	return out
}

func TestForty(t *testing.T) {
	items := copies(40, pack.Item{Outline: knob(), Turns: 8})
	o := pack.Options{Platform: pack.Platform{Width: 250_000, Depth: 210_000, Clearance: 3000}, Work: 1000}
	plates, unplaced := pack.Pack(items, o)
	if err := pack.Check(items, o, plates, unplaced); err != nil {
		t.Fatal(err)
	}
}
