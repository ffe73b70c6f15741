package web

import (
	"fmt"
	"net/http"
	"slices"
	"strings"

	"platebook/desk"
	"platebook/engine/printer"
)

// modelsView lists what can be printed with.
type modelsView struct {
	Sheet                     sheet
	Printers, Materials, Ways []modelLink
}

type modelLink struct {
	Name, Says, Whose string
	Change, Text      string // paths; ways are changed as text only
}

var modelsPage = newPage[modelsView](forStaff, "settings_models.html")

// whose says whether a profile comes with the program.
func whose[T any](id string, v T, builtin []T, idOf func(T) string) string {
	for _, b := range builtin {
		if idOf(b) == id {
			if asJSON(b) == asJSON(v) {
				return "as it comes"
			}
			return "changed here"
		}
	}
	return "your own"
}

func (s *Site) modelsIndex(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.settingSheet(r, who, desk.ProfilesSetting)
	if err != nil {
		return err
	}
	c, err := desk.Catalogue(set)
	if err != nil {
		return err
	}
	builtin, err := desk.Catalogue(desk.Settings{})
	if err != nil {
		return err
	}
	page := modelsView{Sheet: v}
	const at = "/desk/settings/models/"
	for _, p := range c.Printers {
		page.Printers = append(page.Printers, modelLink{Name: p.Name, Change: at + "printer/" + p.ID, Text: at + "printer/" + p.ID + "/text",
			Says:  fmt.Sprintf("builds up to %s, nozzle %s", size(p.Volume), mm(p.Nozzle)),
			Whose: whose(p.ID, p, builtin.Printers, func(p printer.Printer) string { return p.ID })})
	}
	for _, m := range c.Materials {
		page.Materials = append(page.Materials, modelLink{Name: m.Name, Change: at + "material/" + m.ID, Text: at + "material/" + m.ID + "/text",
			Says:  fmt.Sprintf("%s g/cm³, %s filament", plainNumber(m.Density), plainNumber(m.Diameter)+" mm"),
			Whose: whose(m.ID, m, builtin.Materials, func(m printer.Material) string { return m.ID })})
	}
	for _, x := range c.Ways {
		page.Ways = append(page.Ways, modelLink{Name: x.Name, Text: at + "way/" + x.ID + "/text",
			Says:  fmt.Sprintf("layers of %s mm, %s %% filled, %d shells", plainNumber(x.LayerHeight), plainNumber(x.Infill), x.Shells),
			Whose: whose(x.ID, x, builtin.Ways, func(x printer.Way) string { return x.ID })})
	}
	return show(s, w, r, http.StatusOK, modelsPage, page)
}

// profileTextView is one profile as text.
type profileTextView struct {
	Title    string
	Places   []place
	Text     string
	Original string // as it comes with the program, where that differs
}

var profileTextPage = newPage[profileTextView](forStaff, "settings_profile.html")

func (s *Site) profileText(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	if !who.Everywhere() {
		return desk.Faultf(desk.NotYours, "This is for managers of all branches. Ask one of them to do it.")
	}
	set, err := s.desk.Settings(r.Context())
	if err != nil {
		return err
	}
	one := func(set desk.Settings) (string, string, error) {
		c, err := desk.Catalogue(set)
		if err != nil {
			return "", "", err
		}
		id := r.PathValue("id")
		var v any
		name := ""
		switch r.PathValue("what") {
		case "printer":
			p, missing := c.Printer(id)
			v, name, err = p, p.Name, missing
		case "material":
			m, missing := c.Material(id)
			v, name, err = m, m.Name, missing
		case "way":
			x, missing := c.Way(id)
			v, name, err = x, x.Name, missing
		default:
			err = notFound()
		}
		if err != nil {
			return "", "", nil
		}
		text, err := desk.ProfileText(v)
		return name, text, err
	}
	name, text, err := one(set)
	if err != nil {
		return err
	}
	if text == "" {
		return notFound()
	}
	_, original, err := one(desk.Settings{})
	if err != nil {
		return err
	}
	if original == text {
		original = ""
	}
	return show(s, w, r, http.StatusOK, profileTextPage, profileTextView{Title: name, Places: places(who, "models"), Text: text, Original: original})
}

func profilesParts(text string) []sheetPart {
	return []sheetPart{{Fields: []asked{{"area", Field{Name: "toml", Label: "Your own profiles", Value: text, Rows: 24, Optional: true,
		Hint: "Tables like [printer.ID], [material.ID] and [way.ID], laid over those that come with the program: give only what differs. A new one starts from another with based_on = \"ID\". Every profile can be seen as text, to copy from."}}}}}
}

func (s *Site) profilesForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.settingSheet(r, who, desk.ProfilesSetting)
	if err != nil {
		return err
	}
	v.Path, v.Parts = "/desk/settings/models/text", profilesParts(set.Profiles.TOML)
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) saveProfiles(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, _, history, err := s.settingSheet(r, who, desk.ProfilesSetting)
	if err != nil {
		return err
	}
	v.Path = "/desk/settings/models/text"
	version := int(number64(r, "version"))
	text := strings.ReplaceAll(r.PostFormValue("toml"), "\r\n", "\n")
	now, err := s.desk.SaveSetting(r.Context(), who, desk.ProfilesSetting, version, desk.Profiles{TOML: text})
	if err != nil {
		v.Parts = profilesParts(text)
		return s.notSaved(w, r, v, desk.ProfilesSetting, history, err)
	}
	return s.saved(w, r, version, now, "/desk/settings/models")
}

func materialParts(m printer.Material, isNew bool, others []printer.Material) []sheetPart {
	num := func(name, label string, x float64, unit, hint string) asked {
		return asked{"text", Field{Name: name, Label: label, Value: plainNumber(x), Unit: unit, Hint: hint, Mode: "decimal", Width: "short"}}
	}
	soluble := Field{Name: "soluble", Label: "It dissolves, and can be used for supports that are washed off"}
	if m.Soluble {
		soluble.Value = "yes"
	}
	first := sheetPart{Fields: []asked{{"text", Field{Name: "name", Label: "Name", Value: m.Name, Width: "mid"}}}}
	if isNew {
		first.Fields = append(first.Fields, asked{"text", Field{Name: "id", Label: "Short name", Value: m.ID, Width: "mid",
			Hint: "Small letters, digits and hyphens. Spools and the tariff know the material by it; it cannot be changed later."}})
	}
	return []sheetPart{first,
		{Title: "Weight", Say: "What it costs is in the tariff.", Fields: []asked{
			num("density", "Density", m.Density, "g/cm³", "From the maker’s data sheet, or weigh a measured length."),
			num("diameter", "Diameter", m.Diameter, "mm", "As measured: 0.05 mm more or less on 1.75 mm changes the weight by nearly 6 %."),
			num("spool", "A full spool holds", m.SpoolGrams, "g", ""),
		}},
		{Title: "Printing", Row: true, Fields: []asked{
			num("nozzle", "Nozzle", m.NozzleC, "°C", ""), num("platform", "Platform", m.PlatformC, "°C", ""),
			num("flow", "Flow at most", m.MaxFlow, "mm³/s", ""), num("layer", "A layer takes at least", m.MinLayerTime, "s", ""),
		}},
		{Fields: []asked{{"check", soluble},
			{"area", Field{Name: "cautions", Label: "Cautions", Value: joined(m.Cautions), Optional: true, Rows: 5, Hint: "One a line; shown with the material."}}}},
	}
}

// aMaterial finds the material of the address; "new" is one to be made, based
// on the library's usual one.
func aMaterial(r *http.Request, set desk.Settings) (printer.Material, bool, []printer.Material, error) {
	c, err := desk.Catalogue(set)
	if err != nil {
		return printer.Material{}, false, nil, err
	}
	if id := r.PathValue("id"); id != "new" {
		m, err := c.Material(id)
		if err != nil {
			return m, false, nil, notFound()
		}
		return m, false, c.Materials, nil
	}
	m, err := c.Material(set.Rules.Usual.Material)
	if err != nil {
		m = c.Materials[0]
	}
	m.ID, m.Name = "", ""
	return m, true, c.Materials, nil
}

func (s *Site) materialSheet(r *http.Request, who desk.Actor) (sheet, desk.Settings, []desk.Setting, printer.Material, bool, error) {
	v, set, history, err := s.settingSheet(r, who, desk.ProfilesSetting)
	if err != nil {
		return v, set, nil, printer.Material{}, false, err
	}
	m, isNew, _, err := aMaterial(r, set)
	v.Title, v.Path = "Material: "+m.Name, "/desk/settings/models/material/"+r.PathValue("id")
	if isNew {
		v.Title = "A new material"
	}
	return v, set, history, m, isNew, err
}

func (s *Site) materialForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, _, _, m, isNew, err := s.materialSheet(r, who)
	if err != nil {
		return err
	}
	v.Parts = materialParts(m, isNew, nil)
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) saveMaterial(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, history, m, isNew, err := s.materialSheet(r, who)
	if err != nil {
		return err
	}
	t := typedIn(r)
	m.Name, m.Density, m.Diameter, m.SpoolGrams = desk.CleanLine(t.text("name"), 200), t.number("density"), t.number("diameter"), t.number("spool")
	m.NozzleC, m.PlatformC, m.MaxFlow, m.MinLayerTime = t.number("nozzle"), t.number("platform"), t.number("flow"), t.number("layer")
	m.Soluble, m.Cautions = t.ticked("soluble"), splitLines(t.text("cautions"))
	if isNew {
		m.ID = strings.TrimSpace(t.text("id"))
		if _, _, all, err := aMaterial(r, set); err == nil && slices.ContainsFunc(all, func(o printer.Material) bool { return o.ID == m.ID }) {
			t.wrong["id"] = "There is a material of this short name already."
		}
	}
	version := int(number64(r, "version"))
	var now int
	var p desk.Profiles
	if len(t.wrong) == 0 {
		if p, err = desk.WithMaterial(set.Profiles, m); err == nil {
			if now, err = s.desk.SaveSetting(r.Context(), who, desk.ProfilesSetting, version, p); err == nil {
				return s.saved(w, r, version, now, "/desk/settings/models")
			}
		}
	}
	err = t.fault(err)
	v.Parts = materialParts(m, isNew, nil)
	v.asTyped(r)
	return s.notSaved(w, r, v, desk.ProfilesSetting, history, atEngineField(&v, materialKeys, err))
}

// atEngineField finds the field the engine's sentence is about, by the key it
// speaks of, and has it speak of the field's label instead.
func atEngineField(v *sheet, keys map[string]string, err error) error {
	f := faultOf(err)
	say := f.Fields["name"]
	if f.Kind != desk.Wrong || say == "" {
		return err
	}
	for key, name := range keys {
		if _, rest, is := strings.Cut(say, ": "+key+" is "); is {
			if field := v.lookUp(name); field != nil {
				say = field.Label + " is " + rest
			}
			return &desk.Fault{Kind: desk.Wrong, Say: f.Say, Fields: map[string]string{name: say}}
		}
	}
	if strings.Contains(say, " cautions are ") {
		return &desk.Fault{Kind: desk.Wrong, Say: f.Say, Fields: map[string]string{"cautions": say}}
	}
	if strings.Contains(say, "an id is") {
		return &desk.Fault{Kind: desk.Wrong, Say: f.Say, Fields: map[string]string{"id": "A short name is made of small letters a to z, digits and hyphens, at most 60."}}
	}
	return err
}

// materialKeys are the fields of what the engine calls otherwise.
var materialKeys = map[string]string{"density_g_cm3": "density", "diameter_mm": "diameter", "nozzle_c": "nozzle", "platform_c": "platform",
	"max_flow_mm3_s": "flow", "min_layer_time_s": "layer", "spool_g": "spool"}
