package web

import (
	"bytes"
	"compress/gzip"
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
)

// tested is a Site on a store of its own, its clock standing still until moved.
type tested struct {
	*Site
	store *store.Store
	desk  *desk.Desk
	log   *lockedBuffer

	mu  sync.Mutex
	now time.Time
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

func (s *tested) clock() time.Time {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.now
}

// pass moves the clock on.
func (s *tested) pass(d time.Duration) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.now = s.now.Add(d)
}

// aSite is a Site for tests of any area; set may change its options.
func aSite(t testing.TB, set ...func(*Options)) *tested {
	t.Helper()
	s := &tested{now: time.Date(2026, 3, 4, 9, 15, 0, 0, time.UTC), log: &lockedBuffer{}}
	st, err := store.Open(context.Background(), store.Options{Folder: t.TempDir(), Now: s.clock})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := st.Close(); err != nil {
			t.Error(err)
		}
	})
	secret, err := st.Secret()
	if err != nil {
		t.Fatal(err)
	}
	s.store = st
	s.desk = &desk.Desk{Store: st, Shelves: st.Shelves(), Now: s.clock, Secret: secret, Program: "test", SetUpWord: "begin-here",
		Passwords: desk.PasswordCost{KiB: 64, Passes: 1, Lanes: 1}}
	o := Options{Desk: s.desk, Sessions: st.Sessions(), Log: slog.New(slog.NewTextHandler(s.log, nil)), Now: s.clock}
	for _, f := range set {
		f(&o)
	}
	s.Site, err = New(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// visitor is a browser with cookies, at a server of the site.
type visitor struct {
	*http.Client
	url string
}

func (s *tested) visitor(t testing.TB) visitor {
	t.Helper()
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return visitor{&http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}, server.URL}
}

// get asks for a page and returns the answer and its text.
func (v visitor) get(t testing.TB, path string) (*http.Response, string) {
	t.Helper()
	r, err := v.Get(v.url + path)
	return answer(t, r, err)
}

// post sends a form.
func (v visitor) post(t testing.TB, path string, form url.Values) (*http.Response, string) {
	t.Helper()
	r, err := v.PostForm(v.url+path, form)
	return answer(t, r, err)
}

func answer(t testing.TB, r *http.Response, err error) (*http.Response, string) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = r.Body.Close() }()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r, string(text)
}

// probe adds routes to a site that show what stands before every page.
func probe(s *tested) {
	s.open("GET /probe/panic", func(http.ResponseWriter, *http.Request) error { panic("a mistake of ours") })
	s.open("GET /probe/half", func(w http.ResponseWriter, _ *http.Request) error {
		_, _ = io.WriteString(w, "half a page")
		panic("a mistake of ours, late")
	})
	s.open("GET /probe/stale", func(http.ResponseWriter, *http.Request) error {
		return &desk.Fault{Kind: desk.Stale, Say: "Someone changed this.", Since: []desk.Event{{At: s.now, Who: "Rowan", Say: "<script>alert(1)</script>"}}}
	})
	s.open("GET /probe/{secret}", func(http.ResponseWriter, *http.Request) error { return notFound() })
	s.open("POST /probe/form", func(w http.ResponseWriter, r *http.Request) error {
		if err := r.ParseForm(); err != nil {
			return err
		}
		form, err := formOf(r)
		if err != nil {
			return err
		}
		_, err = io.WriteString(w, form)
		return err
	})
	s.open("POST /probe/in", func(_ http.ResponseWriter, r *http.Request) error { return s.begin(r, desk.Staff{ID: "someone"}) })
}

// What every answer carries. Sources: the OWASP Secure Headers Project
// (CUSTOM), Content Security Policy Level 3, RFC 6797 for HSTS.
func TestHeaders(t *testing.T) {
	for _, secure := range []bool{false, true} {
		s := aSite(t, func(o *Options) { o.Secure = secure })
		probe(s)
		v := s.visitor(t)
		for _, path := range []string{"/licences", "/nothing-here", "/probe/panic", "/desk"} {
			r, _ := v.get(t, path)
			csp := r.Header.Get("Content-Security-Policy")
			for _, want := range []string{"default-src 'none'", "script-src 'self'", "style-src 'self'", "frame-ancestors 'none'", "base-uri 'none'", "form-action 'self'"} {
				if !strings.Contains(csp, want) {
					t.Errorf("%s: policy %q has no %s", path, csp, want)
				}
			}
			for _, not := range []string{"unsafe", "*", "data:", "blob:", "http"} {
				if strings.Contains(csp, not) {
					t.Errorf("%s: policy %q allows %s", path, csp, not)
				}
			}
			for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "Referrer-Policy": "same-origin", "Cache-Control": "no-store",
				"Cross-Origin-Opener-Policy": "same-origin", "Cross-Origin-Resource-Policy": "same-origin"} {
				if got := r.Header.Get(name); got != want {
					t.Errorf("%s: %s is %q, want %q", path, name, got, want)
				}
			}
			if hsts := r.Header.Get("Strict-Transport-Security"); (hsts != "") != secure {
				t.Errorf("%s: HSTS %q, secure %t", path, hsts, secure)
			}
		}
	}
}

func TestFaultsAreShown(t *testing.T) {
	s := aSite(t)
	probe(s)
	v := s.visitor(t)
	r, text := v.get(t, "/probe/panic")
	if r.StatusCode != 500 || !strings.Contains(text, "through no fault of yours") || strings.Contains(text, "a mistake of ours") {
		t.Errorf("a panic: %d %s", r.StatusCode, text)
	}
	if !strings.Contains(s.log.String(), "a mistake of ours") {
		t.Error("a panic leaves no line in the log")
	}
	if r, err := v.Get(v.url + "/probe/half"); err == nil {
		if _, err := io.ReadAll(r.Body); err == nil {
			t.Error("half a page looks like a whole one")
		}
		_ = r.Body.Close()
	}
	r, text = v.get(t, "/probe/stale")
	if r.StatusCode != 409 || !strings.Contains(text, "&lt;script&gt;alert(1)") || strings.Contains(text, "<script>alert") {
		t.Errorf("a stale form: %d %s", r.StatusCode, text)
	}
	// A part of a page asked for by script gets a notice, not a page in a page.
	q, _ := http.NewRequest("GET", v.url+"/probe/stale", nil)
	q.Header.Set("HX-Request", "true")
	res, err := v.Do(q)
	r, text = answer(t, res, err)
	if r.Header.Get("HX-Retarget") != "#notice" || strings.Contains(text, "<html") || !strings.Contains(text, `role="alert"`) {
		t.Errorf("for htmx: %v %s", r.Header, text)
	}
}

// A patron's link is a secret: no log line has it.
func TestLogKeepsNoPath(t *testing.T) {
	s := aSite(t)
	probe(s)
	s.visitor(t).get(t, "/probe/Zm9yIHlvdXIgZXllcw?and=this")
	if log := s.log.String(); strings.Contains(log, "Zm9yIHlvdXIgZXllcw") || strings.Contains(log, "and=this") || !strings.Contains(log, "/probe/{secret}") {
		t.Errorf("the log says %s", log)
	}
}

// A form of another site does nothing. Source: the Fetch Metadata Request
// Headers and the Origin header of the Fetch standard.
func TestForgedForms(t *testing.T) {
	s := aSite(t)
	probe(s)
	v := s.visitor(t)
	for _, c := range []struct {
		name    string
		headers map[string]string
		want    int
	}{
		{"our own page", map[string]string{"Sec-Fetch-Site": "same-origin", "Origin": v.url}, 200},
		{"our own page, plain HTTP on a network", map[string]string{"Origin": v.url}, 200},
		{"another site", map[string]string{"Sec-Fetch-Site": "cross-site", "Origin": "https://elsewhere.example"}, 403},
		{"a neighbour", map[string]string{"Sec-Fetch-Site": "same-site", "Origin": "https://other.library.example"}, 403},
		{"another site, old browser", map[string]string{"Origin": "https://elsewhere.example"}, 403},
		{"a sandbox", map[string]string{"Origin": "null"}, 403},
	} {
		q, err := http.NewRequest("POST", v.url+"/probe/form", strings.NewReader("form="+formToken()))
		if err != nil {
			t.Fatal(err)
		}
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		for k, x := range c.headers {
			q.Header.Set(k, x)
		}
		res, err := v.Do(q)
		if r, text := answer(t, res, err); r.StatusCode != c.want {
			t.Errorf("%s: %d, want %d: %s", c.name, r.StatusCode, c.want, text)
		}
	}
}

func TestFormTokens(t *testing.T) {
	s := aSite(t)
	probe(s)
	v := s.visitor(t)
	for _, c := range []struct {
		form string
		want int
	}{
		{formToken(), 200}, {"", 422}, {"short", 422}, {strings.Repeat("a", 65), 422}, {"has spaces in it and more", 422}, {"aaaaaaaaaaaaaaaa\x00", 422}, {"0000000000000000'--", 422},
	} {
		if r, text := v.post(t, "/probe/form", url.Values{"form": {c.form}}); r.StatusCode != c.want {
			t.Errorf("%q: %d, want %d: %s", c.form, r.StatusCode, c.want, text)
		}
	}
	if one, other := formToken(), formToken(); one == other {
		t.Error("two forms have one token")
	}
}

func TestFormsAreBounded(t *testing.T) {
	s := aSite(t, func(o *Options) { o.Limits.Form = 1000 })
	probe(s)
	v := s.visitor(t)
	r, text := v.post(t, "/probe/form", url.Values{"form": {formToken()}, "much": {strings.Repeat("x", 2000)}})
	if r.StatusCode != 429 || !strings.Contains(text, "larger than this form takes") {
		t.Errorf("%d %s", r.StatusCode, text)
	}
}

// Sessions: HttpOnly, SameSite, and over HTTPS Secure with the prefix __Host-
// of RFC 6265bis; a new name at log-in, so that a planted one is worth nothing.
func TestSessionCookie(t *testing.T) {
	for _, secure := range []bool{false, true} {
		s := aSite(t, func(o *Options) { o.Secure = secure })
		probe(s)
		v := s.visitor(t)
		name := map[bool]string{false: "desk", true: "__Host-desk"}[secure]
		planted := strings.Repeat("A", 43)
		q, _ := http.NewRequest("POST", v.url+"/probe/in", nil)
		q.AddCookie(&http.Cookie{Name: name, Value: planted})
		res, err := v.Do(q)
		r, _ := answer(t, res, err)
		if len(r.Cookies()) != 1 {
			t.Fatalf("%d cookies", len(r.Cookies()))
		}
		c := r.Cookies()[0]
		if c.Name != name || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Secure != secure || c.Path != "/" || c.Value == planted || len(c.Value) < 40 {
			t.Errorf("cookie %v", c)
		}
	}
	s := aSite(t)
	if r, _ := s.visitor(t).get(t, "/licences"); len(r.Cookies()) > 0 {
		t.Error("a patron gets a cookie")
	}
}

// A session ends when nothing was done for two hours, and lasts as long as
// something is, up to a working day.
func TestIdleSessions(t *testing.T) {
	s := aSite(t)
	staff, err := s.desk.FirstManager(t.Context(), desk.FirstForm{Word: "begin-here", Library: "Larkmere", Address: "https://print.library.example", TimeZone: "Europe/London", Locale: "en-GB", Languages: []string{"en"},
		Currency: "GBP", Branch: "Central", Name: "rowan", Called: "Rowan", Password: "seven wet stones in a row"})
	if err != nil {
		t.Fatal(err)
	}
	s.pass(time.Second)
	s.open("POST /probe/in", func(_ http.ResponseWriter, r *http.Request) error { return s.begin(r, staff) })
	s.staff("GET /probe/desk", func(w http.ResponseWriter, _ *http.Request, who desk.Actor) error {
		_, err := io.WriteString(w, who.Name)
		return err
	})
	v := s.visitor(t)
	if r, _ := v.get(t, "/probe/desk"); r.StatusCode != http.StatusSeeOther || r.Header.Get("Location") != "/log-in?back=%2Fprobe%2Fdesk" {
		t.Errorf("not logged in: %d %s", r.StatusCode, r.Header.Get("Location"))
	}
	v.post(t, "/probe/in", nil)
	for range 4 {
		if r, text := v.get(t, "/probe/desk"); r.StatusCode != 200 || text != "Rowan" {
			t.Fatalf("at work: %d %s", r.StatusCode, text)
		}
		s.pass(100 * time.Minute)
	}
	s.pass(30 * time.Minute)
	if r, _ := v.get(t, "/probe/desk"); r.StatusCode != http.StatusSeeOther {
		t.Errorf("idle for two hours and ten minutes: %d", r.StatusCode)
	}
}

func TestTooManyPages(t *testing.T) {
	s := aSite(t, func(o *Options) { o.Limits.Burst, o.Limits.PerPage = 5, time.Second })
	v := s.visitor(t)
	last := 0
	for range 6 {
		r, _ := v.get(t, "/licences")
		last = r.StatusCode
	}
	if last != 429 {
		t.Errorf("the sixth at once: %d", last)
	}
	s.pass(2 * time.Second)
	if r, _ := v.get(t, "/licences"); r.StatusCode != 200 {
		t.Errorf("later: %d", r.StatusCode)
	}
}

// The limiter holds a bounded number of addresses, and forgets the one unheard
// of for longest first.
func TestLimiterIsBounded(t *testing.T) {
	now := time.Date(2026, 3, 4, 0, 0, 0, 0, time.UTC)
	l := newLimiter(time.Hour, 1, func() time.Time { return now })
	l.allow("kept")
	for i := range mostBuckets {
		if i%1000 == 0 && l.allow("kept") {
			t.Fatal("an address that keeps coming was forgotten")
		}
		l.allow(netip.AddrFrom4([4]byte{10, byte(i >> 16), byte(i >> 8), byte(i)}).String())
	}
	if len(l.by) > mostBuckets || l.order.Len() != len(l.by) {
		t.Errorf("%d and %d addresses held", len(l.by), l.order.Len())
	}
}

// Who a request comes from: only proxies we trust may say, and an attacker can
// put what they like before what our proxy adds.
func TestFrom(t *testing.T) {
	s := &Site{proxies: []netip.Prefix{netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("::1/128")}}
	for _, c := range []struct{ remote, forwarded, want string }{
		{"192.0.2.7:4000", "", "192.0.2.7"},
		{"192.0.2.7:4000", "198.51.100.1", "192.0.2.7"},
		{"10.0.0.2:4000", "198.51.100.1", "198.51.100.1"},
		{"10.0.0.2:4000", "203.0.113.9, 198.51.100.1", "198.51.100.1"},
		{"10.0.0.2:4000", "203.0.113.9, 198.51.100.1, 10.0.0.3", "198.51.100.1"},
		{"10.0.0.2:4000", "rubbish", "10.0.0.2"},
		{"[::1]:4000", "2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"},
		{"[2001:db8::1]:4000", "", "2001:db8::/64"},
		{"[::ffff:192.0.2.7]:4000", "", "192.0.2.7"},
		{"nonsense", "", "unknown"},
	} {
		r := httptest.NewRequest("GET", "/", nil)
		r.RemoteAddr = c.remote
		if c.forwarded != "" {
			r.Header.Set("X-Forwarded-For", c.forwarded)
		}
		if got := s.from(r); got != c.want {
			t.Errorf("%+v: %q", c, got)
		}
	}
}

// Back goes to this site only.
func TestOurs(t *testing.T) {
	for path, want := range map[string]string{
		"/desk/find?q=K7": "/desk/find?q=K7", "": "/", "//elsewhere.example": "/", "https://elsewhere.example": "/", `/\elsewhere.example`: "/", "/a\nb": "/", "desk": "/",
	} {
		if got := ours(path); got != want {
			t.Errorf("%q: %q, want %q", path, got, want)
		}
	}
}

// The bundle's files are kept by browsers for ever, under names that change.
func TestAssets(t *testing.T) {
	s := aSite(t)
	if !s.assets.built() {
		t.Skip("no bundle: run make front")
	}
	v := s.visitor(t)
	r, text := v.get(t, s.assets.url("style.css"))
	if r.StatusCode != 200 || !strings.Contains(r.Header.Get("Cache-Control"), "immutable") || !strings.HasPrefix(r.Header.Get("Content-Type"), "text/css") || len(text) < 1000 {
		t.Errorf("%d %v", r.StatusCode, r.Header)
	}
	q, _ := http.NewRequest("GET", v.url+s.assets.url("style.css"), nil)
	q.Header.Set("If-None-Match", r.Header.Get("ETag"))
	res, err := v.Do(q)
	if again, _ := answer(t, res, err); again.StatusCode != http.StatusNotModified {
		t.Errorf("asked again: %d", again.StatusCode)
	}
	// Packed for those who can unpack it: the transport unpacks it here.
	q, _ = http.NewRequest("GET", v.url+s.assets.url("style.css"), nil)
	q.Header.Set("Accept-Encoding", "gzip")
	res, err = v.Do(q)
	r, packed := answer(t, res, err)
	z, err := gzip.NewReader(strings.NewReader(packed))
	if err != nil || r.Header.Get("Content-Encoding") != "gzip" {
		t.Fatalf("not packed: %v %v", r.Header, err)
	}
	if unpacked, err := io.ReadAll(z); err != nil || string(unpacked) != text {
		t.Errorf("unpacks to something else: %v", err)
	}
	for _, path := range []string{"/a/names.json", s.assets.url("style.css") + ".gz", "/a/.keep", "/a/licences.txt", "/a/..%2fpage.go", "/a/"} {
		if r, _ := v.get(t, path); r.StatusCode != 404 {
			t.Errorf("%s: %d", path, r.StatusCode)
		}
	}
	if _, text := v.get(t, "/licences"); !strings.Contains(text, "MIT") || !strings.Contains(text, "SIL Open Font License") {
		t.Error("licences of what is bundled are not shown")
	}
}
