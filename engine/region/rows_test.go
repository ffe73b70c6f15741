package region

import "testing"

func TestRowsSquare(t *testing.T) {
	sq := Region{{{0, 0}, {10000, 0}, {10000, 10000}, {0, 10000}}}
	r := Hatch{Pitch: 400, Phase: 200}.Rows(sq)
	if len(r.Row) != 25 || r.First != 0 || r.Length() != 250 || r.Area(400) != 100 {
		t.Error(r.First, len(r.Row), r.Length(), r.Area(400))
	}
	t.Log(Hatch{Angle: 0.3, Pitch: 400, Phase: 200}.Rows(sq).Area(400))
}
