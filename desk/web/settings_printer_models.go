package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"platebook/desk"
	"platebook/engine/printer"
)

// The numbers of a printer model, as the form asks for them. Their names are
// the engine's keys; what stands in a triple has the axis behind it.

// modelNumber is one number of a printer model.
type modelNumber struct {
	key, label, unit, hint string
	at                     func(*printer.Printer) *float64
}

// field is the name of its field.
func (n modelNumber) field() string {
	for i, a := range []string{"x", "y", "z"} {
		n.key = strings.Replace(n.key, fmt.Sprintf("[%d]", i), "_"+a, 1)
	}
	return n.key
}

// triple are three numbers along the axes.
func triple(key, unit string, labels [3]string, hint string, at func(*printer.Printer) *[3]float64) (all []modelNumber) {
	for i, label := range labels {
		all = append(all, modelNumber{fmt.Sprintf("%s[%d]", key, i), label, unit, hint, func(p *printer.Printer) *float64 { return &at(p)[i] }})
		hint = ""
	}
	return all
}

// modelPart is a group of numbers under a heading.
type modelPart struct {
	title, say string
	numbers    []modelNumber
}

var modelParts = []modelPart{
	{"What fits", "", append(triple("volume_mm", "mm", [3]string{"Width", "Depth", "Height"}, "", func(p *printer.Printer) *[3]float64 { return &p.Volume }),
		modelNumber{"nozzle_mm", "Nozzle", "mm", "", func(p *printer.Printer) *float64 { return &p.Nozzle }})},
	{"How fast", "From the maker’s sheet, or as the printer itself shows them. Time one print from start to finish, and correct the acceleration until its time and the quoted one agree.", slices.Concat(
		triple("max_speed_mm_s", "mm/s", [3]string{"Fastest sideways", "Fastest to and fro", "Fastest up and down"}, "", func(p *printer.Printer) *[3]float64 { return &p.MaxSpeed }),
		triple("max_acceleration_mm_s2", "mm/s²", [3]string{"Acceleration at most sideways", "At most to and fro", "At most up and down"}, "", func(p *printer.Printer) *[3]float64 { return &p.MaxAcceleration }),
		[]modelNumber{
			{"acceleration_mm_s2", "Acceleration while printing", "mm/s²", "", func(p *printer.Printer) *float64 { return &p.Acceleration }},
			{"travel_speed_mm_s", "Speed of travel", "mm/s", "", func(p *printer.Printer) *float64 { return &p.TravelSpeed }},
			{"travel_acceleration_mm_s2", "Acceleration of travel", "mm/s²", "", func(p *printer.Printer) *float64 { return &p.TravelAcceleration }},
			{"corner_deviation_mm", "Corners are cut by", "mm", "", func(p *printer.Printer) *float64 { return &p.CornerDeviation }},
		})},
	{"What takes time besides", "", []modelNumber{
		{"start_time_s", "Before the first layer", "s", "Homing and levelling, without heating up.", func(p *printer.Printer) *float64 { return &p.StartTime }},
		{"end_time_s", "After the last layer", "s", "", func(p *printer.Printer) *float64 { return &p.EndTime }},
		{"heat_rate_k_s", "The nozzle warms by", "K/s", "", func(p *printer.Printer) *float64 { return &p.HeatRate }},
		{"platform_heat_rate_k_s", "The platform warms by", "K/s", "", func(p *printer.Printer) *float64 { return &p.PlatformHeatRate }},
		{"ambient_c", "From a room of", "°C", "", func(p *printer.Printer) *float64 { return &p.AmbientC }},
		{"layer_change_time_s", "Each layer", "s", "", func(p *printer.Printer) *float64 { return &p.LayerChangeTime }},
	}},
	{"Filament", "", []modelNumber{
		{"retraction_length_mm", "Retraction", "mm", "", func(p *printer.Printer) *float64 { return &p.RetractionLength }},
		{"retraction_speed_mm_s", "Speed of retraction", "mm/s", "", func(p *printer.Printer) *float64 { return &p.RetractionSpeed }},
		{"retraction_travel_mm", "None for travel under", "mm", "", func(p *printer.Printer) *float64 { return &p.RetractionTravel }},
		{"tool_change_time_s", "A change of material", "s", "With two materials.", func(p *printer.Printer) *float64 { return &p.ToolChangeTime }},
		{"purge_volume_mm3", "Purged at a change", "mm³", "With two materials.", func(p *printer.Printer) *float64 { return &p.PurgeVolume }},
	}},
}

// modelKeys are the fields of what the engine speaks of.
var modelKeys = func() map[string]string {
	all := map[string]string{}
	for _, part := range modelParts {
		for _, n := range part.numbers {
			all[n.key] = n.field()
		}
	}
	return all
}()

func modelSheetParts(p printer.Printer, isNew bool, c *printer.Catalogue) []sheetPart {
	first := sheetPart{Fields: []asked{{"text", Field{Name: "name", Label: "Name", Value: p.Name, Width: "mid"}}}}
	if isNew {
		first.Fields = append(first.Fields, asked{"text", Field{Name: "id", Label: "Short name", Value: p.ID, Width: "mid",
			Hint: "Small letters, digits and hyphens. Printers and quotes know the model by it; it cannot be changed later."}})
		first.Say = "What stands here is the library’s usual model: change what differs. Size and nozzle decide what fits, the rest how long a print takes."
	}
	parts := []sheetPart{first}
	for _, part := range modelParts {
		sheet := sheetPart{Title: part.title, Say: part.say, Row: true}
		for _, n := range part.numbers {
			sheet.Fields = append(sheet.Fields, asked{"text", Field{Name: n.field(), Label: n.label, Value: plainNumber(*n.at(&p)), Unit: n.unit, Hint: n.hint, Mode: "decimal", Width: "short"}})
		}
		parts = append(parts, sheet)
	}
	choose := func(name, label, value, hint string, choices []Choice) asked {
		return asked{"select", Field{Name: name, Label: label, Value: value, Hint: hint, Type: "select", Choices: choices}}
	}
	parts[1].Fields = append(parts[1].Fields, choose("tools", "Materials at once", itoa(p.Tools), "", []Choice{{Value: "1", Label: "one"}, {Value: "2", Label: "two"}}),
		choose("origin", "The platform’s zero point", p.Origin, "", []Choice{{Value: "corner", Label: "at a corner"}, {Value: "centre", Label: "in the middle"}}))
	var materials, ways []Choice
	for _, m := range c.Materials {
		materials = append(materials, Choice{Value: m.ID, Label: m.Name})
	}
	for _, w := range c.Ways {
		ways = append(ways, Choice{Value: w.ID, Label: w.Name})
	}
	return append(parts, sheetPart{Title: "Unless said otherwise", Row: true, Fields: []asked{choose("default_material", "Material", p.DefaultMaterial, "", materials),
		choose("default_support_material", "Material for supports", p.DefaultSupportMaterial, "", materials), choose("default_way", "Way", p.DefaultWay, "", ways)}})
}

// modelSheet finds the printer model of the address; "new" is one to be made,
// based on the library's usual one.
func (s *Site) modelSheet(r *http.Request, who desk.Actor) (v sheet, set desk.Settings, history []desk.Setting, p printer.Printer, c *printer.Catalogue, err error) {
	if v, set, history, err = s.settingSheet(r, who, desk.ProfilesSetting); err != nil {
		return
	}
	catalogue, err := desk.Catalogue(set)
	if err != nil {
		return
	}
	c = catalogue.Catalogue
	id := r.PathValue("id")
	v.Path = "/desk/settings/models/printer/" + id
	if id != "new" {
		if p, err = c.Printer(id); err != nil {
			err = notFound()
		}
		v.Title = "Printer model: " + p.Name
		return
	}
	v.Title = "A new printer model"
	if p, err = c.Printer(set.Rules.Usual.Printer); err != nil {
		p, err = c.Printers[0], nil
	}
	p.ID, p.Name = "", ""
	return
}

func (s *Site) modelForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, _, _, p, c, err := s.modelSheet(r, who)
	if err != nil {
		return err
	}
	v.Parts = modelSheetParts(p, p.ID == "", c)
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) saveModel(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, history, p, c, err := s.modelSheet(r, who)
	if err != nil {
		return err
	}
	t, isNew := typedIn(r), p.ID == ""
	p.Name, p.Tools, p.Origin = desk.CleanLine(t.text("name"), 200), t.whole("tools"), t.text("origin")
	p.DefaultMaterial, p.DefaultSupportMaterial, p.DefaultWay = t.text("default_material"), t.text("default_support_material"), t.text("default_way")
	for _, part := range modelParts {
		for _, n := range part.numbers {
			*n.at(&p) = t.number(n.field())
		}
	}
	if isNew {
		p.ID = strings.TrimSpace(t.text("id"))
		if slices.ContainsFunc(c.Printers, func(o printer.Printer) bool { return o.ID == p.ID }) {
			t.wrong["id"] = "There is a printer model of this short name already."
		}
	}
	version := int(number64(r, "version"))
	if len(t.wrong) == 0 {
		var profiles desk.Profiles
		if profiles, err = desk.WithPrinterModel(set.Profiles, p); err == nil {
			var now int
			if now, err = s.desk.SaveSetting(r.Context(), who, desk.ProfilesSetting, version, profiles); err == nil {
				return s.saved(w, r, version, now, "/desk/settings/models")
			}
		}
	}
	err = t.fault(err)
	v.Parts = modelSheetParts(p, isNew, c)
	v.asTyped(r)
	return s.notSaved(w, r, v, desk.ProfilesSetting, history, atEngineField(&v, modelKeys, err))
}
