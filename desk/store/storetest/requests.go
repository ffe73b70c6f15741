package storetest

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"platebook/desk"
)

// testVersions: a change counts the version up, one made on an older version
// is refused, and what comes to nothing leaves the caller's version alone.
func testVersions(t *testing.T, s desk.Store) {
	r := request(t, s, nil)
	if r.Version != 1 {
		t.Fatalf("a new request is at version %d, want 1", r.Version)
	}
	mine, theirs := r, r
	mine.Reason = "mine"
	write(t, s, func(tx desk.Tx) error { return tx.SaveRequest(&mine) })
	if mine.Version != 2 {
		t.Errorf("a changed request is at version %d, want 2", mine.Version)
	}
	theirs.Reason = "theirs"
	refused(t, s, desk.Stale, func(tx desk.Tx) error { return tx.SaveRequest(&theirs) })
	if theirs.Version != 1 {
		t.Errorf("a refused change leaves version %d, want 1", theirs.Version)
	}
	got := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.Request(r.ID) })
	if got.Reason != "mine" || got.Version != 2 {
		t.Errorf("after a refused change the request says %q at version %d", got.Reason, got.Version)
	}
	again := mine
	again.Version, again.Code = 0, desk.NewCode()
	refused(t, s, desk.Stale, func(tx desk.Tx) error { return tx.SaveRequest(&again) }) // new, with an ID that is there
	none := mine
	none.ID = desk.NewID()
	refused(t, s, desk.NotFound, func(tx desk.Tx) error { return tx.SaveRequest(&none) })
	ahead := mine
	ahead.Version = 7
	refused(t, s, desk.Stale, func(tx desk.Tx) error { return tx.SaveRequest(&ahead) })
}

// testNotFound: what is not there is a NotFound Fault with a sentence.
func testNotFound(t *testing.T, s desk.Store) {
	nothing := desk.NewID()
	request(t, s, nil) // with no form and no key: these find nothing
	for name, ask := range map[string]func(tx desk.Tx) error{
		"request":          func(tx desk.Tx) error { _, err := tx.Request(nothing); return err },
		"request of no ID": func(tx desk.Tx) error { _, err := tx.Request(""); return err },
		"code":             func(tx desk.Tx) error { _, err := tx.RequestByCode("Z9-000"); return err },
		"key":              func(tx desk.Tx) error { _, err := tx.RequestByKey(desk.HashOf(nil)); return err },
		"empty key":        func(tx desk.Tx) error { _, err := tx.RequestByKey(""); return err },
		"form":             func(tx desk.Tx) error { _, err := tx.RequestByForm("f"); return err },
		"empty form":       func(tx desk.Tx) error { _, err := tx.RequestByForm(""); return err },
		"file":             func(tx desk.Tx) error { _, err := tx.File(nothing); return err },
		"message":          func(tx desk.Tx) error { _, err := tx.MessageByForm(nothing, "f"); return err },
		"run":              func(tx desk.Tx) error { _, err := tx.Run(nothing); return err },
		"run of a form":    func(tx desk.Tx) error { _, err := tx.RunByForm(""); return err },
		"spool":            func(tx desk.Tx) error { _, err := tx.Spool(nothing); return err },
		"branch":           func(tx desk.Tx) error { _, err := tx.Branch(nothing); return err },
		"printer":          func(tx desk.Tx) error { _, err := tx.Printer(nothing); return err },
		"staff":            func(tx desk.Tx) error { _, err := tx.Staff(nothing); return err },
		"name":             func(tx desk.Tx) error { _, err := tx.StaffByName("nobody"); return err },
		"setting":          func(tx desk.Tx) error { _, err := tx.Setting(desk.RulesSetting, 0); return err },
		"version":          func(tx desk.Tx) error { _, err := tx.Setting(desk.RulesSetting, 3); return err },
		"letter":           func(tx desk.Tx) error { _, err := tx.Mail(nothing); return err },
		"letter's hash":    func(tx desk.Tx) error { _, err := tx.MailByHash(desk.HashOf(nil)); return err },
		"posted":           func(tx desk.Tx) error { _, err := tx.Posted(nothing); return err },
		"posted's name":    func(tx desk.Tx) error { _, err := tx.PostedByMailID("<a@b>"); return err },
	} {
		err := s.Read(t.Context(), ask)
		if desk.KindOf(err) != desk.NotFound {
			t.Errorf("%s: got %v, want NotFound", name, err)
		} else if f := err.Error(); !strings.Contains(f, "There is no such") {
			t.Errorf("%s: %q is no sentence", name, f)
		}
	}
	if used := read(t, s, func(tx desk.Tx) (bool, error) { return tx.HashUsed(desk.HashOf(nil)) }); used {
		t.Error("bytes nobody sent are used")
	}
	if got := read(t, s, func(tx desk.Tx) ([]desk.File, error) { return tx.FilesOf(nothing) }); len(got) != 0 {
		t.Errorf("files of nothing: %v", got)
	}
}

// testNames: a request is found by ID, code, key and form; a code is one
// request's until it is forgotten, a form for ever.
func testNames(t *testing.T, s desk.Store) {
	r := request(t, s, func(r *desk.Request) { r.Code, r.Form, r.Key = "K7-204", "form-1", desk.HashOf([]byte("key")) })
	for name, ask := range map[string]func(tx desk.Tx) (desk.Request, error){
		"code": func(tx desk.Tx) (desk.Request, error) { return tx.RequestByCode("K7-204") },
		"key":  func(tx desk.Tx) (desk.Request, error) { return tx.RequestByKey(desk.HashOf([]byte("key"))) },
		"form": func(tx desk.Tx) (desk.Request, error) { return tx.RequestByForm("form-1") },
	} {
		if got := read(t, s, ask); got.ID != r.ID {
			t.Errorf("by %s: request %s, want %s", name, got.ID, r.ID)
		}
	}
	// Refused within a transaction that goes on with another code.
	second := desk.Request{Code: "K7-204", State: desk.Received}
	write(t, s, func(tx desk.Tx) error {
		second = desk.Request{Code: "K7-204", State: desk.Received}
		err := tx.SaveRequest(&second)
		if desk.KindOf(err) != desk.TooMany {
			return fmt.Errorf("a code that is taken: got %w, want TooMany", err)
		}
		second.Code, second.Version = "K7-205", 0
		return tx.SaveRequest(&second)
	})
	refused(t, s, desk.NotNow, func(tx desk.Tx) error {
		return tx.SaveRequest(&desk.Request{Code: "K7-206", Form: "form-1"})
	})
	// Forgotten, the code is free, and finds the newer request.
	r.Forgotten, r.Key = at(1), ""
	write(t, s, func(tx desk.Tx) error { return tx.SaveRequest(&r) })
	third := request(t, s, func(r *desk.Request) { r.Code = "K7-204" })
	if got := read(t, s, func(tx desk.Tx) (desk.Request, error) { return tx.RequestByCode("K7-204") }); got.ID != third.ID {
		t.Errorf("a code used again finds %s, want %s", got.ID, third.ID)
	}
	refused(t, s, desk.NotNow, func(tx desk.Tx) error {
		return tx.SaveRequest(&desk.Request{Code: "K7-207", Form: "form-1"})
	})
}

// some are requests to choose from: a handbook table of who is where.
func some(t *testing.T, s desk.Store) map[string]desk.ID {
	t.Helper()
	ids := map[string]desk.ID{}
	for i, row := range []struct {
		name     string
		state    desk.State
		branch   desk.ID
		patron   desk.Hash
		due      time.Time
		closed   time.Time
		forgoten bool
	}{
		{"a", desk.Received, "north", "p", time.Time{}, time.Time{}, false},
		{"b", desk.InReview, "south", "p", at(5), time.Time{}, false},
		{"c", desk.Received, "south", "q", at(10), time.Time{}, false},
		{"d", desk.Collected, "north", "p", at(15), at(11), false},
		{"e", desk.Declined, "north", "r", time.Time{}, at(12), true},
		{"f", desk.Agreed, "east", "", time.Time{}, time.Time{}, false},
	} {
		r := request(t, s, func(r *desk.Request) {
			r.Asked, r.State, r.Branch, r.Patron, r.Due, r.Closed = at(i), row.state, row.branch, row.patron, row.due, row.closed
			if row.forgoten {
				r.Forgotten = at(20)
			}
		})
		ids[row.name] = r.ID
	}
	return ids
}

func testLists(t *testing.T, s desk.Store) {
	ids := some(t, s)
	names := map[desk.ID]string{}
	for n, id := range ids {
		names[id] = n
	}
	for _, c := range []struct {
		what   string
		filter desk.RequestFilter
		want   string
	}{
		{"all, oldest first", desk.RequestFilter{}, "abcdef"},
		{"newest first", desk.RequestFilter{Newest: true}, "fedcba"},
		{"at most two", desk.RequestFilter{Most: 2}, "ab"},
		{"soonest due first", desk.RequestFilter{Soonest: true}, "bcdaef"},
		{"the two due soonest", desk.RequestFilter{Soonest: true, Most: 2}, "bc"},
		{"the newest two", desk.RequestFilter{Newest: true, Most: 2}, "fe"},
		{"by ID", desk.RequestFilter{IDs: []desk.ID{ids["d"], ids["b"], "none"}}, "bd"},
		{"of a state", desk.RequestFilter{States: []desk.State{desk.Received}}, "ac"},
		{"of two states", desk.RequestFilter{States: []desk.State{desk.Received, desk.Agreed}}, "acf"},
		{"of no such state", desk.RequestFilter{States: []desk.State{"lost"}}, ""},
		{"at a branch", desk.RequestFilter{Branches: []desk.ID{"north"}}, "ade"},
		{"at two branches", desk.RequestFilter{Branches: []desk.ID{"south", "east"}}, "bcf"},
		{"of a state at a branch", desk.RequestFilter{States: []desk.State{desk.Received}, Branches: []desk.ID{"south"}}, "c"},
		{"of a patron", desk.RequestFilter{Patron: "p"}, "abd"},
		{"of a patron since", desk.RequestFilter{Patron: "p", AskedSince: at(1)}, "bd"},
		{"asked since, that moment too", desk.RequestFilter{AskedSince: at(4)}, "ef"},
		{"due, that moment too", desk.RequestFilter{DueBy: at(10)}, "bc"},
		{"not due yet", desk.RequestFilter{DueBy: at(4)}, ""},
		{"closed, that moment too", desk.RequestFilter{ClosedBy: at(11)}, "d"},
		{"closed by and by", desk.RequestFilter{ClosedBy: at(60)}, "de"},
		{"closed and not forgotten", desk.RequestFilter{ClosedBy: at(60), Unforgotten: true}, "d"},
		{"unforgotten", desk.RequestFilter{Unforgotten: true}, "abcdf"},
		{"after", desk.RequestFilter{After: ids["c"]}, "def"},
		{"after, newest first", desk.RequestFilter{After: ids["c"], Newest: true}, "ba"},
		{"after the last", desk.RequestFilter{After: ids["f"]}, ""},
		{"everything at once", desk.RequestFilter{States: desk.States(), Branches: []desk.ID{"north", "south"}, Patron: "p",
			AskedSince: at(0), DueBy: at(20), Unforgotten: true, After: ids["a"], Most: 1}, "b"},
	} {
		got := ""
		for _, r := range read(t, s, func(tx desk.Tx) ([]desk.Request, error) { return tx.ListRequests(c.filter) }) {
			got += names[r.ID]
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.what, got, c.want)
		}
		if c.filter.After != "" || c.filter.Most != 0 {
			continue
		}
		n := 0
		for _, k := range read(t, s, func(tx desk.Tx) (map[desk.State]int, error) { return tx.CountRequests(c.filter) }) {
			n += k
		}
		if n != len(c.want) {
			t.Errorf("%s: counts %d, want %d", c.what, n, len(c.want))
		}
	}
	counts := read(t, s, func(tx desk.Tx) (map[desk.State]int, error) { return tx.CountRequests(desk.RequestFilter{}) })
	if counts[desk.Received] != 2 || counts[desk.Agreed] != 1 || counts[desk.Lapsed] != 0 {
		t.Errorf("counts by state: %v", counts)
	}
}

// testBrief: a brief list leaves two long columns unread and no other.
func testBrief(t *testing.T, s desk.Store) {
	r := filled[desk.Request](1)
	r.Version = 0
	write(t, s, func(tx desk.Tx) error { return tx.SaveRequest(&r) })
	got := read(t, s, func(tx desk.Tx) ([]desk.Request, error) { return tx.ListRequests(desk.RequestFilter{Brief: true}) })
	r.Ways, r.Quote = nil, nil
	same(t, "a brief list", got, []desk.Request{r})
}

// testPaging: pages cover every request once, in either direction, also where
// many were asked for at the same moment, and while new ones come.
func testPaging(t *testing.T, s desk.Store) {
	const all = 53
	var want []desk.ID
	for i := range all {
		want = append(want, request(t, s, func(r *desk.Request) { r.Asked = at(i / 10) }).ID)
	}
	for _, newest := range []bool{false, true} {
		var got []desk.ID
		f := desk.RequestFilter{Newest: newest, Most: 7}
		for {
			page := read(t, s, func(tx desk.Tx) ([]desk.Request, error) { return tx.ListRequests(f) })
			if len(page) == 0 {
				break
			}
			for _, r := range page {
				got = append(got, r.ID)
			}
			f.After = page[len(page)-1].ID
			if newest { // newer ones come while pages are turned
				request(t, s, func(r *desk.Request) { r.Asked = at(1000) })
			}
		}
		if newest {
			slices.Reverse(got)
		}
		if !slices.Equal(got, want) {
			t.Errorf("newest first %v: pages hold %d requests %v, want %d", newest, len(got), got, all)
		}
	}
}

// testSearch: letter case, marks and width do not matter, and what a pattern
// or a statement could be made of is a letter like any other.
func testSearch(t *testing.T, s desk.Store) {
	zoe := request(t, s, func(r *desk.Request) {
		r.Code, r.Contact = "K7-204", desk.Contact{Name: "Zoë Ångström", Surname: "Ångström", Email: "Zoe.A@Example.org"}
	})
	odd := request(t, s, func(r *desk.Request) {
		r.Code, r.Contact = "L3-118", desk.Contact{Name: `100% _under\score O'Neil "x"; DROP TABLE requests`, Email: "strasse@example.org"}
	})
	street := request(t, s, func(r *desk.Request) {
		r.Code, r.Contact = "M4-555", desk.Contact{Name: "Günther Weißbach", Email: "ΣΊΣΥΦΟΣ@example.org"}
	})
	file := desk.File{Request: zoe.ID, Name: "Éléphant à bascule.STL"}
	write(t, s, func(tx desk.Tx) error { return tx.SaveFile(&file) })
	name := map[desk.ID]string{zoe.ID: "zoe", odd.ID: "odd", street.ID: "street"}
	for _, c := range []struct{ text, want string }{
		{"zoë", "zoe"}, {"ZOË", "zoe"}, {"zoe", "zoe"}, {"ångström", "zoe"}, {"ANGSTROM", "zoe"}, {"Zoë  Ång", "zoe"},
		{"a\u030angstr", "zoe"}, // decomposed, Unicode Standard Annex 15
		{"ｚｏｅ", "zoe"},          // full width, as some keyboards type
		{"k7-204", "zoe"}, {"7-20", "zoe"}, {"example.ORG", "zoe odd street"}, {"zoe.a@", "zoe"},
		{"elephant", "zoe"}, {"ÉLÉPHANT À", "zoe"}, {".stl", "zoe"},
		{"%", "odd"}, {"_", "odd"}, {`\`, "odd"}, {"100% _under", "odd"}, {"o'neil", "odd"}, {`"x"; drop`, "odd"}, {"z%e", ""}, {"z_e", ""},
		{"weissbach", "street"}, {"WEISSBACH", "street"}, {"gunther", "street"}, {"σίσυφος", "street"}, // Unicode case folding: ß is ss, ς is σ
		{"nobody", ""}, {strings.Repeat("x", 100_000), ""}, {"\x00", "zoe odd street"},
	} {
		got := []string{}
		for _, r := range read(t, s, func(tx desk.Tx) ([]desk.Request, error) {
			return tx.ListRequests(desk.RequestFilter{Text: c.text})
		}) {
			got = append(got, name[r.ID])
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("search %.20q finds %v, want %q", c.text, got, c.want)
		}
	}
	// What a request no longer says finds it no longer.
	find := func(text string) int {
		return len(read(t, s, func(tx desk.Tx) ([]desk.Request, error) { return tx.ListRequests(desk.RequestFilter{Text: text}) }))
	}
	write(t, s, func(tx desk.Tx) error {
		zoe.Contact = desk.Contact{}
		if err := tx.SaveRequest(&zoe); err != nil {
			return err
		}
		return tx.DeleteFiles(zoe.ID)
	})
	if find("zoë") != 0 || find("elephant") != 0 || find("k7-204") != 1 {
		t.Error("a request whose contact and files are gone is still found by them, or no longer by its code")
	}
	file.Name = "renamed.stl"
	file.Request = odd.ID
	write(t, s, func(tx desk.Tx) error { return tx.SaveFile(&file) })
	if find("renamed") != 1 || find("elephant") != 0 {
		t.Error("a file is not found by its new name, or still by its old")
	}
}
