package web

import (
	"net/http"
	"net/url"
	"time"

	"github.com/alexedwards/scs/v2"

	"platebook/desk"
)

// newSessions sets up the sessions of staff; patrons have none. A session ends
// after a working day, or when nothing was done for a while (see idle): the
// manager's own idle limit would write to the store at every page.
func newSessions(store scs.Store, secure bool) *scs.SessionManager {
	m := scs.New() // in memory
	if store != nil {
		m.Store = store
	}
	m.Lifetime = 12 * time.Hour
	m.HashTokenInStore = true
	m.Cookie.Name = "desk"
	m.Cookie.HttpOnly = true
	m.Cookie.Secure = secure
	m.Cookie.SameSite = http.SameSiteLaxMode
	m.Cookie.Path = "/"
	m.Cookie.Persist = false // gone with the browser: desks are shared
	if secure {
		m.Cookie.Name = "__Host-desk"
	}
	return m
}

const (
	sessionStaff = "staff" // whose session it is
	sessionSince = "since" // when it began, Unix microseconds
	sessionSeen  = "seen"  // when something was last done, give or take notice; the same
	sessionSay   = "say"   // to be shown once, on the next page
)

const (
	idle   = 2 * time.Hour   // after which a session is over
	notice = 5 * time.Minute // how coarsely being idle is counted
)

// awake says whether the session is not idle for too long, and counts this as
// doing something.
func (s *Site) awake(r *http.Request) bool {
	seen := time.UnixMicro(s.sessions.GetInt64(r.Context(), sessionSeen))
	now := s.now()
	if now.Sub(seen) > idle {
		return false
	}
	if now.Sub(seen) > notice {
		s.sessions.Put(r.Context(), sessionSeen, now.UnixMicro())
	}
	return true
}

// begin makes the browser's session that of a member of staff. Its name is a
// new one, so that one planted before the log-in is worth nothing.
func (s *Site) begin(r *http.Request, staff desk.Staff) error {
	ctx := r.Context()
	if err := s.sessions.RenewToken(ctx); err != nil {
		return err
	}
	s.sessions.Put(ctx, sessionStaff, string(staff.ID))
	s.sessions.Put(ctx, sessionSince, staff.Begins(s.now()).UnixMicro())
	s.sessions.Put(ctx, sessionSeen, s.now().UnixMicro())
	return nil
}

// end forgets the session.
func (s *Site) end(r *http.Request) error { return s.sessions.Destroy(r.Context()) }

// say keeps a sentence for the next page a member of staff sees.
func (s *Site) say(r *http.Request, sentence string) {
	s.sessions.Put(r.Context(), sessionSay, sentence)
}

// toLogIn sends someone to log in, and from there back.
func (s *Site) toLogIn(w http.ResponseWriter, r *http.Request) error {
	back := "/desk"
	if r.Method == http.MethodGet && !byHTMX(r) {
		back = r.URL.RequestURI()
	}
	return s.goTo(w, r, "/log-in?back="+url.QueryEscape(ours(back)))
}
