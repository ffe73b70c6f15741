package mail

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"platebook/desk"
)

// rest is a letter from the second line on: another head may be put before it.
func rest(letter string) string { return strings.SplitN(letter, "\n", 2)[1] }

// What nobody wrote is listed; with a model it waits for a person, who may make
// of it what they may make of any letter. Nothing is answered by itself.
func TestMachinesLetters(t *testing.T) { onEach(t, machinesLetters) }

func machinesLetters(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, branch := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	stl := func(body string) string { return rest(enclose("hook.stl", []byte(body))) }
	locked := zipOf("a.stl", "solid a")
	for i := range locked { // RFC has none: APPNOTE 4.4.4, bit 0 of the flags, in both headers
		if string(locked[i:min(i+4, len(locked))]) == "PK\x03\x04" {
			locked[i+6] |= 1
		} else if string(locked[i:min(i+4, len(locked))]) == "PK\x01\x02" {
			locked[i+8] |= 1
		}
	}
	uid := uint32(0)
	come := func(text string) desk.Mail {
		now = now.Add(time.Minute)
		uid++
		return arrive(t, d, uid, text)
	}
	var form, list desk.Mail
	for _, c := range []struct {
		name, text string
		state      desk.MailState
	}{
		{"a web form", "From: noreply@larkmere.example\nSubject: a wish\n" + strings.Replace(stl("solid form"), "hello", "From Wren, wren@patrons.example: two please.", 1), desk.MailWaits},
		{"a web form that says who is to be answered", "From: noreply@larkmere.example\nReply-To: Ada <ada@patrons.example>\n" + stl("solid ada"), desk.MailWaits},
		{"RFC 2919: a list with an archive of models", "From: m@makers.example\nList-Id: <makers.example>\n" + rest(enclose("kit.zip", zipOf("a.stl", "solid a"))), desk.MailWaits},
		{"an archive that nobody could look into", "From: noreply@larkmere.example\n" + rest(enclose("kit.zip", locked)), desk.MailWaits},
		{"an archive of a kind that is not opened", "From: noreply@larkmere.example\n" + rest(enclose("kit.7z", []byte("7z"))), desk.MailWaits},
		{"a report that brings a model", "From: mailer-daemon@x.example\nContent-Type: multipart/report; report-type=delivery-status; boundary=b\n\n--b\nContent-Type: model/stl; name=hook.stl\n\nsolid report\n--b--\n", desk.MailWaits},
		{"a list with a picture", "From: m@makers.example\nList-Id: <makers.example>\n" + rest(enclose("news.png", []byte("png"))), desk.MailAuto},
		{"a report", "From: mailer-daemon@x.example\nContent-Type: multipart/report; report-type=delivery-status; boundary=b\n\n--b\nContent-Type: message/delivery-status\n\nReporting-MTA: dns; x.example\n\nFinal-Recipient: rfc822;q@patrons.example\nAction: failed\nStatus: 5.1.1\n--b--\n", desk.MailReport},
	} {
		m := come(c.text)
		if m.State != c.state {
			t.Errorf("%s is %s", c.name, m.State)
		}
		switch c.name {
		case "a web form":
			form = m
		case "a list with a picture":
			list = m
		}
	}
	all, _ := requests(t, d)
	due, err := d.DuePosted(t.Context(), 10)
	if err != nil || len(all) != 0 || len(due) != 0 {
		t.Fatalf("%d requests and %d answers came of it, %v", len(all), len(due), err)
	}
	waiting, _, _, err := d.MailWaiting(t.Context(), by)
	if err != nil || len(waiting) != 6 {
		t.Fatalf("%d wait, %v", len(waiting), err)
	}

	// The quiet list goes on from page to page and misses none.
	for i := range 7 {
		come(fmt.Sprintf("From: m@makers.example\nList-Id: <makers.example>\nSubject: %d\n\nNews\n", i))
	}
	var seen []string
	after := desk.ID("")
	for more := true; more; {
		var page []desk.Mail
		if page, more, err = d.KeptMail(t.Context(), by, desk.FromMachines, after, 4); err != nil {
			t.Fatal(err)
		}
		for _, l := range page {
			seen = append(seen, l.Body.Subject)
			after = l.ID
		}
	}
	if got := strings.Join(seen, " "); got != "6 5 4 3 2 1 0  " {
		t.Errorf("from machines: %q", got)
	}
	operator := desk.Actor{Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Operator}}}
	if _, _, err := d.KeptMail(t.Context(), operator, desk.FromMachines, "", 4); desk.KindOf(err) != desk.NotYours {
		t.Errorf("an operator reads letters: %v", err)
	}
	if err := d.AsideMail(t.Context(), operator, list.ID, ""); desk.KindOf(err) != desk.NotYours {
		t.Errorf("an operator places letters: %v", err)
	}

	// The form becomes a request of the patron it names, who is told.
	v, err := d.LookMail(t.Context(), by, form.ID)
	if err != nil || v.Answers || v.Email != "wren@patrons.example" {
		t.Errorf("of the form: %+v, %v", v, err)
	}
	if err := d.AnswerMail(t.Context(), by, form.ID, "", "Thank you."); desk.KindOf(err) != desk.NotNow {
		t.Errorf("a machine was answered: %v", err)
	}
	for _, email := range []string{"", "noreply@larkmere.example", "print@larkmere.example", "nobody"} {
		if _, err := d.NewFromMail(t.Context(), by, form.ID, branch, desk.Contact{Email: email}); desk.KindOf(err) != desk.Wrong {
			t.Errorf("the patron is reached at %q: %v", email, err)
		}
	}
	r, err := d.NewFromMail(t.Context(), by, form.ID, branch, desk.Contact{Name: "Wren Hollis", Email: v.Email})
	if err != nil || r.Contact.Email != "wren@patrons.example" || r.Contact.Name != "Wren Hollis" {
		t.Fatalf("%+v, %v", r.Contact, err)
	}
	if due, err = d.DuePosted(t.Context(), 10); err != nil || len(due) != 1 || due[0].Body.To != "wren@patrons.example" {
		t.Errorf("told: %+v, %v", due, err)
	}

	// A letter that waits for nobody may be placed all the same; also one that
	// was put aside by mistake. Its file is added: a person put it there.
	if err := d.AsideMail(t.Context(), by, waiting[2].ID, "spam"); err != nil {
		t.Fatal(err)
	}
	if aside, _, err := d.KeptMail(t.Context(), by, desk.PutAside, "", 4); err != nil || len(aside) != 1 || aside[0].ID != waiting[2].ID {
		t.Errorf("put aside: %+v, %v", aside, err)
	}
	for _, id := range []desk.ID{list.ID, waiting[2].ID} {
		if _, err := d.PlaceMail(t.Context(), by, id, string(r.Code)); err != nil {
			t.Errorf("placed all the same: %v", err)
		}
		if _, err := d.PlaceMail(t.Context(), by, id, string(r.Code)); desk.KindOf(err) != desk.Stale {
			t.Errorf("placed a second time: %v", err)
		}
	}
	var files []desk.File
	if err := d.Store.Read(t.Context(), func(tx desk.Tx) (err error) { files, err = tx.FilesOf(r.ID); return err }); err != nil {
		t.Fatal(err)
	}
	if len(files) != 3 {
		t.Errorf("with the request: %+v", files)
	}
}

// Reports on letters of ours: RFC 3464, its fields by section. What they may do
// depends on what they know.
func TestReturned(t *testing.T) { onEach(t, returned) }

func returned(t *testing.T, b base) {
	const address = "wren@patrons.example"
	report := func(fields, more string) string {
		return "From: Mail Delivery <mailer-daemon@patrons.example>\nContent-Type: multipart/report; report-type=delivery-status; boundary=b\n" +
			"\n--b\n\nIt did not work.\n--b\nContent-Type: message/delivery-status\n\nReporting-MTA: dns; mx.patrons.example\n" + fields + more + "\n--b--\n"
	}
	recipient := func(field, kind, who, action, status string) string {
		return "\n" + field + ": " + kind + "; " + who + "\nAction: " + action + "\nStatus: " + status + "\nDiagnostic-Code: smtp; 550 no such person\n"
	}
	const held, passing, none = "held", "passing", ""
	for _, c := range []struct {
		name   string
		report func(p desk.Posted) string
		after  time.Duration // since the letter went out
		want   string
	}{
		{"section 3: encloses our letter", func(p desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", address, "failed", "5.1.1"), "\n--b\nContent-Type: text/rfc822-headers\n\nMessage-ID: <"+p.MailID+">\n")
		}, time.Hour, held},
		{"RFC 5322 section 3.6.4: answers our letter", func(p desk.Posted) string {
			return "In-Reply-To: <" + p.MailID + ">\n" + report(recipient("Final-Recipient", "rfc822", address, "failed", "5.1.1"), "")
		}, time.Hour, held},
		{"section 2.3.2: Final-Recipient only", func(desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", "WREN@patrons.example", "failed", "5.1.1"), "")
		}, time.Hour, passing},
		{"section 2.3.1: Original-Recipient, sent on elsewhere", func(desk.Posted) string {
			return report("\nOriginal-Recipient: rfc822;"+address+recipient("Final-Recipient", "rfc822", "w@elsewhere.example", "failed", "5.1.1"), "")
		}, time.Hour, passing},
		{"section 2.3: the second of two recipients", func(desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", "x@patrons.example", "failed", "5.1.1")+recipient("Final-Recipient", "rfc822", address, "failed", "5.1.1"), "")
		}, time.Hour, passing},
		{"RFC 3463 section 3.3: mailbox full", func(p desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", address, "failed", "5.2.2 (full)"), "\n--b\nContent-Type: message/rfc822\n\nMessage-ID: <"+p.MailID+">\n")
		}, time.Hour, passing},
		{"RFC 3463 section 2: a temporary status, given up", func(p desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", address, "failed", "4.4.1"), "\n--b\nContent-Type: message/rfc822\n\nMessage-ID: <"+p.MailID+">\n")
		}, time.Hour, passing},
		{"section 2.3.3: delayed", func(p desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", address, "delayed", "4.4.1"), "\n--b\nContent-Type: message/rfc822\n\nMessage-ID: <"+p.MailID+">\n")
		}, time.Hour, none},
		{"section 2.3.3: delivered", func(desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", address, "delivered", "2.0.0"), "")
		}, time.Hour, none},
		{"an address we never wrote to", func(desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", "wren@patrons.example.net", "failed", "5.1.1"), "")
		}, time.Hour, none},
		{"an address we wrote to long ago", func(desk.Posted) string {
			return report(recipient("Final-Recipient", "rfc822", address, "failed", "5.1.1"), "")
		}, 11 * 24 * time.Hour, none},
		{"section 2.3.2: a name that is no mail address", func(desk.Posted) string {
			return report(recipient("Final-Recipient", "x400", address, "failed", "5.1.1"), "")
		}, time.Hour, none},
		{"a Message-ID that is not ours, and no address", func(desk.Posted) string {
			return report("", "\n--b\nContent-Type: message/rfc822\n\nMessage-ID: <K7-204.1@larkmere.example>\n")
		}, time.Hour, none},
	} {
		now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
		d, by, branch := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
		first := arrive(t, d, 1, "From: Wren <"+address+">\n"+rest(enclose("hook.stl", []byte("solid hook"))))
		due, err := d.DuePosted(t.Context(), 5)
		if err != nil || len(due) != 1 {
			t.Fatal(due, err)
		}
		if err := d.PostSent(t.Context(), due[0].ID); err != nil {
			t.Fatal(err)
		}
		now = now.Add(c.after)
		m := arrive(t, d, 2, c.report(due[0]))
		all, _ := requests(t, d)
		got := none
		if all[0].Contact.Undelivered != "" {
			got = held
			if all[0].Contact.Passing {
				got = passing
			}
		}
		if got != c.want || m.State != desk.MailReport {
			t.Errorf("%s: the address is %q, want %q; %s", c.name, got, c.want, m.State)
			continue
		}
		today := func() (n int) {
			v, err := d.Today(t.Context(), by, branch)
			if err != nil {
				t.Fatal(err)
			}
			for _, g := range v.Groups {
				if g.Kind == desk.TodayUnsent {
					n = g.Count
				}
			}
			return n
		}
		if got := today(); (got == 1) != (c.want != none) {
			t.Errorf("%s: %d letters stand on Today", c.name, got)
		}
		// A letter that is written now goes out, or does not.
		goes := func(form string, want bool) {
			t.Helper()
			before, err := d.DuePosted(t.Context(), 20)
			if err != nil {
				t.Fatal(err)
			}
			if _, err := d.Reply(t.Context(), by, first.Request, form, "", "It is ready."); err != nil {
				t.Fatal(err)
			}
			after, err := d.DuePosted(t.Context(), 20)
			if err != nil || (len(after) > len(before)) != want {
				t.Errorf("%s, %s: goes out is %v, want %v, %v", c.name, form, len(after) > len(before), want, err)
			}
		}
		goes("f1", c.want != held)
		if c.want == none {
			if _, err := d.WriteAgain(t.Context(), by, first.Request, 0); desk.KindOf(err) != desk.NotNow {
				t.Errorf("%s: nothing to see to, %v", c.name, err)
			}
			continue
		}
		// Staff say that the address is good; the letter leaves Today when it is
		// sent again, or taken off.
		if _, err := d.WriteAgain(t.Context(), desk.Actor{Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Operator}}}, first.Request, 0); desk.KindOf(err) != desk.NotYours {
			t.Errorf("%s: an operator may: %v", c.name, err)
		}
		if _, err := d.WriteAgain(t.Context(), by, first.Request, 0); err != nil {
			t.Error(err)
		}
		goes("f2", true)
		if err := d.PostAgain(t.Context(), by, due[0].ID); err != nil {
			t.Error(err)
		}
		if got := today(); got != 0 {
			t.Errorf("%s: sent again, and still on Today", c.name)
		}
		if err := d.PostFailed(t.Context(), due[0].ID, "No.", true); err != nil {
			t.Fatal(err)
		}
		elsewhere := desk.Actor{Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Reviewer, Branch: desk.NewID()}}}
		if err := d.PostSettle(t.Context(), elsewhere, due[0].ID); desk.KindOf(err) != desk.NotYours {
			t.Errorf("%s: a reviewer of another branch may: %v", c.name, err)
		}
		if _, lost, _, err := d.MailWaiting(t.Context(), elsewhere); err != nil || len(lost) != 0 {
			t.Errorf("%s: a reviewer of another branch reads of it: %+v, %v", c.name, lost, err)
		}
		if err := d.PostSettle(t.Context(), by, due[0].ID); err != nil || today() != 0 {
			t.Errorf("%s: settled, %d on Today, %v", c.name, today(), err)
		}
	}
}

// Of two letters to one address, a report without our letter is about the one
// that went out nearest to when it arrived (RFC 3464 section 2.2.5); and what is
// mended on the request takes the flag away.
func TestReturnedWhich(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	for i := range 3 {
		arrive(t, d, uint32(i+1), "From: Wren <wren@patrons.example>\n"+rest(enclose("hook.stl", fmt.Appendf(nil, "solid %d", i))))
		due, err := d.DuePosted(t.Context(), 5)
		if err != nil || len(due) != 1 {
			t.Fatal(due, err)
		}
		if err := d.PostSent(t.Context(), due[0].ID); err != nil {
			t.Fatal(err)
		}
		now = now.Add(24 * time.Hour)
	}
	m := arrive(t, d, 9, "From: <>\nContent-Type: multipart/report; report-type=delivery-status; boundary=b\n\n--b\nContent-Type: message/delivery-status\n\nReporting-MTA: dns; mx.patrons.example\nArrival-Date: Thu, 5 Mar 2026 11:00:20 +0100\n\nFinal-Recipient: rfc822; wren@patrons.example\nAction: failed\nStatus: 5.1.1\n--b--\n")
	all, _ := requests(t, d)
	var flagged []string
	for _, r := range all {
		if r.Contact.Undelivered != "" {
			flagged = append(flagged, r.Asked.Format(time.DateOnly))
		}
	}
	if len(flagged) != 1 || flagged[0] != "2026-03-05" {
		t.Fatalf("flagged: %v", flagged)
	}
	for _, r := range all {
		if r.ID != m.Request {
			continue
		}
		c := r.Contact
		c.Phone = "555 0199"
		if r, err := d.EditContact(t.Context(), by, r.ID, 0, c); err != nil || r.Contact.Undelivered == "" || !r.Contact.Passing {
			t.Errorf("with another telephone: %+v, %v", r.Contact, err)
		}
		c.Email = "wren@elsewhere.example"
		if r, err := d.EditContact(t.Context(), by, r.ID, 0, c); err != nil || r.Contact.Undelivered != "" || r.Contact.Passing {
			t.Errorf("with another address: %+v, %v", r.Contact, err)
		}
	}
}

// A letter sent on by a colleague is the patron's, not the colleague's (RFC 2046
// section 5.2.1 for the form); anybody else who sends one on asks for themselves.
func TestSentOn(t *testing.T) { onEach(t, sentOn) }

func sentOn(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, branch := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	on := func(by string) string {
		return "From: Somebody <" + by + ">\nContent-Type: multipart/mixed; boundary=o\n\n--o\n\nThis came.\n--o\nContent-Type: message/rfc822\n\nFrom: Ada Reed <ada@patrons.example>\nContent-Type: model/stl; name=hook.stl\n\nsolid " + by + "\n--o--\n"
	}
	m := arrive(t, d, 1, on("enquiries@larkmere.example"))
	if all, _ := requests(t, d); m.State != desk.MailWaits || len(all) != 0 || !strings.Contains(m.Body.Why, "ada@patrons.example") {
		t.Fatalf("%s, %q, %d requests", m.State, m.Body.Why, len(all))
	}
	v, err := d.LookMail(t.Context(), by, m.ID)
	if err != nil || v.Email != "ada@patrons.example" || v.Name != "Ada Reed" {
		t.Errorf("the patron is %q, %q, %v", v.Name, v.Email, err)
	}
	r, err := d.NewFromMail(t.Context(), by, m.ID, branch, desk.Contact{Name: v.Name, Email: v.Email})
	if err != nil || r.Contact.Email != "ada@patrons.example" || r.Contact.Name != "Ada Reed" {
		t.Errorf("%+v, %v", r.Contact, err)
	}
	if m := arrive(t, d, 2, on("wren@patrons.example")); m.State != desk.MailPlaced || m.Request == "" {
		t.Errorf("sent on by a patron: %s, %q", m.State, m.Body.Why)
	}
}

// Who sends a link is asked for the file, in their language, by a person: the
// answer is drafted and nothing goes out before it is sent.
func TestDraftedAnswer(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	for i, c := range []struct{ text, want string }{
		{"Hello, could you print this for me please? https://files.example/hook.stl", "Hello Ada,\n\nplease send the model itself as an enclosure"},
		{"Bonjour, pourriez-vous imprimer ce modèle pour moi, s'il vous plaît ? https://files.example/hook.stl", "Bonjour Ada,\n\nmerci de nous envoyer le modèle lui-même en pièce jointe"},
	} {
		m := arrive(t, d, uint32(i+1), "From: Ada <ada@patrons.example>\nMessage-ID: <l@patrons.example>\nSubject: hook\nContent-Type: text/plain; charset=utf-8\n\n"+c.text+"\n")
		v, err := d.LookMail(t.Context(), by, m.ID)
		if err != nil || m.State != desk.MailWaits || len(v.Mail.Body.Links) != 1 || !strings.HasPrefix(v.Answer, c.want) || !strings.Contains(v.Answer, "STL") {
			t.Errorf("%s, %v, %q, %v", m.State, v.Mail.Body.Links, v.Answer, err)
		}
		if due, err := d.DuePosted(t.Context(), 9); err != nil || len(due) != i {
			t.Errorf("%d letters go out before it is sent, %v", len(due)-i, err)
		}
		if err := d.AnswerMail(t.Context(), by, m.ID, v.Subject, v.Answer); err != nil {
			t.Error(err)
		}
		due, err := d.DuePosted(t.Context(), 9)
		if err != nil || len(due) != i+1 || due[i].Body.Subject != "Re: hook" || due[i].Body.InReplyTo != "l@patrons.example" || due[i].Body.Text != v.Answer {
			t.Errorf("%+v, %v", due, err)
		}
	}
}

// What has neither a link nor a file is perhaps about something else: its draft
// asks for no model. One with a drawing has no word of links.
func TestDraftedAnswerToOthers(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	for i, c := range []struct{ text, want string }{
		{"From: Ada <ada@patrons.example>\nSubject: hours\n\nHello, when are you open on Saturday?\n", "Hello Ada,\n\n\n\nLarkmere Libraries"},
		{"From: Ada <ada@patrons.example>\n" + rest(enclose("drawing.pdf", []byte("%PDF"))),
			"Hello Ada,\n\nplease send the model itself as an enclosure, as one of these kinds of file: STL, 3MF or OBJ.\n\nLarkmere Libraries"},
	} {
		m := arrive(t, d, uint32(i+1), c.text)
		v, err := d.LookMail(t.Context(), by, m.ID)
		if err != nil || v.Answer != c.want {
			t.Errorf("%q, %v; want %q", v.Answer, err, c.want)
		}
	}
}

// A letter that cannot be read says so, and not that it brings nothing.
func TestUnreadWaits(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, _, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	m := arrive(t, d, 1, "no field\n\nhello\n")
	if m.State != desk.MailWaits || !strings.Contains(m.Body.Why, "could not be read") || !strings.Contains(m.Body.Why, "mailbox") {
		t.Errorf("%s: %q", m.State, m.Body.Why)
	}
}
