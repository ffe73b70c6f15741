package mesh

import (
	"math"
	"testing"
)

// soupOf makes a mesh of few vertices on a coarse lattice, so that facets
// coincide, cross, fold and touch in every way; bytes past the vertices name
// corners.
func soupOf(data []byte) *Mesh {
	m := &Mesh{}
	if len(data) == 0 {
		return m
	}
	n := 3 + int(data[0])%14
	fine := data[0]&0x80 != 0
	data = data[1:]
	for i := 0; i < n && len(data) > 0; i++ {
		p := data[0]
		v := Vec{float64(p & 3), float64(p >> 2 & 3), float64(p >> 4 & 3)}
		if fine && p>>6 != 0 {
			v = v.Add(Vec{1e-5, 3e-6, -1e-6}.Scale(float64(p >> 6))) // about the weld tolerance
		}
		m.V = append(m.V, v)
		data = data[1:]
	}
	for len(data) >= 3 && len(m.F) < 200 {
		var f [3]int32
		for k := range f {
			f[k] = int32(int(data[k]) % len(m.V))
		}
		m.F = append(m.F, f)
		data = data[3:]
	}
	return m
}

// FuzzHeal: whatever the mesh, healing ends, gives a valid mesh that does not
// close worse, keeps what closed closed, and has nothing left to do.
func FuzzHeal(f *testing.F) {
	f.Add([]byte("\x05abcdefgh012023031132"))
	for _, m := range []*Mesh{cuboid(1, 1, 1), split(cuboid(1, 1, 1), 4, 0), moebius(8)} {
		data := []byte{byte(len(m.V) - 3)}
		for _, v := range m.V {
			data = append(data, byte(int(v[0])&3|int(v[1])&3<<2|int(v[2])&3<<4))
		}
		for _, t := range m.F {
			data = append(data, byte(t[0]), byte(t[1]), byte(t[2]))
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) { healsWell(t, soupOf(data)) })
}

func healsWell(t *testing.T, m *Mesh) {
	t.Helper()
	h, r := Heal(m)
	if err := Valid(h); err != nil {
		t.Fatal(err)
	}
	if Closed(m) == nil && len(h.F) > 0 && Closed(h) != nil {
		t.Fatalf("was closed, is not: %v", Closed(h))
	}
	if r.After.amiss() > r.Before.amiss() {
		t.Fatalf("%d edges amiss, before %d", r.After.amiss(), r.Before.amiss())
	}
	ms := Measure(h)
	for _, x := range []float64{ms.Volume, ms.Area, ms.Centre.Len()} {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			t.Fatalf("%+v", ms)
		}
	}
	if (Closed(h) == nil) != r.After.Closed() {
		t.Fatalf("Closed says %v, the report %+v", Closed(h), r.After)
	}
	if again, q := Heal(h); again != h {
		t.Fatalf("once more: %v\nfirst: %v", q.Sentences(), r.Sentences())
	}
}

// TestHealSoup is the fuzz test on a fixed run of made-up bytes.
func TestHealSoup(t *testing.T) {
	x := uint64(7)
	for range 1500 {
		x = scramble(x)
		data := make([]byte, 8+x%120)
		for j := range data {
			x = scramble(x)
			data[j] = byte(x >> 13)
		}
		healsWell(t, soupOf(data))
	}
}
