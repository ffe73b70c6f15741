package web

import (
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"platebook/desk"
	"platebook/engine/quote"
)

var ruleWords = map[string]string{
	"formats": "Kinds of file accepted", "max_file": "Largest file", "max_files": "Files of one request, at most", "max_copies": "Copies, at most",
	"longest_print": "Longest print", "per_month": "Requests of one patron in a month, at most", "quote_days": "Days a quote stands",
	"pickup_days": "Days on the hold shelf", "remind_days": "Days before the end a reminder is sent", "attempts": "Attempts at one plate",
	"patron_pays": "Failed runs the patron pays the material of", "age": "Age below which a guardian agrees",
	"keep_days": "Days until a request is forgotten", "audit_days": "Days log-ins are kept", "final_price": "What is charged",
	"reserve_g": "Reserve on a spool", "questions": "Questions staff answer", "cautions": "Cautions", "usual": "Ways start from",
	"usual.printer": "printer model", "usual.material": "material", "usual.way": "way", "id": "short name", "help": "help",
}

// spare is how many empty rows a list of rows ends with.
const spare = 2

func rulesParts(x desk.Rules, set desk.Settings) ([]sheetPart, error) {
	c, err := desk.Catalogue(set)
	if err != nil {
		return nil, err
	}
	whole := func(name string, v int, unit, hint string) asked {
		return asked{"text", Field{Name: name, Label: ruleWords[name], Value: strconv.Itoa(v), Unit: unit, Hint: hint, Mode: "numeric", Width: "short"}}
	}
	longest, err := x.Longest.MarshalText()
	if err != nil {
		return nil, err
	}
	formats := Field{Name: "formats", Label: ruleWords["formats"]}
	for _, f := range desk.DefaultRules().Formats {
		formats.Choices = append(formats.Choices, Choice{Value: f, Label: strings.ToUpper(f), Chosen: slices.Contains(x.Formats, f)})
	}
	pays := Field{Name: "patron_pays", Label: ruleWords["patron_pays"], Hint: "Without any, failed runs are the library’s."}
	for _, b := range []struct {
		blame desk.Blame
		say   string
	}{{desk.MachineBlame, "The machine failed: printer, material, power"}, {desk.DesignBlame, "The model could not be printed as sent"}, {desk.PeopleBlame, "It was set up wrongly"}} {
		pays.Choices = append(pays.Choices, Choice{Value: string(b.blame), Label: b.say, Chosen: slices.Contains(x.PatronPays, b.blame)})
	}
	usual := func(name, value string, choices []Choice) asked {
		return asked{"select", Field{Name: "usual_" + name, Label: strings.ToUpper(ruleWords["usual."+name][:1]) + ruleWords["usual."+name][1:], Value: value, Type: "select",
			Choices: append([]Choice{{Label: "None in particular"}}, choices...)}}
	}
	var printers, materials, ways []Choice
	for _, p := range c.Printers {
		printers = append(printers, Choice{Value: p.ID, Label: p.Name})
	}
	for _, m := range c.Materials {
		materials = append(materials, Choice{Value: m.ID, Label: m.Name})
	}
	for _, p := range c.Ways {
		ways = append(ways, Choice{Value: p.ID, Label: p.Name})
	}
	parts := []sheetPart{
		{Title: "What is accepted", Fields: []asked{{"checks", formats}}},
		{Row: true, Fields: []asked{
			{"text", Field{Name: "max_file", Label: ruleWords["max_file"], Value: plainNumber(float64(x.MaxFile) / 1e6), Unit: "MB", Mode: "decimal", Width: "short"}},
			whole("max_files", x.MaxFiles, "", ""),
			whole("max_copies", x.MaxCopies, "", ""),
			whole("per_month", x.PerMonth, "", "In a calendar month, by mail address. 0 sets no limit."),
			{"text", Field{Name: "longest_print", Label: ruleWords["longest_print"], Value: string(longest), Width: "short", Hint: "Of one run, like 6h or 5h30m. What takes longer is laid out on several plates or not offered. 0s sets no limit."}},
		}},
		{Title: "How long things last", Row: true, Fields: []asked{
			whole("quote_days", x.QuoteDays, "days", "Then it lapses if the patron has not answered."),
			whole("pickup_days", x.PickupDays, "days", "Then the print counts as never collected."),
			whole("remind_days", x.RemindDays, "days", "Of a quote and of the hold shelf. 0 sends none."),
			whole("keep_days", x.KeepDays, "days", "After it came to its end. Then contact, messages and files go; counts stay. Ask what your law wants."),
			whole("audit_days", x.AuditDays, "days", "Who logged in, when and from where; failed tries too."),
		}},
		{Title: "Who agrees, and who pays", Row: true, Fields: []asked{
			whole("age", x.Age, "years", "Local law says it: mostly 13 to 16. 0 asks for no guardian."),
			whole("attempts", x.Attempts, "", "Runs of one plate before staff decide whether to give it up."),
		}},
		{Fields: []asked{
			{"radios", Field{Name: "final_price", Label: ruleWords["final_price"], Value: string(x.FinalPrice), Choices: []Choice{
				{Value: string(desk.AsQuoted), Label: "The price agreed to"},
				{Value: string(desk.AsWeighed), Label: "The price of what was weighed"},
				{Value: string(desk.TheLower), Label: "The lower of the two"}}}},
			{"checks", pays},
		}},
		{Title: "At the printers", Row: true, Fields: []asked{
			{"text", Field{Name: "reserve_g", Label: ruleWords["reserve_g"], Value: plainNumber(x.Reserve), Unit: "g", Mode: "decimal", Width: "short", Hint: "A warning comes before a spool would be run below this."}},
			usual("printer", x.Usual.Printer, printers), usual("material", x.Usual.Material, materials), usual("way", x.Usual.Way, ways),
		}},
		{Title: "Cautions", Fields: []asked{{"area", Field{Name: "cautions", Label: "Shown to patrons before they agree", Value: joined(x.Cautions), Rows: 9,
			Hint: "One a line. Those that come with the program are shown in the patron’s language; your own as you write them. Where a print could hurt someone, local rules and advice come first."}}}},
	}
	return append(parts, questionParts(x.Questions)...), nil
}

func questionParts(questions []desk.Question) []sheetPart {
	var parts []sheetPart
	shortHint := "Answers are kept under it: small letters, digits and hyphens."
	for i := range len(questions) + spare {
		var q desk.Question
		title := "Another question"
		if i < len(questions) {
			q, title = questions[i], fmt.Sprintf("Question %d", i+1)
		} else if i > len(questions) {
			title = "One more"
		}
		say := ""
		if i == 0 {
			say = "Staff answer each before a request is quoted, with a reason where it is not fine. Empty a question’s text to take it out."
		}
		name := func(what string) string { return fmt.Sprintf("question-%d-%s", i, what) }
		parts = append(parts, sheetPart{Title: title, Say: say, Fields: []asked{
			{"text", Field{Name: name("text"), Label: "Question", Value: q.Text, Hint: "So that yes means it is fine."}},
		}}, sheetPart{Row: true, Fields: []asked{
			{"text", Field{Name: name("help"), Label: "What to look at", Value: q.Help, Optional: true}},
			{"text", Field{Name: name("id"), Label: "Short name", Value: q.ID, Width: "mid", Hint: shortHint}},
		}})
		shortHint = ""
	}
	return parts
}

func (s *Site) rulesForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.settingSheet(r, who, desk.RulesSetting)
	if err != nil {
		return err
	}
	if v.Parts, err = rulesParts(set.Rules, set); err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) saveRules(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, history, err := s.settingSheet(r, who, desk.RulesSetting)
	if err != nil {
		return err
	}
	t := typedIn(r)
	x := typedRules(t, set.Rules)
	version := int(number64(r, "version"))
	var now int
	if len(t.wrong) == 0 {
		if now, err = s.desk.SaveSetting(r.Context(), who, desk.RulesSetting, version, x); err == nil {
			return s.saved(w, r, version, now, v.Path)
		}
	}
	err = t.fault(err)
	var broken error
	if v.Parts, broken = rulesParts(x, set); broken != nil {
		return broken
	}
	for i := range v.Parts { // as it was typed, also where it cannot be read
		for j := range v.Parts[i].Fields {
			if f := &v.Parts[i].Fields[j]; f.As == "text" && r.PostForm.Has(f.Name) {
				f.Value = r.PostFormValue(f.Name)
			}
		}
	}
	return s.notSaved(w, r, v, desk.RulesSetting, history, atQuestion(err, x.Questions))
}

// typedRules reads the form over the rules as they are.
func typedRules(t *typed, x desk.Rules) desk.Rules {
	x.Formats, x.MaxFile, x.MaxFiles, x.MaxCopies = t.all("formats"), int64(math.Round(t.number("max_file")*1e6)), t.whole("max_files"), t.whole("max_copies")
	x.PerMonth, x.QuoteDays, x.PickupDays, x.RemindDays = t.whole("per_month"), t.whole("quote_days"), t.whole("pickup_days"), t.whole("remind_days")
	x.KeepDays, x.AuditDays, x.Age, x.Attempts = t.whole("keep_days"), t.whole("audit_days"), t.whole("age"), t.whole("attempts")
	x.FinalPrice, x.Reserve, x.Cautions = desk.FinalPrice(t.text("final_price")), t.number("reserve_g"), splitLines(t.text("cautions"))
	x.Usual = desk.Usual{Printer: t.text("usual_printer"), Material: t.text("usual_material"), Way: t.text("usual_way")}
	x.PatronPays, x.Questions = nil, nil
	var long quote.Length
	if err := long.UnmarshalText([]byte(strings.TrimSpace(t.text("longest_print")))); err != nil {
		t.wrong["longest_print"] = "Write a length of time like 6h or 5h30m, and 0s for no limit."
	}
	x.Longest = long
	for _, b := range t.all("patron_pays") {
		x.PatronPays = append(x.PatronPays, desk.Blame(b))
	}
	for i := range 40 {
		q := desk.Question{ID: strings.TrimSpace(t.text(fmt.Sprintf("question-%d-id", i))), Text: t.text(fmt.Sprintf("question-%d-text", i)), Help: t.text(fmt.Sprintf("question-%d-help", i))}
		if strings.TrimSpace(q.Text) != "" {
			x.Questions = append(x.Questions, q)
		}
	}
	return x
}

// atQuestion puts what is wrong with the questions at the one it is about.
func atQuestion(err error, questions []desk.Question) error {
	f := faultOf(err)
	say := f.Fields["questions"]
	if say == "" {
		return err
	}
	at := 0
	for i, q := range questions {
		if strings.Contains(say, fmt.Sprintf("uestion %d ", i+1)) || strings.Contains(say, fmt.Sprintf("%q", q.ID)) {
			at = i
		}
	}
	delete(f.Fields, "questions")
	f.Fields[fmt.Sprintf("question-%d-id", at)] = say
	return f
}
