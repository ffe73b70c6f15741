package web

import (
	"html"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"platebook/engine/mesh"
	"platebook/internal/browser"
)

// aView is a page with nothing but a 3D view, under the policy of all pages.
func aView(t *testing.T) *httptest.Server { return aViewIn(t, "") }

// aViewIn is a page with a view, with what a patron's page says to it.
func aViewIn(t *testing.T, attributes string) *httptest.Server {
	t.Helper()
	a, err := openAssets()
	if err != nil {
		t.Fatal(err)
	}
	if !a.built() {
		if os.Getenv("CI") == "true" {
			t.Fatal("no bundle: run make front")
		}
		t.Skip("no bundle: run make front")
	}
	s := &Site{assets: a}
	mux := http.NewServeMux()
	mux.HandleFunc("GET /a/{name}", func(w http.ResponseWriter, r *http.Request) { _ = a.serve(w, r) })
	mux.HandleFunc("GET /bowl.view", func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write(exampleView()) })
	mux.HandleFunc("GET /icon.svg", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "image/svg+xml")
		_, _ = w.Write(icon)
	})
	mux.HandleFunc("GET /bowl.png", func(w http.ResponseWriter, _ *http.Request) { _, _ = w.Write(examplePNG()) })
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = w.Write([]byte(`<!doctype html><html lang="en"><head>`))
		if err := base().ExecuteTemplate(w, "head", aFrame(forPatron)); err != nil {
			t.Error(err)
		}
		_, _ = w.Write([]byte(`<title>Bowl</title></head><body class="patron"><main id="main"><h1>A bowl</h1>
<div class="view" data-mesh="/bowl.view"` + attributes + `><img src="/bowl.png" width="800" height="600" alt="A bowl, seen from the front."></div></main></body></html>`))
	})
	server := httptest.NewServer(s.headers(mux))
	t.Cleanup(server.Close)
	return server
}

// The 3D view takes the picture's place, and keys alone turn, zoom, and lead
// to each finding.
func TestView(t *testing.T) {
	server := aView(t)
	p := browser.Open(t)
	p.Go(server.URL)
	p.Until(`document.querySelector(".view").dataset.ready === "yes"`, "the 3D view")
	place := func() (at string) { p.Eval(`document.querySelector(".pin").style.transform`, &at); return at }
	bar := func() (w string) { p.Eval(`document.querySelector(".scale").textContent`, &w); return w }

	before := place()
	p.To("application", "A bowl, seen from the front.…")
	p.Press(kb.ArrowRight)
	if place() == before {
		t.Error("the arrow key does not turn the part")
	}
	p.Press(kb.Home)
	if place() != before {
		t.Error("Home does not go back to the start")
	}
	was := bar()
	for range 5 {
		p.Press("+")
	}
	if bar() == was {
		t.Errorf("the scale bar says %q after zooming too", was)
	}
	p.Push("Start view")
	p.Until(`document.querySelector(".scale").textContent === `+strconv.Quote(was), "the start view")
	for _, name := range []string{"Turn left", "Turn right", "Look from higher", "Look from lower", "Nearer", "Further"} {
		before = place()
		p.Push(name)
		if place() == before {
			t.Errorf("%s changes nothing", name)
		}
	}
	p.Push("2 Walls of 0.3 mm…")
	p.Until(`document.querySelectorAll(".marks button")[1].getAttribute("aria-pressed") === "true"`, "the second finding")
	p.Until(`!document.querySelectorAll(".pin")[1].classList.contains("behind")`, "the second finding in front")
	p.Look("view-bowl")

	// Who turns it while it goes somewhere by itself has turned it.
	var stays bool
	p.Eval(`(async () => {
		document.querySelectorAll(".marks button")[0].click();
		document.querySelector('button[aria-label="Turn left"]').click();
		const at = () => document.querySelector(".pin").style.transform, turned = at();
		for (let i = 0; i < 3; i++) await new Promise((next) => requestAnimationFrame(next));
		return at() === turned;
	})()`, &stays)
	if !stays {
		t.Error("what was turned by hand went on by itself")
	}

	// A browser that loses its graphics shows the picture again.
	p.Eval(`document.querySelector(".view canvas").getContext("webgl2").getExtension("WEBGL_lose_context").loseContext()`, nil)
	p.Until(`document.querySelector(".view > img") && !document.querySelector(".view canvas, .view button")`, "the picture")
}

// On a page in French the view speaks French, and calls the findings as the page does.
func TestViewInFrench(t *testing.T) {
	labels := map[int]string{1: "Surplombs", 2: "Parois minces", 3: "Dessus plat"}
	server := aViewIn(t, ` data-words="`+html.EscapeString(asJSON(frenchView))+`" data-labels="`+html.EscapeString(asJSON(labels))+`"`)
	p := browser.Open(t)
	p.Go(server.URL)
	p.Until(`document.querySelector(".view").dataset.ready === "yes"`, "the 3D view")
	for _, name := range []string{"Plus près", "Plus loin", "Tourner à gauche", "Regarder de plus haut", "Vue du début"} {
		p.Push(name)
	}
	p.Push("2 Parois minces…")
	p.Until(`document.querySelectorAll(".marks button")[1].getAttribute("aria-pressed") === "true"`, "the second finding")
	p.Look("view-bowl-fr")
	for _, word := range []string{"Nearer", "Further", "Turn", "lines", "squares", "Start", "Leans"} {
		if text := p.Text(); strings.Contains(text, word) {
			t.Errorf("the view in French says %q: %s", word, text)
		}
	}
}

// Without WebGL, or where the bytes do not come, the picture stays.
func TestViewWithout(t *testing.T) {
	server := aView(t)
	p := browser.Open(t)
	p.Before(`HTMLCanvasElement.prototype.getContext = () => null`)
	p.Go(server.URL)
	p.Until(`document.querySelector(".view").dataset.ready === "failed"`, "the end of trying")
	if p.Has("button", "Turn left") || !p.Has("image", "A bowl, seen from the front.") {
		t.Error("the picture is not what it was")
	}
}

// The browser's reader of a view, in Node.js, finds the volume the engine
// measures.
func TestViewReader(t *testing.T) {
	node, err := exec.LookPath("node")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("node is not installed")
		}
		t.Skip("node is not installed")
	}
	path := filepath.Join(t.TempDir(), "bowl.view")
	if err := os.WriteFile(path, exampleView(), 0o600); err != nil {
		t.Fatal(err)
	}
	module, err := filepath.Abs("front/mesh.js")
	if err != nil {
		t.Fatal(err)
	}
	script := `import { readFileSync } from "node:fs"; import { read, volume } from "` + module + `";
const b = readFileSync(process.argv[1]); const v = read(b.buffer.slice(b.byteOffset, b.byteOffset + b.length));
console.log([volume(v.part), v.part.count, v.part.hatch.filter((h) => h === 2).length, v.marks.map((m) => m.severity + m.number).join("+")].join(" "));`
	out, err := exec.Command(node, "--input-type=module", "-e", script, path).CombinedOutput()
	if err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	s := sampleScene()
	thin := 0
	for _, h := range s.Highlight {
		if h == 2 {
			thin++
		}
	}
	f := strings.Fields(string(out))
	if len(f) != 4 || f[1] != strconv.Itoa(len(s.Mesh.F)) || f[2] != strconv.Itoa(thin) || f[3] != "ask1+stop2+note3" {
		t.Fatalf("read %s", out)
	}
	if got, err := strconv.ParseFloat(f[0], 64); err != nil || math.Abs(got/mesh.Measure(s.Mesh).Volume-1) > 1e-3 {
		t.Errorf("volume %s, the engine measures %g (%v)", f[0], mesh.Measure(s.Mesh).Volume, err)
	}
}
