package findings

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"platebook/engine/say/saytest"
)

// Every finding of the engine has its label, and no other has: the ids are read
// from the source of what makes findings.
func TestEveryFindingHasALabel(t *testing.T) {
	made := regexp.MustCompile(`(?:\.say|finding)\("([a-z-]+)"|ID: "([a-z-]+)"`)
	found := map[string]bool{}
	for _, pattern := range []string{"*.go", "../quote/*.go"} {
		files, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range files {
			if strings.HasSuffix(name, "_test.go") {
				continue
			}
			b, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range made.FindAllStringSubmatch(string(b), -1) {
				found[m[1]+m[2]] = true
			}
		}
	}
	if len(found) < 35 {
		t.Fatalf("only %d findings were seen in the source", len(found))
	}
	for id := range found {
		f := Finding{ID: id}
		if labels[id] == "" {
			t.Errorf("%s has no label", id)
			continue
		}
		saytest.French(t, id, f.Label())
		// A label is the id in words, so that either can be looked for.
		if want := strings.ReplaceAll(id, "-", " "); !strings.EqualFold(f.Label().String(), want) {
			t.Errorf("%s is labelled %q", id, f.Label())
		}
	}
	for id := range labels {
		if !found[id] {
			t.Errorf("the label of %s is of nothing", id)
		}
	}
}
