package likeness

import (
	"encoding/binary"
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"platebook/engine/mesh"
)

// TestCores: the same print on any number of cores.
func TestCores(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, m := range []*mesh.Mesh{ell(), ball(1, 40), noised(ball(1, 40), 0.01, rand.New(rand.NewPCG(1, 1)))} {
		runtime.GOMAXPROCS(1)
		one := printOf(t, m)
		for cores := 2; cores <= 3; cores++ {
			runtime.GOMAXPROCS(cores)
			if printOf(t, m) != one {
				t.Errorf("%d cores make another print", cores)
			}
		}
	}
}

// TestNothing: what has no surface gets an error, and what is odd a print.
func TestNothing(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	one := [][3]int32{{0, 1, 2}}
	for _, row := range []struct {
		name string
		m    mesh.Mesh
		want error
	}{
		{"nothing", mesh.Mesh{}, ErrNoSurface},
		{"points only", mesh.Mesh{V: box(1, 1, 1).V}, ErrNoSurface},
		{"a line", mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {1, 1, 1}, {2, 2, 2}}, F: one}, ErrNoSurface},
		{"a point", mesh.Mesh{V: []mesh.Vec{{5, 5, 5}}, F: [][3]int32{{0, 0, 0}}}, ErrNoSurface},
		{"not a number", mesh.Mesh{V: []mesh.Vec{{nan, 0, 0}, {1, 0, 0}, {0, 1, 0}}, F: one}, mesh.ErrInvalid},
		{"infinite", mesh.Mesh{V: []mesh.Vec{{inf, 0, 0}, {1, 0, 0}, {0, 1, 0}}, F: one}, mesh.ErrInvalid},
		{"a corner that is not there", mesh.Mesh{V: []mesh.Vec{{0, 0, 0}}, F: one}, mesh.ErrInvalid},
		{"one facet", mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, F: one}, nil},
		{"a needle", mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {1e4, 0, 0}, {0, 1e-4, 0}}, F: one}, nil},
		{"a needle thinner than rounding", mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {1e7, 0, 0}, {0, 1e-12, 0}}, F: one}, ErrNoSurface},
		{"a corner of no facet far away", mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}, {1e6, 0, 0}}, F: one}, nil},
	} {
		p, err := Of(&row.m)
		if !errors.Is(err, row.want) || (err == nil) != p.Known() {
			t.Errorf("%s: %v, %v", row.name, p.Known(), err)
		}
	}
}

// FuzzOf: no mesh and no bytes of a print make anything panic, a distance that
// is no number, or a hand that depends on who asks.
func FuzzOf(f *testing.F) {
	f.Add([]byte{})
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyz"))
	for _, x := range []float64{1, -1e300, 5e-324, 1e-160, math.MaxFloat64} {
		var seed []byte
		for i := range 12 {
			seed = binary.LittleEndian.AppendUint64(seed, math.Float64bits(x*float64(i*i%7)))
		}
		f.Add(append(seed, 0, 1, 2, 0, 2, 3, 0, 3, 1, 1, 3, 2))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m := &mesh.Mesh{}
		for len(data) >= 24 && len(m.V) < 8 {
			var p mesh.Vec
			for k := range p {
				p[k] = math.Float64frombits(binary.LittleEndian.Uint64(data[8*k:]))
			}
			m.V, data = append(m.V, p), data[24:]
		}
		for ; len(data) >= 3; data = data[3:] {
			m.F = append(m.F, [3]int32{int32(int8(data[0])), int32(int8(data[1])), int32(int8(data[2]))})
		}
		p, err := Of(m)
		if err != nil && p != (Print{}) {
			t.Fatalf("a print with an error: %v", err)
		}
		var q Print
		for i := range q {
			q[i] = p[i] ^ byte(3*i)
		}
		q[0], q[1] = Version, q[1]&1
		ab, ba := Compare(p, q), Compare(q, p)
		if ab != ba || !(ab.Apart >= 0 && ab.Apart <= 1) {
			t.Fatalf("%v one way, %v the other", ab, ba)
		}
		if d := Distance(p, p); p.Known() && d != 0 {
			t.Fatalf("%g from itself", d)
		}
		var s Shelf
		s.Add(p)
		s.Add(q)
		for _, x := range s.Nearest(q, 3) {
			if math.IsNaN(x.Apart) {
				t.Fatal("a distance that is no number")
			}
		}
	})
}
