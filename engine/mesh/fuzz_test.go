package mesh

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platebook/internal/oracle"
)

// smallLimits keep a fuzzed file's memory small, so that a growth out of
// proportion shows as a slow or failed run.
var smallLimits = Limits{Bytes: 1 << 20, Facets: 20_000, Vertices: 60_000, Expanded: 8 << 20, Entries: 50, Instances: 2000}

func fuzzRead(t *testing.T, data []byte, name string) {
	m, err := Read(bytes.NewReader(data), int64(len(data)), name, smallLimits)
	if err != nil {
		checkError(t, err)
		return
	}
	checkModel(t, m)
	if m.Facets > smallLimits.Facets || len(m.Mesh.V) > 3*m.Facets {
		t.Errorf("%d facets and %d vertices", m.Facets, len(m.Mesh.V))
	}
	again, err := Read(bytes.NewReader(data), int64(len(data)), name, smallLimits)
	if err != nil || len(again.Mesh.F) != len(m.Mesh.F) || again.UnitReason.String() != m.UnitReason.String() {
		t.Errorf("read twice, two answers: %v", err)
	}
}

// seedFiles adds the small files of a folder.
func seedFiles(f *testing.F, pattern string) {
	names, _ := filepath.Glob(pattern)
	for _, n := range names {
		if data, err := os.ReadFile(n); err == nil && len(data) < 20_000 {
			f.Add(data)
		}
	}
}

func FuzzReadSTL(f *testing.F) {
	dir := filepath.Dir(oracle.NPM(f, "stl-models/package.json"))
	for _, sub := range []string{"broken", "misc", "polytopes"} {
		seedFiles(f, filepath.Join(dir, sub, "*.stl"))
	}
	f.Add(binarySTL("solid part", 4, tetra, "x"))
	f.Add(binarySTL("part", 3, tetra, ""))
	f.Add(utf16LE(textSTL()))
	f.Add(textSTL("\n", " "))
	f.Fuzz(func(t *testing.T, data []byte) { fuzzRead(t, data, "a.stl") })
}

func FuzzReadOBJ(f *testing.F) {
	seedFiles(f, filepath.Join(oracle.File(f, "/usr/share/assimp/models"), "OBJ", "*.obj"))
	seedFiles(f, "/usr/share/assimp/models/invalid/*.obj")
	f.Add([]byte(tetraOBJ))
	f.Add([]byte("v 0 0 0\nv 4 2 0\nv 0 4 0\nv 1 2 0\nf 1 2 \\\n3 4\nusemtl a\nf -1 -2 -3\n"))
	f.Fuzz(func(t *testing.T, data []byte) { fuzzRead(t, data, "a.obj") })
}

// FuzzRead3MF changes the XML of the model part and of the relationships, or,
// where the model is empty, the package's own bytes.
func FuzzRead3MF(f *testing.F) {
	item := `<item objectid="1"/>`
	f.Add(model("", tetra3mf(1, ""), item), rels("/odd/place.xml"), []byte(nil))
	f.Add(model(`unit="inch" xmlns:p="`+nsProduce+`"`, `<basematerials id="7"><base name="a" displaycolor="#111111"/></basematerials>`+
		strings.Replace(tetra3mf(1, `pid="7" pindex="0"`), `v3="1"/>`, `v3="1" p1="0" p2="1"/>`, 1)+
		`<object id="2"><components><component objectid="1" transform="-1 0 0 0 1 0 0 0 1 5 0 0"/><component objectid="1" p:path="/odd/place.xml"/></components></object>`,
		`<item objectid="2"/>`), rels("/odd/place.xml"), []byte(nil))
	f.Add(model("", laughs(5, tetra3mf(1, "")), `<item objectid="6"/>`), rels("/odd/place.xml"), []byte(nil))
	f.Add("", "", one(f, model("", tetra3mf(1, ""), item)))
	if data, err := os.ReadFile(oracle.File(f, "/usr/share/assimp/models/3MF/box.3mf")); err == nil {
		f.Add("", "", data)
	}
	f.Fuzz(func(t *testing.T, xml, relationships string, data []byte) {
		if xml != "" {
			data = pack(t, "_rels/.rels", relationships, "odd/place.xml", xml)
		}
		fuzzRead(t, data, "a.3mf")
	})
}
