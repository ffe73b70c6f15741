package main

import (
	"bytes"
	"encoding/json"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platebook/desk/demo"
)

// post writes the demonstration parts into a folder of the test's.
func post(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	for _, p := range demo.Parts() {
		var b bytes.Buffer
		if err := p.Write(&b); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, p.File), b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(dir, "poem.stl"), []byte("The mere lies still.\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	return dir
}

// do runs the program in dir; words that name a file there become its path.
func do(dir, args string) (code int, out, errs string) {
	words := strings.Fields(args)
	for i, w := range words {
		if _, err := os.Stat(filepath.Join(dir, w)); err == nil && w != "." {
			words[i] = filepath.Join(dir, w)
		}
	}
	var o, e bytes.Buffer
	code = run(words, &o, &e)
	return code, o.String(), e.String()
}

func TestExitCodes(t *testing.T) {
	dir := post(t)
	cases := []struct {
		args string
		code int
		says string // on either stream
	}{
		{"--help", 0, "Usage"},
		{"version", 0, "Platebook"},
		{"check drawer-knob.stl", 0, "can be printed"},
		{"check poem.stl", 1, "cannot be printed"},
		{"check drawer-knob.stl poem.stl", 1, "cannot be printed"},
		{"quote harbour.stl", 1, "What stops it"},
		{"quote drawer-knob.stl", 0, "Total, GBP"},
		{"check no-such-file.stl", 2, "cannot be opened"},
		{"check", 2, "expected"},
		{"chek drawer-knob.stl", 2, "unexpected"},
		{"check --unit cubit drawer-knob.stl", 2, "unit"},
		{"check --copies 0 drawer-knob.stl", 2, "copies"},
		{"check --printer lathe drawer-knob.stl", 2, "millrace-200"},
		{"check --material straw drawer-knob.stl", 2, "pla"},
		{"check --infill 150% drawer-knob.stl", 2, "density"},
		{"check --infill 0.15 drawer-knob.stl", 2, "15%"},
		{"check --supports magic drawer-knob.stl", 2, "supports"},
		{"quote --layer-height 5 drawer-knob.stl", 2, "layer"},
		{"quote --longest soon drawer-knob.stl", 2, "6h"},
		{"quote --longest 6 drawer-knob.stl", 2, "6h"},
		{"check --scale 0 drawer-knob.stl", 2, "above 0"},
		{"check --scale 2 --tall 50 drawer-knob.stl", 2, "one of them"},
		{"check no-such-file.stl drawer-knob.stl", 2, "can be printed"},
		{"check --supports soluble drawer-knob.stl", 1, "2 materials"},
		{"check name-plate.3mf", 1, "materials at once"},
		{"check --one-colour name-plate.3mf", 0, "can be printed"},
		{"quote --longest 10m drawer-knob.stl", 1, "longest allowed"},
		{"profiles way standard", 0, "layer_height_mm"},
		{"profiles tariff larkmere", 0, "per_gram"},
		{"profiles rules", 0, `longest_print = "8h"`},
		{"profiles way nonsense", 2, "standard"},
		{"picture drawer-knob.stl", 2, "out"},
		{"ways drawer-knob.stl", 0, "Sensible"},
		{"ways harbour.stl", 0, "spun by 44"},
		{"ways herb-pot.stl", 1, "No way is offered"},
		{"ways --budget 1.00 drawer-knob.stl", 1, "the budget is 1"},
		{"ways --largest --tall 50 drawer-knob.stl", 2, "one of them"},
		{"pack --copies 3 clock-gear.stl poem.stl", 1, "1 plate"},
		{"likeness clock-gear.stl clock-gear.stl poem.stl", 0, "same shape"},
		{"likeness --most 0 clock-gear.stl clock-gear.stl", 2, "at least one"},
		{"quote --turn footbridge.stl", 0, "no supports instead of"},
	}
	for _, c := range cases {
		code, out, errs := do(dir, c.args)
		if code != c.code || !strings.Contains(out+errs, c.says) {
			t.Errorf("platebook %s: exit %d, want %d and %q\n%s%s", c.args, code, c.code, c.says, out, errs)
		}
		if strings.Contains(out+errs, "panic") || strings.Contains(out+errs, "NaN") {
			t.Errorf("platebook %s: %s%s", c.args, out, errs)
		}
	}
}

// The JSON is what other programs at the desk rely on.
func TestJSON(t *testing.T) {
	dir := post(t)
	code, out, errs := do(dir, "quote --json drawer-knob.stl poem.stl herb-pot.stl")
	if code != 1 {
		t.Fatalf("exit %d\n%s", code, errs)
	}
	lines := strings.Split(strings.TrimSpace(out), "\n")
	if len(lines) != 3 {
		t.Fatalf("%d lines for three files\n%s", len(lines), out)
	}
	var got []map[string]any
	for _, l := range lines {
		m := map[string]any{}
		if err := json.Unmarshal([]byte(l), &m); err != nil {
			t.Fatal(err)
		}
		got = append(got, m)
		for _, key := range []string{"file", "facets", "closed", "bodies", "volume_mm3", "area_mm2", "size_mm", "findings"} {
			if _, ok := m[key]; !ok {
				t.Errorf("%s has no %q", m["file"], key)
			}
		}
	}
	for _, key := range []string{"format", "unit", "layers", "mass_g", "time_s", "price"} {
		if _, ok := got[0][key]; !ok {
			t.Errorf("the quote has no %q: %s", key, lines[0])
		}
	}
	price := got[0]["price"].(map[string]any)
	for _, key := range []string{"currency", "total", "lines"} {
		if _, ok := price[key]; !ok {
			t.Errorf("the price has no %q", key)
		}
	}
	if f := got[1]["findings"].([]any)[0].(map[string]any); f["id"] != "unreadable" || f["severity"] != "stop" {
		t.Errorf("the poem: %v", f)
	}
	if got[2]["closed"] != false {
		t.Error("the broken pot counts as closed")
	}
}

func TestProfileFiles(t *testing.T) {
	dir := post(t)
	own := `
[way.thrifty]
based_on = "standard"
infill_percent = 5
[tariff.larkmere]
set_up = "3.00"
[rules]
longest_print = "30m"
`
	if err := os.WriteFile(filepath.Join(dir, "own.toml"), []byte(own), 0o600); err != nil {
		t.Fatal(err)
	}
	code, out, errs := do(dir, "profiles rules --profiles own.toml")
	if code != 0 || !strings.Contains(out, `"30m"`) || !strings.Contains(out, "millrace-200") {
		t.Errorf("exit %d: %s%s", code, out, errs)
	}
	code, out, errs = do(dir, "quote --way thrifty --profiles own.toml bookend.stl")
	if code != 1 || !strings.Contains(out, "3.00") {
		t.Errorf("exit %d, want 1: over half an hour\n%s%s", code, out, errs)
	}
	if err := os.WriteFile(filepath.Join(dir, "bad.toml"), []byte("[way.standard]\nlayer_hight_mm = 0.2\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	code, _, errs = do(dir, "check --profiles bad.toml bookend.stl")
	if code != 2 || !strings.Contains(errs, "layer_height_mm") {
		t.Errorf("exit %d: %s", code, errs)
	}
}

func TestPicture(t *testing.T) {
	dir := post(t)
	out := filepath.Join(dir, "bridge.png")
	if code, _, errs := do(dir, "picture footbridge.stl --size 400x300 -o "+out); code != 0 {
		t.Fatalf("exit %d: %s", code, errs)
	}
	f, err := os.Open(out)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil || img.Bounds().Dx() != 400 || img.Bounds().Dy() != 300 {
		t.Errorf("%v, %v", err, img.Bounds())
	}
}

func TestNamesCannotMoveTheCursor(t *testing.T) {
	if got := plain("a\x1b[2Jb\u202ec\x07"); strings.ContainsAny(got, "\x1b\x07\u202e") {
		t.Errorf("%q", got)
	}
}

func TestDuration(t *testing.T) {
	for _, c := range []struct {
		s    float64
		want string
	}{{1, "1 second"}, {59.2, "60 seconds"}, {61, "2 min"}, {3600, "1 h"}, {3661, "1 h 2 min"}} {
		if got := duration(c.s); got != c.want {
			t.Errorf("%v s: %q, want %q", c.s, got, c.want)
		}
	}
}
