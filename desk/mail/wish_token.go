package mail

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// A token is a word, a number, or a mark. What cannot be part of a wish (an
// address of the web, the name of a file, a code) is a token without meaning.
type token struct {
	from, to int    // bytes
	low      string // in lower case, apostrophes straight, accents kept
	fold     string // the same without accents, for long words
	digits   bool
	value    float64
	glued    bool // to the token before, without a space or by a hyphen
	capital  bool
	mark     bool // punctuation
	breaks   bool // a sentence ends after it, or a line that was ended on purpose
	mute     bool // in a greeting, a signature, an address: nobody's wish
	sentence int
	clause   int
}

// Files that come in such letters; their names often hold numbers and colours (CUSTOM).
var fileEnds = []string{".stl", ".obj", ".3mf", ".step", ".stp", ".ply", ".amf", ".zip", ".gcode", ".pdf", ".jpg", ".jpeg", ".png", ".scad", ".dxf", ".svg"}

// What the languages write before an apostrophe, behind one, and with a point.
var (
	elided  = listed(func(l language) string { return l.elided })
	clitics = listed(func(l language) string { return l.clitics })
	points  = listed(func(l language) string { return l.points })
)

func listed(of func(language) string) map[string]bool {
	all := map[string]bool{}
	for _, l := range languages {
		for _, word := range strings.Split(of(l), ",") {
			all[strings.TrimSpace(word)] = true
		}
	}
	return all
}

// tokens cuts text, which may be anything.
func tokens(text string) []token {
	var out []token
	for at := 0; at < len(text); {
		r, n := utf8.DecodeRuneInString(text[at:])
		if r == '\n' {
			out = append(out, token{from: at, to: at + n, low: "\n", mark: true})
			at += n
			continue
		}
		if unicode.IsSpace(r) {
			at += n
			continue
		}
		end := at
		for end < len(text) {
			r, n := utf8.DecodeRuneInString(text[end:])
			if unicode.IsSpace(r) {
				break
			}
			end += n
		}
		if bare := strings.TrimRight(text[at:end], ".,;:!?)]}>\"'»"); opaque(bare) {
			out = append(out, token{from: at, to: at + len(bare), low: "\x00"})
			at += len(bare)
		}
		for first := true; at < end; first = false {
			t := tokenAt(text, at, end)
			t.glued = !first && !elided[out[len(out)-1].low]
			at = t.to
			if t.low == "-" && !first && at < end { // a hyphen glues what it joins
				continue
			}
			out = append(out, t)
		}
	}
	return out
}

func opaque(s string) bool {
	if strings.ContainsAny(s, "@_\\") || strings.Contains(s, "://") || strings.HasPrefix(strings.ToLower(s), "www.") {
		return true
	}
	low := strings.ToLower(s)
	for _, e := range fileEnds {
		if strings.HasSuffix(low, e) {
			return true
		}
	}
	return false
}

// tokenAt is the token that begins at a byte that is not a space.
func tokenAt(text string, at, end int) token {
	r, n := utf8.DecodeRuneInString(text[at:])
	t := token{from: at, to: at + n, low: text[at : at+n]}
	switch {
	case r >= '0' && r <= '9':
		t.digits, t.to = true, at+numberLength(text[at:end])
		t.low = text[at:t.to]
		t.value = numberValue(t.low)
	case r == '½' || r == '¼' || r == '¾':
		t.digits, t.value = true, map[rune]float64{'½': 0.5, '¼': 0.25, '¾': 0.75}[r]
	case unicode.IsLetter(r) || unicode.IsDigit(r):
		t.to = wordEnd(text, at, end)
		t.capital = unicode.IsUpper(r)
		t.low = strings.ReplaceAll(strings.ToLower(text[at:t.to]), "’", "'")
		if len(t.low) > 4 {
			t.fold = folded(t.low)
		}
	case (r == '\'' || r == '’') && at > 0 && clitic(text[at+n:end]) && letterBefore(text, at):
		for t.to < end && text[t.to]|0x20 >= 'a' && text[t.to]|0x20 <= 'z' {
			t.to++
		}
		t.low = "'" + strings.ToLower(text[at+n:t.to])
	default:
		t.mark = true
		switch r {
		case '–', '—', '‐', '‑', '−':
			t.low = "-"
		case '’', '`', '´':
			t.low = "'"
		case '“', '”', '″', '«', '»':
			t.low = "\""
		}
	}
	return t
}

// clitic says whether a text begins with what English writes short behind an
// apostrophe, which is a word of its own: it's, we'd, Monday's.
func clitic(text string) bool {
	n := 0
	for n < len(text) && text[n]|0x20 >= 'a' && text[n]|0x20 <= 'z' {
		n++
	}
	after, _ := utf8.DecodeRuneInString(text[n:])
	return n > 0 && clitics["'"+strings.ToLower(text[:n])] && !unicode.IsLetter(after)
}

func letterBefore(text string, at int) bool {
	r, _ := utf8.DecodeLastRuneInString(text[:at])
	return unicode.IsLetter(r) || unicode.IsDigit(r)
}

// wordEnd is where the word ends that begins at a letter. Figures after the
// letters belong to it (A4, v2), but "x4" is a sign and a number, and the unit
// in "60mmx40mm" ends before the sign.
func wordEnd(text string, at, end int) int {
	to := at
	for to < end {
		r, n := utf8.DecodeRuneInString(text[to:])
		if r == '\'' || r == '’' {
			after, _ := utf8.DecodeRuneInString(text[to+n:])
			if !unicode.IsLetter(after) || to+n >= end {
				break
			}
			if elided[strings.ToLower(text[at:to])+"'"] {
				return to + n
			}
			if to > at && clitic(text[to+n:end]) {
				break
			}
		} else if !unicode.IsLetter(r) && !unicode.Is(unicode.Mn, r) {
			if r >= '0' && r <= '9' {
				switch w := strings.ToLower(text[at:to]); w {
				case "x":
					return to
				case "mmx", "cmx", "inx":
					return to - 1
				}
			}
			if !unicode.IsDigit(r) {
				break
			}
		}
		to += n
	}
	return max(to, at+1)
}

// numberLength is how long the number is that s begins with: figures, with a
// point or a comma among them.
func numberLength(s string) int {
	i := 0
	for i < len(s) && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	if i+1 < len(s) && (s[i] == '.' || s[i] == ',') && s[i+1] >= '0' && s[i+1] <= '9' {
		i++
		for i < len(s) && s[i] >= '0' && s[i] <= '9' {
			i++
		}
	}
	return i
}

var plainLetters = strings.NewReplacer("é", "e", "è", "e", "ê", "e", "ë", "e", "à", "a", "â", "a", "ä", "a", "î", "i", "ï", "i", "ô", "o", "ö", "o", "û", "u", "ù", "u", "ü", "u", "ç", "c", "œ", "oe")

func folded(s string) string { return plainLetters.Replace(s) }

// numberValue is what figures say, -1 where that is not sure: "1,000" is a
// thousand or one.
func numberValue(s string) float64 {
	if i := strings.IndexAny(s, ".,"); len(s) > 9 || i >= 0 && s[i] == ',' && len(s)-i == 4 {
		return -1
	}
	v, err := strconv.ParseFloat(strings.Replace(s, ",", ".", 1), 64)
	if err != nil {
		return -1
	}
	return v
}
