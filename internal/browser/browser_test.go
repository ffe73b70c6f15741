package browser

import (
	"net/http"
	"net/http/httptest"
	"os"
	"testing"
)

func TestMain(m *testing.M) { os.Exit(Run(m)) }

// The driver finds by role and name, acts by keyboard, and sees what is wrong:
// a check that could not fail would be worth nothing.
func TestPage(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'self'")
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		if r.Method == http.MethodPost {
			if err := r.ParseForm(); err != nil {
				t.Error(err)
			}
			_, _ = w.Write([]byte(`<!doctype html><html lang="en"><title>Sent</title><main><h1>Sent</h1><p>` + r.PostForm.Encode() + `</p></main>`))
			return
		}
		_, _ = w.Write([]byte(`<!doctype html><html lang="en"><title>Form</title><main><h1>Form</h1><form method="post">
<label for="n">Name</label><input id="n" name="name" value="old">
<label for="d">Needed by</label><input id="d" name="day" type="date">
<label for="c">Colour</label><select id="c" name="colour"><option>Red</option><option>Grey</option><option>Blue</option></select>
<fieldset><legend>Size</legend><label><input type="radio" name="size" value="s">Small</label><label><input type="radio" name="size" value="l">Large</label></fieldset>
<label><input type="checkbox" name="ok" value="yes">I agree</label>
<button>Send it</button></form></main>`))
	}))
	defer s.Close()
	p := Open(t)
	p.Go(s.URL)
	p.Fill("textbox", "Name", "Ada Ö.")
	p.FillDate("Needed by", "2027-03-04")
	p.Choose("Colour", "Blue")
	p.Tick("radio", "Large")
	p.Tick("checkbox", "I…")
	p.Axe()
	p.Clean()
	p.Push("Send it")
	p.Sees("colour=Blue&day=2027-03-04&name=Ada+%C3%96.&ok=yes&size=l")
	if p.Has("button", "Send it") || !p.Has("heading", "Sent") {
		t.Error("sees what is not there, or not what is")
	}
}

// A part of a page that is put in anew while someone goes through it by keyboard,
// as htmx does, keeps nobody from what stands in it.
func TestGoesOnInWhatIsPutInAnew(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write([]byte(`<!doctype html><html lang="en"><title>Form</title><main><h1>Form</h1><button>One</button>
<div id="now"><button onclick="document.querySelector('h1').textContent = 'Done'">Two</button></div></main>
<script>addEventListener("keydown", () => { now.innerHTML = now.innerHTML }, { once: true })</script></html>`))
	}))
	defer s.Close()
	p := Open(t)
	p.Go(s.URL)
	p.Push("Two")
	p.Sees("Done")
}

// Each check fails on a page made to fail it.
func TestChecksCanFail(t *testing.T) {
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Security-Policy", "default-src 'self'")
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write([]byte(`<!doctype html><html lang="en"><title>Bad</title><meta name="viewport" content="width=device-width"><main><h1>Bad</h1><script>1</script>
<input name="unlabelled"><button>.</button><table width="900"><tr><td>wide</td></tr></table></main>`))
	}))
	defer s.Close()
	p := Open(t)
	p.Go(s.URL)
	for what, check := range map[string]func(*Page){
		"axe":   (*Page).Axe,
		"width": func(p *Page) { p.Fits(320) },
		"log":   (*Page).Clean,
	} {
		spy := &spy{TB: t}
		q := &Page{t: spy, ctx: p.ctx, said: p.said}
		check(q)
		if !spy.failed {
			t.Errorf("%s finds nothing wrong with a page that is", what)
		}
	}
}

// spy notes that a test would have failed.
type spy struct {
	testing.TB
	failed bool
}

func (s *spy) Errorf(string, ...any) { s.failed = true }
