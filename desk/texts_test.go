package desk

import (
	"strings"
	"testing"
	"time"

	"platebook/engine/findings"
	"platebook/engine/quote"
	"platebook/engine/say"
	"platebook/engine/tariff"
)

func someSettings(t testing.TB) Settings {
	t.Helper()
	s := Settings{Versions: map[SettingKind]int{}, Library: Default(LibrarySetting).(Library), Rules: DefaultRules(),
		Tariff: Default(TariffSetting).(tariff.Tariff), Texts: DefaultTexts()}
	s.Library.Name, s.Library.Locale, s.Library.Address = "Larkmere Libraries", "en-GB", "https://desk.larkmere.example"
	s.Library.Languages, s.Library.TimeZone = []string{"en", "fr"}, "Europe/Paris"
	s.Library.Contact = "prints@larkmere.example, or at the desk"
	return s
}

// Every kind in every language, each of which can be sent as it stands.
func TestTextsAreComplete(t *testing.T) {
	s := someSettings(t)
	texts := DefaultTexts()
	for _, language := range []string{"en", "fr"} {
		for _, kind := range TextKinds() {
			text, ok := texts[language][kind]
			if !ok || text.Subject == "" || text.Body == "" {
				t.Errorf("%s has no text %q", language, kind)
				continue
			}
			subject, body, err := PreviewText(s, language, kind, text)
			if err != nil {
				t.Errorf("%s %s: %v", language, kind, err)
				continue
			}
			for what, want := range map[string]string{"code": "K7-204", "link": "https://desk.larkmere.example" + PatronPath("example-only"), "library": "Larkmere Libraries"} {
				if !strings.Contains(subject+body, want) {
					t.Errorf("%s %s does not give the %s:\n%s", language, kind, what, body)
				}
			}
			if strings.Contains(body, "<") || strings.Contains(body, "{{") || strings.Contains(body, "no value") || strings.Contains(body, "\n\n\n") {
				t.Errorf("%s %s was filled in badly:\n%s", language, kind, body)
			}
		}
		if n := len(texts[language]); n != len(TextKinds()) {
			t.Errorf("%s has %d texts, there are %d kinds", language, n, len(TextKinds()))
		}
	}
	if err := CheckTexts(s, texts); err != nil {
		t.Error(err)
	}
}

// A library that rewrote a text in one language writes the patrons of another in
// theirs still.
func TestATextInThePatronsLanguage(t *testing.T) {
	s := someSettings(t)
	own := Text{"{{.Code}}", "In our own words."}
	s.Texts = Texts{"en": {TextReady: own}}
	for _, c := range []struct {
		speaks, want string
		own          bool
	}{{"en", "en", true}, {"en-GB", "en", true}, {"fr", "fr", false}, {"fr-CA", "fr", false}, {"cy", "en", true}, {"", "en", true}} {
		text, in := textOf(s, c.speaks, TextReady)
		if in != c.want || (text == own) != c.own || text.Body == "" {
			t.Errorf("to one who speaks %q in %q: %q", c.speaks, in, text.Body)
		}
	}
	s.Library.Languages = []string{"cy", "en"}
	s.Texts["cy"] = map[TextKind]Text{TextReady: own}
	if _, in := textOf(s, "de", TextReady); in != "cy" {
		t.Errorf("to one who speaks what nobody wrote, in %q", in)
	}
}

// Where work can hurt someone, or money is owed, the message says so, in the
// patron's language.
func TestTextsSayWhatMatters(t *testing.T) {
	s := someSettings(t)
	for _, c := range []struct {
		language string
		kind     TextKind
		says     []string
	}{
		{"en", TextOffer, []string{"£3.40", "£2.80", "80 × 40 × 23 mm", "2 h 35 min", "Not for food", "small children", "until Monday 16 March 2026", "parent or guardian", "never pay more", "Nothing is printed before you agree"}},
		{"fr-CA", TextOffer, []string{"3,40", "2,80", "2 h 35 min", "Pas pour les aliments", "jeunes enfants", "jusqu’au lundi 16 mars 2026", "responsable légal", "jamais plus"}},
		{"en", TextAgreed, []string{"£3.40", "Not for heat", "withdraw, at no cost"}},
		{"fr", TextAgreed, []string{"3,40", "Pas pour la chaleur", "sans frais"}},
		{"en", TextReady, []string{"£3.40", "until Monday 16 March 2026", "K7-204", "sharp"}},
		{"fr", TextReady, []string{"3,40", "lundi 16 mars 2026", "K7-204", "couper"}},
		{"en", TextDeclined, []string{"thinner than our printers", "owe nothing", "another member of staff"}},
		{"fr", TextDeclined, []string{"thinner than our printers", "ne devez rien", "autre personne"}},
		{"en", TextReprint, []string{"came off the platform", "£3.40"}},
		{"en", TextReceived, []string{"lamp-foot.stl", "nothing is owed, before you have agreed", "Keep that link to yourself"}},
		{"en", TextFound, []string{"lamp-foot.stl: The walls are about 0.4 mm thin in places."}},
		{"fr-CA", TextFound, []string{"lamp-foot.stl : Les parois n’ont par endroits qu’environ 0,4 mm d’épaisseur."}},
		{"fr", TextOffer, []string{"Des couches de 0,2 mm, un quart de remplissage."}},
		{"de", TextReady, []string{"Your print is ready", "your print is ready"}}, // no German: the library's usual language
	} {
		text, _ := textOf(s, c.language, c.kind)
		subject, body, err := PreviewText(s, c.language, c.kind, text)
		if err != nil {
			t.Fatal(err)
		}
		all := strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(subject + "\n" + body)
		for _, say := range c.says {
			if !strings.Contains(strings.ToLower(all), strings.ToLower(say)) {
				t.Errorf("%s %s does not say %q:\n%s", c.language, c.kind, say, all)
			}
		}
	}
}

// RFC 5322, section 2.2: a header field ends at a line end, so none may come
// into a subject from a name or a file.
func TestSubjectsAreOneLine(t *testing.T) {
	s := someSettings(t)
	s.Texts = Texts{"en": {TextReceived: {Subject: "{{.Code}} for {{.Name}} and {{join .Files \", \"}}", Body: "{{.Name}} {{.Link}}"}}}
	r, x := exampleRequest(s, "en", TextReceived)
	r.Contact.Guardian = ""
	r.Contact.Name = "Sam\r\nBcc: all@larkmere.example\u2028\u202eX-Evil: 1\x00"
	x.Files = []File{{Name: "a\nb.stl"}}
	subject, body, err := Draft(s, r, "k", TextReceived, x)
	if err != nil {
		t.Fatal(err)
	}
	if strings.ContainsAny(subject, "\r\n\x00\u2028\u202e\u0085") || strings.Contains(body, "\nBcc") {
		t.Errorf("subject %q, body %q", subject, body)
	}
	r.Contact.Name = strings.Repeat("é", 5000)
	if subject, _, _ := Draft(s, r, "k", TextReceived, x); len([]rune(subject)) > maxSubject {
		t.Errorf("a subject of %d letters", len([]rune(subject)))
	}
}

// What staff may not save, and the field and the sentence that say so.
func TestTextsRefused(t *testing.T) {
	s := someSettings(t)
	long := strings.Repeat("x", 4*maxText+1)
	for _, c := range []struct{ name, subject, body, field, say string }{
		{"unknown field", "{{.Code}}", "{{.Surname}} {{.Link}}", "body", ".Surname"},
		{"unknown field where something is missing", "{{.Code}}", "{{.Link}}{{if not .OnShelf}}{{.Phone}}{{end}}", "body", ".Phone"},
		{"in the subject", "{{.Nope}}", "{{.Link}}", "subject", ".Nope"},
		{"unknown word", "{{Code}}", "{{.Link}}", "subject", "{{Code}}"},
		{"not closed", "x", "{{.Link", "body", "}}"},
		{"if without end", "x", "{{.Link}}{{if .Owed}}", "body", "{{end}}"},
		{"printing to a width", "x", `{{.Link}}{{printf "%1000000000d" 1}}`, "body", "{{printf}}"},
		{"recursion", "x", `{{.Link}}{{template "text"}}`, "body", "{{template}}"},
		{"definition", "x", `{{.Link}}{{define "y"}}a{{end}}`, "body", "{{define}}"},
		{"empty", " ", "{{.Link}}", "subject", "empty"},
		{"two lines of subject", "a\nb", "{{.Link}}", "subject", "one short line"},
		{"no link", "x", "Please answer.", "body", "{{.Link}}"},
		{"loops that multiply", "x", "{{.Link}}" + strings.Repeat("{{range $.Cautions}}", 12) + strings.Repeat("{{end}}", 12), "body", "two {{range}}"},
		{"too long", "x", "{{.Link}}" + long, "body", "longer"},
	} {
		err := CheckTexts(s, Texts{"en": {TextOffer: {c.subject, c.body}}})
		f, ok := err.(*Fault)
		if !ok || f.Kind != Wrong {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if say := f.Fields["en.offer."+c.field]; !strings.Contains(say, c.say) {
			t.Errorf("%s: %q does not say %q (%v)", c.name, say, c.say, f.Fields)
		}
	}
	for _, bad := range []Texts{{"": {}}, {"../x": {}}, {"en": {"nope": {"a", "b"}}}, {"e": {}}} {
		if KindOf(CheckTexts(s, bad)) != Wrong {
			t.Errorf("%v was taken", bad)
		}
	}
}

func TestDaysInWords(t *testing.T) {
	day := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC) // a Wednesday, as in RFC 3339's calendar (COMPUTED: Zeller)
	for _, c := range []struct {
		t              time.Time
		language, want string
	}{
		{day, "en-GB", "Wednesday 25 November 2026"},
		{day, "fr", "mercredi 25 novembre 2026"},
		{day.AddDate(0, 0, 6), "fr-CA", "mardi 1er décembre 2026"},
		{day, "cy", "2026-11-25"},
	} {
		if got := DayInWords(c.t, c.language); got != c.want {
			t.Errorf("%s: %q, want %q", c.language, got, c.want)
		}
	}
}

// What was found before sentences were kept as data is said in English; what is
// kept with them, in the patron's language, its file beside it and no line to
// break within a measure.
func TestFoundInThePatronsLanguage(t *testing.T) {
	gap := say.Of("%s mm", say.Digits("0.4"))
	old := findings.Finding{Severity: findings.Ask, Message: "It is 0.4 mm thin."}
	now := findings.Finding{Severity: findings.Ask, Message: gap.String(), Saying: gap}
	files := []File{{Name: "a.stl", Result: &Checked{Answer: quote.Answer{Findings: []findings.Finding{old, now, {Severity: findings.Note}}}}}}
	found, fine := foundIn(files)
	if fine || len(found) != 2 {
		t.Fatalf("%v, %v", found, fine)
	}
	for tag, want := range map[string]string{
		"en":    "a.stl: It is 0.4 mm thin.|a.stl: 0.4 mm",
		"fr-CA": "a.stl\u00a0: It is 0.4 mm thin.|a.stl\u00a0: 0,4\u00a0mm",
		"de":    "a.stl: It is 0.4 mm thin.|a.stl: 0.4 mm",
	} {
		if got := strings.Join(foundInWords(found, tag), "|"); got != want {
			t.Errorf("%s: %q, want %q", tag, got, want)
		}
	}
	v := RequestView{Files: files}
	if got := strings.Join(v.ToAsk("fr"), "|"); got != "– It is 0.4 mm thin.|– 0,4\u00a0mm" {
		t.Errorf("to ask: %q", got)
	}
	w := letterWay(Way{Says: "x", Saying: say.Of("takes %s less", gap)}, "fr", "fr-GB", false)
	if w.Says != "dure 0,4\u00a0mm de moins" {
		t.Errorf("a way in a letter: %q", w.Says)
	}
}

// What a way is not good for stands at the end of its sentence, however long.
func TestWaysAreSaidWhole(t *testing.T) {
	long := say.Of("%s and not as strong.", say.Named(strings.Repeat("lighter inside, ", 40)))
	if got := letterWay(Way{ID: "largest", Says: long.String(), Saying: long}, "en", "en-GB", false).Says; !strings.HasSuffix(got, "and not as strong.") {
		t.Errorf("cut short: %q", got)
	}
}
