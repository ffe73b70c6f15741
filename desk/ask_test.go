package desk_test

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/engine/tariff"
)

// counter is a library as its patrons meet it: one branch, terms of its own,
// spools of three colours; it notes what work was asked for.
type counter struct {
	*desk.Desk
	t      testing.TB
	branch desk.Branch
	terms  int
	forms  int
	mu     sync.Mutex
	at     time.Time
	jobs   []desk.Job
}

func newCounter(t testing.TB, change ...func(*desk.Rules)) *counter {
	t.Helper()
	c := &counter{t: t, at: time.Date(2026, 3, 4, 9, 15, 0, 0, time.UTC)}
	s, err := store.Open(context.Background(), store.Options{Folder: t.TempDir(), Now: c.now,
		Enqueue: func(_ context.Context, _ *sql.Tx, j desk.Job) error {
			c.mu.Lock()
			defer c.mu.Unlock()
			c.jobs = append(c.jobs, j)
			return nil
		}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	c.Desk = &desk.Desk{Store: s, Shelves: s.Shelves(), Now: c.now, Secret: []byte("a secret of tests, thirty-two by."), Program: "test"}
	rules := desk.DefaultRules()
	for _, f := range change {
		f(&rules)
	}
	c.branch = desk.Branch{Name: "Millbrook", Place: "3 Weir Lane"}
	c.write(func(tx desk.Tx) error {
		if err := tx.SaveBranch(&c.branch); err != nil {
			return err
		}
		for i, colour := range []string{"Green", "red", "green"} {
			sp := desk.Spool{Name: fmt.Sprint("PLA-", i), Branch: c.branch.ID, Material: "pla", Colour: colour, Grams: 500, Full: 1000}
			if err := tx.SaveSpool(&sp); err != nil {
				return err
			}
		}
		empty := desk.Spool{Name: "PLA-9", Branch: c.branch.ID, Material: "pla", Colour: "blue", Grams: 5, Full: 1000}
		return tx.SaveSpool(&empty)
	})
	c.setting(desk.LibrarySetting, desk.Library{Name: "Larkmere Libraries", Locale: "en-GB", TimeZone: "Europe/London", Languages: []string{"en", "fr"}, Address: "https://desk.example"})
	c.setting(desk.RulesSetting, rules)
	c.terms = c.setting(desk.TermsSetting, desk.Terms{Text: map[string]string{"en": "What we print, and what we do not."}})
	return c
}

func (c *counter) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *counter) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

func (c *counter) write(do func(desk.Tx) error) {
	c.t.Helper()
	if err := c.Store.Write(context.Background(), do); err != nil {
		c.t.Fatal(err)
	}
}

func (c *counter) read(do func(desk.Tx) error) {
	c.t.Helper()
	if err := c.Store.Read(context.Background(), do); err != nil {
		c.t.Fatal(err)
	}
}

func (c *counter) setting(k desk.SettingKind, doc any) int {
	c.t.Helper()
	body, err := json.Marshal(doc)
	if err != nil {
		c.t.Fatal(err)
	}
	version := 0
	c.write(func(tx desk.Tx) error {
		all, err := tx.SettingVersions(k)
		if err != nil {
			return err
		}
		version = len(all) + 1
		return tx.SaveSetting(&desk.Setting{Kind: k, Version: version, Body: body, Since: c.at, By: "test"})
	})
	return version
}

// put lays bytes on the shelves.
func (c *counter) put(name, bytes string) desk.Upload {
	c.t.Helper()
	h, n, err := c.Shelves.Put(context.Background(), strings.NewReader(bytes), 1<<20)
	if err != nil {
		c.t.Fatal(err)
	}
	return desk.Upload{Name: name, Hash: h, Size: n}
}

func (c *counter) form() string {
	c.forms++
	return fmt.Sprintf("form-%020d", c.forms)
}

// submission is one that can be taken; change may spoil it.
func (c *counter) submission(change ...func(*desk.Submission)) desk.Submission {
	s := desk.Submission{Form: c.form(), Source: "page", Branch: c.branch.ID,
		Contact: desk.Contact{Name: "Rowan Ash", Email: "rowan@example.org", Language: "en"},
		Wish:    desk.Wish{Copies: 1, Rights: true, Terms: c.terms, Colour: "green"},
		Files:   []desk.Upload{c.put("cup.stl", "solid cup")}, Accept: true, Age: "over"}
	for _, f := range change {
		f(&s)
	}
	return s
}

func (c *counter) submit(change ...func(*desk.Submission)) desk.Receipt {
	c.t.Helper()
	got, err := c.Submit(context.Background(), c.submission(change...), desk.APatron())
	if err != nil {
		c.t.Fatal(err)
	}
	return got
}

// offered is a request with the patron, two ways offered.
func (c *counter) offered(change ...func(*desk.Submission)) desk.Receipt {
	c.t.Helper()
	got := c.submit(change...)
	way := func(id, total string) desk.Way {
		return desk.Way{ID: id, Material: []string{"pla"}, Grams: map[string]float64{"pla": 20}, Seconds: 3600,
			Plates: []desk.PlateWay{{Seconds: 3600}}, Price: tariff.Price{Currency: "GBP", Total: tariff.Decimal(total)}}
	}
	c.change(got.Request.ID, func(r *desk.Request) { r.State = desk.InReview })
	got.Request = c.change(got.Request.ID, func(r *desk.Request) {
		r.State = desk.WithPatron
		r.Quote = &desk.Quote{Ways: []desk.Way{way("sensible", "3.00"), way("cheaper", "2.40")}, Best: "sensible", Sent: c.now(), Until: c.now().AddDate(0, 0, 14), Tariff: 4, Rules: 5}
		r.Due = r.Quote.Until
	})
	return got
}

// change changes a request as staff's calls would.
func (c *counter) change(id desk.ID, do func(*desk.Request)) (r desk.Request) {
	c.t.Helper()
	c.write(func(tx desk.Tx) (err error) {
		if r, err = tx.Request(id); err != nil {
			return err
		}
		do(&r)
		if err := tx.SaveRequest(&r); err != nil {
			return err
		}
		return tx.AddEvent(&desk.Event{ID: desk.NewID(), Request: id, Version: r.Version, At: c.now(), Kind: desk.ByStaff, Who: "Linden", What: "changed", Say: "A note among staff.", After: string(r.State)})
	})
	return r
}

func (c *counter) request(id desk.ID) (r desk.Request) {
	c.t.Helper()
	c.read(func(tx desk.Tx) (err error) { r, err = tx.Request(id); return err })
	return r
}

func (c *counter) howMany() int {
	c.t.Helper()
	n := 0
	c.read(func(tx desk.Tx) error {
		by, err := tx.CountRequests(desk.RequestFilter{})
		for _, m := range by {
			n += m
		}
		return err
	})
	return n
}

func faultOf(t testing.TB, err error, kind desk.Kind) *desk.Fault {
	t.Helper()
	var f *desk.Fault
	if !errors.As(err, &f) || f.Kind != kind {
		t.Fatalf("got %v, want a %s fault", err, kind)
	}
	if f.Say == "" {
		t.Errorf("a %s fault that says nothing", kind)
	}
	return f
}

func TestSubmit(t *testing.T) {
	c := newCounter(t)
	got := c.submit(func(s *desk.Submission) {
		s.Files = append(s.Files, c.put("lid.3mf", "PK lid"), c.put("again.stl", "solid cup"))
	})
	r := got.Request
	if r.State != desk.Received || r.Contact.Surname != "Ash" || r.Version != 1 || got.Again {
		t.Errorf("kept as %+v", r)
	}
	if _, ok := desk.ParseCode(string(r.Code)); !ok {
		t.Errorf("code %q", r.Code)
	}
	// The link's secret is 256 bits, and only its hash is kept.
	if len(got.Key) != 43 || r.Key != desk.HashOf([]byte(got.Key)) {
		t.Errorf("key %q kept as %q", got.Key, r.Key)
	}
	m, err := c.Mine(t.Context(), got.Key)
	if err != nil {
		t.Fatal(err)
	}
	// The same bytes under two names are one file.
	if len(m.Files) != 2 || m.Files[0].Name != "cup.stl" || m.Files[1].Name != "lid.3mf" || m.Files[0].Check != desk.Waiting {
		t.Errorf("files %+v", m.Files)
	}
	if len(c.jobs) != 2 || c.jobs[0] != (desk.Job{Kind: desk.CheckFile, ID: m.Files[0].ID}) {
		t.Errorf("work asked for: %+v", c.jobs)
	}
	if len(m.Messages) != 1 || !strings.Contains(m.Messages[0].Text, "https://desk.example/my/"+got.Key) || !strings.Contains(m.Messages[0].Subject+m.Messages[0].Text, string(r.Code)) {
		t.Errorf("messages %+v", m.Messages)
	}
	var events []desk.Event
	c.read(func(tx desk.Tx) (err error) { events, err = tx.Events(r.ID, 0); return err })
	if len(events) != 1 || events[0].What != "asked" || events[0].Kind != desk.ByPatron || events[0].Version != 1 {
		t.Errorf("history %+v", events)
	}
}

// A form sent again, one after the other or at once, is one request.
func TestSubmitAgain(t *testing.T) {
	c := newCounter(t, func(r *desk.Rules) { r.PerMonth = 1 })
	s := c.submission()
	first, err := c.Submit(t.Context(), s, desk.APatron())
	if err != nil {
		t.Fatal(err)
	}
	// Held to no limit: this very request used it up.
	again, err := c.Submit(t.Context(), s, desk.APatron())
	if err != nil || again.Key != first.Key || again.Request.ID != first.Request.ID || !again.Again {
		t.Fatalf("again: %+v, %v", again, err)
	}
	s = c.submission(func(s *desk.Submission) { s.Contact.Email = "linden@example.org" })
	var wg sync.WaitGroup
	keys := make([]string, 8)
	errs := make([]error, len(keys))
	for i := range keys {
		wg.Go(func() {
			got, err := c.Submit(context.Background(), s, desk.APatron())
			keys[i], errs[i] = got.Key, err
		})
	}
	wg.Wait()
	for i := range keys {
		if errs[i] != nil || keys[i] != keys[0] || keys[i] == "" {
			t.Fatalf("one of %d at once: %q, %v", len(keys), keys[i], errs[i])
		}
	}
	if n := c.howMany(); n != 2 {
		t.Errorf("%d requests, want 2", n)
	}
	// Another person on the same computer does not get the first one's link.
	s.Contact.Email = "stranger@example.org"
	got, err := c.Submit(t.Context(), s, desk.APatron())
	faultOf(t, err, desk.Wrong)
	if got.Key != "" {
		t.Error("a stranger got the link")
	}
}

// Each thing that cannot be taken is said beside its field, and nothing is kept.
func TestSubmitRefused(t *testing.T) {
	c := newCounter(t, func(r *desk.Rules) { r.MaxFiles, r.MaxFile, r.MaxCopies, r.Age = 2, 40, 5, 16 })
	shut := desk.Branch{Name: "Quay", Shut: true}
	c.write(func(tx desk.Tx) error { return tx.SaveBranch(&shut) })
	for _, x := range []struct {
		name, field string
		spoil       func(*desk.Submission)
	}{
		{"no file", "files", func(s *desk.Submission) { s.Files = nil }},
		{"too many files", "files", func(s *desk.Submission) {
			s.Files = []desk.Upload{c.put("a.stl", "a"), c.put("b.stl", "b"), c.put("c.stl", "c")}
		}},
		{"wrong format", "files", func(s *desk.Submission) { s.Files = append(s.Files, c.put("cup.step", "ISO-10303-21;")) }},
		{"no ending", "files", func(s *desk.Submission) { s.Files[0].Name = "stl" }},
		{"too large", "files", func(s *desk.Submission) { s.Files = []desk.Upload{c.put("a.stl", strings.Repeat("x", 41))} }},
		{"said to be too large", "files", func(s *desk.Submission) { s.Files = append(s.Files, desk.Upload{Name: "b.stl", Size: 41}) }},
		{"empty", "files", func(s *desk.Submission) { s.Files = append(s.Files, desk.Upload{Name: "b.stl"}) }},
		{"not on the shelves", "files", func(s *desk.Submission) { s.Files[0].Hash = desk.HashOf([]byte("gone")) }},
		{"no hash at all", "files", func(s *desk.Submission) { s.Files[0].Hash = "../../etc/passwd" }},
		{"negative size", "size", func(s *desk.Submission) { s.Wish.SizeMM = -1 }},
		{"huge size", "size", func(s *desk.Submission) { s.Wish.SizeMM = 1e300 }},
		{"no copies", "copies", func(s *desk.Submission) { s.Wish.Copies = 0 }},
		{"many copies", "copies", func(s *desk.Submission) { s.Wish.Copies = 6 }},
		{"no date", "needed", func(s *desk.Submission) { s.Wish.Needed = "31/12/26" }},
		{"yesterday", "needed", func(s *desk.Submission) { s.Wish.Needed = "2026-03-03" }},
		{"far away", "needed", func(s *desk.Submission) { s.Wish.Needed = "9999-12-31" }},
		{"no name", "name", func(s *desk.Submission) { s.Contact.Name = " \u200b\u202e\n " }},
		{"no address", "email", func(s *desk.Submission) { s.Contact.Email = "" }},
		{"half an address", "email", func(s *desk.Submission) { s.Contact.Email = "rowan@" }},
		{"two addresses", "email", func(s *desk.Submission) { s.Contact.Email = "a@example.org, b@example.org" }},
		{"an address with a name", "email", func(s *desk.Submission) { s.Contact.Email = "Rowan <rowan@example.org>" }},
		{"a header after it", "email", func(s *desk.Submission) { s.Contact.Email = "a@example.org\r\nBcc: b@example.org" }},
		{"no domain", "email", func(s *desk.Submission) { s.Contact.Email = "rowan@localhost" }},
		{"no branch", "branch", func(s *desk.Submission) { s.Branch = "" }},
		{"no such branch", "branch", func(s *desk.Submission) { s.Branch = desk.NewID() }},
		{"a branch that is shut", "branch", func(s *desk.Submission) { s.Branch = shut.ID }},
		{"age not said", "age", func(s *desk.Submission) { s.Age = "" }},
		{"no guardian", "guardian", func(s *desk.Submission) { s.Age = "under" }},
		{"no rights", "rights", func(s *desk.Submission) { s.Wish.Rights = false }},
		{"terms not accepted", "terms", func(s *desk.Submission) { s.Accept = false }},
		{"other terms", "terms", func(s *desk.Submission) { s.Wish.Terms = c.terms - 1 }},
	} {
		for _, lang := range []string{"en", "fr"} {
			_, err := c.Submit(t.Context(), c.submission(x.spoil, func(s *desk.Submission) { s.Contact.Language = lang }), desk.APatron())
			f := faultOf(t, err, desk.Wrong)
			if len(f.Fields) != 1 || f.Fields[x.field] == "" {
				t.Errorf("%s: %+v, want a sentence at %s", x.name, f.Fields, x.field)
			}
			if strings.Contains(f.Fields[x.field], "%!") {
				t.Errorf("%s: %q", x.name, f.Fields[x.field])
			}
		}
	}
	if n := c.howMany(); n != 0 {
		t.Errorf("%d requests kept", n)
	}
	_, err := c.Submit(t.Context(), c.submission(func(s *desk.Submission) { s.Form = "" }), desk.APatron())
	faultOf(t, err, desk.Wrong)
}

func TestAdviceForOtherFiles(t *testing.T) {
	c := newCounter(t)
	for name, want := range map[string]string{
		"cup.STEP": "export it from there as STL or 3MF", "cup.gcode": "one certain machine", "all.zip": "unpack it",
		"photo.jpeg": "three dimensions", "cup.glb": "not in a form the desk reads", "wish.docx": "into the note", "cup.xyz": "must be STL, 3MF or OBJ",
	} {
		_, err := c.Submit(t.Context(), c.submission(func(s *desk.Submission) { s.Files[0].Name = name }), desk.APatron())
		if f := faultOf(t, err, desk.Wrong); !strings.Contains(f.Fields["files"], want) {
			t.Errorf("%s: %q does not say %q", name, f.Fields["files"], want)
		}
	}
}

// The month is that on the library's wall, not in UTC: London is an hour ahead
// of it from the end of March.
func TestRequestsAMonth(t *testing.T) {
	c := newCounter(t, func(r *desk.Rules) { r.PerMonth = 2 })
	c.at = time.Date(2026, 4, 30, 22, 59, 0, 0, time.UTC) // 23:59 on the 30th in London
	ask := func(mail string) error {
		_, err := c.Submit(t.Context(), c.submission(func(s *desk.Submission) { s.Contact.Email = mail }), desk.APatron())
		return err
	}
	for _, mail := range []string{"rowan@example.org", "Rowan@Example.org"} {
		if err := ask(mail); err != nil {
			t.Fatal(err)
		}
	}
	faultOf(t, ask("ROWAN@example.org"), desk.TooMany)
	if err := ask("linden@example.org"); err != nil {
		t.Errorf("another patron: %v", err)
	}
	c.pass(2 * time.Minute) // 00:01 on the 1st of May in London
	if err := ask("rowan@example.org"); err != nil {
		t.Errorf("next month: %v", err)
	}
}

// A mail comes without what a form asks for, and may bring a sketch.
func TestSubmitByMail(t *testing.T) {
	c := newCounter(t)
	got := c.submit(func(s *desk.Submission) {
		s.Source, s.Accept, s.Wish.Rights, s.Wish.Terms, s.Contact.Name, s.Age = "mail", false, false, 0, "", ""
		s.Files = append(s.Files, c.put("sketch.png", "not a model"))
	})
	m, err := c.Mine(t.Context(), got.Key)
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Files) != 2 || m.Files[1].Check != desk.NoModel || len(c.jobs) != 1 {
		t.Errorf("files %+v, work %v", m.Files, c.jobs)
	}
}

func TestAskPage(t *testing.T) {
	c := newCounter(t)
	f, err := c.AskPage(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	// Blue is on a spool that is run down to its reserve.
	if !slices.Equal(f.Colours, []string{"green", "red"}) || len(f.Branches) != 1 || f.Settings.TermsIn("fr") == "" {
		t.Errorf("%v, %v", f.Colours, f.Branches)
	}
}
