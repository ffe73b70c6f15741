package web

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"net/url"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"platebook/desk"
)

// askable is a site that takes requests: a branch, terms, and rules that change
// may change.
func askable(t testing.TB, change func(*desk.Rules), set ...func(*Options)) (*tested, desk.Branch) {
	t.Helper()
	s := aSite(t, set...)
	if s.limits.Asking == (Limits{}).complete().Asking { // the clock stands still, so nothing would be let in again
		s.asking = newLimiter(time.Nanosecond, 1<<20, s.clock)
	}
	s.visits = newLimiter(time.Nanosecond, 1<<20, s.clock)
	s.store.SetEnqueue(func(context.Context, *sql.Tx, desk.Job) error { return nil })
	b := aBranch()
	b.ID = ""
	rules := desk.DefaultRules()
	if change != nil {
		change(&rules)
	}
	err := s.store.Write(t.Context(), func(tx desk.Tx) error {
		if err := tx.SaveBranch(&b); err != nil {
			return err
		}
		for k, doc := range map[desk.SettingKind]any{
			desk.LibrarySetting: desk.Library{Name: "Larkmere Libraries", Locale: "en-GB", TimeZone: "Europe/London", Languages: []string{"en", "fr"}, Address: "https://desk.example"},
			desk.RulesSetting:   rules,
			desk.TermsSetting:   desk.Terms{Text: map[string]string{"en": "What we print.", "fr": "Ce que nous imprimons."}},
		} {
			body, err := json.Marshal(doc)
			if err != nil {
				return err
			}
			if err := tx.SaveSetting(&desk.Setting{Kind: k, Version: 1, Body: body, Since: s.now, By: "test"}); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return s, b
}

// aPart is a part of a multipart form: a field, or a file if it has a name.
type aPart struct{ field, file, text string }

// answers fill in a form that can be taken.
func answers(b desk.Branch, token string) []aPart {
	return []aPart{{field: "form", text: token}, {field: "lang", text: "en"}, {field: "terms", text: "1"}, {field: "size", text: "length"}, {field: "length", text: "7,5"},
		{field: "unit", text: "cm"}, {field: "colour", text: "green"}, {field: "copies", text: "2"}, {field: "needed", text: "2026-04-01"}, {field: "purpose", text: "A gift"},
		{field: "note", text: "Upright, please"}, {field: "branch", text: string(b.ID)}, {field: "name", text: "Rowan Ash"}, {field: "email", text: "rowan@example.org"},
		{field: "language", text: "en"}, {field: "age", text: "over"}, {field: "rights", text: "yes"}, {field: "accept", text: "yes"},
		{field: "files", file: "cup.stl", text: "solid cup"}}
}

// with replaces the answer to a field.
func with(parts []aPart, field, text string) []aPart {
	parts = slices.Clone(parts)
	for i := range parts {
		if parts[i].field == field {
			parts[i].text = text
		}
	}
	return parts
}

func multipartBody(parts []aPart) (string, []byte) {
	var b bytes.Buffer
	m := multipart.NewWriter(&b)
	for _, p := range parts {
		h := textproto.MIMEHeader{"Content-Disposition": {fmt.Sprintf(`form-data; name="%s"`, p.field)}}
		if p.file != "" {
			h.Set("Content-Disposition", fmt.Sprintf(`form-data; name="%s"; filename="%s"`, p.field, p.file))
			h.Set("Content-Type", "application/octet-stream")
		}
		w, _ := m.CreatePart(h)
		_, _ = io.WriteString(w, p.text)
	}
	_ = m.Close()
	return m.FormDataContentType(), b.Bytes()
}

func (v visitor) send(t testing.TB, path string, parts []aPart, header ...string) (*http.Response, string) {
	t.Helper()
	kind, body := multipartBody(parts)
	r, err := http.NewRequestWithContext(context.Background(), http.MethodPost, v.url+path, bytes.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	for i := 0; i+1 < len(header); i += 2 {
		r.Header.Set(header[i], header[i+1])
	}
	resp, err := v.Do(r)
	return answer(t, resp, err)
}

// fieldsOf are the values of a page's hidden fields by name.
func fieldsOf(t testing.TB, page string) url.Values {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(page))
	if err != nil {
		t.Fatal(err)
	}
	all := url.Values{}
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode || n.Data != "input" {
			continue
		}
		a := map[string]string{}
		for _, x := range n.Attr {
			a[x.Key] = x.Val
		}
		if a["type"] == "hidden" {
			all.Add(a["name"], a["value"])
		}
	}
	return all
}

func (s *tested) requests(t testing.TB) (all []desk.Request) {
	t.Helper()
	if err := s.store.Read(t.Context(), func(tx desk.Tx) (err error) {
		all, err = tx.ListRequests(desk.RequestFilter{Most: 100})
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return all
}

func TestAskJourney(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	r, page := v.get(t, "/")
	if r.StatusCode != 200 || !strings.Contains(page, "Millbrook") || !strings.Contains(page, "09:00 to 12:30") {
		t.Errorf("welcome: %d %s", r.StatusCode, page)
	}
	_, page = v.get(t, "/ask")
	token := fieldsOf(t, page).Get("form")
	r, _ = v.send(t, "/ask", answers(b, token))
	to := r.Header.Get("Location")
	if r.StatusCode != http.StatusSeeOther || !strings.HasPrefix(to, "/my/") || !strings.HasSuffix(to, "?new=yes") {
		t.Fatalf("sent: %d to %q", r.StatusCode, to)
	}
	all := s.requests(t)
	if len(all) != 1 {
		t.Fatalf("%d requests", len(all))
	}
	q := all[0]
	if q.Wish.SizeMM != 75 || q.Wish.Copies != 2 || q.Wish.Colour != "green" || q.Wish.Needed != "2026-04-01" || !q.Wish.Rights || q.Wish.Terms != 1 || q.Contact.Email != "rowan@example.org" || q.Branch != b.ID {
		t.Errorf("kept as %+v", q)
	}
	r, page = v.get(t, to)
	for _, want := range []string{string(q.Code), "Keep the address of this page", "cup.stl", "longest side 75 mm", "A gift", "Wednesday 1 April 2026"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page of the request lacks %q", want)
		}
	}
	if r.StatusCode != 200 || r.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("%d, %v", r.StatusCode, r.Header)
	}
	checkHTML(t, "request", []byte(page))

	// Sent again: the same request.
	r, _ = v.send(t, "/ask", answers(b, token))
	if again := r.Header.Get("Location"); again != strings.Replace(to, "=yes", "=again", 1) || len(s.requests(t)) != 1 {
		t.Errorf("again: %d to %q, %d requests", r.StatusCode, again, len(s.requests(t)))
	}
	if _, page = v.get(t, r.Header.Get("Location")); !strings.Contains(page, "It counts once") {
		t.Error("a form sent again is not said to be one")
	}
	// By htmx the browser is sent on by a header.
	r, _ = v.send(t, "/ask", answers(b, token), "HX-Request", "true")
	if r.StatusCode != http.StatusNoContent || !strings.HasPrefix(r.Header.Get("HX-Redirect"), "/my/") {
		t.Errorf("by htmx: %d %v", r.StatusCode, r.Header)
	}
	// From another site it is not taken at all.
	r, _ = v.send(t, "/ask", answers(b, formToken()), "Sec-Fetch-Site", "cross-site")
	if r.StatusCode != http.StatusForbidden || len(s.requests(t)) != 1 {
		t.Errorf("from another site: %d", r.StatusCode)
	}
}

// Fields may come in any order, files before the rest and between.
func TestAskInAnyOrder(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth = 0 })
	v := s.visitor(t)
	for i := range 4 {
		parts := answers(b, formToken())
		switch i {
		case 0:
			slices.Reverse(parts)
		default:
			n := len(parts) * i / 4
			parts = append(parts[n:], parts[:n]...)
		}
		if r, page := v.send(t, "/ask", parts); r.StatusCode != http.StatusSeeOther {
			t.Errorf("order %d: %d %s", i, r.StatusCode, page)
		}
	}
}

// A form that cannot be taken keeps the files it brought: they need not be
// sent again, can be left out, and serve no other form.
func TestAskKeepsFiles(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	token := formToken()
	parts := append(with(answers(b, token), "email", "no address"), aPart{"files", "lid.3mf", "PK lid"})
	r, page := v.send(t, "/ask", parts)
	hidden := fieldsOf(t, page)
	if r.StatusCode != http.StatusUnprocessableEntity || len(hidden["kept"]) != 2 || hidden.Get("form") != token {
		t.Fatalf("%d, kept %q, form %q", r.StatusCode, hidden["kept"], hidden.Get("form"))
	}
	for _, want := range []string{"cup.stl", "lid.3mf", `href="#f-email"`, `value="no address"`, `value="Rowan Ash"`, "Upright, please", "One thing needs mending"} {
		if !strings.Contains(page, want) {
			t.Errorf("the form lacks %q", want)
		}
	}
	checkHTML(t, "form", []byte(page))

	noFile := func(token string, kept []string) []aPart {
		all := slices.DeleteFunc(answers(b, token), func(p aPart) bool { return p.field == "files" })
		for _, k := range kept {
			all = append(all, aPart{field: "kept", text: k})
		}
		return append(all, aPart{field: "files", file: "", text: ""})
	}
	// Sealed for this form alone; a seal that was touched is none.
	for name, parts := range map[string][]aPart{
		"another form": noFile(formToken(), hidden["kept"]), "touched": noFile(token, []string{hidden["kept"][0] + "A"}),
		"made up": noFile(token, []string{"eyJuIjoiYS5zdGwifQ.AAAA"}), "no seal": noFile(token, []string{"x"}),
	} {
		if r, _ := v.send(t, "/ask", parts); r.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", name, r.StatusCode)
		}
	}
	drop := desk.HashOf([]byte("PK lid"))
	r, page = v.send(t, "/ask", append(noFile(token, hidden["kept"]), aPart{field: "drop", text: string(drop)}))
	if r.StatusCode != http.StatusSeeOther {
		t.Fatalf("%d %s", r.StatusCode, page)
	}
	_, page = v.get(t, r.Header.Get("Location"))
	if !strings.Contains(page, "cup.stl") || strings.Contains(page, "lid.3mf") {
		t.Error("not the files that were kept and not left out")
	}
}

func TestAskFilesRefused(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.MaxFile, r.MaxFiles = 1000, 2 })
	v := s.visitor(t)
	for _, c := range []struct {
		name string
		file aPart
		say  string
	}{
		{"too large", aPart{"files", "big.stl", strings.Repeat("x", 1001)}, "“big.stl” is larger than"},
		{"wrong format", aPart{"files", "cup.step", "ISO-10303-21;"}, "export it from there as STL or 3MF"},
		{"empty", aPart{"files", "none.stl", ""}, "“none.stl” is empty"},
		{"hostile name", aPart{"files", `..\..\<b>x\u202e.exe`, "MZ"}, "cannot be taken"},
	} {
		r, page := v.send(t, "/ask", append(answers(b, formToken()), c.file))
		if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, c.say) {
			t.Errorf("%s: %d, does not say %q", c.name, r.StatusCode, c.say)
		}
		// What was good is kept, what was not is not.
		if kept := fieldsOf(t, page)["kept"]; len(kept) != 1 {
			t.Errorf("%s: kept %d", c.name, len(kept))
		}
		checkHTML(t, c.name, []byte(page))
	}
	// All that cannot be taken is named at once, a line each.
	r, page := v.send(t, "/ask", append(slices.DeleteFunc(answers(b, formToken()), func(p aPart) bool { return p.field == "files" }), aPart{"files", "notes.txt", "x"}, aPart{"files", "all.zip", "PK"}))
	if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "write what it says into the note, and choose a model file.\n“all.zip” cannot be taken") {
		t.Errorf("two files that cannot be taken: %d\n%s", r.StatusCode, textOfHTML(t, page))
	}
	many := answers(b, formToken())
	for i := range 60 {
		many = append(many, aPart{"files", fmt.Sprintf("p%d.stl", i), fmt.Sprint(i)})
	}
	if r, page = v.send(t, "/ask", many); r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "2 files at most") {
		t.Errorf("many files: %d", r.StatusCode)
	}
	if n := len(s.requests(t)); n != 0 {
		t.Errorf("%d requests", n)
	}
}

// Names as browsers and others write them: RFC 7578 section 4.2, RFC 2183.
func TestAskFileNames(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth = 0 })
	v := s.visitor(t)
	for sent, want := range map[string]string{
		`C:\\parts\\cup.stl`: "cup.stl", "../../../cup.stl": "cup.stl", "tasse à café.stl": "tasse à café.stl", "cup.stl\\\"; x=\\\"": "",
		"cup\u202elts.stl": "cuplts.stl", strings.Repeat("n", 500) + ".stl": strings.Repeat("n", 96) + ".stl",
	} {
		parts := answers(b, formToken())
		parts[len(parts)-1].file = sent
		r, page := v.send(t, "/ask", parts)
		if want == "" {
			if r.StatusCode != http.StatusUnprocessableEntity {
				t.Errorf("%q: %d", sent, r.StatusCode)
			}
			continue
		}
		if r.StatusCode != http.StatusSeeOther {
			t.Errorf("%q: %d %s", sent, r.StatusCode, page)
			continue
		}
		if _, page = v.get(t, r.Header.Get("Location")); !strings.Contains(page, html.EscapeString(want)) {
			t.Errorf("%q is not shown as %q", sent, want)
		}
	}
}

// The header of a part as browsers write it (RFC 7578, 4.2), and in the
// extended form (RFC 2231, 4; its own example is the last).
func TestFileNameOfAPart(t *testing.T) {
	for header, want := range map[string]string{
		`form-data; name="files"; filename="cup.stl"`:                                         "cup.stl",
		`form-data; name="files"; filename="tasse à café.stl"`:                                "tasse à café.stl",
		`form-data; name="files"; filename="a \"b\".stl"`:                                     `a "b".stl`,
		`form-data; name="files"; filename*=UTF-8''tasse%20%C3%A0%20caf%C3%A9.stl`:            "tasse à café.stl",
		`form-data; name="files"; filename*=us-ascii'en-us'This%20is%20%2A%2A%2Afun%2A%2A%2A`: "This is ***fun***",
	} {
		name, ok := fileNameOf(&multipart.Part{Header: textproto.MIMEHeader{"Content-Disposition": {header}}})
		if !ok || name != want {
			t.Errorf("%s: %q, want %q", header, name, want)
		}
	}
	for header, file := range map[string]bool{`form-data; name="note"`: false, `form-data; name="files"; filename=""`: true, ``: false, `form-data; filename`: true} {
		if name, ok := fileNameOf(&multipart.Part{Header: textproto.MIMEHeader{"Content-Disposition": {header}}}); ok != file || name != "" {
			t.Errorf("%q: %q, %t", header, name, ok)
		}
	}
}

// Markup typed anywhere is shown as typed.
func TestAskShowsMarkupAsText(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	bad := answers(b, formToken())
	for i := range bad {
		if f := bad[i].field; f != "form" && f != "files" {
			bad[i].text = hostile
		}
	}
	r, page := v.send(t, "/ask", bad)
	if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, html.EscapeString(hostile)) {
		t.Errorf("refused: %d", r.StatusCode)
	}
	checkHTML(t, "refused", []byte(page))
	if strings.Contains(page, "<script>alert") {
		t.Error("a script came back")
	}
	good := answers(b, formToken())
	for _, f := range []string{"name", "purpose", "note", "colour"} {
		good = with(good, f, hostile)
	}
	r, page = v.send(t, "/ask", good)
	if r.StatusCode != http.StatusSeeOther {
		t.Fatalf("%d %s", r.StatusCode, page)
	}
	_, page = v.get(t, r.Header.Get("Location"))
	if strings.Contains(page, "<script>alert") || !strings.Contains(page, "&lt;script&gt;alert(1)") {
		t.Error("not shown as text")
	}
	checkHTML(t, "request", []byte(page))
}

// What does not arrive whole, or is no form of ours, makes nothing.
func TestAskBrokenForms(t *testing.T) {
	s, b := askable(t, nil, func(o *Options) { o.Limits.Upload = 100_000 })
	v := s.visitor(t)
	kind, body := multipartBody(answers(b, formToken()))
	for name, c := range map[string]struct {
		kind string
		body []byte
	}{
		"cut short": {kind, body[:len(body)-60]}, "cut in a header": {kind, body[:40]}, "empty": {kind, nil}, "no boundary": {"multipart/form-data", body},
		"another boundary": {"multipart/form-data; boundary=zzz", body}, "noise": {kind, bytes.Repeat([]byte("x"), 5000)}, "no multipart": {"application/x-www-form-urlencoded", []byte("form=%zz")},
		"too large": {kind, append(slices.Clone(body[:len(body)-60]), bytes.Repeat([]byte("y"), 200_000)...)},
	} {
		r, err := v.Post(v.url+"/ask", c.kind, bytes.NewReader(c.body))
		if err != nil && name == "too large" {
			continue // the server need not hear out what it will not take
		}
		r, page := answer(t, r, err)
		if r.StatusCode/100 != 4 || strings.Contains(page, "no fault of yours") {
			t.Errorf("%s: %d %s", name, r.StatusCode, page)
		}
	}
	for _, token := range []string{"", "short", strings.Repeat("x", 100), "<script>aaaaaaaaaaaaaaaa", "../../../../../../etc/passwd"} {
		r, page := v.send(t, "/ask", with(answers(b, formToken()), "form", token))
		if r.StatusCode != http.StatusUnprocessableEntity {
			t.Errorf("token %q: %d", token, r.StatusCode)
		}
		if f := fieldsOf(t, page); len(f.Get("form")) < 16 || len(f["kept"]) != 1 || f.Get("form") == token {
			t.Errorf("token %q: form %q, %d kept", token, f.Get("form"), len(f["kept"]))
		}
	}
	if n := len(s.requests(t)); n != 0 {
		t.Errorf("%d requests", n)
	}
}

// fullShelves have no room.
type fullShelves struct{ desk.Shelves }

func (fullShelves) Put(_ context.Context, r io.Reader, _ int64) (desk.Hash, int64, error) {
	_, _ = io.ReadFull(r, make([]byte, 3))
	return "", 0, desk.Faultf(desk.NoRoom, "The disk is full. Nothing was kept.")
}

func TestAskDiskFull(t *testing.T) {
	s, b := askable(t, nil)
	s.desk.Shelves = fullShelves{s.desk.Shelves}
	v := s.visitor(t)
	r, page := v.send(t, "/ask", answers(b, formToken()))
	if r.StatusCode != http.StatusServiceUnavailable || !strings.Contains(page, "The disk is full") || !strings.Contains(page, `value="Rowan Ash"`) {
		t.Errorf("%d %s", r.StatusCode, page)
	}
	if n := len(s.requests(t)); n != 0 {
		t.Errorf("%d requests", n)
	}
}

// One address cannot ask without end.
func TestAskPaced(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth = 0 }, func(o *Options) { o.Limits.Asking = time.Hour })
	v := s.visitor(t)
	codes := map[int]int{}
	// A class of thirty is let in at once, each of them twice.
	for range 62 {
		r, _ := v.send(t, "/ask", answers(b, formToken()))
		codes[r.StatusCode]++
	}
	if codes[http.StatusSeeOther] != 60 || codes[http.StatusTooManyRequests] != 2 {
		t.Errorf("%v", codes)
	}
}

// shelved says whether bytes are on the shelves.
func (s *tested) shelved(t testing.TB, text string) bool {
	t.Helper()
	b, err := s.desk.Shelves.Open(t.Context(), desk.HashOf([]byte(text)))
	if desk.KindOf(err) == desk.NotFound {
		return false
	} else if err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	return true
}

// What a refused request brought is let go at once, unless someone else's is
// the same; what waits for its form to be mended stays.
func TestRefusedFilesGo(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth, r.MaxFiles = 1, 2 })
	v := s.visitor(t)
	file := func(parts []aPart, text string) []aPart { return with(parts, "files", text) }
	if r, _ := v.send(t, "/ask", file(answers(b, formToken()), "solid taken")); r.StatusCode != http.StatusSeeOther {
		t.Fatal(r.Status)
	}
	// A second one this month by the same person.
	more := append(file(answers(b, formToken()), "solid refused"), aPart{"files", "same.stl", "solid taken"})
	r, page := v.send(t, "/ask", more)
	if r.StatusCode != http.StatusTooManyRequests || len(fieldsOf(t, page)["kept"]) != 0 || !strings.Contains(page, `value="Rowan Ash"`) {
		t.Errorf("refused: %d, kept %q", r.StatusCode, fieldsOf(t, page)["kept"])
	}
	if s.shelved(t, "solid refused") {
		t.Error("what was refused is on the shelves still")
	}
	if !s.shelved(t, "solid taken") {
		t.Error("what a request uses was let go")
	}
	// Someone's form waits to be mended with the very same file, whichever came first.
	for i, first := range []bool{true, false} {
		text := fmt.Sprint("solid shared ", i)
		mend := func() {
			t.Helper()
			parts := with(with(file(answers(b, formToken()), text), "email", "ash@example.org"), "name", "")
			if r, _ := v.send(t, "/ask", parts); r.StatusCode != http.StatusUnprocessableEntity {
				t.Fatal(r.Status)
			}
		}
		refuse := func() {
			t.Helper()
			if r, _ := v.send(t, "/ask", file(answers(b, formToken()), text)); r.StatusCode != http.StatusTooManyRequests {
				t.Fatal(r.Status)
			}
		}
		if first {
			mend()
			refuse()
		} else {
			refuse()
			mend()
			refuse()
		}
		if !s.shelved(t, text) {
			t.Error("what a form that can be mended counts on was let go")
		}
	}
	// More files than may be sent: the rest is never stored.
	many := with(answers(b, formToken()), "email", "birch@example.org")
	for i := range 9 {
		many = append(many, aPart{"files", fmt.Sprintf("p%d.stl", i), fmt.Sprint("solid more ", i)})
	}
	if r, page := v.send(t, "/ask", many); r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "2 files at most") {
		t.Errorf("many: %d", r.StatusCode)
	}
	if s.shelved(t, "solid more 1") || !s.shelved(t, "solid more 0") {
		t.Error("not the first two of many are stored")
	}
	// Nobody's: a file added to a request that takes none any more.
	all := s.requests(t)
	q := all[0]
	if _, err := s.desk.Withdraw(t.Context(), s.desk.Key(q), formToken(), q.Version, ""); err != nil {
		t.Fatal(err)
	}
	r, _ = v.send(t, desk.PatronPath(s.desk.Key(q))+"/add", []aPart{{field: "form", text: formToken()}, {"files", "late.stl", "solid late"}})
	if r.StatusCode != http.StatusConflict || s.shelved(t, "solid late") {
		t.Errorf("added late: %d, stored %v", r.StatusCode, s.shelved(t, "solid late"))
	}
}

// One address has so many bytes an hour; what is typed is not lost, and
// another address is not kept waiting.
func TestBytesOfAnHour(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth = 0 }, func(o *Options) { o.Limits.Taken = 1000 })
	v := s.visitor(t)
	send := func(parts []aPart, text string) (int, string) {
		// Files first: what is typed comes after them.
		parts = slices.Clone(with(parts, "files", text))
		slices.Reverse(parts)
		r, page := v.send(t, "/ask", parts)
		return r.StatusCode, page
	}
	if code, page := send(answers(b, formToken()), strings.Repeat("a", 700)); code != http.StatusSeeOther {
		t.Fatal(code, page)
	}
	token := formToken()
	code, page := send(answers(b, token), strings.Repeat("b", 700))
	if code != http.StatusTooManyRequests || !strings.Contains(page, "came from your network within the hour") {
		t.Errorf("more than the bytes of an hour: %d", code)
	}
	for _, typed := range []string{`value="Rowan Ash"`, "Upright, please", token} {
		if !strings.Contains(page, typed) {
			t.Errorf("%q is lost", typed)
		}
	}
	if s.shelved(t, strings.Repeat("b", 700)) {
		t.Error("it is stored all the same")
	}
	_, page = send(with(answers(b, formToken()), "lang", "fr"), strings.Repeat("b", 700))
	if !strings.Contains(page, "depuis une heure") && !strings.Contains(page, "within the hour") {
		t.Error("it is not said")
	}
	s.now = s.now.Add(time.Hour)
	if code, page := send(answers(b, token), strings.Repeat("b", 700)); code != http.StatusSeeOther {
		t.Errorf("an hour later: %d %s", code, page)
	}
}

// A form that comes again after a day makes no second request, and one whose
// files were swept meanwhile keeps every word.
func TestAFormAfterADay(t *testing.T) {
	s, b := askable(t, nil)
	s.store.SetEnqueue(func(context.Context, *sql.Tx, desk.Job) error { return nil })
	v := s.visitor(t)
	day := func() {
		t.Helper()
		s.now = s.now.Add(25 * time.Hour)
		if err := s.desk.LookRound(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	taken := answers(b, formToken())
	if r, _ := v.send(t, "/ask", taken); r.StatusCode != http.StatusSeeOther {
		t.Fatal(r.Status)
	}
	token := formToken()
	parts := with(with(with(answers(b, token), "email", "ash@example.org"), "files", "solid other"), "branch", "")
	r, page := v.send(t, "/ask", parts)
	kept := fieldsOf(t, page).Get("kept")
	if r.StatusCode != http.StatusUnprocessableEntity || kept == "" {
		t.Fatalf("%d, kept %q", r.StatusCode, kept)
	}
	day()
	if s.shelved(t, "solid other") {
		t.Fatal("nothing was swept")
	}
	// Whole again, as by a browser that tries once more; with its files, though
	// they are used; and without.
	bare := slices.DeleteFunc(slices.Clone(taken), func(p aPart) bool { return p.file != "" })
	for _, again := range [][]aPart{taken, bare} {
		r, _ = v.send(t, "/ask", again)
		if to := r.Header.Get("Location"); r.StatusCode != http.StatusSeeOther || !strings.HasSuffix(to, "?new=again") {
			t.Errorf("a day later: %d to %q", r.StatusCode, to)
		}
	}
	// Mended, but its file is gone.
	mended := slices.DeleteFunc(with(parts, "branch", string(b.ID)), func(p aPart) bool { return p.file != "" })
	r, page = v.send(t, "/ask", append(mended, aPart{field: "kept", text: kept}))
	if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "cup.stl") || !strings.Contains(page, `href="#f-files"`) {
		t.Errorf("its file is gone: %d", r.StatusCode)
	}
	for _, typed := range []string{`value="Rowan Ash"`, `value="ash@example.org"`, "Upright, please", `value="A gift"`, `value="7,5"`, token} {
		if !strings.Contains(page, typed) {
			t.Errorf("%q is lost", typed)
		}
	}
	for range 2 {
		if r, page = v.send(t, "/ask", with(parts, "branch", string(b.ID))); r.StatusCode != http.StatusSeeOther {
			t.Errorf("with its file once more: %d %s", r.StatusCode, page)
		}
	}
	if n := len(s.requests(t)); n != 2 {
		t.Errorf("%d requests, want 2", n)
	}
}

func TestAskInFrench(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	get := func(path string) string {
		r, err := http.NewRequest(http.MethodGet, v.url+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept-Language", "fr-CA,fr;q=0.8")
		resp, err := v.Do(r)
		_, page := answer(t, resp, err)
		return page
	}
	for path, want := range map[string]string{"/": "Faites imprimer", "/ask": "Ce que nous imprimons.", "/ask?lang=en": "What we print.", "/my/nothing": "Il n’y a pas de demande sous ce lien", "/nothing": "Cette page n’existe pas"} {
		page := get(path)
		if !strings.Contains(page, want) {
			t.Errorf("%s lacks %q", path, want)
		}
		if fr := strings.Contains(page, `<html lang="fr"`); fr == strings.HasSuffix(path, "en") {
			t.Errorf("%s: the language of the page is wrong", path)
		}
	}
	// The page of a request speaks its contact's language, whatever the browser's.
	parts := with(with(answers(b, formToken()), "language", "fr"), "lang", "fr")
	_, page := v.send(t, "/ask", with(parts, "email", "x"))
	if !strings.Contains(page, "Cette adresse électronique n’est pas complète") || !strings.Contains(page, "Un point est à corriger") {
		t.Error("what is wrong is not said in French")
	}
	r, _ := v.send(t, "/ask", parts)
	if _, page = v.get(t, r.Header.Get("Location")); !strings.Contains(page, "Votre demande") || !strings.Contains(page, "plus grand côté de 75 mm") {
		t.Error("the request is not shown in French")
	}
}

// endless is a model that is never all there at once.
type endless struct {
	left int64
	each func()
}

func (e *endless) Read(p []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	n := int(min(int64(len(p)), e.left))
	for i := range p[:n] {
		p[i] = byte(e.left) // not all the same, and cheap
	}
	e.left -= int64(n)
	if e.each != nil && e.left%(1<<20) < int64(n) {
		e.each()
	}
	return n, nil
}

// sendEndless sends a form with a file of so many bytes, never holding it.
func (v visitor) sendEndless(t testing.TB, b desk.Branch, bytes int64, each func()) *http.Response {
	r, w := io.Pipe()
	m := multipart.NewWriter(w)
	go func() {
		for _, p := range answers(b, formToken()) {
			if p.file == "" {
				_ = m.WriteField(p.field, p.text)
			}
		}
		f, err := m.CreateFormFile("files", "large.stl")
		if err == nil {
			_, err = io.Copy(f, &endless{bytes, each})
		}
		if err == nil {
			err = m.Close()
		}
		_ = w.CloseWithError(err)
	}()
	resp, err := v.Post(v.url+"/ask", m.FormDataContentType(), r)
	resp, _ = answer(t, resp, err)
	return resp
}

// A large file goes through without being held: the heap in use stays within
// 24 MB of what it was, for a file of 96 MB.
func TestAskStreams(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.MaxFile = 1 << 30 }, func(o *Options) { o.Limits.Upload = 1 << 30 })
	v := s.visitor(t)
	var before, now runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	var most uint64
	r := v.sendEndless(t, b, 96<<20, func() {
		runtime.ReadMemStats(&now)
		most = max(most, now.HeapInuse)
	})
	if r.StatusCode != http.StatusSeeOther {
		t.Fatalf("%d", r.StatusCode)
	}
	if grown := int64(most) - int64(before.HeapInuse); most == 0 || grown > 24<<20 {
		t.Errorf("the heap grew by %d MB", grown>>20)
	}
}

// BenchmarkAsk sends forms with a file of 32 MB each and reports the most heap
// that was in use.
func BenchmarkAsk(b *testing.B) {
	s, branch := askable(b, func(r *desk.Rules) { r.PerMonth = 0 }, func(o *Options) { o.Limits.PerPage = time.Nanosecond })
	v := s.visitor(b)
	b.SetBytes(32 << 20)
	var now runtime.MemStats
	var most uint64
	for b.Loop() {
		s.pass(time.Hour)
		if r := v.sendEndless(b, branch, 32<<20, func() {
			runtime.ReadMemStats(&now)
			most = max(most, now.HeapInuse)
		}); r.StatusCode != http.StatusSeeOther {
			b.Fatalf("%d", r.StatusCode)
		}
	}
	b.ReportMetric(float64(most)/1e6, "MB-heap")
}

// Where no branch takes requests nobody fills in a form for nothing, and a desk
// that nobody set up leads whoever opens it to that.
func TestAskingWhereNobodyTakesRequests(t *testing.T) {
	s := aSite(t)
	r, _ := s.visitor(t).get(t, "/ask")
	if to := r.Header.Get("Location"); r.StatusCode != 303 || to != "/" {
		t.Errorf("%d, to %q", r.StatusCode, to)
	}
	page, err := welcomePage.render("main", welcomeView{W: &english})
	if err != nil {
		t.Fatal(err)
	}
	if text := string(page); strings.Contains(text, english.AskButton) || strings.Count(text, english.NoBranches) != 1 {
		t.Errorf("the front page: %s", text)
	}
}
