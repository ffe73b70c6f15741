package web

import (
	"bytes"
	"context"
	"encoding/binary"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/desk/work"
	"platebook/internal/browser"
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
	w, err := work.New(ctx, o.desk, st.DB(), work.Options{Dialect: st.Dialect()})
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
	furnish(t, o)
	patron := browser.Open(t)
	step := 0
	seen := func(p *browser.Page, name string) {
		t.Helper()
		step++
		p.Look("journey-" + string(rune('a'+step/10)) + string(rune('0'+step%10)) + "-" + name)
	}

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
	patron.Sees("fits into the small parts cylinder")
	patron.Until(`document.querySelector(".view")?.dataset.ready === "yes"`, "the 3D view")
	seen(patron, "received")
}

// furnish makes what a desk has before it opens: a branch, a manager, a
// printer and a spool in it.
func furnish(t *testing.T, o *opened) {
	t.Helper()
	ctx := t.Context()
	staff, err := o.desk.FirstManager(ctx, desk.FirstForm{Word: "begin-here", Library: "Larkmere Libraries", Address: "https://print.larkmere.example", TimeZone: "Europe/London", Locale: "en-GB", Languages: []string{"en", "fr"},
		Currency: "GBP", Branch: "Central", Name: "rowan", Called: "Rowan", Password: "seven wet stones in a row"})
	if err != nil {
		t.Fatal(err)
	}
	who, err := o.desk.Standing(ctx, staff.ID, o.now(), "")
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
