package findings

import (
	"bytes"
	"compress/gzip"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"platebook/engine/mesh"
	"platebook/engine/printer"
	"platebook/internal/oracle"
)

// A printer and a way as a desk has them.
var (
	desk = printer.Printer{Name: "Desk 200", Volume: [3]float64{200, 200, 200}, Nozzle: 0.4, Tools: 1}
	bare = printer.Way{LayerHeight: 0.2, FirstLayerHeight: 0.2, BeadWidth: 0.45, SupportAngle: 45, Supports: printer.NoSupports, Base: printer.NoBase}
)

func supported(w printer.Way) printer.Way { w.Supports = printer.Breakaway; return w }

// facts stands m on the platform, scale times as large, and looks at it.
func facts(m *mesh.Mesh, scale float64, w printer.Way) Facts {
	healed, repairs := mesh.Heal(m)
	box := mesh.Measure(healed).Box
	move := mesh.Translate(box.Min.Scale(-1)).Then(mesh.Scale(mesh.Vec{scale, scale, scale}))
	placed := mesh.Transform(healed, move)
	return Facts{Mesh: placed, Found: repairs.Before, Repairs: repairs, Placed: move, Measures: mesh.Measure(placed), Way: w, Printer: desk}
}

// sound is what every list of findings must be.
func sound(t *testing.T, name string, fs []Finding) {
	t.Helper()
	rank := map[Severity]int{Stop: 0, Ask: 1, Note: 2}
	for i, f := range fs {
		if r, ok := rank[f.Severity]; !ok || i > 0 && rank[fs[i-1].Severity] > r {
			t.Errorf("%s: %s is out of order (%s)", name, f.ID, f.Severity)
		}
		if !strings.HasSuffix(f.Message, ".") || !utf8.ValidString(f.Message) || strings.ContainsAny(f.Message, "\n\t\x00") {
			t.Errorf("%s: %s is no sentence: %q", name, f.ID, f.Message)
		}
		for _, bad := range []string{"NaN", "Inf", "e+", "unknown", "million million", "%!", "  "} {
			if strings.Contains(f.Message, bad) {
				t.Errorf("%s: %s says %q: %q", name, f.ID, bad, f.Message)
			}
		}
		if strings.ToLower(f.ID) != f.ID || strings.ContainsAny(f.ID, " _") {
			t.Errorf("%s: %q is no ID", name, f.ID)
		}
		for k, v := range f.Numbers {
			if math.IsNaN(v) || math.IsInf(v, 0) {
				t.Errorf("%s: %s has %s = %g", name, f.ID, k, v)
			}
		}
		if len(f.Places) > mostPlaces {
			t.Errorf("%s: %s has %d places", name, f.ID, len(f.Places))
		}
	}
}

// strangers are the model files of packages nobody here wrote.
func strangers(t testing.TB) []string {
	var out []string
	for _, root := range []string{
		oracle.NPM(t, "stl-models"), oracle.NPM(t, "stl"), oracle.NPM(t, "node-stl"),
		oracle.File(t, "/usr/share/assimp/models"), oracle.File(t, "/usr/share/doc/gmsh-doc"),
	} {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			p := strings.TrimSuffix(strings.ToLower(path), ".gz")
			if err == nil && !d.IsDir() && slices.Contains([]string{".stl", ".obj", ".3mf"}, filepath.Ext(p)) {
				out = append(out, path)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return out
}

func readStranger(t testing.TB, path string) (*mesh.Model, error) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if strings.HasSuffix(path, ".gz") {
		z, err := gzip.NewReader(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		if data, err = io.ReadAll(z); err != nil {
			t.Fatal(err)
		}
	}
	return mesh.Read(bytes.NewReader(data), int64(len(data)), filepath.Base(path), mesh.Limits{})
}

func TestStrangers(t *testing.T) {
	read := 0
	for _, path := range strangers(t) {
		m, err := readStranger(t, path)
		if err != nil {
			continue
		}
		read++
		f := facts(m.Mesh, 1, bare)
		for _, w := range []printer.Way{bare, supported(bare)} {
			f.Way = w
			f.Unit, f.UnitReason, f.UnitStated, f.UnitDoubtful = string(m.Unit), m.UnitReason, m.UnitStated, m.UnitDoubtful
			f.Warnings = m.Warnings
			fs := Find(f)
			sound(t, filepath.Base(path), fs)
			if testing.Verbose() {
				t.Logf("%s: %d facets", filepath.Base(path), len(m.Mesh.F))
				for _, x := range fs {
					t.Logf("  %s %s: %s %v", x.Severity, x.ID, x.Message, x.Numbers)
				}
			}
		}
	}
	if read < 20 {
		t.Errorf("only %d files could be read", read)
	}
}
