package desk_test

import (
	"strings"
	"testing"

	"platebook/desk"
	"platebook/engine/printer"
)

// A material changed by form is changed where it stands, and nothing else is.
func TestWithMaterial(t *testing.T) {
	pla, err := printer.Builtin().Material("pla")
	if err != nil {
		t.Fatal(err)
	}
	wood := pla
	wood.ID, wood.Name = "wood", "Wood"
	const own = "# ours\n[material.pla] # the white one\ndensity_g_cm3 = 1.25\ncautions = [\n\t\"One.\",\n]\n\n# thicker\n[way.thick]\nbased_on = \"usual\"\nname = \"Thick\"\n"
	ways := printer.Builtin().Ways
	text := strings.Replace(own, "usual", ways[0].ID, 1)
	for _, c := range []struct {
		name, toml string
		m          printer.Material
		keeps      []string
		refused    bool
	}{
		{"added to nothing", "", wood, nil, false},
		{"changed where the program brings it", "", pla, nil, false},
		{"added at the end", text, wood, []string{text}, false},
		{"changed where it stands", text, pla, []string{"# ours\n[material.pla]\n", "\n\n# thicker\n[way.thick]\n"}, false},
		{"written otherwise", "material.pla.density_g_cm3 = 1.25\n", pla, nil, true},
		{"in quotes", "[material.\"pla\"]\ndensity_g_cm3 = 1.25\n", pla, nil, false},
		{"something stands on it", "[material.pla]\ndensity_g_cm3 = 1.25\n\n[material.wood]\nbased_on = \"pla\"\nname = \"Wood\"\n", pla, nil, true},
	} {
		c.m.Density = 1.5
		p, err := desk.WithMaterial(desk.Profiles{TOML: c.toml}, c.m)
		if c.refused {
			want(t, c.name, err, desk.Wrong)
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		for _, keep := range c.keeps {
			if !strings.Contains(p.TOML, keep) {
				t.Errorf("%s: lost %q in\n%s", c.name, keep, p.TOML)
			}
		}
		cat, err := desk.Catalogue(desk.Settings{Profiles: p})
		if err != nil {
			t.Fatal(err)
		}
		if got, err := cat.Material(c.m.ID); err != nil || got.Density != 1.5 || got.Name != c.m.Name {
			t.Errorf("%s: %+v, %v", c.name, got, err)
		}
		again, err := desk.WithMaterial(p, c.m)
		if err != nil || again.TOML != p.TOML {
			t.Errorf("%s: the same once more gives\n%s, was\n%s, %v", c.name, again.TOML, p.TOML, err)
		}
	}
	for _, change := range []func(*printer.Material){
		func(m *printer.Material) { m.Density = 0 }, func(m *printer.Material) { m.ID = "Two Words" }, func(m *printer.Material) { m.Name = "" },
		func(m *printer.Material) { m.ID = "x]\n[printer.y" },
	} {
		m := pla
		change(&m)
		_, err := desk.WithMaterial(desk.Profiles{}, m)
		want(t, "a material that cannot be", err, desk.Wrong)
	}
	m := pla
	m.Name = "PLA \"x\"\n[way.y]\nname = 'z'"
	if p, err := desk.WithMaterial(desk.Profiles{}, m); err == nil {
		if cat, err := desk.Catalogue(desk.Settings{Profiles: p}); err != nil || len(cat.Ways) != len(ways) {
			t.Errorf("a name got out of its quotes: %v", err)
		}
	}
}

// A printer model by form: every number of the engine's reaches the catalogue,
// and nothing else changes.
func TestWithPrinterModel(t *testing.T) {
	ours, err := printer.Builtin().Printer("millrace-200")
	if err != nil {
		t.Fatal(err)
	}
	ours.ID, ours.Name, ours.Volume = "reading-room", "Reading room", [3]float64{220, 210, 250}
	const own = "# ours\n[printer.reading-room]\nbased_on = \"millrace-300-twin\"\nname = \"x\"\n\n# the material\n[material.wood]\nbased_on = \"pla\"\nname = \"Wood\"\n"
	for _, text := range []string{"", own} {
		p, err := desk.WithPrinterModel(desk.Profiles{TOML: text}, ours)
		if err != nil {
			t.Fatal(err)
		}
		cat, err := desk.Catalogue(desk.Settings{Profiles: p})
		if err != nil {
			t.Fatal(err)
		}
		if got, err := cat.Printer(ours.ID); err != nil || got != ours {
			t.Errorf("%+v, want %+v, %v", got, ours, err)
		}
		if _, err := cat.Material("wood"); (err == nil) != (text != "") || text != "" && !strings.Contains(p.TOML, "\n\n# the material\n[material.wood]\n") {
			t.Errorf("the rest has not stayed:\n%s", p.TOML)
		}
	}
	for name, change := range map[string]func(*printer.Printer){
		"no size": func(m *printer.Printer) { m.Volume[1] = 0 }, "an id in words": func(m *printer.Printer) { m.ID = "Two Words" },
		"a material there is not": func(m *printer.Printer) { m.DefaultMaterial = "butter" }, "five materials": func(m *printer.Printer) { m.Tools = 5 },
	} {
		m := ours
		change(&m)
		_, err := desk.WithPrinterModel(desk.Profiles{}, m)
		want(t, name, err, desk.Wrong)
	}
	// Others stand on it: what they are would change with it.
	base := ours
	base.ID = "millrace-200"
	_, err = desk.WithPrinterModel(desk.Profiles{TOML: "[printer.millrace-200]\nnozzle_mm = 0.4\n\n[printer.b]\nbased_on = \"millrace-200\"\nname = \"B\"\n"}, base)
	want(t, "others stand on it", err, desk.Wrong)
}

func TestParseHours(t *testing.T) {
	for text, said := range map[string]string{
		"": "closed", "closed": "closed", "10-18": "10:00-18:00", "10:00-13:00, 14:00-18:00": "10:00-13:00, 14:00-18:00", "9.30–17.15": "09:30-17:15",
		"9h30 - 12h00; 13 to 17": "09:30-12:00, 13:00-17:00", "00:00-24:00": "00:00-24:00",
	} {
		spans, err := desk.ParseHours(text)
		if err != nil || desk.SayHours(spans) != said {
			t.Errorf("%q is read as %s, %v", text, desk.SayHours(spans), err)
		}
		if again, err := desk.ParseHours(desk.SayHours(spans)); err != nil || desk.SayHours(again) != said {
			t.Errorf("%q does not read back: %v", said, err)
		}
	}
	for _, text := range []string{"10", "ten to six", "18-10", "10-10", "10-25", "10:60-12", "10-13,12-15", "10-12,12-14", "-1-5", strings.Repeat("10-11,", 100), "10:00-18:00 and more", "24:01-24:02"} {
		if spans, err := desk.ParseHours(text); err == nil {
			t.Errorf("%q is read as %s", text, desk.SayHours(spans))
		}
	}
}

func FuzzParseHours(f *testing.F) {
	for _, s := range []string{"10-18", "9.30–17.15, 18-20", "closed", "24:00-24:00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		spans, err := desk.ParseHours(text)
		if err != nil {
			return
		}
		end := -1
		for _, s := range spans {
			if s.From <= end || s.To <= s.From || s.To > 24*60 {
				t.Fatalf("%q gives %v", text, spans)
			}
			end = s.To
		}
	})
}
