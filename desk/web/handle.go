package web

import (
	"net/http"
	"strings"

	"platebook/desk"
)

// handler does a request's work, or returns why not; one place shows that.
type handler func(w http.ResponseWriter, r *http.Request) error

// staffHandler is a handler for someone who is logged in.
type staffHandler func(w http.ResponseWriter, r *http.Request, who desk.Actor) error

// open registers a page anyone may see.
func (s *Site) open(pattern string, h handler) {
	s.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		visitOf(r.Context()).page = r.Pattern // here, as r may be a copy of what the log sees
		if err := h(w, r); err != nil {
			s.showFault(w, r, err)
		}
	})
}

// staff registers a page for staff. Who is not logged in is sent to log in,
// and from there back to what they asked for; what they typed is kept.
func (s *Site) staff(pattern string, h staffHandler) {
	s.open(pattern, func(w http.ResponseWriter, r *http.Request) error {
		who, err := s.actor(r)
		if err != nil {
			return err
		}
		if who.Kind != desk.ByStaff {
			return s.over(w, r)
		}
		if who.MustRenew && !strings.HasPrefix(r.URL.Path, "/desk/me") {
			return s.goTo(w, r, "/desk/me") // came with a one-time word
		}
		r = r.WithContext(withActor(r.Context(), who))
		if err := h(w, r, who); err != nil {
			s.showFault(w, r, err) // with the staff's own places around it
		}
		return nil
	})
}

// goTo sends the browser on to a path of ours after a form was taken.
func (s *Site) goTo(w http.ResponseWriter, r *http.Request, path string) error {
	if byHTMX(r) {
		w.Header().Set("HX-Redirect", path)
		w.WriteHeader(http.StatusNoContent)
		return nil
	}
	http.Redirect(w, r, path, http.StatusSeeOther)
	return nil
}

// byHTMX says whether a script of ours asked, so that a part of a page will do.
func byHTMX(r *http.Request) bool { return r.Header.Get("HX-Request") == "true" }

// ours keeps a path to go back to if it is one of this site's, else "/".
func ours(path string) string {
	if len(path) > 1000 || !strings.HasPrefix(path, "/") || strings.HasPrefix(path, "//") ||
		strings.ContainsFunc(path, func(c rune) bool { return c < ' ' || c == '\\' || c == 0x7f }) {
		return "/"
	}
	return path
}
