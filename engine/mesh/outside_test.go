package mesh

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"platebook/internal/oracle"
)

// outsideFiles are meshes that nobody here made: from npm and Debian packages.
func outsideFiles(t testing.TB) []string {
	var files []string
	for _, f := range []string{
		"node-stl/test/test_data/box.stl", "node-stl/test/test_data/box_2x3x4.stl", "node-stl/test/test_data/box_3x3x3_offset.stl",
		"node-stl/test/test_data/002.STL", "node-stl/test/test_data/RasPiCaseLight.stl", "node-stl/test/test_data/WALLY_1plate.stl",
		"node-stl/test/test_data/Pterosaur_FDM.stl",
		"stl-models/objects/bunny.bin.stl", "stl-models/objects/gearwheel.bin.stl", "stl-models/objects/gearwheel.ascii.stl",
		"stl-models/polytopes/cube.ascii.stl", "stl-models/polytopes/cubeLarge.ascii.stl", "stl-models/polytopes/unitCube.ascii.stl",
		"stl/test/ascii/effector_base.stl", "stl/test/ascii/teapot.stl",
		"stl/test/binary/cube-20mm-with-hole.stl", "stl/test/binary/shark.stl", "stl/test/binary/ship.stl",
	} {
		files = append(files, oracle.NPM(t, f))
	}
	for _, f := range []string{"3DSMaxExport.STL", "Spider_ascii.stl", "Spider_binary.stl", "Wuson.stl", "sphereWithHole.stl", "triangle.stl"} {
		files = append(files, oracle.File(t, "/usr/share/assimp/models/STL/"+f))
	}
	dir := t.TempDir()
	for _, f := range []string{
		"converters/stl_to_cartesian/lever", "doc/gmsh/demos/api/aneurysm_data", "doc/gmsh/demos/api/object",
		"doc/gmsh/demos/api/surface1", "doc/gmsh/demos/api/terrain_stl_data", "doc/gmsh/demos/simple_geo/sphere-surf", "doc/gmsh/tutorial/t13_data",
	} {
		files = append(files, gunzip(t, oracle.File(t, "/usr/share/doc/gmsh-doc/"+f+".stl.gz"), dir))
	}
	return files
}

func gunzip(t testing.TB, path, dir string) string {
	t.Helper()
	packed, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, filepath.Base(path[:len(path)-3]))
	if err := os.WriteFile(out, data, 0o600); err != nil {
		t.Fatal(err)
	}
	return out
}

// agreement asked of other programs, relative to area × diagonal for volumes
// and to area for areas: they compute in float32 here and there.
const agreement = 1e-5

type manifoldAnswer struct {
	Status       string
	Volume, Area float64
	Genus        int
	Facets       int
}

// TestAgainstManifold: what manifold-3d accepts as it is, we call closed without
// more than welding, and measure the same. What we call healed to a manifold,
// it accepts, and measures the same.
func TestAgainstManifold(t *testing.T) {
	files := outsideFiles(t)
	dir := t.TempDir()
	var healed []*Mesh
	var repairs []Repairs
	all := files
	for i, f := range files {
		h, r := Heal(loadSTL(t, f))
		healed, repairs = append(healed, h), append(repairs, r)
		out := filepath.Join(dir, strconv.Itoa(i)+".stl")
		storeSTL(t, out, h)
		all = append(all, out)
	}
	var says []manifoldAnswer
	oracle.Node(t, "manifold_measure.mjs", map[string]any{"files": all}, &says)
	accepted, mended := 0, 0
	for i, f := range files {
		name := filepath.Base(f)
		h, r, ms := healed[i], repairs[i], Measure(healed[i])
		raw, after := says[i], says[len(files)+i]
		t.Logf("%-24s before %-12.12s after %-12.12s %10.6g mm³ %10.6g mm² closed %v: %v", name, raw.Status, after.Status, ms.Volume, ms.Area, r.After.Closed(), r.Sentences())
		same := func(what string, m manifoldAnswer) {
			if d := math.Abs(m.Volume - ms.Volume); d > agreement*ms.Area*ms.Box.Size().Len() {
				t.Errorf("%s, %s: volume %g, manifold-3d %g", name, what, ms.Volume, m.Volume)
			}
			if d := math.Abs(m.Area - ms.Area); d > agreement*ms.Area {
				t.Errorf("%s, %s: area %g, manifold-3d %g", name, what, ms.Area, m.Area)
			}
		}
		if raw.Status == "NoError" {
			accepted++
			if !r.After.Closed() || r.Holes+r.Turned > 0 {
				t.Errorf("%s: manifold-3d accepts it, we say %+v", name, r)
			}
			if r.Outward+r.Twins == 0 {
				same("as it is", raw)
			}
		}
		if a := r.After; a.Closed() && a.NonManifold == 0 && len(h.F) > 0 {
			mended++
			if after.Status != "NoError" {
				t.Errorf("%s: healed, yet manifold-3d says %s", name, after.Status)
				continue
			}
			same("healed", after)
		}
	}
	if accepted < 10 || mended < accepted {
		t.Errorf("only %d accepted as they are, %d healed", accepted, mended)
	}
}

var admeshLine = map[string]*regexp.Regexp{
	"facets":     regexp.MustCompile(`Number of facets +: +(\d+)`),
	"one":        regexp.MustCompile(`Facets with 1 disconnected edge +: +(\d+)`),
	"two":        regexp.MustCompile(`Facets with 2 disconnected edges +: +(\d+)`),
	"three":      regexp.MustCompile(`Facets with 3 disconnected edges +: +(\d+)`),
	"parts":      regexp.MustCompile(`Number of parts +: +(\d+)`),
	"volume":     regexp.MustCompile(`Volume +: +(-?[\d.eE+]+)`),
	"degenerate": regexp.MustCompile(`Degenerate facets +: +(\d+)`),
	"reversed":   regexp.MustCompile(`Facets reversed +: +(\d+)`),
}

func admesh(t testing.TB, path string) map[string]float64 {
	t.Helper()
	out, err := exec.Command(oracle.Program(t, "admesh"), path).CombinedOutput()
	if err != nil {
		t.Fatalf("admesh %s: %v\n%s", path, err, out)
	}
	r := map[string]float64{}
	for k, re := range admeshLine {
		if m := re.FindSubmatch(out); m != nil {
			if r[k], err = strconv.ParseFloat(string(m[1]), 64); err != nil {
				t.Fatal(err)
			}
		} else {
			t.Fatalf("admesh on %s says nothing about %s", path, k)
		}
	}
	return r
}

// TestAgainstADMesh: open edges as it counts them, that is after dropping
// facets that name a point twice; volume and parts where all is closed.
func TestAgainstADMesh(t *testing.T) {
	oracle.Program(t, "admesh")
	closed := 0
	dir := t.TempDir()
	for _, f := range outsideFiles(t) {
		name := filepath.Base(f)
		m := loadSTL(t, f)
		if len(m.F) == 1 {
			continue // it takes so short a file for an empty one
		}
		s := sidesOf(m)
		openEdges := 0.
		s.each(0, len(m.V), func(_, _ int32, along []uint64) {
			openEdges += float64(len(along) & 1) // it matches sides two by two
		})
		// Written afresh: it refuses files with stray bytes at the end.
		fresh := filepath.Join(dir, "fresh.stl")
		storeSTL(t, fresh, m)
		a := admesh(t, fresh)
		if got := a["one"] + 2*a["two"] + 3*a["three"]; got != openEdges {
			t.Errorf("%s: %g open edges, admesh %g", name, openEdges, got)
		}
		r := Inspect(m)
		if openEdges > 0 || !r.Closed() || r.NonManifold > 0 {
			continue
		}
		closed++
		ms := Measure(m)
		if d := math.Abs(math.Abs(ms.Volume) - a["volume"]); r.Cavities == 0 && d > agreement*ms.Area*ms.Box.Size().Len() {
			t.Errorf("%s: volume %g, admesh %g", name, ms.Volume, a["volume"])
		}
		if float64(r.Shells) != a["parts"] {
			t.Errorf("%s: %d shells, admesh %g parts", name, r.Shells, a["parts"])
		}
	}
	if closed < 8 {
		t.Errorf("only %d files are closed", closed)
	}
}
