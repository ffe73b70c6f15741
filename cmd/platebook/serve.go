package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // a library's time zone is known on any machine

	"platebook/desk"
	"platebook/desk/web"
)

// serveCommand opens a library's desk until it is told to stop.
type serveCommand struct {
	house
	door
	NoMail bool `help:"Leave the library's mailbox alone: no letter is fetched and none goes out. For looking at a restored copy."`
}

// door is how the desk is reached.
type door struct {
	Address     string    `help:"Address to listen at; :8420 is every network this machine is on." default:"127.0.0.1:8420" env:"PLATEBOOK_ADDRESS"`
	Outside     *webURL   `help:"How browsers reach the desk, for links in messages, such as https://prints.library.example." placeholder:"URL" env:"PLATEBOOK_OUTSIDE"`
	Certificate string    `help:"TLS certificate with its chain, PEM; read anew when it changes." placeholder:"FILE" type:"path" env:"PLATEBOOK_CERTIFICATE"`
	Key         string    `help:"Private key of the certificate, PEM." placeholder:"FILE" type:"path" env:"PLATEBOOK_KEY"`
	BehindProxy []network `help:"Networks of reverse proxies whose word on who they forward for is taken, such as 127.0.0.1 or 10.0.0.0/8." placeholder:"NETWORK" env:"PLATEBOOK_BEHIND_PROXY"`
	Quiet       bool      `help:"Log only what went wrong."`

	Limits web.Limits `kong:"-"`
}

// webURL is an address on the web without a path.
type webURL struct{ *url.URL }

func (u *webURL) UnmarshalText(text []byte) error {
	v, err := url.Parse(strings.TrimSuffix(string(text), "/"))
	if err != nil || v.Scheme != "http" && v.Scheme != "https" || v.Host == "" || v.Path != "" || v.RawQuery != "" || v.Fragment != "" || v.User != nil {
		return fmt.Errorf("%q is not the address of a site: write it like https://prints.library.example", text)
	}
	u.URL = v
	return nil
}

// network is an address or a network of them.
type network netip.Prefix

func (n *network) UnmarshalText(text []byte) error {
	s := strings.TrimSpace(string(text))
	if a, err := netip.ParseAddr(s); err == nil {
		a = a.Unmap()
		*n = network(netip.PrefixFrom(a, a.BitLen()))
		return nil
	}
	p, err := netip.ParsePrefix(s)
	if err != nil {
		return fmt.Errorf("%q is not an address or a network: write it like 127.0.0.1 or 10.0.0.0/8", text)
	}
	*n = network(p.Masked())
	return nil
}

func (n network) String() string { return netip.Prefix(n).String() }

func (c *serveCommand) Run(s *streams) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	context.AfterFunc(ctx, stop) // a second signal ends at once
	return c.serve(ctx, s)
}

// serve serves until ctx is done. What makes it return an error is said in words.
func (c *serveCommand) serve(ctx context.Context, s *streams) error {
	// The address first, so that a second desk is told before it touches anything.
	listener, err := c.listen()
	if err != nil {
		return err
	}
	return c.serveAt(ctx, s, listener)
}

func (c *serveCommand) serveAt(ctx context.Context, s *streams, listener net.Listener) error {
	return c.opened(ctx, s, listener, func(ctx context.Context, r *rooms, h http.Handler) error {
		if !c.NoMail {
			defer r.post(ctx)()
		}
		c.welcome(s, listener.Addr(), r.desk.SetUpWord)
		return c.answer(ctx, s, listener, h, r.log)
	})
}

// opened opens the desk, has something done with it, and closes it in order
// whatever happens. Should another desk take the database over, the context
// ends.
func (c *serveCommand) opened(ctx context.Context, s *streams, listener net.Listener, do func(context.Context, *rooms, http.Handler) error) (err error) {
	defer listener.Close()
	r, err := c.house.open(ctx, c.logger(s))
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.close(context.WithoutCancel(ctx))) }()
	ctx, end := context.WithCancelCause(ctx)
	defer end(nil)
	go func() {
		select {
		case <-r.store.Lost():
			end(errTaken)
		case <-ctx.Done():
		}
	}()
	defer func() {
		if cause := context.Cause(ctx); errors.Is(cause, errTaken) {
			err = errors.Join(cause, err)
		}
	}()
	first, err := r.desk.NeedsManager(ctx)
	if err != nil {
		return err
	}
	if first {
		r.desk.SetUpWord = desk.NewWord()
	}
	site, err := r.site(c.site())
	if err != nil {
		return err
	}
	if err := r.work.Start(ctx); err != nil {
		return err
	}
	return do(ctx, r, site.Handler())
}

var errTaken = errors.New("this desk was cut off from its database, and another desk works on that now: this one is closed. Let only one of them run, or give each a database of its own")

func (d *door) logger(s *streams) *slog.Logger {
	level := slog.LevelInfo
	if d.Quiet {
		level = slog.LevelWarn
	}
	return slog.New(slog.NewTextHandler(s.err, &slog.HandlerOptions{Level: level}))
}

func (d *door) secure() bool {
	return d.Certificate != "" || d.Outside != nil && d.Outside.Scheme == "https"
}

func (d *door) site() web.Options {
	o := web.Options{Secure: d.secure(), Limits: d.Limits}
	if d.Outside != nil {
		o.Address = d.Outside.String()
	}
	for _, n := range d.BehindProxy {
		o.Proxies = append(o.Proxies, netip.Prefix(n))
	}
	return o
}

// listen takes the address.
func (d *door) listen() (net.Listener, error) {
	if (d.Certificate == "") != (d.Key == "") {
		return nil, errors.New("TLS needs both files: give --certificate and --key")
	}
	var config *tls.Config
	if d.Certificate != "" {
		pair := &keyPair{certificate: d.Certificate, key: d.Key}
		if _, err := pair.get(nil); err != nil {
			return nil, err
		}
		config = &tls.Config{GetCertificate: pair.get, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"}}
	}
	l, err := net.Listen("tcp", d.Address)
	switch {
	case errors.Is(err, syscall.EADDRINUSE) || err != nil && strings.Contains(err.Error(), "Only one usage of each socket address"):
		return nil, fmt.Errorf("something else listens at %s already, perhaps another desk: stop it, or choose another address with --address", d.Address)
	case errors.Is(err, syscall.EACCES):
		return nil, fmt.Errorf("this account may not listen at %s: choose a port of 1024 or above with --address, or put a reverse proxy before the desk", d.Address)
	case err != nil:
		return nil, fmt.Errorf("cannot listen at %s: %w", d.Address, err)
	}
	if config != nil {
		l = tls.NewListener(l, config)
	}
	return l, nil
}

// url is where a browser on this machine finds the desk.
func (d *door) url(at net.Addr) string {
	if d.Outside != nil {
		return d.Outside.String()
	}
	scheme := "http"
	if d.Certificate != "" {
		scheme = "https"
	}
	host, port, err := net.SplitHostPort(at.String())
	if err != nil {
		return scheme + "://" + at.String()
	}
	if ip, err := netip.ParseAddr(host); err == nil && ip.IsUnspecified() {
		host = "localhost"
	}
	return scheme + "://" + net.JoinHostPort(host, port)
}

func (c *serveCommand) welcome(s *streams, at net.Addr, word string) {
	fmt.Fprintf(s.out, "The desk is open at %s\nEverything is kept in %s\n", c.url(at), c.kept())
	if word != "" {
		fmt.Fprintf(s.out, "It has no manager yet. Open the address and set it up with this word: %s\n", word)
	}
	if host, _, err := net.SplitHostPort(at.String()); err == nil && !c.secure() {
		if ip, err := netip.ParseAddr(host); err == nil && !ip.IsLoopback() {
			fmt.Fprintln(s.out, "Caution: without TLS, passwords and patrons' links can be read on the network. Give --certificate and --key, or put a reverse proxy with TLS before the desk.")
		}
	}
	fmt.Fprintln(s.out, "Stop it with Ctrl-C.")
}

// kept says where everything is kept, without the database's password.
func (h house) kept() string {
	if h.Database == "" {
		return h.Folder
	}
	if u, err := url.Parse(h.Database); err == nil {
		return h.Folder + " and " + u.Redacted()
	}
	return h.Folder + " and the database"
}

// longestGoodbye is how long requests that have begun may take when the desk stops.
const longestGoodbye = 20 * time.Second

// answer answers until ctx is done, then takes no more and finishes what has begun.
func (d *door) answer(ctx context.Context, s *streams, l net.Listener, h http.Handler, log *slog.Logger) error {
	server := &http.Server{
		Handler:           h,
		ReadHeaderTimeout: 10 * time.Second, // bodies are paced by the pages that take them
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    64 << 10,
		ErrorLog:          slog.NewLogLogger(log.Handler(), slog.LevelWarn),
	}
	ended := make(chan error, 1)
	go func() { ended <- server.Serve(l) }()
	select {
	case err := <-ended:
		return fmt.Errorf("the desk cannot listen any longer: %w", err)
	case <-ctx.Done():
	}
	fmt.Fprintln(s.out, "Closing the desk: what has begun is finished first.")
	late, cancel := context.WithTimeout(context.WithoutCancel(ctx), longestGoodbye)
	defer cancel()
	if err := server.Shutdown(late); err != nil {
		server.Close()
		log.Warn("some pages were broken off", "err", err)
	}
	return nil
}
