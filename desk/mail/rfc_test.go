package mail

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"platebook/desk"
	"platebook/engine/say"
)

// The examples of the standards, word for word but for line ends, each under its
// section; what is expected of them is what the section says beside them.
// Checked against the standards' texts but where MEMORY stands.

// Heads: RFC 5322 appendix A. TestHeads has A.1.1, the first reply of A.2, and A.5.
func TestHeadsOfRFC5322(t *testing.T) {
	hello := "\nThis is a message just to say hello.\nSo, \"Hello\".\n"
	for _, c := range []struct {
		name, text, from, to, id, sent string
		references                     int
	}{
		{"A.1.2 types of mailboxes", "From: \"Joe Q. Public\" <john.q.public@example.com>\nTo: Mary Smith <mary@x.test>, jdoe@example.org, Who? <one@y.test>\nCc: <boss@nil.test>, \"Giant; \\\"Big\\\" Box\" <sysservices@example.net>\nDate: Tue, 1 Jul 2003 10:52:37 +0200\nMessage-ID: <5678.21-Nov-1997@example.com>\n\nHi everyone.\n",
			"Joe Q. Public <john.q.public@example.com>", "Mary Smith <mary@x.test>, <jdoe@example.org>, Who? <one@y.test>, <boss@nil.test>, Giant; \"Big\" Box <sysservices@example.net>", "5678.21-Nov-1997@example.com", "2003-07-01 08:52:37", 0},
		{"A.1.3 group addresses", "From: Pete <pete@silly.example>\nTo: A Group:Ed Jones <c@a.test>,joe@where.test,John <jdoe@one.test>;\nCc: Undisclosed recipients:;\nDate: Thu, 13 Feb 1969 23:32:54 -0330\nMessage-ID: <testabcd.1234@silly.example>\n\nTesting.\n",
			"Pete <pete@silly.example>", "Ed Jones <c@a.test>, <joe@where.test>, John <jdoe@one.test>", "testabcd.1234@silly.example", "", 0}, // before 1970 no clock is right
		{"A.2 the reply to the reply", "To: \"Mary Smith: Personal Account\" <smith@home.example>\nFrom: John Doe <jdoe@machine.example>\nSubject: Re: Saying Hello\nDate: Fri, 21 Nov 1997 11:00:00 -0600\nMessage-ID: <abcd.1234@local.machine.test>\nIn-Reply-To: <3456@example.net>\nReferences: <1234@local.machine.example> <3456@example.net>\n\nThis is a reply to your reply.\n",
			"John Doe <jdoe@machine.example>", "Mary Smith: Personal Account <smith@home.example>", "abcd.1234@local.machine.test", "1997-11-21 17:00:00", 2},
		{"A.3 resent: the author stays", "Resent-From: Mary Smith <mary@example.net>\nResent-To: Jane Brown <j-brown@other.example>\nResent-Date: Mon, 24 Nov 1997 14:22:01 -0800\nResent-Message-ID: <78910@example.net>\nFrom: John Doe <jdoe@machine.example>\nTo: Mary Smith <mary@example.net>\nSubject: Saying Hello\nDate: Fri, 21 Nov 1997 09:55:06 -0600\nMessage-ID: <1234@local.machine.example>\n" + hello,
			"John Doe <jdoe@machine.example>", "Mary Smith <mary@example.net>", "1234@local.machine.example", "1997-11-21 15:55:06", 0},
		{"A.4 trace fields", "Received: from x.y.test\n   by example.net\n   via TCP\n   with ESMTP\n   id ABC12345\n   for <mary@example.net>;  21 Nov 1997 10:05:43 -0600\nReceived: from node.example by x.y.test; 21 Nov 1997 10:01:22 -0600\nFrom: John Doe <jdoe@node.example>\nTo: Mary Smith <mary@example.net>\nSubject: Saying Hello\nDate: Fri, 21 Nov 1997 09:55:06 -0600\nMessage-ID: <1234@local.node.example>\n" + hello,
			"John Doe <jdoe@node.example>", "Mary Smith <mary@example.net>", "1234@local.node.example", "1997-11-21 15:55:06", 0},
		{"A.5 white space and comments, the recipients", "From: Pete(A nice \\) chap) <pete(his account)@silly.test(his host)>\nTo:A Group(Some people)\n     :Chris Jones <c@(Chris's host.)public.example>,\n         joe@example.org,\n  John <jdoe@one.test> (my dear friend); (the end of the group)\nCc:(Empty list)(start)Hidden recipients  :(nobody(that I know))  ;\nDate: Thu,\n      13\n        Feb\n          1969\n      23:32\n               -0330 (Newfoundland Time)\nMessage-ID:              <testabcd.1234@silly.test>\n\nTesting.\n",
			"Pete <pete@silly.test>", "Chris Jones <c@public.example>, <joe@example.org>, John <jdoe@one.test>", "testabcd.1234@silly.test", "", 0},
		{"A.6.1 obsolete addressing", "From: Joe Q. Public <john.q.public@example.com>\nTo: Mary Smith <@node.test:mary@example.net>, , jdoe@test  . example\nDate: Tue, 1 Jul 2003 10:52:37 +0200\nMessage-ID: <5678.21-Nov-1997@example.com>\n\nHi everyone.\n",
			"Joe Q. Public <john.q.public@example.com>", "Mary Smith <mary@example.net>, <jdoe@test.example>", "5678.21-Nov-1997@example.com", "2003-07-01 08:52:37", 0},
		{"A.6.2 obsolete dates", "From: John Doe <jdoe@machine.example>\nTo: Mary Smith <mary@example.net>\nSubject: Saying Hello\nDate: 21 Nov 97 09:55:06 GMT\nMessage-ID: <1234@local.machine.example>\n" + hello,
			"John Doe <jdoe@machine.example>", "Mary Smith <mary@example.net>", "1234@local.machine.example", "1997-11-21 09:55:06", 0},
		{"A.6.3 obsolete white space and comments", "From  : John Doe <jdoe@machine(comment).  example>\nTo    : Mary Smith\n  \n          <mary@example.net>\nSubject     : Saying Hello\nDate  : Fri, 21 Nov 1997 09(comment):   55  :  06 -0600\nMessage-ID  : <1234   @   local(blah)  .machine .example>\n" + hello,
			"John Doe <jdoe@machine.example>", "Mary Smith <mary@example.net>", "1234@local.machine.example", "1997-11-21 15:55:06", 0},
	} {
		l, _ := read(t, c.text)
		var to []string
		for _, a := range l.To {
			to = append(to, strings.TrimSpace(a.Name+" <"+a.Mail+">"))
		}
		sent := ""
		if !l.Sent.IsZero() {
			sent = l.Sent.Format(time.DateTime)
		}
		got := []string{strings.TrimSpace(l.From.Name + " <" + l.From.Mail + ">"), strings.Join(to, ", "), l.ID, sent}
		if d := cmp.Diff([]string{c.from, c.to, c.id, c.sent}, got); d != "" {
			t.Errorf("%s:\n%s", c.name, d)
		}
		if len(l.References) != c.references || l.Text == "" || len(l.Files) > 0 {
			t.Errorf("%s: %d references, %q, %v", c.name, len(l.References), l.Text, l.Files)
		}
	}
}

// Encoded words: RFC 2047 section 8, the heads and the table. The table is of
// comments; in a Subject the standard would have these stand as they are. They
// are decoded there too, since programs put encoded words beside brackets.
func TestEncodedWordsOfRFC2047(t *testing.T) {
	for _, c := range []struct{ head, name string }{
		{"From: =?US-ASCII?Q?Keith_Moore?= <moore@cs.utk.edu>", "Keith Moore"},
		{"From: =?ISO-8859-1?Q?Keld_J=F8rn_Simonsen?= <keld@dkuug.dk>", "Keld Jørn Simonsen"},
		{"From: =?ISO-8859-1?Q?Andr=E9?= Pirard <PIRARD@vm1.ulg.ac.be>", "André Pirard"},
		{"From: =?ISO-8859-1?Q?Olle_J=E4rnefors?= <ojarnef@admin.kth.se>", "Olle Järnefors"},
		{"From: =?ISO-8859-1?Q?Patrik_F=E4ltstr=F6m?= <paf@nada.kth.se>", "Patrik Fältström"},
		{"From: Nathaniel Borenstein <nsb@thumper.bellcore.com>\n      (=?iso-8859-8?b?7eXs+SDv4SDp7Oj08A==?=)", "Nathaniel Borenstein"},
		{"From: =?US-ASCII*EN?Q?Keith_Moore?= <moore@cs.utk.edu>", "Keith Moore"}, // RFC 2231 section 5
	} {
		if l, _ := read(t, c.head+"\n\nx\n"); l.From.Name != c.name {
			t.Errorf("%s: %q, want %q", c.head, l.From.Name, c.name)
		}
	}
	for _, c := range []struct{ subject, want string }{
		{"=?ISO-8859-1?B?SWYgeW91IGNhbiByZWFkIHRoaXMgeW8=?=\n    =?ISO-8859-2?B?dSB1bmRlcnN0YW5kIHRoZSBleGFtcGxlLg==?=", "If you can read this you understand the example."},
		{"=?iso-8859-8?b?7eXs+SDv4SDp7Oj08A==?=", "םולש ןב ילטפנ"}, // ISO 8859-8, from left to right as the RFC's letters stand
		{"(=?ISO-8859-1?Q?a?=)", "(a)"},
		{"(=?ISO-8859-1?Q?a?= b)", "(a b)"},
		{"(=?ISO-8859-1?Q?a?= =?ISO-8859-1?Q?b?=)", "(ab)"},
		{"(=?ISO-8859-1?Q?a?=  =?ISO-8859-1?Q?b?=)", "(ab)"},
		{"(=?ISO-8859-1?Q?a?=\n    =?ISO-8859-1?Q?b?=)", "(ab)"},
		{"(=?ISO-8859-1?Q?a_b?=)", "(a b)"},
		{"(=?ISO-8859-1?Q?a?= =?ISO-8859-2?Q?_b?=)", "(a b)"},
		{"=?charset?Q?=?= =?charset?Q?AB?=", "=?charset?Q?=?= =?charset?Q?AB?="}, // section 5: "would be illegal"
	} {
		if l, _ := read(t, "From: a@x.example\nSubject: "+c.subject+"\n\nx\n"); l.Subject != c.want {
			t.Errorf("%q: %q, want %q", c.subject, l.Subject, c.want)
		}
	}
}

// Parameters: RFC 2231. TestFileNames has the rest of sections 3, 4 and 4.1.
func TestParametersOfRFC2231(t *testing.T) {
	for _, c := range []struct{ name, head, want string }{
		{"section 3, the URL in two, with the name it would have here", "Content-Type: application/x-stuff;\n name*0=\"ftp://\";\n name*1=\"cs.utk.edu/pub/moore/bulk-mailer/bulk-mailer.tar\"", "bulk-mailer.tar"},
		{"section 3: in any order", "Content-Type: application/x-stuff; name*1=\".stl\"; name*0=\"hook\"", "hook.stl"},
		{"section 4", "Content-Type: application/x-stuff;\n name*=us-ascii'en-us'This%20is%20%2A%2A%2Afun%2A%2A%2A", "This is ***fun***"},
		{"section 4: no charset and no language", "Content-Type: application/x-stuff; name*=''hook%20one.stl", "hook one.stl"},
		{"section 4.1", "Content-Type: application/x-stuff;\n name*0*=us-ascii'en'This%20is%20even%20more%20;\n name*1*=%2A%2A%2Afun%2A%2A%2A%20;\n name*2=\"isn't it!\"", "This is even more ***fun*** isn't it!"},
		{"section 4.1, of another charset", "Content-Disposition: attachment;\n filename*0*=iso-8859-1'fr'pi%E8ce%20d;\n filename*1*=%E9tach%E9e;\n filename*2=\".stl\"", "pièce détachée.stl"},
	} {
		l, _ := read(t, "From: a@x.example\nContent-Type: multipart/mixed; boundary=b\n\n--b\n"+c.head+"\n\nsolid x\n--b--\n")
		if len(l.Files) != 1 || l.Files[0].Name != c.want {
			t.Errorf("%s: %v %v, want %q", c.name, l.Files, l.Odd, c.want)
		}
	}
}

// Bodies: RFC 2045 and RFC 2046.
func TestBodiesOfRFC2045(t *testing.T) {
	from := "From: a@x.example\nMIME-Version: 1.0\n"
	for _, c := range []struct{ name, text, want string }{
		{"2045 section 4: a comment in the version", "From: a@x.example\nMIME-Version: 1.(produced by MetaSend Vx.x)0\n\nplain\n", "plain"},
		{"2045 section 5.1: a comment after the charset", from + "Content-type: text/plain; charset=us-ascii (Plain text)\n\nplain\n", "plain"},
		{"2045 section 5.1: the charset in quotes", from + "Content-type: text/plain; charset=\"us-ascii\"\n\nplain\n", "plain"},
		{"2045 section 5.2: no Content-Type", "From: a@x.example\n\nplain\n", "plain"},
		{"2045 section 6.7: a soft line break", from + "Content-Type: text/plain\nContent-Transfer-Encoding: quoted-printable\n\nNow's the time =\nfor all folk to come=\n to the aid of their country.\n", "Now's the time for all folk to come to the aid of their country."},
		{"2045 section 6.7 (3): white space at the end of a line goes", from + "Content-Type: text/plain\nContent-Transfer-Encoding: quoted-printable\n\none=20\ntwo  \nthree\n", "one\ntwo\nthree"},
		{"2045 section 6.8: what is no base64 is passed over", from + "Content-Type: text/plain\nContent-Transfer-Encoding: base64\n\nUGxl\nYXNl\n\n IHByaW50\nIGl0Lg==\n", "Please print it."},
		{"2046 section 4.1.4: text of a kind that is not known", from + "Content-Type: text/x-unknown\n\nplain all the same\n", "plain all the same"},
	} {
		l, _ := read(t, c.text)
		if l.Text != c.want || len(l.Files) > 0 {
			t.Errorf("%s: %q, %v %v", c.name, l.Text, l.Files, l.Odd)
		}
	}
}

func TestPartsOfRFC2046(t *testing.T) {
	for _, c := range []struct {
		name, text, want string
		files            string
		forwarded        string
		odd              string
	}{
		{name: "5.1.2: an inner multipart that is not ended", text: "From: a@x.example\nContent-Type: multipart/mixed; boundary=outer\n\n--outer\nContent-Type: multipart/mixed; boundary=inner\n\n--inner\n\nwithin\n--outer\nContent-Type: model/stl; name=hook.stl\n\nsolid hook\n--outer--\n",
			want: "within", files: "hook.stl", odd: "cut off"},
		{name: "5.1.4: alternatives", text: "From: Nathaniel Borenstein <nsb@bellcore.com>\nTo: Ned Freed <ned@innosoft.com>\nDate: Mon, 22 Mar 1993 09:41:09 -0800 (PST)\nSubject: Formatted text mail\nMIME-Version: 1.0\nContent-Type: multipart/alternative; boundary=boundary42\n\n--boundary42\nContent-Type: text/plain; charset=us-ascii\n\n  ... plain text version of message goes here ...\n\n--boundary42\nContent-Type: text/enriched\n\n  ... RFC 1896 text/enriched version of same message\n      goes here ...\n\n--boundary42\nContent-Type: application/x-whatever\n\n  ... fanciest version of same message goes here ...\n\n--boundary42--\n",
			want: "... plain text version of message goes here ...", files: "unnamed"},
		{name: "5.1.5: a digest holds letters", text: "From: Moderator-Address\nTo: Recipient-List\nDate: Mon, 22 Mar 1994 13:34:51 +0000\nSubject: Internet Digest, volume 42\nMIME-Version: 1.0\nContent-Type: multipart/mixed;\n              boundary=\"---- main boundary ----\"\n\n------ main boundary ----\n\n  ...Introductory text or table of contents...\n\n------ main boundary ----\nContent-Type: multipart/digest;\n              boundary=\"---- next message ----\"\n\n------ next message ----\n\nFrom: someone-else@x.example\nDate: Fri, 26 Mar 1993 11:13:32 +0200\nSubject: my opinion\n\n  ...body goes here ...\n\n------ next message ----\n\nFrom: someone-else-again@x.example\nDate: Fri, 26 Mar 1993 10:07:13 -0500\nSubject: my different opinion\n\n  ... another body goes here ...\n\n------ next message ------\n\n------ main boundary ------\n",
			want:      "...Introductory text or table of contents...\n\n\n— someone-else@x.example, my opinion:\n\n  ...body goes here ...\n\n\n— someone-else-again@x.example, my different opinion:\n\n  ... another body goes here ...",
			forwarded: "someone-else@x.example"},
		{name: "5.1.7: a multipart of a kind that is not known", text: "From: a@x.example\nContent-Type: multipart/x-unknown; boundary=b\n\n--b\n\nhello\n--b\nContent-Type: model/stl; name=hook.stl\n\nsolid hook\n--b--\n",
			want: "hello", files: "hook.stl"},
		{name: "5.2.2.2: the first piece of two", text: "X-Weird-Header-1: Foo\nFrom: Bill@host.com\nTo: joe@otherhost.com\nDate: Fri, 26 Mar 1993 12:59:38 -0500 (EST)\nSubject: Audio mail (part 1 of 2)\nMessage-ID: <id1@host.com>\nMIME-Version: 1.0\nContent-type: message/partial; id=\"ABC@host.com\";\n              number=1; total=2\n\nX-Weird-Header-1: Bar\nX-Weird-Header-2: Hello\nMessage-ID: <anotherid@foo.com>\nSubject: Audio mail\nMIME-Version: 1.0\nContent-type: audio/basic\nContent-transfer-encoding: base64\n\n  ... first half of encoded audio data goes here ...\n",
			odd: "piece 1 of 2"},
		{name: "5.2.2: the second piece, which does not say of how many", text: "From: Bill@host.com\nContent-Type: Message/Partial;\n              id=\"oc=jpbe0M2Yt4s@thumper.bellcore.com\";\n              number=2\n\n  ... second half ...\n",
			odd: "a piece of a letter"},
		{name: "5.2.3: a body that is elsewhere", text: "From: a@x.example\nContent-Type: multipart/mixed; boundary=b\n\n--b\n\nHere it is.\n--b\nContent-type: message/external-body;\n              access-type=local-file;\n              name=\"/u/nsb/Me.jpeg\"\n\nContent-type: image/jpeg\nContent-ID: <id42@guppylake.bellcore.com>\nContent-Transfer-Encoding: binary\n\nTHIS IS NOT REALLY THE BODY!\n--b--\n",
			want: "Here it is.", odd: "\"Me.jpeg\" is not enclosed"},
	} {
		l, _ := read(t, c.text)
		forwarded := ""
		if l.Forwarded != nil {
			forwarded = l.Forwarded.Mail
		}
		if d := cmp.Diff([]string{c.want, c.files, c.forwarded}, []string{l.Text, strings.Join(names(l), " "), forwarded}); d != "" {
			t.Errorf("%s:\n%s%v", c.name, d, l.Odd)
		}
		if odd := strings.Join(say.Strings(l.Odd), " "); !strings.Contains(odd, c.odd) || c.odd == "" && odd != "" {
			t.Errorf("%s: odd %q", c.name, odd)
		}
	}
	// RFC 2017 section 3 (MEMORY): an external body by URL is a link.
	l, _ := read(t, "From: a@x.example\nContent-type: message/external-body; access-type=URL;\n URL=\"https://files.example/hook.stl\"\n\nContent-type: model/stl\nContent-ID: <1@x.example>\n\n")
	if d := cmp.Diff([]string{"https://files.example/hook.stl"}, l.Links); d != "" {
		t.Error(d)
	}
}

// The complex example of RFC 2049 appendix A.
func TestRFC2049(t *testing.T) {
	l, s := read(t, `MIME-Version: 1.0
From: Nathaniel Borenstein <nsb@nsb.fv.com>
To: Ned Freed <ned@innosoft.com>
Date: Fri, 07 Oct 1994 16:15:05 -0700 (PDT)
Subject: A multipart example
Content-Type: multipart/mixed;
              boundary=unique-boundary-1

This is the preamble area of a multipart message.
Mail readers that understand multipart format
should ignore this preamble.

If you are reading this text, you might want to
consider changing to a mail reader that understands
how to properly display multipart messages.

--unique-boundary-1

  ... Some text appears here ...

[Note that the blank between the boundary and the start
 of the text in this part means no header fields were
 given and this is text in the US-ASCII character set.
 It could have been done with explicit typing as in the
 next part.]

--unique-boundary-1
Content-type: text/plain; charset=US-ASCII

This could have been part of the previous part, but
illustrates explicit versus implicit typing of body
parts.

--unique-boundary-1
Content-Type: multipart/parallel; boundary=unique-boundary-2

--unique-boundary-2
Content-Type: audio/basic
Content-Transfer-Encoding: base64

c291bmQ=
--unique-boundary-2
Content-Type: image/jpeg
Content-Transfer-Encoding: base64

cGljdHVyZQ==
--unique-boundary-2--

--unique-boundary-1
Content-type: text/enriched

This is <bold><italic>enriched.</italic></bold>
<smaller>as defined in RFC 1896</smaller>

Isn't it
<bigger><bigger>cool?</bigger></bigger>

--unique-boundary-1
Content-Type: message/rfc822

From: (mailbox in US-ASCII)
To: (address in US-ASCII)
Subject: (subject in US-ASCII)
Content-Type: Text/plain; charset=ISO-8859-1
Content-Transfer-Encoding: Quoted-printable

  ... Additional text in ISO-8859-1 goes here ... =E9

--unique-boundary-1--
`) // "goes here" of the two base64 parts is written out, and one letter of ISO 8859-1
	if l.From.Mail != "nsb@nsb.fv.com" || l.Subject != "A multipart example" || !l.Sent.Equal(time.Date(1994, 10, 7, 23, 15, 5, 0, time.UTC)) {
		t.Errorf("%+v", l)
	}
	for _, want := range []string{"... Some text appears here ...", "illustrates explicit versus implicit typing of body", "Isn't it", "(subject in US-ASCII)", "... Additional text in ISO-8859-1 goes here ... é"} {
		if strings.Count(l.Text, want) != 1 {
			t.Errorf("%q stands %d times in %q", want, strings.Count(l.Text, want), l.Text)
		}
	}
	if strings.Contains(l.Text, "preamble area") || len(l.Odd) > 0 {
		t.Errorf("%q, %q", l.Text, l.Odd)
	}
	var files []string
	for _, f := range l.Files {
		files = append(files, f.Name+" "+f.Type+" "+string(s.blobs[f.Hash]))
	}
	if d := cmp.Diff([]string{"unnamed audio/basic sound", "unnamed.jpg image/jpeg picture"}, files); d != "" {
		t.Error(d)
	}
}

// Reports: RFC 3464 appendix E. TestBounce has the first.
func TestReportsOfRFC3464(t *testing.T) {
	for _, c := range []struct {
		name, text string
		want       *Bounce
	}{
		{"multi-recipient: the first that failed, and all that failed", `Date: Fri, 8 Jul 1994 09:21:47 -0400
From: Mail Delivery Subsystem <MAILER-DAEMON@CS.UTK.EDU>
Subject: Returned mail: User unknown
To: <owner-ups-mib@CS.UTK.EDU>
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status;
       boundary="JAA13167.773673707/CS.UTK.EDU"

--JAA13167.773673707/CS.UTK.EDU
content-type: text/plain; charset=us-ascii

       ----- The following addresses had delivery problems -----
<arathib@vnet.ibm.com> (unrecoverable error)
<wsnell@sdcc13.ucsd.edu> (unrecoverable error)

--JAA13167.773673707/CS.UTK.EDU
content-type: message/delivery-status

Reporting-MTA: dns; cs.utk.edu

Original-Recipient: rfc822;arathib@vnet.ibm.com
Final-Recipient: rfc822;arathib@vnet.ibm.com
Action: failed
Status: 5.0.0 (permanent failure)
Diagnostic-Code: smtp;  550 'arathib@vnet.IBM.COM' is not a
 registered gateway user
Remote-MTA: dns; vnet.ibm.com

Original-Recipient: rfc822;johnh@hpnjld.njd.hp.com
Final-Recipient: rfc822;johnh@hpnjld.njd.hp.com
Action: delayed
Status: 4.0.0 (hpnjld.njd.jp.com: host name lookup failure)

Original-Recipient: rfc822;wsnell@sdcc13.ucsd.edu
Final-Recipient: rfc822;wsnell@sdcc13.ucsd.edu
Action: failed
Status: 5.0.0
Diagnostic-Code: smtp; 550 user unknown
Remote-MTA: dns; sdcc13.ucsd.edu

--JAA13167.773673707/CS.UTK.EDU
content-type: message/rfc822

[original message goes here]

--JAA13167.773673707/CS.UTK.EDU--
`, &Bounce{For: "arathib@vnet.ibm.com", Named: []string{"arathib@vnet.ibm.com", "wsnell@sdcc13.ucsd.edu"}, Status: "5.0.0", Says: "550 'arathib@vnet.IBM.COM' is not a registered gateway user", Final: true}},
		{"from a gateway: the name is no mail address", `Disclose-recipients: prohibited
Date: Fri, 08 Jul 1994 09:21:25 -0400 (EDT)
From: Message Router Submission Agent <AMMGR@corp.timeplex.com>
Subject: Status of: Re: Battery current sense
To: owner-ups-mib@CS.UTK.EDU
Message-id: <01HEGJ0WNBY28Y95LN@mr.timeplex.com>
MIME-version: 1.0
content-type: multipart/report;
    report-type=delivery-status;
    boundary="84229080704991.122306.SYS30"

--84229080704991.122306.SYS30
content-type: text/plain

Invalid address - nair_s
%DIR-E-NODIRMTCH, No matching Directory Entry
Entry found

--84229080704991.122306.SYS30
content-type: message/delivery-status

Reporting-MTA: mailbus; SYS30

Final-Recipient: unknown; nair_s
Status: 5.0.0 (unknown permanent failure)
Action: failed

--84229080704991.122306.SYS30--
`, &Bounce{For: "nair_s", Status: "5.0.0", Final: true}},
		{"delayed: it may still arrive", `MIME-Version: 1.0
From: <postmaster@nsfnet-relay.ac.uk>
Message-Id: <199407092338.TAA23293@CS.UTK.EDU>
Received: from nsfnet-relay.ac.uk by sun2.nsfnet-relay.ac.uk
        id <g.12954-0@sun2.nsfnet-relay.ac.uk>;
        Sun, 10 Jul 1994 00:36:51 +0100
To: owner-info-mime@cs.utk.edu
Date: Sun, 10 Jul 1994 00:36:51 +0100
Subject: WARNING: message delayed at "nsfnet-relay.ac.uk"
content-type: multipart/report; report-type=delivery-status;
       boundary=foobar

--foobar
content-type: text/plain

The following message:

UA-ID: Reliable PC (...
Q-ID: sun2.nsf:77/msg.11820-0

has not been delivered to the intended recipient:

    thomas@de-montfort.ac.uk

despite repeated delivery attempts over the past 24 hours.

--foobar
content-type: message/delivery-status

Reporting-MTA: dns; sun2.nsfnet-relay.ac.uk

Final-Recipient: rfc822;thomas@de-montfort.ac.uk
Status: 4.0.0 (unknown temporary failure)
Action: delayed

--foobar--
`, &Bounce{For: "thomas@de-montfort.ac.uk", Status: "4.0.0"}},
	} {
		l, _ := read(t, c.text)
		if d := cmp.Diff(c.want, l.Bounce); d != "" {
			t.Errorf("%s:\n%s", c.name, d)
		}
		if l.Machine == "" || len(l.Files) > 0 {
			t.Errorf("%s: machine %q, files %v", c.name, l.Machine, l.Files)
		}
	}
}

// Automatic answers: RFC 3834, further to TestMachines.
func TestMachinesOfRFC3834(t *testing.T) {
	for _, c := range []struct {
		name, head string
		machine    bool
	}{
		{"section 5: letter case does not matter", "auto-submitted: Auto-Replied", true},
		{"section 5: a comment before it", "Auto-Submitted: (by a vacation program) auto-replied", true},
		{"section 5: no, with a comment", "Auto-Submitted: no (written by hand)", false},
		{"section 5: an extension", "Auto-Submitted: auto-notified", true}, // RFC 5436 section 2.7.1
		{"section 2: a return path of somebody", "Return-Path: <a@x.example>", false},
		{"RFC 2369 section 3.4", "List-Post: NO (posting not allowed on this list)", true},
		{"CUSTOM: precedence of a list", "Precedence: list", true},
		{"CUSTOM: precedence of importance only", "Precedence: first-class", false},
	} {
		if l, _ := read(t, "From: a@x.example\n"+c.head+"\n\nhello\n"); (l.Machine != "") != c.machine {
			t.Errorf("%s: machine %q", c.name, l.Machine)
		}
	}
	for address, want := range map[string]bool{"NoReply@x.example": true, "postmaster@x.example": true, "mailer-daemon": true, "reply@x.example": false, "": false} {
		if desk.NoAnswers(address) != want {
			t.Errorf("%q takes no answers: %v", address, !want)
		}
	}
}
