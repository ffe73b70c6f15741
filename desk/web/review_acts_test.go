package web

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"math"
	"net/http"
	"net/mail"
	"net/url"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/engine/mesh"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// asked is a request that came in, with a checked file.
func (p *printroom) received(change ...func(*desk.Request)) desk.Request {
	p.t.Helper()
	ctx := p.t.Context()
	set, err := p.desk.Settings(ctx)
	if err != nil {
		p.t.Fatal(err)
	}
	p.n++
	r := desk.Request{ID: desk.NewID(), State: desk.Received, Branch: p.branch.ID, Code: desk.Code(fmt.Sprintf("R5-%03d", p.n)), Form: formToken(), KeySeed: formToken(), Source: "page",
		Contact: desk.Contact{Name: "Robin Featherstone", Surname: "Featherstone", Email: "robin@example.org", Language: "en"},
		Wish:    desk.Wish{Copies: 1, Colour: "red", Note: "for my aunt", Rights: true}, Asked: p.clock(), Changed: p.clock()}
	r.Key = desk.HashOf([]byte(p.desk.Key(r)))
	body := []byte("<html><script>alert(1)</script>")
	hash, _, err := p.desk.Shelves.Put(ctx, bytes.NewReader(body), 1<<20)
	if err != nil {
		p.t.Fatal(err)
	}
	p.file = desk.File{ID: desk.NewID(), Request: r.ID, Name: "lamp \"foot\"é.stl", Hash: hash, Size: int64(len(body)), Sent: p.clock(), Check: desk.Done,
		Result: &desk.Checked{Answer: quote.Answer{Format: "stl", SizeMM: mesh.Vec{40, 20, 10}, Printable: true}, Sheet: hash}}
	price, err := set.Tariff.Price(tariff.Order{Items: []tariff.Item{{Material: "pla", Name: "PLA", Grams: 23}}, Prints: 1, Copies: 1, Seconds: 3600})
	if err != nil {
		p.t.Fatal(err)
	}
	for _, id := range []string{"sensible", "finer"} {
		r.Ways = append(r.Ways, desk.Way{ID: id, Says: "Layers of 0.2 mm.", Printer: "millrace-200", Material: []string{"pla"}, Seconds: 3600, Grams: map[string]float64{"pla": 23}, Price: price,
			Plates: []desk.PlateWay{{Seconds: 3600, Grams: map[string]float64{"pla": 23}}}, Parts: []desk.PartWay{{File: p.file.ID, Copies: 1, SizeMM: mesh.Vec{40, 20, 10}}}})
	}
	r.Basis = desk.Basis{State: desk.Done, Asked: 1, Tariff: set.Versions[desk.TariffSetting]}
	for _, c := range change {
		c(&r)
	}
	err = p.store.Write(ctx, func(tx desk.Tx) error {
		if err := tx.SaveRequest(&r); err != nil {
			return err
		}
		return tx.SaveFile(&p.file)
	})
	if err != nil {
		p.t.Fatal(err)
	}
	return r
}

func (p *printroom) now(id desk.ID) (r desk.Request) {
	p.t.Helper()
	if err := p.store.Read(p.t.Context(), func(tx desk.Tx) (err error) { r, err = tx.Request(id); return }); err != nil {
		p.t.Fatal(err)
	}
	return r
}

// A reviewer's day, by forms alone: Today leads to the request, it is taken,
// judged, offered, taken back and declined.
func TestReviewByForms(t *testing.T) {
	p := aPrintroom(t)
	p.store.SetEnqueue(func(context.Context, *sql.Tx, desk.Job) error { return nil })
	v := p.as(desk.Reviewer)
	r := p.received()
	path := requestPath(r.Code)

	res, text := v.get(t, "/desk")
	expect(t, "Today", res, text, 200, "New requests", string(r.Code), "Robin F.", "Take it into review", `href="`+path+`"`, "not Featherstone")
	res, text = v.get(t, path)
	expect(t, "the request", res, text, 200, "Robin Featherstone", "for my aunt", "Take it into review", "Nobody has looked at it", path+"/file/"+string(p.file.ID)+"/sheet")
	do := func(name, what string, pairs ...string) (*http.Response, string) {
		t.Helper()
		_, text := v.get(t, path)
		f := form(append([]string{"version", versionOf(t, text)}, pairs...)...)
		res, text := v.post(t, path+"/"+what, f)
		if res.StatusCode == http.StatusSeeOther {
			res, text = v.get(t, res.Header.Get("Location"))
		}
		return res, text
	}
	res, text = do("take", "take")
	expect(t, "taken", res, text, 200, "It is in review, and yours.", "In review", "questions of the checklist are not answered")
	res, text = do("offer too early", "offer", "way", "sensible", "offer-best", "sensible", "offer-subject", "My subject", "offer-text", "My own letter.")
	expect(t, "offered too early", res, text, 409, "checklist are not answered", "My own letter.", "My subject")
	set, _ := p.desk.Settings(t.Context())
	for i, q := range set.Rules.Questions {
		if i == 0 {
			res, text = do("not fine", "judge", "question", q.ID, "answer", "not", "judge-"+q.ID+"-why", "")
			expect(t, "not fine without a reason", res, text, 422, "Say why it is not fine.", `href="#f-judge-weapon-why"`)
		}
		res, text = do("judge", "judge", "question", q.ID, "answer", "fine", "judge-"+q.ID+"-why", "looked at it "+q.ID)
		expect(t, "judged", res, text, 200, "looked at it "+q.ID)
	}
	expect(t, "all is settled", res, text, 200, "All is settled: choose the ways")

	// The letter drafted follows the ways ticked, and can be looked at before.
	res, text = do("draft", "offer", "act", "draft", "way", "finer", "offer-best", "finer")
	expect(t, "drafted afresh", res, text, 200, "- Finer: £3.30 (what we would take)", "not - As we would print it")
	if p.now(r.ID).State != desk.InReview {
		t.Error("a draft sent the offer")
	}
	_, text = v.get(t, path)
	drafted := fieldsOf(t, text)
	res, text = do("offer", "offer", "way", "finer", "offer-best", "finer", "offer-subject", drafted.Get("offer-subject"), "offer-text", strings.ReplaceAll(drafted.Get("offer-text"), "\n", "\r\n"))
	expect(t, "offered", res, text, 200, "The offer is with the patron.", "With the patron", "- Finer: £3.30", "not - As we would print it: £", "It is the patron’s turn", "mailto:robin@example.org?subject=", "Note that the patron agrees")
	q := p.now(r.ID).Quote
	if q == nil || len(q.Ways) != 1 || q.Best != "finer" {
		t.Fatalf("quote %+v", q)
	}
	res, text = do("take back", "take-back", "take-back-why", " ")
	expect(t, "taken back without a reason", res, text, 422, "Say why: the patron is told.", `href="#f-take-back-why"`)
	res, text = do("take back", "take-back", "take-back-why", "The size was a mistake.")
	expect(t, "taken back", res, text, 200, "The offer is taken back", "The size was a mistake.", "In review")

	res, text = do("plan", "plan", "plan-printer", "millrace-200", "plan-way", "standard", "plan-material-0", "pla", "plan-role-0", "print", "plan-size-0", "longest", "plan-value-0", "eighty", "plan-copies-0", "2", "plan-turn-0", "yes")
	expect(t, "a size in words", res, text, 422, "Give the longest side in millimetres", `value="eighty"`, `href="#f-plan-value-0"`)
	res, text = do("plan", "plan", "plan-printer", "millrace-200", "plan-way", "standard", "plan-material-0", "pla", "plan-role-0", "print", "plan-size-0", "longest", "plan-value-0", "80,5", "plan-copies-0", "2", "plan-turn-0", "yes")
	expect(t, "planned", res, text, 200, "The plan is settled.", "Ways wait to be found.", `hx-get="`+path+`/ways"`, `value="80.5"`)
	if got := p.now(r.ID).Plan.Parts; len(got) != 1 || got[0].LongestMM != 80.5 || got[0].Copies != 2 || got[0].AsSent {
		t.Errorf("plan %+v", got)
	}
	res, text = do("write", "write", "write-subject", "Hello", "write-text", "Are you there?")
	expect(t, "wrote", res, text, 200, "Are you there?")
	res, text = do("contact", "contact", "contact-name", "Robin F", "contact-email", "not an address", "contact-language", "en")
	expect(t, "half an address", res, text, 422, "no complete e-mail address", `value="not an address"`, `<details open><summary>Change how`)
	res, text = do("decline", "decline", "decline-reason", "Walls too thin.", "decline-remember", "yes", "decline-subject", "", "decline-text", "")
	expect(t, "declined", res, text, 200, "It is declined", "Declined", "Walls too thin.", "(The shape is remembered.)", "not Take it into review")
}

// Two at one request: the second finds everything typed still there, and what
// the first did above it. Sent again, it is taken.
func TestChangedMeanwhile(t *testing.T) {
	p := aPrintroom(t)
	v := p.as(desk.Reviewer)
	r := p.received(func(r *desk.Request) { r.State = desk.InReview })
	path := requestPath(r.Code)
	_, text := v.get(t, path)
	mine := form("version", versionOf(t, text), "decline-reason", "Typed with care.", "decline-text", "A long letter & <more>.", "decline-remember", "yes")
	if _, err := p.desk.EditContact(t.Context(), p.manager, r.ID, 0, desk.Contact{Name: "Robin F", Email: "r@example.org", Language: "en"}); err != nil {
		t.Fatal(err)
	}
	res, text := v.post(t, path+"/decline", mine)
	expect(t, "the second", res, text, 409, "Changed meanwhile", "Changed how the patron is reached.", "Rowan", "Typed with care.", "A long letter &amp; &lt;more&gt;.", `<details open><summary>Decline it`, `name="decline-remember" value="yes" checked`)
	if p.now(r.ID).State != desk.InReview {
		t.Error("it was declined all the same")
	}
	mine.Set("version", versionOf(t, text))
	res, _ = v.post(t, path+"/decline", mine)
	if res.StatusCode != http.StatusSeeOther || p.now(r.ID).State != desk.Declined {
		t.Errorf("sent again: %s", res.Status)
	}
	// And once more, as by a double click: nothing more happens, and it worked.
	res, _ = v.post(t, path+"/decline", mine)
	if res.StatusCode != http.StatusSeeOther {
		t.Errorf("sent twice: %s", res.Status)
	}
}

// Every address of the request's pages, by who may and may not.
func TestWhoSeesRequests(t *testing.T) {
	p := aPrintroom(t)
	r := p.received(func(r *desk.Request) { r.State = desk.InReview })
	path, file := requestPath(r.Code), string(p.file.ID)
	other := desk.Branch{Name: "Elsewhere"}
	stranger := desk.Staff{Name: "far", Called: "Far", Active: true, Made: p.clock()}
	if err := p.store.Write(t.Context(), func(tx desk.Tx) error {
		if err := tx.SaveBranch(&other); err != nil {
			return err
		}
		stranger.Grants, stranger.Home = []desk.Grant{{Role: desk.Manager, Branch: other.ID}}, other.ID
		return tx.SaveStaff(&stranger)
	}); err != nil {
		t.Fatal(err)
	}
	far := p.visitor(t)
	far.post(t, "/probe/as/"+string(stranger.ID), nil)
	operator, nobody := p.as(desk.Operator), p.visitor(t)
	for _, at := range []string{path, path + "/ways", path + "/file/" + file, path + "/file/" + file + "/sheet", path + "/file/" + file + "/bytes", path + "/side-by-side", path + "/way/sensible/still"} {
		if res, _ := nobody.get(t, at); res.StatusCode != http.StatusSeeOther || !strings.HasPrefix(res.Header.Get("Location"), "/log-in") {
			t.Errorf("%s for nobody: %s", at, res.Status)
		}
		res, text := far.get(t, at)
		expect(t, at+" from another branch", res, text, 403, "not Robin", "not aunt", "not alert(1)")
		if res, _ := operator.get(t, at); res.StatusCode >= 500 || res.StatusCode == 403 {
			t.Errorf("%s for an operator: %s", at, res.Status)
		}
	}
	res, text := operator.get(t, path)
	expect(t, "for an operator", res, text, 200, "Robin Featherstone", "not Decline it", "not Send the offer", "not Settle the plan")
	for _, what := range []string{"take", "plan", "judge", "offer", "take-back", "decline", "write", "aside", "contact", "move"} {
		pairs := []string{"version", fmt.Sprint(r.Version), "question", "weapon", "answer", "fine", "decline-reason", "x", "take-back-why", "x", "write-text", "x", "contact-name", "x", "contact-email", "x@example.org", "contact-language", "en", "move-branch", string(other.ID), "way", "sensible"}
		for name, v := range map[string]visitor{"an operator": operator, "another branch": far} {
			if res, text := v.post(t, path+"/"+what, form(pairs...)); res.StatusCode != 403 {
				t.Errorf("%s by %s: %s\n%s", what, name, res.Status, firstLines(text))
			}
		}
	}
	if now := p.now(r.ID); now.Version != r.Version {
		t.Error("something was changed")
	}
	// A forged token, and a version that is none.
	v := p.as(desk.Reviewer)
	for _, bad := range []url.Values{{}, {"form": {"x"}, "version": {"1"}}, form("version", "x"), form("version", "-1"), form("version", "99999999999999999999")} {
		if res, _ := v.post(t, path+"/take-back", bad); res.StatusCode != 422 {
			t.Errorf("%v: %s", bad, res.Status)
		}
	}
	// What people send is kept, never shown as a page.
	res, _ = v.get(t, path+"/file/"+file+"/bytes")
	if ct := res.Header.Get("Content-Type"); ct != "application/octet-stream" || !strings.HasPrefix(res.Header.Get("Content-Disposition"), "attachment") || res.Header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("%v", res.Header)
	}
	for _, at := range []string{"/desk/r/nonsense", "/desk/r/Z9-999", "/desk/r/%2e%2e", path + "/file/nope/sheet", path + "/file/" + file + "/nope"} {
		if res, _ := v.get(t, at); res.StatusCode != 404 {
			t.Errorf("%s: %s", at, res.Status)
		}
	}
}

// A scanner types the code and Enter; people type it as they like.
func TestFindByForm(t *testing.T) {
	p := aPrintroom(t)
	v := p.as(desk.Operator)
	r := p.received()
	for _, q := range []string{string(r.Code), strings.ToLower(string(r.Code)), strings.ReplaceAll(string(r.Code), "-", " "), " " + string(r.Code) + "\n"} {
		res, _ := v.get(t, "/desk/find?q="+url.QueryEscape(q))
		if res.StatusCode != http.StatusSeeOther || res.Header.Get("Location") != requestPath(r.Code) {
			t.Errorf("%q: %s to %q", q, res.Status, res.Header.Get("Location"))
		}
	}
	res, text := v.get(t, "/desk/find?q=featherst")
	expect(t, "by name", res, text, 200, "1 request", "Robin F.", requestPath(r.Code))
	res, text = v.get(t, "/desk/find?q="+url.QueryEscape(hostile))
	expect(t, "a hostile search", res, text, 200, "Nothing like that is here", "not <script>alert")
	// On every staff page the first field is the search.
	_, text = v.get(t, "/desk")
	if i, j := strings.Index(text, `name="q"`), strings.Index(text, "<main"); i < 0 || i > j {
		t.Error("no search in the header")
	}
}

// Sizes as people write them.
func TestReadSizes(t *testing.T) {
	nan := math.NaN()
	for _, c := range []struct {
		kind, value string
		want        desk.PartPlan
	}{
		{sizeAsSent, "80", desk.PartPlan{}},
		{sizeLargest, "", desk.PartPlan{Largest: true}},
		{sizeLongest, "80", desk.PartPlan{LongestMM: 80}},
		{sizeLongest, " 80,5 mm ", desk.PartPlan{LongestMM: 80.5}},
		{sizeLongest, "", desk.PartPlan{LongestMM: nan}},
		{sizeLongest, "0", desk.PartPlan{LongestMM: nan}},
		{sizeLongest, "-3", desk.PartPlan{LongestMM: nan}},
		{sizeLongest, "1e9", desk.PartPlan{LongestMM: nan}},
		{sizeLongest, "NaN", desk.PartPlan{LongestMM: nan}},
		{sizeLongest, "Inf", desk.PartPlan{LongestMM: nan}},
		{sizeLongest, "0x10", desk.PartPlan{LongestMM: nan}},
		{sizeScale, "0.5", desk.PartPlan{Scale: 0.5}},
		{sizeScale, "50 %", desk.PartPlan{Scale: 0.5}},
		{sizeScale, "50%%", desk.PartPlan{Scale: nan}},
		{sizeAxes, "80 × - × 20", desk.PartPlan{TargetMM: mesh.Vec{80, 0, 20}}},
		{sizeAxes, "80x–X20 mm", desk.PartPlan{TargetMM: mesh.Vec{80, 0, 20}}},
		{sizeAxes, "80 x 20", desk.PartPlan{TargetMM: mesh.Vec{nan, 0, 0}}},
		{sizeAxes, "80 x a x 20", desk.PartPlan{TargetMM: mesh.Vec{80, nan, 20}}},
		{"nonsense", "80", desk.PartPlan{}},
	} {
		var got desk.PartPlan
		readSize(&got, c.kind, c.value)
		if fmt.Sprintf("%v", got) != fmt.Sprintf("%v", c.want) {
			t.Errorf("%s %q: %+v, want %+v", c.kind, c.value, got, c.want)
		}
	}
}

// A mailto: link says what was written, and nothing else (RFC 6068): read back
// as a URL it has one address, a subject and a body, whatever is in them.
func TestMailto(t *testing.T) {
	for _, c := range []struct{ address, subject, text string }{
		{"ada@example.org", "K7-204: hello", "Dear Ada,\n\nline two & more? 100 % = sure\n"},
		{"a+b=c?d&e%f@example.org", "x", "y"},
		{"ada@example.org", "a\r\nBcc: evil@example.org", "b\r\nBcc: c@example.org&cc=d@example.org"},
		{"ada@example.org", "Ø “quoted” €", "é\r\nü"},
	} {
		link := mailto(c.address, c.subject, c.text)
		u, err := url.Parse(link)
		if err != nil || u.Scheme != "mailto" {
			t.Fatalf("%q: %v", link, err)
		}
		to, err := url.PathUnescape(u.Opaque)
		if err != nil || to != c.address {
			t.Errorf("%q is to %q", link, to)
		}
		q, err := url.ParseQuery(u.RawQuery)
		if err != nil || len(q) != 2 {
			t.Errorf("%q has fields %v", link, q)
		}
		if s := q.Get("subject"); strings.ContainsAny(s, "\r\n") || s != strings.Join(strings.Fields(c.subject), " ") {
			t.Errorf("subject %q", s)
		}
		if got := strings.ReplaceAll(q.Get("body"), "\r\n", "\n"); got != strings.ReplaceAll(c.text, "\r\n", "\n") || strings.Contains(strings.ReplaceAll(q.Get("body"), "\r\n", ""), "\n") {
			t.Errorf("body %q", q.Get("body"))
		}
		if strings.ContainsAny(link, " \r\n\"<>+") {
			t.Errorf("%q holds what a link must not", link)
		}
	}
	for _, bad := range []string{"", "nobody", "a@example.org, b@example.org", "a@example.org\r\nBcc: b@example.org", "Ada <a@example.org>", "a@example.org?bcc=b@example.org"} {
		if got := mailto(bad, "s", "t"); got != "" {
			if a, err := mail.ParseAddress(bad); err != nil || a.Address != bad || strings.Contains(got[:strings.Index(got, "?")], "@example.org?") {
				t.Errorf("%q became %q", bad, got)
			}
		}
	}
}

// What a history line says changed: leaves of JSON that differ, and no others.
func TestUnlike(t *testing.T) {
	for _, c := range []struct{ before, after, want string }{
		{"", "", ""},
		{"received", "in review", ": received → in review; "},
		{`{"a":1,"b":"x"}`, `{"a":2,"b":"x","c":true}`, "a: 1 → 2; c:  → yes; "},
		{`{"n":{"x_y":[1,2]}}`, `{"n":{"x_y":[1,3]}}`, "n, x y, 2: 2 → 3; "},
		{`{"a":12345678901234567890}`, `{"a":1}`, "a: 12345678901234567890 → 1; "},
		{`{broken`, `{"a":1}`, ": {broken → ; a:  → 1; "},
	} {
		got := ""
		for _, x := range unlike(c.before, c.after) {
			got += x.What + ": " + x.Before + " → " + x.After + "; "
		}
		if got != c.want {
			t.Errorf("%s, %s: %q, want %q", c.before, c.after, got, c.want)
		}
	}
	if n := len(unlike("{}", "["+strings.Repeat("1,", 5000)+"1]")); n > mostChanges+1 {
		t.Errorf("%d changes in one line", n)
	}
}

func TestWaits(t *testing.T) {
	for _, c := range []struct {
		ago  time.Duration
		want string
	}{{-time.Minute, "just now"}, {30 * time.Second, "just now"}, {time.Minute, "1 min"}, {119 * time.Minute, "1 h"}, {47 * time.Hour, "47 h"}, {48 * time.Hour, "2 days"}, {100 * 24 * time.Hour, "3 months"}} {
		if got := waits(aNow.Add(-c.ago), aNow); got != c.want {
			t.Errorf("%s: %q, want %q", c.ago, got, c.want)
		}
	}
	if waits(time.Time{}, aNow) != "" {
		t.Error("waits since never")
	}
}
