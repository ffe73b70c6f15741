package web

import (
	"fmt"
	"net/http"
	"net/url"
	"reflect"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"platebook/desk"
	"platebook/engine/tariff"
)

// formAt reads the form of a page that is sent to action, as a browser would
// send it unchanged.
func formAt(t *testing.T, page, action string) url.Values {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	get := func(n *html.Node, key string) (string, bool) {
		for _, a := range n.Attr {
			if a.Key == key {
				return a.Val, true
			}
		}
		return "", false
	}
	for n := range doc.Descendants() {
		if a, _ := get(n, "action"); n.Data != "form" || a != action {
			continue
		}
		v := url.Values{}
		for x := range n.Descendants() {
			name, named := get(x, "name")
			if !named {
				continue
			}
			value, _ := get(x, "value")
			switch kind, _ := get(x, "type"); {
			case x.Data == "textarea":
				text := ""
				if x.FirstChild != nil {
					text = x.FirstChild.Data
				}
				v.Set(name, text)
			case x.Data == "select":
				first := true
				for o := range x.Descendants() {
					if o.Data != "option" {
						continue
					}
					value, _ := get(o, "value")
					if _, chosen := get(o, "selected"); chosen || first {
						v.Set(name, value)
					}
					first = false
				}
			case x.Data == "input" && (kind == "checkbox" || kind == "radio"):
				if _, checked := get(x, "checked"); checked {
					v.Add(name, value)
				}
			case x.Data == "input":
				v.Set(name, value)
			}
		}
		return v
	}
	t.Fatalf("no form is sent to %s on the page:\n%s", action, page)
	return nil
}

const aPassword = "mauve teapots wander"

// begun is a site with its manager, made through the first page.
func begun(t *testing.T) (*tested, visitor) {
	t.Helper()
	s := aSite(t, func(o *Options) { o.Limits.LogIns = time.Millisecond })
	v := s.visitor(t)
	r, page := v.get(t, "/first")
	if r.StatusCode != 200 {
		t.Fatal(r.Status)
	}
	f := formAt(t, page, "/first")
	for name, value := range map[string]string{"word": "Begin Here", "library": "Larkmere Libraries", "time_zone": "Europe/Dublin", "locale": "en-IE", "languages": "en, fr",
		"currency": "EUR", "branch": "Millgate", "called": "Rowan", "name": "rowan", "password": aPassword, "again": aPassword} {
		f.Set(name, value)
	}
	bad := url.Values{}
	for k, x := range f {
		bad[k] = x
	}
	bad.Set("again", "something else entirely")
	if r, page := v.post(t, "/first", bad); r.StatusCode != 422 || !strings.Contains(page, "not the same") || strings.Contains(page, aPassword) {
		t.Fatalf("two different passwords: %d", r.StatusCode)
	}
	if r, page = v.post(t, "/first", f); r.StatusCode != 303 || r.Header.Get("Location") != "/desk/settings" {
		t.Fatalf("%d %s", r.StatusCode, page)
	}
	if r, _ := v.post(t, "/first", f); r.StatusCode != 409 {
		t.Errorf("the first run a second time: %d", r.StatusCode)
	}
	if r, _ := v.get(t, "/first"); r.StatusCode != 303 {
		t.Errorf("the first page again: %d", r.StatusCode)
	}
	return s, v
}

// logged lets someone in at a browser of their own.
func (s *tested) logged(t *testing.T, name, password string) visitor {
	t.Helper()
	v := s.visitor(t)
	if r, page := v.post(t, "/log-in", url.Values{"name": {name}, "password": {password}}); r.StatusCode != 303 {
		t.Fatalf("%s is not let in: %d %s", name, r.StatusCode, page)
	}
	return v
}

// employed makes an account through the pages and gives it a password.
func employed(t *testing.T, s *tested, boss visitor, name string, grants map[string]string) visitor {
	t.Helper()
	_, page := boss.get(t, "/desk/settings/staff/new")
	f := formAt(t, page, "/desk/settings/staff/new")
	f.Set("name", name)
	f.Set("called", strings.ToUpper(name))
	for branch, role := range grants {
		f.Set("at-"+branch, role)
	}
	r, page := boss.post(t, "/desk/settings/staff/new", f)
	_, after, ok := strings.Cut(page, `<code class="word">`)
	word, _, _ := strings.Cut(after, "<")
	if r.StatusCode != 200 || !ok {
		t.Fatalf("no word for %s: %d %s", name, r.StatusCode, page)
	}
	v := s.logged(t, name, strings.ToLower(word))
	// The word opens one page only.
	for _, path := range []string{"/desk/settings", "/desk/settings/printers"} {
		if r, _ := v.get(t, path); r.StatusCode != 303 || r.Header.Get("Location") != "/desk/me" {
			t.Errorf("%s with a one-time word: %d %s", path, r.StatusCode, r.Header.Get("Location"))
		}
	}
	_, page = v.get(t, "/desk/me")
	f = formAt(t, page, "/desk/me/password")
	f.Set("old", word)
	f.Set("password", aPassword)
	f.Set("again", aPassword)
	if r, page := v.post(t, "/desk/me/password", f); r.StatusCode != 303 || r.Header.Get("Location") != "/desk" {
		t.Fatalf("setting a password: %d %s", r.StatusCode, page)
	}
	return v
}

// settingsPaths are the pages with a form that saves something.
func settingsPaths(t *testing.T, s *tested) []string {
	t.Helper()
	branches, err := s.desk.Branches(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return []string{"/desk/settings/mail", "/desk/settings/library", "/desk/settings/rules", "/desk/settings/tariff", "/desk/settings/terms", "/desk/settings/texts/en/ready",
		"/desk/settings/texts/fr/offer", "/desk/settings/models/text", "/desk/settings/models/material/pla", "/desk/settings/models/printer/millrace-200", "/desk/settings/branches/" + string(branches[0].ID)}
}

// Every form sent as it came changes nothing; sent changed it makes a version,
// which the page then shows; and a form overtaken by another keeps what was
// typed and says what happened.
func TestSettingsForms(t *testing.T) {
	s, v := begun(t)
	change := map[string]struct{ field, value, other string }{
		"library": {"contact", "Ask at Millgate.", "Ask anyone."}, "rules": {"quote_days", "9", "10"}, "tariff": {"gram-pla", "0.15", "0.16"},
		"terms": {"text-en", "You pay & collect.", "You collect."}, "ready": {"subject", "Ready now: {{.Code}}", "Come: {{.Code}}"},
		"offer": {"subject", "Votre offre : {{.Code}}", "Offre : {{.Code}}"}, "text": {"toml", "[material.pla]\ndensity_g_cm3 = 1.26\n", "[material.pla]\ndensity_g_cm3 = 1.27\n"},
		"pla": {"density", "1.22", "1.23"}, "millrace-200": {"nozzle_mm", "0.6", "0.8"}, "mail": {"filed", "Taken in", "Done"},
	}
	for _, path := range settingsPaths(t, s) {
		c, ok := change[path[strings.LastIndexByte(path, '/')+1:]]
		if !ok {
			c.field, c.value, c.other = "hours-1", "10:00-13:00, 14:00-18:00", "09:00-17:00"
		}
		r, page := v.get(t, path)
		if r.StatusCode != 200 {
			t.Errorf("%s: %d", path, r.StatusCode)
			continue
		}
		checkHTML(t, path, []byte(page))
		same := formAt(t, page, path)
		if strings.HasSuffix(path, "/terms") {
			same.Set("text-en", "To begin with.") // without a text there is nothing to agree to
		}
		if r, page := v.post(t, path, same); r.StatusCode != 303 {
			t.Errorf("%s, as it came: %d %s", path, r.StatusCode, page)
		}
		_, page = v.get(t, path)
		before := formAt(t, page, path)
		mine, theirs := clone(before), clone(before)
		theirs.Set(c.field, c.value)
		mine.Set(c.field, c.other)
		if r, page := v.post(t, path, theirs); r.StatusCode != 303 {
			t.Errorf("%s, changed: %d %s", path, r.StatusCode, page)
		}
		if _, page = v.get(t, path); formAt(t, page, path).Get(c.field) != c.value {
			t.Errorf("%s shows %q, want %q", path, formAt(t, page, path).Get(c.field), c.value)
		}
		// Sent again by a browser that did not hear the answer.
		if r, _ := v.post(t, path, theirs); r.StatusCode != 303 {
			t.Errorf("%s, the same form again: %d", path, r.StatusCode)
		}
		r, page = v.post(t, path, mine)
		if r.StatusCode != 409 || !strings.Contains(page, "while you had it open") || !strings.Contains(page, html.EscapeString(lastLine(c.value))) {
			t.Errorf("%s, overtaken: %d\n%s", path, r.StatusCode, page)
			continue
		}
		checkHTML(t, path+", overtaken", []byte(page))
		again := formAt(t, page, path)
		if again.Get(c.field) != c.other {
			t.Errorf("%s lost what was typed: %q", path, again.Get(c.field))
		}
		if r, page := v.post(t, path, again); r.StatusCode != 303 {
			t.Errorf("%s, sent again after a look: %d %s", path, r.StatusCode, page)
		}
		if _, page = v.get(t, path); formAt(t, page, path).Get(c.field) != c.other {
			t.Errorf("%s shows %q, want %q", path, formAt(t, page, path).Get(c.field), c.other)
		}
	}
	for _, kind := range desk.SettingKinds() {
		if _, ok := kindWords[kind]; !ok {
			continue
		}
		r, page := v.get(t, "/desk/settings/history/"+string(kind))
		if r.StatusCode != 200 || !strings.Contains(page, "Version 2") || !strings.Contains(page, "Rowan") {
			t.Errorf("history of %s: %d", kind, r.StatusCode)
		}
		checkHTML(t, "history of "+string(kind), []byte(page))
	}
}

// Every field of a document has a word for its history and a question on its
// page: one that somebody adds must not be lost there.
func TestSettingsFormsAskForEverything(t *testing.T) {
	_, v := begun(t)
	for _, c := range []struct {
		doc   any
		words map[string]string
		path  string
	}{{desk.Rules{}, ruleWords, "rules"}, {desk.Library{}, libraryWords, "library"}, {tariff.Tariff{}, tariffWords, "tariff"}} {
		_, page := v.get(t, "/desk/settings/"+c.path)
		for i := range reflect.TypeOf(c.doc).NumField() {
			f := reflect.TypeOf(c.doc).Field(i)
			key, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			if key == "" {
				key = f.Name
			}
			if c.words[key] == "" {
				t.Errorf("%s: no word for %s", c.path, key)
			}
			if c.path == "tariff" {
				if key, _, _ = strings.Cut(f.Tag.Get("toml"), ","); key == "-" {
					continue
				}
			}
			asked := map[string]string{"usual": "usual_printer", "questions": "question-0-id", "per_gram": "gram-pla", "taxes": "tax-0-name"}
			name := key
			if asked[key] != "" {
				name = asked[key]
			}
			if !strings.Contains(page, `name="`+name+`"`) {
				t.Errorf("%s: %s is not asked for", c.path, key)
			}
		}
	}
}

func lastLine(s string) string {
	s = strings.TrimSpace(s)
	return s[strings.LastIndexByte(s, '\n')+1:]
}

func clone(v url.Values) url.Values {
	c := url.Values{}
	for k, x := range v {
		c[k] = append([]string(nil), x...)
	}
	return c
}

// A library's own printer is there without a line of text: its model by form,
// then the printer of it.
func TestAPrinterModelByForm(t *testing.T) {
	_, v := begun(t)
	const path = "/desk/settings/models/printer/new"
	_, page := v.get(t, path)
	f := formAt(t, page, path)
	f.Set("name", "Reading Room 220")
	f.Set("id", "reading-room")
	f.Set("volume_mm_x", "220")
	f.Set("volume_mm_z", "250,5")
	f.Set("volume_mm_y", "5")
	r, page := v.post(t, path, f)
	if r.StatusCode != 422 || !strings.Contains(page, "Depth is 5, but must be from 10 to 2000 mm.") {
		t.Fatalf("a model that cannot be: %d\n%s", r.StatusCode, page)
	}
	f = formAt(t, page, path)
	f.Set("volume_mm_y", "210")
	if r, page := v.post(t, path, f); r.StatusCode != 303 {
		t.Fatalf("a new model: %d\n%s", r.StatusCode, page)
	}
	if _, page := v.get(t, "/desk/settings/models"); !strings.Contains(page, "Reading Room 220") || !strings.Contains(page, "220 × 210 × ") {
		t.Errorf("the list of models lacks it\n%s", page)
	}
	const there = "/desk/settings/models/printer/reading-room"
	if _, page := v.get(t, there); formAt(t, page, there).Get("volume_mm_z") != "250.5" {
		t.Errorf("250,5 mm is kept otherwise\n%s", page)
	}
	if _, page := v.get(t, "/desk/settings/printers/new"); !strings.Contains(page, `<option value="reading-room">Reading Room 220`) {
		t.Errorf("no printer can be of it\n%s", page)
	}
}

// What cannot be taken is shown again as typed, with what is wrong at its field.
func TestSettingsFormsThatAreWrong(t *testing.T) {
	s, v := begun(t)
	for _, c := range []struct{ path, field, value string }{
		{"library", "address", "https://a.example/<script>alert(1)</script>"},
		{"library", "languages", "en, ?"},
		{"rules", "quote_days", "soon"},
		{"rules", "longest_print", "a while"},
		{"rules", "reserve_g", "1e99"},
		{"rules", "question-0-id", "Weapon?"},
		{"tariff", "set_up", "1.005"},
		{"tariff", "set_up", "1.234.50"},
		{"tariff", "gram-pla", "ten"},
		{"tariff", "currency", "GOLD"},
		{"texts/en/ready", "body", "{{.Nothing}}"},
		{"models/text", "toml", "[material.pla"},
		{"models/material/pla", "density", "200"},
		{"models/material/pla", "density", "heavy"},
		{"models/printer/millrace-200", "volume_mm_y", "5"},
		{"models/printer/millrace-200", "start_time_s", "a while"},
		{"models/printer/new", "id", "Reading room"},
		{"models/printer/new", "id", "millrace-200"},
	} {
		path := "/desk/settings/" + c.path
		_, page := v.get(t, path)
		f := formAt(t, page, path)
		f.Set(c.field, c.value)
		r, page := v.post(t, path, f)
		if r.StatusCode != 422 || !strings.Contains(page, `id="f-`+c.field+`-error"`) || !strings.Contains(page, `href="#f-`+c.field+`"`) {
			t.Errorf("%s, %s = %q: %d\n%s", c.path, c.field, c.value, r.StatusCode, page)
			continue
		}
		if strings.Contains(page, c.field+": ") {
			t.Errorf("%s, %s: said by its key", c.path, c.field)
		}
		if got := formAt(t, page, path).Get(c.field); got != c.value {
			t.Errorf("%s, %s came back as %q, want %q", c.path, c.field, got, c.value)
		}
		checkHTML(t, c.path, []byte(page))
	}
	branches, err := s.desk.Branches(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	path := "/desk/settings/branches/" + string(branches[0].ID)
	_, page := v.get(t, path)
	f := formAt(t, page, path)
	f.Set("hours-2", "ten to six")
	f.Set("closed", "2026-13-45 Nonsense")
	if r, page := v.post(t, path, f); r.StatusCode != 422 || !strings.Contains(page, `id="f-hours-2-error"`) {
		t.Errorf("hours in words: %d %s", r.StatusCode, page)
	}
	if set, err := s.desk.Settings(t.Context()); err != nil || set.Versions[desk.RulesSetting] != 0 {
		t.Errorf("something was saved: %v, %v", set.Versions, err)
	}
}

// The price on the page of the tariff is worked out from what is typed,
// nothing is saved. The example is that of the handbook: 1.00 + 23 g × 0.10
// with taxes of 5 % and 6 % is 3.67 rounded each alone, 3.66 taken together.
func TestTariffIsTried(t *testing.T) {
	s, v := begun(t)
	const path = "/desk/settings/tariff"
	_, page := v.get(t, path)
	f := formAt(t, page, path)
	for name, value := range map[string]string{"currency": "EUR", "set_up": "1,00", "gram-pla": "0.10", "minimum": "0", "per_hour": "0", "try-material": "pla",
		"tax-0-name": "One", "tax-0-percent": "5", "tax-1-name": "Two", "tax-1-percent": "6", "do": "try"} {
		f.Set(name, value)
	}
	for together, want := range map[string]string{"": "€3.67", "yes": "€3.66"} {
		f.Set("tax_together", together)
		r, page := v.post(t, path, f)
		if r.StatusCode != 200 || !strings.Contains(page, want) {
			t.Errorf("together %q: %d, no %s in\n%s", together, r.StatusCode, want, page)
		}
		if got := formAt(t, page, path).Get("tax-1-name"); got != "Two" {
			t.Errorf("the second tax came back as %q", got)
		}
	}
	if set, err := s.desk.Settings(t.Context()); err != nil || len(set.Tariff.Taxes) > 0 {
		t.Errorf("trying saved it: %+v, %v", set.Tariff.Taxes, err)
	}
}

// Who may open what. Paths with {b} and {p} are of Millgate and its printer.
func TestWhoSeesSettings(t *testing.T) {
	s, boss := begun(t)
	ctx := t.Context()
	branches, err := s.desk.Branches(ctx)
	if err != nil {
		t.Fatal(err)
	}
	mill := string(branches[0].ID)
	_, page := boss.get(t, "/desk/settings/branches/new")
	f := formAt(t, page, "/desk/settings/branches/new")
	f.Set("name", "Saltholm")
	if r, _ := boss.post(t, "/desk/settings/branches/new", f); r.StatusCode != 303 {
		t.Fatal(r.Status)
	}
	if branches, err = s.desk.Branches(ctx); err != nil {
		t.Fatal(err)
	}
	salt := ""
	for _, b := range branches {
		if b.Name == "Saltholm" {
			salt = string(b.ID)
		}
	}
	for name, branch := range map[string]string{"Heron": mill, "Stork": salt} {
		_, page = boss.get(t, "/desk/settings/printers/new")
		f = formAt(t, page, "/desk/settings/printers/new")
		f.Set("name", name)
		f.Set("branch", branch)
		if r, page := boss.post(t, "/desk/settings/printers/new", f); r.StatusCode != 303 {
			t.Fatal(page)
		}
	}
	units, err := s.desk.Printers(ctx, "")
	if err != nil {
		t.Fatal(err)
	}
	heron, stork := "", ""
	for _, u := range units {
		if u.Name == "Heron" {
			heron = string(u.ID)
		} else {
			stork = string(u.ID)
		}
	}
	who := map[string]visitor{
		"manager": boss, "branch": employed(t, s, boss, "bee", map[string]string{mill: "manager"}),
		"operator": employed(t, s, boss, "oak", map[string]string{mill: "operator"}), "nobody": s.visitor(t),
	}
	all, err := s.desk.AllStaff(ctx, desk.Actor{Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Manager}}})
	if err != nil {
		t.Fatal(err)
	}
	oak := ""
	for _, a := range all {
		if a.Name == "oak" {
			oak = string(a.ID)
		}
	}
	for _, c := range []struct {
		path             string
		branch, operator int // status for them; the manager sees all
	}{
		{"/desk/settings", 200, 200},
		{"/desk/settings/library", 403, 403},
		{"/desk/settings/rules", 403, 403},
		{"/desk/settings/tariff", 403, 403},
		{"/desk/settings/terms", 403, 403},
		{"/desk/settings/texts", 403, 403},
		{"/desk/settings/texts/en/ready", 403, 403},
		{"/desk/settings/models", 403, 403},
		{"/desk/settings/models/text", 403, 403},
		{"/desk/settings/models/material/pla", 403, 403},
		{"/desk/settings/models/printer/new", 403, 403},
		{"/desk/settings/models/material/pla/text", 403, 403},
		{"/desk/settings/history/rules", 403, 403},
		{"/desk/settings/log-ins", 403, 403},
		{"/desk/settings/branches", 200, 200},
		{"/desk/settings/branches/new", 403, 403},
		{"/desk/settings/branches/" + mill, 200, 403},
		{"/desk/settings/branches/" + mill + "/history", 200, 403},
		{"/desk/settings/branches/" + salt, 403, 403},
		{"/desk/settings/printers", 200, 200},
		{"/desk/settings/printers/new", 200, 403},
		{"/desk/settings/printers/" + heron, 200, 200},
		{"/desk/settings/printers/" + stork, 403, 403},
		{"/desk/settings/staff", 200, 403},
		{"/desk/settings/staff/new", 200, 403},
		{"/desk/settings/staff/" + oak, 200, 403},
		{"/desk/settings/staff/" + oak + "/history", 200, 403},
		{"/desk/me", 200, 200},
	} {
		for name, want := range map[string]int{"manager": 200, "branch": c.branch, "operator": c.operator, "nobody": 303} {
			r, page := who[name].get(t, c.path)
			if r.StatusCode != want {
				t.Errorf("%s opens %s: %d, want %d", name, c.path, r.StatusCode, want)
			}
			if name == "nobody" && !strings.HasPrefix(r.Header.Get("Location"), "/log-in?back=") {
				t.Errorf("%s leads nobody to %s", c.path, r.Header.Get("Location"))
			}
			if r.StatusCode == 200 {
				checkHTML(t, name+" at "+c.path, []byte(page))
			}
		}
	}
	for _, path := range []string{"/desk/settings/branches/nothing", "/desk/settings/printers/nothing", "/desk/settings/staff/nothing", "/desk/settings/texts/xx/ready",
		"/desk/settings/texts/en/greeting", "/desk/settings/models/material/nothing", "/desk/settings/models/printer/nothing", "/desk/settings/models/spool/pla/text", "/desk/settings/models/way/nothing/text",
		"/desk/settings/history/branch%2F" + mill, "/desk/settings/history/nothing"} {
		if r, _ := boss.get(t, path); r.StatusCode != 404 {
			t.Errorf("%s: %d", path, r.StatusCode)
		}
	}
	// Forms nobody gave them do nothing either.
	forged := url.Values{"version": {"0"}, "seen": {"0"}, "name": {"Taken"}, "called": {"Taken"}, "at-": {"manager"}, "active": {"yes"}, "toml": {""}, "text-en": {"x"}}
	for _, path := range append(settingsPaths(t, s)[:9], "/desk/settings/branches/new", "/desk/settings/branches/"+salt, "/desk/settings/printers/"+stork, "/desk/settings/staff/new", "/desk/settings/staff/"+oak) {
		for _, name := range []string{"branch", "operator"} {
			if r, _ := who[name].post(t, path, forged); r.StatusCode != 403 && r.StatusCode != 409 {
				t.Errorf("%s sends %s: %d", name, path, r.StatusCode)
			}
		}
		if r, _ := who["nobody"].post(t, path, forged); r.StatusCode != 303 {
			t.Errorf("nobody sends %s: %d", path, r.StatusCode)
		}
	}
	after, err := s.desk.AllStaff(ctx, desk.Actor{Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Manager}}})
	if err != nil || len(after) != len(all) {
		t.Errorf("%d accounts, were %d; %v", len(after), len(all), err)
	}
	for _, a := range after {
		if a.Called == "Taken" || a.Name == "oak" && len(a.Grants) != 1 {
			t.Errorf("%+v", a)
		}
	}
	// An operator says a printer is out of service, and no more.
	path := "/desk/settings/printers/" + heron
	_, page = who["operator"].get(t, path)
	f = formAt(t, page, path)
	if f.Has("name") || f.Has("retired") {
		t.Error("an operator is asked for more than they may say")
	}
	f.Set("out", "Leaks <b>badly</b>")
	f.Set("name", "Mine")
	f.Set("retired", "yes")
	if r, page := who["operator"].post(t, path, f); r.StatusCode != 303 {
		t.Errorf("%d %s", r.StatusCode, page)
	}
	if units, err = s.desk.Printers(ctx, desk.ID(mill)); err != nil || units[0].Name != "Heron" || units[0].Retired || units[0].Out != "Leaks <b>badly</b>" {
		t.Errorf("%+v, %v", units, err)
	}
	if _, page = boss.get(t, "/desk/settings/printers"); strings.Contains(page, "<b>badly") {
		t.Error("what was typed is taken for HTML")
	}
}

func TestLogInPages(t *testing.T) {
	s, boss := begun(t)
	v := s.visitor(t)
	for back, want := range map[string]string{"": "/desk", "/desk/shelf?a=b": "/desk/shelf?a=b", "//elsewhere.example": "/desk", "https://elsewhere.example": "/desk",
		"/\\elsewhere.example": "/desk", "/log-out": "/desk", "/desk/../my/x": "/desk", "/desk/%2e%2e/my/x": "/desk", "/deskx": "/desk"} {
		s.pass(time.Second) // so that the address may try again
		v := s.visitor(t)
		r, _ := v.post(t, "/log-in", url.Values{"name": {"rowan"}, "password": {aPassword}, "back": {back}})
		if r.StatusCode != 303 || r.Header.Get("Location") != want {
			t.Errorf("back %q leads to %q", back, r.Header.Get("Location"))
		}
	}
	r, page := v.post(t, "/log-in", url.Values{"name": {`"><script>alert(1)</script>`}, "password": {"not the password"}})
	if r.StatusCode != 422 || strings.Contains(page, "<script>alert") || strings.Contains(page, "not the password") {
		t.Errorf("a wrong log-in: %d %s", r.StatusCode, page)
	}
	for range 5 {
		r, _ = v.post(t, "/log-in", url.Values{"name": {"elsewhere"}, "password": {"not the password"}})
		if r.StatusCode != 422 {
			t.Errorf("%d", r.StatusCode)
		}
	}
	r, page = v.post(t, "/log-in", url.Values{"name": {"elsewhere"}, "password": {"not the password"}})
	if r.StatusCode != 429 || !strings.Contains(page, "Wait 15 seconds") {
		t.Errorf("too many: %d %s", r.StatusCode, page)
	}
	if _, page := boss.get(t, "/desk/settings/log-ins"); !strings.Contains(page, "refused: no such name") || strings.Contains(page, "<script>alert") {
		t.Error("the audit does not show it, or shows it as HTML")
	}
	// Out again: the session is worth nothing, to whoever kept its cookie.
	u, err := url.Parse(boss.url)
	if err != nil {
		t.Fatal(err)
	}
	kept := boss.Jar.Cookies(u)
	if r, _ := boss.post(t, "/log-out", url.Values{}); r.StatusCode != 303 {
		t.Error(r.Status)
	}
	boss.Jar.SetCookies(u, kept)
	if r, _ := boss.get(t, "/desk/settings"); r.StatusCode != 303 {
		t.Errorf("after logging out: %d", r.StatusCode)
	}
	// A session that was not ours before the log-in is not ours after.
	planted := &http.Cookie{Name: "desk", Value: "planted-by-someone"}
	v = s.visitor(t)
	v.Jar.SetCookies(u, []*http.Cookie{planted})
	r, _ = v.post(t, "/log-in", url.Values{"name": {"rowan"}, "password": {aPassword}})
	for _, c := range r.Cookies() {
		if c.Name == "desk" && (c.Value == planted.Value || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode) {
			t.Errorf("cookie %+v", c)
		}
	}
}

// A new password, and an account closed, end what is open in other browsers.
func TestSessionsEndInBrowsers(t *testing.T) {
	s, boss := begun(t)
	oak := employed(t, s, boss, "oak", nil)
	s.pass(time.Minute)
	other := s.logged(t, "oak", aPassword)
	s.pass(time.Minute)
	_, page := oak.get(t, "/desk/me")
	f := formAt(t, page, "/desk/me/password")
	f.Set("old", aPassword)
	f.Set("password", "quiet lamps borrow rain")
	f.Set("again", "quiet lamps borrow rain")
	if r, page := oak.post(t, "/desk/me/password", f); r.StatusCode != 303 {
		t.Fatal(page)
	}
	if r, _ := oak.get(t, "/desk/me"); r.StatusCode != 200 {
		t.Errorf("the browser it was set in: %d", r.StatusCode)
	}
	if r, _ := other.get(t, "/desk/me"); r.StatusCode != 303 {
		t.Errorf("the other browser: %d", r.StatusCode)
	}
	if _, page := other.get(t, "/log-in"); !strings.Contains(page, "Your log-in is over") {
		t.Error("it is not said why to log in again")
	}
	// The manager closes the account.
	all, err := s.desk.AllStaff(t.Context(), desk.Actor{Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Manager}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range all {
		if a.Name != "oak" {
			continue
		}
		path := fmt.Sprintf("/desk/settings/staff/%s", a.ID)
		_, page := boss.get(t, path)
		f := formAt(t, page, path)
		f.Del("active")
		if r, page := boss.post(t, path, f); r.StatusCode != 303 {
			t.Fatal(page)
		}
	}
	if r, _ := oak.get(t, "/desk/me"); r.StatusCode != 303 {
		t.Errorf("after the account was closed: %d", r.StatusCode)
	}
}
