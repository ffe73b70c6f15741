package say_test

import (
	"fmt"
	"maps"
	"regexp"
	"strings"
	"testing"
	"unicode"

	"platebook/engine/printer"
	"platebook/engine/say"
)

// Every language of the program has every form of the program, filled by what
// fills the English, and nothing that is said nowhere.
func TestLanguagesAreComplete(t *testing.T) {
	spoken, counted, err := say.Source()
	if err != nil {
		t.Fatal(err)
	}
	one := map[say.Form]bool{}
	for _, form := range counted {
		one[form] = true
	}
	loose := map[string]bool{"no material given": true}
	for _, m := range printer.Builtin().Materials {
		for _, c := range m.Cautions {
			loose[strings.ReplaceAll(c, "%", "%%")] = true
		}
	}
	if len(loose) < 8 {
		t.Fatalf("only %d cautions were found", len(loose)-1)
	}
	languages := say.Languages(t)
	if languages["fr"].Forms == nil {
		t.Fatal("there is no French")
	}
	for tag, l := range languages {
		if tag == "en" {
			continue // it says itself
		}
		for form, where := range spoken {
			if _, many := counted[form]; many || one[form] || !say.Lettered(form) && !marked(form) {
				continue
			}
			theirs, ok := l.Forms[string(form)]
			if !ok {
				t.Errorf("%s lacks %q (%s)", tag, form, where)
				continue
			}
			if fault := sameFilling(form, theirs, false); fault != "" {
				t.Errorf("%s: %q: %s", tag, theirs, fault)
			}
		}
		for many, one := range counted {
			theirs, ok := l.Counted[string(many)]
			if !ok && say.Lettered(many) {
				t.Errorf("%s lacks %q", tag, many)
			}
			for _, kind := range l.Plurals() {
				if theirs[kind] == "" {
					t.Errorf("%s: %q lacks its form for %v", tag, many, kind)
				}
			}
			short := len(say.Verbs(one)) < len(say.Verbs(many))
			for _, form := range theirs {
				if fault := sameFilling(many, form, short); fault != "" {
					t.Errorf("%s: %q: %s", tag, form, fault)
				}
			}
		}
		for c := range loose {
			if l.Forms[c] == "" {
				t.Errorf("%s lacks the caution %q", tag, c)
			}
		}
		for key := range l.Forms {
			if _, ok := spoken[say.Form(key)]; !ok && !loose[key] {
				t.Errorf("%s has %q, which is said nowhere", tag, key)
			}
		}
		for key := range l.Counted {
			if _, ok := counted[say.Form(key)]; !ok {
				t.Errorf("%s has %q, which is counted nowhere", tag, key)
			}
		}
	}
}

// The patron is never told to ask the patron: what staff are told to ask has its
// form for the patron in every language.
func TestThePatronIsSpokenTo(t *testing.T) {
	spoken, counted, err := say.Source()
	if err != nil {
		t.Fatal(err)
	}
	staff := regexp.MustCompile(`(?i)\b(ask|the patron)\b`)
	languages := say.Languages(t)
	for form, where := range spoken {
		if _, many := counted[form]; many || !staff.MatchString(string(form)) || strings.HasPrefix(where, "desk/") {
			continue
		}
		for _, tag := range []string{"en", "fr"} {
			if languages[tag].Patron[string(form)] == "" {
				t.Errorf("%s: %q (%s) is for staff, and nothing is said to the patron", tag, form, where)
			}
		}
	}
	for tag, l := range languages {
		for form, theirs := range l.Patron {
			if _, ok := spoken[say.Form(form)]; !ok {
				t.Errorf("%s has %q for the patron, which is said nowhere", tag, form)
			}
			if fault := sameFilling(say.Form(form), theirs, false); fault != "" {
				t.Errorf("%s: %q: %s", tag, theirs, fault)
			}
			if regexp.MustCompile(`(?i)\bask\b|the patron|demander|l’usager`).MatchString(theirs) {
				t.Errorf("%s: %q is still for staff", tag, theirs)
			}
		}
	}
	size := say.Of("Ask the patron how large it should be.")
	kept := "as it was kept"
	for _, c := range []struct{ tag, want string }{
		{"en", "Tell us how large it should be."}, {"en-GB", "Tell us how large it should be."},
		{"fr-CA", "Dites-nous quelle taille elle doit avoir."},
		{"tlh", "Tell us how large it should be."}, {"no tag", "Tell us how large it should be."},
	} {
		if got := size.ToPatron(c.tag, kept); got != c.want {
			t.Errorf("%s: %q", c.tag, got)
		}
	}
	if got := (say.Saying{}).ToPatron("fr", kept); got != kept {
		t.Errorf("what was kept before there were sayings is %q", got)
	}
	if got := size.Or("en", ""); got != "Ask the patron how large it should be." {
		t.Errorf("staff read %q", got)
	}
}

// marked says whether a form without words has marks that languages set apart
// from what stands before them.
func marked(form say.Form) bool {
	bare := strings.ReplaceAll(string(form), "%%", "¤")
	return strings.ContainsAny(bare, "¤;:!?")
}

// sameFilling says how a form of another language is filled by other things than
// the English is. With short, the number itself may be left out.
func sameFilling(english say.Form, theirs string, short bool) string {
	want := len(say.Verbs(english))
	used := map[int]bool{}
	next := 0
	verbs := say.Verbs(say.Form(theirs))
	if short && len(verbs) == want-1 {
		used[0], next = true, 1
	}
	for _, v := range verbs {
		n := next
		if _, err := fmt.Sscanf(v, "%%[%d]s", &n); err == nil {
			n--
		} else if v != "%s" {
			return "only %s and %[2]s fill another language, not " + v
		} else {
			next++
		}
		used[n] = true
	}
	for n := range used {
		if n < 0 || n >= want {
			return fmt.Sprintf("it is filled with %d, the English with %d", n+1, want)
		}
	}
	if len(used) != want {
		return fmt.Sprintf("it shows %d of %d", len(used), want)
	}
	return ""
}

// French is set as the Imprimerie nationale's Lexique has it, as far as a
// program can tell (from memory): a no-break space before ; : ! ? and %, within
// « », and between a number and its unit; the apostrophe of print.
func TestFrenchIsSet(t *testing.T) {
	wrong := map[string]*regexp.Regexp{
		"a space that may break before a mark": regexp.MustCompile(`[^\x{a0}\x{202f}][;!?»%]|[^\x{a0}\x{202f}]:`),
		"a space that may break in quotes":     regexp.MustCompile(`«[^\x{a0}\x{202f}]`),
		"a space that may break before a unit": regexp.MustCompile(`(#|[0-9]) (mm|cm|g|h|min|s|m|°|ko|Mo|×)([^\pL’]|$)`),
		"a straight apostrophe":                regexp.MustCompile(`'`),
		"two spaces":                           regexp.MustCompile(`  `),
		"a straight quotation mark":            regexp.MustCompile(`"`),
	}
	check := func(form string) {
		plain := strings.ReplaceAll(regexp.MustCompile(`%(\[[0-9]\])?s`).ReplaceAllString(form, "#"), "%%", "%")
		for what, r := range wrong {
			if r.MatchString(plain) {
				t.Errorf("%s: %q", what, form)
			}
		}
	}
	fr := say.Languages(t)["fr"]
	for _, form := range fr.Forms {
		check(form)
	}
	for _, form := range fr.Patron {
		check(form)
	}
	for _, forms := range fr.Counted {
		for _, form := range forms {
			check(form)
		}
	}
}

// A sentence begins and ends in another language as it does in English: so a
// full stop or a capital is neither lost nor doubled where parts are joined.
func TestBeginningsAndEnds(t *testing.T) {
	for tag, l := range say.Languages(t) {
		all := maps.Clone(l.Forms)
		maps.Copy(all, l.Patron)
		for english, theirs := range all {
			e, f := []rune(english), []rune(theirs)
			if unicode.IsLetter(e[0]) && unicode.IsLetter(f[0]) && unicode.IsUpper(e[0]) != unicode.IsUpper(f[0]) {
				t.Errorf("%s: %q begins unlike %q", tag, theirs, english)
			}
			if (e[len(e)-1] == '.') != (f[len(f)-1] == '.') {
				t.Errorf("%s: %q ends unlike %q", tag, theirs, english)
			}
		}
	}
}
