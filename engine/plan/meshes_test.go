package plan

import (
	"bytes"
	"os"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/slice"
	"platebook/internal/oracle"
)

// load reads a mesh nobody here wrote, stands it on the platform at the given
// height in mm (0: as it is), and cuts it.
func load(t testing.TB, name string, height, layer float64) (*mesh.Mesh, []slice.Layer) {
	t.Helper()
	data, err := os.ReadFile(oracle.NPM(t, name))
	if err != nil {
		t.Fatal(err)
	}
	model, err := mesh.Read(bytes.NewReader(data), int64(len(data)), name, mesh.DefaultLimits())
	if err != nil {
		t.Fatal(err)
	}
	m, _ := mesh.Heal(model.Mesh)
	box := mesh.Measure(m).Box
	scale := 1.0
	if height > 0 {
		scale = height / box.Size()[2]
	}
	m = mesh.Transform(m, mesh.Translate(box.Min.Scale(-1)).Then(mesh.Scale(mesh.Vec{scale, scale, scale})))
	layers, _, err := slice.Cut(m, slice.Options{First: layer, Height: layer, MaxGap: 0.1})
	if err != nil {
		t.Fatal(err)
	}
	return m, layers
}

// At 100 % density meshes that nobody here wrote weigh what they hold.
func TestMeshVolume(t *testing.T) {
	for _, c := range []struct {
		name   string
		height float64
		simple bool // bodies do not overlap
	}{
		{"stl-models/objects/gearwheel.bin.stl", 10, true},
		{"stl-models/objects/bunny.bin.stl", 40, true},
		{"stl/test/binary/cube-20mm-with-hole.stl", 0, true},
		{"stl/test/binary/ship.stl", 40, false},
		{"stl/test/binary/shark.stl", 30, false},
		{"node-stl/test/test_data/Pterosaur_FDM.stl", 30, false},
	} {
		m, layers := load(t, c.name, c.height, 0.2)
		got := plans(t, layers, full)
		// Where bodies overlap the surface holds more than the slices do; that
		// is the slices' business.
		want := volume(layers)
		if c.simple {
			want = mesh.Measure(m).Volume
		}
		within(t, c.name+": laid and lost", deposited(got)+got.Lost, want, 0.01)
		t.Logf("%s: %.0f mm³, laid %+.2f %%, thin %.2f %%, single %.2f %%, lost %.2f %%", c.name, want,
			(deposited(got)/want-1)*100, got.ThinWall/want*100, got.SingleWall/want*100, got.Lost/want*100)
	}
}
