package web

import (
	"net/http"

	"platebook/desk"
)

var printerWords = map[string]string{"name": "Name", "branch": "Branch", "model": "Model", "out_of_service": "Out of service", "retired": "Retired"}

func (s *Site) printersIndex(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	units, err := s.desk.Printers(r.Context(), "")
	if err != nil {
		return err
	}
	branches, err := s.desk.Branches(r.Context())
	if err != nil {
		return err
	}
	v := listView{Title: "Printers", Places: places(who, "printers"), OldSay: "Retired"}
	if who.Manages() {
		v.New, v.NewSay = "/desk/settings/printers/new", "A new printer"
	}
	for _, u := range units {
		if !who.May(u.Branch, desk.Operator) {
			continue
		}
		item := listItem{Path: "/desk/settings/printers/" + string(u.ID), Name: u.Name, Rest: branchName(u.Branch, branches) + ", " + u.Model, End: "in service"}
		if u.Out != "" {
			item.End = "out of service: " + u.Out
		}
		if u.Retired {
			item.End = ""
			v.Old = append(v.Old, item)
		} else {
			v.Items = append(v.Items, item)
		}
	}
	return show(s, w, r, http.StatusOK, listPage, v)
}

// printerParts asks operators only whether the printer is in service.
func (s *Site) printerParts(r *http.Request, who desk.Actor, u desk.PrinterUnit) ([]sheetPart, error) {
	set, err := s.desk.Settings(r.Context())
	if err != nil {
		return nil, err
	}
	c, err := desk.Catalogue(set)
	if err != nil {
		return nil, err
	}
	all, err := s.desk.Branches(r.Context())
	if err != nil {
		return nil, err
	}
	out := asked{"text", Field{Name: "out", Label: "Out of service because", Value: u.Out, Optional: true, Hint: "Empty while it prints. Nothing is started on it until this is emptied."}}
	if u.ID != "" && !who.May(u.Branch) {
		return []sheetPart{{Fields: []asked{out}}}, nil
	}
	var mine []desk.Branch
	for _, b := range all {
		if who.May(b.ID) && (!b.Shut || b.ID == u.Branch) {
			mine = append(mine, b)
		}
	}
	var models []Choice
	for _, p := range c.Printers {
		models = append(models, Choice{Value: p.ID, Label: p.Name})
	}
	parts := []sheetPart{{Fields: []asked{
		{"text", Field{Name: "name", Label: "What staff call it", Value: u.Name, Width: "mid"}},
		{"select", Field{Name: "branch", Label: "Branch", Value: string(u.Branch), Type: "select", Choices: branchChoices(mine)}},
		{"select", Field{Name: "model", Label: "Model", Hint: "One that is missing is added under Models and materials.", Value: u.Model, Type: "select", Choices: models}},
		out,
	}}}
	if u.ID != "" {
		f := Field{Name: "retired", Label: "Retired: it prints no more", Hint: "Its runs stay in the history."}
		if u.Retired {
			f.Value = "yes"
		}
		parts[0].Fields = append(parts[0].Fields, asked{"check", f})
	}
	return parts, nil
}

func (s *Site) aPrinter(r *http.Request, who desk.Actor) (sheet, desk.PrinterUnit, []desk.Setting, error) {
	v := sheet{Places: places(who, "printers"), Path: "/desk/settings/printers/" + r.PathValue("id"), Button: "Save the printer", Title: "A new printer"}
	if r.PathValue("id") == "new" {
		if !who.Manages() {
			return v, desk.PrinterUnit{}, nil, desk.Faultf(desk.NotYours, "New printers are for managers. Ask a manager of your branch.")
		}
		return v, desk.PrinterUnit{Branch: who.Home}, nil, nil
	}
	units, err := s.desk.Printers(r.Context(), "")
	if err != nil {
		return v, desk.PrinterUnit{}, nil, err
	}
	for _, u := range units {
		if string(u.ID) != r.PathValue("id") {
			continue
		}
		history, err := s.desk.PrinterHistory(r.Context(), who, u.ID)
		v.Title, v.Version, v.Seen = u.Name, u.Version, len(history)
		if len(history) > 0 {
			v.Saved, v.History = savedNote(history, s.zone(r)), v.Path+"/history"
		}
		return v, u, history, err
	}
	return v, desk.PrinterUnit{}, nil, notFound()
}

func (s *Site) printerForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, u, _, err := s.aPrinter(r, who)
	if err != nil {
		return err
	}
	if v.Parts, err = s.printerParts(r, who, u); err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) savePrinter(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, u, history, err := s.aPrinter(r, who)
	if err != nil {
		return err
	}
	form := u
	form.Out = r.PostFormValue("out")
	if form.Version = number64(r, "version"); u.ID != "" && form.Version == 0 {
		form.Version = -1 // a form without a version was not ours
	}
	if u.ID == "" || who.May(u.Branch) {
		form.Name, form.Branch, form.Model = r.PostFormValue("name"), desk.ID(r.PostFormValue("branch")), r.PostFormValue("model")
		form.Retired = u.ID != "" && r.PostFormValue("retired") != ""
	}
	saved, err := s.desk.SavePrinterUnit(r.Context(), who, form)
	if err == nil {
		s.say(r, saved.Name+" is saved.")
		return s.goTo(w, r, "/desk/settings/printers")
	}
	form.Branch = u.Branch // decides what is asked
	var broken error
	if v.Parts, broken = s.printerParts(r, who, form); broken != nil {
		return broken
	}
	if f := v.lookUp("branch"); f != nil {
		f.Value = r.PostFormValue("branch")
	}
	branches, broken := s.desk.Branches(r.Context())
	if broken != nil {
		return broken
	}
	return s.rowNotSaved(w, r, v, history, err, naming(printerWords, branchNames(branches)))
}

func branchNames(of []desk.Branch) map[string]string {
	names := map[string]string{}
	for _, b := range of {
		names[string(b.ID)] = b.Name
	}
	return names
}

func (s *Site) printerHistory(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, _, history, err := s.aPrinter(r, who)
	if err != nil {
		return err
	}
	branches, err := s.desk.Branches(r.Context())
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, historyPage, historyView{Title: v.Title, Places: v.Places, Back: v.Path,
		Entries: entries(history, s.zone(r), naming(printerWords, branchNames(branches)))})
}
