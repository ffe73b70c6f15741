package browser

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
)

var axe struct {
	sync.Mutex
	source string
}

// Axe holds the page to axe-core's rules, all of them: WCAG 2.2 A and AA and
// what it calls best practice. Each violation fails the test.
func (p *Page) Axe() {
	p.t.Helper()
	axe.Lock()
	if axe.source == "" {
		path := filepath.Join(top(p.t), "desk", "web", "front", "node_modules", "axe-core", "axe.min.js")
		text, err := os.ReadFile(path)
		if err != nil {
			axe.Unlock()
			needed(p.t, "axe-core is not there: run make front")
		}
		axe.source = string(text)
	}
	source := axe.source
	axe.Unlock()
	var there bool
	p.Eval(`typeof axe === "object"`, &there)
	if !there {
		// Evaluated by the driver, not by the page: its policy stays in force.
		p.Eval(source+"; 0", nil)
	}
	var result struct {
		Passes     int
		Violations []struct {
			ID, Help string
			Nodes    []struct{ HTML, FailureSummary string }
		}
	}
	p.Eval(`axe.run(document, {rules: {"target-size": {enabled: true}}, resultTypes: ["violations"]}).then(
		(r) => ({Passes: r.passes.length, Violations: r.violations.map((v) => ({ID: v.id, Help: v.help, Nodes: v.nodes.map((n) => ({HTML: n.html, FailureSummary: n.failureSummary}))}))}))`, &result)
	if result.Passes < 5 {
		p.t.Errorf("%s: axe looked at %d rules only", p.where(), result.Passes)
	}
	for _, v := range result.Violations {
		for _, n := range v.Nodes {
			p.t.Errorf("%s: %s: %s\n%s\n%s", p.where(), v.ID, v.Help, n.HTML, n.FailureSummary)
		}
	}
}

// Fits fails the test where the page is wider than a window of a width, so that
// lines would have to be scrolled to be read (WCAG 1.4.10), or where something
// to press is smaller than 24 by 24 pixels (WCAG 2.5.8). Links within text may be
// as tall as it, if they keep their distance: Axe looks at those.
func (p *Page) Fits(width int64) {
	p.t.Helper()
	p.Resize(width)
	var bad []string
	p.Eval(`(() => {
		const bad = [];
		const wide = document.documentElement.clientWidth;
		if (document.documentElement.scrollWidth > wide) {
			const over = [...document.body.querySelectorAll("*")].filter((e) => {
				const r = e.getBoundingClientRect();
				if (r.right <= wide + 0.5 || r.width === 0) return false;
				for (let a = e.parentElement; a; a = a.parentElement) if (a !== document.body && /auto|scroll|hidden/.test(getComputedStyle(a).overflowX)) return false;
				return true;
			});
			bad.push("wider than the window: " + document.documentElement.scrollWidth + " for " + wide + "; " + over.slice(0, 5).map((e) => e.outerHTML.slice(0, 120)).join(" | "));
		}
		for (const e of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button]")) {
			const s = getComputedStyle(e);
			let r = e.getBoundingClientRect();
			if (r.width === 0 || s.visibility === "hidden" || e.closest(".skip") || s.clipPath !== "none") continue;
			if (e.tagName === "A" && s.display === "inline") continue;
			if (r.width < 23.9 || r.height < 23.9) bad.push(Math.round(r.width) + " × " + Math.round(r.height) + " px: " + e.outerHTML.slice(0, 160));
		}
		return bad;
	})()`, &bad)
	if len(bad) > 0 {
		p.t.Errorf("%s at %d px:\n%s", p.where(), width, strings.Join(bad, "\n"))
	}
}

// Look checks the page at both widths with Axe and Fits, at 320 pixels with
// Fits, and asks for a clean log. With a name it keeps a screenshot of each.
func (p *Page) Look(name string) {
	p.t.Helper()
	for _, width := range []int64{Wide, Narrow} {
		p.Fits(width)
		p.Axe()
		if name != "" {
			p.Shot(fmt.Sprintf("%s-%d", name, width))
		}
	}
	p.Fits(320)
	p.Resize(Wide)
	p.Clean()
}

// Glance keeps screenshots at both widths and checks the page at one, for pages
// that other tests Look at.
func (p *Page) Glance(name string) {
	p.t.Helper()
	p.Fits(Narrow)
	p.Shot(fmt.Sprintf("%s-%d", name, Narrow))
	p.Fits(Wide)
	p.Shot(fmt.Sprintf("%s-%d", name, Wide))
	p.Axe()
	p.Clean()
}
