package picture

import (
	"bytes"
	"encoding/binary"
	"errors"
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

func at(img *image.NRGBA, x, y float64) rgb {
	c := img.NRGBAAt(int(x), int(y))
	return rgb{c.R, c.G, c.B}
}

// The standard library reads back every pixel.
func TestPNG(t *testing.T) {
	s := lively()
	var b bytes.Buffer
	if err := Draw(&b, s, Usual(), Options{Width: 320, Height: 240}); err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	want, err := Image(s, Usual(), Options{Width: 320, Height: 240})
	if err != nil {
		t.Fatal(err)
	}
	if got.Bounds() != want.Bounds() {
		t.Fatalf("%v, want %v", got.Bounds(), want.Bounds())
	}
	for y := range 240 {
		for x := range 320 {
			if color.NRGBAModel.Convert(got.At(x, y)) != want.At(x, y) {
				t.Fatalf("pixel %d %d is %v, want %v", x, y, got.At(x, y), want.At(x, y))
			}
		}
	}
}

// A mark's dot is where the part's point is. Seen from the front a box 40 wide
// and 20 tall has its middle in the middle of its outline, its corner at
// the outline's corner.
func TestMarkPlace(t *testing.T) {
	m := box(mesh.Vec{-20, -10, 0}, mesh.Vec{20, 10, 20})
	plain, err := Image(Scene{Mesh: m, Marks: []Mark{{At: mesh.Vec{0, -10, 10}, Number: 1}}}, View{}, Options{Width: 450, Height: 300})
	if err != nil {
		t.Fatal(err)
	}
	// The outline, from the pixels: the part is the only clay there is.
	area := image.Rectangle{}
	for y := range 300 {
		for x := range 450 {
			if c := at(plain, float64(x), float64(y)); int(c[0])-int(c[2]) > 30 {
				area = area.Union(image.Rect(x, y, x+1, y+1))
			}
		}
	}
	if ratio := float64(area.Dx()) / float64(area.Dy()); math.Abs(ratio-2) > 0.02 {
		t.Errorf("the box is %v in the picture, and should be twice as wide as tall", area)
	}
	for _, c := range []struct {
		p        mesh.Vec
		x, y     float64 // in the outline, 0 to 1
		severity string
	}{
		{mesh.Vec{0, -10, 10}, 0.5, 0.5, "stop"}, {mesh.Vec{-20, -10, 20}, 0, 0, "ask"}, {mesh.Vec{20, -10, 0}, 1, 1, "note"}, {mesh.Vec{-10, -10, 5}, 0.25, 0.75, "stop"},
	} {
		img, err := Image(Scene{Mesh: m, Marks: []Mark{{At: c.p, Number: 1, Severity: c.severity}}}, View{}, Options{Width: 450, Height: 300})
		if err != nil {
			t.Fatal(err)
		}
		x, y := float64(area.Min.X)+c.x*float64(area.Dx()), float64(area.Min.Y)+c.y*float64(area.Dy())
		if got := at(img, x, y); got != accent(c.severity) {
			t.Errorf("%v: at %.1f %.1f there is %v, want %v", c.p, x, y, got, accent(c.severity))
		}
	}
}

// The scale bar against the part: a box 20 mm wide seen from the front.
func TestScaleBar(t *testing.T) {
	img, err := Image(Scene{Mesh: box(mesh.Vec{-10, -1, 0}, mesh.Vec{10, 1, 10})}, View{}, Options{Width: 1000, Height: 700})
	if err != nil {
		t.Fatal(err)
	}
	run := func(y int, is func(rgb) bool) (from, to int) {
		from = -1
		for x := 12; x < 988; x++ {
			if is(at(img, float64(x), float64(y))) {
				if from < 0 {
					from = x
				}
				to = x + 1
			} else if from >= 0 {
				break
			}
		}
		return from, to
	}
	from, to := run(350, func(c rgb) bool { return int(c[0])-int(c[2]) > 30 })
	perMM := float64(to-from) / 20
	// The bar is the longest run of ink at the bottom; its second half is open, with ink above and below.
	longest := 0
	for y := 640; y < 700; y++ {
		if a, b := run(y, func(c rgb) bool { return c == ink }); a >= 0 {
			longest = max(longest, b-a)
		}
	}
	mm := float64(longest) / perMM
	if math.Abs(mm-2) > 0.05 && math.Abs(mm-1) > 0.05 && math.Abs(mm-5) > 0.05 {
		t.Errorf("the bar is %d pixels, %.3f mm: not a round length", longest, mm)
	}
}

// Hatching shows without any colour: a hatched face has light and dark, a
// plain one is even.
func TestHatchedInGrey(t *testing.T) {
	m := box(mesh.Vec{-20, -10, 0}, mesh.Vec{20, 10, 20})
	for h := Plain; h < hatches; h++ {
		hl := make([]Hatch, len(m.F))
		for i := range hl {
			hl[i] = h
		}
		img, err := Image(Scene{Mesh: m, Highlight: hl}, View{}, Options{Width: 450, Height: 300})
		if err != nil {
			t.Fatal(err)
		}
		var lums []float64
		for y := 125; y < 160; y++ {
			for x := 205; x < 245; x++ {
				lums = append(lums, luminance(light(at(img, float64(x), float64(y)))))
			}
		}
		ratio := (slices.Max(lums) + 0.05) / (slices.Min(lums) + 0.05)
		if h == Plain && ratio > 1.2 || h != Plain && ratio < 3 {
			t.Errorf("hatching %d: contrast %.2f within a face", h, ratio)
		}
	}
}

func TestColourParts(t *testing.T) {
	m := join(box(mesh.Vec{-20, -10, 0}, mesh.Vec{0, 10, 20}), box(mesh.Vec{0, -10, 0}, mesh.Vec{20, 10, 20}), box(mesh.Vec{-20, -10, 20}, mesh.Vec{20, 10, 30}))
	img, err := Image(Scene{Mesh: m, Colours: []color.NRGBA{{200, 0, 0, 255}, {0, 0, 200, 255}}}, View{}, Options{Width: 600, Height: 450})
	if err != nil {
		t.Fatal(err)
	}
	red, blue, none := at(img, 200, 300), at(img, 400, 300), at(img, 300, 90)
	if red[0] < red[2]+40 || blue[2] < blue[0]+40 {
		t.Errorf("the red part is %v, the blue one %v", red, blue)
	}
	if d := deltaE(light(none), light(clay)); d > 25 {
		t.Errorf("a part without a colour is %v, and not clay", none)
	}
}

func TestRefused(t *testing.T) {
	b := box(mesh.Vec{}, mesh.Vec{1, 1, 1})
	bad := func(change func(*mesh.Mesh)) *mesh.Mesh {
		m := box(mesh.Vec{}, mesh.Vec{1, 1, 1})
		change(m)
		return m
	}
	for _, c := range []struct {
		name string
		s    Scene
		v    View
		o    Options
		say  string
	}{
		{"nothing", Scene{}, View{}, Options{}, "no facets"},
		{"empty", Scene{Mesh: &mesh.Mesh{}}, View{}, Options{}, "no facets"},
		{"NaN", Scene{Mesh: bad(func(m *mesh.Mesh) { m.V[3][1] = math.NaN() })}, View{}, Options{}, "vertex 3"},
		{"far", Scene{Mesh: bad(func(m *mesh.Mesh) { m.V[3][1] = 1e300 })}, View{}, Options{}, "vertex 3"},
		{"index", Scene{Mesh: bad(func(m *mesh.Mesh) { m.F[2][1] = 8 })}, View{}, Options{}, "facet 2"},
		{"negative index", Scene{Mesh: bad(func(m *mesh.Mesh) { m.F[2][1] = -1 })}, View{}, Options{}, "facet 2"},
		{"colours", Scene{Mesh: bad(func(m *mesh.Mesh) { m.Colour = []uint8{1} })}, View{}, Options{}, "one each"},
		{"hatchings", Scene{Mesh: b, Highlight: []Hatch{1}}, View{}, Options{}, "one each"},
		{"hatching", Scene{Mesh: b, Highlight: slices.Repeat([]Hatch{200}, 12)}, View{}, Options{}, "hatching 200"},
		{"marks", Scene{Mesh: b, Marks: make([]Mark, 501)}, View{}, Options{}, "too many"},
		{"mark", Scene{Mesh: b, Marks: []Mark{{At: mesh.Vec{math.Inf(1)}, Number: 4}}}, View{}, Options{}, "mark 4"},
		{"platform", Scene{Mesh: b, Platform: &[2]float64{0, 1}}, View{}, Options{}, "platform"},
		{"small", Scene{Mesh: b}, View{}, Options{Width: 10, Height: 900}, "pixels"},
		{"large", Scene{Mesh: b}, View{}, Options{Width: 4096, Height: 4096}, "pixels"},
		{"huge", Scene{Mesh: b}, View{}, Options{Width: math.MaxInt, Height: math.MaxInt}, "pixels"},
		{"elevation", Scene{Mesh: b}, View{Elevation: 91}, Options{}, "elevation"},
		{"azimuth", Scene{Mesh: b}, View{Azimuth: math.NaN()}, Options{}, "azimuth"},
		{"workers", Scene{Mesh: b}, View{}, Options{Workers: -1}, "workers"},
	} {
		err := Draw(&bytes.Buffer{}, c.s, c.v, c.o)
		if err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: error %v; want one saying %q", c.name, err, c.say)
		}
	}
	full := errors.New("disk full")
	if err := Draw(refuses{full}, Scene{Mesh: b}, View{}, Options{Width: 64, Height: 64}); !errors.Is(err, full) {
		t.Errorf("a writer that fails: %v", err)
	}
}

type refuses struct{ err error }

func (r refuses) Write([]byte) (int, error) { return 0, r.err }

// What is odd but not wrong is drawn.
func TestOdd(t *testing.T) {
	long := strings.Repeat("a very long name that does not end ", 100)
	one := &mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {1, 0, 0}, {0, 1, 0}}, F: [][3]int32{{0, 1, 2}}}
	needle := &mesh.Mesh{V: []mesh.Vec{{0, 0, 0}, {1e6, 0, 0}, {0, 1e-6, 0}}, F: [][3]int32{{0, 1, 2}}}
	point := &mesh.Mesh{V: []mesh.Vec{{5, 5, 5}}, F: [][3]int32{{0, 0, 0}}}
	far := box(mesh.Vec{1e8, 1e8, 1e8}, mesh.Vec{1e8 + 1, 1e8 + 1, 1e8 + 1})
	many := make([]Mark, mostMarks)
	for i := range many {
		many[i] = Mark{At: mesh.Vec{float64(i % 20), float64(i % 7), float64(i % 13)}, Number: i, Severity: "ask", Label: long}
	}
	plate := &[2]float64{200, 200}
	for name, s := range map[string]Scene{
		"one facet": {Mesh: one}, "needle": {Mesh: needle, Platform: plate}, "point": {Mesh: point, Platform: plate},
		"tiny":   {Mesh: box(mesh.Vec{}, mesh.Vec{1e-7, 1e-7, 1e-7}), Platform: plate},
		"huge":   {Mesh: box(mesh.Vec{-9e8, -9e8, 0}, mesh.Vec{9e8, 9e8, 9e8}), Platform: plate},
		"far":    {Mesh: far, Platform: plate},
		"sunk":   {Mesh: box(mesh.Vec{-5, -5, -5}, mesh.Vec{5, 5, 5}), Platform: plate},
		"marks":  {Mesh: box(mesh.Vec{}, mesh.Vec{20, 7, 13}), Marks: many, Caption: slices.Repeat([]string{long, "\x00\xff\u202e"}, 20), Platform: plate},
		"afield": {Mesh: one, Marks: []Mark{{At: mesh.Vec{-1e9, 1e9, 0}, Number: 1}}},
	} {
		for _, v := range []View{Usual(), {}, {Elevation: -90}, {Azimuth: 123, Elevation: 2}} {
			for _, o := range []Options{{Width: 64, Height: 64}, {Width: 300, Height: 64}, {Width: 64, Height: 300}, {Width: 240, Height: 180, Workers: 3}} {
				if _, err := Image(s, v, o); err != nil {
					t.Errorf("%s, %v, %v: %v", name, v, o, err)
				}
			}
		}
	}
}

// A mesh nobody here made: every part of the bunny's picture that is not paper
// is where its facets are, and the picture is not blank.
func TestBunny(t *testing.T) {
	m := stand(binarySTL(t, oracle.NPM(t, "stl-models/objects/bunny.bin.stl")), 80)
	img, err := Image(Scene{Mesh: m}, Usual(), Options{Width: 400, Height: 300, Workers: 2})
	if err != nil {
		t.Fatal(err)
	}
	// Each vertex is inside the outline: its pixel is not paper.
	cam := newCamera(Usual())
	page, err := newPage(nil, nil, Options{Width: 400, Height: 300}, 11)
	if err != nil {
		t.Fatal(err)
	}
	l, r, b, top := cam.extent(m.V)
	f := page.frame
	cam.fit(l, r, b, top, float64(f.Min.X), float64(f.Min.Y), float64(f.Max.X), float64(f.Max.Y))
	for i, v := range m.V {
		if x, y, _ := cam.see(v); at(img, x, y) == paper {
			t.Fatalf("vertex %d at pixel %.1f %.1f is drawn as paper", i, x, y)
		}
	}
}

// Tags never touch, stay on the page, and keep the order of their places.
func TestArrange(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const left, right, top, bottom = 20.0, 980.0, 50.0, 650.0
		pitch := rapid.Float64Range(10, 120).Draw(t, "pitch")
		var tags []*tag
		for i := range rapid.IntRange(0, 40).Draw(t, "tags") {
			tags = append(tags, &tag{number: i, at: []place{{x: rapid.Float64Range(0, 1000).Draw(t, "x"), y: rapid.Float64Range(50, 650).Draw(t, "y")}}})
		}
		n := len(tags)
		got := arrange(tags, left, right, top, bottom, pitch)
		if room := 2 * int((bottom-top)/pitch); len(got) != min(n, room) {
			t.Fatalf("%d of %d tags, and room for %d", len(got), n, room)
		}
		for i, a := range got {
			if a.x != left && a.x != right || a.y < top+pitch/2-1e-6 || a.y > bottom-pitch/2+1e-6 {
				t.Fatalf("tag %d is at %.1f %.1f", a.number, a.x, a.y)
			}
			for _, b := range got[:i] {
				if a.x != b.x {
					continue
				}
				if math.Abs(a.y-b.y) < pitch-1e-6 {
					t.Fatalf("tags %d and %d are %.2f apart, and need %.2f", a.number, b.number, math.Abs(a.y-b.y), pitch)
				}
				if (a.y < b.y) != (a.at[0].y < b.at[0].y) && a.at[0].y != b.at[0].y {
					t.Fatalf("tags %d and %d changed order", a.number, b.number)
				}
			}
		}
	})
}

// Anything finite is drawn or refused; nothing panics.
func FuzzImage(f *testing.F) {
	f.Add([]byte("0123456789abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789abcdefghijklmnop"), 30.0, 45.0, 80, 64, "name")
	f.Add(bytes.Repeat([]byte{0, 0, 128, 63, 0, 0, 0, 64}, 9), 0.0, 90.0, 64, 200, "\u202e\x00")
	f.Fuzz(func(t *testing.T, data []byte, azimuth, elevation float64, w, h int, text string) {
		if w > 220 || h > 220 || len(data) > 2000 {
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
		s := Scene{Mesh: m, Platform: &[2]float64{100, 100}, Caption: []string{text, text}}
		for i := range int32(len(m.V)) {
			m.F = append(m.F, [3]int32{i, (i + 1) % int32(len(m.V)), (i + 2) % int32(len(m.V))})
			s.Highlight = append(s.Highlight, Hatch(i)%hatches)
			s.Marks = append(s.Marks, Mark{At: m.V[i], Number: int(i), Severity: "ask", Label: text})
		}
		_, _ = Image(s, View{azimuth, elevation}, Options{Width: w, Height: h})
	})
}
