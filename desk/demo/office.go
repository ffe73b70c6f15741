package demo

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"log"
	"math/big"
	"net"
	"strings"
	"sync"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapserver"
	"github.com/emersion/go-imap/v2/imapserver/imapmemserver"
	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"

	"platebook/desk"
)

// Office is the post office of the demonstration: an IMAP and an SMTP server
// within the program, in memory, on loopback. Nothing leaves the machine: what
// is sent to anyone lies in the office for all to see.
type Office struct {
	imap, smtp net.Listener
	box        *imapmemserver.User
	mailbox    string
	cert       tls.Certificate
	roots      string
	imapServer *imapserver.Server
	smtpServer *smtp.Server

	mu   sync.Mutex
	sent []Sent
}

// Sent is a letter the desk sent to a patron.
type Sent struct {
	At  time.Time
	To  string
	Raw []byte
}

const (
	deskAddress  = "prints@larkmere.example"
	postPassword = "only within this program"
	mostKept     = 200
)

// OpenOffice starts the office. Close ends it.
func OpenOffice() (*Office, error) {
	// UIDs begin at 1 with every start, so the mailbox has a name of its own
	// each time: a desk that goes on must not take new letters for old ones.
	o := &Office{box: imapmemserver.NewUser("prints", postPassword), mailbox: "Post " + time.Now().UTC().Format("2006-01-02 150405.000")}
	if err := o.certify(); err != nil {
		return nil, err
	}
	if err := o.box.Create(o.mailbox, nil); err != nil {
		return nil, err
	}
	conf := &tls.Config{Certificates: []tls.Certificate{o.cert}, MinVersion: tls.VersionTLS12}
	var err error
	if o.imap, err = tls.Listen("tcp", "127.0.0.1:0", conf); err != nil {
		return nil, err
	}
	if o.smtp, err = tls.Listen("tcp", "127.0.0.1:0", conf); err != nil {
		return nil, errors.Join(err, o.imap.Close())
	}
	users := imapmemserver.New()
	users.AddUser(o.box)
	quiet := log.New(io.Discard, "", 0)
	o.imapServer = imapserver.New(&imapserver.Options{
		NewSession: func(*imapserver.Conn) (imapserver.Session, *imapserver.GreetingData, error) {
			return users.NewSession(), nil, nil
		},
		Caps:   imap.CapSet{imap.CapIMAP4rev1: {}, imap.CapIMAP4rev2: {}},
		Logger: quiet,
	})
	o.smtpServer = smtp.NewServer(smtp.BackendFunc(func(*smtp.Conn) (smtp.Session, error) { return &posting{office: o}, nil }))
	o.smtpServer.Domain, o.smtpServer.MaxMessageBytes, o.smtpServer.MaxRecipients = "larkmere.example", 64<<20, 10
	o.smtpServer.ReadTimeout, o.smtpServer.WriteTimeout = time.Minute, time.Minute
	o.smtpServer.ErrorLog = quiet
	go o.imapServer.Serve(o.imap)
	go o.smtpServer.Serve(o.smtp)
	return o, nil
}

// Close ends the office.
func (o *Office) Close() error {
	return errors.Join(o.imapServer.Close(), o.smtpServer.Close())
}

// Settings are the mail settings of a desk whose post goes by this office.
func (o *Office) Settings(d *desk.Desk, branch desk.ID) (desk.MailSettings, error) {
	sealed, err := d.Seal(postPassword)
	if err != nil {
		return desk.MailSettings{}, err
	}
	return desk.MailSettings{On: true, Mailbox: o.mailbox, Filed: "Taken", From: deskAddress, FromName: "Larkmere Libraries",
		Branch: branch, Verdict: true, Roots: o.roots,
		In:  desk.MailServer{Address: o.imap.Addr().String(), User: "prints", Sealed: sealed},
		Out: desk.MailServer{Address: o.smtp.Addr().String(), User: "prints", Sealed: sealed}}, nil
}

// Join has the desk's post go by this office.
func (o *Office) Join(ctx context.Context, d *desk.Desk) error {
	return d.Store.Write(ctx, func(tx desk.Tx) error {
		branches, err := tx.Branches()
		if err != nil {
			return err
		}
		if len(branches) == 0 {
			return errors.New("demo: there is no branch to take the post")
		}
		set, err := o.Settings(d, branches[0].ID)
		if err != nil {
			return err
		}
		return d.SettleMail(tx, set)
	})
}

// Deliver puts a letter into the desk's mailbox.
func (o *Office) Deliver(raw []byte) error {
	_, err := o.box.Append(o.mailbox, literal{bytes.NewReader(raw)}, &imap.AppendOptions{Time: time.Now()})
	return err
}

type literal struct{ *bytes.Reader }

// Out lists what the desk sent, newest first.
func (o *Office) Out() []Sent {
	o.mu.Lock()
	defer o.mu.Unlock()
	out := make([]Sent, 0, len(o.sent))
	for i := len(o.sent) - 1; i >= 0; i-- {
		out = append(out, o.sent[i])
	}
	return out
}

// posting is one connection of somebody who sends.
type posting struct {
	office *Office
	in     bool
	to     []string
}

func (p *posting) AuthMechanisms() []string { return []string{sasl.Plain} }

func (p *posting) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, user, password string) error {
		if user != "prints" || password != postPassword {
			return smtp.ErrAuthFailed
		}
		p.in = true
		return nil
	}), nil
}

func (p *posting) Mail(string, *smtp.MailOptions) error {
	if !p.in {
		return smtp.ErrAuthRequired
	}
	return nil
}

func (p *posting) Rcpt(to string, _ *smtp.RcptOptions) error {
	p.to = append(p.to, to)
	return nil
}

func (p *posting) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	o := p.office
	o.mu.Lock()
	defer o.mu.Unlock()
	o.sent = append(o.sent, Sent{At: time.Now(), To: strings.Join(p.to, ", "), Raw: raw})
	if len(o.sent) > mostKept {
		o.sent = o.sent[len(o.sent)-mostKept:]
	}
	return nil
}

func (p *posting) Reset()        { p.to = nil }
func (p *posting) Logout() error { return nil }

// certify makes a certificate for this start only.
func (o *Office) certify() error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	now := time.Now()
	own := &x509.Certificate{SerialNumber: big.NewInt(now.UnixNano()), Subject: pkix.Name{CommonName: "Larkmere post office"}, IsCA: true, BasicConstraintsValid: true,
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)}, NotBefore: now.Add(-time.Hour), NotAfter: now.AddDate(1, 0, 0),
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	der, err := x509.CreateCertificate(rand.Reader, own, own, &key.PublicKey, key)
	if err != nil {
		return fmt.Errorf("certificate of the post office: %w", err)
	}
	o.cert = tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}
	o.roots = string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}))
	return nil
}
