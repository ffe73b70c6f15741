package mail

import (
	"strings"
	"unicode"
)

// Words that are common in a language and in no other of these (CUSTOM).
var common = map[string]string{
	"en": "the and you please could would i it this with for my thanks hello hi is are can",
	"fr": "le la les des et vous je un une pour avec bonjour merci est mon ma ce cette plaît voudrais serait dans",
	"de": "der die das und ich ist bitte nicht mit für ein eine danke hallo möchte mein",
	"es": "el los las y por favor con para una gracias hola quisiera mi es está",
}

// Language guesses what language a text is in, among those given, by its most
// common words; empty when nothing speaks for one of them. A wrong guess costs
// little: staff and patron can both change it.
func Language(text string, among []string) string {
	count := map[string]int{}
	n := 0
	for w := range strings.FieldsFuncSeq(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) }) {
		if n++; n > 2000 {
			break
		}
		count[w]++
	}
	best, most := "", 0
	for _, l := range among {
		base, _, _ := strings.Cut(l, "-")
		score := 0
		for _, w := range strings.Fields(common[base]) {
			score += count[w]
		}
		if score > most {
			best, most = l, score
		}
	}
	return best
}
