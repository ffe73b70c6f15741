package browser

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// Widths pages are looked at in, CSS pixels: a desk and a phone.
const (
	Wide   = 1280
	Narrow = 390
)

// Page is one tab of a browser that shares nothing with other Pages.
type Page struct {
	t   testing.TB
	ctx context.Context

	mu   sync.Mutex
	said []string // errors the page has logged
}

// patience is how long a page may take for one thing before the test fails.
const patience = 90 * time.Second

// Open opens a tab, closed when the test ends. Without Chromium the test is
// skipped, or fails where CI is set.
func Open(t testing.TB) *Page {
	t.Helper()
	shared.Do(start)
	if shared.err == errMissing {
		needed(t, "chromium is not installed")
	}
	if shared.err != nil {
		t.Fatalf("start chromium: %v", shared.err)
	}
	ctx, cancel := chromedp.NewContext(shared.ctx, chromedp.WithNewBrowserContext())
	t.Cleanup(cancel)
	p := &Page{t: t, ctx: ctx}
	// The tab must be opened by the context it lives with, not by a shorter one.
	if err := chromedp.Listen(ctx, p.listen); err != nil {
		t.Fatalf("open a tab: %v", err)
	}
	if _, err := chromedp.Call(ctx, log.Enable, cdp.Empty{}); err != nil {
		t.Fatalf("open a tab: %v", err)
	}
	p.Resize(Wide)
	t.Cleanup(func() {
		if t.Failed() {
			p.dump()
		}
	})
	return p
}

// listen keeps what a page logs as an error: scripts that fail, and whatever
// the security policy stopped. That a page was answered with 404 or 422 is no
// error of the page.
func (p *Page) listen(event any) {
	say := ""
	switch e := event.(type) {
	case *log.EventEntryAdded:
		if e.Entry.Level == log.EntryLevelError && e.Entry.Source != log.EntrySourceNetwork ||
			e.Entry.Source == log.EntrySourceNetwork && e.Entry.Level == log.EntryLevelError && !strings.Contains(e.Entry.Text, "the server responded with a status of") {
			say = fmt.Sprintf("%s: %s %s", e.Entry.Source, e.Entry.Text, e.Entry.URL)
		}
	case *runtime.EventExceptionThrown:
		say = "exception: " + e.ExceptionDetails.Text
		if x := e.ExceptionDetails.Exception; x != nil {
			say += " " + x.Description
		}
	case *runtime.EventConsoleAPICalled:
		if e.Type == runtime.ConsoleAPICalledTypeError {
			say = "console:"
			for _, a := range e.Args {
				say += " " + string(a.Value) + a.Description
			}
			if strings.HasPrefix(say, `console: "Response Status Error Code 4`) {
				say = "" // htmx tells of every answer like that
			}
		}
	}
	if say != "" {
		p.mu.Lock()
		p.said = append(p.said, say)
		p.mu.Unlock()
	}
}

// Do runs actions of the driver, and fails the test where one fails.
func (p *Page) Do(actions ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, actions...); err != nil {
		p.t.Fatalf("%s: %v", p.where(), err)
	}
}

// run runs an action that gives something, and fails the test where it fails.
func run[T any](p *Page, action chromedp.Action[T]) T {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	v, err := chromedp.Run(ctx, action)
	if err != nil {
		p.t.Fatalf("%s: %v", p.where(), err)
	}
	return v
}

// Resize gives the tab a width; below 600 it is a phone.
func (p *Page) Resize(width int64) {
	p.t.Helper()
	phone := width < 600
	height := int64(900)
	if phone {
		height = 844
	}
	p.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetDeviceMetricsOverride, emulation.SetDeviceMetricsOverrideParams{
			Width: width, Height: height, DeviceScaleFactor: 1, Mobile: phone})
		return err
	}))
}

// Go opens an address and waits until it is loaded.
func (p *Page) Go(address string) {
	p.t.Helper()
	p.Do(chromedp.Navigate(address))
}

// Before has every page that is opened after run a script ahead of its own.
func (p *Page) Before(script string) {
	p.t.Helper()
	p.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
		return err
	}))
}

// Address is where the tab is.
func (p *Page) Address() string {
	p.t.Helper()
	return run(p, chromedp.Location())
}

// Eval runs JavaScript in the page and reads its value into v, which may be
// nil. A promise is waited for.
func (p *Page) Eval(js string, v any) {
	p.t.Helper()
	if v == nil {
		run(p, chromedp.Evaluate[chromedp.Void](js, chromedp.EvalAwaitPromise))
		return
	}
	raw := run(p, chromedp.Evaluate[[]byte](js, chromedp.EvalAwaitPromise))
	if err := json.Unmarshal(raw, v); err != nil {
		p.t.Fatalf("%s: %s gave %.200s: %v", p.where(), js, raw, err)
	}
}

// Until waits for a JavaScript expression to become true.
func (p *Page) Until(js, what string) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	for {
		// A page that is just being replaced fails to answer: ask the next.
		yes, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("!!("+js+")"))
		if err == nil && yes {
			return
		}
		select {
		case <-ctx.Done():
			p.t.Fatalf("%s: %s did not come (%v)", p.where(), what, err)
		case <-time.After(30 * time.Millisecond):
		}
	}
}

// Sees waits until the page shows a text. Letter case does not count: styles
// may set a word in capitals.
func (p *Page) Sees(text string) {
	p.t.Helper()
	q, _ := json.Marshal(strings.ToLower(strings.Join(strings.Fields(text), " ")))
	p.Until(`document.body && document.body.innerText.replace(/\s+/g, " ").toLowerCase().includes(`+string(q)+`)`, fmt.Sprintf("the text %q", text))
}

// Text is what the page shows.
func (p *Page) Text() string {
	p.t.Helper()
	var text string
	p.Eval(`document.body.innerText`, &text)
	return text
}

// Clean fails the test if the page has logged an error since it was last asked.
func (p *Page) Clean() {
	p.t.Helper()
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, s := range p.said {
		p.t.Errorf("%s: the page logged %s", p.where(), s)
	}
	p.said = nil
}

// whole takes a picture of the whole page, quickly rather than packed well.
func whole(ctx context.Context, t *chromedp.Target) ([]byte, error) {
	m, err := cdp.Call(ctx, t, page.GetLayoutMetrics, cdp.Empty{})
	if err != nil {
		return nil, err
	}
	size := m.CSSContentSize
	r, err := cdp.Call(ctx, t, page.CaptureScreenshot, page.CaptureScreenshotParams{
		Format: page.CaptureScreenshotFormatPng, OptimizeForSpeed: new(true), CaptureBeyondViewport: new(true),
		Clip: &page.Viewport{Width: size.Width, Height: size.Height, Scale: 1},
	})
	return []byte(r.Data), err
}

// Shot keeps a picture of the whole page in build/screens.
func (p *Page) Shot(name string) {
	p.t.Helper()
	p.keep(name, run(p, whole))
}

// PDF is the page as it is printed, on the paper its style asks for.
func (p *Page) PDF() []byte {
	p.t.Helper()
	return run(p, func(ctx context.Context, t *chromedp.Target) ([]byte, error) {
		r, err := cdp.Call(ctx, t, page.PrintToPDF, page.PrintToPDFParams{PreferCSSPageSize: new(true), PrintBackground: new(true)})
		return []byte(r.Data), err
	})
}

func (p *Page) keep(name string, png []byte) {
	p.t.Helper()
	dir := filepath.Join(top(p.t), "build", "screens")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		p.t.Fatal(err)
	}
}

// where says where the tab is, for messages; it may not fail.
func (p *Page) where() string {
	ctx, cancel := context.WithTimeout(p.ctx, 2*time.Second)
	defer cancel()
	at, err := chromedp.Run(ctx, chromedp.Location())
	if err != nil {
		return "a tab"
	}
	return at
}

// dump shows what a failed test was looking at.
func (p *Page) dump() {
	ctx, cancel := context.WithTimeout(p.ctx, 5*time.Second)
	defer cancel()
	text, err := chromedp.Run(ctx, chromedp.Evaluate[string](`document.body.innerText`))
	if err != nil {
		return
	}
	p.t.Logf("the page showed:\n%s", text)
	if png, err := chromedp.Run(ctx, whole); err == nil {
		p.keep("failed-"+strings.ReplaceAll(p.t.Name(), "/", "-"), png)
	}
}
