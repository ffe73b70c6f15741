package desk_test

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"platebook/desk"
	"platebook/engine/mesh"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// What a plan may not be, and the field that says so.
func TestPlansRefused(t *testing.T) {
	m := newRoom(t, func(r *desk.Rules, tf *tariff.Tariff) { r.MaxFiles, r.MaxCopies = 3, 5; tf.PerGramOther = "" })
	r := m.asked(desk.InReview)
	other := m.asked(desk.InReview)
	sketch := desk.File{ID: desk.NewID(), Request: r.ID, Name: "sketch.png", Hash: "s", Check: desk.NoModel, Sent: m.at}
	m.write(func(tx desk.Tx) error { return tx.SaveFile(&sketch) })
	nan, inf := math.NaN(), math.Inf(1)
	for _, c := range []struct {
		name   string
		change func(*desk.Plan)
		field  string
	}{
		{"no printer", func(p *desk.Plan) { p.Printer = "" }, "printer"},
		{"a printer nobody has", func(p *desk.Plan) { p.Printer = "nope" }, "printer"},
		{"no way", func(p *desk.Plan) { p.Way = "" }, "way"},
		{"no material", func(p *desk.Plan) { p.Materials = nil }, "materials"},
		{"a material that is none", func(p *desk.Plan) { p.Materials = []string{"wood"} }, "materials"},
		{"a material for supports only", func(p *desk.Plan) { p.Materials = []string{pva} }, "materials"},
		{"a material without a price", func(p *desk.Plan) { p.Materials = []string{"petg"} }, "materials"},
		{"supports that do not dissolve", func(p *desk.Plan) { p.Printer, p.Support = "millrace-300-twin", pla }, "support"},
		{"two materials on a printer of one", func(p *desk.Plan) { p.Support = pva }, "support"},
		{"nothing to print", func(p *desk.Plan) { p.Parts = nil }, "parts"},
		{"too many parts", func(p *desk.Plan) { p.Parts = append(p.Parts, p.Parts[0], p.Parts[0], p.Parts[0]) }, "parts"},
		{"a file twice", func(p *desk.Plan) { p.Parts = append(p.Parts, p.Parts[0]) }, "1.file"},
		{"a file as its own colour", func(p *desk.Plan) { p.Parts[0].Colours = []desk.ID{p.Parts[0].File} }, "0.colours"},
		{"another request's file", func(p *desk.Plan) { p.Parts[0].File = m.fileOf(other) }, "0.file"},
		{"a file that is no model", func(p *desk.Plan) { p.Parts[0].File = sketch.ID }, "0.file"},
		{"no file", func(p *desk.Plan) { p.Parts[0].File = "" }, "0.file"},
		{"a unit that is none", func(p *desk.Plan) { p.Parts[0].Unit = "ell" }, "0.unit"},
		{"no copies", func(p *desk.Plan) { p.Parts[0].Copies = 0 }, "0.copies"},
		{"copies below nought", func(p *desk.Plan) { p.Parts[0].Copies = -1 }, "0.copies"},
		{"too many copies", func(p *desk.Plan) { p.Parts[0].Copies = 6 }, "0.copies"},
		{"a length that is no number", func(p *desk.Plan) { p.Parts[0].LongestMM = nan }, "0.size"},
		{"a length without end", func(p *desk.Plan) { p.Parts[0].LongestMM = inf }, "0.size"},
		{"a length below nought", func(p *desk.Plan) { p.Parts[0].LongestMM = -80 }, "0.size"},
		{"a scale that is no number", func(p *desk.Plan) { p.Parts[0].LongestMM, p.Parts[0].Scale = 0, nan }, "0.size"},
		{"a scale beyond sense", func(p *desk.Plan) { p.Parts[0].LongestMM, p.Parts[0].Scale = 0, 1e6 }, "0.size"},
		{"an axis that is no number", func(p *desk.Plan) { p.Parts[0].LongestMM, p.Parts[0].TargetMM = 0, mesh.Vec{0, nan, 0} }, "0.size"},
		{"two sizes at once", func(p *desk.Plan) { p.Parts[0].Scale = 2 }, "0.size"},
		{"a size, and as large as it goes", func(p *desk.Plan) { p.Parts[0].Largest = true }, "0.size"},
	} {
		p := m.planFor(r)
		c.change(&p)
		_, err := m.SetPlan(m.ctx, m.reviewer(), r.ID, 0, p)
		var f *desk.Fault
		if !errors.As(err, &f) || f.Kind != desk.Wrong || f.Fields[c.field] == "" {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	for name, change := range map[string]func(*desk.Plan){
		"as it is":             func(*desk.Plan) {},
		"at a scale":           func(p *desk.Plan) { p.Parts[0].LongestMM, p.Parts[0].Scale = 0, 0.5 },
		"within a box":         func(p *desk.Plan) { p.Parts[0].LongestMM, p.Parts[0].TargetMM = 0, mesh.Vec{80, 0, 20} },
		"as large as it goes":  func(p *desk.Plan) { p.Parts[0].LongestMM, p.Parts[0].Largest = 0, true },
		"in inches":            func(p *desk.Plan) { p.Parts[0].Unit = "inch" },
		"soluble on the twin":  func(p *desk.Plan) { p.Printer, p.Support = "millrace-300-twin", pva },
		"as many as there may": func(p *desk.Plan) { p.Parts[0].Copies = 5 },
	} {
		p := m.planFor(r)
		change(&p)
		was := m.request(r.ID)
		got, err := m.SetPlan(m.ctx, m.reviewer(), r.ID, 0, p)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		} else if got.Basis.State != desk.Waiting || got.Basis.Asked != was.Basis.Asked+1 || len(got.Ways) != 0 || !cmp.Equal(got.Plan, p) {
			t.Errorf("%s: %+v", name, got.Basis)
		}
	}
}

// The plan a wish amounts to.
func TestSuggest(t *testing.T) {
	m := newRoom(t)
	s, err := m.Settings(m.ctx)
	if err != nil {
		t.Fatal(err)
	}
	s.Rules.Usual = desk.Usual{Printer: model, Material: pla, Way: "fine"}
	file := func(id desk.ID, x, y, z float64) desk.File {
		return desk.File{ID: id, Check: desk.Done, Result: &desk.Checked{Answer: quote.Answer{Format: "stl", SizeMM: mesh.Vec{x, y, z}}}}
	}
	one, two := file("1", 40, 20, 10), file("2", 10, 100, 20)
	spools := []desk.Spool{
		{Material: pla, Colour: "Red", Branch: "here", Grams: 500}, {Material: "petg", Colour: "blue", Branch: "here", Grams: 300},
		{Material: pla, Colour: "blue", Branch: "there", Grams: 900}, {Material: "abs", Colour: "green", Branch: "here", Grams: 5},
		{Material: "petg", Colour: "green", Branch: "here", Grams: 400}, {Material: pva, Colour: "natural", Branch: "here", Grams: 400},
		{Material: "abs", Colour: "white", Branch: "here", Grams: 400, Retired: true},
	}
	part := func(id desk.ID, change ...func(*desk.PartPlan)) desk.PartPlan {
		p := desk.PartPlan{File: id, Copies: 1}
		for _, c := range change {
			c(&p)
		}
		return p
	}
	plan := func(material string, parts ...desk.PartPlan) desk.Plan {
		return desk.Plan{Printer: model, Way: "fine", Materials: []string{material}, Parts: parts}
	}
	for _, c := range []struct {
		name  string
		wish  desk.Wish
		files []desk.File
		want  desk.Plan
	}{
		{"nothing said", desk.Wish{}, []desk.File{one}, plan(pla, part("1"))},
		{"a size", desk.Wish{SizeMM: 80}, []desk.File{one}, plan(pla, part("1", func(p *desk.PartPlan) { p.LongestMM = 80 }))},
		{"as large as it goes", desk.Wish{Largest: true}, []desk.File{one}, plan(pla, part("1", func(p *desk.PartPlan) { p.Largest = true }))},
		{"copies", desk.Wish{Copies: 3}, []desk.File{one}, plan(pla, part("1", func(p *desk.PartPlan) { p.Copies = 3 }))},
		// The longest of all, 100 mm, becomes 50: half the size for each.
		{"pieces of one thing", desk.Wish{SizeMM: 50}, []desk.File{one, two}, plan(pla, part("1", func(p *desk.PartPlan) { p.Scale = 0.5 }), part("2", func(p *desk.PartPlan) { p.Scale = 0.5 }))},
		{"red is the usual material", desk.Wish{Colour: "red"}, []desk.File{one}, plan(pla, part("1"))},
		{"blue is here in another", desk.Wish{Colour: "Blue "}, []desk.File{one}, plan("petg", part("1"))},
		{"the spool with enough on it", desk.Wish{Colour: "green"}, []desk.File{one}, plan("petg", part("1"))},
		{"never of what dissolves", desk.Wish{Colour: "natural"}, []desk.File{one}, plan(pla, part("1"))},
		{"never of a spool put away", desk.Wish{Colour: "white"}, []desk.File{one}, plan(pla, part("1"))},
		{"a colour nobody has", desk.Wish{Colour: "mauve"}, []desk.File{one}, plan(pla, part("1"))},
		{"a size that is no number", desk.Wish{SizeMM: math.NaN()}, []desk.File{one}, plan(pla, part("1"))},
		{"a size below nought", desk.Wish{SizeMM: -1}, []desk.File{one}, plan(pla, part("1"))},
		{"what cannot be read is left out", desk.Wish{}, []desk.File{{ID: "9", Check: desk.NoModel}, one, {ID: "8", Check: desk.Failed}, {ID: "7", Check: desk.Done, Result: &desk.Checked{}}}, plan(pla, part("1"))},
		{"no files", desk.Wish{}, nil, plan(pla)},
	} {
		got := desk.Suggest(desk.Request{Branch: "here", Wish: c.wish}, c.files, s, spools)
		if diff := cmp.Diff(c.want, got); diff != "" {
			t.Errorf("%s:\n%s", c.name, diff)
		}
	}
	two.Result.Answer.ColourParts = make([]quote.Colour, 2)
	if got := desk.Suggest(desk.Request{}, []desk.File{two}, s, nil); !got.OneColour {
		t.Error("two colours on a printer that holds one")
	}
}
