package desk

import (
	"crypto/x509"
	"net"
	"strconv"
	"strings"
)

// validMail checks how the library's mailbox is reached. Passwords are sealed
// already.
func validMail(tx Tx, m MailSettings) (MailSettings, error) {
	wrong := map[string]string{}
	m.Mailbox, m.Filed, m.FromName = CleanLine(m.Mailbox, 100), CleanLine(m.Filed, 100), CleanLine(m.FromName, mostName)
	m.From, m.Roots = strings.TrimSpace(m.From), strings.TrimSpace(strings.ReplaceAll(m.Roots, "\r\n", "\n"))
	for name, s := range map[string]*MailServer{"in": &m.In, "out": &m.Out} {
		s.Address, s.User = strings.TrimSpace(s.Address), CleanLine(s.User, mostMail)
		if s.Address == "" {
			continue
		}
		host, port, err := net.SplitHostPort(s.Address)
		if n, bad := strconv.Atoi(port); err != nil || host == "" || bad != nil || n < 1 || n > 65535 {
			wrong[name+".address"] = "Write the server's name and port, such as mail.example.org:993."
		}
	}
	if m.On && m.In.Address == "" {
		wrong["in.address"] = "Write the name and port of the server letters come in by, or switch mail off."
	}
	if m.On && m.Out.Address == "" {
		wrong["out.address"] = "Write the name and port of the server letters go out by: a letter that comes in must be answered."
	}
	if m.From != "" && !mailAddress(m.From) || m.From == "" && m.On {
		wrong["from"] = "Write the address that letters are from, such as prints@example.org."
	}
	if m.Filed != "" && strings.EqualFold(m.Filed, m.Mailbox) || strings.EqualFold(m.Filed, "INBOX") {
		wrong["filed"] = "Name another folder than the one letters come to."
	}
	if m.Roots != "" && !x509.NewCertPool().AppendCertsFromPEM([]byte(m.Roots)) {
		wrong["roots"] = "This is no certificate. It is text that begins with -----BEGIN CERTIFICATE-----."
	}
	if m.Branch != "" {
		if b, err := tx.Branch(m.Branch); KindOf(err) == NotFound || err == nil && b.Shut {
			wrong["branch"] = "Choose a branch that takes requests."
		} else if err != nil {
			return m, err
		}
	}
	return m, faultOf(wrong)
}

// SettleMail keeps mail settings without anyone's hand: a demonstration's post
// office has another address at every start. What is kept is checked as ever.
func (d *Desk) SettleMail(tx Tx, m MailSettings) error {
	s, err := settings(tx)
	if err != nil {
		return err
	}
	_, err = d.saveSetting(tx, Clockwork(), MailSetting, s.Versions[MailSetting], m)
	return err
}
