package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"net/http"
	"path"
	"strings"
	"sync"

	"platebook/desk"
)

//go:embed pages
var pages embed.FS

// layout is what stands around a page.
type layout string

const (
	forPatron layout = "patron.html"
	forStaff  layout = "staff.html"
	forPaper  layout = "paper.html" // slips and receipts, to be printed
)

// page is a template together with the one type it is filled from: T. Its
// file defines "title" and "main", both given a T.
type page[T any] struct {
	file string
	t    *template.Template
	l    layout
}

// anyPage is a page whatever its type, for the tests that go over all pages.
type anyPage struct {
	file   string
	layout layout
	zero   any
	render func(frame, any) ([]byte, error)
}

// registered is every page there is.
var registered []anyPage

var base = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("").Funcs(funcs).Option("missingkey=error").ParseFS(pages, "pages/parts/*.html"))
})

// newPage reads a page from pages/file. It is called where the page's variable
// stands, so a page that does not parse is found before anything is served.
func newPage[T any](l layout, file string) *page[T] {
	t := template.Must(template.Must(base().Clone()).ParseFS(pages, "pages/layout/"+string(l), "pages/"+file))
	p := &page[T]{file: file, t: t, l: l}
	var zero T
	registered = append(registered, anyPage{file, l, zero, func(f frame, v any) ([]byte, error) {
		f.Page = v.(T)
		return p.render(string(p.l), f)
	}})
	return p
}

func (p *page[T]) render(block string, v any) ([]byte, error) {
	var b bytes.Buffer
	if err := p.t.ExecuteTemplate(&b, block, v); err != nil {
		return nil, fmt.Errorf("page %s: %w", p.file, err)
	}
	return b.Bytes(), nil
}

// frame is what a layout shows around a page.
type frame struct {
	Library string // its name
	Contact string // how to reach the desk
	Style   string // addresses of the bundle's parts; empty without a bundle
	Script  string
	Fonts   []string
	Here    string // path of the page, for the mark in the navigation
	Say     string // sentence to show once
	Who     desk.Actor
	Letters bool   // there is mail, and Who places letters
	W       *words // what patrons' layout says
	Page    any
}

// Back is where a paper was asked for.
func (f frame) Back() string {
	at, last := path.Split(f.Here)
	switch {
	case strings.HasPrefix(at, "/desk/shelf/") && (last == "slip" || last == "receipt"):
		return strings.TrimSuffix(at, "/")
	case strings.HasPrefix(at, "/desk/printing/work/"):
		return "/desk/printing"
	}
	return ""
}

// show renders a whole page. Nothing is sent unless all of it is there.
func show[T any](s *Site, w http.ResponseWriter, r *http.Request, status int, p *page[T], v T) error {
	f := s.frame(r)
	f.Page = v
	text, err := p.render(string(p.l), f)
	if err != nil {
		return err
	}
	return send(w, status, text)
}

// part renders one block of a page ("main", or one it defines besides), for
// htmx to put in place. It is given the page's own T.
func part[T any](_ *Site, w http.ResponseWriter, _ *http.Request, status int, p *page[T], block string, v T) error {
	text, err := p.render(block, v)
	if err != nil {
		return err
	}
	return send(w, status, text)
}

func send(w http.ResponseWriter, status int, text []byte) error {
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, err := w.Write(text)
	if err != nil {
		return nil // whoever asked has gone
	}
	return nil
}

// frame gathers what the layout shows. What cannot be found out is left out:
// a fault page must not fail for want of a name.
func (s *Site) frame(r *http.Request) frame {
	f := frame{Library: "Library", Here: r.URL.Path, Who: actorOf(r.Context()), W: wordsOf(r.Context())}
	if s.assets.built() {
		f.Style, f.Script, f.Fonts = s.assets.url("style.css"), s.assets.url("desk.js"), s.assets.fonts()
	}
	if all, err := s.desk.Settings(r.Context()); err == nil {
		f.Library, f.Contact = all.Library.Name, all.Library.Contact
		f.Letters = all.Mail.On && f.Who.PlacesLetters()
	} else if r.Context().Err() == nil { // else nobody waits for the page any more
		s.log.Error("settings for a page", "request", visitOf(r.Context()).id, "err", err)
	}
	if f.Who.Kind == desk.ByStaff {
		f.Say = s.sessions.PopString(r.Context(), sessionSay)
	}
	return f
}

// zone is the library's time zone.
func (s *Site) zone(r *http.Request) string {
	all, err := s.desk.Settings(r.Context())
	if err != nil {
		return "UTC"
	}
	return all.Library.TimeZone
}
