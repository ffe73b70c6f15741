package web

import (
	"os"
	"regexp"
	"testing"
)

// The 3D view asks for words by keys; both languages and the script have the
// same ones, and the script's own are the English.
func TestWordsOfTheView(t *testing.T) {
	b, err := os.ReadFile("front/view.js")
	if err != nil {
		t.Fatal(err)
	}
	own := map[string]string{}
	table := regexp.MustCompile(`(?s)const english = \{\n(.*?)\n\};`).FindSubmatch(b)
	if table == nil {
		t.Fatal("the script has no words of its own")
	}
	for _, m := range regexp.MustCompile(`(?m)^\t(\w+): "(.*)",$`).FindAllStringSubmatch(string(table[1]), -1) {
		own[m[1]] = m[2]
	}
	if len(own) != len(englishView) || len(own) < 20 {
		t.Errorf("the script has %d words, the page %d", len(own), len(englishView))
	}
	for key, text := range own {
		if englishView[key] != text {
			t.Errorf("%s is %q in the script and %q on pages", key, text, englishView[key])
		}
	}
	for _, m := range regexp.MustCompile(`(?:this\.words|say|wordsOf\(root\))\.(\w+)`).FindAllStringSubmatch(string(b), -1) {
		if own[m[1]] == "" {
			t.Errorf("the script says %q, for which there are no words", m[1])
		}
	}
}
