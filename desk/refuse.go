package desk

import (
	"math"
	"net/mail"
	"slices"
	"strings"
	"time"
)

// refuse holds a submission against the rules and says, field by field, what
// cannot be taken.
func (d *Desk) refuse(tx Tx, set Settings, s Submission, lost map[Hash]bool) error {
	lang, rules := s.Contact.Language, set.Rules
	wrong := map[string]string{}
	say := func(field string, what sentence, a ...any) {
		if wrong[field] == "" {
			wrong[field] = what.in(lang, a...)
		}
	}
	asked := s.Source == "page" // by a patron who could be asked everything

	if files := refuseFiles(set, s, lost); files != "" {
		wrong["files"] = files
	}
	w := s.Wish
	if x := w.SizeMM; x != 0 && !(x >= 1 && x <= 2000) || math.IsNaN(x) {
		say("size", saySize)
	}
	if w.Copies < 1 || rules.MaxCopies > 0 && w.Copies > rules.MaxCopies {
		say("copies", sayCopies, max(rules.MaxCopies, 1))
	}
	if w.Needed != "" {
		today := d.now().In(set.Library.Zone()).Format(time.DateOnly)
		if day, err := time.Parse(time.DateOnly, w.Needed); err != nil {
			say("needed", sayNeededForm)
		} else if w.Needed < today {
			say("needed", sayNeededPast)
		} else if day.Sub(d.now()) > 2*366*24*time.Hour {
			say("needed", sayNeededFar)
		}
	}
	if s.Contact.Name == "" && s.Source != "mail" {
		say("name", sayName)
	}
	if s.Contact.Email == "" && asked {
		say("email", sayNoMail)
	} else if s.Contact.Email != "" && !mailAddress(s.Contact.Email) {
		say("email", sayMail)
	}
	if b, err := tx.Branch(s.Branch); KindOf(err) == NotFound || err == nil && b.Shut {
		say("branch", sayBranch)
	} else if err != nil {
		return err
	}
	if s.Contact.UnderAge && s.Contact.Guardian == "" && rules.Age > 0 {
		say("guardian", sayGuardian, rules.Age)
	}
	if asked && rules.Age > 0 && s.Age == "" && !s.Contact.UnderAge {
		say("age", sayAge, rules.Age)
	}
	if asked && !w.Rights {
		say("rights", sayRights)
	}
	if asked && set.TermsIn(lang) != "" {
		if w.Terms != set.Versions[TermsSetting] {
			say("terms", sayTermsNew)
		} else if !s.Accept {
			say("terms", sayTerms)
		}
	}
	if len(wrong) > 0 {
		f := sayMend.fault(Wrong, lang)
		f.Fields = wrong
		return f
	}
	return d.refuseMore(tx, set, s)
}

// mostRefused is how many files are named as such.
const mostRefused = 8

// refuseFiles names every file that cannot be taken, a line each, so that all
// are mended in one go.
func refuseFiles(set Settings, s Submission, lost map[Hash]bool) string {
	rules, lang := set.Rules, s.Contact.Language
	if rules.MaxFiles > 0 && len(s.Files) > rules.MaxFiles {
		return sayFilesMany.in(lang, rules.MaxFiles)
	}
	var lines []string
	say := func(what sentence, a ...any) {
		if line := strings.TrimSpace(what.in(lang, a...)); len(lines) < mostRefused && !slices.Contains(lines, line) {
			lines = append(lines, line)
		}
	}
	models := 0
	for _, f := range s.Files {
		switch takes := rules.Takes(f.Name); {
		case !takes && s.Source != "mail": // a mail may bring a sketch along
			say(sayFileKind, f.Name, Endings(rules.Formats, lang), InsteadOf(f.Name, lang))
		case rules.MaxFile > 0 && f.Size > rules.MaxFile:
			say(sayFileLarge, f.Name, rules.MaxFile/1_000_000)
		case f.Size == 0:
			say(sayFileEmpty, f.Name)
		case lost[f.Hash]:
			say(sayFileLost, f.Name)
		case takes:
			models++
		}
	}
	if models == 0 && len(lines) == 0 {
		say(sayFilesNone, Endings(rules.Formats, lang))
	}
	if s.Source == "mail" {
		return strings.Join(lines, " ") // said within a sentence
	}
	return strings.Join(lines, "\n")
}

// refuseMore holds the patron to the requests a month the library allows.
func (d *Desk) refuseMore(tx Tx, set Settings, s Submission) error {
	most := set.Rules.PerMonth
	if most <= 0 || s.Contact.Email == "" || s.Source == "demo" {
		return nil
	}
	now := d.now().In(set.Library.Zone())
	first := time.Date(now.Year(), now.Month(), 1, 0, 0, 0, 0, now.Location())
	by, err := tx.CountRequests(RequestFilter{Patron: d.patron(s.Contact.Email), AskedSince: first.UTC()})
	if err != nil {
		return err
	}
	n := 0
	for _, m := range by {
		n += m
	}
	if n >= most {
		return sayMonth.fault(TooMany, s.Contact.Language, most)
	}
	return nil
}

// mailAddress says whether s is a plain mail address (RFC 5322, addr-spec)
// that mail can be sent to across the network.
func mailAddress(s string) bool {
	a, err := mail.ParseAddress(s)
	if err != nil || a.Address != s || a.Name != "" || len(s) > mostMail {
		return false
	}
	_, domain, _ := strings.Cut(s, "@")
	labels := strings.Split(domain, ".")
	return len(labels) > 1 && !slices.Contains(labels, "")
}

// Endings lists formats as people say them: "STL, 3MF or OBJ".
func Endings(formats []string, lang string) string {
	var all []string
	for _, f := range formats {
		all = append(all, strings.ToUpper(f))
	}
	if len(all) < 2 {
		return strings.Join(all, "")
	}
	last := len(all) - 1
	return strings.Join(all[:last], ", ") + " " + sayOr.in(lang) + " " + all[last]
}

// InsteadOf says what to do with a file of a kind that cannot be taken. It
// says something useful of the kinds people send most; else it is empty.
func InsteadOf(name, lang string) string {
	ext := extension(name)
	for _, k := range otherKinds {
		if slices.Contains(k.endings, ext) {
			return k.say.in(lang)
		}
	}
	return ""
}
