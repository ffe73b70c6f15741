package desk

import (
	"embed"
	"strings"

	"github.com/BurntSushi/toml"
)

//go:embed texts/*.toml
var textFiles embed.FS

// builtinTexts are what comes with the program in one language.
type builtinTexts struct {
	Texts    map[TextKind]Text
	Cautions []string
}

// builtinLanguages lists the languages that messages come in.
func builtinLanguages() []string { return []string{"en", "fr"} }

func builtinText(language string) builtinTexts {
	b, err := textFiles.ReadFile("texts/" + language + ".toml")
	if err != nil {
		panic(err) // built in, and tested
	}
	var doc map[string]toml.Primitive
	meta, err := toml.Decode(string(b), &doc)
	if err != nil {
		panic(err)
	}
	out := builtinTexts{Texts: map[TextKind]Text{}}
	for key, p := range doc {
		if key == "cautions" {
			err = meta.PrimitiveDecode(p, &out.Cautions)
		} else {
			var t Text
			err = meta.PrimitiveDecode(p, &t)
			t.Body = strings.TrimSpace(t.Body) + "\n"
			out.Texts[TextKind(key)] = t
		}
		if err != nil {
			panic(err)
		}
	}
	return out
}

// DefaultTexts are the messages until a library writes its own: every kind, in
// every language the program brings.
func DefaultTexts() Texts {
	t := Texts{}
	for _, l := range builtinLanguages() {
		t[l] = builtinText(l).Texts
	}
	return t
}

// Cautions are those of the rules, in the patron's language where they are the
// ones that come with the program.
func (s Settings) Cautions(language string) []string {
	said := s.Rules.Cautions
	built := builtinText("en").Cautions
	if len(said) != len(built) {
		return said
	}
	for i := range said {
		if said[i] != built[i] {
			return said
		}
	}
	if base := baseLanguage(language); base == "fr" {
		return builtinText(base).Cautions
	}
	return said
}

// baseLanguage is the language of a tag without its region: "fr" of "fr-CA".
func baseLanguage(tag string) string {
	base, _, _ := strings.Cut(strings.ToLower(strings.TrimSpace(tag)), "-")
	return base
}

// textOf finds the text of a kind in the patron's language, else in the
// library's usual one; of either in the library's own words, else in those the
// program brings. A language comes before whose words they are: a library that
// rewrote a text in one language still writes the others' speakers in theirs.
func textOf(s Settings, language string, kind TextKind) (Text, string) {
	tries := []string{language, baseLanguage(language)}
	if len(s.Library.Languages) > 0 {
		tries = append(tries, s.Library.Languages[0], baseLanguage(s.Library.Languages[0]))
	}
	builtin := DefaultTexts()
	for _, l := range append(tries, "en") {
		if t, ok := s.Texts[l][kind]; ok && t.Subject != "" && t.Body != "" {
			return t, l
		}
		if t, ok := builtin[l][kind]; ok {
			return t, l
		}
	}
	return Text{}, "en"
}
