package printer_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"platebook/engine/printer"
)

func TestMerge(t *testing.T) {
	c := printer.Builtin()
	before := printer.Builtin()
	err := c.Merge([]byte(`
[way.standard]
infill_percent = 20

[way.vase-stand]
based_on = "standard"
name = "Vase stand"
shells = 3

[printer.upstairs]
based_on = "millrace-200"
name = "Upstairs"
start_time_s = 120
max_speed_mm_s = [250, 250.5, 10]

[material.pla-red]
based_on = "pla"
name = "PLA red"
density_g_cm3 = 1.25
cautions = ["Ask first."]
`), "ours.toml")
	if err != nil {
		t.Fatal(err)
	}
	want := before.Ways[0]
	want.Infill = 20
	if d := cmp.Diff(want, c.Ways[0]); d != "" {
		t.Error(d)
	}
	want.ID, want.Name, want.Shells = "vase-stand", "Vase stand", 3
	if got, err := c.Way("vase-stand"); err != nil || got != want {
		t.Errorf("%v %s", err, cmp.Diff(want, got))
	}
	up := before.Printers[0]
	up.ID, up.Name, up.StartTime, up.MaxSpeed = "upstairs", "Upstairs", 120, [3]float64{250, 250.5, 10}
	if got, err := c.Printer("upstairs"); err != nil || got != up {
		t.Errorf("%v %s", err, cmp.Diff(up, got))
	}
	if m, err := c.Material("pla-red"); err != nil || m.Density != 1.25 || len(m.Cautions) != 1 || m.NozzleC != 210 {
		t.Errorf("%+v %v", m, err)
	}
	// The profile it is based on keeps its own cautions.
	if d := cmp.Diff(before.Materials, c.Materials[:5]); d != "" {
		t.Error(d)
	}
}

func TestMergeErrors(t *testing.T) {
	for _, row := range []struct{ name, text, says string }{
		{"unknown key", "[way.fine]\nlayer_hight_mm = 0.1", `"layer_hight_mm" is not a setting of a way; did you mean "layer_height_mm"?`},
		{"after a good table", "[way.standard]\nshells = 7\n[way.fine]\nshels = 1", `did you mean "shells"?`},
		{"unknown key, nothing near", "[way.fine]\nq = 1", "there are: name, layer_height_mm"},
		{"key of another kind", "[material.pla]\nshells = 1", `"shells" is not a setting of a material`},
		{"case matters", "[way.fine]\nShells = 1", `did you mean "shells"`},
		{"unknown table", "[printers.a]\nname = \"A\"", `did you mean "printer"?`},
		{"top-level key", "shells = 2", `"shells" is not a setting in a profile file`},
		{"no id", "way = 2", "way needs an id"},
		{"array of tables", "[[way]]\nname = \"A\"", "way needs an id"},
		{"not a table", "[way]\nfine = 3", "must be a table"},
		{"id", "[way.\"My way\"]\nbased_on = \"fine\"", "small letters"},
		{"id reserved by TOML", "way.\"\".based_on = \"fine\"", "small letters"},
		{"syntax", "[way.fine]\nshells = = 3", "ours.toml: line 2"},
		{"twice", "[way.fine]\nshells = 3\nshells = 3", "ours.toml: line 3"},
		{"wrong type", "[way.fine]\nshells = \"three\"", "[way.fine]: shells: "},
		{"not whole", "[way.fine]\nshells = 2.5", "shells: "},
		{"too few axes", "[printer.fernhill-150]\nvolume_mm = [1, 2]", "volume_mm: "},
		{"table for a number", "[way.fine.shells]\na = 1", "shells: "},
		{"based on nothing", "[way.a]\nbased_on = \"fime\"", `based_on: there is no way "fime"; did you mean "fine"?`},
		{"based on a number", "[way.a]\nbased_on = 3", "in quotes"},
		{"incomplete", "[way.a]\nname = \"A\"\nshells = 1", "says nothing of layer_height_mm, first_layer_height_mm, bead_width_mm, solid_top"},
		{"NaN", "[way.fine]\ninfill_percent = nan", "infill_percent is NaN, but must be from 0 to 100 %"},
		{"infinite", "[printer.fernhill-150]\ntravel_speed_mm_s = inf", "travel_speed_mm_s is +Inf"},
		{"negative", "[material.pla]\ndensity_g_cm3 = -1.24", "density_g_cm3 is -1.24, but must be from 0.1 to 20 g/cm³"},
		{"huge", "[way.fine]\nshells = 9223372036854775807", "shells is"},
		{"too huge", "[way.fine]\nshells = 92233720368547758070", "line 2"},
		{"one of", "[way.fine]\nsupports = \"some\"", `supports is "some", but must be one of none, breakaway, soluble`},
		{"origin", "[printer.fernhill-150]\norigin = \"center\"", "corner, centre"},
		{"high layer", "[way.fine]\nlayer_height_mm = 0.6", "higher than its bead is wide"},
		{"default", "[printer.fernhill-150]\ndefault_way = \"quick\"", `printer fernhill-150: default_way: there is no way "quick"`},
		{"empty name", "[way.fine]\nname = \" \"", "name must be"},
		{"not text", "\x00\xff\xfe", "ours.toml: "},
		{"long", strings.Repeat("#", printer.MaxFile+1), "too long"},
		{"deep", "a = " + strings.Repeat("[", 100000), "ours.toml: "},
		{"long key", strings.Repeat("a", 100000) + " = 1", "…"},
		{"deep braces", "a = " + strings.Repeat("{a=", 30000), "nested deeper"},
		{"deep dots", strings.Repeat("a.", 60000) + "a = 1", "nested deeper"},
	} {
		c := printer.Builtin()
		err := c.Merge([]byte(row.text), "ours.toml")
		if err == nil || !strings.Contains(err.Error(), row.says) {
			t.Errorf("%s: %v; want %q", row.name, err, row.says)
			continue
		}
		if len(err.Error()) > 900 {
			t.Errorf("%s: an error of %d bytes", row.name, len(err.Error()))
		}
		if d := cmp.Diff(printer.Builtin(), c); d != "" {
			t.Errorf("%s: a failed merge changed the catalogue: %s", row.name, d)
		}
	}
}

// TestMergeOthers: tables that are someone else's are passed over when named, and refused when not.
func TestMergeOthers(t *testing.T) {
	const text = "[tariff]\nset_up = 1\n[tariff.gram]\npla = 2\n[way.fine]\nshells = 4\n"
	c := printer.Builtin()
	says(t, c.Merge([]byte(text), "ours.toml"), `"tariff" is not a setting in a profile file`)
	says(t, c.Merge([]byte(text), "ours.toml", "rules"), `"tariff"`, "printer, material, way, rules")
	if err := c.Merge([]byte(text), "ours.toml", "rules", "tariff"); err != nil {
		t.Fatal(err)
	}
	if w, err := c.Way("fine"); err != nil || w.Shells != 4 {
		t.Errorf("%+v, %v", w, err)
	}
}

func TestFits(t *testing.T) {
	c := printer.Builtin()
	p, w := c.Printers[0], c.Ways[0]
	w.Supports = printer.Soluble
	says(t, w.Fits(p), "second material", p.Name)
	w = c.Ways[0]
	w.LayerHeight = 0.4
	says(t, w.Fits(p), "0.4 mm high", "at most 0.32 mm")
	w.BeadWidth = 3
	says(t, w.Fits(p), "3 mm wide", "0.20 to 1.00 mm")
}

func TestValidateFinite(t *testing.T) {
	// Every number of a printer, made NaN or infinite in turn, is refused by name.
	for _, key := range []string{"nozzle_mm", "corner_deviation_mm", "heat_rate_k_s", "end_time_s", "ambient_c"} {
		for _, v := range []string{"nan", "inf", "-inf", "-1e9"} {
			says(t, printer.Builtin().Merge([]byte("[printer.fernhill-150]\n"+key+" = "+v), "x"), key)
		}
	}
	p := printer.Builtin().Printers[0]
	p.MaxSpeed[1] = math.NaN()
	says(t, p.Validate(), "max_speed_mm_s[1]")
}

// FuzzMerge: no file panics, fails half-way or leaves a catalogue that is not
// valid; what is accepted can be shown and read back.
func FuzzMerge(f *testing.F) {
	f.Add("[way.a]\nbased_on = \"fine\"\nname = \"A\"")
	f.Add("[printer.fernhill-150]\nvolume_mm = [10, 20.5, 30]\n")
	f.Add("[material.pla]\ncautions = [\"x\", \"y\"]\nsoluble = true")
	f.Add("[way.fine]\nshells = 1979-05-27T07:32:00Z\n[way.fine.base]\nx=[{a=1}]")
	f.Add("way = {fine = {shells = 2}}")
	f.Fuzz(func(t *testing.T, text string) {
		c := printer.Builtin()
		if c.Merge([]byte(text), "f") != nil {
			if d := cmp.Diff(printer.Builtin(), c); d != "" {
				t.Fatal(d)
			}
			return
		}
		if err := c.Validate(); err != nil {
			t.Fatal(err)
		}
		shown, err := printer.Show(c)
		if err != nil {
			t.Fatal(err)
		}
		back := &printer.Catalogue{}
		if err := back.Merge(shown, "shown"); err != nil {
			t.Fatalf("%v\n%s", err, shown)
		}
		again, err := printer.Show(back)
		if err != nil || string(again) != string(shown) {
			t.Fatalf("%v\n%s\n%s", err, shown, again)
		}
	})
}
