package pose

import (
	"encoding/binary"
	"math"
	"testing"

	"platebook/engine/mesh"
)

// FuzzChoose gives Choose meshes made of the fuzzer's bytes: 6 bytes for a
// vertex, small numbers by steps that make many coincide, then 3 for a facet.
func FuzzChoose(f *testing.F) {
	f.Add([]byte{4, 0, 0, 0, 0, 0, 0, 9, 0, 0, 0, 0, 0, 0, 0, 9, 0, 0, 0, 0, 0, 0, 0, 9, 0, 0, 2, 1, 0, 1, 3, 1, 2, 3, 2, 0, 3}, 0.7, 0.2, 50.0, 0.0)
	f.Add([]byte{3, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 0, 1, 2}, 0.0, 0.0, 0.0, 1e9)
	f.Add([]byte{4, 0, 0, 0, 0, 0, 0, 9, 0, 0, 0, 0, 0, 9, 0, 9, 0, 0, 0, 0, 0, 9, 0, 0, 0, 0, 1, 2, 0, 2, 3}, 1.5, 0.0, 1e-9, -1e9)
	f.Fuzz(func(t *testing.T, data []byte, angle, first, room, far float64) {
		m := &mesh.Mesh{}
		if len(data) == 0 {
			return
		}
		n := int(data[0])
		for data = data[1:]; n > 0 && len(data) >= 6; n-- {
			var v mesh.Vec
			for k := range v {
				x := int16(binary.LittleEndian.Uint16(data[2*k:]))
				v[k] = math.Ldexp(float64(x>>5), int(x&31)-20) + far
			}
			m.V = append(m.V, v)
			data = data[6:]
		}
		for ; len(data) >= 3 && len(m.V) > 0 && len(m.F) < 300; data = data[3:] {
			m.F = append(m.F, [3]int32{int32(int(data[0]) % len(m.V)), int32(int(data[1]) % len(m.V)), int32(int(data[2]) % len(m.V))})
		}
		Spin(&mesh.Mesh{V: m.V, F: m.F}, [2]float64{room, room})
		r, err := Choose(m, Options{Angle: angle, FirstLayer: first, Volume: [3]float64{room, room, room}, Workers: 2})
		if err != nil {
			return
		}
		if len(r.Ranked) == 0 || r.Ranked[r.Own].From != AsGiven || r.Why.Empty() {
			t.Fatalf("%+v", r)
		}
		for _, c := range r.Ranked {
			for _, x := range []float64{c.SupportVolume, c.SupportedArea, c.StandArea, c.Contact, c.Height, c.Box[0], c.Box[1], c.Cost} {
				if !(x >= 0) || math.IsInf(x, 0) {
					t.Fatalf("%+v", c)
				}
			}
			if math.IsNaN(c.Tipping) || math.Abs(c.Pose.Determinant()-1) > 1e-9 {
				t.Fatalf("%+v", c)
			}
		}
	})
}
