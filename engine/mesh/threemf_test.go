package mesh

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"fmt"
	"image/color"
	"math"
	"slices"
	"strings"
	"testing"

	"platebook/internal/oracle"

	"platebook/engine/say"
)

// pack writes a ZIP of names and texts in turn.
func pack(t testing.TB, parts ...string) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for i := 0; i < len(parts); i += 2 {
		w, err := z.Create(parts[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(parts[i+1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// one packs a single model part, found by its relationship and by nothing else.
func one(t testing.TB, model string) []byte {
	return pack(t, "_rels/.rels", rels("/odd/place.xml"), "odd/place.xml", model)
}

// model writes a model element around resources and build.
func model(attrs, resources, build string) string {
	return `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + `<model xmlns="` + nsCore + `" ` + attrs + `><resources>` + resources + `</resources><build>` + build + `</build></model>`
}

const corners3mf = `<vertices><vertex x="0" y="0" z="0"/><vertex x="10" y="0" z="0"/><vertex x="0" y="10" z="0"/><vertex x="0" y="0" z="10"/></vertices>`

// tetra3mf is the tetrahedron as an object; attrs may hold pid and pindex.
func tetra3mf(id int, attrs string) string {
	return fmt.Sprintf(`<object id="%d" %s><mesh>%s<triangles><triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3"/><triangle v1="0" v2="3" v3="2"/><triangle v1="1" v2="2" v3="3"/></triangles></mesh></object>`, id, attrs, corners3mf)
}

func read3MF(t testing.TB, data []byte) *Model {
	t.Helper()
	m, err := readBytes(data, "part.3mf")
	if err != nil {
		t.Fatal(err)
	}
	checkModel(t, m)
	if m.Format != ThreeMF {
		t.Fatalf("read as %s", m.Format)
	}
	return m
}

// 3MF core 1.4, 3.4: the six units, millimetre if none is named.
func TestUnits3MF(t *testing.T) {
	for _, c := range []struct {
		name   string
		unit   Unit
		factor float64
	}{
		{`unit="micron"`, Micron, 0.001}, {`unit="millimeter"`, Millimetre, 1}, {`unit="centimeter"`, Centimetre, 10},
		{`unit="inch"`, Inch, 25.4}, {`unit="foot"`, Foot, 304.8}, {`unit="meter"`, Metre, 1000}, {``, Millimetre, 1},
	} {
		m := read3MF(t, one(t, model(c.name, tetra3mf(1, ""), `<item objectid="1"/>`)))
		want := tetraVolume * c.factor * c.factor * c.factor
		if v := signedVolume(m.Mesh); m.Unit != c.unit || !m.UnitStated || m.UnitDoubtful || math.Abs(v-want) > 1e-9*want {
			t.Errorf("%s: %s, stated %v, volume %v want %v", c.name, m.Unit, m.UnitStated, v, want)
		}
	}
	data := one(t, model(`unit="inch"`, tetra3mf(1, ""), `<item objectid="1"/>`))
	m, err := ReadAs(bytes.NewReader(data), int64(len(data)), "part.3mf", Centimetre, Limits{})
	if err != nil || m.Unit != Inch || !m.UnitStated || signedVolume(m.Mesh) < tetraVolume*16387 || len(m.Warnings) != 1 ||
		!strings.Contains(m.Warnings[0].String(), "The file says it is drawn in inches, so it was not read in centimetres as asked") || !sentence(m.Warnings[0].String()) {
		t.Errorf("given by staff: %+v %v", m, err)
	}
	if m, err = ReadAs(bytes.NewReader(data), int64(len(data)), "part.3mf", Inch, Limits{}); err != nil || !m.UnitStated || len(m.Warnings) != 0 {
		t.Errorf("given by staff as stated: %+v %v", m, err)
	}
	// A 3MF that names no unit is in millimetres by the specification.
	none := one(t, model("", tetra3mf(1, ""), `<item objectid="1"/>`))
	m, err = ReadAs(bytes.NewReader(none), int64(len(none)), "part.3mf", Inch, Limits{})
	if err != nil || m.Unit != Millimetre || !m.UnitStated || len(m.Warnings) != 1 || !strings.Contains(m.Warnings[0].String(), "names no unit, which for 3MF means millimetres, so it was not read in inches as asked") {
		t.Errorf("3MF without a unit: %+v %v", m, err)
	}
}

// 3MF core 1.4, 3.3: rows m00 m01 m02 … m32, row vectors, and a negative
// determinant leaves the sign of the volume. Places are COMPUTED by hand.
func TestTransforms3MF(t *testing.T) {
	for _, c := range []struct {
		name, transform string
		min, max        Vec
		volume          float64
	}{
		{"none", "", Vec{0, 0, 0}, Vec{10, 10, 10}, 1},
		{"moved", "1 0 0 0 1 0 0 0 1 5 6 7", Vec{5, 6, 7}, Vec{15, 16, 17}, 1},
		{"a quarter turn about z: x goes to y", "0 1 0 -1 0 0 0 0 1 0 0 0", Vec{-10, 0, 0}, Vec{0, 10, 10}, 1},
		{"stretched 2, 3, 4", "2 0 0 0 3 0 0 0 4 0 0 0", Vec{0, 0, 0}, Vec{20, 30, 40}, 24},
		{"sheared: z carries x along", "1 0 0 0 1 0 1 0 1 0 0 0", Vec{0, 0, 0}, Vec{10, 10, 10}, 1},
		{"mirrored in x", "-1 0 0 0 1 0 0 0 1 0 0 0", Vec{-10, 0, 0}, Vec{0, 10, 10}, 1},
		{"mirrored in all", "-1 0 0 0 -1 0 0 0 -1 1 1 1", Vec{-9, -9, -9}, Vec{1, 1, 1}, 1},
		{"swapped x and y", "0 1 0 1 0 0 0 0 1 0 0 0", Vec{0, 0, 0}, Vec{10, 10, 10}, 1},
		{"blanks and exponents", " 1e0  0 0\n0 1.0 0 0 0 +1 5e-1 0 0 ", Vec{0.5, 0, 0}, Vec{10.5, 10, 10}, 1},
	} {
		attr := ""
		if c.transform != "" {
			attr = `transform="` + c.transform + `"`
		}
		direct := read3MF(t, one(t, model("", tetra3mf(1, ""), `<item objectid="1" `+attr+`/>`)))
		nested := read3MF(t, one(t, model("", tetra3mf(1, "")+`<object id="2"><components><component objectid="1" `+attr+`/></components></object>`, `<item objectid="2"/>`)))
		for _, m := range []*Model{direct, nested} {
			b := bounds(m.Mesh.V)
			if v := signedVolume(m.Mesh); b.Min != c.min || b.Max != c.max || math.Abs(v-c.volume*tetraVolume) > 1e-9 {
				t.Errorf("%s: box %v, volume %v; want %v %v, %v", c.name, b, v, c.min, c.max, c.volume*tetraVolume)
			}
		}
		if mirrored := strings.Contains(c.name, "mirrored") || strings.Contains(c.name, "swapped"); mirrored != strings.Contains(strings.Join(say.Strings(direct.Warnings), ""), "mirror image") {
			t.Errorf("%s: warnings %q", c.name, direct.Warnings)
		}
	}
}

// Two turns, one after the other: the component's first, then the item's.
func TestOrderOfTransforms3MF(t *testing.T) {
	m := read3MF(t, one(t, model("", tetra3mf(1, "")+
		`<object id="2"><components><component objectid="1" transform="1 0 0 0 1 0 0 0 1 100 0 0"/></components></object>`+
		`<object id="3"><components><component objectid="2" transform="2 0 0 0 2 0 0 0 2 0 0 0"/><component objectid="1"/></components></object>`,
		`<item objectid="3" transform="0 1 0 -1 0 0 0 0 1 0 0 5"/><item objectid="1"/>`)))
	// Inner: (100..110, 0..10, 0..10), doubled: (200..220, 0..20, 0..20), turned: (-20..0, 200..220, 5..25).
	b := bounds(m.Mesh.V[:4])
	if b.Min != (Vec{-20, 200, 5}) || b.Max != (Vec{0, 220, 25}) {
		t.Errorf("box %v", b)
	}
	if want := tetraVolume * (8 + 1 + 1); m.Facets != 12 || math.Abs(signedVolume(m.Mesh)-want) > 1e-9 {
		t.Errorf("%d facets, volume %v, want %v", m.Facets, signedVolume(m.Mesh), want)
	}
}

// Two bodies that touch are kept apart, a body whose corners are not shared is closed.
func TestSharing3MF(t *testing.T) {
	m := read3MF(t, one(t, model("", tetra3mf(1, ""), `<item objectid="1"/><item objectid="1" transform="-1 0 0 0 1 0 0 0 1 0 0 0"/>`)))
	if len(m.Mesh.V) != 8 || !boundless(m.Mesh.F) {
		t.Errorf("touching bodies: %d vertices, closed %v", len(m.Mesh.V), boundless(m.Mesh.F))
	}
	loose := `<object id="1"><mesh><vertices>`
	var ts string
	for i, f := range tetra {
		for _, v := range f {
			loose += fmt.Sprintf(`<vertex x="%g" y="%g" z="%g"/>`, v[0], v[1], v[2])
		}
		ts += fmt.Sprintf(`<triangle v1="%d" v2="%d" v3="%d"/>`, 3*i, 3*i+1, 3*i+2)
	}
	m = read3MF(t, one(t, model("", loose+`</vertices><triangles>`+ts+`</triangles></mesh></object>`, `<item objectid="1"/>`)))
	if len(m.Mesh.V) != 4 || !boundless(m.Mesh.F) {
		t.Errorf("loose corners: %d vertices, closed %v", len(m.Mesh.V), boundless(m.Mesh.F))
	}
}

// 3MF core 1.4, chapter 5 and 4.1.4.1.
func TestColours3MF(t *testing.T) {
	base := `<basematerials id="1"><base name="Blue" displaycolor="#0000FF"/><base name="Clear" displaycolor="#FFFFFF80"/><base name="unused" displaycolor="#000000"/></basematerials>`
	blue, clear := ColourPart{"Blue", color.NRGBA{0, 0, 255, 255}}, ColourPart{"Clear", color.NRGBA{255, 255, 255, 128}}
	painted := `<object id="5" pid="1" pindex="0"><mesh>` + corners3mf + `<triangles><triangle v1="0" v2="2" v3="1"/><triangle v1="0" v2="1" v3="3" p1="1"/><triangle v1="0" v2="3" v3="2" pid="1" p1="1" p2="1" p3="1"/><triangle v1="1" v2="2" v3="3"/></triangles></mesh></object>`
	for _, c := range []struct {
		name, resources, build string
		parts                  []ColourPart
		tint                   []uint8
	}{
		{"none", tetra3mf(2, ""), `<item objectid="2"/>`, nil, nil},
		{"one for all", base + tetra3mf(2, `pid="1" pindex="1"`), `<item objectid="2"/>`, []ColourPart{clear}, nil},
		{"two objects", base + tetra3mf(2, `pid="1" pindex="1"`) + tetra3mf(3, `pid="1" pindex="0"`), `<item objectid="2"/><item objectid="3"/>`, []ColourPart{clear, blue}, []uint8{0, 0, 0, 0, 1, 1, 1, 1}},
		{"by triangle", base + painted, `<item objectid="5"/>`, []ColourPart{blue, clear}, []uint8{0, 1, 1, 0}},
		{"by triangle, the first too", base + strings.Replace(painted, `v3="1"/>`, `v3="1" p1="1"/>`, 1), `<item objectid="5"/>`, []ColourPart{clear, blue}, []uint8{0, 0, 0, 1}},
		{"by triangle, the object with none", base + strings.Replace(painted, `pid="1" pindex="0"`, ``, 1), `<item objectid="5"/>`, []ColourPart{{Name: "no material given"}, clear}, []uint8{0, 0, 1, 0}},
		{"one object without", base + tetra3mf(2, "") + tetra3mf(3, `pid="1" pindex="0"`), `<item objectid="2"/><item objectid="3"/>`, []ColourPart{{Name: "no material given"}, blue}, []uint8{0, 0, 0, 0, 1, 1, 1, 1}},
		{"defined after use", tetra3mf(2, `pid="1" pindex="1"`) + base, `<item objectid="2"/>`, []ColourPart{clear}, nil},
		{"a colour group", `<m:colorgroup xmlns:m="` + nsMaterial + `" id="9"><m:color color="#12AB34"/></m:colorgroup>` + tetra3mf(2, `pid="9" pindex="0"`), `<item objectid="2"/>`, []ColourPart{{"#12AB34", color.NRGBA{0x12, 0xAB, 0x34, 255}}}, nil},
	} {
		m := read3MF(t, one(t, model("", c.resources, c.build)))
		if !slices.Equal(m.ColourParts, c.parts) || !slices.Equal(m.Mesh.Colour, c.tint) {
			t.Errorf("%s: %v %v, want %v %v", c.name, m.ColourParts, m.Mesh.Colour, c.parts, c.tint)
		}
		if len(m.Warnings) != 0 {
			t.Errorf("%s: %q", c.name, m.Warnings)
		}
	}
}

// What the file says besides its mesh is read over, and said where it matters.
func TestAround3MF(t *testing.T) {
	plain := tetra3mf(1, "")
	item := `<item objectid="1"/>`
	for _, c := range []struct {
		name    string
		data    []byte
		facets  int
		title   string
		warning string
	}{
		{"title", one(t, strings.Replace(model("", plain, item), "<resources>", `<metadata name="Title">Key &amp; <!-- x -->ring</metadata><metadata name="Designer">nobody</metadata><resources>`, 1)), 4, "Key & ring", ""},
		{"object's name", one(t, model("", tetra3mf(1, `name="  lid  "`), item)), 4, "lid", ""},
		{"core under a prefix", one(t, strings.NewReplacer("</", "</c:", "<?", "<?", "<", "<c:", "xmlns=", "xmlns:c=").Replace(model("", plain, item))), 4, "", ""},
		{"comments and blanks", one(t, strings.NewReplacer("/>", " />\n<!-- a --> ", `" `, `"  `).Replace(model("", plain, item))), 4, "", ""},
		{"single quotes and entities", one(t, strings.NewReplacer(`"`, `'`, "'10'", "'&#49;0'").Replace(model("", plain, item))), 4, "", ""},
		{"separate end tags", one(t, strings.NewReplacer(`0"/>`, `0"></vertex>`, `v3="1"/>`, `v3="1"></triangle>`).Replace(model("", plain, item))), 4, "", ""},
		{"byte order mark", one(t, "\xEF\xBB\xBF"+model("", plain, item)), 4, "", ""},
		{"not to be printed", one(t, model("", plain, `<item objectid="1" printable="0"/>`)), 4, "", "not to print"},
		{"nothing to build", one(t, model("", plain, ``)), 4, "", "nothing to build"},
		{"support left out", one(t, model("", plain+tetra3mf(2, `type="support"`)+tetra3mf(3, `type="solidsupport"`)+`<object id="4"><components><component objectid="1"/><component objectid="2"/><component objectid="3"/></components></object>`, `<item objectid="4"/>`)), 4, "", "Supports"},
		{"other left out", one(t, model("", plain+tetra3mf(2, `type="other"`), item+`<item objectid="2"/>`)), 4, "", "not part of the model"},
		{"surface kept", one(t, model("", tetra3mf(1, `type="surface"`), item)), 4, "", "a surface, not a solid"},
		{"type of components ignored", one(t, model("", plain+`<object id="4" type="support"><components><component objectid="1"/></components></object>`, `<item objectid="4"/>`)), 4, "", ""},
		{"unknown element in core", one(t, model("", `<gadget a="1"><deep/></gadget>`+plain, item+`<thing/>`)), 4, "", ""},
		{"extension needed", one(t, model(`xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02" requiredextensions="b"`, plain, item)), 4, "", "cannot be made rightly without beam lattices"},
		{"extension needed, unknown", one(t, model(`xmlns:q="urn:q" requiredextensions="q"`, plain, item)), 4, "", "an extension we do not know (q)"},
		{"extension in a mesh", one(t, model(`xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02"`, strings.Replace(plain, "</triangles>", "</triangles><b:beamlattice><b:beams><b:beam/></b:beams></b:beamlattice>", 1), item)), 4, "", "uses beam lattices"},
		{"marks on triangles", one(t, model("", strings.ReplaceAll(plain, `v1="0"`, `v1="0" marks="8C"`), item)), 4, "", "another program (marks)"},
		{"colours that fade", one(t, model("", `<basematerials id="7"><base name="a" displaycolor="#111111"/><base name="b" displaycolor="#222222"/></basematerials>`+strings.Replace(tetra3mf(1, `pid="7" pindex="0"`), `v3="1"/>`, `v3="1" p1="0" p2="1" p3="0"/>`, 1), item)), 4, "", "fade"},
		{"a corner twice", one(t, model("", strings.Replace(plain, `<triangles>`, `<triangles><triangle v1="1" v2="1" v3="0"/>`, 1), item)), 5, "", "same corner twice"},
		{"flattened", one(t, model("", plain, `<item objectid="1"/><item objectid="1" transform="1 0 0 0 1 0 0 0 0 0 0 0"/>`)), 8, "", "becomes flat"},
		{"relative target, other case, dots", pack(t, "_rels/.rels", rels("x/../3d/A%20b.MODEL"), "3D/a b.model", model("", plain, item)), 4, "", ""},
		{"backslashes", pack(t, `_rels\.rels`, rels("/3D/a.model"), `3D\a.model`, model("", plain, item)), 4, "", ""},
		{"path tricks", pack(t, "_rels/.rels", rels("/../../../3D/a.model"), "../../3D/a.model", model("", plain, item)), 4, "", ""},
		{"no relationships, one model", pack(t, "3D/a.model", model("", plain, item)), 4, "", "does not say which part"},
		{"two parts", pack(t, "_rels/.rels", rels("/3D/a.model"),
			"3D/a.model", model(`unit="centimeter" xmlns:p="`+nsProduce+`" requiredextensions="p"`, `<object id="2"><components><component objectid="1" p:path="/3D/Objects/b.model" transform="1 0 0 0 1 0 0 0 1 1 0 0"/></components></object>`, `<item objectid="2"/><item objectid="1" p:path="/3D/Objects/b.model"/>`),
			"3D/Objects/b.model", model("", plain, "")), 8, "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			m := read3MF(t, c.data)
			if m.Facets != c.facets || m.Name != c.title {
				t.Errorf("%d facets of %q, want %d of %q", m.Facets, m.Name, c.facets, c.title)
			}
			if c.name != "flattened" {
				want := tetraVolume * float64(c.facets/4)
				if v := signedVolume(m.Mesh); math.Abs(v-want) > 1e-9 {
					t.Errorf("volume %v, want %v", v, want)
				}
			}
			all := strings.Join(say.Strings(m.Warnings), " ")
			if c.warning == "" && all != "" || !strings.Contains(all, c.warning) {
				t.Errorf("warnings %q, want %q", m.Warnings, c.warning)
			}
		})
	}
}

// laughs makes n levels of objects, each of ten of the one below: 10^n copies.
func laughs(n int, innermost string) string {
	s := innermost
	for i := 2; i <= n+1; i++ {
		s += fmt.Sprintf(`<object id="%d"><components>%s</components></object>`, i, strings.Repeat(fmt.Sprintf(`<component objectid="%d"/>`, i-1), 10))
	}
	return s
}

func chain(n int) string {
	s := tetra3mf(1, "")
	for i := 2; i <= n; i++ {
		s += fmt.Sprintf(`<object id="%d"><components><component objectid="%d"/></components></object>`, i, i-1)
	}
	return s
}

func TestRefused3MF(t *testing.T) {
	plain, item := tetra3mf(1, ""), `<item objectid="1"/>`
	good := one(t, model("", plain, item))
	locked := slices.Clone(good)
	for _, sig := range []struct {
		mark string
		at   int
	}{{"PK\x03\x04", 6}, {"PK\x01\x02", 8}} {
		for i := 0; i+4 < len(locked); i++ {
			if string(locked[i:i+4]) == sig.mark {
				locked[i+sig.at] |= 1
			}
		}
	}
	// A wrong checksum of the model part, in the list of contents (ZIP APPNOTE 4.3.12: CRC at 16).
	damaged := slices.Clone(good)
	at := bytes.LastIndex(damaged, []byte("PK\x01\x02"))
	binary.LittleEndian.PutUint32(damaged[at+16:], 12345)
	for _, c := range []struct {
		name string
		data []byte
		says string
	}{
		{"index out of range", one(t, model("", strings.Replace(plain, `v3="3"`, `v3="4"`, 1), item)), "triangle 2 of object 1 uses vertex 4"},
		{"index negative", one(t, model("", strings.Replace(plain, `v3="3"`, `v3="-1"`, 1), item)), `triangle 2 of object 1 says "-1"`},
		{"index too large for any", one(t, model("", strings.Replace(plain, `v3="3"`, `v3="4294967296"`, 1), item)), "triangle 2 of object 1"},
		{"corner missing", one(t, model("", strings.Replace(plain, `v3="3"`, ``, 1), item)), "lacks one of its corners"},
		{"coordinate missing", one(t, model("", strings.Replace(plain, `y="10"`, ``, 1), item)), "vertex 2 of object 1 lacks"},
		{"no number", one(t, model("", strings.Replace(plain, `y="10"`, `y="1,0"`, 1), item)), `"1,0"`},
		{"NaN", one(t, model("", strings.Replace(plain, `y="10"`, `y="NaN"`, 1), item)), `"NaN"`},
		{"far away", one(t, model("", strings.Replace(plain, `y="10"`, `y="1e12"`, 1), item)), "too far away"},
		{"transform of 11", one(t, model("", plain, `<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0"/>`)), "11 numbers where it needs 12"},
		{"transform infinite", one(t, model("", plain, `<item objectid="1" transform="1 0 0 0 1 0 0 0 1 0 0 inf"/>`)), `"inf"`},
		{"item of nothing", one(t, model("", plain, `<item objectid="7"/>`)), "object 7, which is not in it"},
		{"component of nothing", one(t, model("", plain+`<object id="2"><components><component objectid="9"/></components></object>`, `<item objectid="2"/>`)), "object 2 is made of object 9"},
		{"made of itself", one(t, model("", `<object id="1"><components><component objectid="2"/></components></object><object id="2"><components><component objectid="1"/></components></object>`, item)), "made of itself"},
		{"two objects of a number", one(t, model("", plain+plain, item)), "number 1 for two objects"},
		{"unknown unit", one(t, model(`unit="cubit"`, plain, item)), `"cubit"`},
		{"no facets", one(t, model("", `<object id="1"><mesh>`+corners3mf+`<triangles></triangles></mesh></object>`, item)), "no facets"},
		{"billion copies", one(t, model("", laughs(9, plain), `<item objectid="10"/>`)), "with all its copies"},
		{"billion copies of nothing", one(t, model("", laughs(9, `<object id="1"/>`), `<item objectid="10"/>`)), "more than the 100000 objects"},
		{"too deep a chain", one(t, model("", chain(80), `<item objectid="80"/>`)), "64 deep"},
		{"DTD", one(t, strings.Replace(model("", plain, item), "<model", `<!DOCTYPE x [<!ENTITY a "aaaa">]><model`, 1)), "document type definition"},
		{"unknown entity", one(t, strings.Replace(model("", plain, item), `x="10"`, `x="&a;"`, 1)), "not proper XML"},
		{"deep elements", one(t, model("", strings.Repeat("<a>", 1000)+strings.Repeat("</a>", 1000)+plain, item)), "nested deeper"},
		{"cut XML", one(t, model("", plain, item)[:400]), "not proper XML"},
		{"other XML", one(t, "<svg/>"), "does not begin with a model"},
		{"Latin-1 XML", one(t, strings.Replace(model("", plain, item), "UTF-8", "ISO-8859-1", 1)), "not in UTF-8"},
		{"an endless name", one(t, model(`a="`+strings.Repeat("a", 6<<20)+`"`, plain, item)), "longer than any model needs"},
		{"target missing", pack(t, "_rels/.rels", rels("/3D/a.model")), `"3d/a.model" it refers to is not in it`},
		{"part twice", pack(t, "_rels/.rels", rels("/3D/a.model"), "3D/a.model", model("", plain, item), "3d/A.model", model("", plain, item)), "twice"},
		{"no relationships, two models", pack(t, "3D/a.model", "", "3D/b.model", ""), "no model in it"},
		{"locked", locked, "password"},
		{"damaged", damaged, "damaged"},
		{"cut short", good[:len(good)/2], "cut short or damaged"},
	} {
		t.Run(c.name, func(t *testing.T) {
			m, err := readBytes(c.data, "part.3mf")
			if err == nil {
				t.Fatalf("read: %+v", m)
			}
			checkError(t, err)
			if !strings.Contains(err.Error(), c.says) {
				t.Errorf("%q does not say %q", err, c.says)
			}
		})
	}
}

// A part that unpacks to far more than its size is stopped, whatever the total.
func TestBombs3MF(t *testing.T) {
	head := model("", "", "")
	head = head[:strings.Index(head, "</resources>")]
	blanks := one(t, head+strings.Repeat("<a>"+strings.Repeat(" ", 64<<10)+"</a>", 200)+"</resources></model>")
	for _, c := range []struct {
		lim  Limits
		says string
	}{
		{Limits{}, "more than 400 times its size"},
		{Limits{Expanded: 1 << 20}, "unpacks to more than the 1 megabytes"},
		{Limits{Entries: 1}, "2 entries are more than the 1"},
	} {
		_, err := Read(bytes.NewReader(blanks), int64(len(blanks)), "b.3mf", c.lim)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%v does not say %q", err, c.says)
			continue
		}
		checkError(t, err)
	}
	data := one(t, model("", tetra3mf(1, ""), `<item objectid="1"/><item objectid="1"/>`))
	for _, c := range []struct {
		lim  Limits
		says string
	}{
		{Limits{Facets: 3}, "3 facets"}, {Limits{Facets: 7}, "7 facets"}, {Limits{Vertices: 3}, "3 vertices"},
		{Limits{Vertices: 7}, "7 vertices"}, {Limits{Instances: 1}, "1 objects"}, {Limits{Depth: 3}, "nested deeper"},
	} {
		_, err := Read(bytes.NewReader(data), int64(len(data)), "b.3mf", c.lim)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%+v: %v does not say %q", c.lim, err, c.says)
		}
	}
}

// Debian assimp-testmodels' box: 10 by 20 by 30.
func TestBox3MF(t *testing.T) {
	m := mustRead(t, oracle.File(t, "/usr/share/assimp/models/3MF/box.3mf"))
	if v := signedVolume(m.Mesh); v != 6000 || len(m.Mesh.V) != 8 || m.Facets != 12 || m.Unit != Millimetre {
		t.Errorf("volume %v of %d vertices and %d facets in %s", v, len(m.Mesh.V), m.Facets, m.Unit)
	}
}

// The quick path and the XML decoder must come to the same.
func TestQuickPathAgrees(t *testing.T) {
	fast := sphere3MF(t, 20)
	r, err := zip.NewReader(bytes.NewReader(fast), int64(len(fast)))
	if err != nil {
		t.Fatal(err)
	}
	f, err := r.Open("3D/ball.model")
	if err != nil {
		t.Fatal(err)
	}
	var text bytes.Buffer
	if _, err := text.ReadFrom(f); err != nil {
		t.Fatal(err)
	}
	slow := one(t, strings.ReplaceAll(text.String(), `="`, ` = "`))
	a, b := read3MF(t, fast), read3MF(t, slow)
	if !slices.Equal(a.Mesh.V, b.Mesh.V) || !slices.Equal(a.Mesh.F, b.Mesh.F) || len(a.Mesh.F) < 1000 {
		t.Errorf("%d and %d facets, %d and %d vertices", a.Facets, b.Facets, len(a.Mesh.V), len(b.Mesh.V))
	}
}
