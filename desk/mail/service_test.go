package mail

import (
	"bytes"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/textproto"
	"os"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"platebook/desk"
	"platebook/internal/post"
)

// serve keeps a desk's mail until the test ends.
func serve(t *testing.T, s *Service) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan struct{})
	go func() { s.Run(ctx); close(ended) }()
	t.Cleanup(func() { cancel(); <-ended })
}

// settle saves mail settings as the settings page does.
func settle(t *testing.T, d *desk.Desk, by desk.Actor, m desk.MailSettings) {
	t.Helper()
	set, err := d.Settings(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	m.Branch = set.Mail.Branch
	if _, err := d.SaveSetting(t.Context(), by, desk.MailSetting, set.Versions[desk.MailSetting], m); err != nil {
		t.Fatal(err)
	}
}

// What is wrong with the way out is known before a letter is owed, letters that
// wait are counted, and they go as soon as the server is there again: their own
// pause (here for ever, since the desk's clock stands) does not hold them.
func TestTriesTheWayOut(t *testing.T) {
	o, expired := post.Open(t, time.Hour), post.Open(t, -time.Hour)
	now := time.Now().UTC()
	m := throughOffice(t, o)
	good := m.Out
	m.Out.Sealed = sealed(t, "wrong")
	d, by, _ := library(t, lite, &now, m)
	svc := &Service{Desk: d, Every: 50 * time.Millisecond, Try: 200 * time.Millisecond}
	serve(t, svc)
	says := func(words ...string) func() bool {
		return func() bool {
			got := svc.Troubles()
			if len(got) != len(words) {
				return false
			}
			for i, w := range words {
				if !strings.Contains(got[i], w) {
					return false
				}
			}
			return true
		}
	}
	until(t, says("the mail out refuses the user name or password"))
	m.Out = good
	settle(t, d, by, m)
	until(t, says())

	x := throughOffice(t, expired)
	m.Out, m.Roots = x.Out, m.Roots+x.Roots
	settle(t, d, by, m)
	until(t, says("the mail out has run out"))
	arrive(t, d, 1, "From: Ada Reed <patron@larkmere.example>\n"+rest(enclose("hook.stl", []byte("solid hook"))))
	arrive(t, d, 2, "From: Ada Reed <patron@larkmere.example>\n"+rest(enclose("hook.stl", []byte("solid hook 2"))))
	until(t, says("the mail out has run out", "2 letters wait to go out"))

	// The certificate is renewed; nobody tells the desk.
	cert, key := o.Certificate()
	toCert, toKey := expired.Certificate()
	for from, to := range map[string]string{cert: toCert, key: toKey} {
		b, err := os.ReadFile(from)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(to+".new", b, 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Rename(to+".new", filepath.Clean(to)); err != nil {
			t.Fatal(err)
		}
	}
	until(t, says())
	var sent []desk.Posted
	until(t, func() bool {
		err := d.Store.Read(t.Context(), func(tx desk.Tx) (err error) {
			sent, err = tx.ListPosted([]desk.PostState{desk.PostSent}, 9)
			return err
		})
		return err == nil && len(sent) == 2
	})
}

// A patron's mail is acknowledged within a minute: with the code, what was
// enclosed, and the link. The second of two letters comes while the desk rests
// in IDLE (RFC 2177), which ends by itself only after five minutes: what is told
// within one was told by the server.
func TestWithinAMinute(t *testing.T) {
	o := post.Open(t, time.Hour)
	now := time.Now().UTC()
	d, _, _ := library(t, lite, &now, desk.MailSettings{})
	p := &lines{to: o}
	m := throughOffice(t, o)
	m.In.Address = p.listen(t)
	by := desk.Actor{Kind: desk.ByStaff, ID: desk.NewID(), Name: "Rowan", Grants: []desk.Grant{{Role: desk.Manager}}}
	settle(t, d, by, m)
	serve(t, &Service{Desk: d}) // as it runs for a library
	patron := newLedger()
	box := inbox(o, "patron", patron)
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	go box.Run(ctx)
	until(t, func() bool { return p.last() == "IDLE" })
	for i, name := range []string{"hook.stl", "lid.stl"} {
		begun := time.Now()
		submit(t, o, "patron@larkmere.example", "print@larkmere.example",
			fmt.Sprintf("From: Ada Reed <patron@larkmere.example>\nTo: print@larkmere.example\nSubject: a wish\nMessage-ID: <%d@patrons.example>\n", i)+
				rest(enclose(name, bytes.Repeat([]byte("solid x\n"), 10+i))))
		select {
		case <-patron.heard:
		case <-time.After(time.Minute):
			t.Fatalf("not acknowledged within a minute; the desk said: %q", p.all())
		}
		took := time.Since(begun)
		a := patron.letters[i]
		all, _ := requests(t, d)
		var r desk.Request
		for _, x := range all {
			if strings.Contains(a.Subject, string(x.Code)) {
				r = x
			}
		}
		if r.Code == "" || a.InReplyTo[0] != fmt.Sprintf("%d@patrons.example", i) {
			t.Fatalf("of %d requests the acknowledgement names none: %q, in reply to %q", len(all), a.Subject, a.InReplyTo)
		}
		for _, want := range []string{string(r.Code), name, "https://print.larkmere.example/my/" + d.Key(r)} {
			if !strings.Contains(a.Text, want) {
				t.Errorf("the acknowledgement does not say %q:\n%s", want, a.Text)
			}
		}
		t.Logf("acknowledged after %v", took.Round(time.Millisecond))
		until(t, func() bool { return p.last() == "IDLE" })
	}
	polls := 0
	for _, l := range p.all() {
		if l == "NOOP" {
			polls++
		}
	}
	if polls > 0 {
		t.Errorf("the desk polled %d times", polls)
	}
}

// A letter with 60 MB in it goes from the server to the shelves without being
// held: the memory in use meanwhile is measured, and stays far below its size.
func TestSixtyMegabytes(t *testing.T) {
	o := post.Open(t, time.Hour)
	now := time.Now().UTC()
	d, _, _ := library(t, lite, &now, desk.MailSettings{On: true, From: "print@larkmere.example"})
	const lines = (60 << 20) / 57
	one := bytes.Repeat([]byte("hook "), 12)[:57]
	deliver(t, o, "print", "From: a@patrons.example\nContent-Type: multipart/mixed; boundary=b\n\n--b\nContent-Type: model/stl; name=hook.stl\nContent-Transfer-Encoding: base64\n\n"+
		strings.Repeat(base64.StdEncoding.EncodeToString(one)+"\n", lines)+"--b--\n")
	heap := func() uint64 {
		s := []metrics.Sample{{Name: "/memory/classes/heap/objects:bytes"}}
		metrics.Read(s)
		return s[0].Value.Uint64()
	}
	runtime.GC()
	before := heap()
	most, stop, done := before, make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		for {
			select {
			case <-stop:
				return
			case <-time.After(5 * time.Millisecond):
				most = max(most, heap())
			}
		}
	}()
	in := inbox(o, "print", nil)
	in.Taker = taker{d}
	took, err := in.Once(t.Context())
	close(stop)
	<-done
	if took != 1 || err != nil {
		t.Fatal(took, err)
	}
	all, _ := requests(t, d)
	var files []desk.File
	if err := d.Store.Read(t.Context(), func(tx desk.Tx) (err error) { files, err = tx.FilesOf(all[0].ID); return err }); err != nil {
		t.Fatal(err)
	}
	sum := sha256.New()
	for range lines {
		sum.Write(one)
	}
	if len(files) != 1 || files[0].Size != 57*lines || string(files[0].Hash) != hex.EncodeToString(sum.Sum(nil)) {
		t.Errorf("came as %+v", files)
	}
	grew := float64(most-before) / 1e6
	t.Logf("at most %.1f MB were in use beside the %.1f before", grew, float64(before)/1e6)
	if before > 50e6 {
		t.Error("the letter itself was in memory when it began: nothing was measured")
	}
	if grew > 20 {
		t.Errorf("%.1f MB were in use beside for a letter of 60 MB", grew)
	}
}

// lines hands on what client and server say, as proxy does, and keeps the
// client's commands.
type lines struct {
	to *post.Office
	mu sync.Mutex
	of []string
}

func (p *lines) all() []string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return append([]string{}, p.of...)
}

func (p *lines) last() string {
	all := p.all()
	if len(all) == 0 {
		return ""
	}
	return all[len(all)-1]
}

func (p *lines) listen(t *testing.T) string {
	pipe := &proxy{roots: p.to, after: 1 << 30, hear: func(line string) {
		p.mu.Lock()
		defer p.mu.Unlock()
		_, command, _ := strings.Cut(strings.TrimSpace(line), " ")
		p.of = append(p.of, command)
	}}
	return pipe.listen(t)
}

// What went wrong is told by the code of an answer (RFC 4954 section 6), not by
// its figures somewhere: here they are those of a port.
func TestWhyNot(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{&net.OpError{Op: "dial", Net: "tcp", Addr: &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 5350}, Err: errors.New("connection refused")}, "does not answer at its address"},
		{fmt.Errorf("dial failed: %w", &textproto.Error{Code: 535, Msg: "5.7.8 credentials invalid"}), "refuses the user name or password"},
	} {
		if said := Say("the mail out", Out{}.why(c.err)); !strings.Contains(said, c.want) {
			t.Errorf("%v: %q", c.err, said)
		}
	}
}

// choosy is a server that takes no letter yet for one recipient, as with a full
// mailbox (RFC 5321 section 4.2.2, 452), and none ever for another (550).
type choosy struct {
	mu  sync.Mutex
	got []string
}

func (c *choosy) NewSession(*smtp.Conn) (smtp.Session, error) { return &choosing{c, ""}, nil }

type choosing struct {
	*choosy
	to string
}

func (c *choosing) Mail(string, *smtp.MailOptions) error { return nil }
func (c *choosing) Rcpt(to string, _ *smtp.RcptOptions) error {
	switch c.to = to; to {
	case "full@patrons.example":
		return &smtp.SMTPError{Code: 452, EnhancedCode: smtp.EnhancedCode{4, 2, 2}, Message: "mailbox full"}
	case "gone@patrons.example":
		return &smtp.SMTPError{Code: 550, EnhancedCode: smtp.EnhancedCode{5, 1, 1}, Message: "no such user"}
	}
	return nil
}
func (c *choosing) Data(r io.Reader) error {
	_, err := io.Copy(io.Discard, r)
	c.mu.Lock()
	defer c.mu.Unlock()
	c.got = append(c.got, c.to)
	return err
}
func (c *choosing) Reset()        {}
func (c *choosing) Logout() error { return nil }

// One full mailbox is no trouble with the server, and holds up nobody else's
// letter; what staff read of it is about that letter.
func TestOneRecipientOnly(t *testing.T) {
	o := post.Open(t, time.Hour)
	pair, err := tls.LoadX509KeyPair(o.Certificate())
	if err != nil {
		t.Fatal(err)
	}
	l, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12})
	if err != nil {
		t.Fatal(err)
	}
	there := &choosy{}
	server := smtp.NewServer(there)
	server.Domain = "patrons.example"
	go server.Serve(l)
	t.Cleanup(func() { server.Close() })
	now := time.Now().UTC()
	m := throughOffice(t, o)
	m.In, m.Out = desk.MailServer{}, desk.MailServer{Address: l.Addr().String()}
	d, _, _ := library(t, lite, &now, m)
	for i, who := range []string{"full", "gone", "ada"} {
		arrive(t, d, uint32(i+1), "From: "+who+"@patrons.example\n"+rest(enclose("hook.stl", []byte("solid "+who))))
	}
	svc := &Service{Desk: d, Every: 100 * time.Millisecond}
	serve(t, svc)
	until(t, func() bool { there.mu.Lock(); defer there.mu.Unlock(); return len(there.got) == 1 })
	var waits, given []desk.Posted
	until(t, func() bool {
		err := d.Store.Read(t.Context(), func(tx desk.Tx) (err error) {
			if waits, err = tx.ListPosted([]desk.PostState{desk.PostWaits}, 9); err != nil {
				return err
			}
			given, err = tx.ListPosted([]desk.PostState{desk.PostGivenUp}, 9)
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
		return len(waits) == 1 && len(given) == 1
	})
	if waits[0].Body.To != "full@patrons.example" || waits[0].Tries != 1 || !strings.Contains(waits[0].Trouble, "not taken for that address yet") {
		t.Errorf("waits: %+v", waits[0])
	}
	if given[0].Body.To != "gone@patrons.example" || !strings.Contains(given[0].Trouble, "refused for good") || strings.Contains(given[0].Trouble, "broke off") {
		t.Errorf("given up: %+v", given[0])
	}
	if said := svc.Troubles(); len(said) != 0 {
		t.Errorf("troubles: %q", said)
	}
}
