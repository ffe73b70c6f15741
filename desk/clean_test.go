package desk_test

import (
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"

	"platebook/desk"
)

// Names as hostile senders make them. Directional characters: UAX #9; names no
// disk takes: CUSTOM.
func TestCleanName(t *testing.T) {
	for _, c := range []struct{ sent, shown string }{
		{"cup.stl", "cup.stl"},
		{"../../etc/passwd", "passwd"},
		{`C:\Users\rowan\Desktop\cup.stl`, "cup.stl"},
		{"/", "file"}, {"", "file"}, {"...", "file"}, {".stl", "file.stl"}, {"cup.stl/", "file"},
		{"cup\r\nContent-Type: text/html.stl", "html.stl"},
		{"a\x00b\x1b[31m.stl", "ab[31m.stl"},
		{"exe.\u202elts.stl", "exe.lts.stl"},
		{"\u2066cup\u2069.stl", "cup.stl"},
		{"cu\u200bp\ufeff.stl", "cup.stl"},
		{"tasse à café.stl", "tasse à café.stl"},
		{"e\u0301.stl", "é.stl"},
		{"чашка.stl", "чашка.stl"},
		{"a<b>\"c\"|d?*.stl", "a_b__c__d__.stl"},
		{strings.Repeat("x", 300) + ".stl", strings.Repeat("x", 96) + ".stl"},
		{"  cup  .stl ", "cup.stl"},
		{"cup." + strings.Repeat("y", 300), "cup." + strings.Repeat("y", 96)},
		{"\xff\xfe.stl", "file.stl"},
	} {
		if got := desk.CleanName(c.sent); got != c.shown {
			t.Errorf("%q: %q, want %q", c.sent, got, c.shown)
		}
	}
}

func TestCleanLineAndText(t *testing.T) {
	for _, c := range []struct{ typed, line, text string }{
		{" Rowan \t Ash\r\n", "Rowan Ash", "Rowan   Ash"},
		{"one\r\ntwo\n\n\n\nthree", "one two three", "one\ntwo\n\nthree"},
		{"a\u2028b", "a b", "a\nb"},
	} {
		if got := desk.CleanLine(c.typed, 100); got != c.line {
			t.Errorf("line of %q: %q, want %q", c.typed, got, c.line)
		}
		if got := desk.CleanText(c.typed, 100); got != c.text {
			t.Errorf("text of %q: %q, want %q", c.typed, got, c.text)
		}
		if n := utf8.RuneCountInString(desk.CleanLine(c.typed, 3)); n > 3 {
			t.Errorf("%q cut to 3 has %d", c.typed, n)
		}
	}
	if got := utf8.RuneCountInString(desk.CleanLine("z"+strings.Repeat("\u0301", 500), 100)); got > 6 {
		t.Errorf("%d marks on a letter", got)
	}
}

// Whatever is typed, what is kept can be shown: it is valid, short, on as many
// lines as it may be, and cleaning it again changes nothing.
func TestCleanHolds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.Map(rapid.SliceOf(rapid.Byte()), func(b []byte) string { return string(b) })).Draw(t, "typed")
		for name, clean := range map[string]func(string) string{
			"line": func(s string) string { return desk.CleanLine(s, 40) }, "text": func(s string) string { return desk.CleanText(s, 40) }, "name": desk.CleanName} {
			got := clean(s)
			if !utf8.ValidString(got) || utf8.RuneCountInString(got) > 100 {
				t.Fatalf("%s: %q", name, got)
			}
			for _, c := range got {
				if c == '\n' && name == "text" {
					continue
				}
				if unicode.IsControl(c) || c == '\u202e' || name == "name" && (c == '/' || c == '\\') {
					t.Fatalf("%s: %q has %q", name, got, c)
				}
			}
			if again := clean(got); again != got {
				t.Fatalf("%s: %q, cleaned again %q", name, got, again)
			}
		}
	})
}
