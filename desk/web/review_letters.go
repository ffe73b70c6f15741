package web

import (
	"net/mail"
	"strings"
	"time"

	"platebook/desk"
)

// deskLetter is one of the conversation, as staff see it.
type deskLetter struct {
	From    string
	At      time.Time
	Subject string
	Text    []string
	Ours    bool
	Status  string // seen, sent by mail, came back
	Mail    string // mailto: link, where the letter does not go by itself
	Again   string // id of the letter to send once more
}

// deskLetters is the conversation, oldest first.
func deskLetters(l desk.RequestView) []deskLetter {
	zone := l.Settings.Library.TimeZone
	posted := map[desk.ID]desk.Posted{}
	for _, p := range l.Posted {
		posted[p.Message] = p
	}
	var all []deskLetter
	for _, m := range l.Messages {
		d := deskLetter{From: or(m.Who, "patron"), At: local(m.At, zone), Subject: m.Subject, Text: paragraphs(m.Text), Ours: m.From != desk.ByPatron}
		if !d.Ours {
			all = append(all, d)
			continue
		}
		if m.From == desk.ByClock {
			d.From += ", by itself"
		}
		var say []string
		p, ok := posted[m.ID]
		if ok {
			say = append(say, postSay(p, zone))
			if p.State == desk.PostGivenUp || p.State == desk.PostReturned {
				d.Again = string(p.ID)
			}
		}
		if m.Seen.IsZero() {
			say = append(say, "not seen on the patron’s page yet")
		} else {
			say = append(say, "seen by the patron "+moment(local(m.Seen, zone)))
		}
		d.Status = stateWord(desk.State(strings.Join(say, "; "))) + "."
		if l.Reviews && (!ok || d.Again != "") {
			d.Mail = mailto(l.Request.Contact.Email, m.Subject, m.Text)
		}
		all = append(all, d)
	}
	return all
}

func postSay(p desk.Posted, zone string) string {
	switch p.State {
	case desk.PostSent:
		return "sent by mail " + moment(local(p.Sent, zone))
	case desk.PostGivenUp:
		return "could not be sent by mail: " + p.Trouble
	case desk.PostReturned:
		return strings.Replace(p.Trouble, "It came back", "it came back", 1)
	case desk.PostSettled:
		return "did not arrive, and was seen to: " + p.Trouble
	}
	if p.Trouble != "" {
		return "mail is tried again " + moment(local(p.Next, zone)) + " (" + p.Trouble + ")"
	}
	return "on its way by mail"
}

// mailto makes a link that opens a letter in the staff's own mail program, as
// in RFC 6068: every octet that is not unreserved is percent-encoded, so that
// neither an address nor a text can add a header; line ends are %0D%0A. It is
// empty for what is no single plain address.
func mailto(address, subject, text string) string {
	a, err := mail.ParseAddress(address)
	if err != nil || a.Address != address || a.Name != "" {
		return ""
	}
	local, domain, _ := strings.Cut(address, "@")
	text = strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\n", "\r\n")
	return "mailto:" + percent(local) + "@" + percent(domain) + "?subject=" + percent(strings.Join(strings.Fields(subject), " ")) + "&body=" + percent(text)
}

// percent encodes all but the unreserved characters of RFC 3986.
func percent(s string) string {
	const hex = "0123456789ABCDEF"
	var b strings.Builder
	for i := range len(s) {
		switch c := s[i]; {
		case c >= 'a' && c <= 'z', c >= 'A' && c <= 'Z', c >= '0' && c <= '9', c == '-', c == '.', c == '_', c == '~':
			b.WriteByte(c)
		default:
			b.WriteByte('%')
			b.WriteByte(hex[c>>4])
			b.WriteByte(hex[c&15])
		}
	}
	return b.String()
}

// writeForm writes to the patron.
type writeForm struct {
	Path    string
	Subject Field
	Text    Field
	Starts  []start // texts to begin from
}

type start struct{ Path, Say string }

func writeOf(l desk.RequestView) *writeForm {
	path := requestPath(l.Request.Code)
	f := &writeForm{Path: path,
		Subject: Field{Name: "write-subject", Label: "Subject", Value: string(l.Request.Code) + ": "},
		Text:    Field{Name: "write-text", Label: "Letter", Hint: "In " + languageName(or(l.Request.Contact.Language, "en")) + ". It stands on the patron’s page, and goes by mail where the library has set that up.", Rows: 9}}
	for _, k := range []struct {
		kind desk.TextKind
		say  string
	}{{desk.TextQuestion, "A question before we go on"}, {desk.TextReceived, "We have it; here is your link"}, {desk.TextReprint, "We print it again"}, {desk.TextReady, "It is ready"}, {desk.TextRemind, "A reminder"}} {
		f.Starts = append(f.Starts, start{path + "?text=" + string(k.kind) + "#write", k.say})
	}
	return f
}

// draft fills the letter in from one of the library's texts.
func (f *writeForm) draft(l desk.RequestView, kind desk.TextKind) {
	for _, k := range desk.TextKinds() {
		if k == kind {
			t := l.Draft(kind, nil, "", "")
			f.Subject.Value, f.Text.Value = t.Subject, t.Body
		}
	}
}

// declineForm says no.
type declineForm struct {
	Reason   Field
	Remember Field
	Subject  Field
	Text     Field
}

func declineOf(l desk.RequestView) *declineForm {
	t := l.Draft(desk.TextDeclined, nil, "", "")
	return &declineForm{
		Reason:   Field{Name: "decline-reason", Label: "Reason", Hint: "The patron is told this, and may ask for another look. Name what could be changed.", Rows: 3},
		Remember: Field{Name: "decline-remember", Label: "Remember the shape, so that staff see this reason when one like it comes again. Nothing of the patron is kept with it."},
		Subject:  Field{Name: "decline-subject", Label: "Subject", Value: t.Subject},
		Text:     Field{Name: "decline-text", Label: "Letter", Hint: "Left as it is, the reason is filled in by itself.", Rows: 9, Value: t.Body},
	}
}

// contactForm mends how the patron is reached.
type contactForm struct {
	Name, Surname, Email, Phone, Card, Language, UnderAge, Guardian Field
}

func contactOf(l desk.RequestView) *contactForm {
	c := l.Request.Contact
	f := &contactForm{
		Name:     Field{Name: "contact-name", Label: "Name", Value: c.Name, Auto: "off"},
		Surname:  Field{Name: "contact-surname", Label: "Surname", Hint: "For the slip on the hold shelf.", Value: c.Surname, Auto: "off", Optional: true},
		Email:    Field{Name: "contact-email", Label: "E-mail", Value: c.Email, Type: "email", Auto: "off", Optional: true},
		Phone:    Field{Name: "contact-phone", Label: "Telephone", Value: c.Phone, Type: "tel", Auto: "off", Optional: true},
		Card:     Field{Name: "contact-card", Label: "Library card", Value: c.Card, Auto: "off", Optional: true},
		Language: Field{Name: "contact-language", Label: "Language of letters", Value: c.Language, Type: "select"},
		Guardian: Field{Name: "contact-guardian", Label: "Guardian", Value: c.Guardian, Auto: "off", Optional: true},
	}
	f.UnderAge = Field{Name: "contact-under-age", Label: "Under " + itoa(l.Settings.Rules.Age) + ": a guardian agrees for the patron"}
	if c.UnderAge {
		f.UnderAge.Value = "yes"
	}
	known := false
	for _, tag := range l.Settings.Library.Languages {
		f.Language.Choices = append(f.Language.Choices, Choice{Value: tag, Label: languageName(tag)})
		known = known || tag == c.Language
	}
	if !known && c.Language != "" {
		f.Language.Choices = append(f.Language.Choices, Choice{Value: c.Language, Label: languageName(c.Language)})
	}
	return f
}

func (f *contactForm) fields() []*Field {
	return []*Field{&f.Name, &f.Surname, &f.Email, &f.Phone, &f.Card, &f.Language, &f.UnderAge, &f.Guardian}
}

// agreeDesk notes what the patron agreed to at the desk.
type agreeDesk struct {
	Way      Field
	Terms    []string
	Version  string // of the terms
	Accept   *Field
	Cautions *Field
	Caution  []string
	Rights   *Field
	Age      *Field
	Guardian *Field
}

func agreeDeskOf(l desk.RequestView) *agreeDesk {
	r, s := l.Request, l.Settings
	lang := or(r.Contact.Language, "en")
	a := &agreeDesk{Version: itoa(s.Versions[desk.TermsSetting]), Terms: paragraphs(s.TermsIn(lang)), Caution: s.Cautions("en")}
	a.Way = Field{Name: "agree-way", Label: "Way the patron chose"}
	for _, w := range r.Quote.Ways {
		a.Way.Choices = append(a.Way.Choices, Choice{Value: w.ID, Label: desk.WayName(w.ID, "en") + ", " + w.Price.Format(w.Price.Total, s.Library.Locale)})
	}
	if len(a.Terms) > 0 {
		a.Accept = &Field{Name: "agree-accept", Label: "The patron (or guardian) has read the terms and accepts them"}
	}
	if len(a.Caution) > 0 {
		a.Cautions = &Field{Name: "agree-cautions", Label: "I have read the cautions out, or shown them"}
	}
	if !r.Wish.Rights {
		a.Rights = &Field{Name: "agree-rights", Label: "The patron declares to have the right to have it made"}
	}
	if n := s.Rules.Age; n > 0 {
		if !r.Contact.UnderAge && r.Source != "page" {
			a.Age = &Field{Name: "agree-age", Label: "The patron is", Choices: []Choice{{Value: "over", Label: itoa(n) + " or older"}, {Value: "under", Label: "under " + itoa(n)}}}
		}
		if r.Contact.UnderAge || a.Age != nil {
			a.Guardian = &Field{Name: "agree-guardian", Label: "Guardian", Value: r.Contact.Guardian, Optional: a.Age != nil, Auto: "off"}
		}
	}
	return a
}

func (a *agreeDesk) fields() []*Field {
	all := []*Field{&a.Way}
	for _, f := range []*Field{a.Accept, a.Cautions, a.Rights, a.Age, a.Guardian} {
		if f != nil {
			all = append(all, f)
		}
	}
	return all
}
