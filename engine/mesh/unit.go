package mesh

import (
	"fmt"
	"strings"

	"platebook/engine/say"
)

// Unit is a unit of length a file's numbers may be in. The zero Unit is none.
type Unit string

const (
	Millimetre Unit = "mm"
	Inch       Unit = "inch"
	Centimetre Unit = "cm"
	Metre      Unit = "m"
	Micron     Unit = "micron"
	Foot       Unit = "foot"
)

// MM returns how many millimetres the unit is, 0 for none or an unknown one.
func (u Unit) MM() float64 {
	switch u {
	case Millimetre:
		return 1
	case Inch:
		return 25.4
	case Centimetre:
		return 10
	case Metre:
		return 1000
	case Micron:
		return 0.001
	case Foot:
		return 304.8
	}
	return 0
}

// words names the unit in a sentence.
func (u Unit) words() say.Saying {
	switch u {
	case Millimetre:
		return say.Of("millimetres")
	case Inch:
		return say.Of("inches")
	case Centimetre:
		return say.Of("centimetres")
	case Metre:
		return say.Of("metres")
	case Micron:
		return say.Of("microns")
	case Foot:
		return say.Of("feet")
	}
	return say.Of("an unknown unit")
}

// ParseUnit reads a unit as people and files write it.
func ParseUnit(s string) (Unit, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "mm", "millimetre", "millimetres", "millimeter", "millimeters":
		return Millimetre, nil
	case "in", "inch", "inches", `"`:
		return Inch, nil
	case "cm", "centimetre", "centimetres", "centimeter", "centimeters":
		return Centimetre, nil
	case "m", "metre", "metres", "meter", "meters":
		return Metre, nil
	case "um", "µm", "μm", "micron", "microns", "micrometre", "micrometer":
		return Micron, nil
	case "ft", "foot", "feet":
		return Foot, nil
	}
	return "", fmt.Errorf("%q is no unit we know: give mm, cm, m, inch, foot or micron", s)
}

// The sizes judging goes by, mm along the largest side of the model (CUSTOM:
// what desk printers of 150 to 400 mm are asked for).
const (
	usualLeast = 10.0   // fewer are prints smaller than this
	usualMost  = 400.0  // no printer of a desk is larger
	leastMM    = 2.0    // smaller than this nothing useful can be printed
	mostMM     = 1000.0 // larger than this nothing is drawn for one print
	tinyMM     = 1.0    // below this millimetres are not believed at all
)

// judgeUnit finds the unit of a file that names none from the largest side of
// its model in the file's own numbers.
//
// Millimetres are what nearly all such files are in, so they stand unless that
// makes a model of less than tinyMM. Then the first of metres, inches and
// centimetres that gives a usual size is taken. It is doubtful when
// millimetres give no usual size and not exactly one reading gives a printable one.
func judgeUnit(f Format, largest float64) (unit Unit, reason say.Saying, doubtful bool) {
	usual := func(u Unit) bool { mm := largest * u.MM(); return mm >= usualLeast && mm <= usualMost }
	printable := func(u Unit) bool { mm := largest * u.MM(); return mm >= leastMM && mm <= mostMM }

	unit = Millimetre
	if largest < tinyMM {
		for _, u := range []Unit{Metre, Inch, Centimetre} {
			if usual(u) {
				unit = u
				break
			}
		}
		if unit == Millimetre && printable(Metre) {
			unit = Metre
		}
	}
	// Only what people draw in is offered: nobody draws a thing to print in
	// microns. Feet are offered too but raise no doubt by themselves, being for houses.
	readings := 0
	var others []say.Saying
	for _, u := range []Unit{Millimetre, Inch, Centimetre, Metre, Foot} {
		if !printable(u) {
			continue
		}
		readings += b2i(u != Foot)
		if u != unit {
			others = append(others, say.Of("%s if drawn in %s", mm(largest*u.MM()), u.words()))
		}
	}
	doubtful = !usual(Millimetre) && (readings != 1 || !printable(unit))

	judged := say.Of("%s files name no unit; the largest side is %s, taken as %s", f.short(), figure(largest), unit.words())
	if unit != Millimetre {
		judged = say.Of("%s files name no unit; the largest side is %s, taken as %s (%s) because %s would be too small to print",
			f.short(), figure(largest), unit.words(), mm(largest*unit.MM()), mm(largest))
	}
	var advice say.Saying
	switch {
	case len(others) > 0:
		judged = say.Of("%s; it would be %s", judged, say.Join(" or ", others...))
		advice = say.Of("If one of these is right, choose that unit for the file.")
	case doubtful:
		judged = say.Of("%s; no unit gives it a printable size", judged)
		advice = say.Of("Once its true size is known, choose that size.")
	}
	if !doubtful {
		advice = say.Saying{}
	}
	return unit, say.Join(" ", say.End(judged), advice), doubtful
}

// short is the format without its dialect.
func (f Format) short() string {
	if f == BinarySTL || f == ASCIISTL {
		return "STL"
	}
	return string(f)
}
