package web

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"platebook/desk"
	"platebook/engine/mesh"
)

// planForm settles what is to be printed.
type planForm struct {
	Printer, Way, Support, OneColour Field
	Materials                        []Field
	Parts                            []partForm
}

// partForm is one file of the plan.
type partForm struct {
	File                            string
	Sent                            string // its size
	Role, Size, Value, Unit, Copies Field
	Turn                            Field
}

// How a size is said.
const (
	sizeAsSent  = "as-sent"
	sizeLongest = "longest"
	sizeScale   = "scale"
	sizeAxes    = "axes"
	sizeLargest = "largest"
)

func planOf(l desk.RequestView) *planForm {
	p := l.Plan
	f := &planForm{
		Printer:   Field{Name: "plan-printer", Label: "Printer model", Value: p.Printer, Type: "select"},
		Way:       Field{Name: "plan-way", Label: "Way to begin with", Value: p.Way, Type: "select"},
		Support:   Field{Name: "plan-support", Label: "Material for supports", Value: p.Support, Type: "select", Choices: []Choice{{Value: "", Label: "The same: broken away"}}},
		OneColour: Field{Name: "plan-one-colour", Label: "All colour parts in the first material"},
	}
	if p.OneColour {
		f.OneColour.Value = "yes"
	}
	for _, x := range l.Profiles.Printers {
		f.Printer.Choices = append(f.Printer.Choices, Choice{Value: x.ID, Label: fmt.Sprintf("%s, %s", x.Name, size(x.Volume))})
	}
	for _, x := range l.Profiles.Ways {
		f.Way.Choices = append(f.Way.Choices, Choice{Value: x.ID, Label: fmt.Sprintf("%s: layers of %s mm, %.0f %% full", x.Name, number(x.LayerHeight), x.Infill)})
	}
	var materials []Choice
	for _, x := range l.Profiles.Materials {
		c := Choice{Value: x.ID, Label: x.Name + stock(l.Spools, x.ID)}
		if x.Soluble {
			f.Support.Choices = append(f.Support.Choices, c)
		} else {
			materials = append(materials, c)
		}
	}
	for i := range tellApart(l) {
		m := Field{Name: fmt.Sprintf("plan-material-%d", i), Label: "Material", Type: "select", Choices: materials}
		if i > 0 {
			m.Label = fmt.Sprintf("Material of colour part %d", i+1)
		}
		if n := len(p.Materials); n > 0 {
			m.Value = p.Materials[min(i, n-1)]
		}
		f.Materials = append(f.Materials, m)
	}
	for i, file := range models(l) {
		f.Parts = append(f.Parts, planPart(l, p, i, file))
	}
	return f
}

// models are the files a model was found in.
func models(l desk.RequestView) []desk.File {
	return slices.DeleteFunc(slices.Clone(l.Files), func(f desk.File) bool {
		return f.Check != desk.Done || f.Result == nil || f.Result.Answer.Format == ""
	})
}

// tellApart is how many materials the form asks for: as many as one print may
// tell apart, at least one and at most four.
func tellApart(l desk.RequestView) int {
	most := 1
	for _, f := range models(l) {
		most = max(most, len(f.Result.Answer.ColourParts))
	}
	for _, p := range l.Plan.Parts {
		most = max(most, 1+len(p.Colours))
	}
	if tools := 2; len(models(l)) > 1 {
		most = max(most, tools) // files could be made colour parts of one print
	}
	return min(most, 4)
}

func stock(spools []desk.Spool, material string) string {
	var all []string
	for _, s := range spools {
		if s.Material == material && s.Grams > 0 && !s.Retired {
			all = append(all, s.Colour+" "+grams(s.Grams))
		}
	}
	if len(all) == 0 {
		return " (none here)"
	}
	if len(all) > 4 {
		all = append(all[:4], "…")
	}
	return " (" + strings.Join(all, ", ") + ")"
}

// planPart is a file's part of the form, as the plan has it.
func planPart(l desk.RequestView, p desk.Plan, i int, file desk.File) partForm {
	at := func(what string) string { return fmt.Sprintf("plan-%s-%d", what, i) }
	f := partForm{File: file.Name, Sent: size(file.Result.Answer.SizeMM),
		Role: Field{Name: at("role"), Label: "Print", Type: "select", Value: "skip", Choices: []Choice{{Value: "print", Label: "Print it"}, {Value: "skip", Label: "Leave it out"}}},
		Size: Field{Name: at("size"), Label: "Size", Type: "select", Value: sizeAsSent, Choices: []Choice{{Value: sizeAsSent, Label: "As sent"},
			{Value: sizeLongest, Label: "Longest side, mm"}, {Value: sizeScale, Label: "Scale"}, {Value: sizeAxes, Label: "Within x × y × z, mm"}, {Value: sizeLargest, Label: "As large as it goes"}}},
		Value:  Field{Name: at("value"), Label: "Length or scale", Optional: true, Auto: "off"},
		Unit:   Field{Name: at("unit"), Label: "Unit of the file", Type: "select", Choices: []Choice{{Value: "", Label: "As judged: " + or(file.Result.Answer.Unit, "mm")}}},
		Copies: Field{Name: at("copies"), Label: "Copies", Value: "1", Mode: "numeric", Width: "short", Auto: "off"},
		Turn:   Field{Name: at("turn"), Label: "Turn it to the pose that prints best", Value: "yes"},
	}
	for _, u := range desk.Units() {
		f.Unit.Choices = append(f.Unit.Choices, Choice{Value: u, Label: u})
	}
	for j, other := range models(l) {
		if j != i {
			f.Role.Choices = append(f.Role.Choices, Choice{Value: "with-" + itoa(j), Label: "Colour part of " + other.Name})
		}
	}
	for _, q := range p.Parts {
		if slices.Contains(q.Colours, file.ID) {
			for j, other := range models(l) {
				if other.ID == q.File {
					f.Role.Value = "with-" + itoa(j)
				}
			}
		}
		if q.File != file.ID {
			continue
		}
		f.Role.Value, f.Unit.Value, f.Copies.Value = "print", q.Unit, itoa(max(q.Copies, 1))
		if q.AsSent {
			f.Turn.Value = ""
		}
		switch {
		case q.Largest:
			f.Size.Value = sizeLargest
		case q.LongestMM > 0:
			f.Size.Value, f.Value.Value = sizeLongest, number(q.LongestMM)
		case q.TargetMM != mesh.Vec{}:
			f.Size.Value, f.Value.Value = sizeAxes, axes(q.TargetMM)
		case q.Scale != 0 && q.Scale != 1:
			f.Size.Value, f.Value.Value = sizeScale, number(q.Scale)
		}
	}
	return f
}

func (f *partForm) fields() []*Field {
	return []*Field{&f.Role, &f.Size, &f.Value, &f.Unit, &f.Copies, &f.Turn}
}

func (f *planForm) fields() []*Field {
	all := []*Field{&f.Printer, &f.Way}
	for i := range f.Materials {
		all = append(all, &f.Materials[i])
	}
	all = append(all, &f.Support, &f.OneColour)
	for i := range f.Parts {
		all = append(all, f.Parts[i].fields()...)
	}
	return all
}

// number writes a number as a form takes it.
func number(v float64) string { return strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64) }

func axes(v mesh.Vec) string {
	var all []string
	for _, x := range v {
		if x > 0 {
			all = append(all, number(x))
		} else {
			all = append(all, "-")
		}
	}
	return strings.Join(all, " × ")
}

var numberForm = regexp.MustCompile(`^[0-9]{1,7}(?:[.,][0-9]{1,6})?$`)

// parseNumber reads a number as people write it, with a point or a comma; what
// is none is NaN, which no check lets through.
func parseNumber(s string) float64 {
	s = strings.TrimSpace(s)
	if !numberForm.MatchString(s) {
		return math.NaN()
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil {
		return math.NaN()
	}
	return v
}

// readPlan reads the form. placeOf says at which field of the form what the
// desk says of a field of the plan belongs.
func readPlan(l desk.RequestView, text func(string) string) (p desk.Plan, placeOf func(string) string) {
	p = desk.Plan{Printer: text("plan-printer"), Way: text("plan-way"), Support: text("plan-support"), OneColour: text("plan-one-colour") != ""}
	for i := range tellApart(l) {
		if m := text(fmt.Sprintf("plan-material-%d", i)); m != "" {
			p.Materials = append(p.Materials, m)
		}
	}
	files := models(l)
	var of []int // index of the file of each part
	for i, f := range files {
		at := func(what string) string { return text(fmt.Sprintf("plan-%s-%d", what, i)) }
		if at("role") != "print" {
			continue
		}
		q := desk.PartPlan{File: f.ID, Unit: at("unit"), AsSent: at("turn") == "", Copies: readCount(at("copies"))}
		readSize(&q, at("size"), at("value"))
		p.Parts, of = append(p.Parts, q), append(of, i)
	}
	for i, f := range files {
		with, ok := strings.CutPrefix(text(fmt.Sprintf("plan-role-%d", i)), "with-")
		if !ok {
			continue
		}
		for k := range of {
			if itoa(of[k]) == with {
				p.Parts[k].Colours = append(p.Parts[k].Colours, f.ID)
				ok = false
			}
		}
		if ok { // of a file that is not printed: let the desk say so
			p.Parts, of = append(p.Parts, desk.PartPlan{Copies: 1}), append(of, i)
		}
	}
	return p, func(field string) string {
		switch field {
		case "materials":
			return "plan-material-0"
		case "parts":
			return "plan-role-0"
		}
		n, what, ok := strings.Cut(field, ".")
		k, err := strconv.Atoi(n)
		if !ok || err != nil || k < 0 || k >= len(of) {
			return "plan-" + field
		}
		switch what {
		case "file", "colours":
			what = "role"
		case "size":
			what = "value"
		}
		return fmt.Sprintf("plan-%s-%d", what, of[k])
	}
}

// readCount reads a whole number; what is none is -1, which no check lets through.
func readCount(s string) int {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil {
		return -1
	}
	return n
}

func readSize(q *desk.PartPlan, kind, value string) {
	value = strings.TrimSpace(value)
	switch kind {
	case sizeLargest:
		q.Largest = true
	case sizeLongest:
		q.LongestMM = orNaN(parseNumber(strings.TrimSuffix(value, "mm")))
	case sizeScale:
		if per, ok := strings.CutSuffix(value, "%"); ok {
			q.Scale = orNaN(parseNumber(per) / 100)
		} else {
			q.Scale = orNaN(parseNumber(value))
		}
	case sizeAxes:
		parts := strings.FieldsFunc(strings.TrimSuffix(value, "mm"), func(c rune) bool { return c == '×' || c == 'x' || c == 'X' || c == '*' })
		if len(parts) != 3 {
			q.TargetMM = mesh.Vec{math.NaN(), 0, 0}
			return
		}
		for i, s := range parts {
			if s = strings.TrimSpace(s); s != "-" && s != "–" {
				q.TargetMM[i] = orNaN(parseNumber(s))
			}
		}
	}
}

// orNaN keeps a nought from meaning that nothing was said.
func orNaN(v float64) float64 {
	if v == 0 {
		return math.NaN()
	}
	return v
}
