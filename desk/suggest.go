package desk

import (
	"math"
	"strings"

	"platebook/engine/printer"
	"platebook/engine/quote"
)

// Suggest returns the plan a wish amounts to: every model among the files, at
// the size wished for, the library's usual printer and way, and of the spools
// in stock a material in the colour wished for. Staff change it as they see fit.
func Suggest(r Request, files []File, s Settings, spools []Spool) Plan {
	all := catalogueOf(s)
	plan := Plan{Printer: s.Rules.Usual.Printer, Way: s.Rules.Usual.Way}
	model, err := all.Printer(plan.Printer)
	if err != nil {
		if model, err = all.Printer(all.Rules.Printer); err != nil && len(all.Printers) > 0 {
			model = all.Printers[0]
		}
		plan.Printer = model.ID
	}
	if _, err := all.Way(plan.Way); err != nil {
		plan.Way = model.DefaultWay
	}
	usual := s.Rules.Usual.Material
	if _, err := all.Material(usual); err != nil {
		usual = model.DefaultMaterial
	}
	plan.Materials = []string{inColour(r.Wish.Colour, r.Branch, usual, all, s, spools)}

	longest := 0.0
	for _, f := range files {
		if readable(f) {
			longest = max(longest, longestSide(f))
			plan.Parts = append(plan.Parts, PartPlan{File: f.ID, Copies: max(1, r.Wish.Copies)})
		}
	}
	sizeParts(plan.Parts, files, r.Wish, longest)
	for _, f := range files {
		if readable(f) && len(f.Result.Answer.ColourParts) > model.Tools {
			plan.OneColour = true
		}
	}
	return plan
}

// sizeParts brings the wish for a size to the parts. Several files are most
// likely pieces of one thing, so the longest of all is made as long as wished,
// and the others keep their proportion to it.
func sizeParts(parts []PartPlan, files []File, w Wish, longest float64) {
	wanted := w.SizeMM
	if !(wanted > 0) || wanted > maxMM {
		wanted = 0
	}
	for i := range parts {
		switch {
		case len(parts) == 1 && w.Largest:
			parts[i].Largest = true
		case len(parts) == 1 && wanted > 0:
			parts[i].LongestMM = wanted
		case wanted > 0 && longest > 0:
			if scale := wanted / longest; scale >= minScale && scale <= maxScale {
				parts[i].Scale = math.Round(scale*1e4) / 1e4
			}
		}
	}
}

// Sizes a plan may ask for.
const (
	maxMM    = 10_000
	minScale = 0.0001
	maxScale = 10_000
)

// readable says whether a file's check found a model in it.
func readable(f File) bool {
	return f.Check == Done && f.Result != nil && f.Result.Answer.Format != ""
}

func longestSide(f File) float64 {
	v := f.Result.Answer.SizeMM
	m := max(v[0], v[1], v[2])
	if math.IsNaN(m) || math.IsInf(m, 0) {
		return 0
	}
	return m
}

// inColour picks the material of the fullest spool in the colour wished for, of
// the usual material if there is one, else of another the tariff has a price
// for. The branch's own spools come first.
func inColour(colour string, branch ID, usual string, all *quote.Profiles, s Settings, spools []Spool) string {
	colour = strings.ToLower(strings.TrimSpace(colour))
	if colour == "" {
		return usual
	}
	best, rank := usual, -1.0
	for _, sp := range spools {
		m, err := all.Material(sp.Material)
		if sp.Retired || err != nil || m.Soluble || strings.ToLower(strings.TrimSpace(sp.Colour)) != colour || !priced(s, sp.Material) {
			continue
		}
		n := math.Min(math.Max(sp.Grams, 0), 1e6) // below 1e6: the classes above it never mix
		if sp.Grams > s.Rules.Reserve {
			n += 1e7
		}
		if sp.Material == usual {
			n += 1e8
		}
		if sp.Branch == branch {
			n += 1e9
		}
		if n > rank {
			best, rank = sp.Material, n
		}
	}
	return best
}

// priced says whether the tariff has a price for a material.
func priced(s Settings, material string) bool {
	_, ok := s.Tariff.PerGram[material]
	return ok || s.Tariff.PerGramOther != ""
}

// catalogueOf are the printer models, materials and ways of the settings; the
// built-in ones if what is saved cannot be read, which saving prevents.
func catalogueOf(s Settings) *quote.Profiles {
	p, err := Catalogue(s)
	if err != nil {
		return quote.Builtin()
	}
	return p
}

// fits says whether the printer model can hold as many materials as a plan needs.
func fits(p printer.Printer, materials int, support string) bool {
	if support != "" {
		materials++
	}
	return materials <= p.Tools
}
