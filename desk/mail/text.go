package mail

import (
	"net/url"
	"regexp"
	"strings"
	"unicode"

	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"
)

// settleText puts together what was written, HTML as text; then parts what is
// new from what is quoted.
func (rd *reader) settleText() {
	var parts []string
	for _, w := range rd.texts {
		if w.html {
			w.text = htmlText(w.text)
		}
		if strings.TrimSpace(w.text) != "" {
			parts = append(parts, w.text)
		}
	}
	text := strings.TrimSpace(strings.Join(parts, "\n\n"))
	rd.let.Text, rd.let.Quoted = cutQuoted(manyLines(text))
	if rd.let.Quoted == "" && len(rd.let.InReplyTo) > 0 && !sentOnSubject.MatchString(rd.let.Subject) {
		rd.let.Text, rd.let.Quoted = cutUnderHead(rd.let.Text)
	}
	links := append(webLinks(rd.let.Text), rd.external...)
	for _, h := range rd.html {
		links = append(links, htmlLinks(h)...)
	}
	seen := map[string]bool{}
	for _, l := range links {
		if !seen[l] && len(rd.let.Links) < 20 {
			seen[l] = true
			rd.let.Links = append(rd.let.Links, l)
		}
	}
}

// manyLines cleans text that may have several lines.
func manyLines(s string) string {
	s = strings.ReplaceAll(strings.ReplaceAll(s, "\r\n", "\n"), "\r", "\n")
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = strings.TrimRightFunc(strings.Map(func(r rune) rune {
			switch {
			case r == '\t':
				return ' '
			case unicode.IsControl(r) || turns(r):
				return -1
			}
			return r
		}, l), unicode.IsSpace)
	}
	return strings.TrimSpace(strings.Join(lines, "\n"))
}

// What programs write above a letter they quote, in the languages patrons
// write here (CUSTOM: no standard says).
var quoteHead = regexp.MustCompile(`(?i)^(on\b.{4,200}\bwrote\s*:|le\b.{4,200}\ba écrit\s*:|am\b.{4,200}\bschrieb.{0,120}:|el\b.{4,200}\bescribió\s*:|-{3,}\s*(original message|message d'origine|forwarded message|message transféré)\s*-{3,}|_{20,})$`)

// cutQuoted parts what is new in a letter from what it quotes: lines that
// begin with ">" (RFC 3676 section 4.5) and what stands above them, and
// everything under a head such as "On … wrote:". A signature (RFC 3676
// section 4.3) stays with what is new: it may hold a card number.
func cutQuoted(text string) (fresh, quoted string) {
	lines := strings.Split(text, "\n")
	var keep, rest []string
	for i := 0; i < len(lines); i++ {
		l := strings.TrimSpace(lines[i])
		two := l // such heads are often broken over two lines
		if i+1 < len(lines) {
			two = l + " " + strings.TrimSpace(lines[i+1])
		}
		if len(l) > 3 && (quoteHead.MatchString(l) || len(two) < 300 && !strings.HasPrefix(two, ">") && quoteHead.MatchString(two)) {
			// A head with nothing but quotes under it; answers may stand between them.
			end := i
			if !quoteHead.MatchString(l) {
				end++
			}
			if quotesFollow(lines[end+1:]) {
				rest = append(rest, lines[i:end+1]...)
				i = end
				continue
			}
			rest = append(rest, lines[i:]...)
			break
		}
		if strings.HasPrefix(l, ">") {
			rest = append(rest, lines[i])
			continue
		}
		keep = append(keep, lines[i])
	}
	fresh = strings.TrimSpace(strings.Join(keep, "\n"))
	quoted = strings.TrimSpace(strings.Join(rest, "\n"))
	if fresh == "" && quoted != "" { // a letter sent on with nothing added: it is the text
		return quoted, ""
	}
	return fresh, quoted
}

// sentOnSubject is how subjects of letters sent on begin, where what stands below is
// what is sent (CUSTOM).
var sentOnSubject = regexp.MustCompile(`(?i)^\s*(fwd?|tr|wg|rv)\s*:`)

// Office programs put the answered letter under some of its head, unmarked
// (CUSTOM), in English, French or German.
var (
	answeredFrom    = regexp.MustCompile(`(?i)^\*?(from|de|von)\s?:\*?\s*\S`)
	answeredSent    = regexp.MustCompile(`(?i)^\*?(sent|date|envoyé|gesendet|datum)\s?:`)
	answeredSubject = regexp.MustCompile(`(?i)^\*?(subject|objet|betreff)\s?:`)
)

// cutUnderHead parts an answer from the letter it answers at such a head: lines
// one under another that say from whom, when, and about what.
func cutUnderHead(text string) (fresh, quoted string) {
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		if i == 0 || !answeredFrom.MatchString(l) {
			continue
		}
		when, what := false, false
		for _, under := range lines[i+1 : min(i+8, len(lines))] {
			if under == "" {
				break
			}
			when, what = when || answeredSent.MatchString(under), what || answeredSubject.MatchString(under)
		}
		if above := strings.TrimSpace(strings.Join(lines[:i], "\n")); when && what && above != "" {
			return above, strings.Join(lines[i:], "\n")
		}
	}
	return text, ""
}

// quotesFollow says whether the first line with something on it is quoted by ">".
func quotesFollow(lines []string) bool {
	for _, l := range lines {
		if l = strings.TrimSpace(l); l != "" {
			return strings.HasPrefix(l, ">")
		}
	}
	return false
}

// htmlText is what a page says, without how it looks. Links are written out
// where their address is not what they say.
func htmlText(page string) string {
	var b strings.Builder
	z := html.NewTokenizer(strings.NewReader(page))
	skip, quote := 0, 0
	href := ""
	for {
		switch z.Next() {
		case html.ErrorToken:
			return collapse(b.String())
		case html.TextToken:
			if skip == 0 {
				t := strings.Join(strings.Fields(string(z.Text())), " ")
				if t != "" {
					b.WriteString(t + " ")
				}
			}
		case html.StartTagToken, html.SelfClosingTagToken:
			tok := z.Token()
			switch tok.DataAtom {
			case atom.Script, atom.Style, atom.Title:
				if tok.Type == html.StartTagToken {
					skip++
				}
			case atom.Br:
				b.WriteString("\n")
			case atom.Blockquote:
				if quote < 10 {
					quote++
				}
				b.WriteString("\n\x01")
			case atom.P, atom.Div, atom.Tr, atom.Li, atom.H1, atom.H2, atom.H3, atom.Table, atom.Ul, atom.Ol, atom.Hr:
				b.WriteString("\n")
			case atom.A:
				href = attr(tok, "href")
			}
		case html.EndTagToken:
			tok := z.Token()
			switch tok.DataAtom {
			case atom.Script, atom.Style, atom.Title:
				if skip > 0 {
					skip--
				}
			case atom.Blockquote:
				if quote > 0 {
					quote--
					b.WriteString("\n\x02")
				}
			case atom.P, atom.Div, atom.Tr, atom.H1, atom.H2, atom.H3, atom.Table:
				b.WriteString("\n")
			case atom.A:
				if u := webLink(href); u != "" && skip == 0 && !strings.HasSuffix(strings.TrimSpace(b.String()[max(0, b.Len()-len(u)-2):]), u) {
					b.WriteString("<" + u + "> ")
				}
				href = ""
			}
		}
	}
}

// collapse tidies lines, and puts ">" before those within block quotes, which
// are where letters quote others.
func collapse(s string) string {
	var out []string
	depth, blank := 0, false
	for _, l := range strings.Split(s, "\n") {
		for strings.HasPrefix(l, "\x01") || strings.HasPrefix(l, "\x02") {
			if l[0] == 1 {
				depth++
			} else if depth > 0 {
				depth--
			}
			l = l[1:]
		}
		l = strings.TrimSpace(l)
		if l == "" {
			blank = true
			continue
		}
		if blank && len(out) > 0 {
			out = append(out, "")
		}
		blank = false
		if depth > 0 {
			l = "> " + l
		}
		out = append(out, l)
	}
	return strings.Join(out, "\n")
}

func attr(t html.Token, key string) string {
	for _, a := range t.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

var webAddress = regexp.MustCompile(`https?://[^\s<>"']{3,500}`)

func webLinks(text string) []string {
	var out []string
	for _, m := range webAddress.FindAllString(text, 50) {
		if u := webLink(strings.TrimRight(m, ".,;:!?)]}")); u != "" {
			out = append(out, u)
		}
	}
	return out
}

func htmlLinks(page string) []string {
	var out []string
	z := html.NewTokenizer(strings.NewReader(page))
	for len(out) < 50 {
		switch z.Next() {
		case html.ErrorToken:
			return out
		case html.StartTagToken:
			if t := z.Token(); t.DataAtom == atom.A {
				if u := webLink(attr(t, "href")); u != "" {
					out = append(out, u)
				}
			}
		}
	}
	return out
}

// webLink returns the address if it is one of the web, else nothing.
func webLink(s string) string {
	u, err := url.Parse(strings.TrimSpace(s))
	if err != nil || u.Scheme != "http" && u.Scheme != "https" || u.Host == "" || len(s) > 600 {
		return ""
	}
	return oneLine(u.String())
}
