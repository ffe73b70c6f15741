package web

import (
	"errors"
	"net/http"

	"platebook/desk"
)

// patronRoutes are the pages for patrons: asking for a print, and their request.
func (s *Site) patronRoutes() {
	s.patron("GET /{$}", s.welcome)
	s.patron("GET /ask", s.askForm)
	s.patron("POST /ask", s.askSend)
	s.filed["POST /ask"], s.filed["POST /my/{key}/add"] = true, true
	s.patron("GET /forgotten", s.gone)

	s.patron("GET /my/{key}", s.mine)
	s.patron("GET /my/{key}/standing", s.mineStanding)
	s.patron("POST /my/{key}/write", s.mineWrite)
	s.patron("POST /my/{key}/add", s.mineAdd)
	s.patron("GET /my/{key}/file/{id}", s.mineFile)
	s.patron("GET /my/{key}/file/{id}/{what}", s.mineBlob)
	s.patron("GET /my/{key}/way/{id}/still.png", s.mineWayStill)
	s.patron("GET /my/{key}/agree", s.agreeForm)
	s.patron("POST /my/{key}/agree", s.agreeSend)
	s.patron("GET /my/{key}/withdraw", s.withdrawForm)
	s.patron("POST /my/{key}/withdraw", s.withdrawSend)
	s.patron("GET /my/{key}/forget", s.forgetForm)
	s.patron("POST /my/{key}/forget", s.forgetSend)
	s.patron("GET /my/{key}/copy", s.takeOut)
}

// patronHandler is a handler that speaks the patron's language.
type patronHandler func(w http.ResponseWriter, r *http.Request, t *words) error

// patron registers a page for patrons. Its language is the one asked for with
// ?lang=, else what the browser would like best; once a request is found it is
// that of its contact (see mineOf).
func (s *Site) patron(pattern string, h patronHandler) {
	s.open(pattern, func(w http.ResponseWriter, r *http.Request) error {
		set, err := s.desk.Settings(r.Context())
		if err != nil {
			return err
		}
		t := speak(r, set.Library, r.URL.Query().Get("lang"))
		r = withWords(r, t)
		if err := h(w, r, t); err != nil {
			s.showFault(w, r, inWords(err, t))
		}
		return nil
	})
}

// inWords says in the page's language what is not the desk's to say.
func inWords(err error, t *words) error {
	var f *desk.Fault
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &big):
		return &desk.Fault{Kind: desk.TooMany, Say: t.FormLarge, Err: err}
	case !errors.As(err, &f):
		return &desk.Fault{Kind: desk.Broken, Say: t.FormFailed, Err: err}
	case f.Kind == desk.NotFound:
		return &desk.Fault{Kind: desk.NotFound, Say: t.NoLinkSay, Err: err}
	case errors.Is(err, errBroken):
		return &desk.Fault{Kind: desk.Wrong, Say: t.FormBroken, Err: err}
	case errors.Is(err, errApart):
		return &desk.Fault{Kind: desk.Wrong, Say: t.FormApart, Err: err}
	case t.said(f.Say) != f.Say:
		in := *f
		in.Say = t.said(f.Say)
		return &in
	}
	return err
}

// mineOf finds the request of the link, and goes on in its patron's language.
func (s *Site) mineOf(r *http.Request, t *words) (desk.MyRequest, *http.Request, *words, error) {
	m, err := s.desk.Mine(r.Context(), r.PathValue("key"))
	if err != nil {
		return m, r, t, err
	}
	t = speak(r, m.Settings.Library, or(r.URL.Query().Get("lang"), m.Request.Contact.Language))
	return m, withWords(r, t), t, nil
}

func or(s ...string) string {
	for _, x := range s {
		if x != "" {
			return x
		}
	}
	return ""
}
