package desk_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"regexp"
	"slices"
	"strconv"
	"testing"
)

// Every sentence is there in every language of patrons' pages, with the same
// blanks in the same order.
func TestSentences(t *testing.T) {
	file, err := parser.ParseFile(token.NewFileSet(), "said.go", nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	blank := regexp.MustCompile(`%[^%]`)
	n := 0
	ast.Inspect(file, func(node ast.Node) bool {
		lit, ok := node.(*ast.CompositeLit)
		if !ok {
			return true
		}
		if id, ok := lit.Type.(*ast.Ident); !ok || id.Name != "sentence" {
			return true
		}
		n++
		text := map[string]string{}
		for _, e := range lit.Elts {
			kv := e.(*ast.KeyValueExpr)
			lang, _ := strconv.Unquote(kv.Key.(*ast.BasicLit).Value)
			text[lang], _ = strconv.Unquote(kv.Value.(*ast.BasicLit).Value)
		}
		for _, lang := range []string{"en", "fr"} {
			if text[lang] == "" || !slices.Equal(blank.FindAllString(text[lang], -1), blank.FindAllString(text["en"], -1)) {
				t.Errorf("in %s: %q, in English %q", lang, text[lang], text["en"])
			}
		}
		return true
	})
	if n < 40 {
		t.Fatalf("looked at %d sentences only", n)
	}
}
