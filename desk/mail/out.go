package mail

import (
	"context"
	"errors"
	"fmt"
	"html"
	"io"
	"net"
	netmail "net/mail"
	"net/textproto"
	"slices"
	"strconv"
	"strings"
	"time"

	gomail "github.com/wneessen/go-mail"
)

// Outgoing is a letter to be sent.
type Outgoing struct {
	ID         string // Message-ID without angle brackets; the same at every try, so that a letter sent twice is seen to be one
	InReplyTo  string
	References []string
	From, To   Address
	Subject    string
	Text       string
	Language   string // BCP 47
	Pictures   []Inline
	Sent       time.Time
	// Auto says that no person wrote it (RFC 3834): others' machines then do
	// not answer.
	Auto bool
}

// Inline is a picture that comes with the letter: nothing is loaded from elsewhere.
type Inline struct {
	Name string // such as "part.png"
	Says string // for those who do not see it
	Open func() (io.ReadCloser, error)
}

// Refused is an error that trying again will not mend: the server said so for good.
type Refused struct{ Err error }

func (r *Refused) Error() string { return "refused for good: " + r.Err.Error() }
func (r *Refused) Unwrap() error { return r.Err }

// Later is an error of one recipient that may pass: a full mailbox, or a server
// that wants to be asked twice. It says nothing of other letters.
type Later struct{ Err error }

func (l *Later) Error() string { return "not yet: " + l.Err.Error() }
func (l *Later) Unwrap() error { return l.Err }

// Out sends letters.
type Out struct {
	Server Server
	// Hello is what this machine calls itself to the server; empty is localhost.
	Hello   string
	Timeout time.Duration
}

// Send hands one letter to the server. When it returns nil the server has
// taken it over.
func (o Out) Send(ctx context.Context, l Outgoing) error {
	m, err := l.message()
	if err != nil {
		return &Refused{err}
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel() // the library leaves connections open where something went wrong
	c, err := o.client(ctx)
	if err != nil {
		return err
	}
	err = c.DialAndSendWithContext(ctx, m)
	if err == nil || m.IsDelivered() {
		return nil // trouble in saying goodbye comes after the letter was taken over
	}
	return o.why(err)
}

// Try logs in and leaves again: it finds a wrong password or a certificate that
// has run out before a letter meets them.
func (o Out) Try(ctx context.Context) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	c, err := o.client(ctx)
	if err != nil {
		return err
	}
	if err := c.DialWithContext(ctx); err != nil {
		return o.why(err)
	}
	_ = c.Close() // says QUIT; what goes wrong then is of no account
	return nil
}

// why tells what a failure is about: this letter, our password, or neither.
func (o Out) why(err error) error {
	var sent *gomail.SendError
	if errors.As(err, &sent) && !sent.IsTemp() && sent.ErrorCode() >= 500 &&
		slices.Contains([]gomail.SendErrReason{gomail.ErrSMTPRcptTo, gomail.ErrSMTPData, gomail.ErrSMTPDataClose}, sent.Reason) {
		// What is refused before the recipient is named is about us, not this letter.
		return &Refused{err}
	}
	if sent != nil && sent.Reason == gomail.ErrSMTPRcptTo && sent.ErrorCode() >= 400 && sent.ErrorCode() < 500 && sent.ErrorCode() != 421 {
		return &Later{err} // by 421 the server leaves (RFC 5321 section 4.2.3)
	}
	var reply *textproto.Error
	refusal := []int{530, 534, 535, 538} // RFC 4954 section 6
	if errors.As(err, &reply) && slices.Contains(refusal, reply.Code) || strings.Contains(err.Error(), "AUTH") {
		return fmt.Errorf("%w: %w", errLogIn, err)
	}
	return err
}

func (o Out) client(ctx context.Context) (*gomail.Client, error) {
	conf, err := o.Server.tls()
	if err != nil {
		return nil, err
	}
	host, portText, err := net.SplitHostPort(o.Server.Address)
	if err != nil {
		return nil, err
	}
	port, err := strconv.Atoi(portText)
	if err != nil {
		return nil, fmt.Errorf("%q is not a port: give a number", portText)
	}
	timeout := o.Timeout
	if timeout == 0 {
		timeout = time.Minute
	}
	opts := []gomail.Option{gomail.WithPort(port), gomail.WithTLSConfig(conf), gomail.WithTimeout(timeout)}
	opts = append(opts, gomail.WithDialContextFunc(func(context.Context, string, string) (net.Conn, error) { return o.Server.dial(ctx, conf) }))
	if o.Server.StartTLS {
		opts = append(opts, gomail.WithTLSPolicy(gomail.TLSMandatory))
	} else {
		opts = append(opts, gomail.WithTLSPolicy(gomail.TLSOpportunistic)) // dial has begun it, always: the client need only look
	}
	if o.Hello != "" {
		opts = append(opts, gomail.WithHELO(o.Hello))
	}
	if o.Server.User != "" {
		opts = append(opts, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(o.Server.User), gomail.WithPassword(o.Server.Password))
	}
	return gomail.NewClient(host, opts...)
}

// message writes the letter: plain text, and beside it the same as HTML with
// its pictures inside (RFC 2046 section 5.1.4, RFC 2392).
func (l Outgoing) message() (*gomail.Msg, error) {
	m := gomail.NewMsg(gomail.WithNoDefaultUserAgent())
	for _, a := range []Address{l.From, l.To} {
		if _, err := netmail.ParseAddress((&netmail.Address{Address: a.Mail}).String()); err != nil {
			return nil, fmt.Errorf("the address %q: %w", a.Mail, err)
		}
	}
	m.FromMailAddress(&netmail.Address{Name: oneLine(l.From.Name), Address: l.From.Mail})
	m.ToMailAddress(&netmail.Address{Name: oneLine(l.To.Name), Address: l.To.Mail})
	m.Subject(oneLine(l.Subject))
	m.SetDateWithValue(l.Sent)
	m.SetMessageIDWithValue(oneLine(l.ID))
	if l.InReplyTo != "" {
		m.SetGenHeaderPreformatted(gomail.HeaderInReplyTo, "<"+oneLine(l.InReplyTo)+">")
	}
	if len(l.References) > 0 {
		// One a line: RFC 5322 section 2.1.1 bounds lines to 998 characters.
		m.SetGenHeaderPreformatted(gomail.HeaderReferences, "<"+strings.Join(clean(l.References), ">\r\n <")+">")
	}
	if l.Auto {
		m.SetGenHeader("Auto-Submitted", "auto-generated")
	}
	if l.Language != "" {
		m.SetGenHeader("Content-Language", oneLine(l.Language))
	}
	m.SetBodyString(gomail.TypeTextPlain, l.Text)
	m.AddAlternativeString(gomail.TypeTextHTML, l.page())
	for i, p := range l.Pictures {
		r, err := p.Open()
		if err != nil {
			continue // the text says it all
		}
		err = m.EmbedReader(p.Name, r, gomail.WithFileContentID(inlineID(i)))
		r.Close()
		if err != nil {
			return nil, err
		}
	}
	return m, nil
}

func clean(ids []string) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = strings.ReplaceAll(oneLine(id), " ", "")
	}
	return out
}

func inlineID(i int) string { return fmt.Sprintf("picture%d", i+1) }

// page is the text as a plain page: paragraphs, links, and the pictures at the
// end. Styles are few, and every one stands in the letter.
func (l Outgoing) page() string {
	var b strings.Builder
	fmt.Fprintf(&b, "<!doctype html>\n<html lang=\"%s\"><head><meta charset=\"utf-8\"><title>%s</title></head>\n<body style=\"font-family:Georgia,serif;font-size:16px;line-height:1.5;color:#222;background:#fff;max-width:40em;overflow-wrap:anywhere\">\n", html.EscapeString(l.Language), html.EscapeString(l.Subject))
	for _, p := range strings.Split(strings.TrimSpace(strings.ReplaceAll(l.Text, "\r\n", "\n")), "\n\n") {
		b.WriteString(block(p))
	}
	for i, p := range l.Pictures {
		fmt.Fprintf(&b, "<p><img src=\"cid:%s\" alt=\"%s\" style=\"max-width:100%%\"></p>\n", inlineID(i), html.EscapeString(p.Says))
	}
	b.WriteString("</body></html>\n")
	return strings.ReplaceAll(b.String(), "</ul>\n<ul>\n", "") // items with an empty line between them are one list
}

// block is a paragraph as HTML. Lines that begin with a hyphen and a space are a
// list; what is set in under one belongs to it.
func block(text string) string {
	var b strings.Builder
	var lines []string // of the paragraph or the item so far
	list, item := false, false
	end := func() {
		if said := strings.ReplaceAll(linked(strings.Join(lines, "\n")), "\n", "<br>\n"); said != "" {
			tag := "p"
			if item {
				tag = "li"
			}
			fmt.Fprintf(&b, "<%s>%s</%s>\n", tag, said, tag)
		}
		lines = nil
	}
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		said, begins := strings.CutPrefix(line, "- ")
		switch goes := item && strings.HasPrefix(line, " "); {
		case begins || !goes && item:
			end()
			if begins && !list {
				b.WriteString("<ul>\n")
			} else if !begins {
				b.WriteString("</ul>\n")
			}
			list, item = begins, begins
		case goes:
			said = strings.TrimSpace(line)
		}
		lines = append(lines, said)
	}
	end()
	if list {
		b.WriteString("</ul>\n")
	}
	return b.String()
}

// linked escapes text and makes web addresses in it links.
func linked(text string) string {
	var b strings.Builder
	last := 0
	for _, m := range webAddress.FindAllStringIndex(text, -1) {
		address := strings.TrimRight(text[m[0]:m[1]], ".,;:!?)]}")
		if webLink(address) == "" {
			continue
		}
		b.WriteString(html.EscapeString(text[last:m[0]]))
		e := html.EscapeString(address)
		fmt.Fprintf(&b, `<a href="%s">%s</a>`, e, e)
		last = m[0] + len(address)
	}
	b.WriteString(html.EscapeString(text[last:]))
	return b.String()
}
