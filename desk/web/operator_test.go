package web

import (
	"bytes"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// printroom is a site with a branch, a printer, a spool and people to use them.
type printroom struct {
	*tested
	t       testing.TB
	branch  desk.Branch
	unit    desk.PrinterUnit
	spool   desk.Spool
	manager desk.Actor
	file    desk.File
	n       int
}

func aPrintroom(t testing.TB) *printroom {
	t.Helper()
	p := &printroom{tested: aSite(t), t: t}
	p.Site.open("POST /probe/as/{staff}", func(_ http.ResponseWriter, r *http.Request) error {
		return p.Site.begin(r, desk.Staff{ID: desk.ID(r.PathValue("staff"))})
	})
	ctx := t.Context()
	staff, err := p.desk.FirstManager(ctx, desk.FirstForm{Word: "begin-here", Library: "Larkmere Libraries", Address: "https://print.larkmere.example", TimeZone: "UTC",
		Locale: "en-GB", Languages: []string{"en"}, Currency: "GBP", Branch: "Central", Name: "rowan", Called: "Rowan", Password: "seven wet stones in a row"})
	if err != nil {
		t.Fatal(err)
	}
	if p.manager, err = p.desk.Standing(ctx, staff.ID, p.clock(), ""); err != nil {
		t.Fatal(err)
	}
	all, err := p.desk.Branches(ctx)
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	p.branch = all[0]
	for i := range p.branch.Hours {
		p.branch.Hours[i] = []desk.Span{{From: 0, To: 24 * 60}}
	}
	if p.branch, err = p.desk.SaveBranch(ctx, p.manager, p.branch); err != nil {
		t.Fatal(err)
	}
	if p.unit, err = p.desk.SavePrinterUnit(ctx, p.manager, desk.PrinterUnit{Name: "Heron", Branch: p.branch.ID, Model: "millrace-200"}); err != nil {
		t.Fatal(err)
	}
	if p.spool, err = p.desk.SaveSpool(ctx, p.manager, desk.SpoolForm{Form: formToken(), Name: "R-01", Branch: p.branch.ID, Material: "pla", Colour: "red", Full: 1000}); err != nil {
		t.Fatal(err)
	}
	return p
}

// as is a browser in which someone with a role at the branch is logged in.
func (p *printroom) as(role desk.Role) visitor {
	p.t.Helper()
	p.n++
	s := desk.Staff{Name: fmt.Sprint("staff", p.n), Called: fmt.Sprint("Staff ", p.n), Grants: []desk.Grant{{Role: role, Branch: p.branch.ID}}, Home: p.branch.ID, Active: true, Made: p.clock()}
	if err := p.store.Write(p.t.Context(), func(tx desk.Tx) error { return tx.SaveStaff(&s) }); err != nil {
		p.t.Fatal(err)
	}
	v := p.visitor(p.t)
	if r, _ := v.post(p.t, "/probe/as/"+string(s.ID), nil); r.StatusCode != http.StatusOK {
		p.t.Fatalf("logging in: %s", r.Status)
	}
	return v
}

// agreed is a request agreed to, of one plate of 23 g and an hour.
func (p *printroom) agreed() desk.Request {
	p.t.Helper()
	ctx := p.t.Context()
	set, err := p.desk.Settings(ctx)
	if err != nil {
		p.t.Fatal(err)
	}
	price, err := set.Tariff.Price(tariff.Order{Items: []tariff.Item{{Material: "pla", Name: "PLA", Grams: 23}}, Prints: 1, Copies: 1, Seconds: 3600})
	if err != nil {
		p.t.Fatal(err)
	}
	body := []byte("<html><script>alert(1)</script>")
	hash, _, err := p.desk.Shelves.Put(ctx, bytes.NewReader(body), 1<<20)
	if err != nil {
		p.t.Fatal(err)
	}
	p.n++
	r := desk.Request{ID: desk.NewID(), State: desk.Agreed, Branch: p.branch.ID, Code: desk.Code(fmt.Sprintf("K7-%03d", p.n)), Form: formToken(), Key: desk.HashOf([]byte(formToken())),
		Contact: desk.Contact{Name: "Robin Featherstone", Surname: "Featherstone", Email: "robin@example.org", Phone: "555 0199", Language: "en"},
		Wish:    desk.Wish{Copies: 1, Colour: "green", Note: "for my aunt"}, Asked: p.clock()}
	p.file = desk.File{ID: desk.NewID(), Request: r.ID, Name: "a \"lamp\"\r\nX: y;é.html", Hash: hash, Size: int64(len(body)), Sent: p.clock(), Check: desk.Done}
	r.Agreement = &desk.Agreement{At: p.clock(), Tariff: set.Versions[desk.TariffSetting], Rules: set.Versions[desk.RulesSetting], Way: desk.Way{ID: "sensible", Printer: "millrace-200", Material: []string{"pla"},
		Plates: []desk.PlateWay{{Seconds: 3600, Grams: map[string]float64{"pla": 23}, Copies: map[desk.ID]int{p.file.ID: 1}}}, Price: price, Seconds: 3600,
		Parts: []desk.PartWay{{File: p.file.ID, Copies: 1, Scale: 1, Settings: quote.Settings{LayerHeightMM: 0.2, InfillPercent: 20, Shells: 2, Supports: "none", Base: "skirt"}}}}}
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

// form is a form's fields with a once-only token.
func form(pairs ...string) url.Values {
	v := url.Values{"form": {formToken()}}
	for i := 0; i < len(pairs); i += 2 {
		v.Add(pairs[i], pairs[i+1])
	}
	return v
}

// expect holds an answer to a status and to what its text holds; what begins
// with "not " it must not hold.
func expect(t testing.TB, name string, r *http.Response, text string, status int, holds ...string) {
	t.Helper()
	if r.StatusCode != status {
		t.Errorf("%s: %s, want %d\n%s", name, r.Status, status, firstLines(text))
	}
	for _, h := range holds {
		if not, ok := strings.CutPrefix(h, "not "); ok {
			if strings.Contains(text, not) {
				t.Errorf("%s: the page holds %q", name, not)
			}
		} else if !strings.Contains(text, h) {
			t.Errorf("%s: the page does not hold %q\n%s", name, h, firstLines(text))
		}
	}
}

func firstLines(s string) string {
	if i := strings.Index(s, "<main"); i >= 0 {
		s = s[i:]
	}
	return s[:min(len(s), 1500)]
}

var versionIn = regexp.MustCompile(`name="version" value="(\d+)"`)

func versionOf(t testing.TB, text string) string {
	t.Helper()
	m := versionIn.FindStringSubmatch(text)
	if m == nil {
		t.Fatalf("no version on the page\n%s", firstLines(text))
	}
	return m[1]
}

// A run from the plate that waits to the print handed over, by forms alone.
func TestOperatorsDay(t *testing.T) {
	p := aPrintroom(t)
	v := p.as(desk.Operator)
	q := p.agreed()
	ref := string(q.ID) + ":0"

	r, text := v.get(t, "/desk/printing")
	expect(t, "printing", r, text, 200, string(q.Code), "Heron", "wished in green", "not robin@", "not Featherstone")
	r, text = v.get(t, "/desk/r/"+string(q.Code))
	expect(t, "the request", r, text, 200, `href="/desk/printing/start?plate=`+url.QueryEscape(ref)+`">Print it`)
	r, text = v.get(t, "/desk/printing/now?branch="+string(p.branch.ID))
	expect(t, "printers now", r, text, 200, "Heron", "not <html")
	r, text = v.get(t, "/desk/printing/work/"+string(q.ID)+"/0")
	expect(t, "work slip", r, text, 200, `href="/desk/printing">Back`, "0.2 mm", "20 %", "skirt", "1 h", "23 g", "not robin@", "not Featherstone", "not aunt")
	r, text = v.get(t, "/desk/printing/start?plate="+url.QueryEscape(ref))
	expect(t, "start", r, text, 200, "R-01", "wished in green")

	start := form("plate", ref, "printer", string(p.unit.ID), "spool", string(p.spool.ID), "spool", "")
	r, text = v.post(t, "/desk/printing/start", start)
	expect(t, "start with a warning not seen", r, text, 422, "Look at this before it starts", "is red")
	bare := form("plate", ref, "printer", string(p.unit.ID), "spool", "", "seen", "colour")
	r, text = v.post(t, "/desk/printing/start", bare)
	expect(t, "start without a spool", r, text, 422, `href="#f-spool-0"`, "Choose a spool of PLA")
	start.Set("look", "1")
	r, text = v.post(t, "/desk/printing/start", start)
	expect(t, "look again", r, text, 200, `value="colour"`)
	start.Del("look")
	start.Set("seen", "colour")
	r, text = v.post(t, "/desk/printing/start", start)
	expect(t, "start", r, text, 303)
	at := r.Header.Get("Location")
	r, text = v.post(t, "/desk/printing/start", start)
	expect(t, "the same start again", r, text, 303)
	if r.Header.Get("Location") != at {
		t.Errorf("the same form started another run: %s after %s", r.Header.Get("Location"), at)
	}

	r, text = v.get(t, at)
	expect(t, "run", r, text, 200, "1 h to go", "Expected 23 g", "The run has started.")
	seen := versionOf(t, text)
	r, text = v.get(t, "/desk/printing/start?plate="+url.QueryEscape(string(p.agreed().ID)+":0"))
	expect(t, "start when every printer is taken", r, text, 200, "No printer of this model is free now", "1 h to go")
	r, text = v.post(t, at+"/weigh", form("version", seen, "grams-0-pla", ""))
	expect(t, "no weight", r, text, 422, "write 0 if there is none")
	r, text = v.post(t, at+"/weigh", form("version", seen, "grams-0-pla", "1e3"))
	expect(t, "a weight in powers of ten", r, text, 422, `value="1e3"`, "as a number")
	r, text = v.post(t, at+"/weigh", form("version", seen, "grams-0-pla", "230"))
	expect(t, "ten times the weight", r, text, 422, `value="230"`, "far from", "I looked at the scale again")
	r, text = v.post(t, at+"/fail", form("version", seen, "grams-pla", "4,5", "why", "<script>alert(1)</script>", "blame", ""))
	expect(t, "a failure of nobody", r, text, 422, `value="4,5"`, "&lt;script&gt;alert(1)&lt;/script&gt;", "not <script>alert", "Choose whose failure")
	r, text = v.post(t, at+"/finish", form("version", seen))
	expect(t, "finish", r, text, 303)
	r, text = v.post(t, at+"/weigh", form("version", seen, "grams-0-pla", "22,4"))
	expect(t, "weighing an older page", r, text, 409, "Changed meanwhile", `value="22,4"`, "came off Heron well")
	r, text = v.post(t, at+"/weigh", form("version", versionOf(t, text), "grams-0-pla", "22,4"))
	expect(t, "weigh", r, text, 303)
	r, text = v.post(t, at+"/fail", form("version", seen, "why", "too late", "blame", "machine"))
	expect(t, "failing what was weighed meanwhile", r, text, 409, "You had typed", "too late")

	r, text = v.get(t, "/desk/r/"+string(q.Code))
	expect(t, "the request, weighed", r, text, 200, "Put it on the shelf", "not Print it")
	r, text = v.get(t, at)
	expect(t, "weighed", r, text, 200, "The weight is wrong", `value="22.4"`)
	seen = versionOf(t, text)
	r, text = v.post(t, at+"/anew", form("version", seen, "grams-0-pla", "31", "anew-why", ""))
	expect(t, "weighed anew without a reason", r, text, 422, "Say why it is weighed anew", `value="31"`, `href="#f-anew-why"`)
	r, text = v.post(t, at+"/anew", form("version", seen, "grams-0-pla", "1234", "anew-why", "a <b>slip</b>"))
	expect(t, "weighed anew, far off", r, text, 422, "far from", "I looked at the scale again", `value="1234"`, "a &lt;b&gt;slip&lt;/b&gt;")
	r, text = v.post(t, at+"/anew", form("version", seen, "grams-0-pla", "31", "anew-why", "a slip"))
	expect(t, "weighed anew", r, text, 303)
	r, text = v.post(t, at+"/anew", form("version", seen, "grams-0-pla", "30", "anew-why", "an older page"))
	expect(t, "weighed anew on an older page", r, text, 409, "Changed meanwhile", `value="30"`, "an older page", "31 g of PLA in place of 22.4 g of PLA")
	r, text = v.post(t, at+"/anew", form("version", versionOf(t, text), "grams-0-pla", "22,4", "anew-why", "it was right before"))
	expect(t, "and back", r, text, 303)

	held := "/desk/shelf/" + string(q.ID)
	r, text = v.get(t, "/desk/shelf")
	expect(t, "shelf", r, text, 200, "To be put on the shelf", string(q.Code))
	r, text = v.get(t, held)
	expect(t, "to be put on the shelf", r, text, 200, "FEAT R.", "not robin@", "not Featherstone", "not 555")
	r, text = v.post(t, held+"/place", form("version", versionOf(t, text), "place", "<b>B3</b>"))
	expect(t, "place", r, text, 303)
	r, text = v.get(t, held+"/slip")
	expect(t, "slip", r, text, 200, `href="`+held+`">Back`, "FEAT R.", string(q.Code), "&lt;b&gt;B3&lt;/b&gt;", "18 March 2026", "Central", "not robin@", "not Featherstone", "not 555", "not Robin", "not aunt")
	r, text = v.get(t, held+"/barcode.svg")
	expect(t, "barcode", r, text, 200, "<svg")
	if got := r.Header.Get("Content-Type"); got != "image/svg+xml" {
		t.Errorf("barcode is %q", got)
	}
	r, text = v.get(t, "/desk/shelf/scan?code="+url.QueryEscape(strings.ToLower(string(q.Code))))
	expect(t, "scan", r, text, 303)
	if r.Header.Get("Location") != held {
		t.Errorf("the scan leads to %s", r.Header.Get("Location"))
	}
	r, text = v.get(t, "/desk/shelf/scan?code=%3Cscript%3E")
	expect(t, "scan of something else", r, text, 422, "That is no code", "not <script>")
	r, text = v.get(t, "/desk/shelf")
	expect(t, "shelf with it", r, text, 200, "FEAT R.", "£3.30")

	r, text = v.get(t, "/desk/r/"+string(q.Code))
	expect(t, "the request on the shelf", r, text, 200, `href="`+held+`">Hand it over`)
	r, text = v.get(t, held)
	expect(t, "to hand over", r, text, 200, "£3.30 to pay", `value="3.30"`, `href="`+at+`#anew"`)
	r, run := v.get(t, at)
	expect(t, "weighed anew once the patron was told", r, run, 200, "was told what it costs", "not Weigh it anew")
	seen = versionOf(t, text)
	r, text = v.post(t, held+"/collect", form("version", seen, "pay", "3", "how", "cash"))
	expect(t, "too little", r, text, 422, "£0.30 is still owed", `value="3"`)
	r, text = v.post(t, held+"/call", form("version", seen, "how", "by telephone"))
	expect(t, "call", r, text, 303)
	r, text = v.post(t, held+"/collect", form("version", seen, "pay", "3.30", "how", "card"))
	expect(t, "handing over on an older page", r, text, 409, "by telephone", `value="3.30"`)
	collect := form("version", versionOf(t, text), "pay", "3.30", "how", "card")
	for range 2 {
		r, text = v.post(t, held+"/collect", collect)
		expect(t, "hand over", r, text, 303)
	}
	r, text = v.get(t, held+"/receipt")
	expect(t, "receipt", r, text, 200, `href="`+held+`">Back`, "£3.30", "23 g of PLA", "Settled", "card", "rounded up to whole grams", "not robin@", "not Featherstone", "not Robin")
	r, text = v.get(t, held+"/account")
	expect(t, "account", r, text, 200, "£0.00", "not Waive it")
}

func TestMoneyPages(t *testing.T) {
	p := aPrintroom(t)
	q := p.agreed()
	ctx := t.Context()
	run, _, err := p.desk.StartRun(ctx, p.manager, desk.StartForm{Form: formToken(), Printer: p.unit.ID, Parts: []desk.PlateRef{{Request: q.ID}}, Spools: []desk.ID{p.spool.ID}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.desk.WeighRun(ctx, p.manager, run.ID, 0, desk.WeighForm{Form: formToken(), Grams: []map[string]float64{{"pla": 23}}}); err != nil {
		t.Fatal(err)
	}
	op, boss := p.as(desk.Operator), p.as(desk.Manager)
	at := "/desk/shelf/" + string(q.ID) + "/account"
	r, text := op.post(t, at+"/waive", form("waiver", "1.00", "waiver-why", "kindness"))
	expect(t, "waived by an operator", r, text, 403)
	r, text = boss.post(t, at+"/waive", form("waiver", "1.00", "waiver-why", ""))
	expect(t, "waived without a reason", r, text, 422, "Say why it is waived", `value="1.00"`)
	r, text = boss.post(t, at+"/waive", form("waiver", "1.00", "waiver-why", "kindness"))
	expect(t, "waived", r, text, 303)
	r, text = op.post(t, at+"/correct", form("correction", "0,20", "correction-why", "a bag"))
	expect(t, "corrected", r, text, 303)
	// What lowers what is owed is a waiver by another name.
	r, text = op.get(t, at)
	expect(t, "an operator's page", r, text, 200, "By how much more", "not with a minus")
	r, text = boss.get(t, at)
	expect(t, "a manager's page", r, text, 200, "with a minus")
	r, text = op.post(t, at+"/correct", form("correction", "-0.40", "correction-why", "weighed with its brim"))
	expect(t, "lowered by an operator", r, text, 422, "a manager&#39;s to say", `value="-0.40"`, "weighed with its brim")
	pay := form("pay", "2.50", "how", "cash")
	for range 2 {
		r, text = op.post(t, at+"/pay", pay)
		expect(t, "paid", r, text, 303)
	}
	r, text = op.post(t, at+"/pay", form("pay", "1", "how", "cash"))
	expect(t, "paid once more", r, text, 409, "Nothing is owed")
	r, text = op.post(t, at+"/pay", url.Values{"pay": {"1"}, "how": {"cash"}})
	expect(t, "without a token", r, text, 422)
	r, text = op.post(t, at+"/steal", form("pay", "1"))
	expect(t, "something else", r, text, 404)
	r, text = op.get(t, at)
	expect(t, "account", r, text, 200, "kindness", "a bag", "£0.00")
}

// A form that comes when the log-in is over keeps every word, and is sent again
// once its sender is logged in; what is secret is not written back.
func TestAFormAfterTheLogIn(t *testing.T) {
	p := aPrintroom(t)
	q := p.agreed()
	v := p.as(desk.Manager)
	at := "/desk/r/" + string(q.Code)
	letter := form("version", itoa(int(q.Version)), "write-subject", `Your "lamp"`, "write-text", "A long letter,\nof <b>two</b> lines.")
	p.tested.pass(25 * time.Hour)
	r, text := v.post(t, at+"/write", letter)
	expect(t, "a day later", r, text, 403, "nothing you typed is lost", "of &lt;b&gt;two&lt;/b&gt; lines.", "not <b>two", `action="`+at+`/write"`)
	again := fieldsOf(t, text)
	for name, want := range letter {
		if !slices.Equal(again[name], want) {
			t.Errorf("%s came back as %q, was %q", name, again[name], want)
		}
	}
	checkHTML(t, "over", []byte(text))
	in := p.as(desk.Manager)
	for range 2 {
		r, text = in.post(t, at+"/write", again)
		expect(t, "sent again", r, text, 303)
	}
	look, err := p.desk.Look(t.Context(), p.manager, q.ID)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, m := range look.Messages {
		if strings.Contains(m.Text, "of <b>two</b> lines.") {
			n++
		}
	}
	if n != 1 {
		t.Errorf("the letter is there %d times", n)
	}
	for name, secret := range map[string]url.Values{"a password": form("old", "seven wet stones", "new", "x"), "no token": {"text": {"x y"}}} {
		r, text = v.post(t, "/desk/me/password", secret)
		expect(t, name, r, text, 303, "not seven")
	}
}

// Who sees what: pages of printing are for operators; a reviewer sees accounts.
func TestOperatorsPagesByRole(t *testing.T) {
	p := aPrintroom(t)
	q := p.agreed()
	op, rev := p.as(desk.Operator), p.as(desk.Reviewer)
	out := p.visitor(t)
	id := string(q.ID)
	for _, c := range []struct {
		path          string
		operator, rev int
	}{
		{"/desk/printing", 200, 403}, {"/desk/printing/now", 200, 403}, {"/desk/printing/start?plate=" + id + ":0", 200, 403},
		{"/desk/printing/spools", 200, 403}, {"/desk/printing/spools/new", 200, 403}, {"/desk/printing/spools/" + string(p.spool.ID), 200, 403},
		{"/desk/printing/work/" + id + "/0", 200, 200}, {"/desk/printing/bad/" + id + "/0", 200, 200}, {"/desk/shelf", 200, 403},
		{"/desk/shelf/" + id, 200, 200}, {"/desk/shelf/" + id + "/account", 200, 200}, {"/desk/shelf/" + id + "/receipt", 200, 200},
		// Nothing there, and nothing that panics.
		{"/desk/printing/runs/nothing", 404, 404}, {"/desk/printing/work/" + id + "/1", 404, 404}, {"/desk/printing/work/" + id + "/-1", 404, 404},
		{"/desk/printing/work/" + id + "/99999999999999999999", 404, 404}, {"/desk/printing/work/%00/0", 404, 404}, {"/desk/printing/spools/%2e%2e", 404, 404},
		{"/desk/printing/start", 422, 422}, {"/desk/printing/start?plate=x", 422, 422}, {"/desk/printing/start?plate=" + id + ":7", 404, 403},
		{"/desk/shelf/" + id + "/slip", 409, 403}, {"/desk/shelf/" + id + "/barcode.svg", 409, 403}, {"/desk/printing?branch=nowhere", 403, 403},
	} {
		r, text := op.get(t, c.path)
		expect(t, "operator "+c.path, r, text, c.operator)
		r, text = rev.get(t, c.path)
		expect(t, "reviewer "+c.path, r, text, c.rev)
		r, text = out.get(t, c.path)
		expect(t, "nobody "+c.path, r, text, 303)
	}
}

// A patron's file comes as something to be kept (RFC 6266), whatever it is.
func TestFilesAreKeptNotShown(t *testing.T) {
	p := aPrintroom(t)
	p.agreed()
	path := "/desk/printing/files/" + string(p.file.ID)
	r, text := p.as(desk.Operator).get(t, path)
	expect(t, "file", r, text, 200, "<script>")
	h := r.Header
	if h.Get("Content-Type") != "application/octet-stream" || h.Get("X-Content-Type-Options") != "nosniff" || !strings.HasPrefix(h.Get("Content-Disposition"), "attachment") ||
		strings.ContainsAny(h.Get("Content-Disposition"), "\r\n") || h.Get("X") != "" {
		t.Errorf("headers of a file: %v", h)
	}
	r, text = p.visitor(t).get(t, path)
	expect(t, "file for nobody", r, text, 303)
}

func TestGramsAsTyped(t *testing.T) {
	for text, want := range map[string]float64{"": 0, " 23 ": 23, "23.4": 23.4, "23,4": 23.4, "0": 0, "0,01": 0.01,
		"1e3": math.NaN(), "-1": math.NaN(), "NaN": math.NaN(), "Inf": math.NaN(), "0x10": math.NaN(), "1.000.000": math.NaN(), "12345678": math.NaN(), "٣": math.NaN(), ".5": math.NaN()} {
		if got := gramsIn(text); got != want && !(math.IsNaN(got) && math.IsNaN(want)) {
			t.Errorf("%q is %g, want %g", text, got, want)
		}
	}
}

func TestSpoolPages(t *testing.T) {
	p := aPrintroom(t)
	v := p.as(desk.Operator)
	make := form("name", "B-02", "branch", string(p.branch.ID), "material", "pla", "colour", "blue", "full", "750,5")
	for range 2 {
		r, text := v.post(t, "/desk/printing/spools/new", make)
		expect(t, "a new spool", r, text, 303)
	}
	r, text := v.post(t, "/desk/printing/spools/new", form("name", "B-02", "branch", string(p.branch.ID), "material", "pla", "colour", "", "full", "much"))
	expect(t, "a spool to mend", r, text, 422, "Another spool at this branch has this name", `value="much"`, "colour in a word")
	r, text = v.get(t, "/desk/printing/spools?material=pla&colour=BLUE")
	expect(t, "spools", r, text, 200, "B-02", "750.5 g", "not R-01")
	if strings.Count(text, "B-02") != 1 {
		t.Error("the form sent twice made two spools")
	}
	at := "/desk/printing/spools/" + string(p.spool.ID)
	_, text = v.get(t, at)
	seen := versionOf(t, text)
	r, text = v.post(t, at+"/load", form("version", seen, "printer", string(p.unit.ID)))
	expect(t, "load", r, text, 303)
	r, text = v.post(t, at+"/count", form("version", seen, "grams", "900", "why", "weighed"))
	expect(t, "count on an older page", r, text, 409, `value="900"`, "1000 g are left")
	r, text = v.post(t, at+"/count", form("version", versionOf(t, text), "grams", "", "why", "weighed"))
	expect(t, "count of nothing", r, text, 422, "as a number")
	r, text = v.post(t, at+"/count", form("version", versionOf(t, text), "grams", "900", "why", "weighed"))
	expect(t, "count", r, text, 303)
	r, text = v.get(t, at)
	expect(t, "its lines", r, text, 200, "−100 g", "900 g", "in Heron", "R-01: ")
	r, text = v.post(t, at, form("version", versionOf(t, text), "name", "R-09", "branch", string(p.branch.ID), "material", "pla", "colour", "red", "full", "1000", "retired", "yes"))
	expect(t, "retire", r, text, 303)
	r, text = v.get(t, "/desk/printing/spools")
	expect(t, "spools", r, text, 200, "not R-09")
}
