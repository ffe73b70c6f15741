package quote

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/internal/oracle"
)

// prism extrudes a convex-from-its-middle outline, counter-clockwise, to height h.
func prism(outline [][2]float64, h float64) *mesh.Mesh {
	m := &mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {0, 0, h}}}
	n := int32(len(outline))
	for _, p := range outline {
		m.V = append(m.V, mesh.Vec{p[0], p[1], 0}, mesh.Vec{p[0], p[1], h})
	}
	for i := range n {
		a, b := 2+2*i, 2+2*((i+1)%n)
		m.F = append(m.F, [3]int32{0, b, a}, [3]int32{1, a + 1, b + 1}, [3]int32{a, b, b + 1}, [3]int32{a, b + 1, a + 1})
	}
	return m
}

func block(x, y, z float64) *mesh.Mesh {
	return prism([][2]float64{{-x / 2, -y / 2}, {x / 2, -y / 2}, {x / 2, y / 2}, {-x / 2, y / 2}}, z)
}

// specimen is the outline of ASTM D638 type I: W 13, L 57, WO 19, LO 165, R 76 mm.
func specimen() [][2]float64 {
	quarter := [][2]float64{}
	end := math.Acos(73.0 / 76)
	for i := range 41 {
		a := end * float64(i) / 40
		quarter = append(quarter, [2]float64{28.5 + 76*math.Sin(a), 6.5 + 76*(1-math.Cos(a))})
	}
	quarter = append(quarter, [2]float64{82.5, 9.5})
	var out [][2]float64
	add := func(sx, sy float64, backward bool) {
		for i := range quarter {
			p := quarter[i]
			if backward {
				p = quarter[len(quarter)-1-i]
			}
			out = append(out, [2]float64{sx * p[0], sy * p[1]})
		}
	}
	add(1, -1, false)
	add(1, 1, true)
	add(-1, 1, false)
	add(-1, -1, true)
	return out
}

func stl(m *mesh.Mesh) []byte {
	b := make([]byte, 84)
	binary.LittleEndian.PutUint32(b[80:], uint32(len(m.F)))
	for _, f := range m.F {
		b = append(b, make([]byte, 12)...)
		for _, i := range f {
			for _, x := range m.V[i] {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
			}
		}
		b = append(b, 0, 0)
	}
	return b
}

func source(name string, data []byte) Source {
	return Source{Name: name, Bytes: bytes.NewReader(data), Size: int64(len(data))}
}

// ask is what a desk with the built-in profiles asks.
func ask(t testing.TB, sources ...Source) Ask {
	t.Helper()
	p := Builtin()
	a := Ask{Sources: sources, LongestPrint: p.Rules.LongestPrint.Seconds(), Workers: 2, Unit: mesh.Millimetre}
	var err error
	must := func(e error) {
		t.Helper()
		if e != nil {
			t.Fatal(e)
		}
	}
	a.Printer, err = p.Printer(p.Rules.Printer)
	must(err)
	a.Way, err = p.Way(a.Printer.DefaultWay)
	must(err)
	m, err := p.Material(a.Printer.DefaultMaterial)
	must(err)
	a.Materials = []printer.Material{m}
	a.SupportMaterial, err = p.Material("pva")
	must(err)
	a.Tariff, err = p.Tariff(p.Rules.Tariff)
	must(err)
	return a
}

func quoteOf(t testing.TB, a Ask) *Answer {
	t.Helper()
	ans, err := Quote(a)
	if err != nil {
		t.Fatal(err)
	}
	answerInFrench(t, ans)
	return ans
}

func ids(ans *Answer) (out []string) {
	for _, f := range ans.Findings {
		out = append(out, f.ID)
	}
	return out
}

func has(ans *Answer, id string) bool {
	for _, f := range ans.Findings {
		if f.ID == id {
			return true
		}
	}
	return false
}

// Masses at 100 % density against the volumes of the standards' specimens.
func TestSpecimenMass(t *testing.T) {
	cases := []struct {
		name   string
		m      *mesh.Mesh
		grams  float64
		source string
	}{
		{"D638 type I", prism(specimen(), 3.2), 10.4088, "ASTM D638 dimensions; PLA at 1.24 g/cm³"},
		{"20 mm cube", block(20, 20, 20), 9.92, "closed form"},
	}
	for _, c := range cases {
		a := ask(t, source("part.stl", stl(c.m)))
		a.Printer.Volume = [3]float64{250, 250, 250}
		a.Way.Infill, a.Way.Base = 100, printer.NoBase
		ans := quoteOf(t, a)
		if got := ans.MassG["pla"]; math.Abs(got/c.grams-1) > 0.01 {
			t.Errorf("%s: %.4f g, want %.4f within 1 %% (%s)", c.name, got, c.grams, c.source)
		}
		if got, want := ans.FilamentM["pla"], ans.MassG["pla"]*0.33528; math.Abs(got/want-1) > 1e-4 {
			t.Errorf("%s: %.4f m of filament, want %.4f (335.28 m/kg of 1.75 mm PLA, computed)", c.name, got, want)
		}
	}
}

// A price by hand: 1.00 set-up and 0.10 a whole gram.
func TestPriceFollowsMass(t *testing.T) {
	a := ask(t, source("cube.stl", stl(block(20, 20, 20))))
	a.Way.Infill, a.Copies = 100, 3
	ans := quoteOf(t, a)
	grams := math.Ceil(ans.MassG["pla"])
	want := int(100 + 10*grams)
	var total int
	for _, c := range ans.Price.Total.Number() {
		if c != '.' {
			total = 10*total + int(c-'0')
		}
	}
	if total != want || ans.Price.Currency != "GBP" {
		t.Errorf("%s %s for %.2f g, want %d pence", ans.Price.Currency, ans.Price.Total, ans.MassG["pla"], want)
	}
	if ans.Copies != 3 || math.Abs(ans.TimeS-3*ans.PrintTimeS) > 1e-9 {
		t.Errorf("%d copies take %.1f s, one print %.1f s", ans.Copies, ans.TimeS, ans.PrintTimeS)
	}
}

func TestSameAnswerWhateverTheCores(t *testing.T) {
	path := oracle.NPM(t, "stl/test/binary/ship.stl")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var first []byte
	for _, workers := range []int{1, 2, 3, 8} {
		a := ask(t, source("ship.stl", data))
		a.Target = mesh.Vec{60, 0, 0}
		a.Workers = workers
		got, err := json.Marshal(quoteOf(t, a))
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = got
		}
		if !bytes.Equal(got, first) {
			t.Errorf("%d workers: another answer\n%s", workers, cmp.Diff(string(first), string(got)))
		}
	}
}

func TestSize(t *testing.T) {
	data := stl(block(10, 20, 40))
	cases := []struct {
		name   string
		scale  float64
		target mesh.Vec
		want   mesh.Vec
	}{
		{"as in the file", 0, mesh.Vec{}, mesh.Vec{10, 20, 40}},
		{"half", 0.5, mesh.Vec{}, mesh.Vec{5, 10, 20}},
		{"60 mm tall", 0, mesh.Vec{0, 0, 60}, mesh.Vec{15, 30, 60}},
		{"within two sizes", 0, mesh.Vec{20, 30, 0}, mesh.Vec{15, 30, 60}},
	}
	for _, c := range cases {
		a := ask(t, source("block.stl", data))
		a.Scale, a.Target = c.scale, c.target
		ans, err := Check(a)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(c.want, ans.SizeMM, cmp.Comparer(func(x, y float64) bool { return math.Abs(x-y) < 1e-9 })); d != "" {
			t.Errorf("%s: %s", c.name, d)
		}
		if v := c.want[0] * c.want[1] * c.want[2]; math.Abs(ans.VolumeMM3/v-1) > 1e-9 {
			t.Errorf("%s: volume %.6f, want %.6f", c.name, ans.VolumeMM3, v)
		}
	}
}

// Two files as colour parts of one print: each material's mass is its own
// part's volume at 100 %, purge apart.
func TestTwoColourParts(t *testing.T) {
	low, high := block(30, 30, 4), block(20, 20, 4)
	for i := range high.V {
		high.V[i][2] += 4
	}
	a := ask(t, source("plate.stl", stl(low)), source("letters.stl", stl(high)))
	p := Builtin()
	var err error
	if a.Printer, err = p.Printer("millrace-300-twin"); err != nil {
		t.Fatal(err)
	}
	petg, err := p.Material("petg")
	if err != nil {
		t.Fatal(err)
	}
	a.Materials = append(a.Materials, petg)
	a.Way.Infill, a.Way.Base = 100, printer.NoBase
	ans := quoteOf(t, a)
	if len(ans.ColourParts) != 2 || has(ans, "two-materials") {
		t.Fatalf("colour parts %v, findings %v", ans.ColourParts, ids(ans))
	}
	for id, want := range map[string]float64{"pla": 30 * 30 * 4 * 1.24e-3, "petg": 20 * 20 * 4 * 1.27e-3} {
		purge := ans.BasePurgeG // an upper bound for either material
		if got := ans.MassG[id]; got < 0.99*want || got > 1.01*want+purge {
			t.Errorf("%s: %.3f g, want %.3f g and at most %.3f g of purge", id, got, want, purge)
		}
	}
	// One tool only: the print is stopped, and the finding names the reason.
	b := ask(t, source("plate.stl", stl(low)), source("letters.stl", stl(high)))
	if ans := quoteOf(t, b); ans.Printable || !has(ans, "two-materials") {
		t.Errorf("on one tool: printable %v, findings %v", ans.Printable, ids(ans))
	}
}

// Whatever comes in, there is an answer in sentences, and nothing is lost.
func TestEveryFileHasAnAnswer(t *testing.T) {
	cases := []struct {
		name, data, wants string
		printable         bool
	}{
		{"empty.stl", "", "empty", false},
		{"letter.stl", "Dear library,\nplease print a boat.\n", "text", false},
		{"archive.stl", "PK\x05\x06" + strings.Repeat("\x00", 18), "", false},
		{"cube.stl", string(stl(block(30, 30, 30))), "", true},
		{"short.stl", string(stl(block(30, 30, 30))[:300]), "", false},
		{"huge.stl", string(stl(block(900, 900, 900))), "", false},
		{"flat.stl", string(stl(block(30, 30, 0))), "nothing to print", false},
	}
	for _, c := range cases {
		for what, answer := range map[string]func(Ask) (*Answer, error){"check": Check, "quote": Quote} {
			ans, err := answer(ask(t, source(c.name, []byte(c.data))))
			if err != nil {
				t.Errorf("%s %s: %v", what, c.name, err)
				continue
			}
			if ans.Printable != c.printable {
				t.Errorf("%s %s: printable %v, findings %v", what, c.name, ans.Printable, ans.Findings)
			}
			answerInFrench(t, ans)
			var all []string
			for _, f := range ans.Findings {
				all = append(all, f.Message)
				if !strings.HasSuffix(f.Message, ".") || f.ID == "" {
					t.Errorf("%s %s: %q is no sentence", what, c.name, f.Message)
				}
			}
			if !strings.Contains(strings.Join(all, " "), c.wants) {
				t.Errorf("%s %s: nothing says %q: %q", what, c.name, c.wants, all)
			}
			if !c.printable && findings.Verdict(ans.Findings) != findings.Stop {
				t.Errorf("%s %s: nothing stops it", what, c.name)
			}
		}
	}
}

// A deck that rests on piers, edge on edge, overhangs only between them: 46 − 16
// by 20 mm (COMPUTED), however the file shares its vertices.
func TestTouchingBodiesCarryEachOther(t *testing.T) {
	at := func(m *mesh.Mesh, x, z float64) *mesh.Mesh {
		return mesh.Transform(m, mesh.Translate(mesh.Vec{x, 0, z}))
	}
	bridge := mesh.Merge(at(block(8, 20, 20), -19, 0), at(block(8, 20, 20), 19, 0), at(block(46, 20, 4), 0, 20))
	a := ask(t, source("bridge.stl", stl(bridge)))
	ans, err := Check(a)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range ans.Findings {
		if f.ID == "overhangs" {
			if got := f.Numbers["area_mm2"]; math.Abs(got/600-1) > 0.05 {
				t.Errorf("overhanging %.0f mm², want 600", got)
			}
			return
		}
	}
	t.Errorf("no overhang in %v", ids(ans))
}

// What no bead can be laid of is not priced.
func TestNothingLaidStops(t *testing.T) {
	ans := quoteOf(t, ask(t, source("foil.stl", stl(block(0.02, 30, 30)))))
	if ans.Printable || ans.Figures != nil || !has(ans, "nothing-laid") {
		t.Errorf("printable %v, findings %v, figures %+v", ans.Printable, ids(ans), ans.Figures)
	}
}

func TestAskIsChecked(t *testing.T) {
	good := source("cube.stl", stl(block(10, 10, 10)))
	cases := []struct {
		name string
		turn func(*Ask)
	}{
		{"no file", func(a *Ask) { a.Sources = nil }},
		{"no material", func(a *Ask) { a.Materials = nil }},
		{"copies", func(a *Ask) { a.Copies = 5000 }},
		{"scale", func(a *Ask) { a.Scale = math.NaN() }},
		{"target", func(a *Ask) { a.Target[1] = math.Inf(1) }},
		{"unit", func(a *Ask) { a.Unit = "cubit" }},
		{"longest", func(a *Ask) { a.LongestPrint = math.NaN() }},
		{"insoluble supports", func(a *Ask) {
			a.Printer.Tools, a.Way.Supports, a.SupportMaterial = 2, printer.Soluble, a.Materials[0]
		}},
		{"layer height", func(a *Ask) { a.Way.LayerHeight = -1 }},
	}
	for _, c := range cases {
		a := ask(t, good)
		c.turn(&a)
		if ans, err := Quote(a); err == nil {
			t.Errorf("%s: answered %v", c.name, ans.Findings)
		}
	}
}
