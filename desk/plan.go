package desk

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"platebook/engine/mesh"
	"platebook/engine/quote"
)

// checkPlan says whether ways can be sought for a plan. Fields of its Fault are
// called printer, materials, support, way and parts, and of the n-th part from
// 0: n.file, n.colours, n.unit, n.size, n.copies.
func checkPlan(p Plan, files []File, s Settings) error {
	wrong := map[string]string{}
	all := catalogueOf(s)
	model, err := all.Printer(p.Printer)
	if err != nil {
		wrong["printer"] = "Choose a printer model from the list."
	}
	if _, err := all.Way(p.Way); err != nil {
		wrong["way"] = "Choose a way from the list."
	}
	if len(p.Materials) == 0 || len(p.Materials) > 16 {
		wrong["materials"] = "Choose a material."
	}
	for _, id := range p.Materials {
		switch m, err := all.Material(id); {
		case err != nil:
			wrong["materials"] = "Choose a material from the list."
		case m.Soluble:
			wrong["materials"] = fmt.Sprintf("%s dissolves in water: it is for supports only.", m.Name)
		case !priced(s, id):
			wrong["materials"] = fmt.Sprintf("The tariff has no price for %s, so it cannot be offered.", m.Name)
		}
	}
	if p.Support != "" {
		switch m, err := all.Material(p.Support); {
		case err != nil || !m.Soluble:
			wrong["support"] = "Choose a material that dissolves, or none."
		case !priced(s, p.Support):
			wrong["support"] = fmt.Sprintf("The tariff has no price for %s, so it cannot be offered.", m.Name)
		case model.ID != "" && !fits(model, 1, p.Support):
			wrong["support"] = fmt.Sprintf("The %s holds one material at a time. Choose another printer, or no material for supports.", model.Name)
		}
	}
	if len(p.Parts) == 0 {
		wrong["parts"] = "Choose at least one file to print."
	} else if s.Rules.MaxFiles > 0 && len(p.Parts) > s.Rules.MaxFiles {
		wrong["parts"] = fmt.Sprintf("A request can have %d files.", s.Rules.MaxFiles)
	}
	checkParts(p.Parts, files, s, wrong)
	if len(wrong) > 0 {
		return &Fault{Kind: Wrong, Say: "This plan cannot be printed as it is. Nothing was changed: see what is wrong beside each line.", Fields: wrong}
	}
	return nil
}

func checkParts(parts []PartPlan, files []File, s Settings, wrong map[string]string) {
	used := map[ID]bool{}
	takes := func(id ID) string {
		i := slices.IndexFunc(files, func(f File) bool { return f.ID == id })
		switch {
		case i < 0:
			return "This file is not of this request."
		case used[id]:
			return fmt.Sprintf("%s is in the plan twice. Ask for copies instead.", files[i].Name)
		case !readable(files[i]):
			return fmt.Sprintf("No model was found in %s, so it cannot be printed.", files[i].Name)
		}
		used[id] = true
		return ""
	}
	for i, p := range parts {
		note := func(field, say string) {
			if say != "" {
				wrong[fmt.Sprintf("%d.%s", i, field)] = say
			}
		}
		note("file", takes(p.File))
		if len(p.Colours) > 15 {
			note("colours", "That is more colours than any printer holds.")
		} else {
			for _, c := range p.Colours {
				note("colours", takes(c))
			}
		}
		note("unit", unitTrouble(p.Unit))
		note("size", sizeTrouble(p))
		switch most := s.Rules.MaxCopies; {
		case p.Copies < 1:
			note("copies", "Print at least one.")
		case most > 0 && p.Copies > most, p.Copies > 1000:
			note("copies", fmt.Sprintf("At most %d copies can be asked for.", min(1000, max(most, 1))))
		}
	}
}

func unitTrouble(unit string) string {
	if unit == "" || slices.Contains(Units(), unit) {
		return ""
	}
	return "Choose a unit from the list."
}

// Units lists what a file's numbers may be in.
func Units() []string {
	var all []string
	for _, u := range []mesh.Unit{mesh.Millimetre, mesh.Centimetre, mesh.Inch, mesh.Metre, mesh.Foot, mesh.Micron} {
		all = append(all, string(u))
	}
	return all
}

func sizeTrouble(p PartPlan) string {
	said := 0
	within := func(v, low, high float64) bool { return v >= low && v <= high } // false for NaN
	if p.Scale != 0 {
		said++
		if !within(p.Scale, minScale, maxScale) {
			return "A scale is a number above 0, such as 0.5 for half the size or 2 for double."
		}
	}
	if p.LongestMM != 0 {
		said++
		if !within(p.LongestMM, 0.1, maxMM) {
			return "Give the longest side in millimetres, between 0.1 and 10 000."
		}
	}
	target := false
	for _, v := range p.TargetMM {
		if v != 0 {
			target = true
			if !within(v, 0.1, maxMM) {
				return "Give sizes in millimetres, between 0.1 and 10 000, and leave free what may come out as it will."
			}
		}
	}
	if target {
		said++
	}
	if p.Largest {
		said++
	}
	if said > 1 {
		return "Say the size in one way only: as sent, a scale, a longest side, sizes along the axes, or as large as it goes."
	}
	return ""
}

// planInWords says a plan in sentences, for the history.
func planInWords(p Plan, files []File, all *quote.Profiles) string {
	name := func(id ID) string {
		if i := slices.IndexFunc(files, func(f File) bool { return f.ID == id }); i >= 0 {
			return files[i].Name
		}
		return "a file"
	}
	var parts []string
	for _, q := range p.Parts {
		say := name(q.File)
		if q.Copies > 1 {
			say = fmt.Sprintf("%d × %s", q.Copies, say)
		}
		switch {
		case q.Largest:
			say += " as large as it goes"
		case q.LongestMM > 0:
			say += fmt.Sprintf(", longest side %s mm", trimNumber(q.LongestMM))
		case q.Scale != 0 && q.Scale != 1:
			say += fmt.Sprintf(" at scale %s", trimNumber(q.Scale))
		case q.TargetMM != mesh.Vec{}:
			var axes []string
			for i, v := range q.TargetMM {
				if v > 0 {
					axes = append(axes, fmt.Sprintf("%c %s mm", "xyz"[i], trimNumber(v)))
				}
			}
			say += ", " + strings.Join(axes, ", ")
		}
		parts = append(parts, say)
	}
	material := strings.Join(p.Materials, ", ")
	if m, err := all.Material(material); err == nil {
		material = m.Name
	}
	printer := p.Printer
	if m, err := all.Printer(p.Printer); err == nil {
		printer = m.Name
	}
	return fmt.Sprintf("%s; %s on the %s.", strings.Join(parts, "; "), material, printer)
}

func trimNumber(v float64) string {
	s := fmt.Sprintf("%.4f", v)
	if math.Abs(v) >= 1 {
		s = fmt.Sprintf("%.2f", v)
	}
	return strings.TrimRight(strings.TrimRight(s, "0"), ".")
}
