package web

import (
	"bytes"
	"io/fs"
	"reflect"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"platebook/desk"
)

// examples are pages filled in, by page file, layout and a name. Each area's
// tests add theirs with example; every registered page needs one at least.
var examples []filled

type filled struct {
	page  anyPage
	name  string
	value any
}

// example adds a page filled in, for the tests that go over all pages: that
// its template fits its struct, and how it looks and reads in a browser. It is
// called from init functions of tests.
func example[T any](p *page[T], name string, value T) {
	for _, r := range registered {
		if r.file == p.file && r.layout == p.l && reflect.TypeOf(r.zero) == reflect.TypeOf(value) {
			examples = append(examples, filled{r, name, value})
			return
		}
	}
	panic("page not registered: " + p.file)
}

// aFrame is what the layout shows around an example.
func aFrame(l layout) frame {
	f := frame{Library: "Larkmere Libraries", Contact: "Ask at the desk of any branch.", Here: "/", W: tongues[0]}
	if a, err := openAssets(); err == nil && a.built() {
		f.Style, f.Script, f.Fonts = a.url("style.css"), a.url("desk.js"), a.fonts()
	}
	if l == forStaff {
		f.Here = "/desk"
		f.Who = desk.Actor{Kind: desk.ByStaff, Name: "Rowan", Grants: []desk.Grant{{Role: desk.Manager}}}
	}
	return f
}

// Every page renders with nothing in it and filled in: a template that asks
// its struct for something it does not have fails here.
func TestPagesFitTheirStructs(t *testing.T) {
	if len(registered) == 0 {
		t.Fatal("no pages")
	}
	for _, p := range registered {
		name := string(p.layout) + "/" + p.file
		if _, err := p.render(aFrame(p.layout), p.zero); err != nil {
			t.Errorf("%s, empty: %v", name, err)
		}
		n := 0
		for _, e := range examples {
			if e.page.file != p.file || e.page.layout != p.layout {
				continue
			}
			n++
			text, err := p.render(aFrame(p.layout), e.value)
			if err != nil {
				t.Errorf("%s, %s: %v", name, e.name, err)
				continue
			}
			checkHTML(t, name+", "+e.name, text)
		}
		if n == 0 {
			t.Errorf("%s has no example: add one with example() in a test of its area", name)
		}
	}
}

// Every page file belongs to a page.
func TestPagesAreRegistered(t *testing.T) {
	used := map[string]bool{}
	for _, p := range registered {
		used[p.file] = true
	}
	err := fs.WalkDir(pages, "pages", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (d.Name() == "layout" || d.Name() == "parts") {
			return fs.SkipDir
		}
		name := strings.TrimPrefix(path, "pages/")
		if !d.IsDir() && strings.HasSuffix(name, ".html") && !used[name] {
			t.Errorf("%s belongs to no page", name)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// checkHTML holds a page to what a parser can tell: no inline script or style
// (the policy would stop it), no address of another site, ids used once, and
// every label and aria reference leading somewhere.
func checkHTML(t *testing.T, name string, text []byte) {
	t.Helper()
	doc, err := html.Parse(bytes.NewReader(text))
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return
	}
	ids := map[string]int{}
	var refs []string
	for n := range doc.Descendants() {
		if n.Type != html.ElementNode {
			continue
		}
		src := false
		for _, a := range n.Attr {
			switch {
			case a.Key == "id":
				ids[a.Val]++
			case a.Key == "style" || strings.HasPrefix(a.Key, "on") || strings.HasPrefix(a.Key, "hx-on"):
				t.Errorf("%s: <%s %s> is inline, and the policy stops it", name, n.Data, a.Key)
			case a.Key == "src" || a.Key == "action" || a.Key == "data-mesh":
				src = true
				if strings.Contains(a.Val, "//") {
					t.Errorf("%s: <%s %s=%q> is of another site", name, n.Data, a.Key, a.Val)
				}
			case a.Key == "for" || a.Key == "aria-describedby" || a.Key == "aria-labelledby" || a.Key == "aria-controls":
				refs = append(refs, strings.Fields(a.Val)...)
			case a.Key == "href" && strings.HasPrefix(a.Val, "#") && len(a.Val) > 1:
				refs = append(refs, a.Val[1:])
			}
			if strings.Contains(a.Val, "ZgotmplZ") {
				t.Errorf("%s: <%s %s> was not safe to fill in", name, n.Data, a.Key)
			}
		}
		if n.Data == "style" || n.Data == "script" && !src {
			t.Errorf("%s: an inline <%s>", name, n.Data)
		}
	}
	for id, n := range ids {
		if n > 1 {
			t.Errorf("%s: id %q stands %d times", name, id, n)
		}
	}
	for _, ref := range refs {
		if ids[ref] == 0 {
			t.Errorf("%s: %q is referred to and is not there", name, ref)
		}
	}
}
