package mail

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/internal/pg"
	"platebook/internal/post"
)

// base is the database a test's desk stands on.
type base string

const (
	lite     base = "SQLite"
	postgres base = "PostgreSQL"
)

// onEach runs a test of what the desk does with letters on either database.
func onEach(t *testing.T, test func(*testing.T, base)) {
	for _, b := range []base{lite, postgres} {
		t.Run(string(b), func(t *testing.T) { test(t, b) })
	}
}

// library opens a desk with a branch and a manager.
func library(t *testing.T, b base, now *time.Time, mail desk.MailSettings) (*desk.Desk, desk.Actor, desk.ID) {
	t.Helper()
	database := ""
	if b == postgres {
		database = pg.Database(t)
	}
	s, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Database: database, Now: func() time.Time { return *now },
		Enqueue: func(context.Context, *sql.Tx, desk.Job) error { return nil }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	d := &desk.Desk{Store: s, Shelves: s.Shelves(), Now: func() time.Time { return *now }, Secret: []byte("thirty-two bytes for larkmere ok")}
	branch := desk.Branch{ID: desk.NewID(), Name: "Mill Street"}
	by := desk.Actor{Kind: desk.ByStaff, ID: desk.NewID(), Name: "Rowan", Grants: []desk.Grant{{Role: desk.Manager}}}
	mail.Branch = branch.ID
	lib := desk.Default(desk.LibrarySetting).(desk.Library)
	lib.Languages = []string{"en", "fr"}
	lib.Name = "Larkmere Libraries"
	lib.Address = "https://print.larkmere.example"
	save := func(tx desk.Tx) error {
		b := branch
		if err := tx.SaveBranch(&b); err != nil {
			return err
		}
		for k, v := range map[desk.SettingKind]any{desk.MailSetting: mail, desk.LibrarySetting: lib} {
			if err := tx.SaveSetting(&desk.Setting{Kind: k, Version: 1, Body: asJSON(t, v), Since: *now}); err != nil {
				return err
			}
		}
		return nil
	}
	if err := s.Write(t.Context(), save); err != nil {
		t.Fatal(err)
	}
	return d, by, branch.ID
}

func sealed(t *testing.T, password string) string {
	t.Helper()
	d := &desk.Desk{Secret: []byte("thirty-two bytes for larkmere ok")}
	s, err := d.Seal(password)
	if err != nil {
		t.Fatal(err)
	}
	if back, err := d.Unseal(s); err != nil || back != password || strings.Contains(s, password) {
		t.Fatalf("sealed %q to %q and back to %q: %v", password, s, back, err)
	}
	return s
}

func throughOffice(t *testing.T, o *post.Office) desk.MailSettings {
	cert, _ := o.Certificate()
	roots, err := os.ReadFile(cert)
	if err != nil {
		t.Fatal(err)
	}
	// The authority is the second certificate of the file.
	_, rest := pem.Decode(roots)
	return desk.MailSettings{On: true, Filed: "Requests", From: "print@larkmere.example", FromName: "Larkmere Libraries", Roots: string(rest),
		In:  desk.MailServer{Address: o.IMAP, User: "print", Sealed: sealed(t, o.Password)},
		Out: desk.MailServer{Address: o.SMTP, StartTLS: true, User: "print", Sealed: sealed(t, o.Password)}}
}

// requests lists every request with its conversation.
func requests(t *testing.T, d *desk.Desk) (all []desk.Request, letters map[desk.ID][]desk.Message) {
	t.Helper()
	letters = map[desk.ID][]desk.Message{}
	err := d.Store.Read(t.Context(), func(tx desk.Tx) (err error) {
		if all, err = tx.ListRequests(desk.RequestFilter{}); err != nil {
			return err
		}
		for _, r := range all {
			if letters[r.ID], err = tx.Messages(r.ID); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all, letters
}

// The whole of it between real servers: a mail becomes a request, is
// acknowledged with its code, the patron answers, staff answer, and what comes
// back undelivered is flagged.
func TestConversation(t *testing.T) {
	o := post.Open(t, time.Hour)
	now := time.Now().UTC()
	d, by, _ := library(t, lite, &now, throughOffice(t, o))
	ctx, cancel := context.WithCancel(t.Context())
	svc := &Service{Desk: d, Every: 100 * time.Millisecond}
	ended := make(chan struct{})
	go func() { svc.Run(ctx); close(ended) }()
	t.Cleanup(func() { cancel(); <-ended })
	patron := newLedger()
	box := inbox(o, "patron", patron)
	go box.Run(ctx)

	submit(t, o, "patron@larkmere.example", "print@larkmere.example",
		"From: Ada Reed <patron@larkmere.example>\nTo: print@larkmere.example\nSubject: a hook\nMessage-ID: <first@patrons.example>\n"+
			strings.Replace(strings.SplitN(enclose("hook.stl", bytes.Repeat([]byte("solid hook\n"), 50)), "\n", 2)[1], "hello", "Two of these please, 6 cm tall, for Mill Street.", 1))
	patron.wait(t, 1)
	all, letters := requests(t, d)
	if len(all) != 1 {
		t.Fatalf("%d requests", len(all))
	}
	r := all[0]
	got := patron.letters[0]
	if got.InReplyTo[0] != "first@patrons.example" || !strings.Contains(got.Subject, string(r.Code)) || got.Machine == "" {
		t.Errorf("the acknowledgement came as %+v", got)
	}
	if !strings.Contains(got.Text, d.Key(r)) && !strings.Contains(got.Text, string(r.Code)) {
		t.Errorf("the acknowledgement says %q", got.Text)
	}
	if r.Source != "mail" || r.Contact.Email != "patron@larkmere.example" || r.Contact.Name != "Ada Reed" || len(r.Wish.Suggest) != 3 || r.Wish.SizeMM != 0 || r.Wish.Copies != 1 {
		t.Errorf("the request is %+v", r)
	}

	// An answer joins, by References; staff answer; an answer known only by
	// its subject joins too.
	submit(t, o, "patron@larkmere.example", "print@larkmere.example", "From: patron@larkmere.example\nTo: print@larkmere.example\nSubject: Re: something else\nMessage-ID: <second@patrons.example>\nIn-Reply-To: <"+got.ID+">\n\nIn red, please.\n\nOn Monday, Larkmere wrote:\n> We have it.\n")
	until(t, func() bool { _, l := requests(t, d); return len(l[r.ID]) == len(letters[r.ID])+1 })
	if _, err := d.Reply(ctx, by, r.ID, "form-1", "", "Red it is."); err != nil {
		t.Fatal(err)
	}
	patron.wait(t, 1)
	if a := patron.letters[1]; a.InReplyTo[0] != "second@patrons.example" || a.Text != "Red it is." || a.Machine != "" || len(a.References) < 3 {
		t.Errorf("staff's answer came as %+v", a)
	}
	submit(t, o, "patron@larkmere.example", "print@larkmere.example", "From: patron@larkmere.example\nTo: print@larkmere.example\nSubject: my print "+string(r.Code)+"\n\nThank you.\n")
	until(t, func() bool { _, l := requests(t, d); return len(l[r.ID]) == len(letters[r.ID])+3 })
	// Somebody else who guesses a code gets nowhere by it.
	submit(t, o, "staff@larkmere.example", "print@larkmere.example", "From: staff@larkmere.example\nTo: print@larkmere.example\nSubject: "+string(r.Code)+"\n\nWhat is it?\n")
	until(t, func() bool { l, _, _, _ := d.MailWaiting(ctx, by); return len(l) == 1 })
	if all, l := requests(t, d); len(all) != 1 || len(l[r.ID]) != len(letters[r.ID])+3 {
		t.Errorf("%d requests, conversation %+v", len(all), l[r.ID])
	}

	// A letter that cannot be delivered flags the address.
	c := r.Contact
	c.Email = "nobody@larkmere.example"
	if _, err := d.EditContact(ctx, by, r.ID, 0, c); err != nil {
		t.Fatal(err)
	}
	if _, err := d.Reply(ctx, by, r.ID, "form-2", "", "It is ready."); err != nil {
		t.Fatal(err)
	}
	until(t, func() bool { all, _ := requests(t, d); return all[0].Contact.Undelivered != "" })
	if len(svc.Troubles()) != 0 {
		t.Errorf("troubles: %q", svc.Troubles())
	}
}

// patience is how long servers and other programs may take for one thing, on a
// machine that is busy with others, before a test fails.
const patience = 3 * time.Minute

// until waits for what another program is to bring about.
func until(t *testing.T, done func() bool) {
	t.Helper()
	for begun := time.Now(); !done(); time.Sleep(50 * time.Millisecond) {
		if time.Since(begun) > patience {
			t.Fatal("it did not come about in ", patience)
		}
	}
}

// arrive reads a letter and hands it to the desk, as In does.
func arrive(t *testing.T, d *desk.Desk, uid uint32, text string) desk.Mail {
	t.Helper()
	tk := taker{d}
	in := &In{Taker: tk}
	in.setUp()
	raw := crlf(text)
	l, hash, unread, err := in.read(t.Context(), &incoming{LiteralReader: literal{strings.NewReader(raw), int64(len(raw))}})
	if err != nil {
		t.Fatal(err)
	}
	if err := tk.Take(t.Context(), Place{"INBOX", 1, uid}, hash, l, unread); err != nil {
		t.Fatal(err)
	}
	var m desk.Mail
	err = d.Store.Read(t.Context(), func(tx desk.Tx) (err error) { m, err = tx.MailByHash(hash); return err })
	if err != nil {
		t.Fatal(err)
	}
	return m
}

type literal struct {
	*strings.Reader
	size int64
}

func (l literal) Size() int64 { return l.size }

func TestSorting(t *testing.T) { onEach(t, sorting) }

func sorting(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	on := desk.MailSettings{On: true, From: "print@larkmere.example"}
	model := func(head string) string {
		return head + strings.SplitN(enclose("hook.stl", []byte("solid hook "+head)), "\n", 2)[1]
	}
	for i, c := range []struct {
		name, text string
		state      desk.MailState
		why        string
		requests   int
	}{
		{"a model", model("From: a@patrons.example\n"), desk.MailPlaced, "", 1},
		{"no model", "From: a@patrons.example\nSubject: opening hours\n\nWhen are you open?\n", desk.MailWaits, "no model", 0},
		{"a link", "From: a@patrons.example\n\nMy file is at https://files.example/a.stl\n", desk.MailWaits, "a link", 0},
		{"RFC 3834: an automatic answer, with a model all the same", model("From: a@patrons.example\nAuto-Submitted: auto-replied\n"), desk.MailWaits, "Nobody wrote it", 0},
		{"RFC 3834: an automatic answer", "From: a@patrons.example\nAuto-Submitted: auto-replied\n\nI am away.\n", desk.MailAuto, "", 0},
		{"RFC 2369: a list", "From: a@patrons.example\nList-Unsubscribe: <mailto:x@y.example>\n\nNews!\n", desk.MailAuto, "", 0},
		{"from ourselves", model("From: Print@Larkmere.example\n"), desk.MailWaits, "our own address", 0},
		{"nobody", model("Subject: x\n"), desk.MailWaits, "who wrote", 0},
		{"a code nobody has", model("From: a@patrons.example\nSubject: K7-999\n"), desk.MailPlaced, "", 1},
		{"a picture only", strings.Replace(model("From: a@patrons.example\n"), "hook.stl", "sketch.png", 1), desk.MailWaits, "no model", 0},
	} {
		d, _, _ := library(t, b, &now, on)
		m := arrive(t, d, uint32(i+1), c.text)
		all, _ := requests(t, d)
		if m.State != c.state || !strings.Contains(m.Body.Why, c.why) || len(all) != c.requests {
			t.Errorf("%s: %s, %q, %d requests", c.name, m.State, m.Body.Why, len(all))
		}
		again := arrive(t, d, uint32(i+100), c.text) // the mailbox was made anew
		all, _ = requests(t, d)
		if again.ID != m.ID || len(all) != c.requests {
			t.Errorf("%s: taken twice", c.name)
		}
		due, err := d.DuePosted(t.Context(), 10)
		if err != nil || len(due) != c.requests {
			t.Errorf("%s: %d letters to go out, %v", c.name, len(due), err)
		}
	}
}

// A letter to two of the library's addresses comes twice, by two ways: it is one
// letter all the same (RFC 5322 section 3.6.4). One that only bears the same
// identifier is not.
func TestTwice(t *testing.T) { onEach(t, twice) }

func twice(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, _, _ := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	head := "From: a@patrons.example\nMessage-ID: <one@patrons.example>\nSubject: a hook\n"
	first := head + rest(enclose("hook.stl", []byte("solid hook")))
	check := func(what string, m desk.Mail, asked, said int) {
		t.Helper()
		all, letters := requests(t, d)
		if m.State != desk.MailPlaced || len(all) != asked || len(letters[m.Request]) != said {
			t.Errorf("%s: %s, %d requests, conversation %+v", what, m.State, len(all), letters[m.Request])
		}
	}
	m := arrive(t, d, 1, first)
	check("the first", m, 1, 1)
	by := "Received: from a by b for <3d@larkmere.example>; Wed, 4 Mar 2026 10:00:00 +0000\n"
	if twin := arrive(t, d, 2, by+first); twin.ID == m.ID || twin.Request != m.Request {
		t.Errorf("its twin is %+v", twin)
	}
	check("its twin", m, 1, 1)
	answer := "From: a@patrons.example\nMessage-ID: <two@patrons.example>\nIn-Reply-To: <one@patrons.example>\nSubject: Re: a hook\n\nIn red, please.\n"
	check("an answer", arrive(t, d, 3, answer), 1, 2)
	check("its twin", arrive(t, d, 4, by+answer), 1, 2)
	check("other words", arrive(t, d, 5, strings.Replace(answer, "In red", "No, in blue", 1)), 1, 3)
	check("another file", arrive(t, d, 6, head+rest(enclose("hook.stl", []byte("solid other")))), 2, 1)
	check("another's", arrive(t, d, 7, strings.Replace(first, "From: a@", "From: b@", 1)), 3, 1)
}

// A code and a patron's address are no secrets: who names both, but the address
// only as where an answer is to go, does not write in the patron's name.
func TestNotInThePatronsName(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, _, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	first := arrive(t, d, 1, "From: a@patrons.example\nMessage-ID: <one@patrons.example>\n"+rest(enclose("hook.stl", []byte("solid hook"))))
	all, _ := requests(t, d)
	due, err := d.DuePosted(t.Context(), 9)
	if err != nil || len(due) != 1 {
		t.Fatalf("%+v, %v", due, err)
	}
	uid := uint32(1)
	for _, c := range []struct {
		head  string
		state desk.MailState
	}{
		{"From: m@x.example\nReply-To: a@patrons.example\nSubject: " + string(all[0].Code), desk.MailWaits},
		{"From: m@x.example\nReply-To: a@patrons.example\nIn-Reply-To: <one@patrons.example>", desk.MailWaits}, // others had that letter too
		{"From: a.home@x.example\nReply-To: a@patrons.example\nIn-Reply-To: <" + due[0].MailID + ">", desk.MailPlaced},
		{"From: a@patrons.example\nReply-To: a.home@x.example\nSubject: " + string(all[0].Code), desk.MailPlaced},
	} {
		uid++
		m := arrive(t, d, uid, c.head+"\n\nHow far is it?\n")
		if m.State != c.state || m.Request != "" && m.Request != first.Request || m.Request == "" && m.Body.Guess != first.Request {
			t.Errorf("%s: %s, to %q, guess %q", c.head, m.State, m.Request, m.Body.Guess)
		}
	}
}

// What the desk adds to a French patron's conversation is French, and what the
// check is said to have looked through was looked through. Why a letter waits is
// for staff, and English.
func TestInFrench(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, _, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example", Verdict: true})
	letter := func(i int, head string, z []byte) string {
		return "From: a@patrons.example\n" + head + strings.Replace(rest(enclose("pieces.zip", z)), "hello", "Bonjour, je voudrais cette pièce pour mon fils, merci.", 1) + strings.Repeat("\n", i)
	}
	first := arrive(t, d, 1, letter(0, "", zipOf("hook.stl", "solid hook", "lisez-moi.txt", "bonjour")))
	var files []desk.File
	if err := d.Store.Read(t.Context(), func(tx desk.Tx) (err error) { files, err = tx.FilesOf(first.Request); return err }); err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if f.Check != desk.NoModel {
			if err := d.KeepCheck(t.Context(), f.ID, desk.Checked{}); err != nil {
				t.Fatal(err)
			}
		}
	}
	all, _ := requests(t, d)
	arrive(t, d, 2, letter(1, "Subject: "+string(all[0].Code)+"\n", zipOf("arm.stl", "solid arm")))
	_, letters := requests(t, d)
	said := letters[first.Request]
	if len(files) != 2 || len(said) != 3 {
		t.Fatalf("%d files, %+v", len(files), said)
	}
	if found := said[1].Text; !strings.Contains(found, "a parcouru hook.stl.") {
		t.Errorf("of the check: %q", found)
	}
	if !strings.Contains(said[2].Text, "[En pièce jointe : arm.stl]") {
		t.Errorf("of the answer: %q", said[2].Text)
	}
	var last desk.Mail
	for i := range desk.DefaultRules().PerMonth {
		last = arrive(t, d, uint32(i+3), letter(i+2, "", zipOf("hook.stl", fmt.Sprint("solid", i))))
	}
	if last.State != desk.MailWaits || !strings.Contains(last.Body.Why, "requests a month") {
		t.Errorf("%s: %q", last.State, last.Body.Why)
	}
}

// A letter that asks to be answered where nobody reads is answered where it
// came from.
func TestAnswersReachSomebody(t *testing.T) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	for _, to := range []string{"Print@Larkmere.example", "noreply@patrons.example"} {
		d, _, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
		arrive(t, d, 1, "From: a@patrons.example\nReply-To: "+to+"\n"+rest(enclose("hook.stl", []byte("solid hook"))))
		due, err := d.DuePosted(t.Context(), 10)
		if err != nil || len(due) != 1 || due[0].Body.To != "a@patrons.example" {
			t.Errorf("%s: %+v, %v", to, due, err)
		}
	}
}

// A patron who has asked for as much as the library allows waits for a person,
// who may make the request all the same.
func TestPlacing(t *testing.T) { onEach(t, placing) }

func placing(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, branch := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	most := desk.DefaultRules().PerMonth
	var last desk.Mail
	for i := range most + 1 {
		last = arrive(t, d, uint32(i+1), fmt.Sprintf("From: a@patrons.example\nX-N: %d\n", i)+strings.SplitN(enclose("hook.stl", fmt.Appendf(nil, "solid %d", i)), "\n", 2)[1])
	}
	if last.State != desk.MailWaits || last.Body.Why == "" {
		t.Fatalf("one more than allowed is %s: %q", last.State, last.Body.Why)
	}
	for name, a := range map[string]desk.Actor{"a patron": desk.APatron(), "an operator": {Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Operator}}}} {
		if _, err := d.NewFromMail(t.Context(), a, last.ID, branch, desk.Contact{}); desk.KindOf(err) != desk.NotYours {
			t.Errorf("%s may place letters: %v", name, err)
		}
	}
	if _, err := d.NewFromMail(t.Context(), by, last.ID, branch, desk.Contact{}); err != nil {
		t.Fatal(err)
	}
	if _, err := d.NewFromMail(t.Context(), by, last.ID, branch, desk.Contact{}); desk.KindOf(err) != desk.Stale {
		t.Errorf("placed a second time: %v", err)
	}
	all, _ := requests(t, d)
	if len(all) != most+1 {
		t.Fatalf("%d requests, want %d", len(all), most+1)
	}
	q := arrive(t, d, 50, "From: b@patrons.example\nMessage-ID: <q@patrons.example>\n\nIs it done?\n")
	r, err := d.PlaceMail(t.Context(), by, q.ID, strings.ToLower(string(all[0].Code)))
	if err != nil || r.ID != all[0].ID {
		t.Fatal(err)
	}
	if _, l := requests(t, d); !strings.Contains(l[r.ID][len(l[r.ID])-1].Text, "Is it done?") {
		t.Errorf("conversation %+v", l[r.ID])
	}
	q = arrive(t, d, 51, "From: c@patrons.example\nMessage-ID: <r@patrons.example>\nSubject: hours\n\nWhen are you open?\n")
	if err := d.AnswerMail(t.Context(), by, q.ID, "", "From nine to five."); err != nil {
		t.Fatal(err)
	}
	due, err := d.DuePosted(t.Context(), 100)
	if err != nil {
		t.Fatal(err)
	}
	out := due[len(due)-1]
	if out.Body.To != "c@patrons.example" || out.Body.InReplyTo != "r@patrons.example" || out.Body.Subject != "Re: hours" {
		t.Errorf("the answer is %+v", out)
	}
	// Tried, put off, given up, and put back by a person.
	for range 20 {
		if err := d.PostFailed(t.Context(), out.ID, "The server does not answer.", false); err != nil {
			t.Fatal(err)
		}
	}
	if _, failed, _, err := d.MailWaiting(t.Context(), by); err != nil || len(failed) != 1 || failed[0].ID != out.ID {
		t.Fatalf("given up: %+v, %v", failed, err)
	}
	if err := d.PostAgain(t.Context(), by, out.ID); err != nil {
		t.Fatal(err)
	}
	if _, failed, _, _ := d.MailWaiting(t.Context(), by); len(failed) != 0 {
		t.Errorf("still given up: %+v", failed)
	}
	if err := d.PostSent(t.Context(), out.ID); err != nil {
		t.Fatal(err)
	}
	// What belongs to no request is forgotten after the library's days; what
	// waits for a person is not, and that a letter was here stays known.
	wait := arrive(t, d, 52, "From: d@patrons.example\n\nHello?\n")
	auto := arrive(t, d, 53, "From: e@patrons.example\nList-Id: <x.example>\n\nNews\n")
	now = now.AddDate(0, 0, desk.DefaultRules().KeepDays+1)
	if err := d.LookRound(t.Context()); err != nil {
		t.Fatal(err)
	}
	err = d.Store.Read(t.Context(), func(tx desk.Tx) error {
		for _, c := range []struct {
			l     desk.Mail
			empty bool
		}{{q, true}, {auto, true}, {wait, false}} {
			l, err := tx.MailByHash(c.l.Hash)
			if err != nil || l.Empty != c.empty || (l.Body.From == "") != c.empty {
				t.Errorf("%q: %+v, %v", c.l.Body.Text, l, err)
			}
		}
		if _, err := tx.Posted(out.ID); desk.KindOf(err) != desk.NotFound {
			t.Errorf("an answer about no request is kept: %v", err)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

func asJSON(t *testing.T, v any) []byte {
	t.Helper()
	b, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// Letters that wait, and letters that were not sent, stand on Today of those
// who may place them.
func TestOnToday(t *testing.T) { onEach(t, onToday) }

func onToday(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, branch := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	q := arrive(t, d, 1, "From: c@patrons.example\nSubject: hours\n\nWhen are you open?\n")
	on := func(by desk.Actor) map[desk.TodayKind][]desk.TodayLine {
		today, err := d.Today(t.Context(), by, branch)
		if err != nil {
			t.Fatal(err)
		}
		got := map[desk.TodayKind][]desk.TodayLine{}
		for _, g := range today.Groups {
			got[g.Kind] = g.Lines
		}
		return got
	}
	if got := on(by)[desk.TodayMail]; len(got) != 1 || got[0].Mail != q.ID || got[0].About != "hours" {
		t.Errorf("on Today: %+v", got)
	}
	operator := desk.Actor{Kind: desk.ByStaff, Grants: []desk.Grant{{Role: desk.Operator}}}
	if got := on(operator); len(got) != 0 {
		t.Errorf("an operator is asked to place letters: %+v", got)
	}
	if err := d.AnswerMail(t.Context(), by, q.ID, "", "From nine."); err != nil {
		t.Fatal(err)
	}
	due, err := d.DuePosted(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	if err := d.PostFailed(t.Context(), due[0].ID, "No such mailbox.", true); err != nil {
		t.Fatal(err)
	}
	if got := on(by); len(got[desk.TodayMail]) != 0 || len(got[desk.TodayUnsent]) != 1 {
		t.Errorf("on Today: %+v", got)
	}
}

// What an answer with a picture and one with a model do to an offer, who may
// add files, and that what only names a code is not forgotten with its request.
func TestAnswers(t *testing.T) { onEach(t, answers) }

func answers(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, _ := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	arrive(t, d, 1, "From: a@patrons.example\nMessage-ID: <own@patrons.example>\n"+strings.SplitN(enclose("hook.stl", []byte("solid hook")), "\n", 2)[1])
	all, _ := requests(t, d)
	r := all[0]
	with := func(state desk.State) {
		err := d.Store.Write(t.Context(), func(tx desk.Tx) error {
			r, err := tx.Request(r.ID)
			if err != nil {
				return err
			}
			r.State = state
			return tx.SaveRequest(&r)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	due, err := d.DuePosted(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	answer := func(from, to, file, body string) string {
		return "From: " + from + "\nIn-Reply-To: <" + to + ">\n" + strings.SplitN(enclose(file, []byte(body)), "\n", 2)[1]
	}
	for i, c := range []struct {
		name, text string
		state      desk.State
		files      int
	}{
		{"a logo", answer("a@patrons.example", due[0].MailID, "logo.png", "png"), desk.WithPatron, 2},
		{"a stranger who was sent ours on", answer("b@patrons.example", due[0].MailID, "other.stl", "solid other"), desk.WithPatron, 2},
		{"a stranger who knows the patron's own", answer("b@patrons.example", "own@patrons.example", "third.stl", "solid third"), desk.WithPatron, 2},
		{"a mended model", answer("a@patrons.example", due[0].MailID, "hook2.stl", "solid hook 2"), desk.InReview, 3},
	} {
		with(desk.WithPatron)
		m := arrive(t, d, uint32(i+2), c.text)
		all, _ := requests(t, d)
		var files []desk.File
		if err := d.Store.Read(t.Context(), func(tx desk.Tx) (err error) { files, err = tx.FilesOf(r.ID); return err }); err != nil {
			t.Fatal(err)
		}
		if all[0].State != c.state || len(files) != c.files {
			t.Errorf("%s: %s, %d files, letter %s", c.name, all[0].State, len(files), m.State)
		}
	}
	stranger := arrive(t, d, 20, "From: c@patrons.example\nSubject: about "+string(r.Code)+"\n\nMine!\n")
	if v, err := d.LookMail(t.Context(), by, stranger.ID); err != nil || v.Guess == nil || v.Guess.ID != r.ID {
		t.Errorf("what it may belong to: %+v, %v", v.Guess, err)
	}
	if err := d.Store.Write(t.Context(), func(tx desk.Tx) error { return tx.ForgetMail(r.ID) }); err != nil {
		t.Fatal(err)
	}
	if v, err := d.LookMail(t.Context(), by, stranger.ID); err != nil || v.Mail.Body.Text != "Mine!" {
		t.Errorf("another's letter was forgotten with it: %+v, %v", v.Mail, err)
	}
}

// A text is tried on a real request, by those who reach it.
func TestPreviewOfARealRequest(t *testing.T) { onEach(t, previewOfARealRequest) }

func previewOfARealRequest(t *testing.T, b base) {
	now := time.Date(2026, 3, 4, 10, 0, 0, 0, time.UTC)
	d, by, _ := library(t, b, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	arrive(t, d, 1, "From: Ada Reed <a@patrons.example>\n"+strings.SplitN(enclose("hook.stl", []byte("solid hook")), "\n", 2)[1])
	all, _ := requests(t, d)
	text := desk.Text{Subject: "{{.Code}}", Body: "{{.Name}}: {{join .Files \", \"}}\n{{.Link}}"}
	subject, body, err := d.PreviewTextFor(t.Context(), by, all[0].Code, "en", desk.TextFound, text)
	if err != nil || subject != string(all[0].Code) || !strings.HasPrefix(body, "Ada Reed: hook.stl\n") || strings.Contains(body, d.Key(all[0])) {
		t.Errorf("%q, %q, %v", subject, body, err)
	}
	if _, _, err := d.PreviewTextFor(t.Context(), desk.Actor{Kind: desk.ByStaff}, all[0].Code, "en", desk.TextFound, text); desk.KindOf(err) != desk.NotYours {
		t.Errorf("without a role: %v", err)
	}
}
