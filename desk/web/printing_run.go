package web

import (
	"fmt"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"strconv"
	"strings"

	"platebook/desk"
)

type runView struct {
	Errors  []Missed
	Crossed *Crossed
	ID      desk.ID
	Version int64
	Line    runLine
	Facts   []Fact
	Parts   []runPart
	Spools  []Fact
	Going   bool // still printing
	Weighs  bool // can be weighed, or noted as failed
	Sure    *Field
	Grams   []weighPart
	Why     Field
	Blame   Field
	Wasted  []Field
	Tell    Field
	Anew    []weighPart
	AnewWhy Field    // why it is weighed anew
	Keeps   []string // why weights stay as they are
	OpenTo  string   // which form of a weighed run stands open
	Over    string   // what became of it, once that is settled
	Again   string   // where its plates are started again; empty when nothing is
	Open    bool     // the form for a failure stands open
}

// runPart is a part of a run that has come to its end.
type runPart struct {
	Code    desk.Code
	Which   string
	Expect  string
	Weighed string
	Bad     string
	To      string // where it goes
	Shelf   string // address of its place on the shelf, where it can go there
	Badly   string // address where it is said that it turned out bad
}

type weighPart struct {
	Title  string
	Fields []Field
}

var runPage = newPage[runView](forStaff, "printing_run.html")

func (s *Site) run(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, err := s.desk.RunView(r.Context(), who, desk.ID(r.PathValue("run")))
	if err != nil {
		return err
	}
	page := runViewOf(v)
	page.Open = r.FormValue("failed") != ""
	return show(s, w, r, http.StatusOK, runPage, page)
}

var blames = []Choice{
	{Value: string(desk.MachineBlame), Label: "The machine’s", Hint: "Printer, material, power."},
	{Value: string(desk.DesignBlame), Label: "The design’s", Hint: "It could not be printed as it was sent."},
	{Value: string(desk.PeopleBlame), Label: "People’s", Hint: "It was set up wrongly here."},
}

func runViewOf(v desk.RunView) runView {
	p := runView{ID: v.Run.ID, Version: v.Run.Version, Line: lineOf(v), Going: v.Run.State == desk.Going}
	p.Weighs = p.Going || v.Run.State == desk.Finished
	p.Facts = []Fact{{"Printer", v.Printer.Name + ", " + v.Model + ", at " + v.Branch.Name},
		{"Started", moment(local(v.Run.Started, v.Zone)) + " by " + v.Run.By},
		{"Should end", moment(local(v.Run.Expect, v.Zone))}}
	if !v.Run.Ended.IsZero() {
		p.Facts = append(p.Facts, Fact{"Ended", moment(local(v.Run.Ended, v.Zone))})
	}
	for i, u := range v.Run.Spools {
		say := fmt.Sprintf("about %s of %s", exactGrams(u.Expect), v.Names[u.Material])
		if !p.Weighs {
			say = fmt.Sprintf("%s of %s", exactGrams(u.Taken), v.Names[u.Material])
		}
		p.Spools = append(p.Spools, Fact{v.Spools[i].Name, say + fmt.Sprintf("; %s left on it", exactGrams(v.Spools[i].Grams))})
	}
	p.Why = Field{Name: "why", Label: "Why it failed", Hint: "As you would tell the patron: it came off the platform, a layer shifted, ….", Rows: 2}
	p.Blame = Field{Name: "blame", Label: "Whose failure it was", Choices: blames}
	p.Tell = Field{Name: "tell", Label: "Write to the patron that it is tried again", Value: "yes"}
	for _, m := range v.Materials {
		p.Wasted = append(p.Wasted, Field{Name: "grams-" + m, Label: v.Names[m] + " wasted", Unit: "g", Mode: "decimal", Width: "short", Optional: true})
	}
	for i, part := range v.Parts {
		title := fmt.Sprintf("%s, %s", part.Code, which(part.Plate, part.Of))
		wp := weighPart{Title: title}
		for _, m := range v.Materials {
			wp.Fields = append(wp.Fields, Field{Name: fmt.Sprintf("grams-%d-%s", i, m), Label: v.Names[m], Unit: "g", Mode: "decimal", Width: "short",
				Hint: fmt.Sprintf("Expected %s.", exactGrams(part.Expect[m]))})
		}
		p.Grams = append(p.Grams, wp)
		p.Parts = append(p.Parts, partOf(v, part))
		switch {
		case v.Run.State != desk.Weighed:
		case part.Keeps != "":
			p.Keeps = append(p.Keeps, part.Keeps)
		default:
			for k, m := range v.Materials {
				wp.Fields[k].Value = plainNumber(part.Weighed[m])
			}
			p.Anew = append(p.Anew, wp)
		}
	}
	p.AnewWhy = Field{Name: "anew-why", Label: "Why it is weighed anew", Width: "mid", Hint: "A slip of the finger, the supports left out, …."}
	p.settle(v)
	return p
}

// settle says what became of a run that is over.
func (p *runView) settle(v desk.RunView) {
	switch v.Run.State {
	case desk.Weighed:
		p.Over = "Weighed. What it took is off the spools."
	case desk.Spoiled:
		if f := v.Run.Failure; f != nil {
			p.Over = fmt.Sprintf("Failed, %s wasted: %s. Noted by %s.", exactGrams(f.Grams), strings.TrimRight(f.Why, "."), f.By)
		}
		var again []string
		for _, part := range v.Parts {
			if part.Latest && (part.Stand.State == desk.PlateWaits || part.Stand.State == desk.PlateStuck) {
				again = append(again, "plate="+url.QueryEscape(refOf(part.Request, part.Plate)))
			}
			if part.Most > 0 && part.Stand.State == desk.PlateStuck {
				p.Over += fmt.Sprintf(" The attempts at %s are used up: a manager may have it tried once more, or the request is declined.", part.Code)
			}
		}
		if len(again) > 0 {
			p.Again = "/desk/printing/start?" + strings.Join(again, "&")
		}
	}
}

func partOf(v desk.RunView, part desk.RunPartView) runPart {
	rp := runPart{Code: part.Code, Which: which(part.Plate, part.Of), Expect: gramsBy(part.Expect, v), Weighed: gramsBy(part.Weighed, v), To: part.Branch}
	if part.Bad != nil {
		rp.Bad = fmt.Sprintf("Turned out bad: %s. Noted by %s.", strings.TrimRight(part.Bad.Why, "."), part.Bad.By)
	}
	if part.Latest && part.Stand.State == desk.PlateDone {
		if part.State == desk.Printing || part.State == desk.OnShelf {
			rp.Shelf = "/desk/shelf/" + url.PathEscape(string(part.Request))
			rp.Badly = badPath(part.Request, part.Plate)
		}
	}
	return rp
}

func gramsBy(g map[string]float64, v desk.RunView) string {
	var all []string
	for _, m := range v.Materials {
		if x, ok := g[m]; ok {
			all = append(all, exactGrams(x)+" of "+v.Names[m])
		}
	}
	return strings.Join(all, ", ")
}

// exactGrams says a weight as a scale does: "23.1 g".
func exactGrams(g float64) string {
	return strconv.FormatFloat(math.Round(g*100)/100, 'f', -1, 64) + " g"
}

var gramsForm = regexp.MustCompile(`^[0-9]{1,7}([.,][0-9]{1,6})?$`)

// gramsIn reads a weight as typed: "23.4", "23,4". An empty one is 0; what is
// no weight is not a number, and the desk says so.
func gramsIn(text string) float64 {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0
	}
	if !gramsForm.MatchString(text) {
		return math.NaN()
	}
	g, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil {
		return math.NaN()
	}
	return g
}

// seenVersion is the version of what was on the page a form came from.
func seenVersion(r *http.Request) (int64, error) {
	v, err := strconv.ParseInt(r.PostFormValue("version"), 10, 64)
	if err != nil || v <= 0 {
		return 0, desk.Faultf(desk.Wrong, "This form has come apart on its way. Open the page again and send it once more.")
	}
	return v, nil
}

// onRun does something with a run, and shows its page again with what was
// typed if that was not taken.
func (s *Site) onRun(w http.ResponseWriter, r *http.Request, who desk.Actor, done string, do func(form string, run desk.ID, version int64) (desk.Run, error)) error {
	form, err := formOf(r)
	if err != nil {
		return err
	}
	version, err := seenVersion(r)
	if err != nil {
		return err
	}
	id := desk.ID(r.PathValue("run"))
	_, err = do(form, id, version)
	if err == nil {
		s.say(r, done)
		return s.goTo(w, r, "/desk/printing/runs/"+url.PathEscape(string(id)))
	}
	fields, crossed, rest := s.refused(r, err)
	if rest != nil {
		return rest
	}
	v, err := s.desk.RunView(r.Context(), who, id)
	if err != nil {
		return err
	}
	p := runViewOf(v)
	p.typed(r, fields)
	status := http.StatusUnprocessableEntity
	if crossed != nil {
		status, p.Crossed = http.StatusConflict, crossed
		if !p.Weighs {
			for name, values := range r.PostForm {
				if name != "form" && name != "version" && len(values) > 0 && values[0] != "" {
					crossed.Typed = append(crossed.Typed, Fact{p.label(name), values[0]})
				}
			}
		}
	}
	return show(s, w, r, status, runPage, p)
}

// label is what a field of the page is called.
func (p *runView) label(name string) string {
	for _, f := range append([]Field{p.Why, p.Blame}, p.Wasted...) {
		if f.Name == name {
			return f.Label
		}
	}
	if name == p.AnewWhy.Name {
		return p.AnewWhy.Label
	}
	for _, g := range p.Grams {
		for _, f := range g.Fields {
			if f.Name == name {
				return g.Title + ", " + f.Label
			}
		}
	}
	return name
}

// typed puts what was typed, and what is wrong with it, back into the page.
func (p *runView) typed(r *http.Request, sentences map[string]string) {
	back := func(fields ...*Field) {
		for _, f := range fields {
			if r.PostForm.Has(f.Name) {
				f.Value = r.PostForm.Get(f.Name)
			}
		}
		mark(sentences, fields...)
	}
	var all []Field
	if r.PostForm.Has("blame") || r.PostForm.Has("why") {
		p.Open = true
		p.Tell.Value = r.PostForm.Get("tell")
		back(&p.Why, &p.Blame)
		all = append(all, p.Why, p.Blame)
		for i := range p.Wasted {
			back(&p.Wasted[i])
			all = append(all, p.Wasted[i])
		}
	} else {
		grams := p.Grams
		if !p.Weighs {
			grams, p.OpenTo = p.Anew, "anew"
		}
		for i := range grams {
			for k := range grams[i].Fields {
				back(&grams[i].Fields[k])
				all = append(all, grams[i].Fields[k])
			}
		}
		back(&p.AnewWhy)
		all = append(all, p.AnewWhy)
	}
	if say := sentences["sure"]; say != "" {
		p.Sure = &Field{Name: "sure", Label: "I looked at the scale again, and it is right", Error: say}
		all = append(all, *p.Sure)
	}
	p.Errors = missed(all...)
}

func (s *Site) runFinish(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onRun(w, r, who, "It came out well. Now weigh it.", func(form string, run desk.ID, version int64) (desk.Run, error) {
		return s.desk.FinishRun(r.Context(), who, run, version, form)
	})
}

func (s *Site) runWeigh(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onRun(w, r, who, "Weighed. What is owed is worked out once all plates of a request are weighed.", func(form string, run desk.ID, version int64) (desk.Run, error) {
		v, err := s.desk.RunView(r.Context(), who, run)
		if err != nil {
			return desk.Run{}, err
		}
		f := desk.WeighForm{Form: form, Sure: r.PostFormValue("sure") != ""}
		missing := map[string]string{}
		for i := range v.Parts {
			g := map[string]float64{}
			for _, m := range v.Materials {
				name := fmt.Sprintf("grams-%d-%s", i, m)
				text := r.PostFormValue(name)
				if strings.TrimSpace(text) == "" {
					missing[name] = fmt.Sprintf("Weigh the %s of %s, and write 0 if there is none.", v.Names[m], v.Parts[i].Code)
				}
				g[m] = gramsIn(text)
			}
			f.Grams = append(f.Grams, g)
		}
		if len(missing) > 0 && v.Run.Version == version {
			return desk.Run{}, &desk.Fault{Kind: desk.Wrong, Say: "A weight is missing.", Fields: missing}
		}
		return s.desk.WeighRun(r.Context(), who, run, version, f)
	})
}

func (s *Site) runWeighAnew(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onRun(w, r, who, "Weighed anew. What is owed and the spools are put right; if the patron was told another price, write to them.", func(form string, run desk.ID, version int64) (desk.Run, error) {
		v, err := s.desk.RunView(r.Context(), who, run)
		if err != nil {
			return desk.Run{}, err
		}
		f := desk.WeighForm{Form: form, Sure: r.PostFormValue("sure") != "", Why: r.PostFormValue("anew-why")}
		for i := range v.Parts {
			var g map[string]float64 // none of it on the form: it stays
			for _, m := range v.Materials {
				if name := fmt.Sprintf("grams-%d-%s", i, m); r.PostForm.Has(name) {
					if g == nil {
						g = map[string]float64{}
					}
					g[m] = gramsIn(r.PostFormValue(name))
				}
			}
			f.Grams = append(f.Grams, g)
		}
		return s.desk.WeighAnew(r.Context(), who, run, version, f)
	})
}

func (s *Site) runFail(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	return s.onRun(w, r, who, "Noted. Print it again at once, or leave it waiting.", func(form string, run desk.ID, version int64) (desk.Run, error) {
		f := failOf(r)
		f.Form = form
		for name := range r.PostForm {
			if m, ok := strings.CutPrefix(name, "grams-"); ok && strings.TrimSpace(r.PostForm.Get(name)) != "" {
				f.Grams[m] = gramsIn(r.PostForm.Get(name))
			}
		}
		return s.desk.FailRun(r.Context(), who, run, version, f)
	})
}

func failOf(r *http.Request) desk.FailForm {
	return desk.FailForm{Why: r.PostFormValue("why"), Blame: desk.Blame(r.PostFormValue("blame")), Tell: r.PostFormValue("tell") != "", Grams: map[string]float64{}}
}
