package desk

import (
	"fmt"
	"strings"
)

// sentence is what patrons are told, by language (BCP 47). English is always
// there and stands in for what is not.
type sentence map[string]string

// in gives the sentence in a language, its blanks filled in.
func (s sentence) in(lang string, a ...any) string {
	lang, _, _ = strings.Cut(lang, "-")
	text, ok := s[lang]
	if !ok {
		text = s["en"]
	}
	if len(a) == 0 {
		return text
	}
	return fmt.Sprintf(text, a...)
}

// fault makes a Fault that says the sentence.
func (s sentence) fault(kind Kind, lang string, a ...any) *Fault {
	return &Fault{Kind: kind, Say: s.in(lang, a...)}
}

// MoneyLocale is the locale to write money in for a reader of a language: that
// language, as in the country of the library's locale.
func MoneyLocale(locale, language string) string { return moneyLocale(locale, language) }
