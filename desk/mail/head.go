package mail

import (
	"io"
	"mime"
	netmail "net/mail"
	"net/url"
	"regexp"
	"strings"
	"time"
	"unicode"

	"github.com/emersion/go-message"
	"github.com/emersion/go-message/charset"
	"golang.org/x/text/encoding/htmlindex"

	"platebook/desk"
)

// words decodes encoded words (RFC 2047) of any charset of the web.
var words = &mime.WordDecoder{CharsetReader: func(label string, in io.Reader) (io.Reader, error) { return charset.Reader(label, in) }}

// head is what the header fields say.
type head struct {
	id            string
	inReplyTo     []string
	references    []string
	from, replyTo Address
	to            []Address
	subject       string
	sent          time.Time
}

func (h *head) read(m message.Header) {
	h.id = first(identifiers(m.Get("Message-Id")))
	h.inReplyTo = identifiers(m.Get("In-Reply-To"))
	h.references = identifiers(m.Get("References"))
	h.from = firstAddress(m.Get("From"))
	if h.from.Mail == "" {
		h.from = firstAddress(m.Get("Sender"))
	}
	h.replyTo = firstAddress(m.Get("Reply-To"))
	if h.replyTo.Mail == "" {
		h.replyTo = h.from
	}
	h.to = append(addresses(m.Get("To")), addresses(m.Get("Cc"))...)
	h.subject = shorten(decoded(m.Get("Subject")), 300)
	if t, err := netmail.ParseDate(m.Get("Date")); err == nil && t.Year() > 1970 && t.Year() < 2200 {
		h.sent = t.UTC()
	}
}

func (rd *reader) head(m message.Header) {
	var h head
	h.read(m)
	l := rd.let
	l.ID, l.InReplyTo, l.References = h.id, h.inReplyTo, h.references
	l.From, l.ReplyTo, l.To, l.Subject, l.Sent = h.from, h.replyTo, h.to, h.subject, h.sent
	rd.machine(machineHeader(m, h.from))
}

func (rd *reader) machine(why string) {
	if rd.let.Machine == "" {
		rd.let.Machine = why
	}
}

// machineHeader says what in the header shows that no person wrote this, or
// that an answer would go to a list: RFC 3834 sections 2 and 5, RFC 2919,
// RFC 2369, and Precedence and the like, which no standard defines (CUSTOM).
func machineHeader(m message.Header, from Address) string {
	if v, _, _ := strings.Cut(strings.ToLower(m.Get("Auto-Submitted")), ";"); strings.TrimSpace(v) != "" && strings.TrimSpace(v) != "no" {
		return "it says that it was sent automatically"
	}
	if m.Has("List-Id") || m.Has("List-Post") || m.Has("List-Unsubscribe") {
		return "it came by a mailing list"
	}
	switch strings.ToLower(strings.TrimSpace(m.Get("Precedence"))) {
	case "bulk", "junk", "list", "auto_reply":
		return "it was sent in bulk"
	}
	if m.Has("X-Autoreply") || m.Has("X-Autorespond") || m.Has("X-Auto-Reply-From") {
		return "it is an automatic answer"
	}
	if strings.TrimSpace(m.Get("Return-Path")) == "<>" {
		return "it asks not to be answered: it has no return address"
	}
	if desk.NoAnswers(from.Mail) {
		return "its address takes no answers"
	}
	return ""
}

func decoded(s string) string {
	if d, err := words.DecodeHeader(s); err == nil {
		s = d
	}
	return oneLine(toUTF8([]byte(s)))
}

func addresses(field string) []Address {
	if strings.TrimSpace(field) == "" || len(field) > 1<<16 {
		return nil
	}
	p := netmail.AddressParser{WordDecoder: words}
	list, err := p.ParseList(withoutComments(field))
	if err != nil {
		// Not as RFC 5322 has it: take what looks like addresses.
		var out []Address
		for _, m := range looseAddress.FindAllString(field, 50) {
			out = append(out, Address{Mail: shorten(oneLine(m), 254)})
		}
		return out
	}
	var out []Address
	for _, a := range list {
		if len(out) == 100 {
			break
		}
		if strings.ContainsFunc(a.Address, func(r rune) bool { return unicode.IsControl(r) || r == unicode.ReplacementChar }) || len(a.Address) > 254 {
			continue
		}
		out = append(out, Address{Name: shorten(oneLine(a.Name), 120), Mail: a.Address})
	}
	return out
}

// withoutComments takes comments (RFC 5322 section 3.2.2) out of a field; the
// standard library knows them only between addresses.
func withoutComments(field string) string {
	var b strings.Builder
	depth, quoted := 0, false
	for i := 0; i < len(field); i++ {
		c := field[i]
		switch {
		case c == '\\' && i+1 < len(field):
			if depth == 0 {
				b.WriteString(field[i : i+2])
			}
			i++
			continue
		case c == '"' && depth == 0:
			quoted = !quoted
		case c == '(' && !quoted:
			depth++
			continue
		case c == ')' && !quoted && depth > 0:
			depth--
			continue
		}
		if depth == 0 {
			b.WriteByte(c)
		}
	}
	return b.String()
}

var looseAddress = regexp.MustCompile(`[^\s<>"(),:;@]{1,64}@[A-Za-z0-9.-]{1,180}[A-Za-z0-9]`)

func firstAddress(field string) Address {
	if a := addresses(field); len(a) > 0 {
		return a[0]
	}
	return Address{}
}

var identifier = regexp.MustCompile(`<([^<>\s]{1,300})>`)

// identifiers reads msg-ids (RFC 5322 section 3.6.4), at most 50.
func identifiers(field string) []string {
	var out []string
	for _, m := range identifier.FindAllStringSubmatch(field, 50) {
		out = append(out, oneLine(m[1]))
	}
	return out
}

func first(s []string) string {
	if len(s) == 0 {
		return ""
	}
	return s[0]
}

// oneLine makes text that fits one line and cannot reorder what stands by it:
// control and direction characters become spaces or go.
func oneLine(s string) string {
	return strings.Join(strings.Fields(strings.Map(func(r rune) rune {
		switch {
		case unicode.IsControl(r) || r == '\u2028' || r == '\u2029':
			return ' '
		case turns(r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\ufffd"))), " ")
}

// turns says whether r changes the direction of writing (UAX #9), or is not seen.
func turns(r rune) bool {
	return r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 || r == 0x200E || r == 0x200F || r == 0x061C || r == 0xFEFF || r == 0x200B
}

func shorten(s string, most int) string {
	r := []rune(s)
	if len(r) <= most {
		return s
	}
	return string(r[:most-1]) + "…"
}

// otherCharset reads a parameter written as RFC 2231 section 4 has it in a
// charset that the standard library does not know, such as iso-8859-1.
func otherCharset(field, param string) string {
	for _, p := range strings.Split(field, ";") {
		k, v, ok := strings.Cut(p, "=")
		k = strings.ToLower(strings.TrimSpace(k))
		if !ok || k != param+"*" && k != param+"*0*" {
			continue
		}
		label, rest, ok := strings.Cut(strings.Trim(strings.TrimSpace(v), `"`), "'")
		_, text, ok2 := strings.Cut(rest, "'")
		if !ok || !ok2 {
			continue
		}
		raw, err := url.PathUnescape(text)
		if err != nil {
			continue
		}
		enc, err := htmlindex.Get(label)
		if err != nil {
			continue
		}
		if s, err := enc.NewDecoder().String(raw); err == nil {
			return s
		}
	}
	return ""
}
