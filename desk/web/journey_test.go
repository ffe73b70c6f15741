package web

import (
	"bytes"
	"context"
	"encoding/binary"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/desk/work"
	"platebook/internal/browser"
	"platebook/internal/program"
)

// opened is a whole desk as platebook serve opens it, in one process: SQLite
// and files in a folder, background work on River, pages over HTTP. Its clock
// is the machine's, and can be put forward.
type opened struct {
	desk  *desk.Desk
	url   string
	ahead atomic.Int64
}

func (o *opened) now() time.Time { return time.Now().Add(time.Duration(o.ahead.Load())) }

// pass puts the clock forward and lets the desk look round, as it does every
// quarter of an hour.
func (o *opened) pass(t *testing.T, d time.Duration) {
	t.Helper()
	o.ahead.Add(int64(d))
	if err := o.desk.LookRound(t.Context()); err != nil {
		t.Fatal(err)
	}
}

func openWhole(t *testing.T) *opened {
	t.Helper()
	o := &opened{}
	ctx := context.Background()
	st, err := store.Open(ctx, store.Options{Folder: t.TempDir(), Now: o.now})
	if err != nil {
		t.Fatal(err)
	}
	secret, err := st.Secret()
	if err != nil {
		t.Fatal(err)
	}
	o.desk = &desk.Desk{Store: st, Shelves: st.Shelves(), Now: o.now, Secret: secret, Program: "test", SetUpWord: "begin-here",
		Passwords: desk.PasswordCost{KiB: 64, Passes: 1, Lanes: 1}}
	var apart []string
	if program.Raced {
		path, err := program.Path()
		if err != nil {
			t.Fatal(err)
		}
		apart = []string{path, "compute"}
	}
	w, err := work.New(ctx, o.desk, st.DB(), work.Options{Dialect: st.Dialect(), Program: apart})
	if err != nil {
		t.Fatal(err)
	}
	st.SetEnqueue(w.Enqueue)
	if err := w.Start(ctx); err != nil {
		t.Fatal(err)
	}
	site, err := New(Options{Desk: o.desk, Sessions: st.Sessions(), Now: o.now})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(site.Handler())
	o.url = server.URL
	t.Cleanup(func() {
		server.Close()
		if err := w.Stop(ctx); err != nil {
			t.Error(err)
		}
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	return o
}

// stl is a box of x × y × z mm as a binary STL file, in a folder of its own.
func stl(t *testing.T, name string, x, y, z float32) string {
	t.Helper()
	v := func(i int) [3]float32 { return [3]float32{x * float32(i&1), y * float32(i>>1&1), z * float32(i>>2)} }
	quads := [6][4]int{{0, 2, 3, 1}, {4, 5, 7, 6}, {0, 1, 5, 4}, {2, 6, 7, 3}, {0, 4, 6, 2}, {1, 3, 7, 5}}
	var b bytes.Buffer
	b.Write(make([]byte, 80))
	put := func(x any) {
		if err := binary.Write(&b, binary.LittleEndian, x); err != nil {
			t.Fatal(err)
		}
	}
	put(uint32(12))
	for _, q := range quads {
		for _, f := range [2][3]int{{q[0], q[1], q[2]}, {q[0], q[2], q[3]}} {
			put([3]float32{})
			put(v(f[0]))
			put(v(f[1]))
			put(v(f[2]))
			put(uint16(0))
		}
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// The whole journey in Chromium, by keyboard and by what pages say: a patron
// asks, staff review and offer, the patron agrees, a run fails and is printed
// again, is weighed, goes to the hold shelf, is collected and forgotten.
func TestJourney(t *testing.T) {
	o := openWhole(t)
	patron, staff := browser.Open(t), browser.Open(t)
	step := 0
	seen := func(p *browser.Page, name string) {
		t.Helper()
		step++
		if *only != "" {
			return // others are looked at
		}
		p.Glance("journey-" + string(rune('a'+step/10)) + string(rune('0'+step%10)) + "-" + name)
	}

	// The first run makes the manager, who is then logged in.
	staff.Go(o.url + "/desk")
	staff.Fill("textbox", "Set-up word", "begin-here")
	staff.Fill("textbox", "Name of the library", "Larkmere Libraries")
	staff.Fill("textbox", "Address of this desk on the web", "https://print.larkmere.example")
	staff.Fill("textbox", "Time zone", "Europe/London")
	staff.Fill("textbox", "Languages patrons can choose", "en, fr")
	staff.Fill("textbox", "How numbers and money are written", "en-GB")
	staff.Fill("textbox", "Currency", "GBP")
	staff.Fill("textbox", "Name of the first branch", "Central")
	staff.Fill("textbox", "Your name, as patrons and colleagues see it", "Rowan")
	staff.Fill("textbox", "Name to log in with", "rowan")
	staff.Fill("textbox", "Password", password)
	staff.Fill("textbox", "The same password again", password)
	seen(staff, "first-run")
	staff.Push("Set up the desk")
	staff.Sees("Today")
	furnish(t, o)

	patron.Go(o.url)
	seen(patron, "welcome")
	patron.Follow("Ask for a print")
	patron.Push("Send the request") // with nothing in it
	patron.Sees("things need mending")
	seen(patron, "ask-again")
	patron.Attach("Model files", stl(t, "shelf-block.stl", 20, 20, 10))
	patron.Fill("textbox", "What is it for? (optional)", "A wedge for the atlas shelf")
	patron.Fill("textbox", "Name", "Ada Østergård")
	patron.Fill("textbox", "E-mail", "ada@mail.example")
	patron.Tick("radio", "Yes, 16 or older")
	patron.Tick("checkbox", "I have the right to have this made")
	patron.Tick("checkbox", "I have read the terms and accept them")
	seen(patron, "ask-filled")
	patron.Push("Send the request")
	patron.Sees("We have your request")
	link := patron.Address()
	if !strings.Contains(link, "/my/") {
		t.Fatalf("the patron is at %s", link)
	}
	// Back, and sent once more as it is: it counts once.
	patron.Eval(`void setTimeout(() => history.back(), 0)`, nil)
	patron.Until(`location.pathname === "/ask" && document.readyState === "complete"`, "the form, gone back to")
	patron.Push("Send the request")
	patron.Sees("This form was sent before")
	patron.Go(link)
	patron.Sees("fits into the small parts cylinder")
	patron.Until(`document.querySelector(".view")?.dataset.ready === "yes"`, "the 3D view")
	seen(patron, "received")
	code := desk.Code(codeForm.FindString(patron.Text()))

	// Staff look at it, answer the policy questions, settle the plan, and offer
	// what was found.
	staff.Go(o.url + "/desk")
	seen(staff, "today")
	staff.Follow("Take it into review…")
	staff.Sees("Nobody has looked at it yet.")
	staff.Push("Take it into review")
	set, err := o.desk.Settings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range set.Rules.Questions {
		staff.Push("Fine : " + q.Text)
	}
	staff.Push("Settle the plan and find ways")
	staff.Until(`!!document.querySelector("#ways .ways") && !document.querySelector("#ways .working")`, "the ways")
	seen(staff, "review")
	staff.Tick("checkbox", "Offer it : As we would print it")
	staff.Push("Send the offer")
	staff.Sees("It is the patron’s turn")
	seen(staff, "offered")

	// The patron chooses the way the library would take, and agrees.
	patron.Go(link)
	patron.Sees("It is your turn")
	seen(patron, "ways")
	patron.Follow("Choose this way : As we would print it")
	patron.Push("Agree and have it printed") // without having read anything
	patron.Sees("things need mending")
	seen(patron, "agree-again")
	patron.Tick("checkbox", "I have read what it is not for")
	patron.Tick("checkbox", "I have read the terms and accept them")
	patron.Push("Agree and have it printed")
	patron.Sees("You have agreed.")
	seen(patron, "agreed")

	// It is printed, fails, and is printed again.
	staff.Go(o.url + "/desk/printing")
	seen(staff, "to-print")
	start := func(name string) {
		t.Helper()
		staff.Tick("checkbox", string(code)+" …")
		staff.Push("Start a run of what is ticked")
		seen(staff, name)
		staff.Push("Start the run")
		staff.Sees("Should end")
	}
	start("start")
	seen(staff, "going")
	staff.Follow("It failed")
	staff.Fill("textbox", "Why it failed", "It came off the platform after the first layers.")
	staff.Tick("radio", "The machine’s")
	staff.Push("Note that it failed")
	seen(staff, "failed")
	patron.Go(link)
	patron.Sees("Agreed")
	staff.Go(o.url + "/desk/printing")
	start("start-again")
	staff.Push("It came out well")
	seen(staff, "to-weigh")
	staff.Fill("textbox", "PLA", "2.2")
	staff.Push("Note the weight")
	seen(staff, "weighed")
	staff.Follow("To the hold shelf…")
	staff.Fill("textbox", "Where it lies (optional)", "B3")
	staff.Push("It lies on the shelf")
	staff.Sees("Hand it over")
	seen(staff, "on-the-shelf")
	staff.Follow("Slip")
	seen(staff, "slip")
	patron.Go(link)
	patron.Sees("It is ready.")
	seen(patron, "ready")

	// It is collected and paid.
	staff.Go(o.url + "/desk/shelf")
	staff.Fill("textbox", "Scan a slip, or type a code", strings.ToLower(string(code)))
	staff.Push("Open")
	staff.Push("Paid and handed over")
	staff.Sees("Collected")
	seen(staff, "collected")
	patron.Go(link)
	patron.Sees("You have collected it. Thank you.")
	seen(patron, "collected")

	// And forgotten when its days are over.
	o.pass(t, 31*24*time.Hour)
	patron.Go(link)
	patron.Sees("There is no request under this link.")
	seen(patron, "forgotten")
	err = o.desk.Store.Read(t.Context(), func(tx desk.Tx) error {
		all, err := tx.ListRequests(desk.RequestFilter{Most: 10})
		if err != nil {
			return err
		}
		counted, err := tx.Tallies("2000-01", "9999-12")
		if err != nil {
			return err
		}
		if len(all) != 1 || len(counted) != 1 || counted[0].Runs != 2 || counted[0].Failed != 1 || counted[0].State != desk.Collected {
			t.Errorf("%d requests, counted %+v", len(all), counted)
		}
		for _, r := range all {
			files, err := tx.FilesOf(r.ID)
			if err != nil {
				return err
			}
			letters, err := tx.Messages(r.ID)
			if err != nil {
				return err
			}
			if r.Contact.Name != "" || r.Contact.Email != "" || r.Wish.Purpose != "" || len(files) > 0 || len(letters) > 0 {
				t.Errorf("kept of the patron: %+v %+v, %d files, %d letters", r.Contact, r.Wish, len(files), len(letters))
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

var codeForm = regexp.MustCompile(`[A-Z][2-9]-[0-9]{3}`)

const password = "seven wet stones in a row"

// furnish makes what a desk has before it opens: opening hours, an agreement
// text, a printer, and a spool in it.
func furnish(t *testing.T, o *opened) {
	t.Helper()
	ctx := t.Context()
	account, err := o.desk.LogIn(ctx, "rowan", password, "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	who, err := o.desk.Standing(ctx, account.ID, o.now(), "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	branches, err := o.desk.Branches(ctx)
	if err != nil || len(branches) != 1 {
		t.Fatal(branches, err)
	}
	b := branches[0]
	for i := range b.Hours {
		b.Hours[i] = []desk.Span{{From: 0, To: 24 * 60}}
	}
	if b, err = o.desk.SaveBranch(ctx, who, b); err != nil {
		t.Fatal(err)
	}
	set, err := o.desk.Settings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := o.desk.SaveSetting(ctx, who, desk.TermsSetting, set.Versions[desk.TermsSetting], desk.Terms{Text: map[string]string{
		"en": "We print what you have the right to have made.\n\nStaff decide what is printed, and you may appeal.",
		"fr": "Nous imprimons ce que vous avez le droit de faire faire."}}); err != nil {
		t.Fatal(err)
	}
	unit, err := o.desk.SavePrinterUnit(ctx, who, desk.PrinterUnit{Name: "Heron", Branch: b.ID, Model: set.Rules.Usual.Printer})
	if err != nil {
		t.Fatal(err)
	}
	spool, err := o.desk.SaveSpool(ctx, who, desk.SpoolForm{Form: formToken(), Name: "R-01", Branch: b.ID, Material: "pla", Colour: "red", Hex: "#B03020", Full: 1000})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := o.desk.LoadSpool(ctx, who, spool.ID, spool.Version, unit.ID, formToken()); err != nil {
		t.Fatal(err)
	}
}
