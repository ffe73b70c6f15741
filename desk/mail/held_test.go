package mail

import (
	"slices"
	"strings"
	"testing"
	"time"

	"platebook/desk"
)

// report is a delivery report (RFC 3464 section 2) on some recipients, in fields
// given for each.
func report(more string, recipients ...string) string {
	text := "From: Mail Delivery <mailer-daemon@mx.example>\nContent-Type: multipart/report; report-type=delivery-status; boundary=b\n\n--b\n\nIt did not work.\n--b\nContent-Type: message/delivery-status\n\nReporting-MTA: dns; mx.example\n"
	for _, r := range recipients {
		text += "\nFinal-Recipient: rfc822; " + r + "\nAction: failed\nStatus: 5.1.1\nDiagnostic-Code: smtp; 550 no " + r + "\n"
	}
	return text + more + "\n--b--\n"
}

// sendAll has all letters that are due taken over by the server.
func sendAll(t *testing.T, d *desk.Desk) (sent []desk.Posted) {
	t.Helper()
	due, err := d.DuePosted(t.Context(), 20)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range due {
		if err := d.PostSent(t.Context(), p.ID); err != nil {
			t.Fatal(err)
		}
	}
	return due
}

// RFC 3464 section 2.3: a report has a group of fields for each recipient.
func TestReturnedForSeveral(t *testing.T) { onEach(t, returnedForSeveral) }

func returnedForSeveral(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, _, _ := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	for i, who := range []string{"ada", "bo", "cleo"} {
		arrive(t, d, uint32(i+1), "From: "+who+"@patrons.example\n"+rest(enclose("hook.stl", []byte("solid "+who))))
	}
	sendAll(t, d)
	now = now.Add(time.Hour)
	arrive(t, d, 9, report("", "ada@patrons.example", "nobody@patrons.example", "cleo@patrons.example"))
	all, _ := requests(t, d)
	got := map[string]string{}
	for _, r := range all {
		got[r.Contact.Email] = r.Contact.Undelivered
	}
	if !strings.Contains(got["ada@patrons.example"], "550 no ada@") || got["bo@patrons.example"] != "" || got["cleo@patrons.example"] == "" || strings.Contains(got["cleo@patrons.example"], "ada") {
		t.Errorf("flagged: %q", got)
	}
}

// What was held back while letters came back goes out once they go there again:
// what staff wrote, and the last word of the desk itself, each once.
func TestHeldBack(t *testing.T) { onEach(t, heldBack) }

func heldBack(t *testing.T, b base) {
	for _, how := range []string{"write again", "the letter again", "another address"} {
		now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
		d, by, _ := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
		arrive(t, d, 1, "From: Wren <wren@patrons.example>\n"+rest(enclose("hook.stl", []byte("solid hook"))))
		first := sendAll(t, d)[0]
		now = now.Add(time.Hour)
		arrive(t, d, 2, report("\n--b\nContent-Type: text/rfc822-headers\n\nMessage-ID: <"+first.MailID+">\n", "wren@patrons.example"))
		all, _ := requests(t, d)
		r := all[0]
		for _, text := range []string{"Which colour?", "Or shall we choose?"} {
			now = now.Add(time.Hour)
			if _, err := d.Reply(t.Context(), by, r.ID, text, "", text); err != nil {
				t.Fatal(err)
			}
		}
		if due, err := d.DuePosted(t.Context(), 9); err != nil || len(due) != 0 {
			t.Fatalf("%d letters go to an address that letters come back from, %v", len(due), err)
		}
		now = now.Add(time.Hour)
		want := []string{"Which colour?", "Or shall we choose?"}
		var err error
		switch how {
		case "write again":
			_, err = d.WriteAgain(t.Context(), by, r.ID, 0)
		case "the letter again":
			err = d.PostAgain(t.Context(), by, first.ID)
			want = append([]string{first.Body.Text}, want...)
		default:
			c := r.Contact
			c.Email = "wren@elsewhere.example"
			_, err = d.EditContact(t.Context(), by, r.ID, 0, c)
		}
		if err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, p := range sendAll(t, d) {
			got = append(got, p.Body.Text)
		}
		slices.Sort(got)
		slices.Sort(want)
		if !slices.Equal(got, want) {
			t.Errorf("%s: %q go out, want %q", how, got, want)
		}
		// Nothing goes out a second time.
		now = now.Add(time.Hour)
		arrive(t, d, 3, report("X: 1\n--b\nContent-Type: text/rfc822-headers\n\nMessage-ID: <"+first.MailID+">\n", "wren@patrons.example"))
		if all, _ = requests(t, d); all[0].Contact.Undelivered != "" {
			if _, err := d.WriteAgain(t.Context(), by, r.ID, 0); err != nil {
				t.Fatal(err)
			}
		}
		if again := sendAll(t, d); len(again) != 0 {
			t.Errorf("%s: %d letters go out a second time", how, len(again))
		}
	}
}

// Whoever prints reads the letters but cannot act as the patron: the link is
// taken out, broken over quoted lines or not (RFC 3676 section 4.5).
func TestBrokenLinkIsHidden(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, _, branch := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	m := arrive(t, d, 1, "From: Wren <wren@patrons.example>\n"+rest(enclose("hook.stl", []byte("solid hook"))))
	sent := sendAll(t, d)[0]
	all, _ := requests(t, d)
	key := d.Key(all[0])
	a, z := key[:20], key[20:]
	for i, text := range []string{"> see https://x.example/my/" + a + "\n> " + z, "https://x.example/my/" + a + "=\n" + z, ">> /my/" + a + "\n>> " + z + " there", key} {
		arrive(t, d, uint32(i+2), "From: Wren <wren@patrons.example>\nIn-Reply-To: <"+sent.MailID+">\n\n"+text+"\n")
	}
	operator := desk.Actor{Kind: desk.ByStaff, ID: desk.NewID(), Name: "Jo", Grants: []desk.Grant{{Role: desk.Operator, Branch: branch}}}
	v, err := d.Look(t.Context(), operator, m.Request)
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Messages) != 5 {
		t.Fatalf("%d messages", len(v.Messages))
	}
	for _, m := range v.Messages {
		if strings.Contains(m.Text, a) || strings.Contains(m.Text, z) {
			t.Errorf("an operator reads %q", m.Text)
		}
	}
}

// A letter that waits and comes again by another way waits once.
func TestTwiceWaiting(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	letter := func(way, id, text string) string {
		return "Delivered-To: " + way + "\nFrom: Ada <ada@patrons.example>\nMessage-ID: <" + id + ">\nSubject: hours\n\n" + text + "\n"
	}
	first := arrive(t, d, 1, letter("print@larkmere.example", "1@patrons.example", "When are you open?"))
	for i, c := range []struct {
		text string
		want desk.MailState
	}{
		{letter("prints@larkmere.example", "1@patrons.example", "When are you open?"), desk.MailAside},
		{letter("prints@larkmere.example", "1@patrons.example", "And on Sunday?"), desk.MailWaits}, // an identifier used again
		{letter("prints@larkmere.example", "2@patrons.example", "When are you open?"), desk.MailWaits},
	} {
		if m := arrive(t, d, uint32(i+2), c.text); m.State != c.want {
			t.Errorf("%s: %q", m.State, c.text)
		}
	}
	if err := d.AnswerMail(t.Context(), by, first.ID, "", "At ten."); err != nil {
		t.Fatal(err)
	}
	if m := arrive(t, d, 9, letter("other@larkmere.example", "1@patrons.example", "When are you open?")); m.State != desk.MailAside {
		t.Errorf("once the other is answered: %s", m.State)
	}
}

// Who sent a model is not asked for one: the draft says why it waits, and what
// could not be read, in the patron's language.
func TestDraftedAnswerSaysWhy(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	most := desk.DefaultRules().PerMonth
	var m desk.Mail
	for i := range most + 1 {
		m = arrive(t, d, uint32(i+1), "From: ada@patrons.example\n"+strings.Replace(rest(enclose("hook.stl", []byte{'s', byte('0' + i)})), "hello", "Bonjour, pourriez-vous imprimer ce modèle pour moi ? Merci beaucoup.", 1))
	}
	v, err := d.LookMail(t.Context(), by, m.ID)
	if err != nil || m.State != desk.MailWaits || !strings.Contains(v.Answer, "demandes par mois") || strings.Contains(v.Answer, "pièce jointe") || !strings.Contains(m.Body.Why, "more than the rules allow") {
		t.Errorf("%s, %q: %q, %v", m.State, m.Body.Why, v.Answer, err)
	}
	m = arrive(t, d, 99, "From: bo@patrons.example\nContent-Type: multipart/encrypted; boundary=b\n\n--b\nContent-Type: application/octet-stream; name=encrypted.asc\n\nx\n--b--\n")
	v, err = d.LookMail(t.Context(), by, m.ID)
	if err != nil || !strings.Contains(v.Answer, "Please send it as a plain letter.\n\nPlease send the model") {
		t.Errorf("%q, %v", v.Answer, err)
	}
}

// A code is written as people write it, and a letter that names none is placed
// with a hint: the request its writer has open.
func TestCodesAsWritten(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, _, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	made := arrive(t, d, 1, "From: ada@patrons.example\n"+rest(enclose("hook.stl", []byte("solid hook"))))
	all, _ := requests(t, d)
	code := string(all[0].Code) // such as K7-204
	bare := strings.ReplaceAll(code, "-", "")
	for i, c := range []struct {
		from, subject, text string
		joins, hint         bool
	}{
		{"ada", code, "1", true, false},
		{"ada", "about " + strings.ToLower(bare) + " please", "2", true, false},
		{"ada", "Re: " + bare[:2] + " " + bare[2:], "3", true, false},
		{"ada", "a question", "My code is " + code + ", is it ready?", false, true},
		{"ada", "a question", "Is it ready?", false, true},
		{"bo", "about " + bare, "4", false, false}, // may be anything
		{"bo", code, "5", false, true},
		{"bo", "a question", "Is " + code + " ready?", false, false},
		{"bo", "A4 210", "6", false, false},
	} {
		m := arrive(t, d, uint32(i+2), "From: "+c.from+"@patrons.example\nSubject: "+c.subject+"\n\n"+c.text+"\n")
		if (m.Request == made.Request) != c.joins || (m.Body.Guess == made.Request) != c.hint || c.joins != (m.State == desk.MailPlaced) {
			t.Errorf("%s, %q, %q: %s, joins %v, hint %v, %q", c.from, c.subject, c.text, m.State, m.Request != "", m.Body.Guess != "", m.Body.Why)
		}
	}
}
