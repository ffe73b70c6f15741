package store

import (
	"strings"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/runes"
	"golang.org/x/text/transform"
	"golang.org/x/text/unicode/norm"
)

// fold is text as a search sees it: letter case and marks above and below
// letters do not matter (Unicode's full case folding after compatibility
// decomposition), nor does more than one space. Neither database can do this
// alike for letters beyond ASCII, so it is done here and kept.
func fold(s string) string {
	s, _, err := transform.String(transform.Chain(norm.NFKD, runes.Remove(runes.In(unicode.Mn)), cases.Fold(), norm.NFKD), clean(s))
	if err != nil {
		return ""
	}
	return strings.Join(strings.Fields(s), " ")
}

// foldName is a log-in name as names are compared: letter case does not
// matter, marks do.
func foldName(s string) string {
	return norm.NFKC.String(cases.Fold().String(norm.NFKC.String(clean(strings.TrimSpace(s)))))
}

// longest text a search takes, in bytes: longer than any name.
const longestSearch = 200

var likeEscapes = strings.NewReplacer(`\`, `\\`, `%`, `\%`, `_`, `\_`)

// like is a LIKE pattern for folded text that holds s somewhere.
func like(s string) string {
	if len(s) > longestSearch {
		s = strings.ToValidUTF8(s[:longestSearch], "")
	}
	return "%" + likeEscapes.Replace(fold(s)) + "%"
}
