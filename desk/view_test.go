package desk

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image/color"
	"io"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"platebook/engine/mesh"
	"platebook/engine/picture"
)

// viewed is a view read back.
type viewed struct {
	Has           byte
	Up            [3]float32
	Platform      [2]float32
	Colours       [][3]uint8
	Part, Support mesh.Mesh
	Hatch         []picture.Hatch
	Marks         []picture.Mark
}

// readView follows the table in view.go, and nothing of its code.
func readView(b []byte) (v viewed, err error) {
	r := bytes.NewReader(b)
	read := func(x any) {
		if err == nil {
			err = binary.Read(r, binary.LittleEndian, x)
		}
	}
	var magic [4]byte
	var colours uint8
	var marks uint16
	read(&magic)
	read(&v.Has)
	read(&colours)
	read(&marks)
	if string(magic[:]) != "DVW1" {
		return v, fmt.Errorf("begins %q", magic)
	}
	if v.Has&1 != 0 {
		read(&v.Up)
	}
	if v.Has&2 != 0 {
		read(&v.Platform)
	}
	v.Colours = make([][3]uint8, colours)
	read(v.Colours)
	surface := func(colours bool) (m mesh.Mesh) {
		var nv, nf uint32
		var least [3]float32
		var step float32
		read(&nv)
		read(&nf)
		read(&least)
		read(&step)
		if err != nil || int(nv)*6+int(nf)*12 > r.Len() {
			err = fmt.Errorf("%d vertices and %d facets in %d bytes: %v", nv, nf, r.Len(), err)
			return m
		}
		vs, fs := make([][3]uint16, nv), make([][3]uint32, nf)
		read(vs)
		read(fs)
		for _, p := range vs {
			m.V = append(m.V, mesh.Vec{
				float64(least[0]) + float64(step)*float64(p[0]),
				float64(least[1]) + float64(step)*float64(p[1]),
				float64(least[2]) + float64(step)*float64(p[2])})
		}
		for _, f := range fs {
			m.F = append(m.F, [3]int32{int32(f[0]), int32(f[1]), int32(f[2])})
		}
		if colours {
			m.Colour = make([]uint8, nf)
			read(m.Colour)
		}
		return m
	}
	v.Part = surface(v.Has&8 != 0)
	packed := make([]byte, (len(v.Part.F)+3)/4)
	read(packed)
	for i := range v.Part.F {
		v.Hatch = append(v.Hatch, picture.Hatch(packed[i/4]>>(i%4*2)&3))
	}
	if v.Has&4 != 0 {
		v.Support = surface(false)
	}
	for range marks {
		var at [3]float32
		var number, n uint16
		var severity uint8
		read(&at)
		read(&number)
		read(&severity)
		read(&n)
		label := make([]byte, n)
		read(label)
		v.Marks = append(v.Marks, picture.Mark{At: mesh.Vec{float64(at[0]), float64(at[1]), float64(at[2])}, Number: int(number),
			Severity: [3]string{"note", "ask", "stop"}[severity], Label: string(label)})
	}
	if err == nil && r.Len() > 0 {
		err = fmt.Errorf("%d bytes more than the table says", r.Len())
	}
	return v, err
}

func viewOfScene(t *testing.T, s picture.Scene, most int) viewed {
	t.Helper()
	var b bytes.Buffer
	if err := EncodeView(&b, s, most); err != nil {
		t.Fatal(err)
	}
	v, err := readView(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// block is a box from its corner over its size; twelve facets, or more when cut
// into n × n squares a side.
func block(corner, size mesh.Vec, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for axis := range 3 {
		for _, far := range []bool{false, true} {
			u, v := (axis+1)%3, (axis+2)%3
			first := int32(len(m.V))
			for j := range n + 1 {
				for i := range n + 1 {
					p := corner
					if far {
						p[axis] += size[axis]
					}
					p[u] += size[u] * float64(i) / float64(n)
					p[v] += size[v] * float64(j) / float64(n)
					m.V = append(m.V, p)
				}
			}
			for j := range n {
				for i := range n {
					a := first + int32(j*(n+1)+i)
					b, c, d := a+1, a+int32(n)+1, a+int32(n)+2
					if far {
						m.F = append(m.F, [3]int32{a, b, d}, [3]int32{a, d, c})
					} else {
						m.F = append(m.F, [3]int32{a, d, b}, [3]int32{a, c, d})
					}
				}
			}
		}
	}
	return m
}

// globe is a ball in n rings of 2n.
func globe(r float64, n int) *mesh.Mesh {
	m := &mesh.Mesh{}
	for j := range n + 1 {
		for i := range 2 * n {
			st, ct := math.Sincos(math.Pi * float64(j) / float64(n))
			sp, cp := math.Sincos(math.Pi * float64(i) / float64(n))
			m.V = append(m.V, mesh.Vec{r * st * cp, r * st * sp, r * ct})
		}
	}
	at := func(j, i int) int32 { return int32(j*2*n + i%(2*n)) }
	for j := range n {
		for i := range 2 * n {
			m.F = append(m.F, [3]int32{at(j, i), at(j+1, i), at(j+1, i+1)}, [3]int32{at(j, i), at(j+1, i+1), at(j, i+1)})
		}
	}
	return m
}

// What a view holds, against closed forms: a box has volume abc and area
// 2(ab+bc+ca); a ball 4πr³/3 and 4πr².
func TestViewMeasures(t *testing.T) {
	for _, c := range []struct {
		name         string
		m            *mesh.Mesh
		most         int
		volume, area float64
		off          float64 // as a part of each
		coarser      bool
	}{
		{"unit box", block(mesh.Vec{}, mesh.Vec{1, 1, 1}, 1), 400_000, 1, 6, 1e-4, false},
		{"box far away", block(mesh.Vec{-4000, 900, 30}, mesh.Vec{80, 60, 20}, 3), 400_000, 96_000, 15_200, 1e-4, false},
		{"large box", block(mesh.Vec{0, 0, 0}, mesh.Vec{400, 400, 400}, 1), 400_000, 64e6, 960_000, 1e-4, false},
		{"tiny box", block(mesh.Vec{0, 0, 0}, mesh.Vec{1e-3, 1e-3, 1e-3}, 1), 400_000, 1e-9, 6e-6, 1e-4, false},
		{"ball", globe(30, 100), 400_000, 4 * math.Pi * 27000 / 3, 4 * math.Pi * 900, 2e-3, false},
		{"ball drawn together", globe(30, 100), 10_000, 4 * math.Pi * 27000 / 3, 4 * math.Pi * 900, 0.02, true},
		{"box drawn together", block(mesh.Vec{}, mesh.Vec{80, 60, 20}, 60), 8000, 96_000, 15_200, 0.05, true},
	} {
		v := viewOfScene(t, picture.Scene{Mesh: c.m}, c.most)
		got := mesh.Measure(&v.Part)
		if math.Abs(got.Volume/c.volume-1) > c.off || math.Abs(got.Area/c.area-1) > c.off {
			t.Errorf("%s: volume %g, area %g; closed form %g, %g", c.name, got.Volume, got.Area, c.volume, c.area)
		}
		if len(v.Part.F) > c.most || len(v.Part.F) < min(len(c.m.F), c.most)/4 {
			t.Errorf("%s: %d facets of %d, at most %d asked for", c.name, len(v.Part.F), len(c.m.F), c.most)
		}
		if coarser := v.Has&16 != 0; coarser != c.coarser {
			t.Errorf("%s: said to be coarser: %t", c.name, coarser)
		}
	}
}

// Everything in a scene comes back.
func TestViewHoldsAll(t *testing.T) {
	m := block(mesh.Vec{-10, -10, 0}, mesh.Vec{20, 20, 30}, 1)
	m.Colour = []uint8{0, 1, 0, 1, 0, 1, 0, 1, 0, 1, 0, 1}
	up := mesh.Vec{0, 1, 0}
	s := picture.Scene{
		Mesh: m, Colours: []color.NRGBA{{200, 10, 20, 255}, {1, 2, 3, 255}},
		Highlight: []picture.Hatch{0, 1, 2, 3, 0, 1, 2, 3, 3, 2, 1, 0},
		Marks: []picture.Mark{
			{At: mesh.Vec{1, 2, 3}, Number: 1, Severity: "stop", Label: "Wall of 0.3 mm"},
			{At: mesh.Vec{-1, 0, 30}, Number: 12, Severity: "ask", Label: "Überhang"},
			{At: mesh.Vec{}, Number: 999, Severity: "note"},
		},
		Support: block(mesh.Vec{0, 0, 0}, mesh.Vec{5, 5, 5}, 1), Up: &up, Platform: &[2]float64{220, 210},
	}
	v := viewOfScene(t, s, 1000)
	if v.Has != 15 {
		t.Errorf("has %b", v.Has)
	}
	if v.Up != [3]float32{0, 1, 0} || v.Platform != [2]float32{220, 210} {
		t.Errorf("up %v, platform %v", v.Up, v.Platform)
	}
	for what, diff := range map[string]string{
		"hatching": cmp.Diff(s.Highlight, v.Hatch), "marks": cmp.Diff(s.Marks, v.Marks), "colours of facets": cmp.Diff(m.Colour, v.Part.Colour),
		"colours": cmp.Diff([][3]uint8{{200, 10, 20}, {1, 2, 3}}, v.Colours),
	} {
		if diff != "" {
			t.Errorf("%s: %s", what, diff)
		}
	}
	if got := mesh.Measure(&v.Support).Volume; math.Abs(got-125) > 0.1 {
		t.Errorf("support of %g mm³, want 125", got)
	}
}

func TestViewRefuses(t *testing.T) {
	good := func() picture.Scene { return picture.Scene{Mesh: block(mesh.Vec{}, mesh.Vec{1, 1, 1}, 1)} }
	for _, c := range []struct {
		name string
		do   func(*picture.Scene)
		want string
	}{
		{"no mesh", func(s *picture.Scene) { s.Mesh = nil }, "nothing to show"},
		{"no facets", func(s *picture.Scene) { s.Mesh.F = nil }, "nothing to show"},
		{"not a number", func(s *picture.Scene) { s.Mesh.V[3][1] = math.NaN() }, "vertex 3"},
		{"endless", func(s *picture.Scene) { s.Mesh.V[0][0] = math.Inf(1) }, "vertex 0"},
		{"no such vertex", func(s *picture.Scene) { s.Mesh.F[2][0] = 99 }, "facet 2"},
		{"below", func(s *picture.Scene) { s.Mesh.F[2][0] = -1 }, "facet 2"},
		{"hatchings", func(s *picture.Scene) { s.Highlight = []picture.Hatch{1} }, "differ in number"},
		{"mark", func(s *picture.Scene) { s.Marks = []picture.Mark{{At: mesh.Vec{math.NaN()}}} }, "mark 0"},
		{"number", func(s *picture.Scene) { s.Marks = []picture.Mark{{Number: 70000}} }, "mark 70000"},
		{"up", func(s *picture.Scene) { s.Up = &mesh.Vec{math.Inf(1)} }, "up"},
		{"platform", func(s *picture.Scene) { s.Platform = &[2]float64{0, 1} }, "platform"},
	} {
		s := good()
		c.do(&s)
		if err := EncodeView(io.Discard, s, 1000); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q in it", c.name, err, c.want)
		}
	}
	if err := EncodeView(io.Discard, good(), 3); err == nil {
		t.Error("three facets are enough for a view?")
	}
}

// Any soup of facets gives bytes that read back, within the bound, and with no
// vertex further off than half a step.
func TestViewAny(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.Float64Range(-viewFarthest, viewFarthest)
		n := rapid.IntRange(1, 40).Draw(t, "vertices")
		m := &mesh.Mesh{}
		for range n {
			m.V = append(m.V, mesh.Vec{at.Draw(t, "x"), at.Draw(t, "y"), at.Draw(t, "z")})
		}
		corner := rapid.Int32Range(0, int32(n-1))
		for range rapid.IntRange(1, 60).Draw(t, "facets") {
			m.F = append(m.F, [3]int32{corner.Draw(t, "a"), corner.Draw(t, "b"), corner.Draw(t, "c")})
		}
		most := rapid.IntRange(4, 80).Draw(t, "most")
		var b bytes.Buffer
		if err := EncodeView(&b, picture.Scene{Mesh: m}, most); err != nil {
			t.Fatal(err)
		}
		v, err := readView(b.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if len(v.Part.F) > most {
			t.Fatalf("%d facets, at most %d asked for", len(v.Part.F), most)
		}
		for _, f := range v.Part.F {
			if int(max(f[0], f[1], f[2])) >= len(v.Part.V) {
				t.Fatal("a facet points nowhere")
			}
		}
	})
}
