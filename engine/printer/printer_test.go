package printer_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"platebook/engine/printer"
)

func TestBuiltin(t *testing.T) {
	c := printer.Builtin()
	if len(c.Printers) != 3 || len(c.Materials) != 5 || len(c.Ways) != 3 {
		t.Fatalf("%d printers, %d materials, %d ways", len(c.Printers), len(c.Materials), len(c.Ways))
	}
	for _, p := range c.Printers {
		for _, w := range c.Ways {
			if err := w.Fits(p); err != nil {
				t.Errorf("%s on %s: %v", w.ID, p.ID, err)
			}
			// Every default material melts fast enough for every way at the speeds it asks for.
			m, err := c.Material(p.DefaultMaterial)
			if err != nil {
				t.Fatal(err)
			}
			fastest := max(w.ShellSpeed, w.InnerShellSpeed, w.SolidSpeed, w.InfillSpeed, w.SupportSpeed)
			if flow := fastest * w.BeadWidth * w.LayerHeight; flow > m.MaxFlow {
				t.Errorf("%s asks %s for %.1f mm³/s of %s, which melts %.1f", w.ID, p.ID, flow, m.ID, m.MaxFlow)
			}
		}
		// No limit of the whole head is above what its axes can do.
		if p.TravelSpeed > min(p.MaxSpeed[0], p.MaxSpeed[1]) || max(p.Acceleration, p.TravelAcceleration) > min(p.MaxAcceleration[0], p.MaxAcceleration[1]) {
			t.Errorf("%s: the head is said to be faster than its axes", p.ID)
		}
		if (p.Tools == 1) != (p.ToolChangeTime == 0 && p.PurgeVolume == 0) {
			t.Errorf("%s: %d tools, but %v s and %v mm³ a change", p.ID, p.Tools, p.ToolChangeTime, p.PurgeVolume)
		}
	}
	for _, m := range c.Materials {
		if len(m.Cautions) == 0 {
			t.Errorf("%s: no cautions", m.ID)
		}
	}
	// Published ranges of density, g/cm³: PLA and PETG from data sheets; the others from MEMORY of data sheets.
	for id, r := range map[string][2]float64{"pla": {1.22, 1.26}, "petg": {1.25, 1.29}, "abs": {1.03, 1.07}, "tpu-95a": {1.19, 1.23}, "pva": {1.19, 1.23}} {
		if m, err := c.Material(id); err != nil || m.Density < r[0] || m.Density > r[1] {
			t.Errorf("%s: density %v, published %v (%v)", id, m.Density, r, err)
		}
	}
}

// TestMetresPerKilogram: length of a cylinder of 1 kg, 1000/(ρ·πd²/4), COMPUTED by hand to two places.
func TestMetresPerKilogram(t *testing.T) {
	for _, row := range []struct {
		name                      string
		density, diameter, metres float64
	}{
		{"PLA 1.75", 1.24, 1.75, 335.28},
		{"PLA 2.85", 1.24, 2.85, 126.42},
		{"ABS 1.75", 1.04, 1.75, 399.76},
		{"PETG 1.75", 1.27, 1.75, 327.36},
	} {
		m := printer.Material{Density: row.density, Diameter: row.diameter}
		if got := m.Metres(1000); math.Abs(got-row.metres) > 0.005 {
			t.Errorf("%s: %.4f m/kg, want %.2f", row.name, got, row.metres)
		}
	}
	for d, want := range map[float64]float64{1.75: 2.405282, 2.85: 6.379397} {
		if got := (printer.Material{Diameter: d}).CrossSection(); math.Abs(got-want) > 5e-7 {
			t.Errorf("section of %v mm: %.7f mm², want %v", d, got, want)
		}
	}
	// ±0.05 mm on 1.75: −5.63 % and +5.80 % of mass for the same length.
	at := func(d float64) float64 { return (printer.Material{Diameter: d}).CrossSection() }
	if lo, hi := at(1.70)/at(1.75)-1, at(1.80)/at(1.75)-1; math.Abs(lo+0.0563) > 5e-5 || math.Abs(hi-0.0580) > 5e-5 {
		t.Errorf("tolerance moves mass by %.4f and %.4f", lo, hi)
	}
}

// TestGrams: ASTM D638 and ISO 527-2 specimens; volumes COMPUTED from the standards' dimensions.
func TestGrams(t *testing.T) {
	pla, err := printer.Builtin().Material("pla")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		name       string
		mm3, grams float64
	}{
		{"ASTM D638 type I, 3.2 mm", 8394.182, 10.4088},
		{"ASTM D638 type IV, 3.2 mm", 4812.755, 5.9678}, // 5.967816
		{"ISO 527-2 type 1A", 9600.084, 11.9041},
		{"nothing", 0, 0},
	} {
		if got := pla.Grams(row.mm3); math.Abs(got-row.grams) > 5e-5 {
			t.Errorf("%s: %.5f g, want %v", row.name, got, row.grams)
		}
	}
}

func TestLookups(t *testing.T) {
	c := printer.Builtin()
	if p, err := c.Printer("millrace-300-twin"); err != nil || p.Tools != 2 || p.Volume != [3]float64{300, 250, 300} {
		t.Errorf("%+v, %v", p, err)
	}
	for _, row := range []struct {
		err  error
		says []string
	}{
		{second(c.Printer("milrace-200")), []string{`no printer "milrace-200"`, `did you mean "millrace-200"`, "fernhill-150, millrace-200, millrace-300-twin"}},
		{second(c.Material("wood")), []string{`no material "wood"`, "abs, petg, pla, pva, tpu-95a"}},
		{second(c.Way("fime")), []string{`did you mean "fine"`}},
		{second((&printer.Catalogue{}).Way("fine")), []string{"no way is described"}},
	} {
		says(t, row.err, row.says...)
	}
}

func second[T any](_ T, err error) error { return err }

func says(t *testing.T, err error, words ...string) {
	t.Helper()
	if err == nil {
		t.Errorf("no error, want one that says %q", words)
		return
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("error %q does not say %q", err, w)
		}
	}
}

func TestShowReadsBack(t *testing.T) {
	c := printer.Builtin()
	// Numbers that need every digit, and words that need quoting.
	c.Ways[1].LayerHeight = 0.1 + 0.02
	c.Ways[1].Infill = 100.0 / 3
	c.Materials[0].Name = "PLA \"é\" \\ \t#"
	c.Materials[0].Cautions = []string{"a\nb", "='''\"\"\"", ""}
	text, err := printer.Show(c)
	if err != nil {
		t.Fatal(err)
	}
	back := &printer.Catalogue{}
	if err := back.Merge(text, "shown"); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	if d := cmp.Diff(c, back); d != "" {
		t.Error(d)
	}
	// One profile shown alone lies over the built-in one.
	b := printer.Builtin()
	for _, v := range []any{c.Ways[1], &c.Materials[0], c.Printers[2], &c.Printers[2]} {
		one, err := printer.Show(v)
		if err != nil {
			t.Fatal(err)
		}
		if err := b.Merge(one, "one"); err != nil {
			t.Fatalf("%v\n%s", err, one)
		}
	}
	if d := cmp.Diff(c, b); d != "" {
		t.Error(d)
	}
	says(t, second(printer.Show(3)), "int")
	says(t, second(printer.Show(printer.Way{ID: "Mine!"})), `"Mine!"`, "small letters")
}
