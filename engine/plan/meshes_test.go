package plan

import (
	"bytes"
	"os"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/region"
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
		{"stl-models/objects/bunny.bin.stl", 20, true},
		{"stl/test/binary/cube-20mm-with-hole.stl", 0, true},
		{"stl/test/binary/ship.stl", 40, false},
		{"stl/test/binary/shark.stl", 30, false},
		{"node-stl/test/test_data/Pterosaur_FDM.stl", 30, false},
	} {
		m, layers := load(t, c.name, c.height, 0.4)
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

// Shells of real layers are as long as Clipper2 (npm clipper2-wasm) makes them,
// and leave as much inside. Layers in which something does not fit are another
// matter: there the shells are not plain offsets.
func TestShellsAgainstClipper(t *testing.T) {
	const n = 3
	type ask struct {
		Rings  [][]region.Micron `json:"rings"`
		Width  region.Micron     `json:"width"`
		Shells int               `json:"shells"`
	}
	var asks []ask
	var ours []walls
	for _, c := range []struct {
		name   string
		height float64
	}{{"stl-models/objects/bunny.bin.stl", 80}, {"stl-models/objects/gearwheel.bin.stl", 10}, {"stl/test/binary/shark.stl", 60}} {
		_, layers := load(t, c.name, c.height, 2)
		for _, l := range layers {
			for _, w := range []region.Micron{400, 450} {
				q, ok := buildFast(l.Region, n, w)
				if !ok {
					continue
				}
				a := ask{Width: w, Shells: n}
				for _, ring := range l.Region {
					var flat []region.Micron
					for _, p := range ring {
						flat = append(flat, p.X, p.Y)
					}
					a.Rings = append(a.Rings, flat)
				}
				asks, ours = append(asks, a), append(ours, q)
			}
		}
	}
	var answers []struct {
		Lengths []float64 `json:"lengths"`
		Left    float64   `json:"left"`
	}
	oracle.Node(t, "plan_clipper.mjs", asks, &answers)
	if len(answers) != len(asks) || len(asks) < 60 {
		t.Fatalf("%d answers to %d layers", len(answers), len(asks))
	}
	for i, a := range answers {
		for k := range n {
			within(t, "length of a shell", length(ours[i].shells[k]), a.Lengths[k], 0.005)
		}
		within(t, "area inside", area(ours[i].inner), a.Left, 0.002)
	}
	t.Logf("%d layers", len(asks))
}
