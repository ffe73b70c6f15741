// Package saytest holds what is said by the rooms of the engine to languages
// other than English, in their tests.
package saytest

import (
	"encoding/json"
	"regexp"
	"strings"
	"testing"

	"platebook/engine/say"
)

// english are words that no French sentence has (the commonest of English, less
// those that are French too).
var english = regexp.MustCompile(`(?i)(^|[^\pL])(the|of|and|it|is|are|with|that|this|which|where|be|by|was|has|have|from|than|they|there|out|up|its|two|would|printed|layers?|supports? (fill|hold))([^\pL’]|$)`)

var quoted = regexp.MustCompile(`«[^»]*»`)

// French wants s said wholly in French, and returns it. names are what the
// test gave it to say, which may be English.
func French(t testing.TB, what string, s say.Saying, names ...string) string {
	t.Helper()
	const none = "not in French"
	kept, err := json.Marshal(s)
	if err != nil {
		t.Fatal(err)
	}
	var back say.Saying // as a desk keeps it
	if err := json.Unmarshal(kept, &back); err != nil {
		t.Fatal(err)
	}
	text := back.Or("fr", none)
	if text == none {
		t.Errorf("%s: there is no French for %q (%s)", what, s, kept)
	}
	if back.String() != s.String() {
		t.Errorf("%s: kept, %q is %q", what, s, back)
	}
	bare := quoted.ReplaceAllString(text, "«»")
	for _, n := range names {
		bare = strings.ReplaceAll(bare, n, "")
	}
	if found := english.FindString(bare); found != "" {
		t.Errorf("%s: %q is in French, but for %q", what, text, found)
	}
	if strings.Contains(text, "%!") || strings.Contains(text, "%s") {
		t.Errorf("%s: %q is not filled in", what, text)
	}
	return text
}
