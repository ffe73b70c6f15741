package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"

	"platebook/desk"
	"platebook/desk/demo"
	"platebook/desk/web"
)

// once opens the desk, follows every link that can be reached from a patron's
// page and from a manager's Today, and closes it again.
func (c *serveCommand) once(ctx context.Context, s *streams, listener net.Listener) error {
	c.Limits = web.Limits{PerPage: time.Microsecond, Burst: mostPages} // one visitor here is as quick as hundreds
	return c.opened(ctx, s, listener, func(ctx context.Context, r *rooms, h http.Handler) error {
		ctx, stop := context.WithCancel(ctx)
		ended := make(chan error, 1)
		go func() { ended <- c.answer(ctx, &streams{io.Discard, s.err}, listener, h, r.log) }()
		err := c.visitAll(ctx, s, r, "http://"+listener.Addr().String())
		stop()
		return errors.Join(err, <-ended)
	})
}

func (c *serveCommand) visitAll(ctx context.Context, s *streams, r *rooms, at string) error {
	v := newVisitor(at)
	var all []desk.Request
	err := r.desk.Store.Read(ctx, func(tx desk.Tx) (err error) {
		all, err = tx.ListRequests(desk.RequestFilter{Most: 1000})
		return err
	})
	if err != nil {
		return err
	}
	states := map[desk.State]int{}
	for _, q := range all {
		if states[q.State]++; q.Forgotten.IsZero() {
			v.see(desk.PatronPath(r.desk.Key(q)))
		}
	}
	v.see("/")
	v.walk(ctx)
	if err := v.logIn(ctx, demo.Accounts()[0].Name, demo.Password); err != nil {
		return err
	}
	v.see("/desk")
	v.walk(ctx)
	fmt.Fprintln(s.out, "Requests:")
	for _, st := range desk.States() {
		fmt.Fprintf(s.out, "%4d %s\n", states[st], st)
	}
	return v.report(s.out)
}

// visitor goes round a site as a browser without scripts does.
type visitor struct {
	at      string
	client  *http.Client
	known   map[string]bool
	waiting []string
	got     []page
}

type page struct {
	path   string
	status int
	bytes  int
	took   time.Duration
	err    error
}

func newVisitor(at string) *visitor {
	jar, err := cookiejar.New(nil)
	if err != nil {
		panic(err) // never, without options
	}
	return &visitor{at: at, client: &http.Client{Jar: jar, Timeout: time.Minute, Transport: http.DefaultTransport}, known: map[string]bool{}}
}

// see puts a page of the site on the list once.
func (v *visitor) see(path string) {
	path, _, _ = strings.Cut(path, "#")
	if strings.HasPrefix(path, "/") && !v.known[path] {
		v.known[path] = true
		v.waiting = append(v.waiting, path)
	}
}

// mostPages bounds the walk: links may lead on for ever.
const mostPages = 3000

var link = regexp.MustCompile(`(?:href|src|data-[a-z-]+)="(/[^"]*)"`)

func (v *visitor) walk(ctx context.Context) {
	for len(v.waiting) > 0 && len(v.got) < mostPages && ctx.Err() == nil {
		path := v.waiting[0]
		v.waiting = v.waiting[1:]
		began := time.Now()
		status, text, err := v.get(ctx, path)
		v.got = append(v.got, page{path, status, len(text), time.Since(began), err})
		for _, m := range link.FindAllStringSubmatch(text, -1) {
			v.see(strings.ReplaceAll(m[1], "&amp;", "&"))
		}
	}
}

func (v *visitor) get(ctx context.Context, path string) (int, string, error) {
	q, err := http.NewRequestWithContext(ctx, http.MethodGet, v.at+path, nil)
	if err != nil {
		return 0, "", err
	}
	return v.do(q)
}

func (v *visitor) do(q *http.Request) (int, string, error) {
	a, err := v.client.Do(q)
	if err != nil {
		return 0, "", err
	}
	defer a.Body.Close()
	text, err := io.ReadAll(io.LimitReader(a.Body, 64<<20))
	return a.StatusCode, string(text), err
}

var hidden = regexp.MustCompile(`<input[^>]*type="hidden"[^>]*>`)
var attribute = regexp.MustCompile(`(name|value)="([^"]*)"`)

// hiddenFields are those of a page's forms, as a browser sends them back.
func hiddenFields(page string) url.Values {
	form := url.Values{}
	for _, field := range hidden.FindAllString(page, -1) {
		of := map[string]string{}
		for _, a := range attribute.FindAllStringSubmatch(field, -1) {
			of[a[1]] = a[2]
		}
		form.Set(of["name"], of["value"])
	}
	return form
}

// logIn fills in the log-in page.
func (v *visitor) logIn(ctx context.Context, name, password string) error {
	_, page, err := v.get(ctx, "/log-in")
	if err != nil {
		return err
	}
	form := hiddenFields(page)
	form.Set("name", name)
	form.Set("password", password)
	status, err := v.post(ctx, "/log-in", form)
	if err == nil && status != http.StatusSeeOther {
		err = fmt.Errorf("the log-in was answered with %d", status)
	}
	return err
}

// post sends a form and returns the status. Where the browser is sent on to is
// left to be looked at like any other page.
func (v *visitor) post(ctx context.Context, path string, form url.Values) (int, error) {
	q, err := http.NewRequestWithContext(ctx, http.MethodPost, v.at+path, strings.NewReader(form.Encode()))
	if err != nil {
		return 0, err
	}
	q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	q.Header.Set("Origin", v.at)
	for _, c := range v.client.Jar.Cookies(q.URL) {
		q.AddCookie(c)
	}
	a, err := v.client.Transport.RoundTrip(q)
	if err != nil {
		return 0, err
	}
	defer a.Body.Close()
	v.client.Jar.SetCookies(q.URL, a.Cookies())
	return a.StatusCode, nil
}

// report says how the pages were answered.
func (v *visitor) report(w io.Writer) error {
	var bytes int
	var whole time.Duration
	var bad []page
	for _, p := range v.got {
		bytes += p.bytes
		whole += p.took
		if p.err != nil || p.status != http.StatusOK {
			bad = append(bad, p)
		}
	}
	for _, p := range bad {
		fmt.Fprintln(w, p.path, p.status, p.err)
	}
	byTime := slices.SortedFunc(slices.Values(v.got), func(a, b page) int { return cmp.Compare(a.took, b.took) })
	if n := len(byTime); n > 0 {
		fmt.Fprintf(w, "%d pages and pictures, %s, in %.1f s; half within %d ms, 95 of 100 within %d ms\n", n, inBytes(int64(bytes)), whole.Seconds(),
			byTime[n/2].took.Milliseconds(), byTime[n*95/100].took.Milliseconds())
	}
	if len(bad) > 0 {
		return fmt.Errorf("%s not answered as they should be", counted(len(bad), "page"))
	}
	return nil
}
