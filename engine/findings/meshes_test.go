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
	"platebook/engine/region"
	"platebook/engine/say/saytest"
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
		saytest.French(t, name+": "+f.ID, f.Saying)
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
	seen := map[[2]int]bool{}
	for _, path := range strangers(t) {
		m, err := readStranger(t, path)
		if err != nil {
			continue
		}
		read++
		if len(m.Mesh.F) > 1_000 { // the same large mesh as text and binary
			like := [2]int{len(m.Mesh.F), int(math.Round(mesh.Measure(m.Mesh).Area))}
			if seen[like] {
				continue
			}
			seen[like] = true
		}
		f := facts(m.Mesh, 1, bare)
		ways := []printer.Way{bare, supported(bare)}
		if len(m.Mesh.F) > 300 {
			ways = ways[:1] // a second look takes long under the race detector
		}
		for _, w := range ways {
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

// Low points of the surface against another road: every layer is cut, and a
// connected part of one that overlaps nothing of the layer below begins in
// mid-air. Dips less than a layer deep are no islands to findings, so layer
// islands under 1 mm² may be missing; nothing may be made up.
func TestIslandsAgainstAllLayers(t *testing.T) {
	total := 0
	for _, name := range []string{
		oracle.NPM(t, "stl-models/objects/bunny.bin.stl"),
		oracle.NPM(t, "stl-models/objects/gearwheel.bin.stl"),
		oracle.File(t, "/usr/share/doc/gmsh-doc/doc/gmsh/demos/api/aneurysm_data.stl.gz"),
		oracle.File(t, "/usr/share/doc/gmsh-doc/doc/gmsh/tutorial/t13_data.stl.gz"),
		oracle.File(t, "/usr/share/doc/gmsh-doc/converters/stl_to_cartesian/lever.stl.gz"),
	} {
		m, err := readStranger(t, name)
		if err != nil {
			t.Fatal(err)
		}
		size := mesh.Measure(m.Mesh).Box.Size()
		f := facts(m.Mesh, 60/max(size[0], size[1], size[2]), bare)
		l := look{Facts: f}
		l.prepare()
		found := l.carriedByOthers(islands(l.Mesh, l.label, l.first(), l.layer()))
		total += len(found)
		layers := layersOf(t, f.Mesh, bare)
		matched := make([]bool, len(found))
		for k := 1; k < len(layers); k++ {
			for _, part := range layers[k].Region.Islands() {
				if !region.Intersect(part, layers[k-1].Region).Empty() {
					continue
				}
				hit := false
				b := part.Bounds()
				for i, g := range found {
					plane := (layers[k].Bottom + layers[k].Top) / 2
					in := g.at[0]*1000 > float64(b.Min.X)-500 && g.at[0]*1000 < float64(b.Max.X)+500 &&
						g.at[1]*1000 > float64(b.Min.Y)-500 && g.at[1]*1000 < float64(b.Max.Y)+500
					if in && plane >= g.at[2] && plane < g.at[2]+l.layer()+1e-9 {
						matched[i], hit = true, true
					}
				}
				if !hit && part.Area() > 1 {
					t.Errorf("%s: the layer at %.2f begins %.2f mm² in mid-air near %v, which was not found",
						filepath.Base(name), layers[k].Bottom, part.Area(), b)
				}
			}
		}
		for i, g := range found {
			if !matched[i] {
				t.Errorf("%s: nothing in the layers begins at %v", filepath.Base(name), g.at)
			}
		}
	}
	if total < 5 {
		t.Errorf("only %d islands in all: it tests little", total)
	}
}
