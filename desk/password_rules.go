package desk

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// What a password must be follows NIST SP 800-63B in spirit: long enough, not
// one of those everybody tries first, not the person's or the library's own
// name; no rules of composition, no expiry, and anything that can be typed
// may stand in it.

const (
	leastPassword = 12  // characters
	mostPassword  = 256 // characters, so that nobody makes us hash a book
)

// badWords are what is left out of a password before it is judged: words that
// people make passwords of when they are asked for a long one (CUSTOM).
var badWords = []string{
	"password", "passwort", "motdepasse", "passphrase", "passw0rd", "p@ssword", "p@ssw0rd",
	"qwertyuiop", "qwertzuiop", "azertyuiop", "qwerty", "qwertz", "azerty", "asdfghjkl", "yxcvbnm", "zxcvbnm", "1q2w3e4r5t", "1q2w3e4r", "q1w2e3r4",
	"letmein", "welcome", "bienvenue", "willkommen", "iloveyou", "changeme", "default", "temporary", "monkey", "dragon", "sunshine", "princess",
	"football", "baseball", "superman", "trustno1", "whatever", "starwars", "computer", "internet", "administrator", "admin", "manager", "operator",
	"reviewer", "staff", "login", "secret", "library", "librarian", "bibliotheque", "biblioteca", "bibliothek", "branch",
	"3dprinter", "3dprinting", "3dprint", "printer", "printing", "filament", "platebook", "spring", "summer", "autumn", "winter",
	"january", "february", "march", "april", "june", "july", "august", "september", "october", "november", "december",
}

// leastLeft is how many characters must be left of a password without words
// anyone would try, and without runs such as 1234 or aaaa.
const leastLeft = 6

// judgePassword says what is wrong with a password, "" if nothing is. known
// are names around the person: their own, their library's.
func judgePassword(password string, known ...string) string {
	if !utf8.ValidString(password) {
		return "This is not text. Type the password again."
	}
	n := utf8.RuneCount(normal(password))
	switch {
	case n < leastPassword:
		return fmt.Sprintf("Too short: it needs at least %d characters. Several words in a row are easy to keep in mind.", leastPassword)
	case n > mostPassword:
		return fmt.Sprintf("Too long: at most %d characters.", mostPassword)
	}
	left := fold(password)
	for _, k := range known {
		for _, w := range strings.FieldsFunc(fold(k), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			if utf8.RuneCountInString(w) >= 3 {
				left = strings.ReplaceAll(left, w, "\x00")
			}
		}
	}
	if countReal(left) < leastLeft {
		return "Too easy to guess: little is left of it without your own name or the library's. Add words that have nothing to do with you or your work."
	}
	for _, w := range badWords {
		left = strings.ReplaceAll(left, w, "\x00")
	}
	if countReal(left) < leastLeft {
		return "Too easy to guess: it is made of what everyone tries first. Use several words that do not belong together."
	}
	return ""
}

// fold is text for comparing: small letters without accents.
func fold(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return unicode.ToLower(r)
	}, norm.NFKD.String(s))
}

// countReal counts the characters that are not what the one before lets
// expect: the same again, or the next up or down, as in "aaaa", "1234" and
// "fedc"; nor one of a piece that came before, as in "xkcdxkcdxkcd".
func countReal(s string) int {
	r := []rune(s)
	n, was := 0, rune(-10)
	for i, c := range r {
		step := c - was
		was = c
		if c == 0 || (step >= -1 && step <= 1) {
			continue
		}
		if i >= 2 && strings.Contains(string(r[:i]), string(r[i-1:i+1])) {
			continue
		}
		n++
	}
	return n
}
