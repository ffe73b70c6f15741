package findings

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/engine/slice"

	"platebook/engine/say"
)

func layersOf(t testing.TB, m *mesh.Mesh, w printer.Way) []slice.Layer {
	t.Helper()
	layers, _, err := slice.Cut(m, slice.Options{First: w.FirstLayerHeight, Height: w.LayerHeight, MaxGap: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	return layers
}

func TestSize(t *testing.T) {
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		v     [3]float64
		wants []string
	}{
		{"fits", block(0, 0, 0, 200, 200, 200), [3]float64{200, 200, 200}, []string{"-too-big", "-turn-to-fit"}},
		{"fits on its side", block(0, 0, 0, 100, 150, 220), [3]float64{220, 200, 180}, []string{"+turn-to-fit=stop", "-too-big"}},
		// 250 × 10 × 10 lies in a cube of 200 along a diagonal of 282.
		{"fits tilted", block(0, 0, 0, 250, 10, 10), [3]float64{200, 200, 200}, []string{"+turn-to-fit=stop", "-too-big"}},
		{"larger than the longest diagonal", block(0, 0, 0, 350, 5, 5), [3]float64{200, 200, 200}, []string{"+too-big=stop", "-turn-to-fit"}},
		{"cube larger than the cube", block(0, 0, 0, 230, 230, 230), [3]float64{200, 200, 200}, []string{"+too-big=stop"}},
		{"volume not known", block(0, 0, 0, 900, 900, 900), [3]float64{}, []string{"-too-big", "-turn-to-fit"}},
		{"speck", block(0, 0, 0, 2, 2, 2), [3]float64{200, 200, 200}, []string{"+too-small=ask", "+small-part"}},
		{"thinner than a bead", block(0, 0, 0, 0.3, 40, 20), [3]float64{200, 200, 200}, []string{"+too-small=stop"}},
		{"flat", block(0, 0, 0, 40, 40, 0.05), [3]float64{200, 200, 200}, []string{"+too-small=stop"}},
		{"ordinary", block(0, 0, 0, 40, 40, 5), [3]float64{200, 200, 200}, []string{"-too-small"}},
	} {
		fs := as(c.m, func(f *Facts) { f.Printer.Volume = c.v })
		wants(t, c.name, fs, c.wants...)
		if Printable(fs) != (Verdict(fs) != Stop) {
			t.Errorf("%s: verdict", c.name)
		}
	}
	f, _ := get(as(block(0, 0, 0, 250, 400, 100), nil), "too-big")
	within(t, "scale that fits", f.Numbers["fits_at_percent"], 50, 0)
	// The diagonals of a face and of a cube of 200: 282.8 and 346.4.
	for length, message := range map[float64]string{250: "diagonally", 300: "tilted"} {
		f, _ := get(as(block(0, 0, 0, length, 8, 8), nil), "turn-to-fit")
		if !strings.Contains(f.Message, message) {
			t.Errorf("a rod of %g mm: %q does not say %q", length, f.Message, message)
		}
	}
	for message, v := range map[string][3]float64{"tilted ones included": {200, 200, 200}, "along the axes": {229, 229, 229}} {
		f, _ := get(as(block(0, 0, 0, 230, 230, 230), func(f *Facts) { f.Printer.Volume = v }), "too-big")
		if !strings.Contains(f.Message, message) {
			t.Errorf("in %v: %q does not say %q", v, f.Message, message)
		}
	}
}

// What needs no geometry.
func TestWants(t *testing.T) {
	pla := printer.Material{Name: "PLA", Cautions: []string{"Not food-safe as printed.", "Softens in heat."}}
	tpu := printer.Material{Name: "TPU", Cautions: []string{"Not food-safe as printed."}}
	for _, c := range []struct {
		name  string
		f     Facts
		wants []string
	}{
		{"nothing known", Facts{}, nil},
		{"two colours, one tool", Facts{WantedMaterials: 2, Printer: desk}, []string{"+two-materials=stop"}},
		{"two colours, two tools", Facts{WantedMaterials: 2, Printer: printer.Printer{Tools: 2}}, []string{"-two-materials"}},
		{"long", Facts{Seconds: 30000, LongestSeconds: 28800}, []string{"+over-longest-print=stop"}},
		{"short", Facts{Seconds: 28800, LongestSeconds: 28800}, []string{"-over-longest-print"}},
		{"no limit", Facts{Seconds: 1e6}, []string{"-over-longest-print"}},
		{"heavy", Facts{Grams: map[string]float64{"PLA": 1200, "PVA": 20}, SpoolGrams: map[string]float64{"PLA": 1000, "PVA": 500}}, []string{"+more-than-a-spool=ask"}},
		{"light", Facts{Grams: map[string]float64{"PLA": 900}, SpoolGrams: map[string]float64{"PLA": 1000}}, []string{"-more-than-a-spool"}},
		{"unit judged", Facts{UnitReason: say.Of("The file names no unit, which for 3MF means millimetres.")}, []string{"+unit-judged=note", "-unit-doubtful"}},
		{"unit doubtful", Facts{UnitReason: say.Of("its surfaces enclose no space"), UnitDoubtful: true}, []string{"+unit-doubtful=ask", "-unit-judged"}},
		{"unit stated", Facts{UnitReason: say.Named("the file says so"), UnitStated: true}, []string{"-unit-judged", "-unit-doubtful"}},
		{"warned", Facts{Warnings: []say.Saying{say.Named("odd\nthing;"), {}}}, []string{"+odd-file=note"}},
		{"cautions", Facts{Materials: []printer.Material{pla, tpu}}, []string{"+cautions=note"}},
	} {
		fs := Find(c.f)
		wants(t, c.name, fs, c.wants...)
		if len(c.wants) == 0 && len(fs) > 0 {
			t.Errorf("%s: %v", c.name, fs)
		}
	}
	f, _ := get(Find(Facts{Materials: []printer.Material{pla, tpu}}), "cautions")
	if n := strings.Count(f.Message, "food"); n != 1 {
		t.Errorf("a caution of two materials is said %d times: %q", n, f.Message)
	}
}

func TestSolid(t *testing.T) {
	cube := block(0, 0, 0, 20, 20, 20)
	open := &mesh.Mesh{V: cube.V, F: cube.F[:len(cube.F)-1]} // half of the top is missing
	sheet := &mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {30, 0, 0}, {30, 0, 30}, {0, 0, 30}}, F: [][3]int32{{0, 1, 2}, {0, 2, 3}}}
	wants(t, "cube", as(cube, nil), "-not-solid", "-nothing-solid", "-inside-out", "-cavities", "-healed")
	wants(t, "open cube", as(open, nil), "+not-solid=ask", "-nothing-solid")
	wants(t, "sheet", as(sheet, nil), "+nothing-solid=stop")
	wants(t, "cube inside out", as(turnedInside(cube), nil), "+inside-out=ask")
	wants(t, "hollow", as(mesh.Merge(ball(10, 48), turnedInside(shifted(ball(5, 48), 0, 0, 5))), nil), "+cavities=note", "-not-solid")
	painted := block(0, 0, 0, 20, 20, 20)
	painted.Colour = make([]uint8, len(painted.F))
	wants(t, "one colour", as(painted, nil), "-surface-colour")
	painted.Colour[0] = 1
	wants(t, "painted", as(painted, nil), "+surface-colour=ask")

	// Places come in the frame of the print.
	healed, repairs := mesh.Heal(open)
	move := mesh.Translate(mesh.Vec{-10, -10, 0}).Then(mesh.Scale(mesh.Vec{3, 3, 3}))
	placed := mesh.Transform(healed, move)
	fs := Find(Facts{Mesh: placed, Found: repairs.Before, Repairs: repairs, Placed: move, Measures: mesh.Measure(placed), Way: bare, Printer: desk})
	sound(t, "healed", fs)
	f, ok := get(fs, "healed")
	if !ok {
		f, ok = get(fs, "not-solid")
	}
	if !ok || len(f.Places) == 0 {
		t.Fatalf("a cube without a facet gives no place: %v", fs)
	}
	for _, p := range f.Places {
		if math.Abs(p[0]) > 30.001 || math.Abs(p[1]) > 30.001 || p[2] < -0.001 || p[2] > 60.001 {
			t.Errorf("%v is not on the printed cube", p)
		}
	}
}

// The same facts, the same findings, whatever the number of cores.
func TestFindIsDeterministic(t *testing.T) {
	f := facts(mesh.Merge(ball(20, 120), shifted(ball(8, 48), 60, 0, 5), block(-50, -50, 0, -30, -30, 0.3)), 1, bare)
	was := runtime.GOMAXPROCS(0)
	defer runtime.GOMAXPROCS(was)
	var first string
	for i := range 4 {
		runtime.GOMAXPROCS(1 + i)
		out, err := json.Marshal(Find(f))
		if err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			first = string(out)
		} else if string(out) != first {
			t.Fatalf("with %d cores:\n%s\nwith one:\n%s", 1+i, out, first)
		}
	}
}

func TestFigures(t *testing.T) {
	for _, c := range []struct {
		x    float64
		want string
	}{
		{0, "0"}, {0.0004, "0"}, {0.04, "0.04"}, {0.4, "0.4"}, {1, "1"}, {1.234, "1.23"}, {12.34, "12.3"}, {123.4, "123"},
		{1234, "1234"}, {12345, "12\u202f345"}, {1234567, "1\u202f234\u202f567"}, {-12345, "-12\u202f345"}, {99.96, "100"},
	} {
		if got := figure(c.x).String(); got != c.want {
			t.Errorf("figure(%g) = %q, want %q", c.x, got, c.want)
		}
	}
	for _, c := range []struct {
		s    float64
		want string
	}{{45, "45 s"}, {600, "10 min"}, {5400, "1 h 30 min"}, {30000, "8 h 20 min"}, {86399, "24 h"}} {
		if got := hours(c.s).String(); got != c.want {
			t.Errorf("hours(%g) = %q, want %q", c.s, got, c.want)
		}
	}
}

func FuzzFind(f *testing.F) {
	f.Add([]byte("a patron's file may hold anything at all, in any order"), uint16(0x1234), 0.2)
	f.Add([]byte{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 200, 100, 50}, uint16(7), math.Inf(1))
	f.Fuzz(func(t *testing.T, data []byte, bits uint16, x float64) {
		at := 0
		next := func() byte {
			if len(data) == 0 {
				return 0
			}
			at++
			return data[at%len(data)] + byte(at/len(data))
		}
		m := &mesh.Mesh{}
		for range int(bits%7) + 3 {
			m.V = append(m.V, mesh.Vec{float64(next()) / 4, float64(next()) / 4, float64(next())/4 - 3})
		}
		if bits&8 != 0 {
			m.V[0][int(bits>>4)%3] = x
		}
		for range int(bits>>7) % 40 {
			m.F = append(m.F, [3]int32{int32(next())%12 - 1, int32(next()) % 12, int32(next()) % 12})
		}
		if bits&16 == 0 { // most of the time a mesh that can be looked at
			for i := range m.F {
				for k := range 3 {
					m.F[i][k] = (m.F[i][k] + 12) % int32(len(m.V))
				}
			}
		}
		if bits&32 != 0 {
			m.Colour = make([]uint8, len(m.F))
			for i := range m.Colour {
				m.Colour[i] = next() % 3
			}
		}
		w := bare
		switch bits >> 13 {
		case 1:
			w = printer.Way{}
		case 2:
			w.BeadWidth, w.LayerHeight, w.FirstLayerHeight = x, x, -x
		case 3:
			w.Supports, w.Base, w.BrimWidth = printer.Breakaway, printer.Brim, x
		case 4:
			w.SupportAngle = x
		}
		facts := Facts{
			Mesh: m, Way: w, Printer: desk, Warnings: []say.Saying{say.Named(string(data))}, UnitReason: say.Named(string(data)), UnitDoubtful: bits&64 != 0,
			WantedMaterials: int(bits % 4), Seconds: math.Abs(x), LongestSeconds: 100,
		}
		if mesh.Valid(m) == nil {
			facts.Found, facts.Measures = mesh.Inspect(m), mesh.Measure(m)
			if bits&256 != 0 && len(m.F) > 0 {
				facts.Mesh, facts.Repairs = mesh.Heal(m)
			}
		}
		for _, y := range Find(facts) {
			for k, v := range y.Numbers {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%s: %s = %g", y.ID, k, v)
				}
			}
			if strings.Contains(y.Message, "NaN") || y.Message == "" && y.ID != "odd-file" {
				t.Fatalf("%s says %q", y.ID, y.Message)
			}
		}
	})
}

// Every finding that can be said is listed in doc.go, and nothing else is.
func TestFindingsAreListed(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil {
		t.Fatal(err)
	}
	said := map[string]bool{}
	var doc string
	for _, name := range files {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if name == "doc.go" {
			doc = string(text)
		}
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		for _, m := range regexp.MustCompile(`l\.say\("([a-z-]+)"`).FindAllStringSubmatch(string(text), -1) {
			said[m[1]] = true
		}
	}
	_, doc, _ = strings.Cut(doc, "Findings that stop")
	listed := map[string]bool{}
	for _, w := range regexp.MustCompile(`[a-z]+(-[a-z]+)*`).FindAllString(doc, -1) {
		listed[w] = true
		if strings.Contains(w, "-") && !said[w] {
			t.Errorf("doc.go lists %s, which is never said", w)
		}
	}
	for id := range said {
		if !listed[id] {
			t.Errorf("doc.go does not list %s", id)
		}
	}
}
