package findings

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"platebook/engine/mesh"
	"platebook/engine/plan"
	"platebook/engine/printer"
	"platebook/engine/say"
	"platebook/engine/slice"
)

// Facts are what a check knows. Anything nil or zero is not known, and the
// findings that need it are left out.
type Facts struct {
	// Of reading, as in mesh.Model.
	Unit                     string
	UnitReason               say.Saying
	UnitStated, UnitDoubtful bool
	Warnings                 []say.Saying // sentences about what was odd in the file

	// Mesh is the healed part at printed size and pose, standing on z = 0.
	Mesh     *mesh.Mesh
	Measures mesh.Measures
	Found    mesh.Report  // before healing
	Repairs  mesh.Repairs // what healing did, and what it left
	// Placed takes the frame Found and Repairs are in to that of Mesh; the zero
	// Affine says they are the same.
	Placed mesh.Affine

	// Layers are those of the way, of the whole mesh; nil has Find cut a few of
	// its own, as it does for a mesh of several colours, whose parts are cut apart.
	Layers []slice.Layer
	Cut    slice.Report
	Plan   *plan.Plan

	Way       printer.Way
	Printer   printer.Printer
	Materials []printer.Material // those the print uses

	Copies          int
	WantedMaterials int // colour parts to be told apart, and soluble supports
	// Of one print:
	Seconds, LongestSeconds float64
	Grams, SpoolGrams       map[string]float64 // by name of the material
}

// Find returns what will go wrong, what stops the print first, then what to
// ask, then what is worth knowing. The same facts give the same findings on
// every machine and any number of cores.
func Find(f Facts) []Finding {
	l := look{Facts: f}
	l.unit()
	l.warnings()
	l.wants()
	if usable(f.Mesh) {
		l.prepare()
		l.all((*look).solid, (*look).size, (*look).smallParts, (*look).stands, (*look).floats,
			(*look).overhangs, (*look).walls, (*look).sway, (*look).warp, (*look).contours, (*look).colours)
	}
	l.cautions()
	rank := map[Severity]int{Stop: 0, Ask: 1, Note: 2}
	slices.SortStableFunc(l.out, func(a, b Finding) int { return cmp.Compare(rank[a.Severity], rank[b.Severity]) })
	return l.out
}

// Verdict returns the gravest severity among fs, Note if there are none.
func Verdict(fs []Finding) Severity {
	v := Note
	for _, f := range fs {
		switch f.Severity {
		case Stop:
			return Stop
		case Ask:
			v = Ask
		}
	}
	return v
}

// Printable says whether no finding stops the print.
func Printable(fs []Finding) bool { return Verdict(fs) != Stop }

// look is one check in progress.
type look struct {
	Facts
	out []Finding

	box     mesh.Box
	label   []int32 // shell of each facet
	shells  []shell
	next    [][]int32 // shells near each shell
	pieces  []piece
	sampled sampled
	contact *slice.Layer // the first layer, nil when not known
}

// all runs checks that only read, at once, and keeps what they say in order.
func (l *look) all(checks ...func(*look)) {
	said := make([][]Finding, len(checks))
	each(len(checks), func(i int) {
		own := *l
		own.out = nil
		checks[i](&own)
		said[i] = own.out
	})
	l.out = append(l.out, slices.Concat(said...)...)
}

// usable says whether m can be looked at: facets within the vertices, all of
// them finite. Callers give nothing else; a check must not panic on it.
func usable(m *mesh.Mesh) bool {
	if m == nil || len(m.F) == 0 || len(m.F) > math.MaxInt32/3 {
		return false
	}
	n := int32(min(len(m.V), math.MaxInt32))
	for _, f := range m.F {
		for _, v := range f {
			if v < 0 || v >= n {
				return false
			}
		}
	}
	for _, p := range m.V {
		// Beyond a kilometre nothing is a part.
		if !(math.Abs(p[0]) < 1e6 && math.Abs(p[1]) < 1e6 && math.Abs(p[2]) < 1e6) {
			return false
		}
	}
	return true
}

func (l *look) prepare() {
	m := l.Mesh
	l.label, l.shells = shells(m)
	l.box = l.shells[0].box
	for _, s := range l.shells[1:] {
		for k := range 3 {
			l.box.Min[k] = math.Min(l.box.Min[k], s.box.Min[k])
			l.box.Max[k] = math.Max(l.box.Max[k], s.box.Max[k])
		}
	}
	l.next = neighbours(l.shells, l.layer())
	l.pieces = pieces(m, l.label, l.shells, l.next, l.layer())
	if len(m.Colour) == len(m.F) && slices.ContainsFunc(m.Colour, func(c uint8) bool { return c != m.Colour[0] }) {
		l.Layers = nil
	}
	l.sampled = sample(m, l.box, l.Layers, l.first(), slice.UsualGap)
	first := l.Layers
	if first == nil {
		first = l.sampled.layers
	}
	if len(first) > 0 && first[0].Bottom <= hair {
		l.contact = &first[0]
	}
}

// first, layer and bead are the way's, or what is common where it is not known.
func (l *look) first() float64 { return positive(l.Way.FirstLayerHeight, l.layer()) }
func (l *look) layer() float64 { return positive(l.Way.LayerHeight, 0.2) }
func (l *look) bead() float64  { return positive(l.Way.BeadWidth, positive(l.Printer.Nozzle, 0.4)) }

func positive(x, otherwise float64) float64 {
	if x > 1e-3 && x < 100 {
		return x
	}
	return otherwise
}

// say adds a finding. Numbers come in pairs of name and value.
func (l *look) say(id string, s Severity, message say.Saying, places []mesh.Vec, numbers ...any) {
	f := Finding{ID: id, Severity: s, Message: sentence(message.String()), Saying: message}
	for i := 0; i+1 < len(numbers); i += 2 {
		v, _ := numbers[i+1].(float64)
		if n, ok := numbers[i+1].(int); ok {
			v = float64(n)
		}
		if math.IsNaN(v) || math.IsInf(v, 0) {
			continue
		}
		if f.Numbers == nil {
			f.Numbers = map[string]float64{}
		}
		f.Numbers[numbers[i].(string)] = six(v)
	}
	for _, p := range places[:min(len(places), mostPlaces)] {
		f.Places = append(f.Places, mesh.Vec{six(p[0]), six(p[1]), six(p[2])})
	}
	l.out = append(l.out, f)
}

// six rounds to six digits: no more are meant, and processors that differ in
// the last bit of a sine agree.
func six(x float64) float64 {
	y, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64)
	if err != nil {
		return x
	}
	return y + 0 // no negative zero
}

// sentence makes text from elsewhere one line that ends with a full stop.
func sentence(s string) string {
	s = strings.Join(strings.Fields(strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, s)), " ")
	s = strings.TrimRight(s, " ;,:")
	if s == "" || strings.HasSuffix(s, ".") || strings.HasSuffix(s, "!") || strings.HasSuffix(s, "?") {
		return s
	}
	return s + "."
}
