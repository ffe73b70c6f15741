package mail

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"platebook/desk"
)

// Service keeps the library's mail going as its settings say: letters in,
// letters out. The desk goes on without it; what is wrong is told by Troubles.
type Service struct {
	Desk *desk.Desk
	Log  *slog.Logger
	// Every is how often settings and outbox are looked at; 0 is 2 s.
	Every time.Duration
	// Try is how often the server for the mail out is tried when nothing is
	// wrong with it; 0 is an hour.
	Try time.Duration

	mu       sync.Mutex
	troubles map[string]string // "settings", "in", "reach", "out", "owed" → a sentence
}

// Troubles says in sentences what is wrong with the mail now; none is well.
func (s *Service) Troubles() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	var out []string
	for _, k := range []string{"settings", "in", "reach", "out", "owed"} {
		if say := s.troubles[k]; say != "" && !slices.Contains(out, say) {
			out = append(out, say)
		}
	}
	return out
}

func (s *Service) trouble(what, say string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.troubles == nil {
		s.troubles = map[string]string{}
	}
	s.troubles[what] = say
}

// Run keeps the mail until ctx ends. When the settings change it begins anew.
func (s *Service) Run(ctx context.Context) {
	if s.Log == nil {
		s.Log = slog.New(slog.DiscardHandler)
	}
	if s.Every <= 0 {
		s.Every = 2 * time.Second
	}
	if s.Try <= 0 {
		s.Try = time.Hour
	}
	version := -1
	stop := func() {}
	defer func() { stop() }()
	for {
		set, err := s.Desk.Settings(ctx)
		switch v := set.Versions[desk.MailSetting]; {
		case err != nil:
			s.Log.Warn("mail settings", "error", err)
		case v != version:
			version = v
			stop()
			stop = s.begin(ctx, set)
		}
		if pause(ctx, s.Every) != nil {
			return
		}
	}
}

// begin starts what the settings say, and returns what ends it.
func (s *Service) begin(ctx context.Context, set desk.Settings) (stop func()) {
	s.mu.Lock()
	s.troubles = nil
	s.mu.Unlock()
	if !set.Mail.On {
		return func() {}
	}
	in, out, err := s.servers(set.Mail)
	if err != nil {
		s.trouble("settings", sentence(err))
		return func() {}
	}
	ctx, cancel := context.WithCancel(ctx)
	var running sync.WaitGroup
	if in.Address != "" {
		box := &In{Server: in, Mailbox: set.Mail.Mailbox, Filed: set.Mail.Filed, Taker: taker{s.Desk}, Log: s.Log, Every: 30 * time.Second,
			Trouble: func(err error) { s.trouble("in", sentenceFor("the mail in", err)) }}
		running.Go(func() { box.Run(ctx) })
	}
	if out.Address != "" {
		running.Go(func() { s.sendAll(ctx, Out{Server: out}, set.Mail) })
		running.Go(func() { s.tryOut(ctx, Out{Server: out}) })
	}
	return func() { cancel(); running.Wait() }
}

func (s *Service) servers(m desk.MailSettings) (in, out Server, err error) {
	var roots *x509.CertPool
	if strings.TrimSpace(m.Roots) != "" {
		if roots, err = x509.SystemCertPool(); err != nil {
			roots = x509.NewCertPool()
		}
		if !roots.AppendCertsFromPEM([]byte(m.Roots)) {
			return in, out, desk.Faultf(desk.Wrong, "The certificate in the mail settings cannot be read. It must be PEM text.")
		}
	}
	open := func(of desk.MailServer) (Server, error) {
		password, err := s.Desk.Unseal(of.Sealed)
		return Server{Address: of.Address, StartTLS: of.StartTLS, User: of.User, Password: password, Roots: roots}, err
	}
	if in, err = open(m.In); err != nil {
		return in, out, err
	}
	out, err = open(m.Out)
	return in, out, err
}

// sentenceFor says what is wrong, be it with a server or with the desk.
func sentenceFor(what string, err error) string {
	var f *desk.Fault
	if errors.As(err, &f) {
		return fmt.Sprintf("A letter could not be taken: %s", f.Say)
	}
	return Say(what, err)
}

func sentence(err error) string {
	var f *desk.Fault
	if errors.As(err, &f) {
		return f.Say
	}
	return Say("the mail", err)
}

// tryOut tries the server for the mail out at once, and again and again: what is
// wrong with it stands on Today before a letter is owed. Once it is there again,
// letters that wait for a later try need wait no longer.
func (s *Service) tryOut(ctx context.Context, out Out) {
	for failures := 0; ; {
		err := out.Try(ctx)
		wait := s.Try
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			s.Log.Warn("mail out", "error", err)
			s.trouble("reach", Say("the mail out", err))
			s.owed(ctx)
			failures++
			wait = min(wait, backOff(failures, 5*time.Minute))
		default:
			if failures > 0 {
				failures = 0
				if err := s.Desk.HurryPosted(ctx); err != nil {
					s.Log.Warn("outbox", "error", err)
				}
			}
			s.trouble("reach", "")
		}
		if pause(ctx, wait) != nil {
			return
		}
	}
}

// sendAll sends what is due, for as long as ctx goes on. A server that is not
// reached holds up all letters alike, so then the rest of a round is left.
func (s *Service) sendAll(ctx context.Context, out Out, m desk.MailSettings) {
	for failures := 0; ; {
		well, err := s.sendDue(ctx, out, m)
		wait := s.Every
		switch {
		case ctx.Err() != nil:
			return
		case err != nil:
			s.Log.Warn("outbox", "error", err)
			s.trouble("out", sentenceFor("the mail out", err))
			s.owed(ctx)
			failures++
			wait = max(wait, backOff(failures, time.Minute))
		case well:
			failures = 0
			s.trouble("out", "")
			s.trouble("owed", "")
		}
		if pause(ctx, wait) != nil {
			return
		}
	}
}

// sendDue sends what is due. Well says that a letter went out.
func (s *Service) sendDue(ctx context.Context, out Out, m desk.MailSettings) (well bool, err error) {
	due, err := s.Desk.DuePosted(ctx, 20)
	if err != nil {
		return false, err
	}
	if len(due) == 0 {
		return s.nothingOwed(ctx)
	}
	for _, p := range due {
		p, err := s.Desk.ToPost(ctx, p.ID)
		if desk.KindOf(err) == desk.NotFound {
			continue
		}
		if err != nil {
			return well, err
		}
		err = out.Send(ctx, s.letter(ctx, p, m))
		if ctx.Err() != nil {
			return well, ctx.Err() // the letter is tried again: the same Message-ID says that it is the same
		}
		if err == nil {
			if err := s.Desk.PostSent(ctx, p.ID); err != nil {
				return well, err
			}
			well = true
			continue
		}
		var refused *Refused
		var later *Later
		final := errors.As(err, &refused)
		if err := s.Desk.PostFailed(ctx, p.ID, Say("the mail out", err)+" ("+reason(err)+")", final); err != nil {
			return well, err
		}
		if !final && !errors.As(err, &later) {
			return well, err
		}
		well = true // the server answers: it is the one letter
	}
	return well, nil
}

// mostOwed is how many letters that wait are counted; more are said to be more.
const mostOwed = 500

// owed says how many letters wait to go out, while they cannot.
func (s *Service) owed(ctx context.Context) {
	var waiting []desk.Posted
	err := s.Desk.Store.Read(ctx, func(tx desk.Tx) (err error) {
		waiting, err = tx.ListPosted([]desk.PostState{desk.PostWaits}, mostOwed+1)
		return err
	})
	switch n := len(waiting); {
	case err != nil || n == 0:
		s.trouble("owed", "")
	case n == 1:
		s.trouble("owed", "One letter waits to go out. It is kept, and sent by itself once the server takes it.")
	case n > mostOwed:
		s.trouble("owed", fmt.Sprintf("More than %d letters wait to go out. They are kept, and sent by themselves once the server takes them.", mostOwed))
	default:
		s.trouble("owed", fmt.Sprintf("%d letters wait to go out. They are kept, and sent by themselves once the server takes them.", n))
	}
}

// nothingOwed says whether no letter is waiting for a later try: then nothing
// is wrong any more.
func (s *Service) nothingOwed(ctx context.Context) (bool, error) {
	var waiting []desk.Posted
	err := s.Desk.Store.Read(ctx, func(tx desk.Tx) (err error) {
		waiting, err = tx.ListPosted([]desk.PostState{desk.PostWaits}, 1)
		return err
	})
	return len(waiting) == 0, err
}

// letter is one of the outbox, ready to go.
func (s *Service) letter(ctx context.Context, p desk.Posted, m desk.MailSettings) Outgoing {
	l := Outgoing{
		ID: p.MailID, InReplyTo: p.Body.InReplyTo, References: p.Body.References,
		From: Address{Name: m.FromName, Mail: m.From}, To: Address{Name: p.Body.Name, Mail: p.Body.To},
		Subject: p.Body.Subject, Text: p.Body.Text, Language: p.Body.Language, Sent: p.Made, Auto: p.Body.Auto,
	}
	for _, q := range p.Body.Pictures {
		b, err := s.Desk.Shelves.Open(ctx, q.Hash)
		if err != nil {
			continue // the letter goes without: its text says it all
		}
		b.Close()
		l.Pictures = append(l.Pictures, Inline{Name: q.Name, Says: q.Says, Open: func() (io.ReadCloser, error) { return s.Desk.Shelves.Open(ctx, q.Hash) }})
	}
	return l
}
