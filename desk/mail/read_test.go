package mail

import (
	"archive/zip"
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"

	"platebook/desk"
	"platebook/engine/say"
)

// shelf keeps bytes for a test.
type shelf struct {
	most  int64
	blobs map[desk.Hash][]byte
	full  bool
}

type blob struct{ *bytes.Reader }

func (blob) Close() error { return nil }

func (s *shelf) keep(name string, r io.Reader) (desk.Hash, int64, error) {
	if s.full {
		return "", 0, desk.Faultf(desk.NoRoom, "The disk is full.")
	}
	b, err := io.ReadAll(io.LimitReader(r, s.most+1))
	if err != nil {
		return "", 0, err
	}
	if int64(len(b)) > s.most {
		return "", 0, desk.Faultf(desk.TooMany, "Too large.")
	}
	h := desk.HashOf(b)
	s.blobs[h] = b
	return h, int64(len(b)), nil
}

func (s *shelf) open(h desk.Hash) (desk.Blob, error) {
	return blob{bytes.NewReader(s.blobs[h])}, nil
}

func newShelf() *shelf { return &shelf{most: 1 << 20, blobs: map[desk.Hash][]byte{}} }

func read(t *testing.T, text string) (*Letter, *shelf) {
	t.Helper()
	s := newShelf()
	l, err := Read(strings.NewReader(crlf(text)), s.keep, s.open, UsualLimits())
	if err != nil {
		t.Fatalf("read: %v", err)
	}
	return l, s
}

func crlf(s string) string { return strings.ReplaceAll(s, "\n", "\r\n") }

// Heads as RFC 5322 appendix A writes them.
func TestHeads(t *testing.T) {
	for _, c := range []struct {
		name, text       string
		from, id, answer string
		sent             string
	}{
		{"RFC 5322 A.1.1", "From: John Doe <jdoe@machine.example>\nTo: Mary Smith <mary@example.net>\nSubject: Saying Hello\nDate: Fri, 21 Nov 1997 09:55:06 -0600\nMessage-ID: <1234@local.machine.example>\n\nThis is a message just to say hello.\nSo, \"Hello\".\n",
			"John Doe jdoe@machine.example", "1234@local.machine.example", "jdoe@machine.example", "1997-11-21 15:55:06"},
		{"RFC 5322 A.2, a reply to elsewhere", "From: Mary Smith <mary@example.net>\nTo: John Doe <jdoe@machine.example>\nReply-To: \"Mary Smith: Personal Account\" <smith@home.example>\nSubject: Re: Saying Hello\nDate: Fri, 21 Nov 1997 10:01:10 -0600\nMessage-ID: <3456@example.net>\nIn-Reply-To: <1234@local.machine.example>\nReferences: <1234@local.machine.example>\n\nThis is a reply to your hello.\n",
			"Mary Smith mary@example.net", "3456@example.net", "smith@home.example", "1997-11-21 16:01:10"},
		{"RFC 5322 A.5, white space and comments", "From: Pete(A nice \\) chap) <pete(his account)@silly.test(his host)>\nTo:A Group(Some people)\n     :Chris Jones <c@(Chris's host.)public.example>,\n         joe@example.org,\n  John <jdoe@one.test> (my dear friend); (the end of the group)\nCc:(Empty list)(start)Hidden recipients  :(nobody(that I know))  ;\nDate: Thu,\n      13\n        Feb\n          1969\n      23:32\n               -0330 (Newfoundland Time)\nMessage-ID:              <testabcd.1234@silly.test>\n\nTesting.\n",
			"Pete pete@silly.test", "testabcd.1234@silly.test", "pete@silly.test", ""},
	} {
		l, _ := read(t, c.text)
		sent := ""
		if !l.Sent.IsZero() {
			sent = l.Sent.Format("2006-01-02 15:04:05")
		}
		got := []string{l.From.Name + " " + l.From.Mail, l.ID, l.ReplyTo.Mail, sent}
		if d := cmp.Diff([]string{c.from, c.id, c.answer, c.sent}, got); d != "" {
			t.Errorf("%s:\n%s", c.name, d)
		}
		if l.Text == "" || l.Machine != "" || len(l.Files) != 0 {
			t.Errorf("%s: text %q, machine %q, files %v", c.name, l.Text, l.Machine, l.Files)
		}
	}
	l, _ := read(t, "From: a@x.example\nIn-Reply-To: <3456@example.net>\nReferences: <1234@local.machine.example> <3456@example.net>\n\nhello\n")
	if d := cmp.Diff([]string{"1234@local.machine.example", "3456@example.net"}, l.References); d != "" { // RFC 5322 A.2
		t.Error(d)
	}
}

// Encoded words as RFC 2047 section 8 shows them.
func TestEncodedWords(t *testing.T) {
	for in, want := range map[string]string{
		"=?ISO-8859-1?Q?a?=":                           "a",
		"=?ISO-8859-1?Q?a?= b":                         "a b",
		"=?ISO-8859-1?Q?a?= =?ISO-8859-1?Q?b?=":        "ab",
		"=?ISO-8859-1?Q?a?=  =?ISO-8859-1?Q?b?=":       "ab",
		"=?ISO-8859-1?Q?a_b?=":                         "a b",
		"=?ISO-8859-1?Q?a?= =?ISO-8859-2?Q?_b?=":       "a b",
		"=?ISO-8859-1?Q?Patrik_F=E4ltstr=F6m?=":        "Patrik Fältström",
		"=?utf-8?B?" + b64("pièce détachée") + "?=":    "pièce détachée",
		"hello\r\n =?utf-8?Q?=0D=0ABcc:_x@y.example?=": "hello Bcc: x@y.example", // no line end gets through
	} {
		l, _ := read(t, "From: a@x.example\nSubject: "+strings.ReplaceAll(in, "\r\n", "\n")+"\n\nx\n")
		if l.Subject != want {
			t.Errorf("%q is read as %q, want %q", in, l.Subject, want)
		}
	}
}

func b64(s string) string { return base64.StdEncoding.EncodeToString([]byte(s)) }

// Names of enclosures: RFC 2183, RFC 2231 sections 3 and 4 (their examples,
// with the parameter called filename), and what programs write instead.
func TestFileNames(t *testing.T) {
	for _, c := range []struct{ head, want string }{
		{"Content-Disposition: attachment; filename=genome.stl", "genome.stl"},
		{"Content-Disposition: attachment;\n filename*0*=us-ascii'en'This%20is%20even%20more%20;\n filename*1*=%2A%2A%2Afun%2A%2A%2A%20;\n filename*2=\"isn't it!\"", "This is even more ***fun*** isn't it!"},
		{"Content-Disposition: attachment;\n filename*=us-ascii'en-us'This%20is%20%2A%2A%2Afun%2A%2A%2A", "This is ***fun***"},
		{"Content-Disposition: attachment; filename*=utf-8''pi%C3%A8ce.stl", "pièce.stl"},
		{"Content-Disposition: attachment; filename*=iso-8859-1'fr'pi%E8ce.stl", "pièce.stl"},
		{"Content-Disposition: attachment; filename=\"=?utf-8?Q?pi=C3=A8ce.stl?=\"", "pièce.stl"},
		{"Content-Type: application/octet-stream; name=\"old way.stl\"", "old way.stl"},
		{"Content-Disposition: attachment; filename=\"../../etc/passwd\"", "passwd"},
		{"Content-Disposition: attachment; filename=\"C:\\\\Users\\\\me\\\\hook.stl\"", "hook.stl"},
		{"Content-Disposition: attachment; filename=\"a\u202elts.exe\"", "alts.exe"},
		{"Content-Disposition: attachment; filename=\"..\"", "unnamed"},
		{"Content-Type: model/stl\nContent-Disposition: attachment", "unnamed.stl"},
	} {
		l, _ := read(t, "From: a@x.example\nContent-Type: multipart/mixed; boundary=b\n\n--b\n"+c.head+"\n\nsolid x\n--b--\n")
		if len(l.Files) != 1 || l.Files[0].Name != c.want {
			t.Errorf("%s: %v %v, want %q", c.head, l.Files, l.Odd, c.want)
		}
	}
}

// The multipart of RFC 2046 section 5.1.1: no preamble, no epilogue counts,
// and the line end before a boundary belongs to the boundary.
func TestMultipart(t *testing.T) {
	l, _ := read(t, "From: Larkmere <patron@larkmere.example>\nMIME-Version: 1.0\nContent-type: multipart/mixed; boundary=\"simple boundary\"\n\nThis is the preamble.  It is to be ignored, though it\nis a handy place for composition agents to include an\nexplanatory note to non-MIME conformant readers.\n\n--simple boundary\n\nThis is implicitly typed plain US-ASCII text.\nIt does NOT end with a linebreak.\n--simple boundary\nContent-type: text/plain; charset=us-ascii\n\nThis is explicitly typed plain US-ASCII text.\nIt DOES end with a linebreak.\n\n--simple boundary--\n\nThis is the epilogue.  It is also to be ignored.\n")
	want := "This is implicitly typed plain US-ASCII text.\nIt does NOT end with a linebreak.\n\nThis is explicitly typed plain US-ASCII text.\nIt DOES end with a linebreak."
	if d := cmp.Diff(want, l.Text); d != "" {
		t.Error(d)
	}
}

// The enclosure must come out byte for byte, whatever its transfer encoding
// (RFC 2045 sections 6.7 and 6.8).
func TestEncodings(t *testing.T) {
	model := make([]byte, 9000)
	for i := range model {
		model[i] = byte(i * 7)
	}
	lines := func(s string) string {
		var b strings.Builder
		for len(s) > 76 {
			b.WriteString(s[:76] + "\n")
			s = s[76:]
		}
		return b.String() + s
	}
	l, s := read(t, "From: a@x.example\nContent-Type: multipart/mixed; boundary=b\n\n--b\nContent-Type: text/plain; charset=iso-8859-1\nContent-Transfer-Encoding: quoted-printable\n\nPi=E8ce d=E9tach=E9e, s'il vous pla=EEt. Soft =\nbreak.\n--b\nContent-Type: model/stl\nContent-Disposition: attachment; filename=a.stl\nContent-Transfer-Encoding: base64\n\n"+lines(base64.StdEncoding.EncodeToString(model))+"\n--b--\n")
	if l.Text != "Pièce détachée, s'il vous plaît. Soft break." {
		t.Errorf("text %q", l.Text)
	}
	if len(l.Files) != 1 || !bytes.Equal(s.blobs[l.Files[0].Hash], model) {
		t.Errorf("the file did not come out as it went in: %v", l.Files)
	}
}

// What a person wrote, and what was quoted: RFC 3676 section 4.5 for the marks.
func TestQuoted(t *testing.T) {
	for _, c := range []struct{ name, text, fresh string }{
		{"under a head", "Yes please, the red one.\n\nOn Mon, 3 Mar 2025 at 10:00, Larkmere Libraries <print@larkmere.example> wrote:\n> Which colour?\n> 1. red\n", "Yes please, the red one."},
		{"head over two lines", "Oui.\n\nLe lun. 3 mars 2025 à 10:00, Larkmere\n<print@larkmere.example> a écrit :\n> Quelle couleur ?\n", "Oui."},
		{"answers between", "> Which colour?\nRed.\n> How many?\nTwo.\n", "Red.\nTwo."},
		{"a block of an office program", "Thanks!\n\n-----Original Message-----\nFrom: Larkmere\nSubject: Your print\n\nWhich colour?", "Thanks!"},
		{"nothing but a letter sent on", "> please print this\n> in red", "> please print this\n> in red"},
		{"no quote at all", "On Monday I wrote a story about it: it is a hook.", "On Monday I wrote a story about it: it is a hook."},
	} {
		l, _ := read(t, "From: a@x.example\nContent-Type: text/plain; charset=utf-8\n\n"+c.text)
		if l.Text != c.fresh {
			t.Errorf("%s: %q, want %q", c.name, l.Text, c.fresh)
		}
	}
}

// An answer above the unmarked letter it answers, as office programs write it
// (common practice; no standard says).
func TestQuotedUnderHead(t *testing.T) {
	const head = "From: a@x.example\nSubject: Re: [K7-204] your hook\nIn-Reply-To: <k7@larkmere.example>\nContent-Type: "
	en := "From: Larkmere <print@larkmere.example>\nSent: Monday, 2 March 2026 10:00\nTo: Ada\nSubject: [K7-204] your hook\n\nIt is 60 mm tall."
	fr := "De : Larkmere <print@larkmere.example>\nEnvoyé : lundi 2 mars 2026 10:00\nÀ : Ada\nObjet : [K7-204] votre crochet\n\nIl mesure 60 mm."
	for _, c := range []struct{ name, letter, text string }{
		{"English", head + "text/plain\n\nIn red, please.\n\n" + en, "In red, please."},
		{"French", head + "text/plain; charset=utf-8\n\nEn rouge.\n\n" + fr, "En rouge."},
		{"a page", head + "text/html\n\n<p>In red, please.</p><div><p><b>From:</b> Larkmere<br><b>Sent:</b> Monday<br><b>To:</b> Ada<br><b>Subject:</b> your hook</p></div><p>It is 60 mm tall.</p>", "In red, please."},
		{"sent on", strings.Replace(head, "Re:", "FW:", 1) + "text/plain\n\nFor Ada.\n\n" + en, "For Ada.\n\n" + en},
		{"no answer", strings.Replace(head, "In-Reply-To", "X-None", 1) + "text/plain\n\nFor Ada.\n\n" + en, "For Ada.\n\n" + en},
		{"words that begin so", head + "text/plain\n\nHello,\nFrom: 10 cm\nto 12 cm would do.", "Hello,\nFrom: 10 cm\nto 12 cm would do."},
	} {
		l, _ := read(t, c.letter)
		if l.Text != c.text {
			t.Errorf("%s: %q, want %q", c.name, l.Text, c.text)
		}
	}
}

func TestHTMLOnly(t *testing.T) {
	l, _ := read(t, "From: a@x.example\nContent-Type: text/html; charset=utf-8\n\n<html><head><title>no</title><style>p{}</style></head><body><p>Please print <b>this</b>:<br>two of them</p><script>alert(1)</script><p><a href=\"https://files.example/hook.stl\">my file</a> <a href=\"javascript:alert(1)\">x</a></p><blockquote>Which colour?</blockquote></body></html>")
	if l.Text != "Please print this :\ntwo of them\n\nmy file <https://files.example/hook.stl> x" {
		t.Errorf("text %q", l.Text)
	}
	if d := cmp.Diff([]string{"https://files.example/hook.stl"}, l.Links); d != "" {
		t.Error(d)
	}
}

// Letters that must never be answered: RFC 3834, RFC 2919, RFC 2369.
func TestMachines(t *testing.T) {
	for _, c := range []struct {
		name, head string
		machine    bool
	}{
		{"RFC 3834 section 5: auto-replied", "Auto-Submitted: auto-replied", true},
		{"RFC 3834 section 5: auto-generated, with a comment", "Auto-Submitted: auto-generated; owner-email=\"x@y.example\"", true},
		{"RFC 3834 section 5: no", "Auto-Submitted: no", false},
		{"RFC 3834 section 2: no return path", "Return-Path: <>", true},
		{"RFC 2919", "List-Id: Makers <makers.list.example>", true},
		{"RFC 2369", "List-Unsubscribe: <mailto:leave@list.example>", true},
		{"CUSTOM: precedence", "Precedence: bulk", true},
		{"a person", "X-Mailer: anything", false},
	} {
		l, _ := read(t, "From: a@x.example\n"+c.head+"\n\nhello\n")
		if (l.Machine != "") != c.machine {
			t.Errorf("%s: machine %q", c.name, l.Machine)
		}
	}
	l, _ := read(t, "From: Mail Delivery <MAILER-DAEMON@x.example>\n\nhello\n")
	if l.Machine == "" {
		t.Error("a mailer daemon is taken for a person")
	}
}

// The report of RFC 3464 appendix E.1, with the letter it is about.
func TestBounce(t *testing.T) {
	l, _ := read(t, `Date: Thu, 7 Jul 1994 17:16:05 -0400
From: Mail Delivery Subsystem <MAILER-DAEMON@CS.UTK.EDU>
Message-Id: <199407072116.RAA14128@CS.UTK.EDU>
Subject: Returned mail: Cannot send message for 5 days
To: <owner-info-mime@cs.utk.edu>
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status;
      boundary="RAA14128.773615765/CS.UTK.EDU"

--RAA14128.773615765/CS.UTK.EDU

The original message was received at Sat, 2 Jul 1994 17:10:28 -0400
from root@localhost

   ----- The following addresses had delivery problems -----
<louisl@larry.slip.umd.edu>  (unrecoverable error)

--RAA14128.773615765/CS.UTK.EDU
content-type: message/delivery-status

Reporting-MTA: dns; cs.utk.edu

Original-Recipient: rfc822;louisl@larry.slip.umd.edu
Final-Recipient: rfc822;louisl@larry.slip.umd.edu
Action: failed
Status: 4.0.0
Diagnostic-Code: smtp; 426 connection timed out
Last-Attempt-Date: Thu, 7 Jul 1994 17:15:49 -0400

--RAA14128.773615765/CS.UTK.EDU
content-type: message/rfc822

From: print@larkmere.example
Message-ID: <K7-204.1@larkmere.example>
Subject: Your print K7-204

hello

--RAA14128.773615765/CS.UTK.EDU--
`)
	want := &Bounce{For: "louisl@larry.slip.umd.edu", Named: []string{"louisl@larry.slip.umd.edu"}, Of: "K7-204.1@larkmere.example", Status: "4.0.0", Says: "426 connection timed out", Final: true}
	if d := cmp.Diff(want, l.Bounce); d != "" {
		t.Error(d)
	}
	if l.Machine == "" || len(l.Files) != 0 {
		t.Errorf("machine %q, files %v", l.Machine, l.Files)
	}
}

func TestForwarded(t *testing.T) {
	l, s := read(t, "From: Desk <staff@larkmere.example>\nContent-Type: multipart/mixed; boundary=o\n\n--o\n\nCan you take this one?\n--o\nContent-Type: message/rfc822\n\nFrom: Ada Reed <ada@patrons.example>\nSubject: a hook\nContent-Type: multipart/mixed; boundary=i\n\n--i\n\nPlease print it in red.\n--i\nContent-Type: model/stl; name=hook.stl\n\nsolid hook\n--i--\n--o--\n")
	if l.Forwarded == nil || l.Forwarded.Mail != "ada@patrons.example" || l.From.Mail != "staff@larkmere.example" {
		t.Errorf("from %v, forwarded %v", l.From, l.Forwarded)
	}
	if len(l.Files) != 1 || l.Files[0].Name != "hook.stl" || string(s.blobs[l.Files[0].Hash]) != "solid hook" {
		t.Errorf("files %v", l.Files)
	}
	if !strings.Contains(l.Text, "Please print it in red.") || !strings.Contains(l.Text, "Can you take this one?") {
		t.Errorf("text %q", l.Text)
	}
}

func zipOf(files ...string) []byte {
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		w, _ := z.Create(files[i])
		io.WriteString(w, files[i+1])
	}
	z.Close()
	return b.Bytes()
}

// nested is an archive in archives.
func nested(depth int) []byte {
	b := zipOf("a.stl", "solid a")
	for range depth {
		b = zipOf("inner.zip", string(b))
	}
	return b
}

func enclose(name string, body []byte) string {
	return "From: a@x.example\nContent-Type: multipart/mixed; boundary=b\n\n--b\n\nhello\n--b\nContent-Type: application/octet-stream; name=\"" + name + "\"\nContent-Transfer-Encoding: base64\n\n" + base64.StdEncoding.EncodeToString(body) + "\n--b--\n"
}

func names(l *Letter) []string {
	var out []string
	for _, f := range l.Files {
		out = append(out, f.Name)
	}
	return out
}

func TestArchives(t *testing.T) {
	big := strings.Repeat("x", 300_000)
	for _, c := range []struct {
		name string
		zip  []byte
		want []string
		odd  string
	}{
		{"several models", zipOf("kit/lid.stl", "solid lid", "kit/box.stl", "solid box", "__MACOSX/kit/._lid.stl", "x", ".DS_Store", "x"), []string{"lid.stl", "box.stl"}, ""},
		{"names that climb", zipOf("../../../etc/cron.d/x.stl", "solid x"), []string{"x.stl"}, ""},
		{"an archive in it is opened too", zipOf("b.stl", "solid b", "inner.zip", string(zipOf("a.stl", "solid a"))), []string{"b.stl", "a.stl"}, ""},
		{"an archive deep within others stays one", nested(9), []string{"inner.zip"}, ""},
		{"an archive of many archives", zipOf("1.zip", string(zipOf("a.stl", big)), "2.zip", string(zipOf("b.stl", big)), "3.zip", string(zipOf("c.stl", big)), "4.zip", string(zipOf("d.stl", big))), []string{"a.stl", "b.stl", "c.stl", "4.zip"}, "too large when unpacked"},
		{"no archive at all", []byte("hello"), []string{"kit.zip"}, "is not what its name says"},
		{"cut short", zipOf("a.stl", "solid a")[:40], []string{"kit.zip"}, "could not be opened"},
		{"too much in all", zipOf("a.stl", big, "b.stl", big, "c.stl", big, "d.stl", big), []string{"a.stl", "b.stl", "c.stl"}, "too large when unpacked"},
		{"one too large", zipOf("a.stl", strings.Repeat("y", 700_000), "b.stl", "solid b"), []string{"b.stl"}, "larger than a file may be"},
	} {
		s := newShelf()
		s.most = 500_000
		lim := UsualLimits()
		lim.Unpacked = 1_000_000
		l, err := Read(strings.NewReader(crlf(enclose("kit.zip", c.zip))), s.keep, s.open, lim)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if d := cmp.Diff(c.want, names(l)); d != "" {
			t.Errorf("%s: %v\n%s", c.name, l.Odd, d)
		}
		if !strings.Contains(strings.Join(say.Strings(l.Odd), " "), c.odd) || c.odd == "" && len(l.Odd) > 0 {
			t.Errorf("%s: odd %q", c.name, l.Odd)
		}
	}
	l, _ := read(t, enclose("print.3mf", zipOf("3D/3dmodel.model", "<model/>")))
	if d := cmp.Diff([]string{"print.3mf"}, names(l)); d != "" {
		t.Errorf("a 3MF was taken apart: %s", d)
	}
}

// tnefOf writes a wrapper as MS-OXTNEF has it (MEMORY).
func tnefOf(title string, body []byte) []byte {
	var b bytes.Buffer
	le := binary.LittleEndian
	binary.Write(&b, le, uint32(0x223E9F78))
	binary.Write(&b, le, uint16(1))
	put := func(level uint8, id uint32, data []byte) {
		sum := uint16(0)
		for _, c := range data {
			sum += uint16(c)
		}
		b.WriteByte(level)
		binary.Write(&b, le, id)
		binary.Write(&b, le, uint32(len(data)))
		b.Write(data)
		binary.Write(&b, le, sum)
	}
	put(1, 0x00089006, []byte{0, 0, 1, 0}) // version
	put(2, attAttachRendData, make([]byte, 14))
	put(2, attAttachTitle, append([]byte("HOOK~1.STL"), 0))
	put(2, attAttachData, body)
	var props bytes.Buffer
	binary.Write(&props, le, uint32(1))
	binary.Write(&props, le, uint16(0x001E))
	binary.Write(&props, le, uint16(propLongName))
	binary.Write(&props, le, uint32(1))
	binary.Write(&props, le, uint32(len(title)+1))
	props.WriteString(title + "\x00")
	for props.Len()%4 != 0 {
		props.WriteByte(0)
	}
	put(2, attAttachment, props.Bytes())
	return b.Bytes()
}

func TestWrapper(t *testing.T) {
	l, s := read(t, enclose("winmail.dat", tnefOf("hook for the shed.stl", []byte("solid hook"))))
	if d := cmp.Diff([]string{"hook for the shed.stl"}, names(l)); d != "" {
		t.Fatal(d, l.Odd)
	}
	if got := string(s.blobs[l.Files[0].Hash]); got != "solid hook" || l.Files[0].In != "winmail.dat" {
		t.Errorf("holds %q, in %q", got, l.Files[0].In)
	}
}

func TestWhatGoesWrong(t *testing.T) {
	s := newShelf()
	if _, err := Read(strings.NewReader(""), s.keep, s.open, UsualLimits()); err == nil {
		t.Error("nothing was taken for a letter")
	}
	s.full = true
	_, err := Read(strings.NewReader(crlf(enclose("a.stl", []byte("solid a")))), s.keep, s.open, UsualLimits())
	if desk.KindOf(err) != desk.NoRoom {
		t.Errorf("full shelves gave %v", err)
	}
	cut := errors.New("connection lost")
	text := crlf(enclose("a.stl", bytes.Repeat([]byte("solid a"), 5000)))
	for _, at := range []int{10, 100, 400, 5000, len(text) - 1} {
		s := newShelf()
		r := io.MultiReader(strings.NewReader(text[:at]), iotest.ErrReader(cut))
		if _, err := Read(r, s.keep, s.open, UsualLimits()); !errors.Is(err, cut) {
			t.Errorf("a connection lost after %d bytes gave %v", at, err)
		}
	}
	var deep strings.Builder
	deep.WriteString("From: a@x.example\n")
	for i := range 500 {
		fmt.Fprintf(&deep, "Content-Type: multipart/mixed; boundary=b%d\n\n--b%d\n", i, i)
	}
	l, _ := read(t, deep.String()+"\nhello")
	if len(l.Odd) == 0 {
		t.Error("500 parts within one another are not worth a word")
	}
}

func FuzzRead(f *testing.F) {
	f.Add([]byte(crlf(enclose("kit.zip", zipOf("a.stl", "solid a")))))
	f.Add([]byte(crlf(enclose("winmail.dat", tnefOf("a.stl", []byte("solid a"))))))
	f.Add([]byte("From: a@x.example\r\nContent-Type: multipart/report; report-type=delivery-status; boundary=b\r\n\r\n--b\r\nContent-Type: message/delivery-status\r\n\r\nFinal-Recipient: rfc822;x\r\n"))
	f.Add([]byte("From  : a <b(c).  d>\r\nMessage-ID: < a @ b >\r\nContent-Type: multipart/digest (c); boundary=b\r\n\r\n--b\r\n\r\nSubject: x\r\nContent-Disposition: attachment; filename*0*=iso-8859-1''%E9; filename*1=\"\\\"\"\r\n\r\nx\r\n--b\r\nContent-Type: message/external-body; access-type=url; url=\"http://x/\"\r\n\r\n"))
	f.Add([]byte("Subject: =?utf-8?Q?=00?=\r\nContent-Type: text/html\r\n\r\n<blockquote><a href=x>"))
	f.Fuzz(func(t *testing.T, b []byte) {
		s := newShelf()
		l, err := Read(bytes.NewReader(b), s.keep, s.open, UsualLimits())
		if err != nil {
			return
		}
		for _, line := range []string{l.Subject, l.From.Name, l.From.Mail, l.ReplyTo.Mail, l.ID} {
			if oneLine(line) != line {
				t.Fatalf("%q got through", line)
			}
		}
		for _, e := range l.Files {
			if e.Name == "" || strings.ContainsAny(e.Name, "/\\\x00\n") || int64(len(s.blobs[e.Hash])) != e.Size {
				t.Fatalf("enclosure %+v", e)
			}
		}
		if len(l.Files) > UsualLimits().Files {
			t.Fatal("too many files")
		}
	})
}

// What was written is not lost because the letter is put together oddly.
func TestOddlyPutTogether(t *testing.T) {
	const head = "From: Ada <ada@x.example>\nSubject: a hook\nMIME-Version: 1.0\nContent-Type: "
	model := "--b\nContent-Type: model/stl; name=a.stl\n\nsolid\n--b--\n"
	for _, c := range []struct {
		name, letter, text, files string
	}{
		{"a page whose head has no end tag, which HTML lets be left out",
			"text/html\n\n<html><head><title>x</title><body><p>In blue, please</p></body></html>\n", "In blue, please", ""},
		{"a page, and a plain foot some server put under it",
			"multipart/mixed; boundary=b\n\n--b\nContent-Type: text/html\n\n<p>In blue, please</p>\n--b\nContent-Type: text/plain\n\nSent by a gateway\n--b--\n",
			"In blue, please\n\nSent by a gateway", ""},
		{"a page that encloses a letter that is a page (RFC 2046 section 5.2.1)",
			"multipart/mixed; boundary=b\n\n--b\nContent-Type: text/html\n\n<p>For Ada</p>\n--b\nContent-Type: message/rfc822\n\nFrom: c@y.example\nSubject: hook\nContent-Type: text/html\n\n<p>A hook</p>\n--b--\n",
			"For Ada\n\n— c@y.example, hook:\n\nA hook", ""},
		{"the same twice (RFC 2046 section 5.1.4)",
			"multipart/alternative; boundary=b\n\n--b\nContent-Type: text/plain\n\nIn blue\n--b\nContent-Type: multipart/related; boundary=c\n\n--c\nContent-Type: text/html\n\n<b>In blue</b>\n--c--\n--b--\n",
			"In blue", ""},
		{"a part whose head cannot be read", "multipart/mixed; boundary=b\n\n--b\nContent-Type: text/plain\nno field\n\nhello\n\nhello\n" + model, "", "a.stl"},
		{"a long line before the first part", "multipart/mixed; boundary=b\n\n" + strings.Repeat("x", 9000) + "\n--b\n\nhello\n" + model, "hello", "a.stl"},
	} {
		l, _ := read(t, head+c.letter)
		if l.Text != c.text || strings.Join(names(l), " ") != c.files {
			t.Errorf("%s: text %q, files %q; want %q, %q (odd: %q)", c.name, l.Text, names(l), c.text, c.files, l.Odd)
		}
	}
}

// endless gives the same line again and again.
type endless struct {
	line string
	left int64
}

func (e *endless) Read(p []byte) (int, error) {
	if e.left <= 0 {
		return 0, io.EOF
	}
	n := copy(p, strings.Repeat(e.line, len(p)/len(e.line)+1)[:len(p)])
	n -= n % len(e.line)
	e.left -= int64(n)
	return n, nil
}

// The head of a part is not held in memory however large it is, also where a
// field in it looks like the begin of a part.
func TestHeadOfAPart(t *testing.T) {
	for _, line := range []string{"X-Long: yes\r\n", "--b: yes\r\n", " and on\r\n"} {
		whole := io.MultiReader(strings.NewReader(crlf("From: a@x.example\nContent-Type: multipart/mixed; boundary=b\n\n--b\nX: y\n")),
			&endless{line, 64 << 20}, strings.NewReader("\r\nhello\r\n--b--\r\n"))
		s := newShelf()
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		l, err := Read(whole, s.keep, s.open, UsualLimits())
		runtime.ReadMemStats(&after)
		if l != nil || err == nil || !strings.Contains(err.Error(), "head of one of its parts is too large") {
			t.Errorf("%q: read as %+v: %v", line, l, err)
		}
		if used := int64(after.TotalAlloc-before.TotalAlloc) >> 20; used > 64 { // less than the head, once
			t.Errorf("%q: %d MB were taken", line, used)
		}
	}
}
