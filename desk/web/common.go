package web

import (
	_ "embed"
	"net/http"
	"time"

	"platebook/desk"
)

// Fact is one line of the template "facts".
type Fact struct{ Name, Say string }

// Told is one line of the template "history", its time on the branch's clock.
type Told struct {
	At  time.Time
	Day string // that in words, where it is not to be in English
	Who string
	Say string
}

// told takes history lines to a zone.
func told(events []desk.Event, zone string) []Told {
	var all []Told
	for _, e := range events {
		all = append(all, Told{At: local(e.At, zone), Who: e.Who, Say: e.Say})
	}
	return all
}

func notFound() error {
	return desk.Faultf(desk.NotFound, "There is no such page. The link may be cut short or out of date: check it, or begin at the front page.")
}

type licencesView struct{ Text string }

var licencesPage = newPage[licencesView](forPatron, "licences.html")

//go:embed pages/icon.svg
var icon []byte

func (s *Site) commonRoutes() {
	s.open("GET /a/{name}", func(w http.ResponseWriter, r *http.Request) error { return s.assets.serve(w, r) })
	s.open("GET /icon.svg", func(w http.ResponseWriter, r *http.Request) error {
		w.Header().Set("Content-Type", "image/svg+xml")
		w.Header().Set("Cache-Control", "public, max-age=86400")
		_, err := w.Write(icon)
		return err
	})
	s.open("GET /licences", func(w http.ResponseWriter, r *http.Request) error {
		return show(s, w, r, http.StatusOK, licencesPage, licencesView{s.assets.licences})
	})
	s.open("GET /robots.txt", func(w http.ResponseWriter, r *http.Request) error {
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		_, err := w.Write([]byte("User-agent: *\nDisallow: /\n"))
		return err
	})
	s.open("/", func(w http.ResponseWriter, r *http.Request) error {
		s.showFault(w, heard(r), notFound())
		return nil
	})
}
