package mail

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"platebook/desk"
)

// What mail programs do with a line in the head that is no field is common
// practice; RFC 5322 section 2.2 only says what a field is.
func TestStrayLines(t *testing.T) {
	const from, subject, rest = "From: Ada <ada@x.example>\n", "Subject: hook\n", "Content-Type: multipart/mixed; boundary=b\n\n--b\n\nhello\n--b\nContent-Type: model/stl; name=hook.stl\n\nsolid hook\n--b--\n"
	for _, c := range []struct{ name, text, subject, want, files string }{
		{"none", from + subject + rest, "hook", "hello", "hook.stl"},
		{"one in the middle", from + "this is no field\n" + subject + rest, "hook", "hello", "hook.stl"},
		{"what a mailbox file puts first", "From ada@x.example Tue Dec  1 10:00:00 2026\n" + from + subject + rest, "hook", "hello", "hook.stl"},
		{"the same, marked", ">From ada@x.example Tue Dec  1 10:00:00 2026\n" + from + subject + rest, "hook", "hello", "hook.stl"},
		{"one that goes on", from + "no field\n and more of it\n" + subject + rest, "hook", "hello", "hook.stl"},
		{"a field that goes on stays", from + "Subject: a\n hook\n" + "no field\n" + rest, "a hook", "hello", "hook.stl"},
		{"a space before the colon (RFC 5322 section 4.5)", from + "Subject : hook\n" + rest, "hook", "hello", "hook.stl"},
		{"no empty line before the text", from + subject + "Hello there,\nI ask: two of these.\n\nAda\n", "hook", "Hello there,\nI ask: two of these.\n\nAda", ""},
		{"a head that ends with the letter", from + "Subject: hook", "hook", "", ""},
	} {
		l, _ := read(t, c.text)
		files := strings.Join(names(l), " ")
		if l.From.Mail != "ada@x.example" || l.Subject != c.subject || l.Text != c.want || files != c.files {
			t.Errorf("%s: from %q, about %q: %q, %q", c.name, l.From.Mail, l.Subject, l.Text, files)
		}
	}
	// Many such lines are no slip: nothing of them is passed over.
	l, _ := read(t, from+strings.Repeat("words of a letter\n", mostStrayLines+1)+subject+"\nmore\n")
	if got := strings.Count(l.Text, "words of a letter"); got != mostStrayLines+1 {
		t.Errorf("%d of the words are left: %q", got, l.Text)
	}
	// A letter that machines wrote does not hide it under a stray line.
	if l, _ := read(t, from+"no field\nAuto-Submitted: auto-replied\n"+subject+"\naway\n"); l.Machine == "" {
		t.Error("a machine's letter is taken for a person's")
	}
	// An error of the connection is not taken for the end.
	broken := errors.New("broken off")
	for _, text := range []string{from, from + "half a li", from + subject + "\nhello"} {
		_, err := io.ReadAll(tidyHead(io.MultiReader(strings.NewReader(text), iotest.ErrReader(broken))))
		if !errors.Is(err, broken) {
			t.Errorf("%q: %v", text, err)
		}
	}
	// What has no head to speak of is handed on, and not held.
	if got, err := io.ReadAll(tidyHead(strings.NewReader(strings.Repeat("x", 3*mostHead)))); err != nil || len(got) != 3*mostHead {
		t.Errorf("%d bytes, %v", len(got), err)
	}
}

// Letters of programs, as they are written (RFC 8098, RFC 6522, RFC 1847, RFC
// 1740, RFC 3156); subjects of automatic answers are common practice.
func TestLettersOfPrograms(t *testing.T) {
	part := func(kind, body string) string { return "--b\nContent-Type: " + kind + "\n\n" + body + "\n" }
	from := "From: Ada <ada@x.example>\n"
	for _, c := range []struct {
		name, text, machine, files, odd string
	}{
		{"a receipt (RFC 8098 section 3)", from + "Content-Type: multipart/report; report-type=disposition-notification; boundary=b\n\n" + part("text/plain", "It was displayed.") + part("message/disposition-notification", "Disposition: manual-action/MDN-sent-manually; displayed") + "--b--\n", "was opened", "", ""},
		{"a report of another kind (RFC 6522)", from + "Content-Type: multipart/report; report-type=feedback-report; boundary=b\n\n" + part("text/plain", "x") + "--b--\n", "report of a program", "", ""},
		{"away", from + "Subject: Automatic reply: K7-204: please choose\n\nI am away.\n", "subject", "", ""},
		{"away, in French", from + "Subject: =?utf-8?q?R=C3=A9ponse_automatique=C2=A0=3A_bonjour?=\n\nJe suis absente.\n", "subject", "", ""},
		{"somebody who asks about being away", from + "Subject: Out of office hours, can I still collect?\n\nHello\n", "", "", ""},
		{"an answer to such a one", from + "Subject: Re: Automatic reply: hook\n\nHello\n", "", "", ""},
		{"signed (RFC 1847 section 2.1)", from + "Content-Type: multipart/signed; boundary=b\n\n" + part("model/stl; name=hook.stl", "solid hook") + part("application/pkcs7-signature; name=smime.p7s", "MIAG") + "--b--\n", "", "hook.stl", ""},
		{"as one system encloses files (RFC 1740)", from + "Content-Type: multipart/appledouble; boundary=b\n\n" + part("application/applefile; name=hook.stl", "x") + part("model/stl; name=hook.stl", "solid hook") + "--b--\n", "", "hook.stl", ""},
		{"encrypted (RFC 3156 section 4)", from + "Content-Type: multipart/encrypted; boundary=b\n\n" + part("application/pgp-encrypted", "Version: 1") + part("application/octet-stream; name=encrypted.asc", "x") + "--b--\n", "", "encrypted.asc", "encrypted or sealed"},
		{"sealed (RFC 8551 section 3)", from + "Content-Type: application/pkcs7-mime; name=smime.p7m\n\nMIAG\n", "", "smime.p7m", "encrypted or sealed"},
	} {
		l, _ := read(t, c.text)
		odd := ""
		for _, o := range l.Odd {
			odd += o.String()
		}
		if !strings.Contains(l.Machine, c.machine) || c.machine == "" && l.Machine != "" || strings.Join(names(l), " ") != c.files || !strings.Contains(odd, c.odd) || c.odd == "" && odd != "" {
			t.Errorf("%s: %q, %q, %q", c.name, l.Machine, names(l), odd)
		}
	}
	// RFC 5322 section 3.6.2: of several authors the sender is one.
	l, _ := read(t, "From: Bo <bo@x.example>, Ada Reed <ada@x.example>\nSender: ada@x.example\n\nhello\n")
	if l.From != (Address{"Ada Reed", "ada@x.example"}) {
		t.Errorf("from %v", l.From)
	}
	// A name in eight bits, which RFC 5322 does not have, nor say of which charset.
	if l, _ = read(t, "From: Zo\xeb Reed <ada@x.example>\n\nhello\n"); l.From != (Address{"Zoë Reed", "ada@x.example"}) {
		t.Errorf("from %v", l.From)
	}
}

// What could not be read of a letter is told to its writer in their language,
// and asks them, not staff; staff read it in English.
func TestOddInThePatronsLanguage(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, _, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	locked := zipOf("verrou.stl", "solid a")
	for _, head := range []struct {
		mark  string
		flags int
	}{{"PK\x03\x04", 6}, {"PK\x01\x02", 8}} { // APPNOTE 4.4.4, bit 0 (from MEMORY)
		locked[bytes.Index(locked, []byte(head.mark))+head.flags] |= 1
	}
	part := "--b\nContent-Type: application/zip; name=archive.zip\nContent-Transfer-Encoding: base64\n\n" + base64.StdEncoding.EncodeToString(locked) + "\n--b--\n"
	part = "--b\nContent-Type: image/png; name=logo.png\n\nx\n" + part
	text := strings.Replace(strings.Replace(enclose("vis.stl", []byte("solid vis")), "hello", "Bonjour, je voudrais deux exemplaires de cette vis, en bleu. Merci beaucoup.", 1), "--b--\n", part, 1)
	m := arrive(t, d, 1, text)
	due, err := d.DuePosted(t.Context(), 5)
	if err != nil || len(due) != 1 {
		t.Fatalf("%s, %q: %v, %v", m.State, m.Body.Why, due, err)
	}
	const want = "« verrou.stl », dans « archive.zip », est protégé par un mot de passe ; merci de l’envoyer sans protection."
	if got := strings.ReplaceAll(due[0].Body.Text, "\u00a0", " "); !strings.Contains(got, want) || strings.Contains(got, "locked") || strings.Contains(got, "logo.png") {
		t.Errorf("the letter out:\n%s", got)
	}
	all, _ := requests(t, d)
	if len(all) != 1 || !strings.Contains(strings.ReplaceAll(all[0].Wish.Note, "\u00a0", " "), want) {
		t.Errorf("the request: %+v", all)
	}
	if len(m.Body.Odd) != 1 || !strings.Contains(m.Body.Odd[0].String(), "is locked with a password; ask for it") {
		t.Errorf("for staff: %v", m.Body.Odd)
	}
	// What was kept before sentences were kept as data.
	var kept desk.MailBody
	if err := json.Unmarshal([]byte(`{"odd":["“a.zip” is 100% damaged."]}`), &kept); err != nil || len(kept.Odd) != 1 || kept.Odd[0].String() != "“a.zip” is 100% damaged." {
		t.Errorf("%v, %v", kept.Odd, err)
	}
}

// Names that RFC 2045 section 5.1 wants in quotes, and rightly so; how programs
// write them is common practice.
func TestNamesOutOfForm(t *testing.T) {
	for _, c := range []struct{ head, want string }{
		{"Content-Type: application/octet-stream; name=my hook.stl", "my hook.stl"},
		{"Content-Type: application/octet-stream\nContent-Disposition: attachment; filename=my hook.stl", "my hook.stl"},
		{"Content-Type: application/octet-stream\nContent-Disposition: attachment; filename=my hook (2).stl; size=12", "my hook (2).stl"},
		{"Content-Type: application/octet-stream\nContent-Disposition: attachment; filename=\"the \"big\" hook.stl\"", "the \"big\" hook.stl"},
		{"Content-Type: application/octet-stream\nContent-Disposition: attachment; filename=../../my hook.stl;", "my hook.stl"},
		{"Content-Type: application/octet-stream\nContent-Disposition: attachment; filename=crochet géant.stl", "crochet géant.stl"},
		{"Content-Type: text/plain; charset=utf-8\nContent-Disposition: attachment; filename=my hook.stl", "my hook.stl"},
		{"Content-Type: model/stl\nContent-Disposition: attachment; size=12", "unnamed.stl"},
	} {
		l, _ := read(t, "From: a@x.example\nContent-Type: multipart/mixed; boundary=b\n\n--b\n"+c.head+"\n\nsolid hook\n--b--\n")
		if got := strings.Join(names(l), " "); got != c.want {
			t.Errorf("%s: %q, want %q", c.head, got, c.want)
		}
	}
}

// A letter's HTML says what its text says, lists as lists.
func TestLetterAsHTML(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{"one\ntwo <b>", "<p>one<br>\ntwo &lt;b&gt;</p>\n"},
		{"Found:\n- first\n- second\nAnd so on.", "<p>Found:</p>\n<ul>\n<li>first</li>\n<li>second</li>\n</ul>\n<p>And so on.</p>\n"},
		{"- Finer: 3 €\n  80 mm, about\n  2 h", "<ul>\n<li>Finer: 3 €<br>\n80 mm, about<br>\n2 h</li>\n</ul>\n"},
		{"-5 °C - or so\n -", "<p>-5 °C - or so<br>\n -</p>\n"},
		{"", ""},
	} {
		if got := block(c.text); got != c.want {
			t.Errorf("%q is\n%s, want\n%s", c.text, got, c.want)
		}
	}
	page := Outgoing{Subject: "x", Text: "Look:\n\n- https://desk.example/my/abc\n\n- more\n\nBye", Language: "en"}.page()
	if strings.Count(page, "<ul>") != 1 || strings.Count(page, "</ul>") != 1 || !strings.Contains(page, `<li><a href="https://desk.example/my/abc">`) {
		t.Error(page)
	}
}
