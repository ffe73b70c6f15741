package web

import (
	"context"
	"crypto/rand"
	"fmt"
	"net/http"
	"runtime/debug"
	"time"

	"platebook/desk"
)

// visit is what is known of a request while it is served.
type visit struct {
	id   string // in the log and on fault pages
	from string // network address
	page string // the pattern that took it
}

type key int

const (
	visitKey key = iota
	actorKey
	wordsKey
)

func visitOf(ctx context.Context) *visit {
	if v, ok := ctx.Value(visitKey).(*visit); ok {
		return v
	}
	return &visit{}
}

func withActor(ctx context.Context, who desk.Actor) context.Context {
	return context.WithValue(ctx, actorKey, who)
}

// actorOf is who is logged in, once staff has found out; else the zero Actor.
func actorOf(ctx context.Context) desk.Actor {
	a, _ := ctx.Value(actorKey).(desk.Actor)
	return a
}

// recorder notes the status that was sent.
type recorder struct {
	http.ResponseWriter
	status int
}

func (w *recorder) WriteHeader(status int) {
	if w.status == 0 && status >= 200 {
		w.status = status
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *recorder) Write(b []byte) (int, error) {
	if w.status == 0 {
		w.status = http.StatusOK
	}
	return w.ResponseWriter.Write(b)
}

func (w *recorder) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// logged writes a line for every request: never its path, as patrons' links
// are secret, but the pattern that took it.
func (s *Site) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		v := &visit{id: rand.Text()[:10], from: s.from(r)}
		rec := &recorder{ResponseWriter: w}
		began := time.Now()
		r = r.WithContext(context.WithValue(r.Context(), visitKey, v))
		defer func() {
			s.log.Info("served", "request", v.id, "method", r.Method, "page", v.page, "status", rec.status,
				"ms", time.Since(began).Milliseconds(), "from", v.from)
		}()
		next.ServeHTTP(rec, r)
	})
}

// recovered turns a panic into a fault page and a line in the log.
func (s *Site) recovered(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			p := recover()
			if p == nil {
				return
			}
			if p == http.ErrAbortHandler {
				panic(p)
			}
			s.log.Error("panic", "request", visitOf(r.Context()).id, "panic", fmt.Sprint(p), "stack", string(debug.Stack()))
			if rec, ok := w.(*recorder); ok && rec.status != 0 {
				panic(http.ErrAbortHandler) // half a page is out: break off visibly
			}
			s.showFault(w, r, fmt.Errorf("panic: %v", p))
		}()
		next.ServeHTTP(w, r)
	})
}

// paced turns away an address that asks too often. Scripts, styles and fonts
// do not count.
func (s *Site) paced(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !s.assets.has(r.URL.Path) && !s.visits.allow(visitOf(r.Context()).from) {
			s.showFault(w, heard(r), desk.Faultf(desk.TooMany, "Too many pages were asked for from your network at once. Wait a minute, then go on where you were."))
			return
		}
		next.ServeHTTP(w, r)
	})
}

// takesFiles says whether a form is for a page whose forms bring files.
func (s *Site) takesFiles(r *http.Request) bool {
	_, page := s.mux.Handler(r)
	return s.filed[page]
}

// bounded bounds what a form may hold and how long it and the answer may take
// to pass. Forms with files, and downloads, may take as long as they move.
func (s *Site) bounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		control := http.NewResponseController(w)
		_ = control.SetWriteDeadline(time.Now().Add(pageTime))
		switch {
		case r.Method == http.MethodGet || r.Method == http.MethodHead:
			if r.ContentLength != 0 { // the server reads what is left of it before it answers
				_ = control.SetReadDeadline(time.Now().Add(pageTime / 4))
			}
		case isUpload(r) && s.takesFiles(r):
			r.Body = http.MaxBytesReader(w, steady(w, r.Body), s.limits.Upload)
		default:
			_ = control.SetReadDeadline(time.Now().Add(pageTime / 4))
			r.Body = http.MaxBytesReader(w, r.Body, s.limits.Form)
		}
		next.ServeHTTP(w, r)
	})
}
