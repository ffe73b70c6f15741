package mail

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/smtp"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"

	"platebook/desk"
	"platebook/internal/post"
)

// ledger is a Taker that keeps its word as a database does: a letter and what
// it causes in one step, none twice.
type ledger struct {
	mu      sync.Mutex
	places  map[Place]bool
	hashes  map[desk.Hash]bool
	letters []*Letter
	unread  []string
	shelf   *shelf
	takes   int
	heard   chan struct{}
	fail    func(take int) error
	fresh   func() error // happens while the desk asks which letters are new
}

func newLedger() *ledger {
	s := newShelf()
	s.most = 100 << 20
	return &ledger{places: map[Place]bool{}, hashes: map[desk.Hash]bool{}, shelf: s, heard: make(chan struct{}, 10_000)}
}

func (l *ledger) Fresh(_ context.Context, box string, validity uint32, uids []uint32) ([]uint32, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.fresh != nil {
		if err := l.fresh(); err != nil {
			return nil, err
		}
	}
	var out []uint32
	for _, u := range uids {
		if !l.places[Place{box, validity, u}] {
			out = append(out, u)
		}
	}
	return out, nil
}

func (l *ledger) Take(_ context.Context, at Place, h desk.Hash, let *Letter, unread string) error {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.takes++
	if l.fail != nil {
		if err := l.fail(l.takes); err != nil {
			return err
		}
	}
	was := l.places[at] || l.hashes[h]
	l.places[at], l.hashes[h] = true, true
	if was {
		return nil
	}
	if let == nil {
		l.unread = append(l.unread, unread)
	} else {
		l.letters = append(l.letters, let)
	}
	l.heard <- struct{}{}
	return nil
}

func (l *ledger) Put(_ context.Context, r io.Reader) (desk.Hash, int64, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.shelf.keep("", r)
}

func (l *ledger) Open(_ context.Context, h desk.Hash) (desk.Blob, error) { return l.shelf.open(h) }

func (l *ledger) subjects() map[string]int {
	l.mu.Lock()
	defer l.mu.Unlock()
	out := map[string]int{}
	for _, x := range l.letters {
		out[x.Subject]++
	}
	return out
}

func inbox(o *post.Office, account string, l *ledger) *In {
	return &In{Server: Server{Address: o.IMAP, User: account, Password: o.Password, Roots: o.Roots}, Filed: "Requests/Taken", Taker: l, Every: time.Second}
}

// submit hands a raw message to the SMTP server, as a patron's program would.
func submit(t *testing.T, o *post.Office, from, to, message string) {
	t.Helper()
	c, err := smtp.Dial(o.SMTP)
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	step := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	step(c.StartTLS(&tls.Config{ServerName: "127.0.0.1", RootCAs: o.Roots}))
	host, _, err := net.SplitHostPort(o.SMTP)
	step(err)
	step(c.Auth(smtp.PlainAuth("", strings.Split(from, "@")[0], o.Password, host)))
	step(c.Mail(from))
	step(c.Rcpt(to))
	w, err := c.Data()
	step(err)
	_, err = io.WriteString(w, crlf(message))
	step(err)
	step(w.Close())
	step(c.Quit())
}

// wait pauses until the ledger has heard of n letters.
func (l *ledger) wait(t *testing.T, n int) {
	t.Helper()
	for range n {
		select {
		case <-l.heard:
		case <-time.After(patience):
			t.Fatalf("only %v came", l.subjects())
		}
	}
}

// deliver puts messages straight into a mailbox, as an SMTP server would.
func deliver(t *testing.T, o *post.Office, account string, messages ...string) {
	t.Helper()
	dir := o.MailFolder(account)
	for _, d := range []string{"", "new", "cur", "tmp"} {
		if err := os.MkdirAll(filepath.Join(dir, d), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(filepath.Join(dir, d), 0o777); err != nil {
			t.Fatal(err)
		}
	}
	for i, m := range messages {
		name := fmt.Sprintf("%d.%06d.test", time.Now().UnixNano(), i)
		if err := os.WriteFile(filepath.Join(dir, "tmp", name), []byte(crlf(m)), 0o666); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(filepath.Join(dir, "tmp", name), 0o666); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(filepath.Join(dir, "tmp", name), filepath.Join(dir, "new", name)); err != nil {
			t.Fatal(err)
		}
	}
}

func numbered(n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = fmt.Sprintf("From: patron@larkmere.example\nTo: print@larkmere.example\nSubject: letter %04d\nMessage-ID: <%d@patrons.example>\n\nhello %d\n", i, i, i)
	}
	return out
}

// A patron's mail goes in by SMTP and comes out by IMAP; the answer goes the
// other way; what cannot be delivered comes back as a report. All by servers
// nobody here wrote.
func TestThereAndBack(t *testing.T) {
	o := post.Open(t, time.Hour)
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	desk, patron := newLedger(), newLedger()
	var done sync.WaitGroup
	for _, in := range []*In{inbox(o, "print", desk), inbox(o, "patron", patron)} {
		done.Add(1)
		go func() { defer done.Done(); in.Run(ctx) }()
	}
	defer done.Wait()
	defer cancel()

	submit(t, o, "patron@larkmere.example", "print@larkmere.example",
		"From: A Patron <patron@larkmere.example>\nTo: print@larkmere.example\nSubject: =?utf-8?Q?Une_pi=C3=A8ce?=\nMessage-ID: <1@patrons.example>\n"+
			strings.SplitN(enclose("hook.stl", bytes.Repeat([]byte("solid hook\n"), 1000)), "\n", 2)[1])
	desk.wait(t, 1)
	l := desk.letters[0]
	if l.Subject != "Une pièce" || l.From.Mail != "patron@larkmere.example" || l.Text != "hello" || l.ID != "1@patrons.example" {
		t.Errorf("came in as %+v", l)
	}
	if len(l.Files) != 1 || l.Files[0].Name != "hook.stl" || l.Files[0].Size != 11_000 {
		t.Errorf("enclosed %+v", l.Files)
	}

	out := Out{Server: Server{Address: o.SMTP, StartTLS: true, User: "print", Password: o.Password, Roots: o.Roots}}
	answer := Outgoing{ID: "K7-204.1@larkmere.example", InReplyTo: l.ID, References: []string{l.ID}, From: Address{"Larkmere Libraries", "print@larkmere.example"}, To: l.ReplyTo,
		Subject: "Your print K7-204\r\nBcc: everyone@larkmere.example", Text: "We have it.\n\nhttps://print.larkmere.example/my/abc?a=1&b=2", Language: "en", Sent: time.Now(), Auto: true,
		Pictures: []Inline{{Name: "part.png", Says: "the part", Open: func() (io.ReadCloser, error) { return io.NopCloser(strings.NewReader("png")), nil }}}}
	if err := out.Send(ctx, answer); err != nil {
		t.Fatal(err)
	}
	patron.wait(t, 1)
	a := patron.letters[0]
	if a.ID != answer.ID || len(a.References) != 1 || a.References[0] != l.ID || a.InReplyTo[0] != l.ID || a.Machine == "" {
		t.Errorf("the answer came as %+v", a)
	}
	if a.Subject != "Your print K7-204 Bcc: everyone@larkmere.example" || len(a.To) != 1 || a.Text != answer.Text {
		t.Errorf("the answer says %q to %v: %q", a.Subject, a.To, a.Text)
	}
	if len(a.Files) != 1 || a.Files[0].Name != "part.png" {
		t.Errorf("the picture came as %+v", a.Files)
	}

	answer.To.Mail, answer.ID = "nobody@larkmere.example", "K7-204.2@larkmere.example"
	if err := out.Send(ctx, answer); err != nil {
		t.Fatal(err)
	}
	desk.wait(t, 1)
	b := desk.letters[1]
	if b.Bounce == nil || b.Bounce.For != "nobody@larkmere.example" || b.Bounce.Of != answer.ID || !b.Bounce.Final || b.Machine == "" {
		t.Errorf("the report came as %+v, bounce %+v", b, b.Bounce)
	}
}

// A thousand messages wait at the first start; then the mailbox is made anew,
// so that every UID means something else.
func TestManyAndValidity(t *testing.T) {
	o := post.Open(t, time.Hour)
	n := 1000
	if testing.Short() {
		n = 50
	}
	deliver(t, o, "print", numbered(n)...)
	l := newLedger()
	in := inbox(o, "print", l)
	in.Filed = "" // they stay where they are
	if took, err := in.Once(context.Background()); err != nil || took != n {
		t.Fatalf("took %d: %v", took, err)
	}
	if took, err := in.Once(context.Background()); err != nil || took != 0 {
		t.Fatalf("took %d a second time: %v", took, err)
	}
	before := len(l.places)
	lists, err := filepath.Glob(filepath.Join(o.MailFolder("print"), "dovecot*"))
	if err != nil || len(lists) == 0 {
		t.Fatalf("no list of UIDs to take away: %v", err)
	}
	for _, f := range lists {
		if err := os.RemoveAll(f); err != nil {
			t.Fatal(err)
		}
	}
	// UIDVALIDITY is of whole seconds there: it must be another one.
	time.Sleep(1100 * time.Millisecond)
	if _, err := in.Once(context.Background()); err != nil {
		t.Fatal(err)
	}
	if len(l.places) != before+n {
		t.Fatalf("%d places known, want %d: UIDVALIDITY did not change, so nothing was tested", len(l.places), before+n)
	}
	if got := l.subjects(); len(got) != n || len(l.letters) != n {
		t.Fatalf("%d letters, %d different", len(l.letters), len(got))
	}
}

// The connection is cut after every line in turn that the client says, and at
// some bytes of what the server says.
func TestCutEverywhere(t *testing.T) {
	o := post.Open(t, time.Hour)
	const n = 3
	cuts := 0
	for cut := 1; ; cut++ {
		// A mailbox of its own: the server may still be about the one cut before.
		account := fmt.Sprintf("print%d", cut)
		letters := numbered(n)
		letters[1] = enclose("hook.stl", bytes.Repeat([]byte("solid hook\n"), 3000))
		deliver(t, o, account, letters...)
		l := newLedger()
		p := &proxy{to: o.IMAPStartTLS, roots: o, after: cut}
		address := p.listen(t)
		in := inbox(o, account, l)
		in.Server.Address = address
		in.Server.Roots = o.Roots
		_, err := in.Once(context.Background())
		if !p.cut.Load() {
			if err != nil {
				t.Fatalf("not cut, but %v", err)
			}
			break
		}
		cuts++
		in.Server.Address = o.IMAP
		if _, err := in.Once(context.Background()); err != nil {
			t.Fatalf("cut after line %d, then: %v", cut, err)
		}
		if len(l.letters) != n {
			t.Fatalf("cut after line %d: %d letters, want %d", cut, len(l.letters), n)
		}
		for s, k := range l.subjects() {
			if k != 1 {
				t.Fatalf("cut after line %d: %q taken %d times", cut, s, k)
			}
		}
	}
	if cuts < 10 {
		t.Fatalf("cut only %d times", cuts)
	}
	t.Logf("cut at %d places", cuts)
}

// The way out is cut after every line in turn that the desk says. Each time the
// letter goes out at last: once, or twice under its own name where the server had
// taken it and could not say so (RFC 5321 section 4.5.3.2.6 has it that the
// sender then tries again).
func TestCutOnTheWayOut(t *testing.T) {
	o := post.Open(t, time.Hour)
	patron := newLedger()
	box := inbox(o, "patron", patron)
	l := Outgoing{From: Address{"Larkmere Libraries", "print@larkmere.example"}, To: Address{"", "patron@larkmere.example"}, Subject: "x", Text: "We have it.", Sent: time.Now()}
	cuts := 0
	for cut := 1; ; cut++ {
		p := &proxy{roots: o, out: true, after: cut}
		through := Out{Server: Server{Address: p.listen(t), User: "print", Password: o.Password, Roots: o.Roots}}
		straight := through
		straight.Server.Address = o.SMTPS
		l.ID = fmt.Sprintf("%d@larkmere.example", cut)
		err := through.Send(t.Context(), l)
		var refused *Refused
		if errors.As(err, &refused) {
			t.Fatalf("cut after line %d is taken for a refusal: %v", cut, err)
		}
		if err != nil {
			if err := straight.Send(t.Context(), l); err != nil {
				t.Fatalf("cut after line %d, then: %v", cut, err)
			}
		}
		if !p.cut.Load() {
			if err != nil {
				t.Fatalf("not cut, but %v", err)
			}
			break
		}
		cuts++
	}
	until(t, func() bool {
		if _, err := box.Once(t.Context()); err != nil {
			t.Fatal(err)
		}
		came := map[string]int{}
		for _, l := range patron.letters {
			came[l.ID]++
			if came[l.ID] > 2 {
				t.Fatalf("%s came %d times", l.ID, came[l.ID])
			}
		}
		return len(came) == cuts+1
	})
	if cuts < 20 { // EHLO, AUTH, MAIL, RCPT, DATA, the lines of the letter, QUIT
		t.Fatalf("cut only %d times", cuts)
	}
	t.Logf("cut at %d places; %d letters came of %d", cuts, len(patron.letters), cuts+1)
}

// proxy speaks TLS with the client and with the server, and cuts both off
// after so many lines of the client.
type proxy struct {
	to    string
	roots *post.Office
	out   bool // to the SMTP server, not the IMAP server
	after int
	cut   atomic.Bool
	hear  func(line string) // of the client; may be nil
}

func (p *proxy) listen(t *testing.T) string {
	cert, err := tls.LoadX509KeyPair(p.roots.Certificate())
	if err != nil {
		t.Fatal(err)
	}
	ln, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{cert}})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { ln.Close() })
	go func() {
		c, err := ln.Accept()
		if err != nil {
			return
		}
		defer c.Close()
		to := p.roots.IMAP
		if p.out {
			to = p.roots.SMTPS
		}
		s, err := tls.Dial("tcp", to, &tls.Config{ServerName: "127.0.0.1", RootCAs: p.roots.Roots})
		if err != nil {
			return
		}
		defer s.Close()
		go func() { io.Copy(c, s); c.Close() }()
		buf := make([]byte, 1)
		var line []byte
		for lines := 0; ; {
			if _, err := c.Read(buf); err != nil {
				return
			}
			if _, err := s.Write(buf); err != nil {
				return
			}
			line = append(line, buf[0])
			if buf[0] == '\n' {
				if p.hear != nil {
					p.hear(string(line))
				}
				line = line[:0]
				if lines++; lines >= p.after {
					p.cut.Store(true)
					return
				}
			}
		}
	}()
	return ln.Addr().String()
}

// What goes wrong is said so that a librarian can act on it.
func TestTrouble(t *testing.T) {
	o := post.Open(t, time.Hour)
	expired := post.Open(t, -time.Hour)
	for _, c := range []struct {
		name   string
		server Server
		want   string
	}{
		{"wrong password", Server{Address: o.IMAP, User: "print", Password: "wrong", Roots: o.Roots}, "password"},
		{"expired certificate", Server{Address: expired.IMAP, User: "print", Password: o.Password, Roots: expired.Roots}, "has run out"},
		{"unknown authority", Server{Address: o.IMAP, User: "print", Password: o.Password}, "signed by nobody"},
		{"nobody there", Server{Address: "127.0.0.1:1", User: "print", Password: o.Password}, "does not answer"},
		{"no address", Server{Address: "mail", User: "print"}, "broke off"},
		{"TLS where a greeting comes first", Server{Address: o.IMAPStartTLS, User: "print", Password: o.Password, Roots: o.Roots}, "does not begin with TLS"},
		{"a greeting where TLS comes first", Server{Address: o.IMAP, StartTLS: true, User: "print", Password: o.Password, Roots: o.Roots}, "must not be ticked"},
	} {
		in := inbox(o, "print", newLedger())
		in.Server = c.server
		_, err := in.Once(context.Background())
		if say := Say("the mail in", err); !strings.Contains(say, c.want) {
			t.Errorf("%s: %q (%v)", c.name, say, err)
		}
	}
	for _, c := range []struct{ mailbox, filed, want string }{{"Nowhere", "", "no mailbox of that name"}, {"", "../elsewhere", "the folder for letters taken"}} {
		in := inbox(o, "print", newLedger())
		in.Mailbox, in.Filed = c.mailbox, c.filed
		if _, err := in.Once(context.Background()); !strings.Contains(Say("the mail in", err), c.want) {
			t.Errorf("%q, %q: %v", c.mailbox, c.filed, err)
		}
	}
	smtpCases := []struct {
		name   string
		server Server
		wait   time.Duration // 0 is as usual; where nobody says anything first it need not be that long
		want   string
	}{
		{"wrong password", Server{Address: o.SMTP, StartTLS: true, User: "print", Password: "wrong", Roots: o.Roots}, 0, "password"},
		{"expired certificate", Server{Address: expired.SMTP, StartTLS: true, User: "print", Password: o.Password, Roots: expired.Roots}, 0, "has run out"},
		{"expired certificate, TLS at once", Server{Address: expired.SMTPS, User: "print", Password: o.Password, Roots: expired.Roots}, 0, "has run out"},
		{"TLS where a greeting comes first", Server{Address: o.SMTP, User: "print", Password: o.Password, Roots: o.Roots}, 0, "does not begin with TLS"},
		{"a greeting where TLS comes first", Server{Address: o.SMTPS, StartTLS: true, User: "print", Password: o.Password, Roots: o.Roots}, 5 * time.Second, "must not be ticked"},
	}
	for _, c := range smtpCases {
		err := Out{Server: c.server, Timeout: c.wait}.Send(context.Background(), Outgoing{ID: "1@x.example", From: Address{"", "print@larkmere.example"}, To: Address{"", "patron@larkmere.example"}, Subject: "x", Text: "x", Sent: time.Now()})
		var refused *Refused
		if say := Say("the mail out", err); !strings.Contains(say, c.want) || errors.As(err, &refused) {
			t.Errorf("out, %s: %q (%v)", c.name, say, err)
		}
	}
}

// A server that takes the connection and says nothing holds up neither the end
// nor new settings.
func TestSilentServer(t *testing.T) {
	silent, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	for _, startTLS := range []bool{false, true} {
		server := Server{Address: silent.Addr().String(), StartTLS: startTLS, User: "print", Password: "x"}
		for what, do := range map[string]func(context.Context) error{
			"in":  func(ctx context.Context) error { _, err := (&In{Server: server}).Once(ctx); return err },
			"out": func(ctx context.Context) error { return Out{Server: server}.Try(ctx) },
		} {
			ctx, cancel := context.WithCancel(context.Background())
			done := make(chan error, 1)
			go func() { done <- do(ctx) }()
			c, err := silent.Accept()
			if err != nil {
				t.Fatal(err)
			}
			cancel()
			select { // the libraries themselves wait half a minute and more
			case err := <-done:
				if err == nil {
					t.Errorf("%s, STARTTLS %v: all is said to be well", what, startTLS)
				}
			case <-time.After(20 * time.Second):
				t.Errorf("%s, STARTTLS %v: still waiting after its context ended", what, startTLS)
			}
			c.Close()
		}
	}
}

// Shelves that are full hold everything up, lose nothing, and let it all
// through once there is room; one letter that the desk cannot take holds up no
// other.
func TestHeldUp(t *testing.T) {
	o := post.Open(t, time.Hour)
	deliver(t, o, "print", numbered(4)...)
	l := newLedger()
	in := inbox(o, "print", l)
	l.fail = func(take int) error {
		if take == 2 {
			return desk.Faultf(desk.NoRoom, "The disk is full.")
		}
		return nil
	}
	if _, err := in.Once(context.Background()); desk.KindOf(err) != desk.NoRoom {
		t.Fatalf("full: %v", err)
	}
	l.fail = func(take int) error {
		if take == 3 {
			return desk.Faultf(desk.Broken, "Something is wrong with this one.")
		}
		return nil
	}
	if _, err := in.Once(context.Background()); desk.KindOf(err) != desk.Broken {
		t.Fatalf("broken: %v", err)
	}
	if got := len(l.letters); got != 3 {
		t.Fatalf("%d letters taken around the one that cannot be, want 3", got)
	}
	if took, err := in.Once(context.Background()); took != 1 || err != nil || len(l.subjects()) != 4 {
		t.Fatalf("at last: took %d, %v, %v", took, err, l.subjects())
	}
	// All are in the folder named, marked as seen, and gone from where they came.
	folders := o.MailFolder("print")
	seen, err := filepath.Glob(filepath.Join(folders, ".Requests.Taken", "cur", "*:2,*S*"))
	if err != nil || len(seen) != 4 {
		t.Errorf("filed and seen: %v, %v", seen, err)
	}
	for _, d := range []string{"new", "cur"} {
		if left, err := filepath.Glob(filepath.Join(folders, d, "*")); err != nil || len(left) != 0 {
			t.Errorf("left in the mailbox: %v, %v", left, err)
		}
	}
}

// Of a message that the server cannot make out there are no bytes to know it by:
// each is shown, and not the first alone. Dovecot has them as empty files.
func TestNoBytes(t *testing.T) {
	o := post.Open(t, time.Hour)
	l := newLedger()
	deliver(t, o, "print", "", "", "From: a@x.example\n\nhello\n")
	in := inbox(o, "print", l)
	for range 2 {
		if _, err := in.Once(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if len(l.unread) != 2 || len(l.letters) != 1 {
		t.Errorf("unread: %q; %d letters", l.unread, len(l.letters))
	}
}

// Somebody takes a letter out of the mailbox after the desk has seen that it is
// there: no trouble, and the others are taken (RFC 5530 section 3,
// EXPUNGEISSUED).
func TestTakenAwayMeanwhile(t *testing.T) {
	o := post.Open(t, time.Hour)
	deliver(t, o, "print", numbered(3)...)
	l := newLedger()
	l.fresh = func() error {
		c, err := imapclient.DialTLS(o.IMAP, &imapclient.Options{TLSConfig: &tls.Config{ServerName: "127.0.0.1", RootCAs: o.Roots}})
		if err != nil {
			return err
		}
		defer c.Close()
		if err := c.Login("print", o.Password).Wait(); err != nil {
			return err
		}
		if _, err := c.Select("INBOX", nil).Wait(); err != nil {
			return err
		}
		if err := c.Store(imap.SeqSetNum(1), &imap.StoreFlags{Op: imap.StoreFlagsAdd, Flags: []imap.Flag{imap.FlagDeleted}}, nil).Close(); err != nil {
			return err
		}
		return c.Expunge().Close()
	}
	in := inbox(o, "print", l)
	if took, err := in.Once(t.Context()); err != nil || took != 2 || len(l.letters) != 2 || len(l.unread) != 0 {
		t.Fatalf("took %d, %d letters, unread %q: %v", took, len(l.letters), l.unread, err)
	}
}
