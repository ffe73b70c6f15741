package mail

import (
	"io"
	"mime"
	netmail "net/mail"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"

	"github.com/emersion/go-message"
	"github.com/emersion/go-message/charset"
	"golang.org/x/text/encoding/htmlindex"

	"platebook/desk"
)

// words decodes encoded words (RFC 2047) of any charset of the web; a language
// may stand behind the charset (RFC 2231 section 5).
var words = &mime.WordDecoder{CharsetReader: func(label string, in io.Reader) (io.Reader, error) {
	label, _, _ = strings.Cut(label, "*")
	return charset.Reader(label, in)
}}

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
	authors, sender := addresses(m.Get("From")), firstAddress(m.Get("Sender"))
	switch {
	case len(authors) == 0:
		h.from = sender
	case slices.ContainsFunc(authors, func(a Address) bool { return strings.EqualFold(a.Mail, sender.Mail) }):
		h.from = sender // of several authors, the one who sent it (RFC 5322 section 3.6.2)
	default:
		h.from = authors[0]
	}
	if h.from.Name == "" {
		for _, a := range authors {
			if strings.EqualFold(a.Mail, h.from.Mail) {
				h.from.Name = a.Name
			}
		}
	}
	h.replyTo = firstAddress(m.Get("Reply-To"))
	if h.replyTo.Mail == "" {
		h.replyTo = h.from
	}
	h.to = append(addresses(m.Get("To")), addresses(m.Get("Cc"))...)
	h.subject = shorten(decoded(m.Get("Subject")), 300)
	if t, err := date(m.Get("Date")); err == nil && t.Year() > 1970 && t.Year() < 2200 {
		h.sent = t.UTC()
	}
}

var colon = regexp.MustCompile(`\s*:\s*`)

// date reads a date, also of the obsolete form with comments and white space
// anywhere (RFC 5322 section 4.3).
func date(field string) (time.Time, error) {
	t, err := netmail.ParseDate(field)
	if err != nil && len(field) < 1000 {
		t, err = netmail.ParseDate(strings.Join(strings.Fields(colon.ReplaceAllString(withoutComments(field), ":")), " "))
	}
	return t, err
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
	if v, _, _ := strings.Cut(strings.ToLower(withoutComments(m.Get("Auto-Submitted"))), ";"); strings.TrimSpace(v) != "" && strings.TrimSpace(v) != "no" {
		return "it says that it was sent automatically"
	}
	if m.Has("List-Id") || m.Has("List-Post") || m.Has("List-Unsubscribe") {
		return "it came by a mailing list"
	}
	switch strings.ToLower(strings.TrimSpace(m.Get("Precedence"))) {
	case "bulk", "junk", "list", "auto_reply":
		return "it was sent in bulk"
	}
	if automaticSubject.MatchString(decoded(m.Get("Subject"))) {
		return "its subject says that it is an automatic answer"
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

// automaticSubject is how programs for when one is away begin their subjects,
// which often say nothing else of what they are (CUSTOM).
var automaticSubject = regexp.MustCompile(`(?i)^\s*(automatic (reply|response)|auto-?reply|out of (the )?office( auto-?reply)?|réponse automatique|absence du bureau|(message|notification) d['’]absence|automatische antwort|abwesenheitsnotiz)\s*(:|$)`)

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
	field = toUTF8([]byte(field)) // names are written in eight bits all the same
	p := netmail.AddressParser{WordDecoder: words}
	plain := withoutComments(field)
	list, err := p.ParseList(plain)
	if err != nil {
		list, err = p.ParseList(modern(plain))
	}
	if err != nil {
		// Not as RFC 5322 has it: take what looks like addresses.
		var out []Address
		for _, m := range desk.AddressesIn(field, 50) {
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

// modern writes a list of addresses of the obsolete form (RFC 5322 section 4.4)
// as it is written now: without routes, empty elements, and white space within
// addresses.
func modern(list string) string {
	var out []string
	for _, one := range splitOutside(list, ',') {
		name, address := "", one
		if i := strings.LastIndex(one, "<"); i >= 0 && strings.HasSuffix(strings.TrimSpace(one), ">") {
			name, address = one[:i], strings.TrimSuffix(strings.TrimSpace(one[i+1:]), ">")
		}
		address = strings.Join(strings.Fields(address), "")
		if route, rest, ok := strings.Cut(address, ":"); ok && strings.HasPrefix(route, "@") {
			address = rest
		}
		if address == "" {
			continue
		}
		out = append(out, name+"<"+address+">")
	}
	return strings.Join(out, ", ")
}

// splitOutside splits at a separator, but not within quotes or angle brackets.
func splitOutside(s string, at byte) []string {
	var out []string
	begun, quoted, angle := 0, false, false
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c == '\\' && quoted:
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '<' || c == '>':
			angle = c == '<'
		case c == at && !angle:
			out = append(out, s[begun:i])
			begun = i + 1
		}
	}
	return append(out, s[begun:])
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

func firstAddress(field string) Address {
	if a := addresses(field); len(a) > 0 {
		return a[0]
	}
	return Address{}
}

var (
	identifier    = regexp.MustCompile(`<([^<>\s]{1,300})>`)
	oldIdentifier = regexp.MustCompile(`<([^<>]{1,300})>`)
)

// identifiers reads msg-ids (RFC 5322 section 3.6.4), at most 50.
func identifiers(field string) []string {
	var out []string
	for _, m := range identifier.FindAllStringSubmatch(field, 50) {
		out = append(out, oneLine(m[1]))
	}
	if out == nil && len(field) < 10_000 { // of the obsolete form (section 4.5.4)
		for _, m := range oldIdentifier.FindAllStringSubmatch(withoutComments(field), 50) {
			if id := strings.Join(strings.Fields(m[1]), ""); id != "" {
				out = append(out, oneLine(id))
			}
		}
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

// extended reads a parameter written as RFC 2231 has it: in pieces (section 3),
// in any charset (section 4), or both (section 4.1). The standard library knows
// only two charsets. It is empty where the parameter is not written so.
func extended(field, param string) string {
	pieces := map[string]string{}
	for _, p := range splitOutside(field, ';') {
		k, v, ok := strings.Cut(p, "=")
		k, was := strings.CutPrefix(strings.ToLower(strings.TrimSpace(k)), param+"*")
		if !ok || !was || len(pieces) > 100 {
			continue
		}
		v = strings.TrimSpace(v)
		if q, ok := strings.CutPrefix(v, `"`); ok {
			v = strings.ReplaceAll(strings.ReplaceAll(strings.TrimSuffix(q, `"`), `\"`, `"`), `\\`, `\`)
		}
		pieces[k] = v
	}
	label, raw := "", ""
	begin := func(v string) string {
		charset, rest, ok := strings.Cut(v, "'")
		if _, text, ok2 := strings.Cut(rest, "'"); ok && ok2 {
			label = charset
			return percented(text)
		}
		return percented(v)
	}
	if whole, ok := pieces[""]; ok {
		raw = begin(whole)
	} else {
		for n := 0; ; n++ {
			if v, ok := pieces[strconv.Itoa(n)+"*"]; ok && n == 0 {
				raw = begin(v)
			} else if ok {
				raw += percented(v)
			} else if v, ok := pieces[strconv.Itoa(n)]; ok {
				raw += v
			} else {
				break
			}
		}
	}
	if enc, err := htmlindex.Get(label); err == nil && label != "" {
		if s, err := enc.NewDecoder().String(raw); err == nil {
			return s
		}
	}
	return toUTF8([]byte(raw))
}

// percented takes the percent signs out; one that stands for nothing stays.
func percented(s string) string {
	if out, err := url.PathUnescape(s); err == nil {
		return out
	}
	return s
}
