package mesh

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"

	"platebook/internal/oracle"

	"platebook/engine/say"
)

// signedVolume is the sum of tetrahedra from the origin, mm³.
func signedVolume(m *Mesh) float64 {
	s := 0.0
	for _, f := range m.F {
		s += m.V[f[0]].Dot(m.V[f[1]].Cross(m.V[f[2]]))
	}
	return s / 6
}

// tetra is the corner of a cube of side 10: volume 1000/6.
var tetra = [][3][3]float32{
	{{0, 0, 0}, {0, 10, 0}, {10, 0, 0}},
	{{0, 0, 0}, {10, 0, 0}, {0, 0, 10}},
	{{0, 0, 0}, {0, 0, 10}, {0, 10, 0}},
	{{10, 0, 0}, {0, 10, 0}, {0, 0, 10}},
}

const tetraVolume = 1000. / 6

func binarySTL(header string, count int, facets [][3][3]float32, tail string) []byte {
	b := make([]byte, 80)
	copy(b, header)
	b = binary.LittleEndian.AppendUint32(b, uint32(count))
	for _, f := range facets {
		b = append(b, make([]byte, 12)...)
		for _, v := range f {
			for _, x := range v {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
			}
		}
		b = append(b, 0, 0)
	}
	return append(b, tail...)
}

// textSTL writes the tetrahedron; ask is what stands in for its words.
func textSTL(change ...string) []byte {
	var s strings.Builder
	s.WriteString("solid part\n")
	for _, f := range tetra {
		s.WriteString("facet normal 0 0 0\nouter loop\n")
		for _, v := range f {
			fmt.Fprintf(&s, "vertex %g %g %g\n", v[0], v[1], v[2])
		}
		s.WriteString("endloop\nendfacet\n")
	}
	s.WriteString("endsolid part\n")
	return []byte(strings.NewReplacer(change...).Replace(s.String()))
}

func nan32() float32 { return float32(math.NaN()) }

// The rules of both dialects (the format's published description: header 80,
// count, 50 bytes a facet; words of the text form), and how files break them.
func TestSTL(t *testing.T) {
	with := func(corner int, x float32) [][3][3]float32 {
		f := slices.Clone(tetra)
		f[2][corner][1] = x
		return f
	}
	cases := []struct {
		name    string
		data    []byte
		format  Format
		title   string
		facets  int
		warning string // a part of one; empty for none at all
	}{
		{"binary", binarySTL("part", 4, tetra, ""), BinarySTL, "part", 4, ""},
		{"solid in a binary header", binarySTL("solid part", 4, tetra, ""), BinarySTL, "part", 4, ""},
		{"binary header of blanks", binarySTL(strings.Repeat(" ", 80), 4, tetra, ""), BinarySTL, "", 4, ""},
		{"binary header that is a picture's", binarySTL("\x89PNG\r\n\x1a\n", 4, tetra, ""), BinarySTL, "", 4, ""},
		{"binary header in UTF-8 cut in a letter", binarySTL(strings.Repeat("x", 79)+"é", 4, tetra, ""), BinarySTL, strings.Repeat("x", 79), 4, ""},
		{"stray bytes", binarySTL("part", 4, tetra, "\x00\x01\x02"), BinarySTL, "part", 4, "follow 3 bytes that belong to no facet"},
		{"stray bytes, a program's first letters", binarySTL("MZ part", 4, tetra, "x"), BinarySTL, "MZ part", 4, "follows 1 byte that belongs to no facet"},
		{"stray bytes, solid in header", binarySTL("solid part", 4, tetra, "\x00\x01\x02"), BinarySTL, "part", 4, "3 bytes"},
		{"padding of zeros as long as facets", binarySTL("part", 4, tetra, strings.Repeat("\x00", 100)), BinarySTL, "part", 4, "100 bytes"},
		{"count too small", binarySTL("part", 3, tetra, ""), BinarySTL, "part", 4, "says it has 3 facets but holds 4"},
		{"count never filled in", binarySTL("part", 0, tetra, ""), BinarySTL, "part", 4, "never filled in"},
		{"count never filled in, all ones", binarySTL("part", math.MaxUint32, tetra, ""), BinarySTL, "part", 4, "never filled in"},
		{"text", textSTL(), ASCIISTL, "part", 4, ""},
		{"CRLF", textSTL("\n", "\r\n"), ASCIISTL, "part", 4, ""},
		{"CR alone", textSTL("\n", "\r"), ASCIISTL, "part", 4, ""},
		{"tabs", textSTL("\n", "\n\t\t", " ", "\t"), ASCIISTL, "part", 4, ""},
		{"all on one line", textSTL("\n", " "), ASCIISTL, "part", 4, ""},
		{"capitals", []byte(strings.ToUpper(string(textSTL()))), ASCIISTL, "PART", 4, ""},
		{"exponents", textSTL("10 ", "1.0E+01 ", "0 ", "+0.e0 "), ASCIISTL, "part", 4, ""},
		{"byte order mark", append([]byte("\xEF\xBB\xBF"), textSTL()...), ASCIISTL, "part", 4, ""},
		{"UTF-16", utf16LE(textSTL()), ASCIISTL, "part", 4, ""},
		{"Latin-1 name", textSTL("part", "Schl\xfcssel"), ASCIISTL, "Schlüssel", 4, ""},
		{"UTF-8 name", textSTL("part", "鍵 🔑"), ASCIISTL, "鍵 🔑", 4, ""},
		{"no name", textSTL(" part", ""), ASCIISTL, "", 4, ""},
		{"missing endsolid", textSTL("endsolid part\n", ""), ASCIISTL, "part", 4, "does not end with endsolid"},
		{"normals missing", textSTL(" normal 0 0 0", ""), ASCIISTL, "part", 4, "4 facets have no usable normal"},
		{"normals that are no numbers", textSTL("normal 0 0 0", "normal nan -nan(ind) 1.#QNAN"), ASCIISTL, "part", 4, "4 facets have no usable normal"},
		{"normals pointing in", textSTL("normal 0 0 0", "normal 0.5 0.5 0.5"), ASCIISTL, "part", 4, ""},
		{"two solids", append(textSTL(), textSTL("part", "other")...), ASCIISTL, "part", 8, "holds 2 solids"},
		{"colour lines between", textSTL("endfacet\n", "endfacet\ncolor 1 0 0\n"), ASCIISTL, "part", 4, "4 lines say nothing an STL file should say (the first is line 9)"},
		{"remark before", append([]byte("; made by hand\n"), textSTL()...), ASCIISTL, "part", 4, "1 line says"},
		{"zeros after the end", append(textSTL(), 0, 0, 0), ASCIISTL, "part", 4, ""},
		{"binary normals not numbers", func() []byte {
			b := binarySTL("part", 4, tetra, "")
			binary.LittleEndian.PutUint32(b[84:], math.Float32bits(nan32()))
			return b
		}(), BinarySTL, "part", 4, "1 facet has no usable normal"},
		{"colours in the spare bytes", func() []byte {
			b := binarySTL("part", 4, tetra, "")
			b[84+48] = 1
			return b
		}(), BinarySTL, "part", 4, "extra data"},
		{"minus zero", binarySTL("part", 4, with(0, float32(math.Copysign(0, -1))), ""), BinarySTL, "part", 4, ""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			m, err := readBytes(c.data, "part.stl")
			if err != nil {
				t.Fatal(err)
			}
			checkModel(t, m)
			if m.Format != c.format || m.Name != c.title || m.Facets != c.facets {
				t.Errorf("%s %q of %d facets, want %s %q of %d", m.Format, m.Name, m.Facets, c.format, c.title, c.facets)
			}
			if len(m.Mesh.V) != 4 {
				t.Errorf("%d vertices, want 4", len(m.Mesh.V))
			}
			want := tetraVolume * float64(c.facets/4)
			if v := signedVolume(m.Mesh); math.Abs(v-want) > 1e-9 {
				t.Errorf("volume %v, want %v", v, want)
			}
			all := strings.Join(say.Strings(m.Warnings), " ")
			if c.warning == "" && all != "" || !strings.Contains(all, c.warning) {
				t.Errorf("warnings %q, want %q", m.Warnings, c.warning)
			}
		})
	}
}

func utf16LE(b []byte) []byte {
	out := []byte{0xFF, 0xFE}
	for _, c := range b {
		out = append(out, c, 0)
	}
	return out
}

// What cannot be read, and the words a librarian gets for it.
func TestSTLRefused(t *testing.T) {
	with := func(x float32) [][3][3]float32 {
		f := slices.Clone(tetra)
		f[2][1][1] = x
		return f
	}
	cases := []struct {
		name string
		data []byte
		says []string
	}{
		{"cut short", binarySTL("part", 66, tetra, ""), []string{"cut short", "promises 66 facets and holds only 4"}},
		{"cut short in a facet", binarySTL("part", 4, tetra, "")[:84+3*50+20], []string{"promises 4 facets and holds only 3"}},
		{"cut short in the first facet", binarySTL("part", 4, tetra, "")[:100], []string{"promises 4 facets and ends within the first"}},
		{"cut short in the header", binarySTL("part", 4, tetra, "")[:50], []string{"ends before its first facet"}},
		{"no facets", binarySTL("part", 0, nil, ""), []string{"holds no facets"}},
		{"text without facets", []byte("solid part\nendsolid part\n"), []string{"ASCII STL", "holds no facets"}},
		{"NaN", binarySTL("part", 4, with(nan32()), ""), []string{"facet 3", "not all numbers"}},
		{"infinite", binarySTL("part", 4, with(float32(math.Inf(-1))), ""), []string{"facet 3", "not all numbers"}},
		{"huge", binarySTL("part", 4, with(1e30), ""), []string{"facet 3", "too far away"}},
		{"NaN in text", textSTL("vertex 0 0 10\nvertex 0 10", "vertex 0 0 10\nvertex 0 nan"), []string{"facet 3", "not all numbers"}},
		{"huge in text", textSTL("vertex 0 0 10\nvertex 0 10", "vertex 0 0 10\nvertex 0 1e999"), []string{"facet 3", "not all numbers"}},
		{"cut text", textSTL()[:200], []string{"ends in the middle of facet 3", "line 16"}},
		{"decimal commas", textSTL("vertex 10 ", "vertex 10,5 "), []string{"line 6", `"10,5"`, "decimal point"}},
		{"a word for a number", textSTL("vertex 10 ", "vertex ten "), []string{"line 6", `"ten"`}},
		{"quad", textSTL("vertex 10 0 0\nendloop", "vertex 10 0 0\nvertex 1 1 1\nendloop"), []string{"facet 1 at line 2", "4 corners"}},
		{"two corners", textSTL("vertex 10 0 0\nendloop", "endloop"), []string{"facet 1 at line 2", "2 corners"}},
		{"no endfacet", textSTL("endfacet", "endfact"), []string{"facet 1 at line 2", "no endfacet"}},
		{"no loop", textSTL("outer loop", "inner loop"), []string{"facet 1 at line 2", "no outer loop"}},
		{"words in a loop", textSTL("endloop", "colour red\nendloop"), []string{"facet 1 at line 2", `says "colour"`}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			m, err := readBytes(c.data, "part.stl")
			if err == nil {
				t.Fatalf("read as %v", m)
			}
			checkError(t, err)
			for _, s := range c.says {
				if !strings.Contains(err.Error(), s) {
					t.Errorf("%q does not say %q", err, s)
				}
			}
		})
	}
}

// npm stl-models holds the same objects as text and as binary.
func TestBothDialectsAgree(t *testing.T) {
	dir := filepath.Dir(oracle.NPM(t, "stl-models/package.json"))
	for _, c := range []struct{ text, bin string }{
		{"objects/bunny.ascii.stl", "objects/bunny.bin.stl"},
		{"objects/gearwheel.ascii.stl", "objects/gearwheel.bin.stl"},
		{"polytopes/cube.ascii.stl", "polytopes/cube.bin.stl"},
		{"polytopes/tetrahedron.ascii.stl", "polytopes/tetrahedron.bin.stl"},
		{"polytopes/tetrahedron.min.ascii.stl", "polytopes/tetrahedronMinusZero.bin.stl"},
		{"polytopes/tetrahedronIrregular.ascii.stl", "polytopes/tetrahedronIrregular.bin.stl"},
		{"polytopes/triangle.ascii.stl", "polytopes/triangle.bin.stl"},
		{"polytopes/unitCube.ascii.stl", "polytopes/unitCube.binary.stl"},
	} {
		t.Run(c.bin, func(t *testing.T) {
			a, b := mustRead(t, filepath.Join(dir, c.text)), mustRead(t, filepath.Join(dir, c.bin))
			if a.Unit != b.Unit {
				t.Fatalf("units %s and %s", a.Unit, b.Unit)
			}
			if !slices.Equal(a.Mesh.F, b.Mesh.F) {
				t.Fatalf("facets differ (%d and %d)", a.Facets, b.Facets)
			}
			for i, v := range a.Mesh.V {
				for k := range v {
					// The text has seven digits at least, the binary 24 bits.
					if x, y := v[k], b.Mesh.V[i][k]; math.Abs(x-y) > math.Abs(y)*(5e-7+1.0/(1<<24)) {
						t.Fatalf("vertex %d is %v and %v", i, v, b.Mesh.V[i])
					}
				}
			}
		})
	}
}

// Debian admesh counts the facets it reads; so must we, where it answers.
func TestFacetsAgainstAdmesh(t *testing.T) {
	admesh := oracle.Program(t, "admesh")
	count := regexp.MustCompile(`Number of facets\s*:\s*(\d+)`)
	compared := 0
	for _, dir := range outside(t) {
		files, _ := filepath.Glob(filepath.Join(dir, "*", "*.[sS][tT][lL]"))
		more, _ := filepath.Glob(filepath.Join(dir, "*", "*", "*.[sS][tT][lL]"))
		for _, path := range append(files, more...) {
			m, err := readFile(t, path)
			if err != nil {
				continue
			}
			out, err := exec.Command(admesh, "--no-check", path).Output()
			g := count.FindSubmatch(out)
			if err != nil || g == nil {
				continue
			}
			n, _ := strconv.Atoi(string(g[1]))
			compared++
			if n != m.Facets {
				t.Errorf("%s: %d facets, admesh has %d", filepath.Base(path), m.Facets, n)
			}
		}
	}
	if compared < 20 {
		t.Errorf("only %d files compared", compared)
	}
}

// The mesh must not depend on how many cores read it, nor on the weld's seed.
func TestCoresDoNotMatter(t *testing.T) {
	data := bigSTL(t, 40_000)
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	var first *Model
	for _, cores := range []int{1, 2, 3, 7} {
		runtime.GOMAXPROCS(cores)
		m, err := readBytes(data, "big.stl")
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = m
		}
		if !slices.Equal(m.Mesh.F, first.Mesh.F) || !slices.Equal(m.Mesh.V, first.Mesh.V) {
			t.Fatalf("another mesh on %d cores", cores)
		}
	}
	// The gearwheel is closed, so V = F/2 for each of its copies (genus 1: COMPUTED from Euler).
	if v, f := len(first.Mesh.V), len(first.Mesh.F); v != f/2 {
		t.Errorf("%d vertices for %d facets", v, f)
	}
}

// A reader that fails or is shorter than said is a sentence, on any number of cores.
func TestShortReader(t *testing.T) {
	data := bigSTL(t, 20_000)
	for _, cut := range []int{0, 50, 84, 5000, len(data) / 2, len(data) - 1} {
		_, err := Read(bytes.NewReader(data[:cut]), int64(len(data)), "big.stl", Limits{})
		if err == nil {
			t.Fatalf("read %d of %d bytes", cut, len(data))
		}
		checkError(t, err)
	}
}

func TestLimitsSTL(t *testing.T) {
	for _, c := range []struct {
		lim  Limits
		data []byte
		says string
	}{
		{Limits{Bytes: 100}, binarySTL("", 4, tetra, ""), "kilobyte"},
		{Limits{Facets: 3}, binarySTL("", 4, tetra, ""), "4 facets are more than the 3"},
		{Limits{Facets: 3}, textSTL(), "more than the 3 facets"},
		{Limits{Vertices: 3}, binarySTL("", 4, tetra, ""), "more than the 3 different corners"},
		{Limits{Vertices: 3}, textSTL(), "more than the 3 different corners"},
	} {
		_, err := Read(bytes.NewReader(c.data), int64(len(c.data)), "a.stl", c.lim)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v, want %q", err, c.says)
			continue
		}
		checkError(t, err)
	}
}

// Numbers must be those strconv reads, to the last bit.
func TestNumber(t *testing.T) {
	for _, s := range []string{"0", "-0", "1", "0.1", "-9.102796e-01", "1e22", "1e23", "123456789012345678", "9007199254740993",
		"0.30000000000000004", "1e-22", "1.7976931348623157e308", "5e-324", "2.2250738585072011e-308", ".5", "5.", "+1.5E+3",
		"179769313486231580793728971405301e276", "00000000000000000001.5", "3.4028235e38", "6.02214076e23"} {
		want, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		got, ok := number([]byte(s))
		if !ok || math.Float64bits(got) != math.Float64bits(want) && !(got == 0 && want == 0) {
			t.Errorf("number(%q) = %v, %v; want %v", s, got, ok, want)
		}
	}
	for _, s := range []string{"", ".", "-", "1e", "1e+", "1,5", "0x10", "1_000", "1.2.3", "--1", "1e5x", "abc"} {
		if x, ok := number([]byte(s)); ok {
			t.Errorf("number(%q) = %v, want none", s, x)
		}
	}
	if data, err := os.ReadFile(oracle.NPM(t, "stl-models/objects/gearwheel.ascii.stl")); err == nil {
		for _, w := range bytes.Fields(data) {
			want, err := strconv.ParseFloat(string(w), 64)
			got, ok := number(w)
			if ok != (err == nil) || ok && got != want {
				t.Fatalf("number(%q) = %v, want %v", w, got, want)
			}
		}
	}
}

// Facets in random order are read as any others: a vertex for each place,
// numbered by first use, whatever the chunks share and however many cores there are.
func TestScatteredFacets(t *testing.T) {
	ball := ball(40, 260) // chunks enough that some are left unwelded
	rand.New(rand.NewPCG(5, 6)).Shuffle(len(ball.F), func(i, j int) { ball.F[i], ball.F[j] = ball.F[j], ball.F[i] })
	// Again in order, so that the reader changes its mind.
	loose := soup(ball)
	slices.SortFunc(ball.F, func(p, q [3]int32) int { return int(p[0] - q[0]) })
	ordered := soup(ball)
	loose = Merge(loose, ordered, loose)
	var list [][3][3]float32
	for _, f := range loose.F {
		var c [3][3]float32
		for k, v := range f {
			for j := range 3 {
				c[k][j] = float32(loose.V[v][j])
				loose.V[v][j] = float64(c[k][j])
			}
		}
		list = append(list, c)
	}
	if len(list) < 20*stlChunk {
		t.Fatalf("only %d facets", len(list))
	}
	want := exactWeld(loose)
	data := binarySTL("scattered", len(list), list, "")
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, cores := range []int{1, 2, 3} {
		runtime.GOMAXPROCS(cores)
		m, err := readBytes(data, "scattered.stl")
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(m.Mesh.V, want.V) || !slices.Equal(m.Mesh.F, want.F) {
			t.Errorf("%d cores: another mesh", cores)
		}
	}
}
