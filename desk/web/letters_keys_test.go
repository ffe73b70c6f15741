package web

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"platebook/desk"
	"platebook/internal/browser"
)

// Letters of machines, placed by keyboard alone: a web form's letter with a model
// waits on Today and becomes a request of the patron it names; one without waits
// for nobody, is found, and is put to that request; one is put aside; a letter of
// ours that came back is seen to.
func TestLettersByKeyboard(t *testing.T) {
	o := openWhole(t)
	ctx := t.Context()
	first, err := o.desk.FirstManager(ctx, desk.FirstForm{Word: "begin-here", Library: "Larkmere Libraries", Address: "https://print.larkmere.example", TimeZone: "Europe/London",
		Locale: "en-GB", Languages: []string{"en", "fr"}, Currency: "GBP", Branch: "Central", Name: "rowan", Called: "Rowan", Password: password})
	if err != nil {
		t.Fatal(err)
	}
	furnish(t, o)
	who, err := o.desk.Standing(ctx, first.ID, o.now(), "192.0.2.1")
	if err != nil {
		t.Fatal(err)
	}
	set, err := o.desk.Settings(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := o.desk.SaveSetting(ctx, who, desk.MailSetting, set.Versions[desk.MailSetting], desk.MailSettings{On: true, From: "print@larkmere.example",
		In: desk.MailServer{Address: "mail.larkmere.example:993"}, Out: desk.MailServer{Address: "mail.larkmere.example:465"}}); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(stl(t, "hook.stl", 20, 20, 10))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	hash, size, err := o.desk.Shelves.Put(ctx, f, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	uid := uint32(0)
	come := func(b desk.MailBody) desk.Mail {
		t.Helper()
		uid++
		m, err := o.desk.Arrive(ctx, desk.MailPlace{Mailbox: "INBOX", Validity: 1, UID: uid}, desk.Mail{Hash: desk.HashOf([]byte(b.Subject)), Body: b})
		if err != nil {
			t.Fatal(err)
		}
		return m
	}
	come(desk.MailBody{From: "noreply@larkmere.example", Answer: "noreply@larkmere.example", Subject: "Wish from the web form", Text: "Wren Hollis\nwren@patrons.example\n\nA hook for the shed, please.",
		Machine: "its address takes no answers", Files: []desk.MailFile{{Name: "hook.stl", Hash: hash, Size: size}}})
	come(desk.MailBody{From: "wren@patrons.example", Answer: "wren@patrons.example", Subject: "Out of office", Text: "I am away until Monday.", Machine: "it says that it was sent automatically"})
	for _, s := range []string{"News of makers", "More news", "Yet more", "News again", "The last news"} {
		come(desk.MailBody{From: "news@makers.example", Answer: "news@makers.example", Subject: s, Text: "Buy now!", Machine: "it came by a mailing list"})
	}

	p := browser.Open(t)
	step := 0
	look := func(name string) {
		t.Helper()
		step++
		p.Look("letters-" + string(rune('a'+step)) + "-" + name)
	}
	p.Go(o.url + "/desk")
	p.Fill("textbox", "Name", "rowan")
	p.Fill("textbox", "Password", password)
	p.Push("Log in")
	p.Sees("Letters to place")
	look("today")
	p.Follow("Place the letter…")
	p.Sees("Nobody wrote it (its address takes no answers), but it brings a model")
	look("form")
	if p.Has("button", "Send the answer") {
		t.Error("an answer to a machine is offered")
	}
	p.Fill("textbox", "Patron’s mail address", "print@larkmere.example")
	p.Push("Make it a request")
	p.Sees("needs mending")
	look("form-again")
	p.Fill("textbox", "Patron’s name (optional)", "Wren Hollis")
	p.Fill("textbox", "Patron’s mail address", "wren@patrons.example")
	p.Push("Make it a request")
	p.Sees("The letter became the request")
	p.Sees("wren@patrons.example")
	code := codeForm.FindString(p.Text())

	// The quiet list: only the newest are here, the others a page away.
	p.Follow("Mailbox")
	p.Sees("No letter waits.")
	look("quiet")
	p.Follow("Older ones from machines")
	p.Sees("Out of office")
	look("older")
	p.Follow("Out of office")
	p.Sees("Nobody wrote it: it says that it was sent automatically.")
	p.To("DisclosureTriangle", "Place it all the same")
	p.Press(kb.Enter)
	look("placing")
	p.Fill("textbox", "Code of the request", code)
	p.Push("Put it there")
	p.Sees("I am away until Monday.")
	p.Follow("Mailbox")
	p.Follow("The last news")
	p.To("DisclosureTriangle", "Place it all the same")
	p.Press(kb.Enter)
	p.Fill("textbox", "Why it needs nothing (optional)", "Advertising")
	p.Push("Put it aside")
	p.Sees("Put aside by Rowan. Advertising")

	// The acknowledgement went out, and came back.
	due, err := o.desk.DuePosted(ctx, 9)
	if err != nil || len(due) != 1 {
		t.Fatal(due, err)
	}
	if err := o.desk.PostSent(ctx, due[0].ID); err != nil {
		t.Fatal(err)
	}
	o.ahead.Add(int64(time.Minute))
	come(desk.MailBody{From: "mailer-daemon@patrons.example", Subject: "Undelivered mail", Machine: "it reports on the delivery of another letter",
		Returned: &desk.Returned{For: "wren@patrons.example", Of: due[0].MailID, Named: []string{"wren@patrons.example"}, Status: "5.1.1", Says: "550 no such person", Final: true}})
	p.Follow("Today")
	p.Sees("Letters that did not arrive")
	p.Follow("See why…")
	p.Sees("It came back: 550 no such person.")
	look("came-back")
	p.Follow("To the request")
	p.Sees("No letters go there until you have seen to it.")
	look("flagged")
	p.Push("The address is good: write to it again")
	p.Sees("Letters go to this address again.")
	if p.Has("button", "The address is good: write to it again") {
		t.Error("it is still offered")
	}
	p.Follow("Mailbox")
	p.Push("Take it off the list…")
	p.Sees("The letter is off the list.")
	if p.Has("heading", "Did not arrive") {
		t.Error("it is still on the list")
	}
}

// What is wrong with the mail stands on Today, on the mailbox's page and in its
// settings.
func TestTroublesAreShown(t *testing.T) {
	const say = "The certificate of the server for the mail out has run out or is not valid yet."
	s, v := begun(t)
	s.troubles = func() []string { return []string{say} }
	for _, path := range []string{"/desk", "/desk/letters", "/desk/settings/mail"} {
		if r, text := v.get(t, path); r.StatusCode != 200 || !strings.Contains(text, say) {
			t.Errorf("%s: %d, without it", path, r.StatusCode)
		}
	}
}
