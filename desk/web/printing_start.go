package web

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"platebook/desk"
)

// Crossed is what someone sees whose form met another's work.
type Crossed struct {
	Say   string
	Since []Told
	Typed []Fact // what was typed and has no field any more
}

// refused sorts why a form was not taken: fields to mend, or something another
// did meanwhile. Anything else comes back as the error it is.
func (s *Site) refused(r *http.Request, err error) (fields map[string]string, crossed *Crossed, rest error) {
	var f *desk.Fault
	if !errors.As(err, &f) {
		return nil, nil, err
	}
	switch {
	case f.Kind == desk.Wrong && len(f.Fields) > 0:
		return f.Fields, nil, nil
	case f.Kind == desk.Stale:
		return nil, &Crossed{Say: f.Say, Since: told(f.Since, s.zone(r))}, nil
	}
	return nil, nil, err
}

type startView struct {
	Errors   []Missed
	Crossed  *Crossed
	Plates   []startPlate
	Total    []Fact
	Printer  Field
	Spools   []Field
	Grave    []string // warnings that need a reason
	Warnings []string
	Seen     string // the warnings shown, so that new ones are shown before it starts
	New      bool   // what is shown was not seen before: look, then press again
	Anyway   *Field
	Trouble  string   // why it cannot start as it stands
	reels    []string // material of every second of Spools
}

type startPlate struct {
	plateLine
	Keyed []Fact
}

var startPage = newPage[startView](forStaff, "printing_start.html")

// startOf reads the form of a start, from an address or from a body.
func startOf(v url.Values) desk.StartForm {
	f := desk.StartForm{Form: v.Get("form"), Printer: desk.ID(v.Get("printer")), Parts: refsOf(v["plate"]), Anyway: v.Get("anyway")}
	for _, id := range v["spool"][:min(len(v["spool"]), 20)] {
		if id != "" {
			f.Spools = append(f.Spools, desk.ID(id))
		}
	}
	return f
}

func (s *Site) startAsk(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	p, err := s.desk.StartPage(r.Context(), who, startOf(r.URL.Query()))
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, startPage, startViewOf(p))
}

func (s *Site) startDo(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	form, err := formOf(r)
	if err != nil {
		return err
	}
	f := startOf(r.PostForm)
	f.Form = form
	again := func(status int, fields map[string]string, crossed *Crossed, isNew bool) error {
		p, err := s.desk.StartPage(r.Context(), who, f)
		if err != nil {
			return err
		}
		v := startViewOf(p)
		v.Crossed, v.New = crossed, isNew
		v.mark(fields)
		return show(s, w, r, status, startPage, v)
	}
	if r.PostForm.Get("look") != "" {
		return again(http.StatusOK, nil, nil, false)
	}
	_, warnings, err := s.desk.TryRun(r.Context(), who, f)
	if err == nil && !seen(warnings, r.PostForm.Get("seen")) {
		return again(http.StatusUnprocessableEntity, nil, nil, true)
	}
	run, _, err := s.desk.StartRun(r.Context(), who, f)
	if err != nil {
		fields, crossed, err := s.refused(r, err)
		if err != nil {
			return err
		}
		status := http.StatusUnprocessableEntity
		if crossed != nil {
			status = http.StatusConflict
		}
		return again(status, fields, crossed, false)
	}
	s.say(r, "The run has started.")
	return s.goTo(w, r, "/desk/printing/runs/"+url.PathEscape(string(run.ID)))
}

// seen says whether each warning is among the kinds that were shown.
func seen(all []desk.Warning, kinds string) bool {
	shown := strings.Split(kinds, ",")
	return !slices.ContainsFunc(all, func(w desk.Warning) bool { return !slices.Contains(shown, w.Kind) })
}

func startViewOf(p desk.StartPage) startView {
	v := startView{}
	for _, plate := range p.Plates {
		sp := startPlate{plateLine: plateOf(plate, local(p.Now, p.Zone))}
		for _, k := range plate.Keyed {
			sp.Keyed = append(sp.Keyed, Fact{k.Name, k.Value})
		}
		v.Plates = append(v.Plates, sp)
	}
	v.Printer = Field{Name: "printer", Label: "Printer", Value: string(p.Form.Printer), Error: ""}
	for _, n := range p.Printers {
		c := Choice{Value: string(n.Printer.ID), Label: fmt.Sprintf("%s, at %s", n.Printer.Name, p.Branches[n.Printer.Branch]), Hint: "Free"}
		switch {
		case n.Printer.Out != "":
			c.Hint = "Out of service: " + n.Printer.Out
		case n.Run != nil:
			c.Hint = "Printing: " + lineOf(*n.Run).Progress
		}
		v.Printer.Choices = append(v.Printer.Choices, c)
	}
	for _, c := range p.Reels {
		if p.Form.Printer == "" {
			break // which spools there are depends on where it stands
		}
		v.reels = append(v.reels, c.Material)
		v.Spools = append(v.Spools, spoolFields(c, p.Form.Spools, len(v.Spools))...)
	}
	if !p.Run.Expect.IsZero() {
		end := local(p.Run.Expect, p.Zone)
		v.Total = []Fact{{"Takes", lasting(p.Run.Expect.Sub(p.Run.Started).Seconds())}, {"Should end", "at " + clock(end) + ", " + day(end)}}
		if end.Format(time.DateOnly) == local(p.Now, p.Zone).Format(time.DateOnly) {
			v.Total[1].Say = "today at " + clock(end)
		}
	}
	var kinds []string
	for _, w := range p.Warnings {
		if w.Reason {
			v.Grave = append(v.Grave, w.Say)
		} else {
			v.Warnings = append(v.Warnings, w.Say)
		}
		kinds = append(kinds, w.Kind)
	}
	v.Seen = strings.Join(kinds, ",")
	if len(v.Grave) > 0 || p.Form.Anyway != "" {
		v.Anyway = &Field{Name: "anyway", Label: "Why it is to start all the same", Value: p.Form.Anyway, Rows: 2,
			Hint: "Kept in the history of the requests."}
	}
	if p.Trouble != nil {
		v.Trouble = p.Trouble.Say
		v.mark(p.Trouble.Fields)
	}
	return v
}

// spoolFields are the two questions for a material: which spool, and which
// one goes on when it ends.
func spoolFields(c desk.ReelChoice, chosen []desk.ID, n int) []Field {
	first := Field{Name: "spool", Label: fmt.Sprintf("Spool of %s, for %s", c.Name, grams(c.Grams)), Type: "select"}
	next := Field{Name: "spool", Label: fmt.Sprintf("And when it ends, of %s", c.Name), Type: "select", Optional: true,
		Choices: []Choice{{Value: "", Label: "None: it is enough"}}}
	if len(c.Spools) == 0 {
		first.Choices = []Choice{{Value: "", Label: "There is none here"}}
	}
	var mine []desk.ID
	for _, s := range c.Spools {
		label := fmt.Sprintf("%s, %s, %s left", s.Name, s.Colour, grams(s.Grams))
		if s.Promised >= 0.5 {
			label += fmt.Sprintf(", of which %s promised", grams(s.Promised))
		}
		if s.In != "" {
			label += ", in " + s.In
		}
		choice := Choice{Value: string(s.ID), Label: label}
		first.Choices, next.Choices = append(first.Choices, choice), append(next.Choices, choice)
	}
	for _, id := range chosen {
		if slices.ContainsFunc(c.Spools, func(s desk.SpoolNow) bool { return s.ID == id }) {
			mine = append(mine, id)
		}
	}
	if len(mine) > 0 {
		first.Value = string(mine[0])
	}
	if len(mine) > 1 {
		next.Value = string(mine[1])
	}
	first.Key, next.Key = fmt.Sprint("spool-", n), fmt.Sprint("spool-", n+1)
	return []Field{first, next}
}

// mark puts sentences where they belong.
func (v *startView) mark(sentences map[string]string) {
	mark(sentences, &v.Printer)
	if v.Anyway != nil {
		mark(sentences, v.Anyway)
	}
	if len(v.Spools) > 0 {
		mark(sentences, &v.Spools[0])
	}
	for i, m := range v.reels {
		if say := sentences["spool-"+m]; say != "" {
			v.Spools[2*i].Error = say
		}
	}
	fields := append([]Field{v.Printer}, v.Spools...)
	if v.Anyway != nil {
		fields = append(fields, *v.Anyway)
	}
	v.Errors = missed(fields...)
	if say := sentences["plate"]; say != "" {
		v.Errors = append([]Missed{{Target: "plates", Say: say}}, v.Errors...)
	}
	if len(v.Errors) > 0 {
		v.Trouble = ""
	}
}
