package web

import (
	"archive/zip"
	"bytes"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/quote"
)

// asked is a request made through the desk; its page and its row.
func (s *tested) asked(t testing.TB, b desk.Branch, change ...func(*desk.Submission)) (string, desk.Request) {
	t.Helper()
	h, n, err := s.desk.Shelves.Put(t.Context(), strings.NewReader("solid "+formToken()), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	sub := desk.Submission{Form: formToken(), Source: "page", Branch: b.ID, Contact: desk.Contact{Name: "Rowan Ash", Email: formToken() + "@example.org", Language: "en"},
		Wish: desk.Wish{Copies: 1, Rights: true, Terms: 1}, Files: []desk.Upload{{Name: "cup.stl", Hash: h, Size: n}}, Accept: true, Age: "over"}
	for _, f := range change {
		f(&sub)
	}
	got, err := s.desk.Submit(t.Context(), sub, desk.APatron())
	if err != nil {
		t.Fatal(err)
	}
	return desk.PatronPath(got.Key), got.Request
}

// becomes brings a request to a state as calls of staff would.
func (s *tested) becomes(t testing.TB, id desk.ID, state desk.State) (r desk.Request) {
	t.Helper()
	if err := s.store.Write(t.Context(), func(tx desk.Tx) (err error) {
		if r, err = tx.Request(id); err != nil {
			return err
		}
		full := aRequest(state).Request
		r.State, r.Quote, r.Agreement, r.Shelf, r.Due = state, full.Quote, full.Agreement, full.Shelf, full.Due
		if r.Shelf != nil {
			r.Shelf.Branch = r.Branch
		}
		if err := tx.SaveRequest(&r); err != nil {
			return err
		}
		return tx.AddEvent(&desk.Event{ID: desk.NewID(), Request: id, Version: r.Version, At: s.now, Kind: desk.ByStaff, Who: "Linden", What: "moved", Say: "A note among staff", After: string(state)})
	}); err != nil {
		t.Fatal(err)
	}
	return r
}

func TestMineInEveryState(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth = 0 })
	v := s.visitor(t)
	for state, want := range map[desk.State]string{
		desk.Received: "We have your request", desk.InReview: "is looking at it", desk.WithPatron: "choose one by Wednesday 18 March 2026", desk.Agreed: "waits for a printer",
		desk.Printing: "It is being printed", desk.OnShelf: "Collect it at Millbrook by Wednesday 18 March 2026", desk.Collected: "You have collected it",
		desk.Declined: "We could not take this on", desk.Withdrawn: "You have withdrawn", desk.Lapsed: "has lapsed",
	} {
		path, r := s.asked(t, b)
		s.becomes(t, r.ID, state)
		resp, page := v.get(t, path)
		if resp.StatusCode != http.StatusOK || !strings.Contains(page, want) {
			t.Errorf("%s: %d, lacks %q", state, resp.StatusCode, want)
		}
		checkHTML(t, string(state), []byte(page))
		for link, shown := range map[string]bool{`/agree?way=`: state == desk.WithPatron, `/withdraw"`: state.MayFollow(desk.Withdrawn), `/add"`: state == desk.Received || state == desk.InReview || state == desk.WithPatron,
			`/forget"`: state != desk.Printing && state != desk.OnShelf, `aria-current="step"`: state != desk.Declined && state != desk.Withdrawn && state != desk.Lapsed} {
			if strings.Contains(page, link) != shown {
				t.Errorf("%s: %s shown: %t", state, link, !shown)
			}
		}
	}
}

// A link that never was and one whose request is forgotten look alike: nothing
// tells that there was something.
func TestMineUnknownLinks(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	path, r := s.asked(t, b)
	form := formToken()
	for range 2 { // sent twice
		resp, _ := v.post(t, path+"/forget", url.Values{"form": {form}})
		if resp.StatusCode != http.StatusSeeOther || !strings.HasPrefix(resp.Header.Get("Location"), "/forgotten") {
			t.Fatalf("%d to %q", resp.StatusCode, resp.Header.Get("Location"))
		}
	}
	_, page := v.get(t, "/forgotten")
	if !strings.Contains(page, "Nothing is held") {
		t.Error("not said to be forgotten")
	}
	number := regexp.MustCompile(`<code>\w+</code>`)
	never := desk.PatronPath(strings.Repeat("A", 43))
	for _, rest := range []string{"", "/agree?way=sensible", "/withdraw", "/forget", "/copy", "/standing", "/file/" + string(r.ID), "/file/" + string(r.ID) + "/still.png", "/way/sensible/still.png"} {
		a, pageA := v.get(t, path+rest)
		z, pageZ := v.get(t, never+rest)
		if a.StatusCode != http.StatusNotFound || z.StatusCode != http.StatusNotFound || number.ReplaceAllString(pageA, "") != number.ReplaceAllString(pageZ, "") {
			t.Errorf("%q: %d and %d", rest, a.StatusCode, z.StatusCode)
		}
		if !strings.Contains(pageA, "There is no request under this link") {
			t.Errorf("%q says %s", rest, pageA)
		}
	}
	for _, rest := range []string{"/write", "/withdraw", "/agree"} {
		a, _ := v.post(t, path+rest, url.Values{"form": {formToken()}, "text": {"x"}, "version": {"1"}})
		if a.StatusCode != http.StatusNotFound {
			t.Errorf("%s: %d", rest, a.StatusCode)
		}
	}
	a, _ := v.send(t, path+"/add", []aPart{{field: "form", text: formToken()}, {"files", "a.stl", "solid"}})
	if a.StatusCode != http.StatusNotFound {
		t.Errorf("add: %d", a.StatusCode)
	}
	for _, odd := range []string{"/my/", "/my/%00", "/my/..%2f..%2fetc", "/my/" + strings.Repeat("x", 4000)} {
		if a, _ := v.get(t, odd); a.StatusCode != http.StatusNotFound {
			t.Errorf("%.30q: %d", odd, a.StatusCode)
		}
	}
}

func TestMineWrite(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	path, _ := s.asked(t, b)
	form := formToken()
	for range 2 { // replayed
		r, _ := v.post(t, path+"/write", url.Values{"form": {form}, "text": {hostile + "\r\nsecond line"}})
		if r.StatusCode != http.StatusSeeOther || r.Header.Get("Location") != path+"#letters" {
			t.Fatalf("%d to %q", r.StatusCode, r.Header.Get("Location"))
		}
	}
	_, page := v.get(t, path)
	if n := strings.Count(page, "second line"); n != 1 {
		t.Errorf("said %d times", n)
	}
	checkHTML(t, "letters", []byte(page))
	r, page := v.post(t, path+"/write", url.Values{"form": {formToken()}, "text": {"  "}})
	if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, `href="#f-text"`) {
		t.Errorf("nothing written: %d", r.StatusCode)
	}
	r, page = v.post(t, path+"/write", url.Values{"form": {"forged"}, "text": {"typed and not lost"}})
	if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, "typed and not lost") {
		t.Errorf("no token of ours: %d", r.StatusCode)
	}
}

func TestMineAdd(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.MaxFile = 100 })
	v := s.visitor(t)
	path, _ := s.asked(t, b)
	form := formToken()
	for range 2 {
		// The file before the token: any order will do.
		r, page := v.send(t, path+"/add", []aPart{{"files", "mended.stl", "solid mended"}, {field: "form", text: form}})
		if r.StatusCode != http.StatusSeeOther {
			t.Fatalf("%d %s", r.StatusCode, page)
		}
	}
	_, page := v.get(t, path)
	if n := strings.Count(page, ">mended.stl</h3>"); n != 1 {
		t.Errorf("there %d times", n)
	}
	for name, file := range map[string]aPart{"large": {"files", "a.stl", strings.Repeat("x", 101)}, "wrong": {"files", "a.gcode", "G1"}, "none": {"files", "", ""}, "same": {"files", "b.stl", "solid mended"}} {
		r, page := v.send(t, path+"/add", []aPart{{field: "form", text: formToken()}, file})
		if r.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, `href="#f-files"`) {
			t.Errorf("%s: %d", name, r.StatusCode)
		}
	}
}

func TestAgreePage(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth = 0 })
	v := s.visitor(t)
	path, r := s.asked(t, b)
	if resp, _ := v.get(t, path+"/agree?way=sensible"); resp.StatusCode != http.StatusSeeOther {
		t.Errorf("nothing is offered: %d", resp.StatusCode)
	}
	s.becomes(t, r.ID, desk.WithPatron)
	for _, way := range []string{"", "finer", hostile} {
		if resp, _ := v.get(t, path+"/agree?way="+url.QueryEscape(way)); resp.StatusCode != http.StatusSeeOther || resp.Header.Get("Location") != path {
			t.Errorf("way %q: %d", way, resp.StatusCode)
		}
	}
	_, page := v.get(t, path+"/agree?way=cheaper")
	for _, want := range []string{"£2.10", "Not for food", "What we print.", "never more"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	checkHTML(t, "agree", []byte(page))
	in := fieldsOf(t, page)

	resp, page := v.post(t, path+"/agree", in)
	if resp.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, `href="#f-cautions"`) || !strings.Contains(page, `href="#f-accept"`) {
		t.Errorf("nothing ticked: %d", resp.StatusCode)
	}
	if again := fieldsOf(t, page); again.Get("form") != in.Get("form") || again.Get("version") != in.Get("version") {
		t.Errorf("came back as %v", again)
	}
	in.Set("cautions", "yes")
	in.Set("accept", "yes")
	// Staff change it meanwhile: said, and what was ticked stays.
	s.becomes(t, r.ID, desk.WithPatron)
	resp, page = v.post(t, path+"/agree", in)
	if resp.StatusCode != http.StatusConflict || !strings.Contains(page, "changed while you had it open") || strings.Count(page, " checked") != 2 || strings.Contains(page, "A note among staff") {
		t.Errorf("stale: %d %s", resp.StatusCode, page)
	}
	in.Set("version", fieldsOf(t, page).Get("version"))
	for range 2 { // replayed
		resp, page = v.post(t, path+"/agree", in)
		if resp.StatusCode != http.StatusSeeOther || resp.Header.Get("Location") != path {
			t.Fatalf("%d %s", resp.StatusCode, page)
		}
	}
	_, page = v.get(t, path)
	if !strings.Contains(page, "You have agreed") || !strings.Contains(page, "£2.10") {
		t.Error("not shown as agreed")
	}
	in.Set("form", formToken())
	in.Set("way", "largest")
	if resp, page = v.post(t, path+"/agree", in); resp.StatusCode != http.StatusConflict || !strings.Contains(page, "agreed already") {
		t.Errorf("another way after: %d", resp.StatusCode)
	}

	path, r = s.asked(t, b)
	r = s.becomes(t, r.ID, desk.WithPatron)
	s.pass(15 * 24 * time.Hour)
	if _, page = v.get(t, path); !strings.Contains(page, "The offer stood until Wednesday 18 March 2026") || strings.Contains(page, "/agree?way=") {
		t.Error("an offer that is over is still offered")
	}
	in.Set("version", itoa(int(r.Version)))
	if resp, page = v.post(t, path+"/agree", in); resp.StatusCode != http.StatusConflict || !strings.Contains(page, "is over") {
		t.Errorf("over: %d", resp.StatusCode)
	}
}

// An agreement for someone under age asks for the guardian, who is not named
// anywhere the library shows to others.
func TestAgreeGuardian(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	path, r := s.asked(t, b, func(x *desk.Submission) { x.Source, x.Age = "mail", "" })
	s.becomes(t, r.ID, desk.WithPatron)
	_, page := v.get(t, path+"/agree?way=sensible")
	in := fieldsOf(t, page)
	for _, f := range []string{"cautions", "accept"} {
		in.Set(f, "yes")
	}
	in.Set("age", "under")
	resp, page := v.post(t, path+"/agree", in)
	if resp.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(page, `href="#f-guardian"`) {
		t.Errorf("no guardian: %d", resp.StatusCode)
	}
	in.Set("guardian", "Hazel Ash")
	if resp, page = v.post(t, path+"/agree", in); resp.StatusCode != http.StatusSeeOther {
		t.Fatalf("%d %s", resp.StatusCode, page)
	}
	if _, page = v.get(t, path); !strings.Contains(page, "Hazel Ash") {
		t.Error("the guardian is not shown")
	}
}

func TestWithdrawPage(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth = 0 })
	v := s.visitor(t)
	path, r := s.asked(t, b)
	_, page := v.get(t, path+"/withdraw")
	in := fieldsOf(t, page)
	in.Set("why", "Found one "+hostile)
	checkHTML(t, "withdraw", []byte(page))
	s.becomes(t, r.ID, desk.InReview)
	resp, page := v.post(t, path+"/withdraw", in)
	if resp.StatusCode != http.StatusConflict || !strings.Contains(page, "Found one") || !strings.Contains(page, "In review") {
		t.Errorf("stale: %d %s", resp.StatusCode, page)
	}
	in.Set("version", fieldsOf(t, page).Get("version"))
	for range 2 {
		if resp, _ = v.post(t, path+"/withdraw", in); resp.StatusCode != http.StatusSeeOther {
			t.Fatalf("%d", resp.StatusCode)
		}
	}
	_, page = v.get(t, path)
	if !strings.Contains(page, "You have withdrawn") || !strings.Contains(page, "By itself it is forgotten on Friday 3 April 2026") {
		t.Errorf("%s", page)
	}
	checkHTML(t, "withdrawn", []byte(page))
	if resp, _ = v.get(t, path+"/withdraw"); resp.StatusCode != http.StatusSeeOther {
		t.Errorf("asked again: %d", resp.StatusCode)
	}

	path, r = s.asked(t, b)
	r = s.becomes(t, r.ID, desk.Printing)
	resp, page = v.post(t, path+"/withdraw", url.Values{"form": {formToken()}, "version": {itoa(int(r.Version))}})
	if resp.StatusCode != http.StatusConflict || !strings.Contains(page, "cannot be withdrawn here") {
		t.Errorf("printing: %d", resp.StatusCode)
	}
	resp, page = v.post(t, path+"/forget", url.Values{"form": {formToken()}})
	if resp.StatusCode != http.StatusConflict || !strings.Contains(page, "we need your name") {
		t.Errorf("forget while printing: %d", resp.StatusCode)
	}
}

// Pictures and views are the request's own, and typed by us.
func TestMinePictures(t *testing.T) {
	s, b := askable(t, func(r *desk.Rules) { r.PerMonth = 0 })
	v := s.visitor(t)
	path, r := s.asked(t, b)
	other, _ := s.asked(t, b)
	blob := func(text string) desk.Hash {
		h, _, err := s.desk.Shelves.Put(t.Context(), strings.NewReader(text), 1000)
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	var f desk.File
	if err := s.store.Write(t.Context(), func(tx desk.Tx) error {
		all, err := tx.FilesOf(r.ID)
		if err != nil {
			return err
		}
		f = all[0]
		f.Check, f.Result = desk.Done, &desk.Checked{Still: blob("a still"), Sheet: blob("a sheet"), View: blob("<script>"), Answer: quote.Answer{}}
		return tx.SaveFile(&f)
	}); err != nil {
		t.Fatal(err)
	}
	file := "/file/" + string(f.ID)
	for name, want := range map[string][2]string{"/still.png": {"image/png", "a still"}, "/sheet.png": {"image/png", "a sheet"}, "/part.view": {"application/octet-stream", "<script>"}} {
		resp, text := v.get(t, path+file+name)
		if resp.StatusCode != 200 || resp.Header.Get("Content-Type") != want[0] || text != want[1] || resp.Header.Get("Cache-Control") != "no-store" || resp.Header.Get("ETag") != "" {
			t.Errorf("%s: %d %q %q %v", name, resp.StatusCode, resp.Header.Get("Content-Type"), text, resp.Header)
		}
		if resp, _ := v.get(t, other+file+name); resp.StatusCode != http.StatusNotFound {
			t.Errorf("%s by another link: %d", name, resp.StatusCode)
		}
	}
	for _, name := range []string{"/raw", "/cup.stl", "/..%2f"} {
		if resp, _ := v.get(t, path+file+name); resp.StatusCode != http.StatusNotFound {
			t.Errorf("%s: %d", name, resp.StatusCode)
		}
	}
	_, page := v.get(t, path)
	if !strings.Contains(page, `data-mesh="`+path+file+`/part.view"`) || !strings.Contains(page, "We found nothing that speaks against printing it") {
		t.Error("the checked file is not shown")
	}
}

// While a check goes on the page asks for its parts again, and no longer once
// it is over.
func TestMineLive(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	path, r := s.asked(t, b)
	var f desk.File
	set := func(do func(*desk.File)) {
		if err := s.store.Write(t.Context(), func(tx desk.Tx) error {
			all, err := tx.FilesOf(r.ID)
			if err != nil {
				return err
			}
			f = all[0]
			do(&f)
			return tx.SaveFile(&f)
		}); err != nil {
			t.Fatal(err)
		}
	}
	set(func(f *desk.File) { f.Check, f.Doing = desk.Checking, "slicing" })
	live := func(path string) string {
		q, err := http.NewRequest(http.MethodGet, v.url+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		q.Header.Set("HX-Request", "true")
		resp, err := v.Do(q)
		_, text := answer(t, resp, err)
		return text
	}
	file := path + "/file/" + string(f.ID)
	_, page := v.get(t, path)
	if strings.Count(page, `hx-trigger="every 3s"`) != 2 {
		t.Error("the page does not ask again")
	}
	for _, at := range []string{path + "/standing", file} {
		text := live(at)
		if !strings.Contains(text, `hx-get="`+at+`"`) || strings.Contains(text, "<html") {
			t.Errorf("%s: %s", at, text)
		}
		if resp, _ := v.get(t, at); resp.StatusCode != http.StatusSeeOther {
			t.Errorf("%s without a script: %d", at, resp.StatusCode)
		}
	}
	set(func(f *desk.File) { f.Check, f.Result = desk.Done, &desk.Checked{} })
	for _, at := range []string{path + "/standing", file} {
		if text := live(at); strings.Contains(text, "hx-get") || !strings.Contains(text, "<section") {
			t.Errorf("%s goes on: %s", at, text)
		}
	}
}

func TestTakeOutPage(t *testing.T) {
	s, b := askable(t, nil)
	v := s.visitor(t)
	path, r := s.asked(t, b)
	resp, text := v.get(t, path+"/copy")
	if resp.StatusCode != 200 || resp.Header.Get("Content-Type") != "application/zip" || resp.Header.Get("Content-Disposition") != `attachment; filename="request-`+string(r.Code)+`.zip"` {
		t.Errorf("%d %v", resp.StatusCode, resp.Header)
	}
	z, err := zip.NewReader(bytes.NewReader([]byte(text)), int64(len(text)))
	if err != nil || len(z.File) != 3 || z.File[0].Name != "read-me.txt" {
		t.Errorf("%v", err)
	}
}

// What is noted of every file in the same words stands once, after them; what
// points somewhere, or is not said of all, stays with its file. A file that is
// shown alone once its check is over keeps all that is said of it.
func TestNotedOfAllFiles(t *testing.T) {
	m := aRequest(desk.InReview)
	note := func(say string, at ...mesh.Vec) findings.Finding {
		return findings.Finding{ID: "n", Severity: findings.Note, Message: say, Places: at}
	}
	m.Files = m.Files[:2]
	m.Files[0].Result.Answer.Findings = []findings.Finding{note("Softens at 55."), note("The largest side is 20."), note("Leans here.", mesh.Vec{1, 2, 3})}
	m.Files[1].Result.Answer.Findings = []findings.Finding{note("Softens at 55."), note("Leans here.", mesh.Vec{1, 2, 3})}
	v := (&Site{desk: &desk.Desk{Secret: []byte("a secret of tests")}}).mineView(m, "thekey", &english)
	text, err := minePage.render("main", v)
	if err != nil {
		t.Fatal(err)
	}
	page := textOfHTML(t, string(text))
	for say, want := range map[string]int{"Softens at 55.": 1, "The largest side is 20.": 1, "Leans here.": 2, english.OfAllFiles: 1} {
		if n := strings.Count(page, say); n != want {
			t.Errorf("%q stands %d times, want %d", say, n, want)
		}
	}
	if f := fileViews(m, "/my/thekey", &english); len(f[1].Groups) != 1 || len(f[1].Groups[0].Findings) != 2 {
		t.Errorf("a file alone: %+v", f[1].Groups)
	}
	m.Files = m.Files[:1]
	if all := alike(fileViews(m, "/my/thekey", &english)); len(all) != 0 {
		t.Errorf("of one file: %+v", all)
	}
}

// The library's letters but the last are folded, the patron's never.
func TestLettersFolded(t *testing.T) {
	all := []letterView{{Ours: true, Subject: "we have it"}, {}, {Ours: true}, {Ours: true, Subject: "ready"}, {}}
	foldLetters(all)
	for i, want := range []bool{true, false, false, false, false} {
		if all[i].Folded != want {
			t.Errorf("letter %d folded: %v", i, all[i].Folded)
		}
	}
}

// What is settled is not announced as a question any more.
func TestAskedNoMore(t *testing.T) {
	for _, state := range desk.States() {
		open := state == desk.Received || state == desk.InReview || state == desk.WithPatron
		for _, w := range tongues {
			var titles []string
			for _, g := range fileViews(aRequest(state), "/my/thekey", w)[0].Groups {
				titles = append(titles, g.Title)
			}
			if will, was := slices.Contains(titles, w.Groups[findings.Ask]), slices.Contains(titles, w.AskedBefore); will != open || was == open {
				t.Errorf("%s, %s: %q", state, w.Lang, titles)
			}
		}
	}
}
