package findings

import (
	"math"
	"testing"

	"platebook/engine/mesh"
	"platebook/engine/printer"
)

func measured(m *mesh.Mesh, angle, platform float64) overhang {
	return overhangs(m, mesh.Measure(m).Box, angle, platform, nil)
}

// A sphere on the platform: what leans out more than a from the vertical is a
// cap of height R(1−sin a), so its area is 2πR²(1−sin a); the space under it is
// πr²R − 2π/3·(R³−(R²−r²)^1.5) with r = R·cos a (COMPUTED, Archimedes). At 45°
// and R = 10: 184.0302 mm² and 216.8817 mm³.
func TestOverhangOfSphere(t *testing.T) {
	// A facet row every half degree, with limits between rows: a polyhedron of n
	// steps falls short of the sphere by a share of about (π/n)².
	fine := ball(10, 720)
	o := measured(fine, 45, 0)
	within(t, "R=10 at 45°, area", o.area, 184.0302, 0.01)
	within(t, "R=10 at 45°, space", o.space, 216.8817, 0.01)
	for _, r := range []float64{1, 80} {
		m := ball(r, 720)
		for _, a := range []float64{15, 45, 60} {
			s, c := math.Sincos(a * math.Pi / 180)
			o := measured(m, a, 0)
			within(t, "area", o.area/(r*r), 2*math.Pi*(1-s), 2e-4)
			within(t, "space", o.space/(r*r*r), math.Pi*c*c-2*math.Pi/3*(1-s*s*s), 2e-4)
			// What lies below z is on the platform: a zone of height z is 2πRz.
			o = measured(m, a, r/100)
			within(t, "area above the first layer", o.area/(r*r), 2*math.Pi*(1-s)-2*math.Pi/100, 0.01)
		}
	}
	// Turned, twice, shifted far away: V, 2V, V.
	twice := mesh.Merge(fine, shifted(aboutZ(fine, 17), 3000, -2000, 0))
	o2 := measured(twice, 45, 0)
	within(t, "two spheres, area", o2.area, 2*o.area, 1e-6)
	within(t, "two spheres, space", o2.space, 2*o.space, 1e-6)
}

// Polyhedra, exact (COMPUTED).
func TestOverhangOfSimpleShapes(t *testing.T) {
	tee := mesh.Merge(block(-5, -5, 0, 5, 5, 30), block(-20, -5, 30, 20, 5, 40))
	// A cone standing on its tip, r = 10, h = 20: it leans out atan(10/20) = 26.57°.
	// Its flank is π·r·√(r²+h²) with n sides for a circle.
	n := 360.0
	top := lathe([][2]float64{{0, 0}, {10, 20}, {0, 20}}, int(n))
	edge, apothem := 2*10*math.Sin(math.Pi/n), 10*math.Cos(math.Pi/n)
	flank := n * edge * math.Hypot(apothem, 20) / 2
	disc := n * edge * apothem / 2
	glass := lathe([][2]float64{{0, 0}, {10, 0}, {2, 10}, {10, 20}, {0, 20}}, int(n))
	// Its upper flank leans out atan(8/10) = 38.66°.
	k := n * math.Sin(math.Pi/n)
	upper := k * (10 + 2) * math.Hypot(8*math.Cos(math.Pi/n), 10)
	for _, c := range []struct {
		name        string
		m           *mesh.Mesh
		angle       float64
		area, space float64
	}{
		{"block", block(0, 0, 0, 10, 20, 30), 45, 0, 0},
		{"cylinder", rod(10, 0, 30, 90), 45, 0, 0},
		{"cone on its base", lathe([][2]float64{{0, 0}, {10, 0}, {0, 20}}, 90), 45, 0, 0},
		// The arms of a T: 2 × 15 × 10 at height 30, and the underside of the
		// bar over the stem, which is the stem's top as well.
		{"T", tee, 45, 400, 400 * 30},
		{"block in the air", block(0, 0, 7, 10, 20, 9), 89, 200, 1400},
		// Space over the platform below a cone on its tip: the cylinder around less the cone.
		{"cone on its tip, 26°", top, 26, flank, disc * 20 * 2 / 3},
		{"cone on its tip, 27°", top, 27, 0, 0},
		{"hourglass, 38°", glass, 38, upper, -1},
		{"hourglass, 39°", glass, 39, 0, 0},
	} {
		o := measured(c.m, c.angle, hair)
		within(t, c.name+", area", o.area, c.area, 1e-6*(1+c.area))
		if c.space >= 0 {
			within(t, c.name+", space", o.space, c.space, 1e-6*(1+c.space))
		}
		mirrored := mesh.Transform(c.m, mesh.Scale(mesh.Vec{-1, 1, 1}))
		for _, v := range []*mesh.Mesh{aboutZ(c.m, 33), mirrored, shifted(c.m, 500, -700, 0)} {
			within(t, c.name+", moved", measured(v, c.angle, hair).area, c.area, 1e-6*(1+c.area))
		}
	}
}

func TestOverhangFinding(t *testing.T) {
	tee := mesh.Merge(block(-5, -5, 0, 5, 5, 30), block(-20, -5, 30, 20, 5, 40))
	wants(t, "T", as(tee, nil), "+overhangs=ask", "-starts-in-air", "-floating", "-several-pieces", "-thin-walls")
	wants(t, "T with supports", as(tee, func(f *Facts) { f.Way.Supports = printer.Breakaway }), "+overhangs=note")
	wants(t, "block", as(block(0, 0, 0, 20, 20, 20), nil), "-overhangs")
	// Two bodies: the bar lies on the stem, so only its arms hang over, 2 × 15 × 10.
	f, _ := get(as(tee, nil), "overhangs")
	within(t, "arms of a T", f.Numbers["area_mm2"], 300, 6)
	wants(t, "stacked", as(mesh.Merge(block(0, 0, 0, 30, 30, 10), block(5, 5, 10, 25, 25, 30)), nil), "-overhangs", "-several-pieces")
	wants(t, "sunk", as(mesh.Merge(block(0, 0, 0, 30, 30, 10), block(5, 5, 7, 25, 25, 30)), nil), "-overhangs", "-several-pieces")
	marks := Marks(tee, 45)
	count := map[uint8]int{}
	for _, k := range marks {
		count[k]++
	}
	// Two facets of a rectangle each: the foot, and the underside of the bar.
	if count[MarkContact] != 2 || count[MarkOverhang] != 2 {
		t.Errorf("marks of a T: %v", count)
	}
}
