package desk

import (
	"path"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// What people type is kept in Unicode's form C, without what cannot be seen
// and could make a name look like another: control characters, characters that
// turn the direction of writing around (UAX #9), and of no width.

// mostMarks is how many combining marks may stand on one letter; more than
// these no script needs, but they paint over the lines above and below.
const mostMarks = 4

// hidden says whether a character is left out everywhere.
func hidden(c rune) bool {
	switch {
	case c == utf8.RuneError, unicode.Is(unicode.Cc, c), unicode.Is(unicode.Co, c), unicode.Is(unicode.Cs, c):
		return true
	case c == '\u200c', c == '\u200d': // join and part letters in scripts that need it
		return false
	}
	// Format characters: directional ones, of no width, tags. Line and
	// paragraph separators.
	return unicode.Is(unicode.Cf, c) || c == '\u2028' || c == '\u2029' || c == '\u115f' || c == '\u3164'
}

// CleanLine makes one line of at most most characters of what was typed.
func CleanLine(s string, most int) string {
	return strings.Join(strings.Fields(clean(strings.Map(func(c rune) rune {
		if c == '\n' || c == '\r' || c == '\t' || c == '\u2028' || c == '\u2029' {
			return ' '
		}
		return c
	}, firstBytes(s, most)), most)), " ")
}

// CleanText keeps lines, with at most one empty one between two.
func CleanText(s string, most int) string {
	s = firstBytes(s, most)
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u2028", "\n", "\u2029", "\n", "\t", " ").Replace(s)
	var lines []string
	empty := 0
	for line := range strings.SplitSeq(s, "\n") {
		line = strings.TrimRightFunc(clean(line, most), unicode.IsSpace)
		if line == "" {
			if empty++; empty > 1 {
				continue
			}
		} else {
			empty = 0
		}
		lines = append(lines, line)
	}
	return strings.TrimSpace(cut(strings.Join(lines, "\n"), most))
}

// CleanName makes of a file's name, as sent, one that can be shown and written
// to a disk: no folders, no hidden characters, not hidden, its ending kept.
func CleanName(s string) string {
	const most = 100
	s = firstBytes(s, 4096)
	s = strings.ReplaceAll(s, `\`, "/")
	if i := strings.LastIndexByte(s, '/'); i >= 0 {
		s = s[i+1:]
	}
	s = CleanLine(s, 4096)
	s = strings.Map(func(c rune) rune {
		if strings.ContainsRune(`<>:"|?*`, c) { // no disk of any system takes these
			return '_'
		}
		return c
	}, s)
	s = strings.TrimRight(s, ". ")
	ext := path.Ext(s)
	if utf8.RuneCountInString(ext) > 12 {
		ext = ""
	}
	stem := strings.Trim(strings.TrimSuffix(s, ext), ". ")
	stem = strings.TrimRight(cut(stem, most-utf8.RuneCountInString(ext)), ". ")
	if stem == "" {
		stem = "file"
	}
	return stem + ext
}

// firstBytes cuts bytes before anything looks at characters one by one.
func firstBytes(s string, most int) string {
	if len(s) > 4*most+64 {
		s = s[:4*most+64]
	}
	return s
}

// clean drops hidden characters and heaps of marks.
func clean(s string, most int) string {
	s = norm.NFC.String(strings.ToValidUTF8(s, ""))
	marks := 0
	s = strings.Map(func(c rune) rune {
		if hidden(c) {
			return -1
		}
		if unicode.Is(unicode.M, c) {
			if marks++; marks > mostMarks {
				return -1
			}
		} else {
			marks = 0
		}
		return c
	}, s)
	// What was dropped may have stood between a letter and its mark.
	return cut(norm.NFC.String(s), most)
}

// cut keeps the first most characters.
func cut(s string, most int) string {
	n := 0
	for i := range s {
		if n == most {
			return s[:i]
		}
		n++
	}
	return s
}

// extension is the ending of a name, in small letters, without the dot.
func extension(name string) string {
	return strings.ToLower(strings.TrimPrefix(path.Ext(name), "."))
}
