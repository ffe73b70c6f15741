package web

import (
	"errors"
	"net/http"
	"strings"

	"platebook/desk"
)

var mailWords = map[string]string{
	"on": "Mail", "in": "Letters in", "out": "Letters out", "in.address": "Server letters come in by", "in.user": "User name, letters in", "in.sealed": "Password, letters in",
	"in.start_tls": "TLS after the greeting, letters in", "out.address": "Server letters go out by", "out.user": "User name, letters out", "out.sealed": "Password, letters out",
	"out.start_tls": "TLS after the greeting, letters out", "mailbox": "Mailbox", "filed": "Folder for letters taken", "from": "Address letters are from", "from_name": "Name letters are from",
	"branch": "Branch that looks after them", "verdict": "What the check found", "roots": "Certificate to trust",
}

// mailForm is what is typed: settings, and passwords that are new.
type mailForm struct {
	desk.MailSettings
	inPassword, outPassword string
}

func mailParts(m mailForm, branches []desk.Branch) []sheetPart {
	yes := func(b bool) string {
		if b {
			return "yes"
		}
		return ""
	}
	server := func(way, protocol, port string, s desk.MailServer, typed string) []asked {
		hint := "Kept so that only this desk can read it."
		if s.Sealed != "" {
			hint = "One is kept. Leave this empty to keep it."
		}
		return []asked{
			{"text", Field{Name: way + ".address", Label: mailWords[way+".address"], Value: s.Address, Width: "mid", Hint: protocol + ": name and port, such as mail.example.org:" + port + "."}},
			{"check", Field{Name: way + ".start_tls", Label: "TLS begins after the greeting (STARTTLS)", Value: yes(s.StartTLS), Hint: "Usual at the ports 143 and 587. Without TLS nothing is sent."}},
			{"text", Field{Name: way + ".user", Label: "User name", Value: s.User, Width: "mid", Auto: "off"}},
			{"text", Field{Name: way + ".password", Label: "Password", Value: typed, Type: "password", Width: "mid", Auto: "new-password", Hint: hint}},
		}
	}
	choose := []Choice{{Value: "", Label: "the first that is open"}}
	for _, b := range branches {
		choose = append(choose, Choice{Value: string(b.ID), Label: b.Name})
	}
	return []sheetPart{
		{Fields: []asked{
			{"check", Field{Name: "on", Label: "Letters come in and go out by this desk", Value: yes(m.On), Hint: "While this is off, nothing is fetched and nothing is sent. What was written stays on patrons' pages."}},
			{"text", Field{Name: "from", Label: mailWords["from"], Value: m.From, Width: "mid", Type: "email", Auto: "off"}},
			{"text", Field{Name: "from_name", Label: mailWords["from_name"], Value: m.FromName, Width: "mid"}},
		}},
		{Title: "Letters in", Say: "The desk takes each letter once, marks it as seen and moves it to the folder you name. It deletes none.", Fields: append(
			server("in", "IMAP", "993", m.In, m.inPassword),
			asked{"text", Field{Name: "mailbox", Label: mailWords["mailbox"], Value: m.Mailbox, Width: "mid", Optional: true, Hint: "INBOX if left empty."}},
			asked{"text", Field{Name: "filed", Label: mailWords["filed"], Value: m.Filed, Width: "mid", Optional: true, Hint: "Made if it is missing. Letters stay where they are if left empty."}},
			asked{"select", Field{Name: "branch", Label: mailWords["branch"], Value: string(m.Branch), Choices: choose, Hint: "Of requests that name no branch."}},
		)},
		{Title: "Letters out", Fields: append(
			server("out", "SMTP", "465", m.Out, m.outPassword),
			asked{"check", Field{Name: "verdict", Label: "What the check found is written to the patron by itself", Value: yes(m.Verdict), Hint: "Otherwise it waits for a reviewer. It promises nothing either way."}},
		)},
		{Title: "Trust", Fields: []asked{
			{"area", Field{Name: "roots", Label: mailWords["roots"], Value: m.Roots, Optional: true, Rows: 5, Hint: "Only for a mail server whose certificate is signed by the library itself. PEM text."}},
		}},
	}
}

func (s *Site) mailBranches(r *http.Request) ([]desk.Branch, error) {
	facts, err := s.desk.AskPage(r.Context())
	return facts.Branches, err
}

func (s *Site) mailForm(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, _, err := s.settingSheet(r, who, desk.MailSetting)
	if err != nil {
		return err
	}
	branches, err := s.mailBranches(r)
	if err != nil {
		return err
	}
	v.Parts = mailParts(mailForm{MailSettings: set.Mail}, branches)
	for _, t := range s.mailTroubles() {
		v.Errors = append(v.Errors, Missed{Target: "main", Say: t})
	}
	return show(s, w, r, http.StatusOK, sheetPage, v)
}

func (s *Site) saveMail(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	v, set, history, err := s.settingSheet(r, who, desk.MailSetting)
	if err != nil {
		return err
	}
	branches, err := s.mailBranches(r)
	if err != nil {
		return err
	}
	t := typedIn(r)
	server := func(way string, was desk.MailServer) desk.MailServer {
		is := desk.MailServer{Address: strings.TrimSpace(t.text(way + ".address")), StartTLS: t.ticked(way + ".start_tls"), User: t.text(way + ".user"), Sealed: was.Sealed}
		// A password is for the server it was typed for: else whoever may change
		// the address could have it sent elsewhere.
		if is.Address != was.Address && is.Sealed != "" {
			if is.Sealed = ""; t.text(way+".password") == "" && is.Address != "" {
				t.wrong[way+".password"] = "This is another server: enter the password for it."
			}
		}
		return is
	}
	m := mailForm{desk.MailSettings{On: t.ticked("on"), In: server("in", set.Mail.In), Out: server("out", set.Mail.Out), Mailbox: t.text("mailbox"), Filed: t.text("filed"),
		From: t.text("from"), FromName: t.text("from_name"), Branch: desk.ID(t.text("branch")), Verdict: t.ticked("verdict"), Roots: t.text("roots")}, t.text("in.password"), t.text("out.password")}
	version := int(number64(r, "version"))
	now, err := version, s.sealInto(&m)
	if err == nil {
		err = t.fault(nil)
	}
	if err == nil {
		now, err = s.desk.SaveSetting(r.Context(), who, desk.MailSetting, version, m.MailSettings)
	}
	if err != nil {
		m.inPassword, m.outPassword = "", "" // never sent back
		m.In.Sealed, m.Out.Sealed = set.Mail.In.Sealed, set.Mail.Out.Sealed
		v.Parts = mailParts(m, branches)
		return s.notSaved(w, r, v, desk.MailSetting, history, err)
	}
	return s.saved(w, r, version, now, v.Path)
}

// sealInto seals passwords that were typed.
func (s *Site) sealInto(m *mailForm) error {
	seal := func(of *desk.MailServer, typed string) (err error) {
		if typed != "" {
			of.Sealed, err = s.desk.Seal(typed)
		}
		return err
	}
	return errors.Join(seal(&m.In, m.inPassword), seal(&m.Out, m.outPassword))
}

// mailTroubles says what is wrong with the mail now.
func (s *Site) mailTroubles() []string {
	if s.troubles == nil {
		return nil
	}
	return s.troubles()
}
