package plan

import (
	"math/rand/v2"
	"runtime"
	"runtime/debug"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"platebook/engine/printer"
	"platebook/engine/region"
	"platebook/engine/slice"
)

// teeth are n walls of a thickness, mm, side by side at twice that, 100 mm
// long. Every layer lies a micron beside the one below, so none is like another.
func teeth(n int, thick float64, layers int) []slice.Layer {
	i := 0
	return stack(float64(layers)*0.2, 0.2, func(float64) region.Region {
		i++
		var rs region.Region
		for k := range n {
			x := 2*thick*float64(k) + float64(i)/1000
			rs = append(rs, region.Ring{pt(x, 0), pt(x+thick, 0), pt(x+thick, 100), pt(x, 100)})
		}
		return rs
	})
}

// boxes are n boxes that stand among and through one another, up to 150 mm tall.
func boxes(n, layers int) []slice.Layer {
	rnd := rand.New(rand.NewPCG(7, 1))
	type box struct{ x, y, z, a, b, top float64 }
	var bs []box
	for range n {
		z := 5 * rnd.Float64()
		bs = append(bs, box{150 * rnd.Float64(), 150 * rnd.Float64(), z, 1 + 5*rnd.Float64(), 1 + 5*rnd.Float64(), z + 20 + 130*rnd.Float64()})
	}
	return stack(float64(layers)*0.2, 0.2, func(z float64) region.Region {
		var rs []region.Ring
		for _, b := range bs {
			if b.z <= z && z < b.top {
				rs = append(rs, region.Ring{pt(b.x, b.y), pt(b.x+b.a, b.y), pt(b.x+b.a, b.y+b.b), pt(b.x, b.y+b.b)})
			}
		}
		return region.Nonzero(rs...)
	})
}

// peak is the most the heap held while f ran, beyond what it held before, in
// MB. The collector runs early, so that little of it is garbage.
func peak(f func()) float64 {
	defer debug.SetGCPercent(debug.SetGCPercent(10))
	for range 3 { // pools let go of what they keep at the second
		runtime.GC()
	}
	held := func() uint64 {
		var s runtime.MemStats
		runtime.ReadMemStats(&s)
		return s.HeapAlloc
	}
	before := held()
	var most atomic.Uint64
	stop, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for {
			most.Store(max(most.Load(), held()))
			select {
			case <-stop:
				return
			case <-time.After(2 * time.Millisecond):
			}
		}
	}()
	f()
	close(stop)
	<-done
	return float64(most.Load()-min(before, most.Load())) / 1e6
}

// The rows of all layers together would take twice the bound and more (COMPUTED:
// a wall 100 mm long crosses 100·cos 17°/0.2 lines, a span of 16 bytes each), so
// holding them all fails here.
func TestPeak(t *testing.T) {
	hollow := func(w *printer.Way) { // nothing to lay: only supports are thought of
		w.Shells, w.Infill, w.SolidTop, w.SolidBottom = 0, 0, 0, 0
		w.Supports = printer.Breakaway
	}
	for _, c := range []struct {
		name   string
		layers []slice.Layer
		change func(w *printer.Way)
		most   float64 // MB
	}{
		{"teeth too thin to lay", teeth(600, 0.03, 60), standard, 130},
		{"walls in many layers", teeth(150, 0.3, 150), hollow, 80},
	} {
		all := 0.0
		for _, l := range c.layers {
			all += float64(len(l.Region)) * 478 * 16 / 1e6
		}
		if all < 2*c.most {
			t.Fatalf("%s: all rows take %.0f MB: the check could not fail", c.name, all)
		}
		mb := peak(func() { plans(t, c.layers, c.change) })
		t.Logf("%s: %.0f MB, rows of all layers %.0f MB", c.name, mb, all)
		if mb > c.most {
			t.Errorf("%s: %.0f MB held, want at most %.0f", c.name, mb, c.most)
		}
	}
}

// The windows are an economy, not a setting: narrow ones give the same plan.
func TestWindows(t *testing.T) {
	layers := table(0.2, 60, 40)
	way := testWay(standard)
	m := &maker{way: &way, p: &testPrinter, w: microns(way.BeadWidth), workers: 2}
	m.gate.left.L = &m.gate.mu
	if err := m.gather([]Part{{Layers: layers}}); err != nil {
		t.Fatal(err)
	}
	if err := m.affordable(); err != nil {
		t.Fatal(err)
	}
	find := func(step int) *hold {
		d, err := m.newHold()
		if err != nil {
			t.Fatal(err)
		}
		for hi := m.n; hi > 0; {
			lo := max(0, hi-step)
			m.open(d, lo, hi)
			for i := lo; i < hi; i++ {
				all, dense := m.standing(d, i)
				d.area[i] += 1000 * all.Length()
				d.bridge[i] += 1000 * dense.Length()
			}
			d.close(lo, hi)
			hi = lo
		}
		return d
	}
	want := find(m.n)
	for _, step := range []int{1, 3, 50} {
		got := find(step)
		for i := range m.n {
			if got.area[i] != want.area[i] || got.under[i] != want.under[i] || got.bridge[i] != want.bridge[i] {
				t.Fatalf("windows of %d layers: layer %d has %v %v %v, want %v %v %v", step, i,
					got.area[i], got.under[i], got.bridge[i], want.area[i], want.under[i], want.bridge[i])
			}
		}
	}
}

// Too much is said in a sentence, the same for any number of workers.
func TestTooMuch(t *testing.T) {
	var comb region.Ring
	for i := range maxPoints/2 + 1 {
		x := region.Micron(i)
		comb = append(comb, region.Point{X: x, Y: 1000 * (x % 2)}, region.Point{X: x, Y: 1000 * (x%2 + 1)})
	}
	layers := prism(0.4, 0.2, region.Region{comb})
	for _, workers := range []int{1, 3} {
		_, err := Make([]Part{{Layers: layers}}, testWay(nil), testPrinter, 0, workers)
		if err == nil || !strings.Contains(err.Error(), "layer 1 has") || !strings.Contains(err.Error(), "choose") {
			t.Errorf("%d workers: %v", workers, err)
		}
	}
}

// Beads past the budget are no longer kept, in whatever order layers come.
func TestKeep(t *testing.T) {
	big := draft{groups: []group{{stages: [][]stroke{{{pts: make([]region.Point, maxLaid/3/pointBytes)}}}}}}
	for _, n := range []int{2, 3, 9} {
		m := &maker{workers: 3}
		m.each(n, func(i int) { m.keep(make([]draft, n), i, big) })
		if m.full() != (n > 2) {
			t.Errorf("%d thirds of the budget: full is %v", n, m.full())
		}
	}
}
