package web

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"platebook/desk"
)

// settingsRoutes are the pages of settings. What each role may see there the
// desk's calls decide; the list leaves out what would be refused.
func (s *Site) settingsRoutes() {
	s.staff("GET /desk/settings", s.settingsIndex)
	s.staff("GET /desk/settings/library", s.libraryForm)
	s.staff("POST /desk/settings/library", s.saveLibrary)
	s.staff("GET /desk/settings/rules", s.rulesForm)
	s.staff("POST /desk/settings/rules", s.saveRules)
	s.staff("GET /desk/settings/tariff", s.tariffForm)
	s.staff("POST /desk/settings/tariff", s.saveTariff)
	s.staff("GET /desk/settings/terms", s.termsForm)
	s.staff("POST /desk/settings/terms", s.saveTerms)
	s.staff("GET /desk/settings/texts", s.textsIndex)
	s.staff("GET /desk/settings/texts/{language}/{kind}", s.textForm)
	s.staff("POST /desk/settings/texts/{language}/{kind}", s.saveText)
	s.staff("GET /desk/settings/mail", s.mailForm)
	s.staff("POST /desk/settings/mail", s.saveMail)
	s.staff("GET /desk/settings/models", s.modelsIndex)
	s.staff("GET /desk/settings/models/text", s.profilesForm)
	s.staff("POST /desk/settings/models/text", s.saveProfiles)
	s.staff("GET /desk/settings/models/material/{id}", s.materialForm)
	s.staff("POST /desk/settings/models/material/{id}", s.saveMaterial)
	s.staff("GET /desk/settings/models/printer/{id}", s.modelForm)
	s.staff("POST /desk/settings/models/printer/{id}", s.saveModel)
	s.staff("GET /desk/settings/models/{what}/{id}/text", s.profileText)
	s.staff("GET /desk/settings/history/{kind}", s.settingHistory)
	s.staff("GET /desk/settings/branches", s.branchesIndex)
	s.staff("GET /desk/settings/branches/{id}", s.branchForm)
	s.staff("POST /desk/settings/branches/{id}", s.saveBranch)
	s.staff("GET /desk/settings/branches/{id}/history", s.branchHistory)
	s.staff("GET /desk/settings/printers", s.printersIndex)
	s.staff("GET /desk/settings/printers/{id}", s.printerForm)
	s.staff("POST /desk/settings/printers/{id}", s.savePrinter)
	s.staff("GET /desk/settings/printers/{id}/history", s.printerHistory)
	s.staff("GET /desk/settings/staff", s.staffIndex)
	s.staff("GET /desk/settings/staff/{id}", s.staffForm)
	s.staff("POST /desk/settings/staff/{id}", s.saveStaff)
	s.staff("POST /desk/settings/staff/{id}/word", s.resetPassword)
	s.staff("GET /desk/settings/staff/{id}/history", s.staffHistory)
	s.staff("GET /desk/settings/log-ins", s.logInsPage)
}

type settingsView struct {
	Places []place
	All    bool // sees all of it
}

var settingsPage = newPage[settingsView](forStaff, "settings_index.html")

// places lists the pages of settings someone may open; here is the path of
// the one shown.
func places(who desk.Actor, here string) []place {
	var all []place
	add := func(path, name, say string) {
		all = append(all, place{Path: "/desk/settings/" + path, Name: name, Say: say, Here: here == path})
	}
	if who.Everywhere() {
		add("library", "Library", "Name, languages, time zone, address")
	}
	if who.Manages() {
		add("branches", "Branches", "Opening hours and closed days")
	}
	add("printers", "Printers", "What stands where, and what is out of service")
	if who.Everywhere() {
		add("models", "Models and materials", "Printer models, materials and ways to print")
		add("tariff", "Tariff", "What a print costs")
		add("rules", "Rules", "What is accepted, how long things last, what is asked")
		add("terms", "Agreement", "What patrons accept before printing")
		add("texts", "Messages", "What is written to patrons")
		add("mail", "Mail", "The mailbox letters come to, and how answers go out")
	}
	if who.Manages() {
		add("staff", "Staff", "Accounts and roles")
	}
	if who.Everywhere() {
		add("log-ins", "Log-ins", "Who came in, and who tried")
	}
	return all
}

func (s *Site) settingsIndex(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v := settingsView{Places: places(who, ""), All: who.Everywhere()}
	if v.All {
		todo, err := s.todo(r.Context())
		if err != nil {
			return err
		}
		for i := range v.Places {
			v.Places[i].Todo = todo[strings.TrimPrefix(v.Places[i].Path, "/desk/settings/")]
		}
	}
	return show(s, w, r, http.StatusOK, settingsPage, v)
}

// todo says what a new library has still to settle before it can serve.
func (s *Site) todo(ctx context.Context) (map[string]string, error) {
	set, err := s.desk.Settings(ctx)
	if err != nil {
		return nil, err
	}
	branches, err := s.desk.Branches(ctx)
	if err != nil {
		return nil, err
	}
	units, err := s.desk.Printers(ctx, "")
	if err != nil {
		return nil, err
	}
	todo := map[string]string{}
	if set.Library.Contact == "" {
		todo["library"] = "Write how patrons reach the desk."
	}
	if set.Versions[desk.TariffSetting] < 2 {
		todo["tariff"] = "The rates are examples: put your own in."
	}
	if set.Versions[desk.RulesSetting] == 0 {
		todo["rules"] = "These come with the program: look whether they are yours."
	}
	if len(set.Terms.Text) == 0 {
		todo["terms"] = "There is no text yet, so nobody can agree to anything."
	}
	if !slices.ContainsFunc(units, func(u desk.PrinterUnit) bool { return !u.Retired }) {
		todo["printers"] = "There is no printer yet."
	}
	if i := slices.IndexFunc(branches, func(b desk.Branch) bool { return !b.Shut && neverOpen(b) }); i >= 0 {
		todo["branches"] = fmt.Sprintf("%s has no opening hours.", branches[i].Name)
	}
	return todo, nil
}

func neverOpen(b desk.Branch) bool {
	for _, day := range b.Hours {
		if len(day) > 0 {
			return false
		}
	}
	return true
}

// kindWords name the documents, and the keys in them, in the words of their
// pages.
var kindWords = map[desk.SettingKind]struct {
	title, back string
	words       map[string]string
}{
	desk.LibrarySetting:  {"Library", "library", libraryWords},
	desk.RulesSetting:    {"Rules", "rules", ruleWords},
	desk.TariffSetting:   {"Tariff", "tariff", tariffWords},
	desk.TermsSetting:    {"Agreement", "terms", map[string]string{"text": "Text"}},
	desk.TextsSetting:    {"Messages", "texts", textWords},
	desk.MailSetting:     {"Mail", "mail", mailWords},
	desk.ProfilesSetting: {"Models and materials", "models", map[string]string{"toml": "Text"}},
}

func (s *Site) settingHistory(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	kind := desk.SettingKind(r.PathValue("kind"))
	words, ok := kindWords[kind]
	if !ok {
		return notFound()
	}
	history, err := s.desk.SettingHistory(r.Context(), who, kind)
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, historyPage, historyView{
		Title: words.title, Places: places(who, words.back), Back: "/desk/settings/" + words.back,
		Entries: entries(history, s.zone(r), naming(words.words, nil)),
	})
}

// settingSheet begins the page of a document: its version, who saved it, and
// what comes of a form that was overtaken.
func (s *Site) settingSheet(r *http.Request, who desk.Actor, kind desk.SettingKind) (sheet, desk.Settings, []desk.Setting, error) {
	history, err := s.desk.SettingHistory(r.Context(), who, kind)
	if err != nil {
		return sheet{}, desk.Settings{}, nil, err
	}
	set, err := s.desk.Settings(r.Context())
	if err != nil {
		return sheet{}, desk.Settings{}, nil, err
	}
	words := kindWords[kind]
	v := sheet{Title: words.title, Places: places(who, words.back), Path: "/desk/settings/" + words.back, Button: "Save",
		Version: int64(len(history)), Seen: len(history), Saved: savedNote(history, set.Library.TimeZone)}
	if len(history) > 0 {
		v.History = "/desk/settings/history/" + string(kind)
	}
	return v, set, history, nil
}

// notSaved shows a sheet again after it could not be saved; v has what was
// typed in it.
func (s *Site) notSaved(w http.ResponseWriter, r *http.Request, v sheet, kind desk.SettingKind, history []desk.Setting, err error) error {
	if desk.KindOf(err) == desk.Stale {
		v.meanwhile(history, int(number64(r, "seen")), int64(len(history)), s.zone(r), naming(kindWords[kind].words, nil))
	} else {
		v.Version, v.Seen = number64(r, "version"), int(number64(r, "seen"))
	}
	if !v.fault(err) {
		return err
	}
	return show(s, w, r, statusOf(desk.KindOf(err)), sheetPage, v)
}

// saved goes on after something was saved.
func (s *Site) saved(w http.ResponseWriter, r *http.Request, before, now int, path string) error {
	if before == now {
		s.say(r, "Nothing was different, so nothing was saved.")
	} else {
		s.say(r, fmt.Sprintf("Saved as version %d.", now))
	}
	return s.goTo(w, r, path)
}
