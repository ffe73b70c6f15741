package mesh

import (
	"bytes"
	"fmt"
	"strings"
	"testing"
)

// What a largest side of so many units is taken for (CUSTOM: sizes desk printers
// are asked for; the millimetres in words are COMPUTED).
func TestJudgeUnit(t *testing.T) {
	for _, c := range []struct {
		largest  float64
		unit     Unit
		doubtful bool
		says     string
	}{
		{0, Millimetre, true, "no unit gives it a printable size"},
		{0.0005, Millimetre, true, "no unit"},
		{0.005, Metre, false, "(5 mm)"},
		{0.05, Metre, false, "taken as metres (50 mm) because 0.05 mm would be too small to print"},
		{0.155, Metre, true, "(155 mm) because 0.155 mm would be too small to print; it would be 3.94 mm if drawn in inches"},
		{0.5, Inch, true, "(12.7 mm)"},
		{1, Millimetre, true, "25.4 mm if drawn in inches or 10 mm if drawn in centimetres or 1000 mm if drawn in metres"},
		{3, Millimetre, true, "taken as millimetres; it would be 76.2 mm if drawn in inches or 30 mm if drawn in centimetres or 914 mm if drawn in feet. If one of these is right, choose that unit for the file."},
		{9.9, Millimetre, true, "251 mm if drawn in inches"},
		{10, Millimetre, false, "it would be 254 mm if drawn in inches"},
		{80, Millimetre, false, "taken as millimetres; it would be 800 mm if drawn in centimetres"},
		{200, Millimetre, false, "the largest side is 200, taken as millimetres."},
		{700, Millimetre, false, "taken as millimetres."},
		{5000, Millimetre, true, "the largest side is 5000, taken as millimetres; no unit gives it a printable size. Once its true size is known, choose that size."},
		{50000, Millimetre, true, "the largest side is 50\u202f000, taken as millimetres; no unit gives it a printable size. Once its true size is known, choose that size."},
		{5e6, Millimetre, true, "no unit"},
		{6e10, Millimetre, true, "the largest side is 60\u202f000\u202f000\u202f000, taken"},
	} {
		unit, said, doubtful := judgeUnit(BinarySTL, c.largest)
		reason := said.String()
		if strings.Contains(reason, "micron") || doubtful != strings.Contains(reason, ", choose that") {
			t.Errorf("%v: %q", c.largest, reason)
		}
		if unit != c.unit || doubtful != c.doubtful || !strings.Contains(reason, c.says) || !sentence(reason) {
			t.Errorf("%v: %s, doubtful %v, %q; want %s, %v, %q", c.largest, unit, doubtful, reason, c.unit, c.doubtful, c.says)
		}
	}
}

// International units of length (exact since 1959): 1 inch is 25.4 mm, 1 foot 304.8 mm.
func TestUnits(t *testing.T) {
	for s, mm := range map[string]float64{"mm": 1, "Inches": 25.4, `"`: 25.4, "cm": 10, "meter": 1000, " m ": 1000, "µm": 0.001, "micron": 0.001, "ft": 304.8, "foot": 304.8} {
		if u, err := ParseUnit(s); err != nil || u.MM() != mm {
			t.Errorf("%q: %q %v", s, u, err)
		}
	}
	if u, err := ParseUnit("cubit"); err == nil || u.MM() != 0 {
		t.Errorf("a cubit is %v mm", u.MM())
	}
}

// Staff may say the unit of a file that does not.
func TestReadAs(t *testing.T) {
	data := binarySTL("part", 4, tetra, "")
	for _, u := range []Unit{Millimetre, Inch, Centimetre, Metre, Micron, Foot} {
		m, err := ReadAs(bytes.NewReader(data), int64(len(data)), "part.stl", u, Limits{})
		if err != nil {
			t.Fatal(err)
		}
		checkModel(t, m)
		if s := bounds(m.Mesh.V).Size(); m.Unit != u || m.UnitStated || m.UnitDoubtful || s[0] != 10*u.MM() {
			t.Errorf("%s: %v, %+v", u, s, m)
		}
	}
	for _, c := range []struct {
		unit Unit
		says string
	}{{"cubit", "no unit of length"}, {Foot, ""}} {
		far := binarySTL("part", 4, [][3][3]float32{{{1e6, 0, 0}, {1e6, 1, 0}, {1e6, 0, 1}}}, "")[:84+50]
		far[80] = 1
		_, err := ReadAs(bytes.NewReader(far), int64(len(far)), "part.stl", c.unit, Limits{})
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.unit, err)
			continue
		}
		checkError(t, err)
	}
}

// A file is what its content is, whatever its name ends in, and that is said.
func TestNameIsAHint(t *testing.T) {
	files := map[Format][]byte{
		BinarySTL: binarySTL("part", 4, tetra, ""),
		ASCIISTL:  textSTL(),
		OBJ:       []byte(tetraOBJ),
		ThreeMF:   one(t, model("", tetra3mf(1, ""), `<item objectid="1"/>`)),
	}
	for format, data := range files {
		for _, name := range []string{"part.stl", "PART.STL", "part.3mf", "part.obj", "part.txt", "part", "", "part.stl.zip", "..", strings.Repeat("x", 1000)} {
			m, err := readBytes(data, name)
			if err != nil {
				t.Fatalf("%s named %q: %v", format, name, err)
			}
			checkModel(t, m)
			low := strings.ToLower(name)
			other := (strings.HasSuffix(low, ".stl") || strings.HasSuffix(low, ".3mf") || strings.HasSuffix(low, ".obj")) && !strings.HasSuffix(low, format.ending())
			if m.Format != format || other != strings.Contains(fmt.Sprint(m.Warnings), "read as what it is") {
				t.Errorf("%s named %q: %s, %q", format, name, m.Format, m.Warnings)
			}
		}
	}
}
