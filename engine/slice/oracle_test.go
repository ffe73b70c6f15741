package slice

import (
	"math"
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

// Layer areas against manifold-3d (npm), which builds its own half-edge mesh
// from the same file and cuts that. It refuses meshes that are not closed.
func TestAgainstManifold(t *testing.T) {
	npm := func(name string) func(t *testing.T) *mesh.Mesh {
		return func(t *testing.T) *mesh.Mesh { return readSTL(t, oracle.NPM(t, name)) }
	}
	for _, c := range []struct {
		name   string
		m      func(t *testing.T) *mesh.Mesh
		planes int
	}{
		{"stl-models gearwheel", npm("stl-models/objects/gearwheel.bin.stl"), 40},
		{"node-stl Pterosaur", npm("node-stl/test/test_data/Pterosaur_FDM.stl"), 200},
		{"node-stl RasPiCase", npm("node-stl/test/test_data/RasPiCaseLight.stl"), 60},
		{"stl ship", npm("stl/test/binary/ship.stl"), 60},
		{"stl cube with hole", npm("stl/test/binary/cube-20mm-with-hole.stl"), 20},
		{"stl-models bunny, healed", func(t *testing.T) *mesh.Mesh {
			m, _ := mesh.Heal(bunny(t))
			return m
		}, 100},
		{"bumpy torus", func(*testing.T) *mesh.Mesh {
			return torus(20, 5, 120, 70, func(u, v float64) float64 { return 1 + 0.3*math.Sin(7*u+3*v) })
		}, 100},
		{"a box and a ball crossing", func(*testing.T) *mesh.Mesh {
			return together(box(mesh.Vec{}, mesh.Vec{20, 20, 20}), sphere(15, 60))
		}, 50},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := c.m(t)
			path := writeSTL(t, m)
			m = readSTL(t, path) // as float32 as the other reads it
			lo, hi := bounds(m)
			// Planes at odd places, away from vertices: there the rules differ.
			var z []float64
			for i := range c.planes {
				z = append(z, lo[2]+(hi[2]-lo[2])*(float64(i)+0.4142)/float64(c.planes))
			}
			var ref struct {
				Status string
				Areas  []float64
			}
			oracle.Node(t, "manifold_slice.mjs", map[string]any{"stl": path, "z": z}, &ref)
			if ref.Status != "NoError" || len(ref.Areas) != len(z) {
				t.Fatalf("manifold-3d says %s", ref.Status)
			}
			worst := 0.0
			c, j := sortFacets(m, z, 2), newJoiner(m, 0)
			for i, z := range z {
				if i%c.block == 0 {
					c.open(i/c.block, j)
				}
				r, rep := j.layer(c, i)
				if rep != (Report{}) {
					t.Errorf("z %g: %+v", z, rep)
				}
				bound := r.Perimeter()*0.001 + 1e-4
				if d := math.Abs(r.Area() - ref.Areas[i]); d > bound {
					t.Errorf("z %g: %.6f mm², manifold-3d says %.6f, which is %.2g times the bound", z, r.Area(), ref.Areas[i], d/bound)
				} else {
					worst = max(worst, d/bound)
				}
			}
			t.Logf("%d facets, %d planes: at worst %.2f of the bound", len(m.F), len(z), worst)
		})
	}
}

// The bunny of npm stl-models has five holes. As it is, the contours that run
// into one are open and are said to be; healed, all close, and the layers hold
// the volume that the divergence theorem gives (mesh.Measure).
func TestBunny(t *testing.T) {
	m := bunny(t)
	o := Options{First: 0.2, Height: 0.2, MaxGap: 0.4}
	if _, rep := cut(t, m, o); rep.Open == 0 || rep.OpenMM < float64(rep.Open)*o.MaxGap || rep.Layers > 400 {
		t.Errorf("with holes: %+v", rep)
	}
	healed, _ := mesh.Heal(m)
	if err := mesh.Closed(healed); err != nil {
		t.Fatal("not healed: ", err)
	}
	layers, rep := cut(t, healed, o)
	if rep != (Report{}) {
		t.Errorf("healed: %+v", rep)
	}
	volume := 0.0
	for _, l := range layers {
		volume += l.Region.Area() * (l.Top - l.Bottom)
	}
	if want := mesh.Measure(healed).Volume; math.Abs(volume/want-1) > 1e-4 {
		t.Errorf("%d layers hold %.2f mm³, the mesh %.2f", len(layers), volume, want)
	}
}
