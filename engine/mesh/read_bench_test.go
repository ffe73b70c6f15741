package mesh

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"platebook/internal/oracle"
)

// bigSTL repeats the gearwheel side by side until there are n facets at least.
func bigSTL(t testing.TB, n int) []byte {
	t.Helper()
	part, err := os.ReadFile(oracle.NPM(t, "stl-models/objects/gearwheel.bin.stl"))
	if err != nil {
		t.Fatal(err)
	}
	part = part[stlHead:]
	per := len(part) / stlRecord
	copies := (n + per - 1) / per
	out := make([]byte, stlHead, stlHead+copies*len(part))
	binary.LittleEndian.PutUint32(out[80:], uint32(copies*per))
	for c := range copies {
		from := len(out)
		out = append(out, part...)
		for at := from; at < len(out); at += stlRecord {
			for k := range 3 {
				b := out[at+12+12*k:]
				x := math.Float32frombits(binary.LittleEndian.Uint32(b))
				binary.LittleEndian.PutUint32(b, math.Float32bits(x+float32(200*c)))
			}
		}
	}
	return out
}

func BenchmarkReadBinarySTL(b *testing.B) {
	data := bigSTL(b, 1_200_000)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := readBytes(data, "big.stl"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadASCIISTL(b *testing.B) {
	data, err := os.ReadFile(oracle.NPM(b, "stl-models/objects/bunny.ascii.stl"))
	if err != nil {
		b.Fatal(err)
	}
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := readBytes(data, "bunny.stl"); err != nil {
			b.Fatal(err)
		}
	}
}

// sphereLists writes the surface of a ball of n by 2n steps as vertices and triangles.
func sphereLists(n int, vertex func(x, y, z float64), triangle func(a, b, c int)) {
	m := 2 * n
	vertex(0, 0, -50)
	for i := 1; i < n; i++ {
		s, c := math.Sincos(math.Pi * float64(i) / float64(n))
		for j := range m {
			t, u := math.Sincos(2 * math.Pi * float64(j) / float64(m))
			vertex(50*s*u, 50*s*t, -50*c)
		}
	}
	vertex(0, 0, 50)
	at := func(i, j int) int { return 1 + (i-1)*m + j%m }
	last := 1 + (n-1)*m
	for j := range m {
		triangle(0, at(1, j+1), at(1, j))
		triangle(last, at(n-1, j), at(n-1, j+1))
	}
	for i := 1; i+1 < n; i++ {
		for j := range m {
			triangle(at(i, j), at(i, j+1), at(i+1, j+1))
			triangle(at(i, j), at(i+1, j+1), at(i+1, j))
		}
	}
}

func sphere3MF(t testing.TB, n int) []byte {
	t.Helper()
	var vs, ts bytes.Buffer
	sphereLists(n,
		func(x, y, z float64) { fmt.Fprintf(&vs, "<vertex x=\"%.6g\" y=\"%.6g\" z=\"%.6g\"/>\n", x, y, z) },
		func(a, b, c int) { fmt.Fprintf(&ts, "<triangle v1=\"%d\" v2=\"%d\" v3=\"%d\"/>\n", a, b, c) })
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for name, text := range map[string]string{
		"_rels/.rels":   rels("/3D/ball.model"),
		"3D/ball.model": `<model unit="millimeter" xmlns="` + nsCore + `"><resources><object id="1"><mesh><vertices>` + vs.String() + `</vertices><triangles>` + ts.String() + `</triangles></mesh></object></resources><build><item objectid="1"/></build></model>`,
	} {
		w, err := z.Create(name)
		if err != nil {
			t.Fatal(err)
		}
		w.Write([]byte(text))
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func rels(target string) string {
	return `<?xml version="1.0" encoding="UTF-8"?><Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Target="` + target + `" Id="r" Type="` + relModel + `"/></Relationships>`
}

func BenchmarkRead3MF(b *testing.B) {
	data := sphere3MF(b, 500) // a million triangles
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := readBytes(data, "ball.3mf"); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadOBJ(b *testing.B) {
	var vs, fs bytes.Buffer
	sphereLists(300,
		func(x, y, z float64) { fmt.Fprintf(&vs, "v %.6g %.6g %.6g\n", x, y, z) },
		func(i, j, k int) { fmt.Fprintf(&fs, "f %d %d %d\n", i+1, j+1, k+1) })
	data := append(vs.Bytes(), fs.Bytes()...)
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := readBytes(data, "ball.obj"); err != nil {
			b.Fatal(err)
		}
	}
}

// shuffled puts the facets of a binary STL into random order, so that each
// facet's neighbours are far away in the file.
func shuffled(data []byte) []byte {
	out := bytes.Clone(data)
	recs := out[stlHead:]
	var keep [stlRecord]byte
	rng := rand.New(rand.NewPCG(1, 2))
	rng.Shuffle(len(recs)/stlRecord, func(i, j int) {
		a, b := recs[i*stlRecord:(i+1)*stlRecord], recs[j*stlRecord:(j+1)*stlRecord]
		copy(keep[:], a)
		copy(a, b)
		copy(b, keep[:])
	})
	return out
}

func BenchmarkReadShuffled(b *testing.B) {
	data := shuffled(bigSTL(b, 1_200_000))
	b.SetBytes(int64(len(data)))
	b.ReportAllocs()
	userTime(b, func() {
		if _, err := readBytes(data, "big.stl"); err != nil {
			b.Fatal(err)
		}
	})
}

// A sound mesh needs to be looked at only; the gearwheels need healing.
func BenchmarkSolidShuffled(b *testing.B) {
	sound := manyFacets(b)
	rand.New(rand.NewPCG(1, 2)).Shuffle(len(sound.F), func(i, j int) { sound.F[i], sound.F[j] = sound.F[j], sound.F[i] })
	sound = compact(sound)
	gears, err := readBytes(shuffled(bigSTL(b, 1_200_000)), "big.stl")
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range []struct {
		name string
		m    *Mesh
	}{{"sound", sound}, {"gears", gears.Mesh}} {
		b.Run(c.name, func(b *testing.B) {
			userTime(b, func() {
				Inspect(c.m)
				Measure(c.m)
				Heal(c.m)
			})
		})
	}
}
