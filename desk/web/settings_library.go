package web

import (
	"net/http"
	"strings"

	"platebook/desk"
)

var libraryWords = map[string]string{
	"name": "Name of the library", "locale": "How numbers and money are written", "time_zone": "Time zone",
	"languages": "Languages patrons can choose", "contact": "How to reach the desk", "address": "Address on the web",
}

func libraryParts(l desk.Library) []sheetPart {
	field := func(name, value, hint string) Field {
		return Field{Name: name, Label: libraryWords[name], Value: value, Hint: hint}
	}
	contact := field("contact", l.Contact, "Shown to patrons below every page and in messages.")
	contact.Rows = 3
	short := func(f Field) Field { f.Width = "mid"; return f }
	return []sheetPart{{Fields: []asked{
		{"text", field("name", l.Name, "")},
		{"area", contact},
		{"text", field("address", l.Address, "As patrons reach the desk, beginning with https://. Links in messages begin with it, so links sent before it changes no longer work unless the old address leads on.")},
		{"text", short(field("time_zone", l.TimeZone, "Continent and city of the IANA list, like Europe/Dublin or America/Toronto. Opening hours go by it."))},
		{"text", short(field("languages", strings.Join(l.Languages, ", "), "The usual one first, like: en, fr."))},
		{"text", short(field("locale", l.Locale, "Language and country, like en-GB or fr-CA."))},
	}}}
}

func (s *Site) libraryForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.settingSheet(r, who, desk.LibrarySetting)
	if err != nil {
		return err
	}
	v.Parts = libraryParts(set.Library)
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) saveLibrary(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, history, err := s.settingSheet(r, who, desk.LibrarySetting)
	if err != nil {
		return err
	}
	l := set.Library
	l.Name, l.Locale, l.TimeZone = r.PostFormValue("name"), r.PostFormValue("locale"), strings.TrimSpace(r.PostFormValue("time_zone"))
	l.Languages, l.Contact, l.Address = listed(r.PostFormValue("languages")), r.PostFormValue("contact"), r.PostFormValue("address")
	version := int(number64(r, "version"))
	now, err := s.desk.SaveSetting(r.Context(), who, desk.LibrarySetting, version, l)
	if err != nil {
		v.Parts = libraryParts(l)
		v.lookUp("languages").Value = r.PostFormValue("languages")
		return s.notSaved(w, r, v, desk.LibrarySetting, history, err)
	}
	return s.saved(w, r, version, now, v.Path)
}
