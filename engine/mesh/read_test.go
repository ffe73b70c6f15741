package mesh

import (
	"bytes"
	"compress/gzip"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"platebook/engine/say/saytest"
	"platebook/internal/oracle"
)

func readBytes(data []byte, name string) (*Model, error) {
	return Read(bytes.NewReader(data), int64(len(data)), name, Limits{})
}

func readFile(t testing.TB, path string) (*Model, error) {
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
		path = strings.TrimSuffix(path, ".gz")
	}
	return readBytes(data, filepath.Base(path))
}

func mustRead(t testing.TB, path string) *Model {
	t.Helper()
	m, err := readFile(t, path)
	if err != nil {
		t.Fatalf("%s: %v", path, err)
	}
	checkModel(t, m)
	return m
}

// checkModel checks what Read promises of every model.
func checkModel(t testing.TB, m *Model) {
	t.Helper()
	if m.Mesh == nil || len(m.Mesh.F) == 0 {
		t.Fatal("a model without facets")
	}
	if len(m.Mesh.F) != m.Facets {
		t.Errorf("%d facets in the mesh, %d said", len(m.Mesh.F), m.Facets)
	}
	for i, v := range m.Mesh.V {
		for _, x := range v {
			if math.IsNaN(x) || math.IsInf(x, 0) || math.Abs(x) > farthest {
				t.Fatalf("vertex %d is %v", i, v)
			}
			if x == 0 && math.Signbit(x) {
				t.Fatalf("vertex %d holds −0", i)
			}
		}
	}
	used := make([]bool, len(m.Mesh.V))
	for i, f := range m.Mesh.F {
		for _, v := range f {
			if v < 0 || int(v) >= len(m.Mesh.V) {
				t.Fatalf("facet %d is %v of %d vertices", i, f, len(m.Mesh.V))
			}
			used[v] = true
		}
	}
	for i, u := range used {
		if !u {
			t.Fatalf("vertex %d is in no facet", i)
		}
	}
	if c := m.Mesh.Colour; c != nil {
		if len(c) != len(m.Mesh.F) {
			t.Fatalf("%d colours for %d facets", len(c), len(m.Mesh.F))
		}
		for _, k := range c {
			if int(k) >= len(m.ColourParts) {
				t.Fatalf("colour part %d of %d", k, len(m.ColourParts))
			}
		}
	}
	if m.Unit.MM() == 0 || !sentence(m.UnitReason.String()) {
		t.Errorf("unit %q, reason %q", m.Unit, m.UnitReason)
	}
	saytest.French(t, "unit", m.UnitReason)
	for _, w := range m.Warnings {
		saytest.French(t, "warning", w)
		if !sentence(w.String()) {
			t.Errorf("warning %q is no sentence", w)
		}
	}
}

func sentence(s string) bool {
	return len(s) > 20 && strings.HasSuffix(s, ".") && !strings.Contains(s, "%!") && s == strings.ToValidUTF8(s, "")
}

// checkError checks what Read promises of every error.
func checkError(t testing.TB, err error) {
	t.Helper()
	var u *Unreadable
	if !errors.As(err, &u) {
		t.Fatalf("%v is no *Unreadable", err)
	}
	s := err.Error()
	if u.Seems.Empty() || u.Do.Empty() || len(s) > 600 || s != strings.ToValidUTF8(s, "") || strings.Contains(s, "%!") || strings.ContainsAny(s, "\n\x00") {
		t.Errorf("error %q is no sentence to pass on", s)
	}
	// What the XML reader of the standard library says is in its own words.
	_, xml, _ := strings.Cut(s, "is not proper XML (")
	xml, _, _ = strings.Cut(xml, "); ask")
	saytest.French(t, "error", u.Saying(), xml)
}

// folders of meshes nobody here wrote.
func outside(t testing.TB) []string {
	return []string{
		filepath.Dir(oracle.NPM(t, "stl-models/package.json")),
		filepath.Dir(oracle.NPM(t, "node-stl/package.json")),
		filepath.Dir(oracle.NPM(t, "stl/package.json")),
		oracle.File(t, "/usr/share/assimp/models"),
		oracle.File(t, "/usr/share/doc/gmsh-doc"),
	}
}

// Every file of those packages, meshes and all else, under its own name and as
// each of the formats: a model that keeps its promises or a sentence, no panic.
func TestReadEverything(t *testing.T) {
	read, refused := 0, 0
	for _, dir := range outside(t) {
		err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
			if err != nil || !d.Type().IsRegular() {
				return err
			}
			info, err := d.Info()
			if err != nil {
				return err
			}
			if info.Size() > 20<<20 {
				return nil
			}
			m, err := readFile(t, path)
			if err != nil {
				refused++
				checkError(t, err)
				if testing.Verbose() {
					t.Logf("%s: %v", filepath.Base(path), err)
				}
				return nil
			}
			read++
			checkModel(t, m)
			if testing.Verbose() {
				t.Logf("%s: %s, %q, %d facets, %d vertices, %s doubtful %v %q %q", filepath.Base(path), m.Format, m.Name, m.Facets, len(m.Mesh.V), m.Unit, m.UnitDoubtful, m.ColourParts, m.Warnings)
			}
			return nil
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d read, %d refused", read, refused)
	if read < 60 || refused < 60 {
		t.Errorf("only %d models read and %d other files refused: are the packages whole?", read, refused)
	}
}
