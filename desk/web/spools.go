package web

import (
	"math"
	"net/http"
	"net/url"
	"strings"
	"time"

	"platebook/desk"
)

func (s *Site) spoolRoutes() {
	s.staff("GET /desk/printing/spools", s.spools)
	s.staff("GET /desk/printing/spools/new", s.spoolNew)
	s.staff("POST /desk/printing/spools/new", s.spoolMake)
	s.staff("GET /desk/printing/spools/{spool}", s.spool)
	s.staff("POST /desk/printing/spools/{spool}", s.spoolChange)
	s.staff("POST /desk/printing/spools/{spool}/load", s.spoolLoad)
	s.staff("POST /desk/printing/spools/{spool}/count", s.spoolCount)
}

type spoolsView struct {
	Branch   string
	BranchID desk.ID
	Filter   []Field
	Spools   []spoolLine
	Demands  []demandLine
}

type spoolLine struct {
	Path     string
	Name     string
	Material string
	Colour   string
	Hex      string
	Left     string
	Promised string
	Where    string
	Low      bool
	Retired  bool
}

type demandLine struct {
	Material, Colour string
	Plates           int
	Needs, Left      string
	Short            bool
}

var spoolsPage = newPage[spoolsView](forStaff, "spools.html")

func (s *Site) spools(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	f := desk.SpoolFilter{Material: r.FormValue("material"), Colour: r.FormValue("colour"), Retired: r.FormValue("retired") != ""}
	p, err := s.desk.SpoolsPage(r.Context(), who, desk.ID(r.FormValue("branch")), f)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, spoolsPage, spoolsOf(p, f))
}

func spoolsOf(p desk.SpoolsPage, f desk.SpoolFilter) spoolsView {
	v := spoolsView{Branch: p.Branch.Name, BranchID: p.Branch.ID}
	if b := branchField(p.Branch, p.Branches); b != nil {
		v.Filter = append(v.Filter, *b)
	}
	material := Field{Name: "material", Label: "Material", Type: "select", Value: f.Material, Choices: []Choice{{Label: "All"}}}
	for _, m := range p.Materials {
		material.Choices = append(material.Choices, Choice{Value: m.ID, Label: m.Name})
	}
	colour := Field{Name: "colour", Label: "Colour", Type: "select", Value: f.Colour, Choices: []Choice{{Label: "All"}}}
	for _, c := range p.Colours {
		colour.Choices = append(colour.Choices, Choice{Value: c, Label: c})
	}
	retired := Field{Name: "retired", Label: "Retired ones", Type: "select", Choices: []Choice{{Label: "Left out"}, {Value: "yes", Label: "Shown too"}}}
	if f.Retired {
		retired.Value = "yes"
	}
	v.Filter = append(v.Filter, material, colour, retired)
	for _, sp := range p.Spools {
		l := spoolLine{Path: spoolPath(sp.ID), Name: sp.Name, Material: sp.MaterialName, Colour: sp.Colour, Hex: sp.Hex, Left: exactGrams(sp.Grams), Where: "on the rack", Low: sp.Low, Retired: sp.Retired}
		if sp.In != "" {
			l.Where = "in " + sp.In
		}
		if sp.Promised >= 0.5 {
			l.Promised = exactGrams(math.Round(sp.Promised*10) / 10)
		}
		v.Spools = append(v.Spools, l)
	}
	for _, d := range p.Demands {
		v.Demands = append(v.Demands, demandLine{d.Material, d.Colour, d.Plates, grams(d.Grams), grams(d.Left), d.Short})
	}
	return v
}

func spoolPath(id desk.ID) string { return "/desk/printing/spools/" + url.PathEscape(string(id)) }

// spoolView is one spool: what it is, where it is, what is left, and its lines.
type spoolView struct {
	New      bool
	Errors   []Missed
	Crossed  *Crossed
	Title    string
	Action   string
	Version  int64
	Facts    []Fact
	Name     Field
	Branch   Field
	Material Field
	Colour   Field
	Hex      Field
	Full     Field
	Retired  Field
	Load     Field
	Count    Field
	Why      Field
	Lines    []reelLine
	Was      []Told
	Open     string // which form stands open
}

type reelLine struct {
	At        time.Time
	Who, Why  string
	Codes     []desk.Code
	Run       string // address
	By, After string
}

var spoolPage = newPage[spoolView](forStaff, "spools_one.html")

// asked are the questions about a spool, filled in from f.
func (v *spoolView) asked(f desk.SpoolForm, branches []desk.Branch, materials []desk.Named) {
	v.Name = Field{Name: "name", Label: "Name on its label", Value: f.Name, Width: "mid", Hint: "Short, and unlike any other at the branch: PLA-07."}
	v.Branch = Field{Name: "branch", Label: "Branch", Type: "select", Value: string(f.Branch)}
	for _, b := range branches {
		v.Branch.Choices = append(v.Branch.Choices, Choice{Value: string(b.ID), Label: b.Name})
	}
	v.Material = Field{Name: "material", Label: "Material", Type: "select", Value: f.Material}
	for _, m := range materials {
		v.Material.Choices = append(v.Material.Choices, Choice{Value: m.ID, Label: m.Name})
	}
	v.Colour = Field{Name: "colour", Label: "Colour", Value: f.Colour, Width: "mid", Hint: "A word patrons know."}
	v.Hex = Field{Name: "hex", Label: "Colour for pictures", Value: f.Hex, Width: "short", Optional: true, Hint: "# and six digits, such as #C03030."}
	full := ""
	if f.Full > 0 {
		full = strings.TrimSuffix(exactGrams(f.Full), " g")
	}
	v.Full = Field{Name: "full", Label: "Filament on it when new", Value: full, Unit: "g", Mode: "decimal", Width: "short", Hint: "Without the empty reel."}
	v.Retired = Field{Name: "retired", Label: "Retired: empty, spoilt or given away"}
	if f.Retired {
		v.Retired.Value = "yes"
	}
}

func (v *spoolView) fields() []*Field {
	return []*Field{&v.Name, &v.Branch, &v.Material, &v.Colour, &v.Hex, &v.Full, &v.Load, &v.Count, &v.Why}
}

// refuse shows the page again with what is wrong.
func (v *spoolView) refuse(fields map[string]string, crossed *Crossed) int {
	all := v.fields()
	if v.Open == "" {
		mark(fields, all...)
	} else {
		// Load and count have names of their own among the sentences.
		mark(fields, &v.Load, &v.Count, &v.Why)
	}
	var list []Field
	for _, f := range all {
		list = append(list, *f)
	}
	v.Errors, v.Crossed = missed(list...), crossed
	if crossed != nil {
		return http.StatusConflict
	}
	return http.StatusUnprocessableEntity
}

func (s *Site) spoolNew(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.newSpool(r, who, desk.SpoolForm{Branch: desk.ID(r.FormValue("branch")), Full: 1000})
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, spoolPage, v)
}

func (s *Site) newSpool(r *http.Request, who desk.Actor, f desk.SpoolForm) (spoolView, error) {
	p, err := s.desk.SpoolsPage(r.Context(), who, f.Branch, desk.SpoolFilter{})
	if err != nil {
		return spoolView{}, err
	}
	f.Branch = p.Branch.ID
	v := spoolView{New: true, Title: "A new spool", Action: "/desk/printing/spools/new"}
	v.asked(f, p.Branches, p.Materials)
	return v, nil
}

func spoolIn(r *http.Request) desk.SpoolForm {
	full := gramsIn(r.PostFormValue("full"))
	return desk.SpoolForm{Name: r.PostFormValue("name"), Branch: desk.ID(r.PostFormValue("branch")), Material: r.PostFormValue("material"),
		Colour: r.PostFormValue("colour"), Hex: r.PostFormValue("hex"), Full: full, Retired: r.PostFormValue("retired") != ""}
}

func (s *Site) spoolMake(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	form, err := formOf(r)
	if err != nil {
		return err
	}
	f := spoolIn(r)
	f.Form = form
	made, err := s.desk.SaveSpool(r.Context(), who, f)
	if err == nil {
		s.say(r, "The spool "+made.Name+" is there.")
		return s.goTo(w, r, spoolPath(made.ID))
	}
	fields, crossed, rest := s.refused(r, err)
	if rest != nil {
		return rest
	}
	v, err := s.newSpool(r, who, f)
	if err != nil {
		return err
	}
	v.Full.Value = r.PostFormValue("full")
	return show(s, w, r, v.refuse(fields, crossed), spoolPage, v)
}

func (s *Site) spoolViewOf(r *http.Request, who desk.Actor) (spoolView, error) {
	sp, err := s.desk.SpoolView(r.Context(), who, desk.ID(r.PathValue("spool")))
	if err != nil {
		return spoolView{}, err
	}
	return spoolOf(sp), nil
}

func spoolOf(sp desk.SpoolView) spoolView {
	v := spoolView{Title: sp.Name, Action: spoolPath(sp.ID), Version: sp.Version}
	v.asked(desk.SpoolForm{Name: sp.Name, Branch: sp.Branch, Material: sp.Material, Colour: sp.Colour, Hex: sp.Hex, Full: sp.Full, Retired: sp.Retired}, sp.Branches, sp.Materials)
	where := "on the rack at " + sp.At.Name
	if sp.In != "" {
		where = "in " + sp.In + ", at " + sp.At.Name
	}
	left := exactGrams(sp.Grams)
	if sp.Low {
		left += ": low"
	}
	v.Facts = []Fact{{"Material", sp.MaterialName + ", " + sp.Colour}, {"Left", left}, {"Where", where}}
	if sp.Promised >= 0.5 {
		v.Facts = append(v.Facts, Fact{"Promised", exactGrams(sp.Promised) + " to what is printing or not weighed yet"})
	}
	if sp.Retired {
		v.Facts = append(v.Facts, Fact{"Retired", "yes"})
	}
	v.Load = Field{Name: "printer", Label: "Where it is", Type: "select", Value: string(sp.Loaded), Choices: []Choice{{Label: "On the rack"}}}
	for _, u := range sp.Printers {
		v.Load.Choices = append(v.Load.Choices, Choice{Value: string(u.ID), Label: "In " + u.Name})
	}
	v.Count = Field{Name: "grams", Label: "Grams left", Unit: "g", Mode: "decimal", Width: "short", Hint: "Weigh the reel, and take off the weight of an empty one."}
	v.Why = Field{Name: "why", Label: "Why it is set", Hint: "Weighed, counted by the label, a tangle cut off, …."}
	for _, was := range sp.Was {
		v.Was = append(v.Was, Told{At: local(was.At, sp.Zone), Who: was.Who, Say: was.Say})
	}
	for _, l := range sp.Lines {
		line := reelLine{At: local(l.At, sp.Zone), Who: l.Who, Why: l.Why, Codes: l.Codes, By: signed(l.Grams), After: exactGrams(l.Left)}
		if l.Run != "" {
			line.Run = "/desk/printing/runs/" + url.PathEscape(string(l.Run))
		}
		v.Lines = append(v.Lines, line)
	}
	return v
}

// signed says a change of a weight, with a minus that is one.
func signed(g float64) string {
	if g < 0 {
		return "−" + exactGrams(-g)
	}
	return "+" + exactGrams(g)
}

func (s *Site) spool(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.spoolViewOf(r, who)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, spoolPage, v)
}

// onSpool does something with a spool, and shows its page again if that was
// not taken.
func (s *Site) onSpool(w http.ResponseWriter, r *http.Request, who desk.Actor, done string, do func(form string, id desk.ID, version int64) error, typed func(*spoolView)) error {
	form, err := formOf(r)
	if err != nil {
		return err
	}
	version, err := seenVersion(r)
	if err != nil {
		return err
	}
	id := desk.ID(r.PathValue("spool"))
	err = do(form, id, version)
	if err == nil {
		s.say(r, done)
		return s.goTo(w, r, spoolPath(id))
	}
	fields, crossed, rest := s.refused(r, err)
	if rest != nil {
		return rest
	}
	v, err := s.spoolViewOf(r, who)
	if err != nil {
		return err
	}
	typed(&v)
	return show(s, w, r, v.refuse(fields, crossed), spoolPage, v)
}

func (s *Site) spoolChange(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	f := spoolIn(r)
	return s.onSpool(w, r, who, "Changed.", func(form string, id desk.ID, version int64) error {
		f.Form, f.ID, f.Version = form, id, version
		_, err := s.desk.SaveSpool(r.Context(), who, f)
		return err
	}, func(v *spoolView) {
		for _, field := range []*Field{&v.Name, &v.Branch, &v.Material, &v.Colour, &v.Hex, &v.Full, &v.Retired} {
			field.Value = r.PostFormValue(field.Name)
		}
	})
}

func (s *Site) spoolLoad(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onSpool(w, r, who, "Noted where it is.", func(form string, id desk.ID, version int64) error {
		_, err := s.desk.LoadSpool(r.Context(), who, id, version, desk.ID(r.PostFormValue("printer")), form)
		return err
	}, func(v *spoolView) { v.Open, v.Load.Value = "load", r.PostFormValue("printer") })
}

func (s *Site) spoolCount(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	text := r.PostFormValue("grams")
	g := gramsIn(text)
	if strings.TrimSpace(text) == "" {
		g = math.NaN()
	}
	return s.onSpool(w, r, who, "What is left is set.", func(form string, id desk.ID, version int64) error {
		_, err := s.desk.CountSpool(r.Context(), who, id, version, g, r.PostFormValue("why"), form)
		return err
	}, func(v *spoolView) { v.Open, v.Count.Value, v.Why.Value = "count", text, r.PostFormValue("why") })
}
