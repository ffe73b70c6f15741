package picture

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
	"platebook/engine/mesh"
	"platebook/internal/oracle"
)

var red = []color.NRGBA{{220, 0, 0, 255}}

func reddish(c rgb) bool { return int(c[0])-int(c[2]) > 45 }

// reds counts the reddish pixels within a plate: those of a red part, as its
// outline is inked outside it and nothing else on a page is red.
func reds(img *image.NRGBA, p plate) (n int) {
	for y := int(p.y0) + 2; y < int(p.y1)-2; y++ {
		for x := int(p.x0) + 2; x < int(p.x1)-2; x++ {
			if reddish(at(img, float64(x), float64(y))) {
				n++
			}
		}
	}
	return n
}

// redPart is one mesh in one colour part.
func redPart(ms ...*mesh.Mesh) *mesh.Mesh {
	m := join(ms...)
	clear(m.Colour)
	return m
}

// What each cell of a sheet shows, against closed forms of the projected areas,
// all by the one scale the sheet states.
func TestSheetAreas(t *testing.T) {
	step := redPart(box(mesh.Vec{-20, -6, 0}, mesh.Vec{20, 6, 8}), box(mesh.Vec{-20, -6, 8}, mesh.Vec{-8, 6, 30}))
	for _, c := range []struct {
		name  string
		m     *mesh.Mesh
		areas [6]float64 // front, right, above, back, left, beneath
	}{
		{"box 40 × 24 × 16", redPart(box(mesh.Vec{-20, -12, 0}, mesh.Vec{20, 12, 16})), [6]float64{640, 384, 960, 640, 384, 960}},
		{"step", step, [6]float64{320 + 264, 360, 480, 320 + 264, 360, 480}},
		{"ball of radius 9", redPart(ball(mesh.Vec{1, 2, 9}, 9, 60)), [6]float64{254.469, 254.469, 254.469, 254.469, 254.469, 254.469}},
		{"tower", redPart(box(mesh.Vec{0, 0, 0}, mesh.Vec{10, 14, 120})), [6]float64{1200, 1680, 140, 1200, 1680, 140}},
	} {
		img, cells, err := sheetCells(Scene{Mesh: c.m, Colours: red, Platform: &[2]float64{200, 200}}, Options{Width: 700, Height: 480})
		if err != nil {
			t.Fatal(err)
		}
		for i, cell := range cells {
			perMM := cell.cam.scale / super
			if cell.cam.scale != cells[0].cam.scale {
				t.Errorf("%s: %s and %s differ in scale", c.name, cell.title, cells[0].title)
			}
			got, want := float64(reds(img, cell.plate))/(perMM*perMM), c.areas[i]
			// Half a pixel all round may go either way.
			if math.Abs(got-want) > 0.005*want+2*math.Sqrt(want)/perMM {
				t.Errorf("%s, %s: %.1f mm², want %.1f", c.name, cell.title, got, want)
			}
		}
	}
}

// A mark is shown in the views that see it: of six in the middle of a box's
// faces each has one view, and that inside has none.
func TestSheetMarks(t *testing.T) {
	s := Scene{Mesh: box(mesh.Vec{-20, -12, 0}, mesh.Vec{20, 12, 30})}
	for i, p := range []mesh.Vec{{0, -12, 15}, {20, 0, 15}, {0, 0, 30}, {0, 12, 15}, {-20, 0, 15}, {0, 0, 0}, {0, 0, 15}} {
		s.Marks = append(s.Marks, Mark{At: p, Number: i + 1, Severity: "ask", Label: "there"})
	}
	_, cells, err := sheetCells(s, Options{Width: 800, Height: 550})
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range cells {
		if len(c.shown) != 1 || c.shown[0].number != i+1 {
			t.Errorf("%s shows %d marks, want mark %d alone", c.title, len(c.shown), i+1)
			continue
		}
		// Its dot is in the middle of the face.
		mx, my := (c.frame.x0+c.frame.x1)/2, (c.frame.y0+c.frame.y1)/2
		if d := c.shown[0].at[0]; hypot(d.x-mx, d.y-my) > 1 {
			t.Errorf("%s: the dot is at %.1f %.1f, want %.1f %.1f", c.title, d.x, d.y, mx, my)
		}
	}
}

// Ways are drawn at one scale: cubes of 10, 20 and 40 cover areas as 1 : 4 : 16,
// and stand on one line, whatever the picture's size.
func TestWaysScale(t *testing.T) {
	var ways []Way
	for _, a := range []float64{10, 20, 40} {
		ways = append(ways, Way{Scene: Scene{Mesh: redPart(box(mesh.Vec{-a / 2, -a / 2, 0}, mesh.Vec{a / 2, a / 2, a})), Colours: red}, Title: fmt.Sprint(a), Lines: []string{"2 h 10 min", "GBP 3.20"}})
	}
	for _, o := range []Options{{Width: 800}, {Width: 640, Height: 480}, {Width: 300, Height: 540}} {
		img, cells, err := waysCells(nil, ways, View{}, o)
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range cells {
			perMM := c.cam.scale / super
			side := []float64{10, 20, 40}[i]
			if got := math.Sqrt(float64(reds(img, c.plate))) / perMM; math.Abs(got-side) > 2/perMM {
				t.Errorf("%v: the cube of %g covers a square of %.2f mm", o, side, got)
			}
			if row := cells[0]; row.plate.y0 == c.plate.y0 && math.Abs(row.cam.y0-c.cam.y0) > 1e-6 {
				t.Errorf("%v: way %d stands %.2f samples lower than the first", o, i, c.cam.y0-row.cam.y0)
			}
		}
	}
}

// A ghost before the part leaves it readable: off the lines its colours hardly
// change, and the lines are few. Behind the part, and away from it, nothing
// changes at all.
func TestGhost(t *testing.T) {
	part := box(mesh.Vec{-20, -5, 0}, mesh.Vec{20, 5, 40})
	front := box(mesh.Vec{-12, -9, 4}, mesh.Vec{12, -7, 36})
	hind := box(mesh.Vec{-12, 7, 4}, mesh.Vec{12, 9, 36})
	o := Options{Width: 420, Height: 315}
	plain, err := Image(Scene{Mesh: part}, View{}, o)
	if err != nil {
		t.Fatal(err)
	}
	page, err := newPage(nil, nil, o, o.typeSize(118))
	if err != nil {
		t.Fatal(err)
	}
	behind, err := Image(Scene{Mesh: part, Support: hind}, View{}, o)
	if err != nil {
		t.Fatal(err)
	}
	veiled, err := Image(Scene{Mesh: part, Support: front}, View{}, o)
	if err != nil {
		t.Fatal(err)
	}
	f := page.frame
	mm := float64(f.Dy()) / 40
	mx, my := float64(f.Min.X+f.Max.X)/2, float64(f.Min.Y+f.Max.Y)/2
	under, lined := 0, 0
	for y := int(page.plate.y0) + 2; y < int(page.plate.y1)-2; y++ {
		for x := int(page.plate.x0) + 2; x < int(page.plate.x1)-2; x++ {
			fx, fy := float64(x), float64(y)
			if at(behind, fx, fy) != at(plain, fx, fy) {
				t.Fatalf("pixel %d %d: the part is veiled by what is behind it", x, y)
			}
			before, after := at(plain, fx, fy), at(veiled, fx, fy)
			in := math.Min(12*mm-math.Abs(fx+0.5-mx), 16*mm-math.Abs(fy+0.5-my)) // pixels within the ghost
			switch {
			case in < -1.5 && before != after:
				t.Fatalf("pixel %d %d is away from the ghost, and changed", x, y)
			case in > 3:
				under++
				if d := deltaE(light(before), light(after)); d > 14 {
					lined++
				} else if d == 0 {
					t.Fatalf("pixel %d %d: the ghost is not seen", x, y)
				}
			}
		}
	}
	if under < 5000 || lined == 0 || lined > under/4 {
		t.Errorf("%d of %d pixels of the part are lined", lined, under)
	}
}

// The arrow's head is at the end that the file's up points to.
func TestUp(t *testing.T) {
	s := Scene{Mesh: box(mesh.Vec{-20, -5, 0}, mesh.Vec{20, 5, 10})}
	o := Options{Width: 360, Height: 270}
	plain, _ := Image(s, View{}, o)
	page, _ := newPage(nil, nil, o, o.typeSize(118))
	size := page.pen.size
	mx, my := page.plate.x1-2.2*size, page.plate.y1-2.2*size
	for _, c := range []struct {
		up   mesh.Vec
		x, y float64 // where the head is, from the middle
	}{{mesh.Vec{0, 0, 3}, 0, -1}, {mesh.Vec{0, 0, -1}, 0, 1}, {mesh.Vec{1, 0, 0}, 1, 0}, {mesh.Vec{-2, 0, 0}, -1, 0}} {
		s.Up = &c.up
		img, err := Image(s, View{}, o)
		if err != nil {
			t.Fatal(err)
		}
		lean, n := 0.0, 0
		for y := int(my - 2*size); y < int(my+2*size); y++ {
			for x := int(mx - 2*size); x < int(mx+2*size); x++ {
				if a := at(img, float64(x), float64(y)); a != at(plain, float64(x), float64(y)) && luminance(light(a)) < 0.2 {
					lean += (float64(x)+0.5-mx)*c.x + (float64(y)+0.5-my)*c.y
					n++
				}
			}
		}
		if n < 20 || lean/float64(n) < 0.2*size {
			t.Errorf("up %v: %d pixels of ink lean by %.2f", c.up, n, lean/float64(max(n, 1)))
		}
	}
}

// views3 is three pictures of a lively scene by the number of workers.
func views3(t *testing.T, workers int) (out [][]byte) {
	s := lively()
	s.Support = box(mesh.Vec{-25, -25, 0}, mesh.Vec{-10, -10, 30})
	s.Up = &mesh.Vec{1, 2, 3}
	ways := []Way{{Scene: s, Title: "One", Lines: []string{"2 h 10 min"}, Chosen: true}, {Scene: lively(), Title: "Two"}}
	for _, f := range []func(b *bytes.Buffer) error{
		func(b *bytes.Buffer) error {
			return Draw(b, s, Usual(), Options{Width: 320, Height: 240, Workers: workers})
		},
		func(b *bytes.Buffer) error { return Sheet(b, s, Options{Width: 400, Height: 280, Workers: workers}) },
		func(b *bytes.Buffer) error {
			return SideBySide(b, []string{"name"}, ways, Usual(), Options{Width: 400, Workers: workers})
		},
	} {
		var b bytes.Buffer
		if err := f(&b); err != nil {
			t.Fatal(err)
		}
		out = append(out, b.Bytes())
	}
	return out
}

func TestViewsWorkers(t *testing.T) {
	first := views3(t, 1)
	for i, b := range first {
		img, err := png.Decode(bytes.NewReader(b))
		if err != nil {
			t.Fatal(err)
		}
		if w, h := img.Bounds().Dx(), img.Bounds().Dy(); w != []int{320, 400, 400}[i] || h > 280 {
			t.Errorf("picture %d is %d × %d", i, w, h)
		}
	}
	for _, workers := range []int{2, 5} {
		for i, b := range views3(t, workers) {
			if !bytes.Equal(b, first[i]) {
				t.Errorf("picture %d: %d workers draw another than one", i, workers)
			}
		}
	}
}

func TestViewsRefused(t *testing.T) {
	b := box(mesh.Vec{}, mesh.Vec{1, 1, 1})
	good := Way{Scene: Scene{Mesh: b}}
	bad := box(mesh.Vec{}, mesh.Vec{1, 1, 1})
	bad.V[5][2] = math.NaN()
	loose := &mesh.Mesh{V: b.V, F: [][3]int32{{0, 1, 99}}}
	sheet := func(s Scene, o Options) error { return Sheet(&bytes.Buffer{}, s, o) }
	side := func(ways []Way, v View, o Options) error { return SideBySide(&bytes.Buffer{}, nil, ways, v, o) }
	for _, c := range []struct {
		err error
		say string
	}{
		{sheet(Scene{}, Options{}), "no facets"},
		{sheet(Scene{Mesh: b}, Options{Width: 10, Height: 10}), "pixels"},
		{sheet(Scene{Mesh: b}, Options{Workers: -2}), "workers"},
		{sheet(Scene{Mesh: b, Support: bad}, Options{}), "vertex 5 of the support"},
		{sheet(Scene{Mesh: b, Support: loose}, Options{}), "facet 0 of the support"},
		{sheet(Scene{Mesh: b, Up: &mesh.Vec{}}, Options{}), "no direction"},
		{sheet(Scene{Mesh: b, Up: &mesh.Vec{math.NaN()}}, Options{}), "no direction"},
		{side(nil, View{}, Options{}), "no ways"},
		{side(slices.Repeat([]Way{good}, 13), View{}, Options{}), "13 ways"},
		{side([]Way{good, {}}, View{}, Options{}), "way 2"},
		{side([]Way{good}, View{Elevation: 100}, Options{}), "elevation"},
		{side([]Way{good}, View{}, Options{Width: math.MaxInt}), "pixels"},
		{side([]Way{good}, View{}, Options{Width: -5}), "pixels"},
		{side([]Way{good}, View{}, Options{Height: 900}), "pixels"},
		{SideBySide(refuses{fmt.Errorf("disk full")}, nil, []Way{good}, View{}, Options{Width: 100}), "disk full"},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.say) {
			t.Errorf("error %v; want one saying %q", c.err, c.say)
		}
	}
}

// What is odd but not wrong is drawn.
func TestViewsOdd(t *testing.T) {
	long := strings.Repeat("a_very_long_name_without_end", 40)
	point := &mesh.Mesh{V: []mesh.Vec{{5, 5, 5}}, F: [][3]int32{{0, 0, 0}}}
	flat := &mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {1e6, 0, 0}, {0, 1e-6, 0}}, F: [][3]int32{{0, 1, 2}}}
	many := make([]Mark, mostMarks)
	for i := range many {
		many[i] = Mark{At: mesh.Vec{float64(i % 20), float64(i % 7), float64(i % 13)}, Number: i, Severity: "stop", Label: long}
	}
	plate := &[2]float64{200, 200}
	scenes := []Scene{
		{Mesh: point, Platform: plate, Support: point}, {Mesh: flat, Support: box(mesh.Vec{-1e8, 0, -7}, mesh.Vec{1e8, 1, 1e8})},
		{Mesh: box(mesh.Vec{-9e8, -9e8, 0}, mesh.Vec{9e8, 9e8, 9e8}), Platform: plate, Support: &mesh.Mesh{}},
		{Mesh: box(mesh.Vec{-5, -5, -5}, mesh.Vec{5, 5, 5}), Platform: plate, Up: &mesh.Vec{0, 0, 1e-8}, Support: box(mesh.Vec{-6, -6, -9}, mesh.Vec{2, 2, -2})},
		{Mesh: box(mesh.Vec{}, mesh.Vec{20, 7, 13}), Marks: many, Caption: slices.Repeat([]string{long, "\x00\xff\u202e"}, 20), Up: &mesh.Vec{-1, 0, 0}},
		{Mesh: flat, Marks: []Mark{{At: mesh.Vec{-1e9, 1e9, 0}, Number: 1}}},
	}
	var ways []Way
	for _, s := range scenes {
		ways = append(ways, Way{Scene: s, Title: long, Lines: slices.Repeat([]string{long, ""}, 30), Chosen: true})
	}
	for _, o := range []Options{{Width: 64, Height: 64}, {Width: 300, Height: 64}, {Width: 64, Height: 300}, {Width: 260, Height: 200, Workers: 3}} {
		for i, s := range scenes {
			if _, _, err := sheetCells(s, o); err != nil {
				t.Errorf("scene %d, %v: %v", i, o, err)
			}
			if _, _, err := waysCells([]string{long}, []Way{ways[i]}, Usual(), o); err != nil {
				t.Errorf("way %d, %v: %v", i, o, err)
			}
		}
		for _, v := range []View{Usual(), {Elevation: -90}} {
			if _, _, err := waysCells([]string{long, long}, append(slices.Clone(ways), ways...), v, o); err != nil {
				t.Errorf("%v, %v: %v", v, o, err)
			}
		}
	}
}

// Numbers beside their dots never touch each other, cover no dot, and stay in
// the cell.
func TestBeside(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := plate{10, 20, rapid.Float64Range(20, 500).Draw(t, "w"), 330}
		r := rapid.Float64Range(6, 20).Draw(t, "r")
		var tags []*tag
		var dots []place
		for i := range rapid.IntRange(0, 30).Draw(t, "tags") {
			one := &tag{number: i}
			for range rapid.IntRange(1, 3).Draw(t, "dots") {
				one.at = append(one.at, place{x: rapid.Float64Range(f.x0, f.x1).Draw(t, "x"), y: rapid.Float64Range(f.y0, f.y1).Draw(t, "y")})
			}
			dots = append(dots, one.at...)
			tags = append(tags, one)
		}
		got := beside(tags, f, 200, 150, r)
		for i, a := range got {
			if a.x < f.x0 || a.x > f.x1 || a.y < f.y0 || a.y > f.y1 {
				t.Fatalf("tag %d is at %.1f %.1f, outside", a.number, a.x, a.y)
			}
			for _, b := range got[:i] {
				if hypot(a.x-b.x, a.y-b.y) < 2*r {
					t.Fatalf("tags %d and %d overlap", a.number, b.number)
				}
			}
			for _, o := range dots {
				if hypot(a.x-o.x, a.y-o.y) < r {
					t.Fatalf("tag %d covers a dot", a.number)
				}
			}
		}
		if len(tags) == 1 && len(got) == 0 && f.x1-f.x0 > 8*r {
			t.Fatal("a single tag found no place")
		}
	})
}

// A sheet of a mesh nobody here made: opposite views cover the same area.
func TestSheetBunny(t *testing.T) {
	m := stand(binarySTL(t, oracle.NPM(t, "stl-models/objects/bunny.bin.stl")), 80)
	m.Colour = make([]uint8, len(m.F))
	img, cells, err := sheetCells(Scene{Mesh: m, Colours: red}, Options{Width: 700, Height: 480, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 3 {
		a, b := float64(reds(img, cells[i].plate)), float64(reds(img, cells[i+3].plate))
		// The bunny's base is open, and its inside is grey.
		if i == 0 && (a < 2000 || math.Abs(a-b) > 0.1*a) || i > 0 && math.Abs(a-b) > 0.03*a {
			t.Errorf("%s covers %.0f pixels, %s %.0f", cells[i].title, a, cells[i+3].title, b)
		}
	}
}

// Anything finite is drawn or refused; nothing panics.
func FuzzViews(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789abcdefghijklmnop"), 30.0, 45.0, 80, 64, "name")
	f.Add(bytes.Repeat([]byte{0, 0, 128, 63, 0, 0, 0, 64}, 9), 0.0, 90.0, 64, 150, "\u202e\x00")
	f.Fuzz(func(t *testing.T, data []byte, azimuth, elevation float64, w, h int, text string) {
		if w > 160 || h > 160 || len(data) > 1000 {
			return
		}
		m := &mesh.Mesh{}
		for len(data) >= 12 {
			var v mesh.Vec
			for i := range v {
				v[i] = float64(math.Float32frombits(binary.LittleEndian.Uint32(data[4*i:])))
			}
			m.V = append(m.V, v)
			data = data[12:]
		}
		s := Scene{Mesh: m, Support: &mesh.Mesh{V: m.V}, Platform: &[2]float64{100, 100}, Caption: []string{text, text}}
		for i := range int32(len(m.V)) {
			n := int32(len(m.V))
			m.F = append(m.F, [3]int32{i, (i + 1) % n, (i + 2) % n})
			s.Support.F = append(s.Support.F, [3]int32{i, (i + 2) % n, (i + 4) % n})
			s.Marks = append(s.Marks, Mark{At: m.V[i], Number: int(i), Severity: "ask", Label: text})
			s.Up = &m.V[i]
		}
		_, _, _ = sheetCells(s, Options{Width: w, Height: h})
		ways := slices.Repeat([]Way{{Scene: s, Title: text, Lines: []string{text, text}}}, 1+len(m.V)%4)
		_, _, _ = waysCells([]string{text}, ways, View{azimuth, elevation}, Options{Width: w, Height: h})
	})
}
