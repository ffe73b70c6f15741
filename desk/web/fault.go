package web

import (
	"context"
	"errors"
	"net/http"

	"platebook/desk"
)

// faultView is what is shown when something did not work.
type faultView struct {
	Title string
	Say   string
	Since []Told // what others did meanwhile
	ID    string // by which staff can find it in the log
	W     *words
	Front bool // leads to the front page: there is nothing to go back to
}

var (
	faultPage      = newPage[faultView](forPatron, "fault.html")
	staffFaultPage = newPage[faultView](forStaff, "fault.html")
)

// statusOf is the HTTP status of each kind of fault.
func statusOf(k desk.Kind) int {
	switch k {
	case desk.Wrong:
		return http.StatusUnprocessableEntity
	case desk.NotFound:
		return http.StatusNotFound
	case desk.NotYours:
		return http.StatusForbidden
	case desk.NotNow, desk.Stale:
		return http.StatusConflict
	case desk.TooMany:
		return http.StatusTooManyRequests
	case desk.NoRoom:
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// titleOf heads the page of a fault, in the page's language.
func titleOf(k desk.Kind, t *words) string { return or(t.FaultTitles[k], t.FaultTitles[desk.Broken]) }

// faultOf finds the Fault in an error, or makes one.
func faultOf(err error) *desk.Fault {
	var f *desk.Fault
	var big *http.MaxBytesError
	switch {
	case errors.As(err, &f):
		return f
	case errors.As(err, &big):
		return &desk.Fault{Kind: desk.TooMany, Say: "That was larger than this form takes, so nothing was kept. Send less at a time.", Err: err}
	}
	return &desk.Fault{Kind: desk.Broken, Say: "That did not work, through no fault of yours. Nothing was half done. Try again; if it happens again, tell the library the number below.", Err: err}
}

// showFault is the one place that shows an error. The person reads a sentence,
// the log keeps the cause.
func (s *Site) showFault(w http.ResponseWriter, r *http.Request, err error) {
	if errors.Is(err, context.Canceled) && r.Context().Err() != nil {
		return // nobody is there to read it
	}
	f := faultOf(err)
	status := statusOf(f.Kind)
	id := visitOf(r.Context()).id
	if f.Kind == desk.Broken || f.Kind == desk.NoRoom {
		s.log.Error("fault", "request", id, "kind", f.Kind, "err", err)
	} else if f.Err != nil {
		s.log.Info("fault", "request", id, "kind", f.Kind, "err", err)
	}
	if f.Kind == desk.TooMany && w.Header().Get("Retry-After") == "" {
		w.Header().Set("Retry-After", "60")
	}
	v := faultView{Title: titleOf(f.Kind, wordsOf(r.Context())), Say: wordsOf(r.Context()).said(f.Say), ID: id, W: wordsOf(r.Context())}
	if len(f.Since) > 0 {
		v.Since = told(f.Since, s.zone(r))
	}
	if byHTMX(r) {
		// The notice at the top of the page says it; the rest stays as it is.
		w.Header().Set("HX-Retarget", "#notice")
		w.Header().Set("HX-Reswap", "innerHTML")
		err = part(s, w, r, status, faultPage, "notice-fault", v)
	} else if who := actorOf(r.Context()); who.Kind == desk.ByStaff {
		err = show(s, w, r, status, staffFaultPage, v)
	} else {
		v.Front = f.Kind == desk.NotFound
		err = show(s, w, r, status, faultPage, v)
	}
	if err != nil {
		s.log.Error("fault page", "request", id, "err", err)
	}
}
