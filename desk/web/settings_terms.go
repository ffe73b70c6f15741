package web

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strings"

	"golang.org/x/text/language"
	"golang.org/x/text/language/display"

	"platebook/desk"
)

// languageName says a language in English: "French".
func languageName(tag string) string {
	t, err := language.Parse(tag)
	if err != nil {
		return tag
	}
	if name := display.English.Tags().Name(t); name != "" {
		return name
	}
	return tag
}

// languagesOf lists the library's languages, then those with a text besides.
func languagesOf[T any](set desk.Settings, has map[string]T) []string {
	all := slices.Clone(set.Library.Languages)
	for _, l := range slices.Sorted(maps.Keys(has)) {
		if !slices.Contains(all, l) {
			all = append(all, l)
		}
	}
	return all
}

func termsParts(t desk.Terms, set desk.Settings) []sheetPart {
	part := sheetPart{Say: "Say what the library prints and does not, what it costs and when, what happens when a print fails or is not collected, and what is kept of the patron. Whoever agreed to an older version stays held to that one."}
	for i, l := range languagesOf(set, t.Text) {
		f := Field{Name: "text-" + l, Label: languageName(l), Value: t.Text[l], Rows: 16, Optional: i > 0, Hint: "An empty line begins a paragraph."}
		if i > 0 {
			f.Hint = "Empty, patrons of this language read it in " + languageName(set.Library.Languages[0]) + "."
		}
		part.Fields = append(part.Fields, asked{"area", f})
	}
	return []sheetPart{part}
}

func (s *Site) termsForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.settingSheet(r, who, desk.TermsSetting)
	if err != nil {
		return err
	}
	v.Parts = termsParts(set.Terms, set)
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) saveTerms(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, history, err := s.settingSheet(r, who, desk.TermsSetting)
	if err != nil {
		return err
	}
	t := desk.Terms{Text: map[string]string{}}
	for _, l := range languagesOf(set, set.Terms.Text) {
		t.Text[l] = r.PostFormValue("text-" + l)
	}
	version := int(number64(r, "version"))
	now, err := s.desk.SaveSetting(r.Context(), who, desk.TermsSetting, version, t)
	if err != nil {
		v.Parts = termsParts(t, set)
		return s.notSaved(w, r, v, desk.TermsSetting, history, err)
	}
	return s.saved(w, r, version, now, v.Path)
}

var textWords = func() map[string]string {
	words := map[string]string{"subject": "subject", "body": "text"}
	for k, say := range textNames {
		words[string(k)] = say
	}
	return words
}()

var textNames = map[desk.TextKind]string{
	desk.TextReceived: "Request received", desk.TextFound: "What the check found", desk.TextOffer: "Offer of ways and prices", desk.TextQuestion: "Question to the patron",
	desk.TextDeclined: "Request declined", desk.TextAgreed: "Agreed", desk.TextReprint: "A run failed, we try again",
	desk.TextReady: "Ready on the hold shelf", desk.TextRemind: "Reminder before the end", desk.TextLapsed: "Lapsed",
}

// textsView lists the messages.
type textsView struct {
	Sheet     sheet
	Languages []textLanguage
}

type textLanguage struct {
	Name  string
	Texts []textLink
}

type textLink struct{ Path, Name, Subject, Whose string }

var textsPage = newPage[textsView](forStaff, "settings_texts.html")

func (s *Site) textsIndex(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.settingSheet(r, who, desk.TextsSetting)
	if err != nil {
		return err
	}
	page := textsView{Sheet: v}
	page.Sheet.Path = ""
	for _, l := range languagesOf(set, set.Texts) {
		of := textLanguage{Name: languageName(l)}
		for _, k := range desk.TextKinds() {
			t, own := textFor(set, l, k)
			link := textLink{Path: fmt.Sprintf("/desk/settings/texts/%s/%s", l, k), Name: textNames[k], Subject: t.Subject, Whose: "as it comes"}
			switch {
			case own:
				link.Whose = "your own"
			case t.Body == "":
				link.Whose = "none: sent in another language"
			}
			of.Texts = append(of.Texts, link)
		}
		page.Languages = append(page.Languages, of)
	}
	return show(s, w, r, http.StatusOK, textsPage, page)
}

// textFor is the text of a kind in one language, and whether it is the
// library's own.
func textFor(set desk.Settings, l string, k desk.TextKind) (desk.Text, bool) {
	builtin := desk.DefaultTexts()
	base, _, _ := strings.Cut(l, "-")
	if t, ok := set.Texts[l][k]; ok && t != builtin[l][k] {
		return t, true
	}
	if t, ok := builtin[l][k]; ok {
		return t, false
	}
	return builtin[base][k], false
}

// textView is one message.
type textView struct {
	Sheet         sheet
	Subject, Body Field
	Code          Field // of a request to show it for
	Preview       *textPreview
	Own           bool // not the one that comes with the program
	Fill          []Fact
}

type textPreview struct{ Subject, Text, For string }

var textPage = newPage[textView](forStaff, "settings_text.html")

// fillIns are the names a text may speak of, from desk.Letter.
var fillIns = []Fact{
	{"{{.Code}}", "the request’s code, like K7-204"},
	{"{{.Link}}", "the patron’s own page: put it on a line of its own"},
	{"{{.Name}}", "the patron, and the guardian who stands for them"},
	{"{{.Library}}", "the library’s name"},
	{"{{.Contact}}", "how to reach the desk"},
	{"{{.Branch}}", "where the patron collects"},
	{"{{.Place}}", "how to find it"},
	{"{{.Until}}", "the day the offer, or the time on the hold shelf, ends"},
	{"{{.Price}}", "the price agreed"},
	{"{{.Owed}}", "what is still to pay"},
	{"{{.Reason}}", "why it was declined, or what went wrong"},
	{"{{.Question}}", "what is to be settled first"},
	{"{{join .Files \", \"}}", "the files’ names"},
	{"{{range .Ways}}{{.Name}}: {{.Price}}{{end}}", "each way offered; also .Says, .Size, .Grams, .Time and .Best"},
	{"{{range .Cautions}}{{.}}{{end}}", "each caution"},
	{"{{if .Owed}}…{{end}}", "only if there is such a thing"},
}

func (s *Site) aText(r *http.Request, who desk.Actor) (textView, desk.Settings, []desk.Setting, error) {
	l, k := r.PathValue("language"), desk.TextKind(r.PathValue("kind"))
	v, set, history, err := s.settingSheet(r, who, desk.TextsSetting)
	if err != nil {
		return textView{}, set, nil, err
	}
	if textNames[k] == "" || !slices.Contains(languagesOf(set, set.Texts), l) {
		return textView{}, set, nil, notFound()
	}
	t, own := textFor(set, l, k)
	v.Title = textNames[k] + ", in " + languageName(l)
	v.Path = fmt.Sprintf("/desk/settings/texts/%s/%s", l, k)
	return textView{Sheet: v, Own: own, Fill: fillIns,
		Subject: Field{Name: "subject", Label: "Subject", Value: t.Subject},
		Body:    Field{Name: "body", Label: "Text", Value: t.Body, Rows: 18},
		Code:    Field{Name: "code", Label: "Preview for a real request", Hint: "Its code, like K7-204. Empty takes an invented one.", Width: "short", Optional: true, Auto: "off"},
	}, set, history, nil
}

func (v *textView) preview(set desk.Settings, l string, k desk.TextKind, t desk.Text) error {
	subject, text, err := desk.PreviewText(set, l, k, t)
	if err == nil {
		v.Preview = &textPreview{Subject: subject, Text: text}
	}
	return err
}

// previewFor is preview, for the request whose code was typed if one was.
func (s *Site) previewFor(r *http.Request, who desk.Actor, v *textView, set desk.Settings, l string, k desk.TextKind, t desk.Text) error {
	v.Code.Value = strings.TrimSpace(r.PostFormValue("code"))
	if v.Code.Value == "" {
		return v.preview(set, l, k, t)
	}
	code, ok := desk.ParseCode(v.Code.Value)
	if !ok {
		v.Code.Error = "Write a code like K7-204, or nothing."
		return v.preview(set, l, k, t)
	}
	subject, text, err := s.desk.PreviewTextFor(r.Context(), who, code, l, k, t)
	switch desk.KindOf(err) {
	case "":
		v.Preview = &textPreview{subject, text, string(code)}
	case desk.NotFound, desk.NotYours:
		v.Code.Error = "There is no request of that code that your account reaches."
		return v.preview(set, l, k, t)
	}
	return err
}

func (s *Site) textForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.aText(r, who)
	if err != nil {
		return err
	}
	l, k := r.PathValue("language"), desk.TextKind(r.PathValue("kind"))
	if v.Body.Value != "" {
		if err := v.preview(set, l, k, desk.Text{Subject: v.Subject.Value, Body: v.Body.Value}); err != nil && desk.KindOf(err) != desk.Wrong {
			return err
		}
	}
	return show(s, w, r, http.StatusOK, textPage, v)
}

func (s *Site) saveText(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, history, err := s.aText(r, who)
	if err != nil {
		return err
	}
	l, k := r.PathValue("language"), desk.TextKind(r.PathValue("kind"))
	t := desk.Text{Subject: r.PostFormValue("subject"), Body: strings.ReplaceAll(r.PostFormValue("body"), "\r\n", "\n")}
	do := r.PostFormValue("do")
	if do == "builtin" {
		t = desk.Text{}
	}
	version := int(number64(r, "version"))
	var saving error
	if do != "preview" {
		texts := desk.Texts{}
		for l, byKind := range set.Texts {
			texts[l] = maps.Clone(byKind)
		}
		if texts[l] == nil {
			texts[l] = map[desk.TextKind]desk.Text{}
		}
		texts[l][k] = t
		var now int
		if now, saving = s.desk.SaveSetting(r.Context(), who, desk.TextsSetting, version, texts); saving == nil {
			return s.saved(w, r, version, now, v.Sheet.Path)
		}
	}
	v.Subject.Value, v.Body.Value = t.Subject, t.Body
	v.Sheet.Version, v.Sheet.Seen = number64(r, "version"), int(number64(r, "seen"))
	status := http.StatusOK
	if err := s.previewFor(r, who, &v, set, l, k, t); err != nil && saving == nil {
		if desk.KindOf(err) != desk.Wrong {
			return err
		}
		v.Body.Error, status = faultOf(err).Say, http.StatusUnprocessableEntity
	}
	if saving != nil {
		status = statusOf(desk.KindOf(saving))
		f := faultOf(saving)
		switch f.Kind {
		case desk.Stale:
			v.Sheet.meanwhile(history, v.Sheet.Seen, int64(len(history)), s.zone(r), naming(textWords, nil))
		case desk.Wrong:
			v.Subject.Error, v.Body.Error = f.Fields[l+"."+string(k)+".subject"], f.Fields[l+"."+string(k)+".body"]
			if v.Subject.Error == "" && v.Body.Error == "" {
				v.Body.Error = f.Say
			}
		default:
			return saving
		}
	}
	v.Sheet.Errors = missed(v.Subject, v.Body, v.Code)
	return show(s, w, r, status, textPage, v)
}
