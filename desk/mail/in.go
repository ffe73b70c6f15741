package mail

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"time"

	"github.com/emersion/go-imap/v2"
	"github.com/emersion/go-imap/v2/imapclient"

	"platebook/desk"
)

// Place is where a message lies: what IMAP knows it by (RFC 9051 section
// 2.3.1.1). When the mailbox is made anew its Validity changes, and old UIDs
// mean nothing.
type Place struct {
	Mailbox  string
	Validity uint32
	UID      uint32
}

// Taker is who letters are for.
type Taker interface {
	// Fresh returns those of the UIDs whose message was not taken yet.
	Fresh(ctx context.Context, mailbox string, validity uint32, uids []uint32) ([]uint32, error)
	// Take keeps a letter and all it causes in one transaction, under its place
	// and the hash of its bytes; one that was taken before, by either, causes
	// nothing. A nil letter is one that could not be read, for the reason said.
	Take(ctx context.Context, at Place, bytes desk.Hash, l *Letter, unread string) error
	// Put and Open are the shelves for enclosures.
	Put(ctx context.Context, r io.Reader) (desk.Hash, int64, error)
	Open(ctx context.Context, h desk.Hash) (desk.Blob, error)
}

// In takes letters out of a mailbox, for as long as Run runs.
//
// Each message is read and handed to the Taker, and only then marked as seen
// and moved to the folder Filed: whatever breaks between two steps, the next
// round finds the message either not taken, or taken and not yet filed.
type In struct {
	Server  Server
	Mailbox string // empty is INBOX
	Filed   string // folder for messages taken; empty leaves them where they are
	// Every is how often to look where the server cannot tell of new messages
	// by itself (IDLE, RFC 2177), and at the latest in any case.
	Every  time.Duration
	Limits Limits
	Taker  Taker
	Log    *slog.Logger
	// Trouble hears how it goes: an error, or nil when all is well again.
	Trouble func(error)
	// Wait pauses; tests may make it short.
	Wait func(ctx context.Context, d time.Duration) error
}

func (in *In) setUp() {
	if in.Mailbox == "" {
		in.Mailbox = "INBOX"
	}
	if in.Every <= 0 {
		in.Every = time.Minute
	}
	if in.Limits == (Limits{}) {
		in.Limits = UsualLimits()
	}
	if in.Log == nil {
		in.Log = slog.New(slog.DiscardHandler)
	}
	if in.Trouble == nil {
		in.Trouble = func(error) {}
	}
	if in.Wait == nil {
		in.Wait = pause
	}
}

func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

// Run takes letters until ctx ends, connecting again after trouble.
func (in *In) Run(ctx context.Context) {
	in.setUp()
	for failures := 0; ctx.Err() == nil; {
		took, err := in.session(ctx, true)
		if ctx.Err() != nil {
			return
		}
		if took > 0 {
			failures = 0
		}
		failures++
		in.Trouble(err)
		in.Log.Warn("mailbox", "error", err, "failures", failures)
		if in.Wait(ctx, backOff(failures, 5*time.Minute)) != nil {
			return
		}
	}
}

// Once takes all letters that wait now, and returns how many were taken.
func (in *In) Once(ctx context.Context) (int, error) {
	in.setUp()
	return in.session(ctx, false)
}

// session is one connection. With stay it goes on until something breaks.
func (in *In) session(ctx context.Context, stay bool) (took int, err error) {
	news := make(chan struct{}, 1)
	c, err := in.connect(ctx, news)
	if err != nil {
		return 0, err
	}
	defer c.Close()
	// A connection that hangs must not outlive ctx.
	stop := context.AfterFunc(ctx, func() { c.Close() })
	defer stop()
	if in.Filed != "" {
		if err := ensureFolder(c, in.Filed); err != nil {
			return 0, err
		}
	}
	for {
		n, err := in.round(ctx, c, stay)
		took += n
		if err != nil {
			return took, err
		}
		if !stay {
			// All is taken: a server that hangs up without a farewell costs nothing.
			_ = c.Logout().Wait()
			return took, nil
		}
		if err := in.await(ctx, c, news); err != nil {
			return took, err
		}
	}
}

func (in *In) connect(ctx context.Context, news chan<- struct{}) (*imapclient.Client, error) {
	conf, err := in.Server.tls()
	if err != nil {
		return nil, err
	}
	options := &imapclient.Options{TLSConfig: conf, UnilateralDataHandler: &imapclient.UnilateralDataHandler{
		Mailbox: func(m *imapclient.UnilateralDataMailbox) {
			if m.NumMessages != nil {
				select {
				case news <- struct{}{}:
				default:
				}
			}
		},
	}}
	conf.NextProtos = []string{"imap"}
	conn, err := in.Server.dial(ctx, conf)
	if err != nil {
		return nil, err
	}
	var c *imapclient.Client
	if in.Server.StartTLS {
		if c, err = imapclient.NewStartTLS(conn, options); err != nil {
			if b, ok := conn.(*bound); ok && !b.heard.Load() { // the library says it otherwise
				err = fmt.Errorf("%w: %w", errGreeting, err)
			}
			return nil, err
		}
	} else {
		c = imapclient.New(conn, options)
	}
	if err := c.Login(in.Server.User, in.Server.Password).Wait(); err != nil {
		c.Close()
		var said *imap.Error
		if errors.As(err, &said) && said.Code != imap.ResponseCodeUnavailable {
			return nil, fmt.Errorf("%w: %w", errLogIn, err)
		}
		return nil, err
	}
	return c, nil
}

// ensureFolder makes the folder if it is not there.
func ensureFolder(c *imapclient.Client, name string) error {
	_, err := c.Status(name, &imap.StatusOptions{UIDValidity: true}).Wait()
	var said *imap.Error
	if errors.As(err, &said) {
		if err := c.Create(name, nil).Wait(); errors.As(err, &said) {
			return fmt.Errorf("%w: %w", errFolder, err)
		} else {
			return err
		}
	}
	return err
}

// round takes what lies in the mailbox, one message after another.
func (in *In) round(ctx context.Context, c *imapclient.Client, stay bool) (took int, err error) {
	box, err := c.Select(in.Mailbox, nil).Wait()
	if said := (*imap.Error)(nil); errors.As(err, &said) && said.Type == imap.StatusResponseTypeNo && said.Code != imap.ResponseCodeUnavailable && !strings.EqualFold(in.Mailbox, "INBOX") {
		return 0, fmt.Errorf("%w: %w", errMissing, err)
	} else if err != nil {
		return 0, err
	}
	found, err := c.UIDSearch(&imap.SearchCriteria{NotFlag: []imap.Flag{imap.FlagDeleted}}, nil).Wait()
	if err != nil {
		return 0, err
	}
	var all []uint32
	for _, u := range found.AllUIDs() {
		all = append(all, uint32(u))
	}
	fresh, err := in.Taker.Fresh(ctx, in.place(), box.UIDValidity, all)
	if err != nil {
		return 0, err
	}
	var trouble error
	isFresh := map[uint32]bool{}
	for _, u := range fresh {
		isFresh[u] = true
	}
	for _, u := range all {
		if ctx.Err() != nil {
			return took, ctx.Err()
		}
		if isFresh[u] {
			gone, err := in.take(ctx, c, Place{in.place(), box.UIDValidity, u})
			var f *desk.Fault
			if errors.As(err, &f) && f.Kind != desk.NoRoom {
				// One letter that cannot be taken must not hold up the others.
				in.Log.Error("letter not taken", "uid", u, "error", err)
				trouble = err
				continue
			}
			if err != nil {
				return took, err
			}
			if gone {
				continue
			}
			took++
		} else if in.Filed == "" {
			continue // taken and marked before; staff may have marked it otherwise since
		}
		if err := in.file(c, u); err != nil {
			return took, err
		}
	}
	if trouble != nil {
		in.Trouble(trouble)
		if !stay {
			return took, trouble
		}
	} else {
		in.Trouble(nil)
	}
	return took, nil
}

// place is the mailbox, told from those of the same name elsewhere: after a
// change of server or account UIDs mean something else.
func (in *In) place() string { return in.Server.User + "@" + in.Server.Address + "/" + in.Mailbox }

// take fetches one message and hands it on. Gone says that somebody else has
// taken it out of the mailbox meanwhile.
func (in *In) take(ctx context.Context, c *imapclient.Client, at Place) (gone bool, err error) {
	section := &imap.FetchItemBodySection{Peek: true}
	cmd := c.Fetch(imap.UIDSetNum(imap.UID(at.UID)), &imap.FetchOptions{UID: true, BodySection: []*imap.FetchItemBodySection{section}})
	var (
		letter *Letter
		unread string
		hash   desk.Hash
		fault  error
		seen   bool
	)
	for msg := cmd.Next(); msg != nil; msg = cmd.Next() {
		for item := msg.Next(); item != nil; item = msg.Next() {
			body, ok := item.(imapclient.FetchItemDataBodySection)
			if !ok || seen {
				continue
			}
			if seen = true; body.Literal == nil { // NIL (RFC 9051 section 7.5.2): it is there all the same
				hash, unread = desk.HashOf(nil), "the server gave none of it"
				continue
			}
			lit := &incoming{LiteralReader: body.Literal}
			letter, hash, unread, fault = in.read(ctx, lit)
			if lit.cut() {
				// The library's reader of answers has the connection again: asking
				// the command for more, even to close it, would read beside it.
				return false, fault
			}
		}
	}
	if err := cmd.Close(); err != nil && !expunged(err) {
		return false, err
	}
	if fault != nil {
		return false, fault
	}
	if !seen {
		return true, nil
	}
	if hash == desk.HashOf(nil) {
		if there, err := stillThere(c, at.UID); err != nil || !there {
			return true, err
		}
		// A server that cannot make out a message gives none of its bytes: two
		// such are not the same letter.
		hash = desk.HashOf(fmt.Appendf(nil, "%s %d %d", at.Mailbox, at.Validity, at.UID))
	}
	return false, in.Taker.Take(ctx, at, hash, letter, unread)
}

// stillThere says whether a message lies in the mailbox: of one that was taken
// out of it after we looked, some servers give NIL and say that all is well.
func stillThere(c *imapclient.Client, uid uint32) (bool, error) {
	if err := c.Noop().Wait(); err != nil { // hears what has changed
		return false, err
	}
	found, err := c.UIDSearch(&imap.SearchCriteria{UID: []imap.UIDSet{imap.UIDSetNum(imap.UID(uid))}}, nil).Wait()
	if err != nil {
		return false, err
	}
	return len(found.AllUIDs()) > 0, nil
}

// incoming is a message as it comes over the connection. An error is its last
// word: a literal that is read once more after one reads beside the library's
// own reader, whose turn it then is.
type incoming struct {
	imap.LiteralReader
	got int64
	err error
}

func (l *incoming) Read(p []byte) (int, error) {
	if l.err != nil {
		return 0, l.err
	}
	n, err := l.LiteralReader.Read(p)
	l.got, l.err = l.got+int64(n), err
	return n, err
}

// cut says that the connection broke off before the end.
func (l *incoming) cut() bool { return l.got < l.Size() }

// read reads a message from the connection to its end. The hash is that of
// every byte of it. Unread says why it is no letter we can read; an error is
// one of the shelves or of the connection.
func (in *In) read(ctx context.Context, lit *incoming) (l *Letter, hash desk.Hash, unread string, err error) {
	sum := sha256.New()
	src := io.TeeReader(lit, sum)
	keep := func(_ string, r io.Reader) (desk.Hash, int64, error) { return in.Taker.Put(ctx, r) }
	open := func(h desk.Hash) (desk.Blob, error) { return in.Taker.Open(ctx, h) }
	l, err = readSafely(src, keep, open, in.Limits)
	if _, cut := io.Copy(io.Discard, src); cut != nil {
		return nil, "", "", cut
	}
	if lit.cut() {
		return nil, "", "", fmt.Errorf("the message ended after %d of %d bytes: %w", lit.got, lit.Size(), io.ErrUnexpectedEOF)
	}
	hash = desk.Hash(hex.EncodeToString(sum.Sum(nil)))
	if err != nil {
		var f *desk.Fault
		if errors.As(err, &f) {
			return nil, "", "", err
		}
		return nil, hash, reason(err), nil
	}
	return l, hash, "", nil
}

// readSafely is Read; a mistake of ours in it costs that letter and no other.
func readSafely(r io.Reader, keep Keep, open func(desk.Hash) (desk.Blob, error), lim Limits) (l *Letter, err error) {
	defer func() {
		if p := recover(); p != nil {
			l, err = nil, fmt.Errorf("the program met a mistake of its own: %v", p)
		}
	}()
	return Read(r, keep, open, lim)
}

// file marks a message as seen and moves it to its folder.
func (in *In) file(c *imapclient.Client, uid uint32) error {
	set := imap.UIDSetNum(imap.UID(uid))
	err := c.Store(set, &imap.StoreFlags{Op: imap.StoreFlagsAdd, Silent: true, Flags: []imap.Flag{imap.FlagSeen}}, nil).Close()
	if err == nil && in.Filed != "" {
		_, err = c.Move(set, in.Filed).Wait()
	}
	if expunged(err) {
		return nil
	}
	return err
}

const expungeIssued imap.ResponseCode = "EXPUNGEISSUED"

// expunged says that the server refused because the message has left the
// mailbox meanwhile (RFC 5530 section 3): somebody filed it by hand, or the
// server only now carries out what we said before a connection broke.
func expunged(err error) bool {
	var said *imap.Error
	return errors.As(err, &said) && said.Code == expungeIssued
}

// await returns when there may be something new.
func (in *In) await(ctx context.Context, c *imapclient.Client, news <-chan struct{}) error {
	if !c.Caps().Has(imap.CapIdle) && !c.Caps().Has(imap.CapIMAP4rev2) {
		if err := in.Wait(ctx, in.Every); err != nil {
			return err
		}
		return c.Noop().Wait()
	}
	idle, err := c.Idle()
	if err != nil {
		return err
	}
	// Some servers let a connection die without a word: look in any case now
	// and then.
	t := time.NewTimer(max(in.Every, time.Minute) * 5)
	defer t.Stop()
	select {
	case <-ctx.Done():
	case <-c.Closed():
	case <-news:
	case <-t.C:
	}
	if err := idle.Close(); err != nil {
		return err
	}
	if err := idle.Wait(); err != nil {
		return err
	}
	return ctx.Err()
}
