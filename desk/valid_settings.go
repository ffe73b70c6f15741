package desk

import (
	"fmt"
	"math"
	"net/netip"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/text/language"
)

// Every document is checked before it is kept: whatever reads settings may
// rely on what stands here. Fields of a fault are named by JSON keys.

// validLibrary checks the library's own page.
func validLibrary(l Library) (Library, error) {
	fields := map[string]string{}
	l.Name, l.Contact = tidy(l.Name), lines(l.Contact)
	if l.Name == "" || utf8.RuneCountInString(l.Name) > 100 {
		fields["name"] = "Write the library's name, at most 100 characters."
	}
	tag, err := language.Parse(strings.TrimSpace(l.Locale))
	if err != nil {
		fields["locale"] = "Write how numbers and money are written as a language and country, like en-GB, fr-CA or de."
	}
	l.Locale = tag.String()
	if zone, err := time.LoadLocation(l.TimeZone); err != nil || l.TimeZone == "" || zone == time.Local {
		fields["time_zone"] = "Choose a time zone of the IANA list, like Europe/Dublin or America/Toronto."
	}
	var say string
	if l.Languages, say = languages(l.Languages); say != "" {
		fields["languages"] = say
	}
	if utf8.RuneCountInString(l.Contact) > 500 {
		fields["contact"] = "Write how to reach the desk in at most 500 characters."
	}
	if l.Address, say = webAddress(l.Address); say != "" {
		fields["address"] = say
	}
	return l, faultOf(fields)
}

// languages puts language tags in one form; what is wrong with them is a sentence.
func languages(of []string) ([]string, string) {
	var all []string
	for _, l := range of {
		if l = strings.TrimSpace(l); l == "" {
			continue
		}
		tag, err := language.Parse(l)
		if err != nil {
			return of, fmt.Sprintf("%q is not a language. Write short codes like en, fr or es.", cut(l, 20))
		}
		if !slices.Contains(all, tag.String()) {
			all = append(all, tag.String())
		}
	}
	if len(all) == 0 || len(all) > 12 {
		return of, "Name at least one language, the usual one first, and at most 12."
	}
	return all, ""
}

// webAddress checks the address that patrons' links begin with. Links open a
// request, so they travel encrypted wherever they leave the house.
func webAddress(a string) (string, string) {
	u, err := url.Parse(strings.TrimSpace(a))
	if err != nil || u.Host == "" || u.User != nil || u.RawQuery != "" || u.Fragment != "" || (u.Scheme != "https" && u.Scheme != "http") || len(a) > 200 {
		return a, "Write the address patrons reach the desk at, like https://print.library.example."
	}
	if u.Path != "" && u.Path != "/" {
		return a, "Write the address without anything after the host's name: the desk has the host to itself."
	}
	if u.Scheme == "http" && !inHouse(u.Hostname()) {
		return a, "Write https://: links to requests and passwords must not travel unencrypted. Only an address within the house may begin with http://."
	}
	return u.Scheme + "://" + strings.ToLower(u.Host), ""
}

func inHouse(host string) bool {
	if ip, err := netip.ParseAddr(host); err == nil {
		return ip.IsLoopback() || ip.IsPrivate()
	}
	return !strings.Contains(host, ".") || strings.HasSuffix(host, ".localhost") || strings.HasSuffix(host, ".internal") || strings.HasSuffix(host, ".local")
}

var questionID = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// validRules checks the rules against each other and the catalogue.
func validRules(r Rules, s Settings) (Rules, error) {
	fields := map[string]string{}
	between := func(key string, v, least, most int, what string) {
		if v < least || v > most {
			fields[key] = fmt.Sprintf("%s must be from %d to %d.", what, least, most)
		}
	}
	var formats []string
	for _, f := range DefaultRules().Formats {
		if slices.Contains(r.Formats, f) {
			formats = append(formats, f)
		}
	}
	for _, f := range r.Formats {
		if !slices.Contains(formats, f) {
			fields["formats"] = fmt.Sprintf("%q cannot be read here. There are stl, 3mf and obj.", cut(f, 20))
		}
	}
	if len(formats) == 0 {
		fields["formats"] = "Choose at least one kind of file."
	}
	r.Formats = formats
	if r.MaxFile < 100_000 || r.MaxFile > 1_000_000_000 {
		fields["max_file"] = "The largest file must be from 0.1 to 1000 MB."
	}
	between("max_files", r.MaxFiles, 1, 50, "Files of one request")
	between("max_copies", r.MaxCopies, 1, 1000, "Copies")
	if l := r.Longest.Duration; l < 0 || l > 1000*time.Hour || l > 0 && l < 10*time.Minute {
		fields["longest_print"] = "The longest print must be at least 10 minutes and at most 1000 hours; 0 sets no limit."
	}
	between("per_month", r.PerMonth, 0, 1000, "Requests a month")
	between("quote_days", r.QuoteDays, 1, 365, "Days a quote stands")
	between("pickup_days", r.PickupDays, 1, 365, "Days on the hold shelf")
	if r.RemindDays < 0 || r.RemindDays > 0 && r.RemindDays >= min(r.QuoteDays, r.PickupDays) {
		fields["remind_days"] = "A reminder must come later than the quote, or the message that a print is ready: fewer days before the end than either lasts. 0 sends none."
	}
	between("attempts", r.Attempts, 1, 10, "Attempts")
	between("age", r.Age, 0, 21, "The age")
	between("keep_days", r.KeepDays, 0, 3650, "Days kept")
	between("audit_days", r.AuditDays, 31, 3650, "Days log-ins are kept")
	for _, b := range r.PatronPays {
		if !slices.Contains([]Blame{MachineBlame, DesignBlame, PeopleBlame}, b) {
			fields["patron_pays"] = "Choose among machine, design and people."
		}
	}
	if !slices.Contains([]FinalPrice{AsQuoted, AsWeighed, TheLower}, r.FinalPrice) {
		fields["final_price"] = "Choose what is charged: as quoted, as weighed, or the lower."
	}
	if !(r.Reserve >= 0 && r.Reserve <= 1000) || math.IsNaN(r.Reserve) {
		fields["reserve_g"] = "The reserve on a spool must be from 0 to 1000 g."
	}
	r.Questions = slices.Clone(r.Questions)
	if say := validQuestions(r.Questions); say != "" {
		fields["questions"] = say
	}
	r.Cautions = tidyAll(r.Cautions)
	if len(r.Cautions) < 1 || len(r.Cautions) > 20 || slices.ContainsFunc(r.Cautions, func(c string) bool { return utf8.RuneCountInString(c) > 300 }) {
		fields["cautions"] = "Write at least one caution patrons read before they agree, and at most 20, each of at most 300 characters."
	}
	c, err := Catalogue(s)
	if err != nil {
		return r, err
	}
	if _, err := c.Printer(r.Usual.Printer); err != nil && r.Usual.Printer != "" {
		fields["usual_printer"] = "Choose one of the printer models."
	}
	if _, err := c.Material(r.Usual.Material); err != nil && r.Usual.Material != "" {
		fields["usual_material"] = "Choose one of the materials."
	}
	if _, err := c.Way(r.Usual.Way); err != nil && r.Usual.Way != "" {
		fields["usual_way"] = "Choose one of the ways."
	}
	return r, faultOf(fields)
}

func validQuestions(q []Question) string {
	if len(q) > 30 {
		return "At most 30 questions."
	}
	seen := map[string]bool{}
	for i := range q {
		q[i].Text, q[i].Help = tidy(q[i].Text), tidy(q[i].Help)
		switch {
		case !questionID.MatchString(q[i].ID):
			return fmt.Sprintf("Question %d needs a short name of small letters, digits and hyphens, at most 40: answers are kept under it.", i+1)
		case seen[q[i].ID]:
			return fmt.Sprintf("Two questions have the short name %q.", q[i].ID)
		case q[i].Text == "" || utf8.RuneCountInString(q[i].Text) > 300:
			return fmt.Sprintf("Question %d needs a text of at most 300 characters.", i+1)
		case utf8.RuneCountInString(q[i].Help) > 1000:
			return fmt.Sprintf("The help of question %d is longer than 1000 characters.", i+1)
		}
		seen[q[i].ID] = true
	}
	return ""
}

const mostTerms = 40_000 // characters in one language

func validTerms(t Terms, s Settings) (Terms, error) {
	fields := map[string]string{}
	kept := Terms{Text: map[string]string{}}
	for l, text := range t.Text {
		tag, err := language.Parse(l)
		if err != nil {
			fields["text"] = fmt.Sprintf("%q is not a language.", cut(l, 20))
			continue
		}
		text = lines(text)
		if utf8.RuneCountInString(text) > mostTerms {
			fields["text-"+tag.String()] = fmt.Sprintf("The text is longer than %d characters, which nobody reads.", mostTerms)
		}
		if text != "" {
			kept.Text[tag.String()] = text
		}
	}
	if first := s.Library.Languages[0]; kept.Text[first] == "" && len(fields) == 0 {
		fields["text-"+first] = "Write the text in the library's usual language; it stands in for those without one."
	}
	return kept, faultOf(fields)
}

func validTexts(t Texts, s Settings) (Texts, error) {
	fields := map[string]string{}
	kept, builtin := Texts{}, DefaultTexts()
	for l, byKind := range t {
		tag, err := language.Parse(l)
		if err != nil {
			fields["texts"] = fmt.Sprintf("%q is not a language.", cut(l, 20))
			continue
		}
		of := map[TextKind]Text{}
		for k, text := range byKind {
			if !slices.Contains(TextKinds(), k) {
				fields["texts"] = fmt.Sprintf("There is no message called %q.", cut(string(k), 20))
				continue
			}
			text = Text{tidy(text.Subject), lines(text.Body) + "\n"}
			if text == (Text{Body: "\n"}) || text == builtin[l][k] {
				continue // the built-in one stands in, also once it is bettered
			}
			of[k] = text
		}
		if len(of) > 0 {
			kept[tag.String()] = of
		}
	}
	if len(fields) > 0 {
		return kept, faultOf(fields)
	}
	return kept, CheckTexts(s, kept)
}

// lines is text of several lines as it is kept.
func lines(s string) string { return CleanText(s, mostTerms+1) }

func tidyAll(s []string) []string {
	var kept []string
	for _, x := range s {
		if x = tidy(x); x != "" {
			kept = append(kept, x)
		}
	}
	return kept
}
