package web

import (
	"net/http/httptest"
	"net/url"
	"strings"
	"time"

	"platebook/desk"
)

func init() {
	boss := desk.Actor{Kind: desk.ByStaff, ID: "b", Name: "Rowan", Grants: []desk.Grant{{Role: desk.Manager}}}
	set := desk.Settings{Versions: map[desk.SettingKind]int{}, Rules: desk.DefaultRules(), Terms: desk.Terms{Text: map[string]string{"en": "You agree to pay.\n\nAnd to collect."}},
		Library: desk.Library{Name: "Larkmere Libraries", Locale: "en-IE", TimeZone: "Europe/Dublin", Languages: []string{"en", "fr"}, Contact: "Ask at the desk.", Address: "https://print.larkmere.example"},
		Texts:   desk.DefaultTexts()}
	catalogue, err := desk.Catalogue(set)
	if err != nil {
		panic(err)
	}
	if set.Tariff, err = catalogue.Tariff(catalogue.Rules.Tariff); err != nil {
		panic(err)
	}
	changes := []changed{{"Days a quote stands", "14", "10"}, {"Cautions", "", "Not for <aquaria>.\nNot for bicycles."}, {"Questions, weapon, help", "Ask.", ""}}
	a := func(title, here string, parts []sheetPart) sheet {
		return sheet{Title: title, Places: places(boss, here), Path: "/desk/settings/" + here, Button: "Save", Version: 3, Seen: 3, Parts: parts,
			Saved: "Version 3, saved by Rowan on 4 May 2026, 10:00.", History: "/desk/settings/history/" + here}
	}
	must := func(parts []sheetPart, err error) []sheetPart {
		if err != nil {
			panic(err)
		}
		return parts
	}

	in := aLogIn("/desk/settings")
	in.Say = "Your log-in is over, because time ran out or your account was changed. Log in again to go on."
	example(logInPage, "over", in)
	in.Say, in.Name.Value, in.Name.Error = "", "rowan", "The name or the password is not right. Check both and try again."
	in.Errors = missed(in.Name)
	example(logInPage, "wrong", in)
	example(overPage, "a letter", overView{Path: "/desk/r/K7-204/write", Kept: []Fact{{"form", "AAAABBBBCCCCDDDDEEEE"}, {"write-text", "The lid is thin.\n\nShall we print it all the same?"}},
		Typed: []Fact{{"write-text", "The lid is thin.\n\nShall we print it all the same?"}}})

	run := aFirst(httptest.NewRequest("GET", "https://desk.example/first", nil))
	example(firstPage, "new", run)
	run.Word.Error, run.Password.Error = "This is not the set-up word. It is printed where the desk was started; a new one comes with each start.", "Too short: it needs at least 12 characters."
	run.Errors = missed(run.Word, run.Password)
	example(firstPage, "wrong", run)

	mine := meView{Version: 2, LogIn: "rowan", Roles: []string{"operator at Millgate", "reviewer at all branches"},
		Called: Field{Name: "called", Label: "Your name, as patrons and colleagues see it", Value: "Rowan"},
		Home:   Field{Name: "home", Label: "Branch you begin at", Value: "m", Type: "select", Choices: []Choice{{Value: "m", Label: "Millgate"}}},
		Old:    Field{Name: "old", Label: "Present password", Type: "password"}, New: newPassword("password", "New password"),
		Again: Field{Name: "again", Label: "The new password again", Type: "password"}}
	example(mePage, "usual", mine)
	mine.MustRenew = true
	example(mePage, "with a one-time word", mine)

	index := settingsView{Places: places(boss, ""), All: true}
	index.Places[4].Todo = "The rates are examples: put your own in."
	example(settingsPage, "manager", index)
	example(settingsPage, "operator", settingsView{Places: places(desk.Actor{Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Operator}}}, "")})

	example(sheetPage, "library", a("Library", "library", libraryParts(set.Library)))
	example(sheetPage, "rules", a("Rules", "rules", must(rulesParts(set.Rules, set))))
	overtaken := a("Rules", "rules", must(rulesParts(set.Rules, set)))
	overtaken.Since = &since{Say: "Ash saved this on 4 May 2026, 10:05, while you had it open. What you typed is all still below. What they changed is listed here; if you save now, what you typed replaces it.", Changes: changes}
	overtaken.lookUp("quote_days").Error = "Days a quote stands must be from 1 to 365."
	overtaken.Errors = missed(*overtaken.lookUp("quote_days"))
	example(sheetPage, "overtaken", overtaken)
	example(sheetPage, "terms", a("Agreement", "terms", termsParts(set.Terms, set)))
	example(sheetPage, "profiles", a("Models and materials", "models", profilesParts("[material.pla]\ndensity_g_cm3 = 1.25\n")))
	example(sheetPage, "printer model", a("A new printer model", "models", modelSheetParts(catalogue.Printers[1], true, catalogue.Catalogue)))
	example(sheetPage, "material", a("Material: PLA", "models", materialParts(catalogue.Materials[0], false, nil)))
	b := desk.Branch{ID: "m", Name: "Millgate", Place: "ground floor", Closed: []desk.ClosedDay{{Date: "2026-12-25", Why: "Christmas Day"}}}
	b.Hours[1] = []desk.Span{{From: 600, To: 780}, {From: 840, To: 1080}}
	hours, closed := saidBranch(b)
	example(sheetPage, "branch", a("Millgate", "branches", branchParts(b, hours, closed, true)))
	example(sheetPage, "mail", a("Mail", "mail", mailParts(mailForm{MailSettings: desk.MailSettings{On: true, In: desk.MailServer{Address: "mail.example.org:993", Sealed: "x"}}}, []desk.Branch{b})))

	money := tariffView{Sheet: a("Tariff", "tariff", must(tariffParts(set.Tariff, set)))}
	money.example(httptest.NewRequest("GET", "/", nil), set.Tariff, set)
	example(tariffPage, "saved", money)
	bad := httptest.NewRequest("POST", "/", strings.NewReader(url.Values{"try-grams": {"-1"}}.Encode()))
	bad.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	money.Price = nil
	money.example(bad, set.Tariff, set)
	example(tariffPage, "no price", money)

	texts := textsView{Sheet: a("Messages", "texts", nil)}
	texts.Sheet.Path = ""
	texts.Languages = []textLanguage{{"English", []textLink{{"/desk/settings/texts/en/ready", "Ready on the hold shelf", "{{.Code}} is ready", "your own"}}}}
	example(textsPage, "one", texts)
	t := desk.DefaultTexts()["en"][desk.TextReady]
	one := textView{Sheet: a("Ready on the hold shelf, in English", "texts", nil), Own: true, Fill: fillIns,
		Subject: Field{Name: "subject", Label: "Subject", Value: t.Subject}, Body: Field{Name: "body", Label: "Text", Value: t.Body, Rows: 18},
		Code: Field{Name: "code", Label: "Preview for a real request", Width: "short", Optional: true}}
	if err := one.preview(set, "en", desk.TextReady, t); err != nil {
		panic(err)
	}
	one.Code = Field{Name: "code", Label: "Preview for a real request", Hint: "Its code, like K7-204.", Width: "short", Optional: true}
	example(textPage, "own", one)

	models := modelsView{Sheet: a("Models and materials", "models", nil)}
	models.Materials = []modelLink{{"PLA", "1.24 g/cm³, 1.75 mm filament", "changed here", "/desk/settings/models/material/pla", "/desk/settings/models/material/pla/text"}}
	models.Printers = []modelLink{{"A model", "builds up to 200 × 200 × 180 mm, nozzle 0.4 mm", "as it comes", "", "/desk/settings/models/printer/a/text"}}
	models.Ways = []modelLink{{"Usual", "layers of 0.2 mm, 15 % filled, 2 shells", "your own", "", "/desk/settings/models/way/usual/text"}}
	example(modelsPage, "some", models)
	text, err := desk.ProfileText(catalogue.Printers[0])
	if err != nil {
		panic(err)
	}
	example(profileTextPage, "printer", profileTextView{catalogue.Printers[0].Name, places(boss, "models"), text, text})

	example(historyPage, "two versions", historyView{Title: "Rules", Places: places(boss, "rules"), Back: "/desk/settings/rules", Entries: []historyEntry{
		{Version: 2, Who: "Ash", At: time.Date(2026, 5, 4, 10, 5, 0, 0, time.UTC), Changes: changes},
		{Version: 1, Who: "Rowan", At: time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC), First: true, Changes: changes[:1]}}})
	example(listPage, "staff", listView{Title: "Staff", Places: places(boss, "staff"), New: "/desk/settings/staff/new", NewSay: "A new account", OldSay: "Closed accounts",
		Items: []listItem{{"/desk/settings/staff/1", "Ash", "operator at Millgate; has a one-time word", "ash"}}, Old: []listItem{{"/desk/settings/staff/2", "Elm", "no roles", "elm"}}})
	site := &Site{}
	person := desk.Staff{ID: "p", Name: "ash", Called: "Ash", Grants: []desk.Grant{{Role: desk.Operator, Branch: "m"}, {Role: desk.Reviewer}}, Active: true}
	account := staffView{Sheet: a("Ash", "staff", site.staffParts(boss, person, []desk.Branch{b})), Reset: "/desk/settings/staff/p/word", Days: 3}
	account.Sheet.Lead = "Logs in as ash."
	example(staffPage, "account", account)
	example(staffPage, "word", staffView{Sheet: sheet{Title: "Ash", Lead: "Logs in as ash.", Places: places(boss, "staff")}, Word: "KXPR-TVYA-BCDE-FHJM", Days: 3})
	example(logInsPageOf, "two", logInsView{Places: places(boss, "log-ins"), Name: Field{Name: "name", Label: "Only of this name", Optional: true}, Days: 90, More: true, Lines: []logInLine{
		{time.Date(2026, 5, 4, 10, 5, 0, 0, time.UTC), "rowan", "192.0.2.1", "logged in", true},
		{time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC), "<script>", "2001:db8:1:2::/64", "refused: no such name", false}}})
}
