package desk

import (
	"strings"
	"testing"
	"unicode"

	"pgregory.net/rapid"
)

// At most four letters of the surname and an initial: library custom (CUSTOM).
// The names are invented.
func TestSlipName(t *testing.T) {
	for _, c := range []struct{ name, surname, want string }{
		{"Sam Example", "Example", "EXAM S."},
		{"Sam Example", "", "EXAM S."},
		{"Example Sam", "Example", "EXAM S."},
		{"Anna Maria de la Cruz", "de la Cruz", "DELA A."},
		{"Anna Maria de la Cruz", "", "CRUZ A."},
		{"X", "", "X"},
		{"Bo", "", "B"},
		{"Cher", "", "CHE"},
		{"Madelaine", "", "MADE"},
		{"Li Wu", "Li", "LI W."},
		{"A B", "B", "B A."},
		{"Sean O'Brien", "O'Brien", "OBRI S."},
		{"Sean O’Brien", "O’Brien", "OBRI S."},
		{"Jo Smith-Jones", "Smith-Jones", "SMIT J."},
		{"Jo De-Wit", "De-Wit", "DEWI J."},
		{"'t Hooft Jan", "'t Hooft", "THOO J."},
		{"Zoë Çelik", "Çelik", "ÇELI Z."},
		{"Åse Ødegård", "Ødegård", "ØDEG Å."},
		{"Ångström, Åse", "Ångström", "ÅNGS Å."}, // marks typed apart from their letters
		{"Jörg Straße", "Straße", "STRA J."},
		{"王小明", "王", "王 小."},
		{"王小明", "", "王"},
		{"김민수", "김", "김 민."},
		{"やまだ たろう", "やまだ", "や た."},
		{"Иван Петров", "Петров", "ПЕТР И."},
		{"Νίκος Παππάς", "Παππάς", "ΠΑΠΠ Ν."},
		{"محمد الأحمد", "الأحمد", "الأح م."},
		{"राम शर्मा", "शर्मा", "शर्मा रा."}, // three letters with their marks
		{"נועה לוי", "לוי", "לוי נ."},
		{"", "", ""},
		{"123 456", "", ""},
		{"🙂", "🙂", ""},
		{"<b>Sam</b> <i>Ex</i>", "<i>Ex</i>", "IEXI B."},
		{"Sam Ex\u202eample", "Ex\u202eample", "EXAM S."},
		{"Sam Ex\u200bample", "Ex\u200bample", "EXAM S."},
		{"Example", "Example", "EXAM"},
		{"Sam", "Example", "EXAM S."},
	} {
		if got := SlipName(Contact{Name: c.name, Surname: c.surname}); got != c.want {
			t.Errorf("%q, %q: %q, want %q", c.name, c.surname, got, c.want)
		}
	}
}

// Whatever the name: no more than five letters, nothing that is no letter, and
// never all of a name of several letters that is the only one.
func TestSlipNameTellsLittle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Contact{Name: rapid.String().Draw(t, "name"), Surname: rapid.String().Draw(t, "surname"), Email: "a@example.org", Phone: "555 0199"}
		got := SlipName(c)
		letters := 0
		for _, r := range got {
			switch {
			case unicode.IsLetter(r):
				letters++
			case !unicode.Is(unicode.M, r) && r != ' ' && r != '.':
				t.Fatalf("%q holds %q", got, r)
			}
		}
		if letters > 5 || len(got) > 100 {
			t.Fatalf("%q says too much", got)
		}
		if word := strings.Fields(c.Name); c.Surname == "" && len(word) == 1 && letters > 1 && len(lettersOf(c.Name)) == letters {
			t.Fatalf("%q is all of the name", got)
		}
	})
}
