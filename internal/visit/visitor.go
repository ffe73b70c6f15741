package visit

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"strings"
	"time"

	"golang.org/x/net/html"
)

// Visitor is one person with a browser.
type Visitor struct {
	At     string // of the desk: http://127.0.0.1:8420
	From   string // network address the person comes from, for a desk that trusts us as a proxy
	Client *http.Client
	// Heard, if set, hears how long every page took, the body included.
	Heard func(method, path string, status int, took time.Duration)
}

// lines are shared by all visitors: thousands with lines of their own would be
// more than a system lets one program have. What tells visitors apart goes over
// any line.
var lines = &http.Transport{MaxIdleConnsPerHost: 64, IdleConnTimeout: 10 * time.Second}

// New returns a visitor who has not been there before.
func New(at, from string) *Visitor {
	jar, err := cookiejar.New(nil)
	if err != nil {
		panic(err) // never, without options
	}
	return &Visitor{At: at, From: from, Client: &http.Client{Jar: jar, Timeout: 2 * time.Minute, Transport: lines}}
}

// Page is what came back in the end, after redirects.
type Page struct {
	Path   string // with its query
	Status int
	Text   string
	// Sent says, of a form, whether the desk answered it by leading on: that is
	// how it says that it was taken.
	Sent bool
	doc  *html.Node
}

// Get opens a page of the desk.
func (v *Visitor) Get(ctx context.Context, path string) (*Page, error) {
	return v.do(ctx, http.MethodGet, path, nil, "")
}

const mostPage = 64 << 20

func (v *Visitor) do(ctx context.Context, method, path string, body io.Reader, kind string) (*Page, error) {
	q, err := http.NewRequestWithContext(ctx, method, v.At+path, body)
	if err != nil {
		return nil, err
	}
	if v.From != "" {
		q.Header.Set("X-Forwarded-For", v.From)
	}
	if method == http.MethodPost {
		q.Header.Set("Content-Type", kind)
		q.Header.Set("Origin", v.At)
		q.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	began := time.Now()
	a, err := v.Client.Do(q)
	if err != nil {
		return nil, err
	}
	defer a.Body.Close()
	text, err := io.ReadAll(io.LimitReader(a.Body, mostPage))
	if v.Heard != nil && err == nil {
		v.Heard(method, path, a.StatusCode, time.Since(began))
	}
	if err != nil {
		return nil, fmt.Errorf("%s %s: %w", method, path, err)
	}
	p := &Page{Path: a.Request.URL.RequestURI(), Status: a.StatusCode, Text: string(text)}
	p.Sent = method == http.MethodPost && a.Request.Method == http.MethodGet
	if strings.HasPrefix(a.Header.Get("Content-Type"), "text/html") {
		if p.doc, err = html.Parse(strings.NewReader(p.Text)); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// Links lists where the page's links lead on this desk, each once.
func (p *Page) Links() (paths []string) {
	seen := map[string]bool{}
	p.each(func(n *html.Node) {
		to, _, _ := strings.Cut(attr(n, "href"), "#")
		if n.Data == "a" && strings.HasPrefix(to, "/") && !strings.HasPrefix(to, "//") && !seen[to] {
			seen[to] = true
			paths = append(paths, to)
		}
	})
	return paths
}

// each calls do for every element.
func (p *Page) each(do func(*html.Node)) {
	if p.doc == nil {
		return
	}
	for n := range p.doc.Descendants() {
		if n.Type == html.ElementNode {
			do(n)
		}
	}
}

func attr(n *html.Node, key string) string {
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

func has(n *html.Node, key string) bool {
	for _, a := range n.Attr {
		if a.Key == key {
			return true
		}
	}
	return false
}

// text is all an element says.
func text(n *html.Node) string {
	var b strings.Builder
	for c := range n.Descendants() {
		if c.Type == html.TextNode {
			b.WriteString(c.Data)
		}
	}
	return strings.TrimSpace(b.String())
}
