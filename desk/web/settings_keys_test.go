package web

import (
	"net/http/httptest"
	"testing"

	"platebook/internal/browser"
)

// A new desk is set up by keyboard alone: the first page with a slip put
// right, opening hours, a price tried and saved, and the way out and in again.
func TestSetUpByKeyboard(t *testing.T) {
	if testing.Short() {
		t.Skip("needs a browser")
	}
	s := aSite(t)
	if !s.assets.built() {
		t.Skip("no bundle: run make front")
	}
	server := httptest.NewServer(s.Handler())
	defer server.Close()
	p := browser.Open(t)
	p.Go(server.URL + "/log-in")
	p.Sees("Nobody has an account here yet")
	for _, f := range []struct{ label, text string }{
		{"Set-up word", "begin here"}, {"Name of the library", "Larkmere Libraries"}, {"Time zone", "Europe/Larkmere"}, {"Languages patrons can choose", "en, fr"},
		{"How numbers and money are written", "en-IE"}, {"Currency", "eur"}, {"Name of the first branch", "Millgate"},
		{"Your name, as patrons and colleagues see it", "Rowan"}, {"Name to log in with", "rowan"}, {"Password", aPassword}, {"The same password again", aPassword},
	} {
		p.Fill("textbox", f.label, f.text)
	}
	p.Push("Set up the desk")
	p.Sees("Choose a time zone of the IANA list")
	for _, f := range []struct{ label, text string }{{"Time zone", "Europe/Dublin"}, {"Password", aPassword}, {"The same password again", aPassword}} {
		p.Fill("textbox", f.label, f.text)
	}
	p.Push("Set up the desk")
	p.Sees("The desk is set up, and you are its manager.")
	p.Look("set-up-done")

	p.Follow("Branches")
	p.Follow("Millgate")
	p.Fill("textbox", "Monday", "10-13, 14-18")
	p.Fill("textbox", "Dates it is closed besides (optional)", "2026-12-25 Christmas Day")
	p.Push("Save the branch")
	p.Sees("Millgate is saved.")

	p.Follow("Tariff")
	p.Fill("textbox", "PLA", "0,20")
	p.Push("Work out the price")
	p.Sees("€5.60") // 1.00 + 23 g × 0.20
	p.Push("Save the tariff")
	p.Sees("Saved as version 2.")
	p.Follow("What changed when")
	p.Sees("A gram of, pla")

	p.Push("Log out")
	p.Fill("textbox", "Name", "rowan")
	p.Fill("textbox", "Password", "something else")
	p.Push("Log in")
	p.Sees("The name or the password is not right.")
	p.Fill("textbox", "Password", aPassword)
	p.Push("Log in")
	p.Follow("Rowan")
	p.Sees("manager at all branches")
	if set, err := s.desk.Settings(t.Context()); err != nil || set.Tariff.PerGram["pla"] != "0.20" {
		t.Errorf("%+v, %v", set.Tariff.PerGram, err)
	}
}
