package desk

import (
	"encoding/json"
	"fmt"
	"sync"

	"platebook/engine/quote"
)

// settings reads every document, the defaults standing in for those never saved.
func settings(tx Tx) (Settings, error) {
	s := Settings{Versions: map[SettingKind]int{}}
	into := map[SettingKind]any{LibrarySetting: &s.Library, RulesSetting: &s.Rules, TariffSetting: &s.Tariff,
		TermsSetting: &s.Terms, TextsSetting: &s.Texts, ProfilesSetting: &s.Profiles, MailSetting: &s.Mail}
	for _, k := range SettingKinds() {
		doc, err := tx.Setting(k, 0)
		if KindOf(err) == NotFound {
			if doc.Body, err = defaultBody(k); err != nil {
				return s, err
			}
		} else if err != nil {
			return s, err
		}
		if err := json.Unmarshal(doc.Body, into[k]); err != nil {
			return s, fmt.Errorf("read setting %s, version %d: %w", k, doc.Version, err)
		}
		s.Versions[k] = doc.Version
	}
	return s, nil
}

// defaultBodies are the defaults as JSON, by kind: every page reads settings,
// and making the defaults reads the built-in profiles.
var defaultBodies sync.Map

func defaultBody(k SettingKind) ([]byte, error) {
	if body, ok := defaultBodies.Load(k); ok {
		return body.([]byte), nil
	}
	body, err := json.Marshal(Default(k))
	if err == nil {
		defaultBodies.Store(k, body)
	}
	return body, err
}

// Default is the document of a kind before anyone saved one.
func Default(k SettingKind) any {
	switch k {
	case RulesSetting:
		return DefaultRules()
	case TariffSetting:
		builtin := quote.Builtin()
		t, err := builtin.Tariff(builtin.Rules.Tariff)
		if err != nil {
			panic(err) // built in, and tested
		}
		return t
	case TermsSetting:
		return Terms{Text: map[string]string{}}
	case TextsSetting:
		return DefaultTexts()
	case ProfilesSetting:
		return Profiles{}
	case MailSetting:
		return MailSettings{Filed: "Requests"}
	}
	return Library{Name: "Library", Locale: "en", TimeZone: "UTC", Languages: []string{"en"}}
}

// DefaultRules are a start for a library of its own; every one is a setting.
// No two libraries agree on them.
func DefaultRules() Rules {
	builtin := quote.Builtin().Rules
	return Rules{
		Formats: []string{"stl", "3mf", "obj"}, MaxFile: 100_000_000, MaxFiles: 8, MaxCopies: 20,
		Longest: builtin.LongestPrint, PerMonth: 4, QuoteDays: 14, PickupDays: 14, RemindDays: 3, Attempts: 2,
		PatronPays: nil, Age: 16, KeepDays: 30, AuditDays: 90, FinalPrice: TheLower, Reserve: 20,
		Questions: []Question{
			{ID: "weapon", Text: "Is it no weapon, nor part of one?"},
			{ID: "harm", Text: "Is it nothing that harms or demeans anyone?"},
			{ID: "rights", Text: "Has the patron declared the right to have it made, with nothing that speaks against it?"},
			{ID: "danger", Text: "Is it for nothing where it could hurt someone: food, load, heat, medicine, small children?"},
		},
		Usual: Usual{Printer: builtin.Printer},
		Cautions: []string{
			"Not for food or drink: layers hold germs, and the material is not made for it.",
			"Not for load, for protection, for medical or electrical use.",
			"Not for heat: it softens in a hot car, in the sun or in a dishwasher.",
			"Not for small children: small or broken-off parts can choke.",
			"Edges and remains of supports can be sharp. Local rules and advice come first.",
		},
	}
}
