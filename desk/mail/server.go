package mail

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"strings"
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

// errLogIn marks an error met while logging in.
var errLogIn = errors.New("log in")

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
