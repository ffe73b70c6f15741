package pose

import (
	"bytes"
	"cmp"
	"compress/gzip"
	"io"
	"io/fs"
	"math"
	"math/rand/v2"
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

// stranger reads and heals a model file; nil if it cannot be read or is so large
// that it would take long under the race detector.
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
	if err != nil || len(m.Mesh.F) > 100_000 {
		return nil
	}
	healed, _ := mesh.Heal(m.Mesh)
	return healed
}

// solids are the strangers that are closed, once each, made 80 mm long.
func solids(t testing.TB) (names []string, ms []*mesh.Mesh) {
	if kept.ms != nil {
		return kept.names, kept.ms
	}
	seen := map[[2]float64]bool{}
	for _, path := range strangers(t) {
		m := stranger(t, path)
		if m == nil || mesh.Closed(m) != nil {
			continue
		}
		size := mesh.Measure(m).Box.Size()
		k := 80 / max(size[0], size[1], size[2])
		m = mesh.Transform(m, mesh.Scale(mesh.Vec{k, k, k}))
		ms2 := mesh.Measure(m)
		if id := [2]float64{math.Round(ms2.Volume), math.Round(ms2.Area)}; !seen[id] {
			seen[id] = true
			names, ms = append(names, filepath.Base(path)), append(ms, m)
		}
	}
	if len(ms) < 15 {
		t.Fatalf("only %d solids to be tried", len(ms))
	}
	kept.names, kept.ms = names, ms
	return names, ms
}

// kept saves reading the solids once for each test.
var kept struct {
	names []string
	ms    []*mesh.Mesh
}

// On models nobody here wrote: what supports the chosen pose needs, held
// against the pose the file has. Where nothing speaks against that one, the
// chosen one never needs more, if supports are all that counts.
func TestSaving(t *testing.T) {
	names, ms := solids(t)
	o := desk
	o.Cost = func(s Score) float64 { return s.SupportVolume }
	var before, after, saved float64
	need, same := 0, 0
	for i, m := range ms {
		r, err := Choose(m, o)
		if err != nil {
			t.Errorf("%s: %v", names[i], err)
			continue
		}
		checkResult(t, names[i], m, r)
		own, chosen := r.Ranked[r.Own], r.Chosen
		if own.Against.Empty() && six(chosen.SupportVolume) > six(own.SupportVolume) {
			t.Errorf("%s: the chosen pose needs %g mm³, the file's own %g", names[i], chosen.SupportVolume, own.SupportVolume)
		}
		if testing.Verbose() {
			t.Logf("  %s, %d facets: %s", names[i], len(m.F), r.Why)
		}
		if own.SupportVolume > 0 {
			need++
			before += own.SupportVolume
			after += chosen.SupportVolume
			saved += 1 - chosen.SupportVolume/own.SupportVolume
		}
		if chosen.From == AsGiven {
			same++
		}
	}
	t.Logf("%d solids, %d best as they are; of %d that need supports as they are, space for supports down by %.1f %% on average, %.1f %% in all",
		len(ms), same, need, 100*saved/float64(need), 100*(1-after/before))
	if need < 8 || !(after < before) {
		t.Errorf("%d need supports, %g mm³ before and %g after", need, before, after)
	}
}

// Models that need supports whichever way up: turned anyhow, the best score
// stays within what hull and columns round.
func TestTurnedStrangers(t *testing.T) {
	names, ms := solids(t)
	rnd := rand.New(rand.NewPCG(3, 4))
	tried := 0
	for i, m := range ms {
		if len(m.F) > 2500 || len(m.F) < 100 {
			continue
		}
		var best []Score
		for range 2 {
			// No part as given: both times it stands any way but well.
			r, err := Choose(mesh.Transform(m, anyTurn(rnd)), desk)
			if err != nil {
				t.Fatal(names[i], err)
			}
			if r.Chosen.From != AsGiven {
				best = append(best, r.Chosen.Score)
			}
		}
		if len(best) == 2 {
			tried++
			sameScore(t, names[i], best[0], best[1], 2e-3)
		}
	}
	if tried < 5 {
		t.Errorf("only %d models turned", tried)
	}
}

// The space under overhangs against columns thrown at random and held against
// every facet, by plain barycentric coordinates: an estimate without grid,
// frame or correction. It is right within four standard errors (one in 16 000
// throws of this test would be off by chance; the seed is fixed).
func TestColumnsAgainstRandomOnes(t *testing.T) {
	names, ms := solids(t)
	rnd := rand.New(rand.NewPCG(11, 4))
	tried := 0
	for k, m := range ms {
		if len(m.F) > 1000 || len(m.F) < 20 {
			continue
		}
		m = mesh.Transform(m, anyTurn(rnd))
		box := mesh.Measure(m).Box
		m = moved(m, 0, 0, -box.Min[2])
		const throws = 1000
		area := box.Size()[0] * box.Size()[1]
		var sum, squares float64
		for range throws {
			v := spaceBelow(m, box.Min[0]+rnd.Float64()*box.Size()[0], box.Min[1]+rnd.Float64()*box.Size()[1]) * area
			sum += v
			squares += v * v
		}
		mean := sum / throws
		sigma := math.Sqrt((squares/throws - mean*mean) / throws)
		got := asGiven(t, m, x45, 0).SupportVolume
		if math.Abs(got-mean) > 4*sigma+1e-3 {
			t.Errorf("%s: %.1f mm³ below overhangs, by random columns %.1f ± %.1f", names[k], got, mean, sigma)
		}
		if mean > 0 {
			tried++
		}
	}
	if tried < 6 {
		t.Errorf("only %d models had anything below overhangs", tried)
	}
}

// spaceBelow is the length of the vertical line at x, y that lies below
// overhangs and outside of m.
func spaceBelow(m *mesh.Mesh, x, y float64) (space float64) {
	type hit struct {
		z          float64
		over, down bool
	}
	var hits []hit
	for _, f := range m.F {
		a, b, c := m.V[f[0]], m.V[f[1]], m.V[f[2]]
		n := b.Sub(a).Cross(c.Sub(a))
		u := ((b[0]-x)*(c[1]-y) - (b[1]-y)*(c[0]-x)) / n[2]
		v := ((c[0]-x)*(a[1]-y) - (c[1]-y)*(a[0]-x)) / n[2]
		if w := 1 - u - v; u >= 0 && v >= 0 && w >= 0 {
			hits = append(hits, hit{u*a[2] + v*b[2] + w*c[2], -n[2]/n.Len() > math.Sqrt2/2+1e-5, n[2] < 0})
		}
	}
	slices.SortFunc(hits, func(a, b hit) int { return cmp.Compare(a.z, b.z) })
	inside, floor := 0, 0.0
	for _, h := range hits {
		if h.down {
			if inside == 0 && h.over {
				space += h.z - floor
			}
			inside++
		} else if inside--; inside == 0 {
			floor = h.z
		}
	}
	return space
}
