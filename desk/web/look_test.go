package web

import (
	"flag"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"platebook/internal/browser"
)

func TestMain(m *testing.M) { os.Exit(browser.Run(m)) }

var only = flag.String("look", "", "look only at pages whose name has this in it, and keep screenshots of them")

// Every example of every page, in Chromium: axe-core finds nothing at both
// widths, nothing is wider than a phone of 320 px, nothing to press is smaller
// than 24 px, and neither the policy nor a script complains. With -look=part of
// a name, screenshots are kept in build/screens.
func TestLookOfPages(t *testing.T) {
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
	s := &Site{assets: a, log: slog.New(slog.DiscardHandler), now: time.Now}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /a/{name}", func(w http.ResponseWriter, r *http.Request) {
		if err := a.serve(w, r); err != nil {
			http.NotFound(w, r)
		}
	})
	mux.HandleFunc("GET /icon.svg", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "image/svg+xml")
		_, _ = w.Write(icon)
	})
	for i, e := range examples {
		mux.HandleFunc(fmt.Sprintf("GET /example/%d", i), func(w http.ResponseWriter, _ *http.Request) {
			text, err := e.page.render(aFrame(e.page.layout), e.value)
			if err != nil {
				http.Error(w, err.Error(), http.StatusInternalServerError)
				return
			}
			_ = send(w, http.StatusOK, text)
		})
	}
	// What examples point at is there, if only as something to show.
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		switch {
		case r.Header.Get("Sec-Fetch-Dest") == "image":
			w.Header().Set("Content-Type", "image/png")
			_, _ = w.Write(examplePNG())
		case r.Header.Get("HX-Request") == "true":
			w.WriteHeader(http.StatusNoContent)
		default:
			w.Header().Set("Content-Type", "application/octet-stream")
			_, _ = w.Write(exampleView())
		}
	})
	server := httptest.NewServer(s.headers(mux))
	t.Cleanup(server.Close)
	// Two tabs share the work.
	for half := range 2 {
		t.Run([]string{"even", "odd"}[half], func(t *testing.T) {
			t.Parallel()
			p := browser.Open(t)
			for i := half; i < len(examples); i += 2 {
				e := examples[i]
				name := fmt.Sprintf("%s-%s-%s", strings.TrimSuffix(string(e.page.layout), ".html"), strings.TrimSuffix(e.page.file, ".html"), strings.ReplaceAll(e.name, " ", "-"))
				if !strings.Contains(name, *only) {
					continue
				}
				p.Go(fmt.Sprintf("%s/example/%d", server.URL, i))
				p.Settle()
				if *only == "" {
					name = ""
				}
				p.Look(name)
			}
		})
	}
}
