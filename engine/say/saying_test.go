package say_test

import (
	"strings"
	"testing"

	"platebook/engine/say"
)

// A table of what is said: in English, and in French as the Lexique of the
// Imprimerie nationale sets it (from memory): decimal comma, groups of three by
// narrow no-break spaces, no-break spaces before units, one of nought and one.
func TestSaid(t *testing.T) {
	mm := say.Of("%s mm", say.Digits("2.5"))
	gaps := func(n int) say.Saying { return say.Counted(n, "%s gap", "%s gaps") }
	for _, c := range []struct {
		name   string
		s      say.Saying
		en, fr string
	}{
		{"nothing", say.Saying{}, "", ""},
		{"a unit", mm, "2.5 mm", "2,5\u00a0mm"},
		{"a share", say.Of("%.0f %%", 20.4), "20 %", "20\u00a0%"},
		{"none", gaps(0), "0 gaps", "0 interstice"},
		{"one", gaps(1), "1 gap", "1 interstice"},
		{"many", gaps(12345), "12\u202f345 gaps", "12\u202f345 interstices"},
		{"one without its number", say.Counted(1, "One piece floats", "%d pieces float"), "One piece floats", "Une pièce flotte"},
		{"a list", say.List(gaps(1), gaps(2), gaps(3)), "1 gap, 2 gaps and 3 gaps", "1 interstice, 2 interstices et 3 interstices"},
		{"a list of one", say.List(gaps(1)), "1 gap", "1 interstice"},
		{"joined, nothing left out", say.Join("; ", say.Saying{}, mm, say.Join(", and "), gaps(2), say.List()), "2.5 mm; 2 gaps", "2,5\u00a0mm\u00a0; 2 interstices"},
		{"a capital", say.Start(say.Of("about %s", mm)), "About 2.5 mm", "Environ 2,5\u00a0mm"},
		{"within", say.Within(say.Of("Tilted")), "tilted", "penchée"},
		{"ended once", say.End(say.End(mm)), "2.5 mm.", "2,5\u00a0mm."},
		{"a capital with an accent", say.Sentence(say.Of("at the back")), "At the back.", "À l’arrière."},
		{"money", say.Money("1234.50", "EUR"), "EUR 1234.50", "1\u202f234,50\u00a0€"},
		{"a name that looks like a form", say.Of("the %s", "100 %s %d"), "the 100 %s %d", "l’imprimante 100 %s %d"},
		{"a name of two lines", say.Named("a\nb"), "a b", "a b"},
		{"a quoted name", say.Of("the part %q cannot be unpacked", `a"b`), `the part "a\"b" cannot be unpacked`, "la partie «\u00a0a\"b\u00a0» ne peut pas être déballée"},
		{"words of a library's own", say.Text("Not for 100 % of uses."), "Not for 100 % of uses.", "Not for 100 % of uses."},
		{"words of ours with theirs", say.Join(" ", say.Text("Keep dry."), say.Of("Local rules come first.")), "Keep dry. Local rules come first.", "Keep dry. Les règles locales passent avant tout."},
		{"half in no language", say.Of("%s, the longest %s", say.Of("no form of the program"), mm), "no form of the program, the longest 2.5 mm", "no form of the program, the longest 2.5 mm"},
		{"an error", say.Errorf("the file could not be read to its end: %w", say.Errorf("it has no faces")).(say.Sayer).Saying(),
			"the file could not be read to its end: it has no faces", "le fichier n’a pas pu être lu jusqu’au bout\u00a0: il n’a pas de faces"},
	} {
		if got := c.s.String(); got != c.en {
			t.Errorf("%s: %q, want %q", c.name, got, c.en)
		}
		if got := c.s.In("fr-FR"); got != c.fr {
			t.Errorf("%s: %q, want %q", c.name, got, c.fr)
		}
		for _, tag := range []string{"en-GB", "de", "no tag at all"} {
			want := c.en
			if tag == "en-GB" {
				want = strings.ReplaceAll(want, "EUR 1234.50", "€1,234.50") // CLDR's way with money there
			}
			if got := c.s.Or(tag, ""); got != want {
				t.Errorf("%s in %s: %q, want %q", c.name, tag, got, want)
			}
		}
	}
	if got := mm.Or("de", "as it was kept"); got != "as it was kept" {
		t.Errorf("a language without words says %q", got)
	}
	if got := say.All([]say.Saying{mm}, "fr", []string{"a", "b"}); len(got) != 2 || got[0] != "a" {
		t.Errorf("with a saying for one of two: %q", got)
	}
}
