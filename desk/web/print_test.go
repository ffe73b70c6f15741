package web

import (
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strconv"
	"testing"

	"platebook/internal/browser"
)

var (
	pdfPage = regexp.MustCompile(`/Type\s*/Page\b[^s]`)
	pdfBox  = regexp.MustCompile(`/MediaBox\s*\[\s*0\s+0\s+([0-9.]+)\s+([0-9.]+)\s*\]`)
)

// What comes out of a printer: a slip on one piece of receipt paper of 80 mm, a
// receipt on one A5 (ISO 216: 148 × 210 mm), and nothing of the controls.
func TestPaperComesOutRight(t *testing.T) {
	a, err := openAssets()
	if err != nil {
		t.Fatal(err)
	}
	if !a.built() {
		if os.Getenv("CI") == "true" {
			t.Fatal("no bundle: run make front")
		}
		t.Skip("no bundle: run make front")
	}
	var text []byte
	s := &Site{assets: a}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /a/{name}", func(w http.ResponseWriter, r *http.Request) { _ = a.serve(w, r) })
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) { _ = send(w, http.StatusOK, text) })
	mux.HandleFunc("/", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "image/png")
		_, _ = w.Write(examplePNG())
	})
	server := httptest.NewServer(s.headers(mux))
	defer server.Close()
	p := browser.Open(t)
	seen := 0
	for _, e := range examples {
		size, ok := map[string][2]float64{"paper_slip.html": {80, 120}, "paper_receipt.html": {148, 210}}[e.page.file]
		if !ok {
			continue
		}
		seen++
		if text, err = e.page.render(aFrame(e.page.layout), e.value); err != nil {
			t.Fatal(err)
		}
		p.Go(server.URL)
		pdf := p.PDF()
		if n := len(pdfPage.FindAll(pdf, -1)); n != 1 {
			t.Errorf("%s, %s: %d pages", e.page.file, e.name, n)
		}
		m := pdfBox.FindSubmatch(pdf)
		if m == nil {
			t.Fatalf("%s, %s: no MediaBox", e.page.file, e.name)
		}
		for i, want := range size {
			if pt, err := strconv.ParseFloat(string(m[1+i]), 64); err != nil || math.Abs(pt*25.4/72-want) > 0.5 {
				t.Errorf("%s, %s: paper %s × %s pt, want %v mm", e.page.file, e.name, m[1], m[2], size)
				break
			}
		}
	}
	if seen < 2 {
		t.Errorf("%d papers looked at", seen)
	}
}
