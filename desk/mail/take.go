package mail

import (
	"context"
	"io"
	"strings"
	"time"

	"platebook/desk"
)

// taker hands letters to the desk.
type taker struct{ desk *desk.Desk }

func (t taker) Fresh(ctx context.Context, mailbox string, validity uint32, uids []uint32) ([]uint32, error) {
	return t.desk.FreshMail(ctx, mailbox, validity, uids)
}

func (t taker) Put(ctx context.Context, r io.Reader) (desk.Hash, int64, error) {
	s, err := t.desk.Settings(ctx)
	if err != nil {
		return "", 0, err
	}
	most := s.Rules.MaxFile
	if most <= 0 {
		most = 1 << 30
	}
	return t.desk.Shelves.Put(ctx, r, most)
}

func (t taker) Open(ctx context.Context, h desk.Hash) (desk.Blob, error) {
	return t.desk.Shelves.Open(ctx, h)
}

func (t taker) Take(ctx context.Context, at Place, bytes desk.Hash, l *Letter, unread string) error {
	m := desk.Mail{Hash: bytes}
	if l == nil {
		m.Body = desk.MailBody{Subject: "A letter that cannot be read", Why: "It could not be read: " + unread + ". It lies in the mailbox as it came: look at it there.", From: "unknown"}
	} else {
		facts, err := t.desk.AskPage(ctx)
		if err != nil {
			return err
		}
		m.MailID, m.Body = l.ID, body(l, facts)
	}
	_, err := t.desk.Arrive(ctx, desk.MailPlace{Mailbox: at.Mailbox, Validity: at.Validity, UID: at.UID}, m)
	return err
}

// body is a letter as the desk keeps it.
func body(l *Letter, facts desk.AskFacts) desk.MailBody {
	b := desk.MailBody{
		From: l.From.Mail, Name: l.From.Name, Answer: l.ReplyTo.Mail, InReplyTo: l.InReplyTo, References: l.References,
		Subject: l.Subject, Text: l.Text, Quoted: l.Quoted, Links: l.Links, Machine: l.Machine, Sent: l.Sent,
		Language: Language(l.Subject+" "+l.Text, facts.Settings.Library.Languages),
	}
	for _, o := range l.Odd {
		b.Odd = append(b.Odd, desk.Oddity{Saying: o})
	}
	for _, f := range l.Files {
		b.Files = append(b.Files, desk.MailFile{Name: f.Name, Hash: f.Hash, Size: f.Size, In: f.In})
	}
	if l.Forwarded != nil {
		b.Forwarded, b.ForName = l.Forwarded.Mail, l.Forwarded.Name
	}
	if l.Bounce != nil {
		b.Returned = &desk.Returned{For: l.Bounce.For, Of: l.Bounce.Of, Named: l.Bounce.Named, Arrived: l.Bounce.Arrived, Status: l.Bounce.Status, Says: l.Bounce.Says, Final: l.Bounce.Final}
	}
	for _, g := range Wishes(l.Subject+"\n"+l.Text, stock(facts)) {
		b.Suggest = append(b.Suggest, desk.Suggestion{Field: string(g.Field), Value: g.Value, Axis: g.Axis, Words: g.Words, At: g.At})
	}
	return b
}

// stock is what the library has, by the words patrons may use.
func stock(f desk.AskFacts) Stock {
	s := Stock{Colours: f.Colours, Materials: map[string]string{}, Branches: map[string]string{}, Today: f.Today}
	if s.Today.IsZero() {
		s.Today = time.Now()
	}
	if c, err := desk.Catalogue(f.Settings); err == nil {
		for _, m := range c.Materials {
			s.Materials[strings.ToLower(m.ID)] = m.ID
			s.Materials[strings.ToLower(m.Name)] = m.ID
		}
	}
	for _, b := range f.Branches {
		s.Branches[b.Name] = string(b.ID)
	}
	return s
}
