// Package post starts real mail servers for tests, from Debian's packages: an
// IMAP server (dovecot) and an SMTP server (exim) on loopback, with TLS signed
// by an authority made for the run. What is sent to an account by SMTP is found
// in its mailbox by IMAP.
//
// Without the servers, or without the right to start them, tests that need
// them are skipped; with CI=true they fail.
package post

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"math/big"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"time"
)

// Office is a pair of running servers.
type Office struct {
	IMAP, IMAPStartTLS, SMTP string // host:port; SMTP begins TLS after the greeting
	SMTPS                    string // with TLS at once (RFC 8314)
	Password                 string // of every account
	Roots                    *x509.CertPool
	dir                      string
}

// Accounts lists who has a mailbox: user name, and address at larkmere.example.
// Mail to anyone else there is refused when it is delivered, so a bounce comes
// back to its sender.
var Accounts = []string{"print", "patron", "staff"}

// Spare is how many mailboxes more there are to read, for tests that want a new
// one each time: print0, print1 and so on. What lies in them a test puts there.
const Spare = 100

// Domain is that of all accounts.
const Domain = "larkmere.example"

// Open starts the servers for a test, and stops them at its end. The
// certificate is good for the given time from now; one that has run out is
// made with a negative time.
func Open(t testing.TB, good time.Duration) *Office {
	t.Helper()
	need := func(format string, a ...any) {
		t.Helper()
		if os.Getenv("CI") == "true" {
			t.Fatalf(format, a...)
		}
		t.Skipf(format, a...)
	}
	if runtime.GOOS != "linux" {
		need("mail servers are started on Linux only")
	}
	for _, p := range []string{"dovecot", "exim4"} {
		if path(p) == "" {
			need("%s is not installed: run make setup", p)
		}
	}
	if os.Getuid() != 0 {
		need("mail servers can only be started by root here")
	}
	dir, err := os.MkdirTemp("", "post")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	o := &Office{dir: dir, Password: "only for tests", Roots: x509.NewCertPool()}
	if err := o.prepare(good); err != nil {
		t.Fatal(err)
	}
	in := o.start(t, path("dovecot"), "-F", "-c", filepath.Join(dir, "dovecot.conf"))
	// Exim is set-uid, and the kernel does not end such programs with their parent:
	// a shell does.
	out := o.start(t, "/bin/sh", "-c", `"$@" & trap "kill $!" TERM; wait $!`, "sh", path("exim4"), "-C", filepath.Join(dir, "exim.conf"), "-bdf", "-q5s", "-oP", filepath.Join(dir, "exim.pid"))
	for a, s := range map[string]*server{o.IMAP: in, o.IMAPStartTLS: in, o.SMTP: out, o.SMTPS: out} {
		if err := s.answers(a); err != nil {
			t.Fatalf("a mail server did not start: %v\n%s", err, o.logs())
		}
	}
	t.Cleanup(func() {
		if t.Failed() {
			t.Log(o.logs())
		}
	})
	return o
}

func path(program string) string {
	for _, dir := range []string{"/usr/sbin", "/usr/bin", "/usr/local/sbin"} {
		if p := filepath.Join(dir, program); exec.Command("test", "-x", p).Run() == nil {
			return p
		}
	}
	return ""
}

// server is one that runs.
type server struct {
	said  bytes.Buffer
	ended chan struct{}
	err   error // of its end
}

// start runs a server in a process group of its own, so that its children go
// with it. It goes when the tests are killed: the kernel minds the thread that
// started it, so that thread must stay.
func (o *Office) start(t testing.TB, program string, args ...string) *server {
	s := &server{ended: make(chan struct{})}
	cmd := exec.Command(program, args...)
	cmd.Stdout, cmd.Stderr = &s.said, &s.said
	cmd.SysProcAttr = inGroup()
	started := make(chan error, 1)
	go func() {
		runtime.LockOSThread()
		err := cmd.Start()
		started <- err
		if err == nil {
			s.err = cmd.Wait()
			close(s.ended)
		}
	}()
	if err := <-started; err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		askGroup(cmd.Process.Pid)
		select {
		case <-s.ended:
		case <-time.After(5 * time.Second):
			endGroup(cmd.Process.Pid)
			<-s.ended
		}
		if t.Failed() && s.said.Len() > 0 {
			t.Logf("%s: %s", program, s.said.String())
		}
	})
	return s
}

// host is an address on loopback (RFC 1122 section 3.2.1.3: all of 127/8) for the
// servers of these tests alone: between our finding a port free and a server's
// taking it, no other program is given it. Where there is only 127.0.0.1 it must do.
var host = sync.OnceValue(func() string {
	b := make([]byte, 3)
	rand.Read(b)
	h := net.IPv4(127, b[0]|1, b[1], b[2]|1).String()
	l, err := net.Listen("tcp", net.JoinHostPort(h, "0"))
	if err != nil {
		return "127.0.0.1"
	}
	l.Close()
	return h
})

func (o *Office) prepare(good time.Duration) error {
	host, ports := host(), make([]string, 4)
	for i := range ports {
		l, err := net.Listen("tcp", net.JoinHostPort(host, "0"))
		if err != nil {
			return err
		}
		defer l.Close() // held until all are known, so that they differ
		ports[i] = fmt.Sprint(l.Addr().(*net.TCPAddr).Port)
	}
	o.IMAP, o.IMAPStartTLS, o.SMTP, o.SMTPS = host+":"+ports[0], host+":"+ports[1], host+":"+ports[2], host+":"+ports[3]
	if err := o.certificate(good, net.ParseIP(host)); err != nil {
		return err
	}
	if err := os.Chmod(o.dir, 0o777); err != nil {
		return err
	}
	var users strings.Builder
	for _, a := range Accounts {
		fmt.Fprintf(&users, "%s:{PLAIN}%s\n", a, o.Password)
	}
	for i := range Spare {
		fmt.Fprintf(&users, "%s%d:{PLAIN}%s\n", Accounts[0], i, o.Password)
	}
	for _, d := range []string{"mail", "spool", "run", "state"} {
		if err := os.Mkdir(filepath.Join(o.dir, d), 0o777); err != nil {
			return err
		}
		if err := os.Chmod(filepath.Join(o.dir, d), 0o777); err != nil {
			return err
		}
	}
	fill := strings.NewReplacer("DIR", o.dir, "HOST", host, "IMAPS", ports[0], "IMAPTLS", ports[1], "SMTPS", ports[3], "SMTP", ports[2], "PASSWORD", o.Password, "ACCOUNTS", strings.Join(Accounts, " : "), "DOMAIN", Domain)
	for name, text := range map[string]string{"users": users.String(), "dovecot.conf": dovecotConf, "exim.conf": eximConf} {
		if err := os.WriteFile(filepath.Join(o.dir, name), []byte(fill.Replace(text)), 0o644); err != nil {
			return err
		}
	}
	return nil
}

const dovecotConf = `
protocols = imap
base_dir = DIR/run
state_dir = DIR/state
log_path = DIR/dovecot.log
ssl = yes
ssl_cert = <DIR/cert.pem
ssl_key = <DIR/key.pem
disable_plaintext_auth = yes
mail_location = maildir:DIR/mail/%u
first_valid_uid = 1
passdb {
  driver = passwd-file
  args = scheme=PLAIN username_format=%u DIR/users
}
userdb {
  driver = static
  args = uid=Debian-exim gid=Debian-exim home=DIR/mail/%u
}
auth_failure_delay = 0
mail_max_userip_connections = 1000
mailbox_idle_check_interval = 2 secs
service imap-login {
  inet_listener imap {
    address = HOST
    port = IMAPTLS
  }
  inet_listener imaps {
    address = HOST
    port = IMAPS
    ssl = yes
  }
}
service anvil {
  chroot =
}
namespace inbox {
  inbox = yes
  separator = /
}
`

const eximConf = `
primary_hostname = mx.DOMAIN
qualify_domain = DOMAIN
daemon_smtp_ports = SMTP : SMTPS
tls_on_connect_ports = SMTPS
local_interfaces = HOST
spool_directory = DIR/spool
log_file_path = DIR/exim-%slog
tls_advertise_hosts = *
tls_certificate = DIR/cert.pem
tls_privatekey = DIR/key.pem
acl_smtp_rcpt = rcpt
acl_smtp_data = data
never_users =
deliver_drop_privilege = true
keep_environment =
message_size_limit = 120M
ignore_bounce_errors_after = 1h
host_lookup =
rfc1413_query_timeout = 0s

begin acl
rcpt:
  accept authenticated = *
  deny message = log in first
data:
  accept

begin routers
here:
  driver = accept
  domains = DOMAIN
  local_parts = ACCOUNTS
  transport = mailbox
gone:
  driver = redirect
  allow_fail
  data = :fail: no such mailbox here

begin transports
mailbox:
  driver = appendfile
  maildir_format
  directory = DIR/mail/$local_part_data
  create_directory
  directory_mode = 0777
  mode = 0666
  delivery_date_add
  envelope_to_add
  return_path_add

begin retry
* * F,1h,5s

begin authenticators
plain:
  driver = plaintext
  public_name = PLAIN
  server_prompts = :
  server_condition = ${if eq{$auth3}{PASSWORD}}
  server_set_id = $auth2
  server_advertise_condition = ${if def:tls_in_cipher}
`

// certificate makes an authority and a certificate signed by it, for the servers
// and for what a test puts in their way at 127.0.0.1.
func (o *Office) certificate(good time.Duration, host net.IP) error {
	now := time.Now()
	authority := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "made for a test"},
		NotBefore: now.Add(-1000 * time.Hour), NotAfter: now.Add(1000 * time.Hour), IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageCertSign}
	caKey, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	ca, err := x509.CreateCertificate(rand.Reader, authority, authority, &caKey.PublicKey, caKey)
	if err != nil {
		return err
	}
	parsed, err := x509.ParseCertificate(ca)
	if err != nil {
		return err
	}
	o.Roots.AddCert(parsed)
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	leaf := &x509.Certificate{SerialNumber: big.NewInt(2), Subject: pkix.Name{CommonName: "127.0.0.1"}, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1), host},
		NotBefore: now.Add(-100 * time.Hour), NotAfter: now.Add(good), KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
	der, err := x509.CreateCertificate(rand.Reader, leaf, parsed, &key.PublicKey, caKey)
	if err != nil {
		return err
	}
	keyDER, err := x509.MarshalECPrivateKey(key)
	if err != nil {
		return err
	}
	cert := append(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: ca})...)
	if err := os.WriteFile(filepath.Join(o.dir, "cert.pem"), cert, 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(o.dir, "key.pem"), pem.EncodeToMemory(&pem.Block{Type: "EC PRIVATE KEY", Bytes: keyDER}), 0o644)
}

// answers waits until a server takes connections, for as long as it runs.
func (s *server) answers(address string) error {
	var err error
	for begun := time.Now(); time.Since(begun) < time.Minute; {
		var c net.Conn
		if c, err = net.DialTimeout("tcp", address, time.Second); err == nil {
			return c.Close()
		}
		select {
		case <-s.ended:
			return fmt.Errorf("%w: it ended: %v\n%s", err, s.err, s.said.Bytes())
		case <-time.After(20 * time.Millisecond):
		}
	}
	return err
}

func (o *Office) logs() string {
	var b strings.Builder
	for _, f := range []string{"dovecot.log", "exim-mainlog", "exim-paniclog"} {
		if text, err := os.ReadFile(filepath.Join(o.dir, f)); err == nil {
			fmt.Fprintf(&b, "%s:\n%s\n", f, text)
		}
	}
	return b.String()
}

// MailFolder is where an account's mailbox lies, as a maildir.
func (o *Office) MailFolder(account string) string { return filepath.Join(o.dir, "mail", account) }

// Certificate returns the files of the servers' certificate and its key.
func (o *Office) Certificate() (cert, key string) {
	return filepath.Join(o.dir, "cert.pem"), filepath.Join(o.dir, "key.pem")
}
