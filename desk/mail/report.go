package mail

import (
	"bufio"
	"errors"
	"io"
	netmail "net/mail"
	"regexp"
	"slices"
	"strings"

	"github.com/emersion/go-message"
	"github.com/emersion/go-message/textproto"
)

// deliveryStatus reads what happened to a letter of ours (RFC 3464 section 2):
// fields about the letter, then a group of fields for each recipient. The
// first recipient that failed for good counts, else the first that is named.
func (rd *reader) deliveryStatus(e *message.Entity) error {
	b := rd.let.Bounce
	br := bufio.NewReader(io.LimitReader(e.Body, 1<<16))
	for groups := 0; groups < 50; groups++ {
		h, err := textproto.ReadHeader(br)
		if t, err := netmail.ParseDate(h.Get("Arrival-Date")); err == nil && b.Arrived.IsZero() {
			b.Arrived = t.UTC()
		}
		if h.Has("Final-Recipient") || h.Has("Original-Recipient") {
			one := Bounce{
				For:    typed(h.Get("Final-Recipient")),
				Status: statusCode.FindString(h.Get("Status")), // a comment may follow it
				Says:   shorten(typed(h.Get("Diagnostic-Code")), 300),
				Final:  strings.EqualFold(strings.TrimSpace(h.Get("Action")), "failed"),
			}
			if o := typed(h.Get("Original-Recipient")); o != "" {
				one.For = o // the address we wrote to, before anyone's forwarding
			}
			named := b.Named
			if one.Final {
				for _, f := range []string{"Original-Recipient", "Final-Recipient"} {
					if a := mailRecipient(h.Get(f)); a != "" && !slices.Contains(named, a) {
						named = append(named, a)
					}
				}
			}
			if b.For == "" || one.Final && !b.Final {
				one.Of, one.Arrived = b.Of, b.Arrived
				*b = one
			}
			b.Named = named
		}
		if err != nil {
			if !errors.Is(err, io.EOF) {
				rd.odd("A report of delivery could not be read to its end: %s.", why(err))
			}
			break
		}
		if _, err := br.Peek(1); err != nil {
			break
		}
	}
	return nil
}

// statusCode is that of RFC 3463 section 2.
var statusCode = regexp.MustCompile(`\b[245]\.[0-9]{1,3}\.[0-9]{1,3}\b`)

// mailRecipient is the mail address of a recipient field; other kinds (RFC 3464
// section 2.3.1) name nobody we wrote to.
func mailRecipient(field string) string {
	kind, _, _ := strings.Cut(field, ";")
	a := typed(field)
	switch strings.ToLower(strings.TrimSpace(kind)) {
	case "rfc822", "utf-8": // the latter of RFC 6533
		if strings.Contains(a, "@") {
			return a
		}
	}
	return ""
}

// returnedHeaders finds in a returned letter, or its header, which it was.
func (rd *reader) returnedHeaders(e *message.Entity) error {
	h, err := textproto.ReadHeader(bufio.NewReader(io.LimitReader(e.Body, 1<<18)))
	if err != nil && !errors.Is(err, io.EOF) {
		return nil
	}
	if id := first(identifiers(h.Get("Message-Id"))); id != "" && rd.let.Bounce != nil && rd.let.Bounce.Of == "" {
		rd.let.Bounce.Of = id
	}
	return nil
}

// typed is the value of a field of the form "type; value" (RFC 3464 section 2.1.2).
func typed(field string) string {
	if _, v, ok := strings.Cut(field, ";"); ok {
		field = v
	}
	return strings.Trim(shorten(oneLine(field), 300), "<> ")
}
