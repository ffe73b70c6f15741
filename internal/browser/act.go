package browser

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/dom"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// Find returns the one thing of a role with a name, waiting for it. Roles are
// ARIA's: button, link, textbox, searchbox, checkbox, radio, combobox,
// spinbutton, heading. A name that ends in … stands for all that begin so.
func (p *Page) find(role, name string) cdp.BackendNodeID {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	var found []cdp.BackendNodeID
	for {
		var err error
		found, err = p.query(ctx, role, name)
		if err == nil && len(found) == 1 {
			return found[0]
		}
		select {
		case <-ctx.Done():
			p.t.Fatalf("%s: %d of role %s named %q, want one (%v)\n%s", p.where(), len(found), role, name, err, p.outline())
		case <-time.After(50 * time.Millisecond):
		}
	}
}

// Has says whether there is such a thing now.
func (p *Page) Has(role, name string) bool {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	found, err := p.query(ctx, role, name)
	if err != nil {
		p.t.Fatal(err)
	}
	return len(found) > 0
}

func (p *Page) query(ctx context.Context, role, name string) (found []cdp.BackendNodeID, err error) {
	stem, begins := strings.CutSuffix(name, "…")
	q := accessibility.QueryAXTreeParams{Role: role}
	if !begins {
		q.AccessibleName = name
	}
	nodes, err := tree(ctx, q)
	for _, n := range nodes {
		if !n.Ignored && (!begins || strings.HasPrefix(nameOf(n), stem)) {
			found = append(found, n.BackendDOMNodeID)
		}
	}
	return found, err
}

// tree asks the accessibility tree of the whole page.
func tree(ctx context.Context, q accessibility.QueryAXTreeParams) ([]*accessibility.Node, error) {
	return chromedp.Run(ctx, func(ctx context.Context, t *chromedp.Target) ([]*accessibility.Node, error) {
		doc, err := cdp.Call(ctx, t, dom.GetDocument, dom.GetDocumentParams{})
		if err != nil {
			return nil, err
		}
		q.BackendNodeID = doc.Root.BackendNodeID
		r, err := cdp.Call(ctx, t, accessibility.QueryAXTree, q)
		return r.Nodes, err
	})
}

func nameOf(n *accessibility.Node) string {
	var name string
	if n.Name == nil || json.Unmarshal([]byte(n.Name.Value), &name) != nil {
		return ""
	}
	return name
}

// outline is what can be acted on in the page, for messages.
func (p *Page) outline() string {
	ctx, cancel := context.WithTimeout(p.ctx, 5*time.Second)
	defer cancel()
	var b strings.Builder
	for _, role := range []string{"heading", "link", "button", "textbox", "searchbox", "spinbutton", "checkbox", "radio", "combobox"} {
		nodes, err := tree(ctx, accessibility.QueryAXTreeParams{Role: role})
		if err != nil {
			break
		}
		for _, n := range nodes {
			if !n.Ignored {
				fmt.Fprintf(&b, "  %s %q\n", role, nameOf(n))
			}
		}
	}
	return b.String()
}

// on calls a JavaScript function with this = the element.
func on[T any](p *Page, id cdp.BackendNodeID, function string) (T, error) {
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	return chromedp.Run(ctx, func(ctx context.Context, t *chromedp.Target) (T, error) {
		r, err := cdp.Call(ctx, t, dom.ResolveNode, dom.ResolveNodeParams{BackendNodeID: id})
		if err != nil {
			var none T
			return none, err
		}
		return chromedp.CallFunctionOn[T](function, func(c *runtime.CallFunctionOnParams) { c.ObjectID = r.Object.ObjectID })(ctx, t)
	})
}

// To moves the focus to something by the Tab key alone, and fails the test if
// that cannot reach it. In a group of radio buttons the arrow keys go on.
func (p *Page) To(role, name string) {
	p.t.Helper()
	id := p.find(role, name)
	for i := range 400 {
		at, err := on[string](p, id, `function() {
			const a = document.activeElement;
			if (!this.isConnected) return "gone";
			if (a === this) return "here";
			return a && a.type === "radio" && this.type === "radio" && a.name === this.name && a.form === this.form ? "group" : "";
		}`)
		switch {
		case err != nil || at == "gone": // a part of the page that tells how it goes was put in anew: on to the new one
			id = p.find(role, name)
		case at == "here":
			if i > 0 {
				p.focusShows(id, role, name)
			}
			return
		case at == "group":
			p.Press(kb.ArrowDown)
		default:
			p.Press(kb.Tab)
		}
	}
	p.t.Fatalf("%s: the Tab key does not reach %s %q", p.where(), role, name)
}

// focusShows fails the test where what has the focus does not show it, or is
// hidden behind something.
func (p *Page) focusShows(id cdp.BackendNodeID, role, name string) {
	p.t.Helper()
	bad, err := on[string](p, id, `function() {
		const s = getComputedStyle(this), r = this.getBoundingClientRect();
		if (s.outlineStyle === "none" && s.boxShadow === "none") return "has no outline";
		if (r.bottom <= 0 || r.top >= innerHeight) return "is out of sight";
		return "";
	}`)
	if err == nil && bad != "" {
		p.t.Errorf("%s: %s %q has the focus and %s", p.where(), role, name, bad)
	}
}

// Press presses keys, one after the other: "a", kb.Enter, …
func (p *Page) Press(keys string) {
	p.t.Helper()
	p.Do(chromedp.KeyEvent(keys))
}

// Fill goes to a field by keyboard and types a text in place of what is there.
func (p *Page) Fill(role, label, text string) {
	p.t.Helper()
	p.To(role, label)
	p.Do(chromedp.KeyEvent("a", chromedp.KeyModifiers(kb.ModifierCtrl)), chromedp.KeyEvent(kb.Backspace))
	if text != "" {
		p.Press(strings.ReplaceAll(text, "\n", "\r"))
	}
}

// FillDate types a date, given as 2006-01-02, into a date field.
func (p *Page) FillDate(label, date string) {
	p.t.Helper()
	id := p.find("Date", label)
	p.toNode(id, "Date", label)
	at, err := time.Parse(time.DateOnly, date)
	if err != nil {
		p.t.Fatal(err)
	}
	// The parts stand in the browser's own order, which it tells by language.
	var order string
	p.Eval(`new Intl.DateTimeFormat().formatToParts(new Date()).map(x => x.type[0]).filter(c => "dmy".includes(c)).join("")`, &order)
	for _, c := range order {
		p.Press(map[rune]string{'d': at.Format("02"), 'm': at.Format("01"), 'y': at.Format("2006")}[c])
	}
	got, err := on[string](p, id, `function() { return this.value }`)
	if err != nil || got != date {
		p.t.Fatalf("%s: date field %q holds %q after typing %q (%v)", p.where(), label, got, date, err)
	}
}

func (p *Page) toNode(id cdp.BackendNodeID, role, name string) {
	p.t.Helper()
	for range 400 {
		in, err := on[bool](p, id, `function() { return document.activeElement === this }`)
		if err != nil {
			p.t.Fatal(err)
		}
		if in {
			return
		}
		p.Press(kb.Tab)
	}
	p.t.Fatalf("%s: the Tab key does not reach %s %q", p.where(), role, name)
}

// Choose picks an option of a select by the text it shows, by keyboard.
func (p *Page) Choose(label, option string) {
	p.t.Helper()
	p.To("combobox", label)
	id := p.find("combobox", label)
	p.Press(kb.Home)
	for range 300 {
		at, err := on[string](p, id, `function() { return this.selectedOptions[0].text.trim() }`)
		if err != nil {
			p.t.Fatal(err)
		}
		if at == option {
			return
		}
		p.Press(kb.ArrowDown)
	}
	p.t.Fatalf("%s: %q has no option %q", p.where(), label, option)
}

// Tick goes to a checkbox or radio button and sets it with the space bar.
func (p *Page) Tick(role, label string) {
	p.t.Helper()
	p.To(role, label)
	id := p.find(role, label)
	set, err := on[bool](p, id, `function() { return this.checked }`)
	if err != nil {
		p.t.Fatal(err)
	}
	if !set {
		p.Press(" ")
	}
}

// Push goes to a button and presses Enter; then it waits for the page that
// comes, if one comes.
func (p *Page) Push(name string) {
	p.t.Helper()
	p.To("button", name)
	p.enter()
}

// Follow goes to a link and presses Enter, and waits for the page that comes.
func (p *Page) Follow(name string) {
	p.t.Helper()
	p.To("link", name)
	p.enter()
}

// enter presses Enter, and waits for the next page if the old one goes.
func (p *Page) enter() {
	p.t.Helper()
	p.Eval(`window.__before = true`, nil)
	p.Press(kb.Enter)
	p.Settle()
}

// Settle waits until nothing is on its way: the document is complete, and htmx
// has put in place what it asked for.
func (p *Page) Settle() {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, patience)
	defer cancel()
	for quiet := 0; quiet < 3; {
		done, err := chromedp.Run(ctx, chromedp.Evaluate[bool](`document.readyState === "complete" && !document.querySelector(".htmx-request, form[data-sent]")`))
		switch {
		case errors.Is(err, context.DeadlineExceeded):
			p.t.Fatalf("%s: the page does not come to rest", p.where())
		case err == nil && done:
			quiet++
		default:
			quiet = 0
		}
		select {
		case <-ctx.Done():
		case <-time.After(25 * time.Millisecond):
		}
	}
}

// Attach gives files to a file field, found by its label. No keyboard can drive
// the system's own dialogue, so this alone goes past it.
func (p *Page) Attach(label string, paths ...string) {
	p.t.Helper()
	p.Do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		r, err := cdp.Call(ctx, t, runtime.Evaluate, runtime.EvaluateParams{Expression: fmt.Sprintf(`[...document.querySelectorAll("label")].find((l) =>
			l.textContent.trim().replace(/\s+/g, " ").startsWith(%q) && l.control?.type === "file")?.control`, label)})
		if err != nil {
			return err
		}
		if r.Result.ObjectID == "" {
			return fmt.Errorf("no file field labelled %q", label)
		}
		_, err = cdp.Call(ctx, t, dom.SetFileInputFiles, dom.SetFileInputFilesParams{Files: paths, ObjectID: r.Result.ObjectID})
		return err
	}))
}
