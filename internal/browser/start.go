package browser

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// shared is the one Chromium of a test binary.
var shared struct {
	sync.Once
	ctx  context.Context
	stop func()
	err  error
}

var errMissing = errors.New("chromium is not installed")

// Run runs a package's tests and ends the browser after them. A package's
// TestMain calls it: os.Exit(browser.Run(m)).
func Run(m *testing.M) int {
	code := m.Run()
	if shared.stop != nil {
		shared.stop()
	}
	return code
}

func start() {
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if p, err := exec.LookPath(name); err == nil {
			path = p
			break
		}
	}
	if path == "" {
		shared.err = errMissing
		return
	}
	dir, err := os.MkdirTemp("", "browser")
	if err != nil {
		shared.err = err
		return
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.UserDataDir(dir), chromedp.NoSandbox,
		chromedp.WSURLReadTimeout(time.Minute), // a busy machine starts it slowly
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("force-color-profile", "srgb"),
		// 3D views draw without a graphics card.
		chromedp.Flag("disable-gpu", true), chromedp.Flag("enable-unsafe-swiftshader", true),
		chromedp.Flag("lang", "en-GB"),
	)
	alloc, stopAlloc := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, stop := chromedp.NewContext(alloc)
	if err := chromedp.Do(ctx); err != nil {
		stop()
		stopAlloc()
		shared.err = err
		return
	}
	shared.ctx = ctx
	shared.stop = func() {
		_ = chromedp.Cancel(ctx) // ends Chromium and waits for it
		stopAlloc()
		_ = os.RemoveAll(dir)
	}
}

// top is the folder of go.mod.
func top(t testing.TB) string {
	t.Helper()
	dir, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	for {
		if _, err := os.Stat(filepath.Join(dir, "go.mod")); err == nil {
			return dir
		}
		if filepath.Dir(dir) == dir {
			t.Fatal("no go.mod above")
		}
		dir = filepath.Dir(dir)
	}
}

// needed skips what cannot be done on this machine, and fails where everything
// must be there.
func needed(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("CI") == "true" {
		t.Fatal(what)
	}
	t.Skip(what)
}
