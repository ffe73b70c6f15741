package desk

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// A hold slip lies where anyone can read it. By library custom it bears at
// most four letters of the surname and an initial. Marks that belong to a
// letter go with it; hyphens, apostrophes and spaces are no letters. Where a
// letter is a syllable or a word (Han, Hangul, Kana, Yi), four of them would be
// the whole name, so there it is one. A single name is a surname of which the
// last letter is always kept back.

// slipLetters is how many letters of the surname a slip may bear.
const slipLetters = 4

// SlipName is the name on a slip: "OBRI S.", or "" where there is none.
func SlipName(c Contact) string {
	words := strings.Fields(norm.NFC.String(c.Name))
	surname := norm.NFC.String(strings.TrimSpace(c.Surname))
	single := false
	if surname == "" && len(words) > 0 {
		surname, words = words[len(words)-1], words[:len(words)-1]
		single = len(words) == 0
	}
	letters := lettersOf(surname)
	if len(letters) == 0 {
		return ""
	}
	most := slipLetters
	if dense(letters[0]) {
		most = 1
	}
	if single {
		most = max(1, min(most, len(letters)-1))
	}
	name := strings.Join(letters[:min(most, len(letters))], "")
	if first := lettersOf(given(strings.Join(words, " "), surname)); len(first) > 0 && !single {
		name += " " + first[0] + "."
	}
	return name
}

// given is what is left of a whole name without the surname, wherever it stands.
func given(name, surname string) string {
	lower := strings.ToLower(surname)
	low := strings.ToLower(name)
	if len(low) != len(name) || len(lower) != len(surname) { // letter case changed lengths: places differ
		low, lower = name, surname
	}
	if i := strings.Index(low, lower); i >= 0 {
		rest := strings.TrimSpace(name[:i] + " " + name[i+len(surname):])
		return rest
	}
	return name
}

// lettersOf lists the letters of a name in capitals, each with its marks.
func lettersOf(s string) []string {
	var all []string
	for _, c := range s {
		switch {
		case unicode.IsLetter(c):
			all = append(all, string(unicode.ToUpper(c)))
		case unicode.Is(unicode.M, c) && len(all) > 0 && len(all[len(all)-1]) < 16:
			all[len(all)-1] += string(c)
		}
	}
	return all
}

// dense says whether a letter is of a script where one is a syllable or a word.
func dense(letter string) bool {
	for _, c := range letter {
		return unicode.In(c, unicode.Han, unicode.Hangul, unicode.Hiragana, unicode.Katakana, unicode.Yi)
	}
	return false
}
