package web

import (
	"errors"
	"log/slog"
	"net/http"
	"net/netip"
	"time"

	"github.com/alexedwards/scs/v2"

	"platebook/desk"
)

// Options say how a Site is set up. The zero value of each but Desk will do.
type Options struct {
	Desk *desk.Desk
	// Sessions keeps who is logged in; nil keeps that in memory, so that a
	// restart logs everyone out.
	Sessions scs.Store
	Log      *slog.Logger // nil says nothing
	// Secure is set where browsers come by HTTPS: cookies are then sent by
	// HTTPS only, and browsers are told never to come otherwise.
	Secure bool
	// Proxies are the networks whose word on who they forward for is taken.
	Proxies []netip.Prefix
	// Address is how the outside reaches the site, as https://desk.example,
	// for links in messages; empty takes what the browser asked for.
	Address string
	Limits  Limits
	// MailTroubles says in sentences what is wrong with the mail now; nil is a
	// site without mail.
	MailTroubles func() []string
	// Now is the desk's clock; nil is the system's.
	Now func() time.Time
}

// Limits bound what one visitor may ask of the site.
type Limits struct {
	Form    int64         // bytes of a form without files; 0 means 256 KiB
	Upload  int64         // bytes of a form with files; 0 means 512 MiB
	PerPage time.Duration // mean time between requests of one address; 0 means 20 ms
	Burst   int           // how many may come at once; 0 means 300
	LogIns  time.Duration // mean time between log-ins tried from one address; 0 means 10 s
	Asking  time.Duration // mean time between requests for a print from one address; 0 means 30 s
	// Taken is how many bytes of patrons' files are stored from one address in
	// an hour; 0 means 2 GiB. Everyone in a branch comes from one address: a
	// class of thirty with three files each of 20 MB is 1.8 GB.
	Taken int64
}

// mostAsking is how many requests for a print may come at once from one
// address: a class of thirty, and each of them once more.
const mostAsking = 60

func (l Limits) complete() Limits {
	or := func(d *time.Duration, usual time.Duration) {
		if *d <= 0 {
			*d = usual
		}
	}
	if l.Form <= 0 {
		l.Form = 256 << 10
	}
	if l.Upload <= 0 {
		l.Upload = 512 << 20
	}
	if l.Burst <= 0 {
		l.Burst = 300
	}
	if l.Taken <= 0 {
		l.Taken = 2 << 30
	}
	or(&l.PerPage, 20*time.Millisecond)
	or(&l.LogIns, 10*time.Second)
	or(&l.Asking, 30*time.Second)
	return l
}

// Site serves the desk's pages.
type Site struct {
	desk     *desk.Desk
	log      *slog.Logger
	sessions *scs.SessionManager
	assets   *assets
	limits   Limits
	secure   bool
	proxies  []netip.Prefix
	address  string
	now      func() time.Time
	mux      *http.ServeMux
	filed    map[string]bool // patterns of the pages whose forms bring files
	troubles func() []string

	visits, logIns, asking, taken *limiter
}

// New sets up a Site.
func New(o Options) (*Site, error) {
	if o.Desk == nil {
		return nil, errors.New("web: no desk to serve")
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	a, err := openAssets()
	if err != nil {
		return nil, err
	}
	l := o.Limits.complete()
	s := &Site{
		desk: o.Desk, log: o.Log, assets: a, limits: l, secure: o.Secure,
		proxies: o.Proxies, address: o.Address, now: o.Now, mux: http.NewServeMux(), filed: map[string]bool{}, troubles: o.MailTroubles,
		visits: newLimiter(l.PerPage, l.Burst, o.Now),
		logIns: newLimiter(l.LogIns, 10, o.Now),
		asking: newLimiter(l.Asking, mostAsking, o.Now),
		taken:  newBudget(l.Taken, o.Now),
	}
	s.sessions = newSessions(o.Sessions, o.Secure)
	s.sessions.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		s.showFault(w, r, &desk.Fault{Kind: desk.NoRoom, Say: "We could not find out whether you are logged in. Try again in a minute.", Err: err})
	}
	s.commonRoutes()
	s.patronRoutes()
	s.reviewRoutes()
	s.letterRoutes()
	s.printingRoutes()
	s.shelfRoutes()
	s.settingsRoutes()
	s.loginRoutes()
	return s, nil
}

// Handler is the whole site, with everything that stands before its pages.
func (s *Site) Handler() http.Handler {
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.showFault(w, heard(r), desk.Faultf(desk.NotYours, "This form was sent from another site, so nothing was done. Open the page here and send it again."))
	}))
	paged := s.sessions.LoadAndSave(s.mux)
	var h http.Handler = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.assets.has(r.URL.Path) {
			s.mux.ServeHTTP(w, r) // no session is looked up for a stylesheet
			return
		}
		paged.ServeHTTP(w, r)
	})
	h = s.bounded(h)
	h = cross.Handler(h)
	h = s.paced(h)
	h = s.headers(h)
	h = s.recovered(h)
	return s.logged(h)
}
