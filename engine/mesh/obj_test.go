package mesh

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"platebook/internal/oracle"

	"platebook/engine/say"
)

const cornersOBJ = "v 0 0 0\nv 10 0 0\nv 0 10 0\nv 0 0 10\n"
const tetraOBJ = cornersOBJ + "f 1 3 2\nf 1 2 4\nf 1 4 3\nf 2 3 4\n"

// Rules of the OBJ format (its appendix B1; MEMORY): indices from 1 or back from
// the last, v/vt/vn, lines joined by a backslash, polygons.
func TestOBJ(t *testing.T) {
	cube := "v 0 0 0\nv 10 0 0\nv 10 10 0\nv 0 10 0\nv 0 0 10\nv 10 0 10\nv 10 10 10\nv 0 10 10\n" +
		"f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n"
	// An L of 30 by 30 less 20 by 20, 10 high: 5000 mm³. Its two sides are concave.
	ell := "v 0 0 0\nv 30 0 0\nv 30 10 0\nv 10 10 0\nv 10 30 0\nv 0 30 0\n" +
		"v 0 0 10\nv 30 0 10\nv 30 10 10\nv 10 10 10\nv 10 30 10\nv 0 30 10\n" +
		"f 6 5 4 3 2 1\nf 7 8 9 10 11 12\nf 1 2 8 7\nf 2 3 9 8\nf 3 4 10 9\nf 4 5 11 10\nf 5 6 12 11\nf 6 1 7 12\n"
	for _, c := range []struct {
		name, text string
		facets     int
		volume     float64
		title      string
		parts      []string
		warning    string
	}{
		{"triangles", tetraOBJ, 4, tetraVolume, "", nil, ""},
		{"CRLF", strings.ReplaceAll(tetraOBJ, "\n", "\r\n"), 4, tetraVolume, "", nil, ""},
		{"CR alone", strings.ReplaceAll(tetraOBJ, "\n", "\r"), 4, tetraVolume, "", nil, ""},
		{"no line end", strings.TrimSuffix(tetraOBJ, "\n"), 4, tetraVolume, "", nil, ""},
		{"UTF-16", string(utf16LE([]byte(tetraOBJ))), 4, tetraVolume, "", nil, ""},
		{"byte order mark", "\xEF\xBB\xBF" + tetraOBJ, 4, tetraVolume, "", nil, ""},
		{"back from the last", cornersOBJ + "f -4 -2 -3\nf -4 -3 -1\nf -4 -1 -2\nf -3 -2 -1\n", 4, tetraVolume, "", nil, ""},
		{"textures and normals", cornersOBJ + "vt 0 0\nvn 0 0 1\nf 1/1 3/1 2/1\nf 1//1 2//1 4//1\nf 1/1/1 4/1/1 3/1/1\nf 2/-1/-1 3/-1/-1 4/-1/-1\n", 4, tetraVolume, "", nil, ""},
		{"joined lines", strings.ReplaceAll(tetraOBJ, "f 1 3 2", "f 1 \\\n  3\\\r\n 2"), 4, tetraVolume, "", nil, ""},
		{"remarks", strings.ReplaceAll(tetraOBJ, "\n", " # a remark \\\n"), 4, tetraVolume, "", nil, ""},
		{"faces before vertices", "f 1 3 2\nf 1 2 4\n" + cornersOBJ + "f 1 4 3\nf 2 3 4\n", 4, tetraVolume, "", nil, ""},
		{"colours on vertices", strings.ReplaceAll(tetraOBJ, " 10\n", " 10 0.5 0.5 0.5\n"), 4, tetraVolume, "", nil, ""},
		{"weight 1", strings.ReplaceAll(tetraOBJ, "v 10 0 0\n", "v 10 0 0 1.0\n"), 4, tetraVolume, "", nil, ""},
		{"weight", strings.ReplaceAll(tetraOBJ, "v 10 0 0\n", "v 10 0 0 2\n"), 4, tetraVolume, "", nil, "weight"},
		{"quads", cube, 12, 1000, "", nil, ""},
		{"concave", ell, 2*4 + 6*2, 5000, "", nil, ""},
		{"names", "o Lid é\ng a b\n" + tetraOBJ, 4, tetraVolume, "Lid é", nil, ""},
		{"lines and points", tetraOBJ + "l 1 2\np 3\n", 4, tetraVolume, "", nil, "lines, points or curves"},
		{"words of others", tetraOBJ + "gloss 3\n", 4, tetraVolume, "", nil, "1 line says nothing an OBJ file should say (the first is line 9)"},
		{"materials", cornersOBJ + "usemtl unused\nusemtl red wax\nf 1 3 2\nf 1 2 4\nusemtl blue\nf 1 4 3\nusemtl red wax\nf 2 3 4\n", 4, tetraVolume, "", []string{"red wax", "blue"}, ""},
		{"some without", cornersOBJ + "f 1 3 2\nf 1 2 4\nusemtl blue\nf 1 4 3\nf 2 3 4\n", 4, tetraVolume, "", []string{"no material given", "blue"}, ""},
		{"one material", "usemtl red\n" + tetraOBJ, 4, tetraVolume, "", []string{"red"}, ""},
		{"unused bad vertex", "v 0 0 x\n" + strings.NewReplacer("f 1 3 2", "f -4 -2 -3", "f 1 2 4", "f -4 -3 -1", "f 1 4 3", "f -4 -1 -2", "f 2 3 4", "f -3 -2 -1").Replace(tetraOBJ), 4, tetraVolume, "", nil, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := readBytes([]byte(c.text), "part.obj")
			if err != nil {
				t.Fatal(err)
			}
			checkModel(t, m)
			var parts []string
			for _, p := range m.ColourParts {
				parts = append(parts, p.Name)
			}
			if m.Format != OBJ || m.Facets != c.facets || m.Name != c.title || !slices.Equal(parts, c.parts) {
				t.Errorf("%s of %d facets, name %q, parts %q", m.Format, m.Facets, m.Name, parts)
			}
			if v := signedVolume(m.Mesh); math.Abs(v-c.volume) > 1e-9 {
				t.Errorf("volume %v, want %v", v, c.volume)
			}
			if !boundless(m.Mesh.F) {
				t.Error("not closed")
			}
			all := strings.Join(say.Strings(m.Warnings), " ")
			if c.warning == "" && all != "" || !strings.Contains(all, c.warning) {
				t.Errorf("warnings %q, want %q", m.Warnings, c.warning)
			}
		})
	}
	m, err := readBytes([]byte(cornersOBJ+"usemtl a\nf 1 3 2\nf 1 2 4\nusemtl b\nf 1 4 3\nusemtl a\nf 2 3 4\n"), "a.obj")
	if err != nil || !bytes.Equal(m.Mesh.Colour, []byte{0, 0, 1, 0}) {
		t.Errorf("colours %v, %v", m, err)
	}
}

func TestRefusedOBJ(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"index 0", cornersOBJ + "f 0 1 2\n", `the face at line 5 says "0"`},
		{"index beyond", cornersOBJ + "f 1 2 5\n", "the face at line 5 uses vertex 5, and there are only 4"},
		{"index too far back", cornersOBJ + "f -1 -2 -5\n", "counts back 5 vertices, and there are only 4"},
		{"index no number", cornersOBJ + "f a b c\n", `the face at line 5 says "a"`},
		{"index huge", cornersOBJ + "f 1 2 99999999999\n", "the face at line 5"},
		{"two corners", cornersOBJ + "f 1 2\n", "the face at line 5 has 2 corners"},
		{"no faces", cornersOBJ, "points only"},
		{"lines only", cornersOBJ + "l 1 2 3\n", "lines, points or curves only"},
		{"decimal comma", strings.Replace(tetraOBJ, "v 10 0 0", "v 10,5 0 0", 1), "line 2"},
		{"NaN", strings.Replace(tetraOBJ, "v 10 0 0", "v nan 0 0", 1), "not all numbers"},
		{"huge", strings.Replace(tetraOBJ, "v 10 0 0", "v 1e20 0 0", 1), "too far away"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := readBytes([]byte(c.text), "part.obj")
			if err == nil {
				t.Fatalf("read: %+v", m)
			}
			checkError(t, err)
			if !strings.Contains(err.Error(), c.says) {
				t.Errorf("%q does not say %q", err, c.says)
			}
		})
	}
	for _, lim := range []Limits{{Facets: 3}, {Vertices: 3}} {
		if _, err := Read(strings.NewReader(tetraOBJ), int64(len(tetraOBJ)), "a.obj", lim); err == nil || !strings.Contains(err.Error(), "more than the 3") {
			t.Errorf("%+v: %v", lim, err)
		}
	}
}

// Debian assimp-testmodels hold two objects both as OBJ and as STL.
func TestOBJAgainstSTL(t *testing.T) {
	dir := oracle.File(t, "/usr/share/assimp/models")
	for _, c := range []struct{ obj, stl string }{
		{"OBJ/WusonOBJ.obj", "STL/Wuson.stl"},
		{"OBJ/spider.obj", "STL/Spider_binary.stl"},
	} {
		a, b := mustRead(t, filepath.Join(dir, c.obj)), mustRead(t, filepath.Join(dir, c.stl))
		if a.Facets != b.Facets {
			t.Errorf("%s: %d facets, %s: %d", c.obj, a.Facets, c.stl, b.Facets)
		}
		// The two were saved at different scales and places; what is left is the
		// same: volume about the middle over size cubed.
		va, vb := shape(a.Mesh), shape(b.Mesh)
		if math.Abs(va-vb) > 1e-4*math.Abs(va) || va == 0 {
			t.Errorf("%s: shape %v, %s: %v", c.obj, va, c.stl, vb)
		}
	}
	// Unit boxes of side 1 in six spellings.
	for _, name := range []string{"box", "box_UTF16BE", "box_mat_with_spaces", "box_without_lineending", "testmixed"} {
		m := mustRead(t, filepath.Join(dir, "OBJ", name+".obj"))
		if v := signedVolume(m.Mesh); math.Abs(v-1) > 1e-12 || len(m.Mesh.V) != 8 {
			t.Errorf("%s: volume %v of %d vertices", name, v, len(m.Mesh.V))
		}
	}
}

func shape(m *Mesh) float64 {
	b := bounds(m.V)
	middle := b.Min.Add(b.Max).Scale(0.5)
	c := &Mesh{F: m.F}
	for _, v := range m.V {
		c.V = append(c.V, v.Sub(middle))
	}
	return signedVolume(c) / math.Pow(b.Size().Len(), 3)
}

// Faces of any outline: n−2 facets, none turned over, and their areas sum to
// the outline's, found by the shoelace formula (COMPUTED). Every case is laid in
// several planes, both ways round and far away.
func TestEarClipping(t *testing.T) {
	star := func(n int, r *rand.Rand) (p []point2) {
		for i := range n {
			s, c := math.Sincos(2 * math.Pi * float64(i) / float64(n))
			d := 1 + 9*r.Float64()
			p = append(p, point2{d * c, d * s})
		}
		return p
	}
	var comb, spiral []point2
	for i := range 12 {
		x := float64(i)
		comb = append(comb, point2{2 * x, 10}, point2{2*x + 1, 1})
	}
	comb = append(comb, point2{24, 10}, point2{24, 0}, point2{0, 0})
	slices.Reverse(comb)
	for i := range 40 {
		s, c := math.Sincos(float64(i) * 0.4)
		spiral = append(spiral, point2{float64(i+10) * c, float64(i+10) * s})
	}
	for i := 39; i >= 0; i-- {
		s, c := math.Sincos(float64(i) * 0.4)
		spiral = append(spiral, point2{float64(i+8) * c, float64(i+8) * s})
	}
	r := rand.New(rand.NewPCG(1, 2))
	outlines := map[string][]point2{
		"square":                 {{0, 0}, {1, 0}, {1, 1}, {0, 1}},
		"arrowhead":              {{0, 0}, {4, 2}, {0, 4}, {1, 2}},
		"L":                      {{0, 0}, {3, 0}, {3, 1}, {1, 1}, {1, 3}, {0, 3}},
		"corners on a line":      {{0, 0}, {1, 0}, {2, 0}, {2, 2}, {1, 2}, {0, 2}},
		"square with a hole cut": {{0, 0}, {6, 0}, {6, 6}, {0, 6}, {0, 0}, {2, 2}, {2, 4}, {4, 4}, {4, 2}, {2, 2}},
		"comb":                   comb,
		"spiral":                 spiral,
	}
	for i := range 200 {
		outlines[fmt.Sprintf("star %d", i)] = star(5+i, r)
	}
	planes := []struct{ o, u, w Vec }{
		{Vec{0, 0, 0}, Vec{1, 0, 0}, Vec{0, 1, 0}},
		{Vec{0, 0, 0}, Vec{0, 1, 0}, Vec{1, 0, 0}},
		{Vec{1e4, -1e4, 1e4}, Vec{0.6, 0.8, 0}, Vec{0, 0, 1}},
		{Vec{1, 2, 3}, Vec{2. / 3, 2. / 3, 1. / 3}, Vec{-2. / 3, 1. / 3, 2. / 3}},
	}
	var e earClipper
	for name, outline := range outlines {
		for k, pl := range planes {
			n := len(outline)
			want := 0.0
			var v []Vec
			var face []int32
			for i, p := range outline {
				q := outline[(i+1)%n]
				want += (p.x*q.y - q.x*p.y) / 2
				v = append(v, pl.o.Add(pl.u.Scale(p.x)).Add(pl.w.Scale(p.y)))
				face = append(face, int32(i))
			}
			normal := pl.u.Cross(pl.w).Scale(math.Copysign(1, want))
			f, ok := e.clip(nil, v, face)
			if !ok || len(f) != n-2 {
				t.Fatalf("%s in plane %d: %d facets for %d corners", name, k, len(f), n)
			}
			got := 0.0
			for _, f := range f {
				a := v[f[1]].Sub(v[f[0]]).Cross(v[f[2]].Sub(v[f[0]])).Dot(normal) / 2
				if a < -1e-7*math.Abs(want) {
					t.Fatalf("%s in plane %d: facet %v turned over (%v)", name, k, f, a)
				}
				got += a
			}
			if math.Abs(got-math.Abs(want)) > 1e-7*math.Abs(want) {
				t.Errorf("%s in plane %d: area %v, want %v", name, k, got, want)
			}
		}
	}
}

// Whatever a face's corners, cutting ends and uses each edge of it once.
func TestEarClippingOfNonsense(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	var e earClipper
	for i := range 500 {
		n := 4 + r.IntN(30)
		var v []Vec
		var face []int32
		for k := range n {
			p := Vec{r.NormFloat64(), r.NormFloat64(), r.NormFloat64() * float64(i%3)}
			switch r.IntN(20) {
			case 0:
				p[r.IntN(3)] = math.NaN()
			case 1:
				p[r.IntN(3)] = math.Inf(1)
			case 2:
				p = Vec{}
			case 3:
				p = p.Scale(1e200)
			}
			v, face = append(v, p), append(face, int32(k))
		}
		f, ok := e.clip(nil, v, face)
		if !ok || len(f) != n-2 {
			t.Fatalf("%d facets of %d corners", len(f), n)
		}
		// With the face itself turned over, the facets leave no edge unmatched.
		for k := 1; k+1 < n; k++ {
			f = append(f, [3]int32{face[0], face[k+1], face[k]})
		}
		if !boundless(f) {
			t.Fatal("an edge of the face is lost")
		}
	}
}

// Faces made to take long are refused, not waited for: one that runs to and fro
// between random places has hardly an ear. Most of the work allowed is spent already.
func TestEarClippingWork(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	var v []Vec
	var face []int32
	for i := range 5000 {
		v = append(v, Vec{r.Float64(), r.Float64(), 0})
		face = append(face, int32(i))
	}
	e := earClipper{work: clipWork - 1_000_000}
	if f, ok := e.clip(nil, v, face); ok {
		t.Errorf("cut into %d facets after all", len(f))
	}
	if e.work > clipWork+20_000 {
		t.Errorf("%d corners were looked at after the limit", e.work-clipWork)
	}
}
