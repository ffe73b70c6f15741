package quote

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

// strangers are solids from packages that nobody here wrote.
var strangers = []string{
	"stl-models/objects/bunny.bin.stl", "stl-models/objects/gearwheel.bin.stl", "node-stl/test/test_data/Pterosaur_FDM.stl",
	"node-stl/test/test_data/RasPiCaseLight.stl", "node-stl/test/test_data/002.STL", "stl/test/binary/shark.stl",
	"stl/test/binary/ship.stl", "stl/test/binary/cube-20mm-with-hole.stl", "stl/test/ascii/effector_base.stl",
}

func stranger(b *testing.B, name string) Ask {
	b.Helper()
	data, err := os.ReadFile(oracle.NPM(b, name))
	if err != nil {
		b.Fatal(err)
	}
	a := ask(b, Source{Name: filepath.Base(name), Bytes: bytes.NewReader(data), Size: int64(len(data))})
	a.LongestPrint = 0
	return a
}

// BenchmarkWaysBunny is the whole list of ways for the bunny, 80 mm tall.
func BenchmarkWaysBunny(b *testing.B) {
	a := stranger(b, strangers[0])
	a.Unit, a.Target = mesh.Metre, mesh.Vec{0, 0, 80}
	a.LongestPrint = 8 * 3600
	for b.Loop() {
		ways, err := FindWays(a, Wish{Ways: Builtin().Ways, Elsewhere: Builtin().Printers})
		if err != nil || len(ways.Offers) < 3 {
			b.Fatal(err, len(ways.Offers))
		}
		b.ReportMetric(float64(ways.Plans), "plans")
	}
}

// BenchmarkPoseSaving prints strangers' parts, 60 mm at the longest, as their
// files have them and as they are turned, and reports the mean saving over those
// that need supports as they are. The best published are 40.5 % of material and
// 29.4 % of time (Vanek et al. 2014; figures at second hand, not read), over
// other parts, with tree-shaped supports against solid columns; here both sides
// have the same sparse columns, so the figures do not compare like with like.
func BenchmarkPoseSaving(b *testing.B) {
	for b.Loop() {
		material, time, n := 0.0, 0.0, 0.0
		for _, name := range strangers {
			a := stranger(b, name)
			a.Target = mesh.Vec{60, 60, 60}
			own := quoteOf(b, a)
			if own.Figures == nil || own.SupportsG < 0.1 {
				continue
			}
			ways, err := FindWays(a, Wish{})
			if err != nil {
				b.Fatal(err)
			}
			o := offered(ways, "sensible")
			if o == nil || o.Scale != own.Scale {
				continue
			}
			material += 1 - o.MassG["pla"]/own.MassG["pla"]
			time += 1 - o.PrintTimeS/own.PrintTimeS
			n++
		}
		b.ReportMetric(100*material/n, "%material-saved")
		b.ReportMetric(100*time/n, "%time-saved")
		b.ReportMetric(n, "parts")
	}
}
