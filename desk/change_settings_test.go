package desk_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"platebook/desk"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// docs are documents of every kind, none like the default.
func docs(t *testing.T, o *office) map[desk.SettingKind]any {
	t.Helper()
	s, err := o.Settings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	rules := desk.DefaultRules()
	rules.Longest = quote.Length{Duration: 5*time.Hour + 30*time.Minute}
	rules.PatronPays = []desk.Blame{desk.DesignBlame}
	rules.Reserve = 12.5
	rules.Questions = append(rules.Questions, desk.Question{ID: "size", Text: "Is it of a sensible size?", Help: "Ask if it is larger than a shoe box."})
	rules.Usual = desk.Usual{Printer: rules.Usual.Printer, Material: "petg", Way: ""}
	money := s.Tariff
	money.PerGramOther = "" // other than 0: not offered at all
	money.PerGram = map[string]tariff.Decimal{"pla": "0.10", "petg": "0.125"}
	money.Taxes = []tariff.Tax{{Name: "Tax", Percent: "5"}, {Name: "Other", Percent: "9.975", On: []tariff.Kind{tariff.Material}}}
	money.TotalStep, money.TotalRounding, money.TaxTogether = "0.05", tariff.Nearest, true
	return map[desk.SettingKind]any{
		desk.LibrarySetting: desk.Library{Name: "Larkmere Libraries", Locale: "fr-CA", TimeZone: "America/Toronto", Languages: []string{"en", "fr"},
			Contact: "Ask at any desk.\nOr write.", Address: "https://print.larkmere.example"},
		desk.RulesSetting:  rules,
		desk.TariffSetting: money,
		desk.TermsSetting:  desk.Terms{Text: map[string]string{"en": "One.\n\nTwo.", "fr": "Un.\n\nDeux."}},
		desk.TextsSetting: desk.Texts{"en": {desk.TextReady: {Subject: "Ready: {{.Code}}", Body: "Come and get it.\n"}},
			"fr": {desk.TextReady: {Subject: "Prêt : {{.Code}}", Body: "Venez.\n"}}},
		desk.ProfilesSetting: desk.Profiles{TOML: "[material.pla]\ndensity_g_cm3 = 1.25\n\n[material.wood]\nbased_on = \"pla\"\nname = \"Wood\"\n"},
	}
}

// as a document stands in the settings.
func inSettings(s desk.Settings, k desk.SettingKind) any {
	return map[desk.SettingKind]any{desk.LibrarySetting: s.Library, desk.RulesSetting: s.Rules, desk.TariffSetting: s.Tariff,
		desk.TermsSetting: s.Terms, desk.TextsSetting: s.Texts, desk.ProfilesSetting: s.Profiles}[k]
}

// What is saved reads back equal, old versions go on being read, and a second
// saving of the same makes no version.
func TestSettingsReadBackEqual(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	for kind, doc := range docs(t, o) {
		s, err := o.Settings(ctx)
		if err != nil {
			t.Fatal(err)
		}
		was, old := s.Versions[kind], inSettings(s, kind)
		v, err := o.SaveSetting(ctx, by, kind, was, doc)
		if err != nil || v != was+1 {
			t.Errorf("%s: version %d, %v", kind, v, err)
			continue
		}
		if s, err = o.Settings(ctx); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(doc, inSettings(s, kind)); diff != "" {
			t.Errorf("%s reads back different:\n%s", kind, diff)
		}
		if again, err := o.SaveSetting(ctx, by, kind, v, inSettings(s, kind)); err != nil || again != v {
			t.Errorf("%s: saved again as version %d, %v", kind, again, err)
		}
		history, err := o.SettingHistory(ctx, by, kind)
		if err != nil || len(history) != v || history[0].By != "Rowan" || !history[0].Since.Equal(o.now) {
			t.Errorf("%s: %d versions, %v", kind, len(history), err)
			continue
		}
		if len(desk.Changes(nil, history[0].Body)) == 0 {
			t.Errorf("%s: the first version changes nothing", kind)
		}
		if was > 0 {
			if got := readAs(t, kind, history[1].Body); !cmp.Equal(old, got) {
				t.Errorf("%s: the old version reads otherwise now", kind)
			}
			if len(desk.Changes(history[1].Body, history[0].Body)) == 0 {
				t.Errorf("%s: no change between two versions", kind)
			}
		}
		// The same form sent a second time is one saving; another is overtaken.
		if again, err := o.SaveSetting(ctx, by, kind, was, doc); err != nil || again != v {
			t.Errorf("%s: sent twice: version %d, %v", kind, again, err)
		}
		_, err = o.SaveSetting(ctx, by, kind, was, old)
		want(t, string(kind)+", from an old version", err, desk.Stale)
		other := by
		other.Name = "Ash"
		_, err = o.SaveSetting(ctx, other, kind, was, doc)
		want(t, string(kind)+", from an old version, by someone else", err, desk.Stale)
	}
}

func readAs(t *testing.T, k desk.SettingKind, body []byte) any {
	t.Helper()
	var l desk.Library
	var m tariff.Tariff
	switch k {
	case desk.LibrarySetting:
		if err := json.Unmarshal(body, &l); err != nil {
			t.Fatal(err)
		}
		return l
	case desk.TariffSetting:
		if err := json.Unmarshal(body, &m); err != nil {
			t.Fatal(err)
		}
		return m
	}
	t.Fatalf("no older version of %s is read here", k)
	return nil
}

// Documents as the first program wrote them: they must be read for ever. Add
// to these, never change them.
func TestFirstVersionsAreStillRead(t *testing.T) {
	var r desk.Rules
	if err := json.Unmarshal([]byte(`{"formats":["stl"],"max_file":1048576,"max_files":2,"max_copies":3,"longest_print":"5h30m","per_month":4,"quote_days":5,
		"pickup_days":6,"remind_days":2,"attempts":2,"patron_pays":["design"],"age":13,"keep_days":30,"audit_days":90,"final_price":"lower","reserve_g":20,
		"questions":[{"id":"weapon","text":"T","help":"H"}],"cautions":["C"],"usual":{"printer":"p","material":"m","way":"w"}}`), &r); err != nil {
		t.Fatal(err)
	}
	if r.Longest.Duration != 5*time.Hour+30*time.Minute || r.PatronPays[0] != desk.DesignBlame || r.Questions[0].Help != "H" || r.Usual.Way != "w" || r.AuditDays != 90 {
		t.Errorf("%+v", r)
	}
	var m tariff.Tariff
	if err := json.Unmarshal([]byte(`{"ID":"library","Name":"N","Currency":"EUR","SetUp":"1.00","SetUpPer":"request","PerGram":{"pla":"0.10"},"GramStep":"1",
		"GramRounding":"up","PerHour":"0","MinuteStep":"1","MinuteRounding":"up","Minimum":"0","MoneyRounding":"nearest","TotalStep":"0",
		"TotalRounding":"nearest","Taxes":[{"Name":"T","Percent":"5","On":["material"]}],"TaxIncluded":false,"TaxTogether":true}`), &m); err != nil {
		t.Fatal(err)
	}
	if m.PerGramOther != "" || m.PerGram["pla"] != "0.10" || !m.TaxTogether || m.Taxes[0].On[0] != tariff.Material {
		t.Errorf("%+v", m)
	}
	if err := m.Validate(); err != nil {
		t.Error(err)
	}
}

func TestSettingsAreForManagersOfAllBranches(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	boss := o.manager()
	b := o.branch(boss, "Northside")
	ds := docs(t, o)
	for who, by := range map[string]desk.Actor{
		"branch manager": o.as(o.someone(boss, "bm", desk.Grant{Role: desk.Manager, Branch: b.ID})),
		"reviewer":       o.as(o.someone(boss, "re", desk.Grant{Role: desk.Reviewer})),
		"operator":       o.as(o.someone(boss, "op", desk.Grant{Role: desk.Operator})),
		"patron":         desk.APatron(), "clock": desk.Clockwork(), "nobody": {},
	} {
		for kind, doc := range ds {
			s, err := o.Settings(ctx)
			if err != nil {
				t.Fatal(err)
			}
			_, err = o.SaveSetting(ctx, by, kind, s.Versions[kind], doc)
			want(t, who+" saves "+string(kind), err, desk.NotYours)
			_, err = o.SettingHistory(ctx, by, kind)
			want(t, who+" reads "+string(kind), err, desk.NotYours)
		}
	}
	_, err := o.SaveSetting(ctx, boss, desk.RulesSetting, 0, desk.Terms{})
	want(t, "a document of another kind", err, desk.Broken)
	_, err = o.SaveSetting(ctx, boss, desk.SettingKind("branch/x"), 0, desk.Terms{})
	want(t, "a kind that is none", err, desk.Broken)
}

// Each row changes one thing of good rules, and names the field that must be
// spoken of.
func TestRulesAreChecked(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	for _, c := range []struct {
		field  string
		change func(*desk.Rules)
	}{
		{"formats", func(r *desk.Rules) { r.Formats = nil }},
		{"formats", func(r *desk.Rules) { r.Formats = []string{"stl", "exe"} }},
		{"max_file", func(r *desk.Rules) { r.MaxFile = 1 }},
		{"max_file", func(r *desk.Rules) { r.MaxFile = 1 << 40 }},
		{"max_files", func(r *desk.Rules) { r.MaxFiles = 0 }},
		{"max_copies", func(r *desk.Rules) { r.MaxCopies = -1 }},
		{"longest_print", func(r *desk.Rules) { r.Longest.Duration = time.Second }},
		{"longest_print", func(r *desk.Rules) { r.Longest.Duration = -time.Hour }},
		{"per_month", func(r *desk.Rules) { r.PerMonth = -1 }},
		{"quote_days", func(r *desk.Rules) { r.QuoteDays = 0 }},
		{"pickup_days", func(r *desk.Rules) { r.PickupDays = 0 }},
		{"remind_days", func(r *desk.Rules) { r.RemindDays = r.PickupDays }},
		{"remind_days", func(r *desk.Rules) { r.QuoteDays, r.RemindDays = 2, 3 }},
		{"attempts", func(r *desk.Rules) { r.Attempts = 0 }},
		{"patron_pays", func(r *desk.Rules) { r.PatronPays = []desk.Blame{"weather"} }},
		{"age", func(r *desk.Rules) { r.Age = 22 }},
		{"keep_days", func(r *desk.Rules) { r.KeepDays = -1 }},
		{"audit_days", func(r *desk.Rules) { r.AuditDays = 0 }},
		{"final_price", func(r *desk.Rules) { r.FinalPrice = "" }},
		{"reserve_g", func(r *desk.Rules) { r.Reserve = -1 }},
		{"questions", func(r *desk.Rules) { r.Questions[1].ID = r.Questions[0].ID }},
		{"questions", func(r *desk.Rules) { r.Questions[0].ID = "Weapon?" }},
		{"questions", func(r *desk.Rules) { r.Questions[0].Text = " " }},
		{"cautions", func(r *desk.Rules) { r.Cautions = []string{" "} }},
		{"cautions", func(r *desk.Rules) { r.Cautions = []string{strings.Repeat("x", 301)} }},
		{"usual_printer", func(r *desk.Rules) { r.Usual.Printer = "none" }},
		{"usual_material", func(r *desk.Rules) { r.Usual.Material = "none" }},
		{"usual_way", func(r *desk.Rules) { r.Usual.Way = "none" }},
	} {
		r := desk.DefaultRules()
		c.change(&r)
		_, err := o.SaveSetting(ctx, by, desk.RulesSetting, 0, r)
		var f *desk.Fault
		if !errors.As(err, &f) || f.Kind != desk.Wrong || f.Fields[c.field] == "" {
			t.Errorf("%s: %v", c.field, err)
		}
	}
	if history, err := o.SettingHistory(ctx, by, desk.RulesSetting); err != nil || len(history) != 0 {
		t.Errorf("%d versions are kept, %v", len(history), err)
	}
	if _, err := o.SaveSetting(ctx, by, desk.RulesSetting, 0, desk.DefaultRules()); err != nil {
		t.Errorf("the defaults: %v", err)
	}
}

func TestOtherSettingsAreChecked(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	good := docs(t, o)
	library := func(change func(*desk.Library)) desk.Library {
		l := good[desk.LibrarySetting].(desk.Library)
		change(&l)
		return l
	}
	money := func(change func(*tariff.Tariff)) tariff.Tariff {
		m := good[desk.TariffSetting].(tariff.Tariff)
		change(&m)
		return m
	}
	text := func(subject, body string) desk.Texts {
		return desk.Texts{"en": {desk.TextOffer: {Subject: subject, Body: body}}}
	}
	for _, c := range []struct {
		kind  desk.SettingKind
		field string
		doc   any
	}{
		{desk.LibrarySetting, "name", library(func(l *desk.Library) { l.Name = "" })},
		{desk.LibrarySetting, "locale", library(func(l *desk.Library) { l.Locale = "english please" })},
		{desk.LibrarySetting, "time_zone", library(func(l *desk.Library) { l.TimeZone = "" })},
		{desk.LibrarySetting, "time_zone", library(func(l *desk.Library) { l.TimeZone = "Local" })},
		{desk.LibrarySetting, "time_zone", library(func(l *desk.Library) { l.TimeZone = "../../etc/passwd" })},
		{desk.LibrarySetting, "languages", library(func(l *desk.Library) { l.Languages = nil })},
		{desk.LibrarySetting, "languages", library(func(l *desk.Library) { l.Languages = []string{"en", "?"} })},
		{desk.LibrarySetting, "contact", library(func(l *desk.Library) { l.Contact = strings.Repeat("x", 501) })},
		{desk.LibrarySetting, "address", library(func(l *desk.Library) { l.Address = "javascript:alert(1)" })},
		{desk.LibrarySetting, "address", library(func(l *desk.Library) { l.Address = "https://a.example/desk" })},
		{desk.LibrarySetting, "address", library(func(l *desk.Library) { l.Address = "https://me@a.example" })},
		{desk.LibrarySetting, "address", library(func(l *desk.Library) { l.Address = "http://a.example" })},
		{desk.TariffSetting, "name", money(func(m *tariff.Tariff) { m.Name = " " })},
		{desk.TariffSetting, "currency", money(func(m *tariff.Tariff) { m.Currency = "GOLD" })},
		{desk.TariffSetting, "set_up", money(func(m *tariff.Tariff) { m.SetUp = "1.005" })},
		{desk.TariffSetting, "set_up", money(func(m *tariff.Tariff) { m.SetUp = "-1" })},
		{desk.TariffSetting, "per_gram", money(func(m *tariff.Tariff) { m.PerGram = map[string]tariff.Decimal{"pla": "1e3"} })},
		{desk.TariffSetting, "per_gram", money(func(m *tariff.Tariff) { m.PerGram = map[string]tariff.Decimal{"unobtainium": "1"} })},
		{desk.TariffSetting, "per_gram", money(func(m *tariff.Tariff) { m.PerGram = nil })},
		{desk.TariffSetting, "gram_step", money(func(m *tariff.Tariff) { m.GramStep = "0" })},
		{desk.TariffSetting, "gram_rounding", money(func(m *tariff.Tariff) { m.GramRounding = "sideways" })},
		{desk.TariffSetting, "taxes", money(func(m *tariff.Tariff) { m.Taxes = []tariff.Tax{{Name: "T", Percent: "101"}} })},
		{desk.TermsSetting, "text-en", desk.Terms{Text: map[string]string{"fr": "Un."}}},
		{desk.TermsSetting, "text", desk.Terms{Text: map[string]string{"?": "x"}}},
		{desk.TermsSetting, "text-en", desk.Terms{Text: map[string]string{"en": strings.Repeat("long ", 10_000)}}},
		{desk.TextsSetting, "en.offer.body", text("Your offer", "{{.Nothing}} {{.Link}}")},
		{desk.TextsSetting, "en.offer.subject", text("{{.Code", "{{.Link}}")},
		{desk.TextsSetting, "en.offer.body", text("Your offer", "No way to answer.")},
		{desk.TextsSetting, "texts", desk.Texts{"en": {"greeting": {Subject: "x", Body: "y"}}}},
		{desk.ProfilesSetting, "toml", desk.Profiles{TOML: "[material.pla"}},
		{desk.ProfilesSetting, "toml", desk.Profiles{TOML: "[material.pla]\ndensity_g_cm3 = 200\n"}},
		{desk.ProfilesSetting, "toml", desk.Profiles{TOML: "[material.pla]\ndensty_g_cm3 = 1.2\n"}},
		{desk.ProfilesSetting, "toml", desk.Profiles{TOML: "[tariff.library]\nname = \"x\"\n"}},
		{desk.ProfilesSetting, "toml", desk.Profiles{TOML: "# " + strings.Repeat("x", 200_000)}},
	} {
		s, err := o.Settings(ctx)
		if err != nil {
			t.Fatal(err)
		}
		_, err = o.SaveSetting(ctx, by, c.kind, s.Versions[c.kind], c.doc)
		var f *desk.Fault
		if !errors.As(err, &f) || f.Kind != desk.Wrong || f.Fields[c.field] == "" || f.Say == "" {
			t.Errorf("%s, %s: %#v", c.kind, c.field, err)
		}
	}
	// An address within the house may be unencrypted; case and a slash do not matter.
	for in, out := range map[string]string{"http://localhost:8080/": "http://localhost:8080", "http://192.168.4.2": "http://192.168.4.2", "https://Print.Larkmere.Example/": "https://print.larkmere.example"} {
		s, err := o.Settings(ctx)
		if err != nil {
			t.Fatal(err)
		}
		_, err = o.SaveSetting(ctx, by, desk.LibrarySetting, s.Versions[desk.LibrarySetting], library(func(l *desk.Library) { l.Address = in }))
		if s, _ = o.Settings(ctx); err != nil || s.Library.Address != out {
			t.Errorf("%s: %s, %v", in, s.Library.Address, err)
		}
	}
}

// The currency does not change under what patrons were promised, unless that
// is said.
func TestCurrencyUnderOpenRequests(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	s, err := o.Settings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	m := s.Tariff
	m.Currency = "CHF"
	v, err := o.SaveSetting(ctx, by, desk.TariffSetting, s.Versions[desk.TariffSetting], m)
	if err != nil {
		t.Fatalf("with no request open: %v", err)
	}
	r := desk.Request{ID: desk.NewID(), Code: "K7-204", State: desk.Agreed, Branch: by.Home, Key: "k", Form: "f"}
	if err := o.Store.Write(ctx, func(tx desk.Tx) error { return tx.SaveRequest(&r) }); err != nil {
		t.Fatal(err)
	}
	m.Currency = "EUR"
	_, err = o.SaveSetting(ctx, by, desk.TariffSetting, v, m)
	want(t, "with one open", err, desk.Wrong)
	if err == nil || !strings.Contains(err.Error(), "1 open") {
		t.Errorf("it is not said how many: %v", err)
	}
	m.Currency, m.SetUp = "CHF", "2.00"
	if v, err = o.SaveSetting(ctx, by, desk.TariffSetting, v, m); err != nil {
		t.Errorf("another price in the same currency: %v", err)
	}
	m.Currency = "EUR"
	if _, err = o.SaveSetting(ctx, by, desk.TariffSetting, v, desk.NewCurrency{Tariff: m}); err != nil {
		t.Errorf("meant: %v", err)
	}
}

// What is in use cannot be taken out of the profiles.
func TestProfilesInUse(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	by := o.manager()
	own := desk.Profiles{TOML: "[material.wood]\nbased_on = \"pla\"\nname = \"Wood\"\n\n[way.thick]\nbased_on = \"" + quote.Builtin().Ways[0].ID +
		"\"\nname = \"Thick\"\n\n[printer.big]\nbased_on = \"" + quote.Builtin().Printers[0].ID + "\"\nname = \"Big\"\n"}
	v, err := o.SaveSetting(ctx, by, desk.ProfilesSetting, 0, own)
	if err != nil {
		t.Fatal(err)
	}
	refused := func(because string) {
		t.Helper()
		_, err := o.SaveSetting(ctx, by, desk.ProfilesSetting, v, desk.Profiles{})
		if desk.KindOf(err) != desk.Wrong || !strings.Contains(fmt.Sprint(err), because) {
			t.Errorf("%s: %v", because, err)
		}
	}
	u, err := o.SavePrinterUnit(ctx, by, desk.PrinterUnit{Name: "Heron", Branch: by.Home, Model: "big"})
	if err != nil {
		t.Fatal(err)
	}
	refused("printer Heron")
	u.Retired = true
	if _, err = o.SavePrinterUnit(ctx, by, u); err != nil {
		t.Fatal(err)
	}
	sp := desk.Spool{ID: desk.NewID(), Name: "WOOD-1", Branch: by.Home, Material: "wood", Grams: 500, Full: 500}
	if err := o.Store.Write(ctx, func(tx desk.Tx) error { return tx.SaveSpool(&sp) }); err != nil {
		t.Fatal(err)
	}
	refused("spool WOOD-1")
	sp.Retired = true
	r := desk.Request{ID: desk.NewID(), Code: "K7-204", State: desk.InReview, Branch: by.Home, Key: "k", Form: "f", Plan: desk.Plan{Way: "thick"}}
	if err := o.Store.Write(ctx, func(tx desk.Tx) error {
		if err := tx.SaveRequest(&r); err != nil {
			return err
		}
		return tx.SaveSpool(&sp)
	}); err != nil {
		t.Fatal(err)
	}
	refused("request K7-204")
	r.State = desk.Withdrawn
	if err := o.Store.Write(ctx, func(tx desk.Tx) error { return tx.SaveRequest(&r) }); err != nil {
		t.Fatal(err)
	}
	if _, err := o.SaveSetting(ctx, by, desk.ProfilesSetting, v, desk.Profiles{}); err != nil {
		t.Errorf("with nothing in use: %v", err)
	}
}

func TestChanges(t *testing.T) {
	for _, c := range []struct{ before, after, want string }{
		{`{"a":1}`, `{"a":1}`, ``},
		{`{"a":1,"b":"x"}`, `{"a":2,"b":"x"}`, `a: 1 → 2`},
		{``, `{"a":true}`, `a:  → yes`},
		{`{"l":["stl","obj"]}`, `{"l":["stl"]}`, `l: stl, obj → stl`},
		{`{"q":[{"id":"x","text":"X"},{"id":"y","text":"Y"}]}`, `{"q":[{"id":"z","text":"Z"},{"id":"x","text":"X"},{"id":"y","text":"W"}]}`,
			`q z id:  → z; q z text:  → Z; q y text: Y → W`},
		{`{"t":"one\ntwo\nthree\nfour"}`, `{"t":"one\nthree\nthree and a half\nfour"}`, `t: two → three and a half`},
		{`{"m":{"a":"1","b":"2"}}`, `{"m":{"b":"2"}}`, `m a: 1 → `},
		{`{"a":`, `{"a":1}`, "a:  → 1; document: {\"a\": → "},
		{`{"n":0.1000}`, `{"n":0.1}`, `n: 0.1000 → 0.1`},
	} {
		var got []string
		for _, x := range desk.Changes([]byte(c.before), []byte(c.after)) {
			got = append(got, fmt.Sprintf("%s: %s → %s", strings.Join(x.Path, " "), x.Before, x.After))
		}
		if s := strings.Join(got, "; "); s != c.want {
			t.Errorf("%s to %s:\n got %s\nwant %s", c.before, c.after, s, c.want)
		}
	}
}

func TestBranchesAndPrinters(t *testing.T) {
	ctx, o := t.Context(), newOffice(t)
	boss := o.manager()
	b := o.branch(boss, "Northside")
	bm := o.as(o.someone(boss, "bm", desk.Grant{Role: desk.Manager, Branch: b.ID}))
	op := o.as(o.someone(boss, "op", desk.Grant{Role: desk.Operator, Branch: b.ID}))
	for _, c := range []struct {
		field  string
		change func(*desk.Branch)
	}{
		{"name", func(b *desk.Branch) { b.Name = "" }},
		{"name", func(b *desk.Branch) { b.Name = "MILLGATE" }}, // there is one
		{"hours-1", func(b *desk.Branch) { b.Hours[1] = []desk.Span{{From: 600, To: 600}} }},
		{"hours-2", func(b *desk.Branch) { b.Hours[2] = []desk.Span{{From: 600, To: 800}, {From: 780, To: 900}} }},
		{"hours-3", func(b *desk.Branch) { b.Hours[3] = []desk.Span{{From: 900, To: 1000}, {From: 600, To: 700}} }},
		{"hours-4", func(b *desk.Branch) { b.Hours[4] = []desk.Span{{From: -1, To: 10}} }},
		{"hours-5", func(b *desk.Branch) { b.Hours[5] = []desk.Span{{From: 1200, To: 1441}} }},
		{"hours-6", func(b *desk.Branch) { b.Hours[6] = []desk.Span{{From: 600, To: 700}, {From: 700, To: 800}} }},
		{"closed", func(b *desk.Branch) { b.Closed = []desk.ClosedDay{{Date: "2026-02-30"}} }},
		{"closed", func(b *desk.Branch) { b.Closed = []desk.ClosedDay{{Date: "2026-12-25"}, {Date: "2026-12-25"}} }},
		{"closed", func(b *desk.Branch) { b.Closed = make([]desk.ClosedDay, 401) }},
	} {
		x := b
		c.change(&x)
		_, err := o.SaveBranch(ctx, boss, x)
		var f *desk.Fault
		if !errors.As(err, &f) || f.Kind != desk.Wrong || f.Fields[c.field] == "" {
			t.Errorf("%s: %v", c.field, err)
		}
	}
	b.Hours[1] = []desk.Span{{From: 600, To: 780}, {From: 840, To: 1440}}
	b.Closed = []desk.ClosedDay{{Date: "2026-12-26"}, {Date: "2026-12-25", Why: " Christmas "}}
	saved, err := o.SaveBranch(ctx, bm, b)
	if err != nil || saved.Closed[0] != (desk.ClosedDay{Date: "2026-12-25", Why: "Christmas"}) || b.Closed[0].Date != "2026-12-26" {
		t.Fatalf("%+v, %v", saved, err)
	}
	if again, err := o.SaveBranch(ctx, bm, b); err != nil || again.Version != saved.Version {
		t.Errorf("the same form sent twice: %d, %v", again.Version, err)
	}
	late := b
	late.Place = "upstairs"
	_, err = o.SaveBranch(ctx, bm, late)
	want(t, "an old version", err, desk.Stale)
	shut := saved
	shut.Shut = true
	_, err = o.SaveBranch(ctx, bm, shut)
	want(t, "its manager shuts it", err, desk.NotYours)
	_, err = o.SaveBranch(ctx, op, saved)
	want(t, "an operator", err, desk.NotYours)
	_, err = o.SaveBranch(ctx, bm, desk.Branch{Name: "New"})
	want(t, "a branch's manager makes another", err, desk.NotYours)
	other := saved
	other.ID, other.Version = boss.Home, 0
	_, err = o.SaveBranch(ctx, bm, other)
	want(t, "another branch", err, desk.NotYours)
	history, err := o.BranchHistory(ctx, bm, b.ID)
	if err != nil || len(history) != 2 || history[0].By != "BM" {
		t.Errorf("%d, %v", len(history), err)
	}
	if c := desk.Changes(history[1].Body, history[0].Body); !slices.ContainsFunc(c, func(c desk.Change) bool { return c.Path[0] == "hours" && c.After == "10:00-13:00, 14:00-24:00" }) {
		t.Errorf("%v", c)
	}

	model := quote.Builtin().Printers[0].ID
	u, err := o.SavePrinterUnit(ctx, bm, desk.PrinterUnit{Name: "Heron", Branch: b.ID, Model: model})
	if err != nil {
		t.Fatal(err)
	}
	_, err = o.SavePrinterUnit(ctx, boss, desk.PrinterUnit{Name: "heron", Branch: boss.Home, Model: model})
	want(t, "a name twice", err, desk.Wrong)
	_, err = o.SavePrinterUnit(ctx, bm, desk.PrinterUnit{Name: "Stork", Branch: boss.Home, Model: model})
	want(t, "in another branch", err, desk.NotYours)
	_, err = o.SavePrinterUnit(ctx, boss, desk.PrinterUnit{Name: "Stork", Branch: boss.Home, Model: "none"})
	want(t, "of no model", err, desk.Wrong)
	_, err = o.SavePrinterUnit(ctx, boss, desk.PrinterUnit{Name: "Stork", Branch: "none", Model: model})
	want(t, "in no branch", err, desk.Wrong)
	u.Out = "The nozzle leaks."
	if u, err = o.SavePrinterUnit(ctx, op, u); err != nil {
		t.Errorf("an operator puts it out of service: %v", err)
	}
	renamed := u
	renamed.Name = "Crane"
	_, err = o.SavePrinterUnit(ctx, op, renamed)
	want(t, "an operator renames it", err, desk.NotYours)
	run := desk.Run{ID: desk.NewID(), Form: "f", Branch: b.ID, Printer: u.ID, State: desk.Going, Started: o.now}
	if err := o.Store.Write(ctx, func(tx desk.Tx) error { return tx.SaveRun(&run) }); err != nil {
		t.Fatal(err)
	}
	u.Retired = true
	_, err = o.SavePrinterUnit(ctx, bm, u)
	want(t, "retired while it prints", err, desk.Wrong)
	run.State = desk.Finished
	spool := desk.Spool{ID: desk.NewID(), Name: "PLA-1", Branch: b.ID, Material: "pla", Loaded: u.ID}
	if err := o.Store.Write(ctx, func(tx desk.Tx) error {
		if err := tx.SaveSpool(&spool); err != nil {
			return err
		}
		return tx.SaveRun(&run)
	}); err != nil {
		t.Fatal(err)
	}
	_, err = o.SavePrinterUnit(ctx, bm, u)
	if desk.KindOf(err) != desk.Wrong || !strings.Contains(err.Error(), "PLA-1") {
		t.Errorf("retired with a spool in it: %v", err)
	}
	spool.Loaded = ""
	if err := o.Store.Write(ctx, func(tx desk.Tx) error { return tx.SaveSpool(&spool) }); err != nil {
		t.Fatal(err)
	}
	if _, err = o.SavePrinterUnit(ctx, bm, u); err != nil {
		t.Error(err)
	}
	if lines, err := o.PrinterHistory(ctx, op, u.ID); err != nil || len(lines) != 3 {
		t.Errorf("%d, %v", len(lines), err)
	}
}

func TestCatalogue(t *testing.T) {
	var s desk.Settings
	p, err := desk.Catalogue(s)
	if err != nil || len(p.Materials) != len(quote.Builtin().Materials) {
		t.Fatal(err)
	}
	s.Profiles.TOML = "[material.pla]\ndensity_g_cm3 = 1.3\n"
	if p, err = desk.Catalogue(s); err != nil {
		t.Fatal(err)
	}
	if m, err := p.Material("pla"); err != nil || m.Density != 1.3 {
		t.Error(m.Density, err)
	}
	s.Profiles.TOML = "["
	if _, err = desk.Catalogue(s); err == nil {
		t.Error("profiles that cannot be read are taken")
	}
}

func BenchmarkCatalogue(b *testing.B) {
	for b.Loop() {
		if _, err := desk.Catalogue(desk.Settings{}); err != nil {
			b.Fatal(err)
		}
	}
}
