package mail

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"strings"
	"sync/atomic"
	"time"

	"github.com/emersion/go-imap/v2"
)

// Server is how to reach a mail server.
type Server struct {
	Address  string // host:port
	StartTLS bool   // TLS begins after the greeting (RFC 3207, RFC 9051); otherwise at once (RFC 8314)
	User     string
	Password string
	// Roots are trusted beside those of the system: for a library whose mail
	// server has a certificate of its own.
	Roots *x509.CertPool
}

func (s Server) tls() (*tls.Config, error) {
	host, _, err := net.SplitHostPort(s.Address)
	if err != nil {
		return nil, fmt.Errorf("%q is not the address of a mail server: give its name and port, such as mail.example.org:993", s.Address)
	}
	return &tls.Config{ServerName: host, RootCAs: s.Roots, MinVersion: tls.VersionTLS12}, nil
}

// dial connects to the server, with TLS where it begins at once. When ctx ends
// the connection is closed, whoever waits on it: a server that says nothing must
// hold up neither the end of the program nor the settings that mend it.
func (s Server) dial(ctx context.Context, conf *tls.Config) (net.Conn, error) {
	plain, err := (&net.Dialer{Timeout: 30 * time.Second}).DialContext(ctx, "tcp", s.Address)
	if err != nil {
		return nil, err
	}
	c := &bound{Conn: plain, early: s.StartTLS, stop: context.AfterFunc(ctx, func() { plain.Close() })}
	if s.StartTLS {
		return c, nil
	}
	soon, cancel := context.WithTimeout(ctx, 30*time.Second)
	defer cancel()
	secure := tls.Client(c, conf)
	if err := secure.HandshakeContext(soon); err != nil {
		c.Close()
		return nil, err
	}
	return secure, nil
}

// bound is a connection that a context may end.
type bound struct {
	net.Conn
	stop  func() bool
	early bool        // it is asked to say something before TLS begins
	heard atomic.Bool // it has said something
}

func (c *bound) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	if n > 0 {
		c.heard.Store(true)
	} else if err != nil && c.early && !c.heard.Load() {
		err = fmt.Errorf("%w: %w", errGreeting, err)
	}
	return n, err
}

func (c *bound) Close() error {
	c.stop()
	return c.Conn.Close()
}

var (
	errLogIn    = errors.New("log in")           // met while logging in
	errGreeting = errors.New("wait for a word")  // met before the server said anything
	errMissing  = errors.New("open the mailbox") // the server has no such mailbox
	errFolder   = errors.New("make the folder")  // the server refuses that folder
)

// Say puts a mail server's error into a sentence that says what to do.
// What is "the mail in" or "the mail out".
func Say(what string, err error) string {
	var (
		cert     x509.CertificateInvalidError
		unknown  x509.UnknownAuthorityError
		host     x509.HostnameError
		dns      *net.DNSError
		op       *net.OpError
		answered *imap.Error
		refused  *Refused
		later    *Later
		record   tls.RecordHeaderError
	)
	switch {
	case err == nil:
		return ""
	case errors.As(err, &refused):
		return "The letter was refused for good. See whether the patron's address is right, or reach them another way."
	case errors.As(err, &later):
		return "The letter is not taken for that address yet. It is tried again by itself."
	case errors.As(err, &cert) && cert.Reason == x509.Expired:
		return fmt.Sprintf("The certificate of the server for %s has run out or is not valid yet. Ask whoever runs the server to renew it, and see that this machine's clock is right.", what)
	case errors.As(err, &unknown):
		return fmt.Sprintf("The certificate of the server for %s is signed by nobody this machine trusts. Ask whoever runs the server, or name its certificate in the mail settings.", what)
	case errors.As(err, &host), errors.As(err, &cert):
		return fmt.Sprintf("The certificate of the server for %s is not one for that name. Check the server's name in the mail settings.", what)
	case errors.As(err, &record):
		return fmt.Sprintf("The server for %s does not begin with TLS at that port. Tick “TLS begins after the greeting” in the mail settings, or give the other port.", what)
	case errors.Is(err, errGreeting):
		return fmt.Sprintf("The server for %s says nothing at that port. Where a port begins with TLS at once, as 993 and 465 do, “TLS begins after the greeting” must not be ticked in the mail settings.", what)
	case errors.Is(err, errMissing):
		return fmt.Sprintf("The server for %s has no mailbox of that name. Check the mailbox in the mail settings; left empty it is INBOX.", what)
	case errors.Is(err, errFolder):
		return fmt.Sprintf("The server for %s does not have the folder for letters taken, and does not let the desk make it. Name another in the mail settings, or ask whoever runs the server to make it.", what)
	case errors.Is(err, errLogIn):
		return fmt.Sprintf("The server for %s refuses the user name or password. Enter them again in the mail settings.", what)
	case errors.As(err, &dns):
		return fmt.Sprintf("The server for %s is not found under its name. Check the name in the mail settings and the network.", what)
	case errors.As(err, &op) && op.Op == "dial":
		return fmt.Sprintf("The server for %s does not answer at its address. It is tried again by itself; if this lasts, check the address and the network.", what)
	case errors.As(err, &answered):
		return fmt.Sprintf("The server for %s said: %s. It is tried again by itself; if this lasts, ask whoever runs the server.", what, strings.TrimSuffix(reason(errors.New(answered.Text)), "."))
	}
	return fmt.Sprintf("The connection for %s broke off. It is made again by itself.", what)
}

// backOff is how long to wait after the nth failure in a row, n from 1.
func backOff(n int, most time.Duration) time.Duration {
	d := time.Second
	for ; n > 1 && d < most; n-- {
		d *= 2
	}
	return min(d, most)
}
