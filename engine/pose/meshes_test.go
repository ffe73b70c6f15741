package pose

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

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

// strangers are the model files of packages nobody here wrote.
func strangers(t testing.TB) (out []string) {
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

// stranger reads and heals a model file; nil if it cannot be read.
func stranger(t testing.TB, path string) *mesh.Mesh {
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
	m, err := mesh.Read(bytes.NewReader(data), int64(len(data)), filepath.Base(path), mesh.Limits{})
	if err != nil {
		return nil
	}
	healed, _ := mesh.Heal(m.Mesh)
	return healed
}

// On models nobody here wrote, made 80 mm long: what supports the chosen pose
// needs, held against the pose the file has. Where that one stands, the chosen
// one never needs more, if supports are all that counts.
func TestSaving(t *testing.T) {
	o := desk
	o.Cost = func(s Score) float64 { return s.SupportVolume }
	seen := 0
	var shares []float64
	for _, path := range strangers(t) {
		m := stranger(t, path)
		if m == nil || mesh.Closed(m) != nil {
			continue
		}
		size := mesh.Measure(m).Box.Size()
		k := 80 / max(size[0], size[1], size[2])
		m = mesh.Transform(m, mesh.Scale(mesh.Vec{k, k, k}))
		r, err := Choose(m, o)
		if err != nil {
			t.Errorf("%s: %v", path, err)
			continue
		}
		seen++
		own, chosen := r.Ranked[r.Own], r.Chosen
		if own.Against == "" && six(chosen.SupportVolume) > six(own.SupportVolume) {
			t.Errorf("%s: chosen pose needs %g mm³ of supports, the file's own %g", path, chosen.SupportVolume, own.SupportVolume)
		}
		t.Logf("%s (%d): own %.0f, chosen %.0f %q: %s", filepath.Base(path), len(m.F), own.SupportVolume, chosen.SupportVolume, own.Against, r.Why)
		if own.SupportVolume > 0 {
			shares = append(shares, 1-chosen.SupportVolume/own.SupportVolume)
		}
	}
	if seen < 10 {
		t.Fatalf("only %d models could be tried", seen)
	}
	mean := 0.0
	for _, s := range shares {
		mean += s / float64(len(shares))
	}
	t.Logf("%d models, %d need supports as they are; mean saving %.1f %% of the space for supports", seen, len(shares), 100*mean)
	if math.IsNaN(mean) {
		t.Error("no saving known")
	}
}
