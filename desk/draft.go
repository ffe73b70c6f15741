package desk

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/template"
	"text/template/parse"
	"time"

	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/say"
	"platebook/engine/tariff"
)

// PatronLink is the address of a patron's own page, as messages give it.
func PatronLink(s Settings, key string) string {
	return strings.TrimRight(s.Library.Address, "/") + PatronPath(key)
}

// PatronPath is the same on the site itself.
func PatronPath(key string) string { return "/my/" + key }

// Draft fills in the text of a kind for a request, in the patron's language:
// a message ready to send. key is that of the patron's link; more, if given,
// says what the request itself does not.
func Draft(s Settings, r Request, key string, kind TextKind, more ...Extra) (subject, text string, err error) {
	var x Extra
	if len(more) > 0 {
		x = more[0]
	}
	t, language := textOf(s, r.Contact.Language, kind)
	return fill(t, letter(s, r, key, language, x))
}

// fill makes a message of a text. The subject is one line whatever it is
// filled with.
func fill(t Text, l Letter) (subject, body string, err error) {
	if subject, err = fillOne(t.Subject, l); err != nil {
		return "", "", err
	}
	if body, err = fillOne(t.Body, l); err != nil {
		return "", "", err
	}
	if subject = oneLine(subject); subject == "" {
		subject = l.Code
	}
	return subject, plain(body) + "\n", nil
}

func fillOne(text string, l Letter) (string, error) {
	t, err := parseText(text)
	if err != nil {
		return "", err
	}
	var b bytes.Buffer
	if err := t.Execute(&atMost{&b, 1 << 17}, l); err != nil {
		return "", err
	}
	return b.String(), nil
}

// parseText reads a text and refuses what messages have no use for, and what
// could keep the program busy: templates within templates, printing to a width,
// calls.
func parseText(text string) (*template.Template, error) {
	if len(text) > 4*maxText {
		return nil, errTooLong
	}
	t, err := template.New("text").Funcs(template.FuncMap{"join": strings.Join}).Parse(text)
	if err != nil {
		return nil, err
	}
	if len(t.Templates()) > 1 {
		return nil, errors.New("{{define}} and {{block}} cannot be used in messages")
	}
	if t.Tree == nil || t.Root == nil {
		return t, nil
	}
	return t, soundNode(t.Root, 0)
}

var errTooLong = fmt.Errorf("it is longer than %d letters", maxText)

// soundNode walks a text; loops is how many loops are around n.
func soundNode(n parse.Node, loops int) error {
	all := func(nodes ...parse.Node) error {
		for _, n := range nodes {
			if err := soundNode(n, loops); err != nil {
				return err
			}
		}
		return nil
	}
	switch n := n.(type) {
	case *parse.ListNode:
		if n == nil {
			return nil
		}
		return all(n.Nodes...)
	case *parse.ActionNode:
		return soundNode(n.Pipe, loops)
	case *parse.IfNode:
		return all(n.Pipe, n.List, n.ElseList)
	case *parse.RangeNode:
		// What is listed is short, so two loops end soon whatever they do.
		if loops++; loops > 2 {
			return errors.New("more than two {{range}} within each other")
		}
		return all(n.Pipe, n.List, n.ElseList)
	case *parse.WithNode:
		return all(n.Pipe, n.List, n.ElseList)
	case *parse.PipeNode:
		if n == nil {
			return nil
		}
		for _, c := range n.Cmds {
			if err := all(c.Args...); err != nil {
				return err
			}
		}
	case *parse.IdentifierNode:
		switch n.Ident {
		case "join", "len", "eq", "ne", "lt", "le", "gt", "ge", "and", "or", "not":
		default:
			return fmt.Errorf("{{%s}} cannot be used in messages", n.Ident)
		}
	case *parse.TemplateNode:
		return errors.New("{{template}} cannot be used in messages")
	}
	return nil
}

// atMost stops a text that grows without end.
type atMost struct {
	w    io.Writer
	left int
}

func (a *atMost) Write(p []byte) (int, error) {
	if a.left -= len(p); a.left < 0 {
		return 0, errTooLong
	}
	return a.w.Write(p)
}

// PreviewText fills a text in for an example request, as it would be sent in a
// language. Its error is a sentence to whoever wrote the text.
func PreviewText(s Settings, language string, kind TextKind, t Text) (subject, text string, err error) {
	r, x := exampleRequest(s, language, kind)
	l := letter(s, r, "example-only", language, x)
	if subject, text, err = fill(t, l); err != nil {
		return "", "", Faultf(Wrong, "%s", textTrouble(err))
	}
	return subject, text, nil
}

// PreviewTextFor fills a text in for a real request, as its patron would get it
// now, but for the link, which opens nothing.
func (d *Desk) PreviewTextFor(ctx context.Context, by Actor, code Code, language string, kind TextKind, t Text) (subject, text string, err error) {
	err = d.Store.Read(ctx, func(tx Tx) error {
		r, err := tx.RequestByCode(code)
		if err != nil {
			return err
		}
		if err := by.Require(r.Branch, Reviewer); err != nil {
			return err
		}
		s, err := settings(tx)
		if err != nil {
			return err
		}
		var x Extra
		if x.Branch, err = tx.Branch(r.Branch); err != nil && KindOf(err) != NotFound {
			return err
		}
		if x.Files, err = tx.FilesOf(r.ID); err != nil {
			return err
		}
		lines, err := tx.Charges(r.ID)
		if err != nil {
			return err
		}
		if x.Owed, err = balance(lines); err != nil {
			return err
		}
		x.Found, x.Fine = foundIn(x.Files)
		if subject, text, err = fill(t, letter(s, r, "example-only", language, x)); err != nil {
			return Faultf(Wrong, "%s", textTrouble(err))
		}
		return nil
	})
	return subject, text, err
}

// textTrouble says what is wrong with a text, without the words of the
// template language's own messages where it can.
func textTrouble(err error) string {
	say := err.Error()
	say = strings.TrimPrefix(say, "template: ")
	if _, after, ok := strings.Cut(say, "can't evaluate field "); ok {
		field, _, _ := strings.Cut(after, " ")
		return fmt.Sprintf("There is nothing called .%s that could be filled in. Take a name from the list beside the text.", field)
	}
	if _, after, ok := strings.Cut(say, "function \""); ok {
		name, _, _ := strings.Cut(after, "\"")
		return fmt.Sprintf("{{%s}} means nothing here. What is filled in begins with a dot: {{.Code}}.", name)
	}
	say = strings.TrimPrefix(say, "text:")
	return fmt.Sprintf("This cannot be filled in (line and reason: %s). Every {{ needs its }}, every {{if}} and {{range}} its {{end}}.", say)
}

// CheckTexts says whether every text can be sent: it is filled in for example
// requests, one in every state it may speak of. Fields of the Fault are called
// language.kind.subject and language.kind.body.
func CheckTexts(s Settings, texts Texts) error {
	wrong := map[string]string{}
	if len(texts) > 20 {
		return Faultf(Wrong, "These are messages in more than twenty languages. Leave out those no patron chooses.")
	}
	known := map[TextKind]bool{}
	for _, k := range TextKinds() {
		known[k] = true
	}
	for language, kinds := range texts {
		if !languageTag(language) {
			wrong[language] = "A language is called by its short name, like en or fr-CA."
			continue
		}
		for kind, t := range kinds {
			name := language + "." + string(kind)
			if !known[kind] {
				wrong[name] = "There is no such message."
				continue
			}
			checkText(s, language, kind, t, name, wrong)
		}
	}
	if len(wrong) == 0 {
		return nil
	}
	return &Fault{Kind: Wrong, Say: "Some messages could not be sent as they are written. Nothing was saved: see what is wrong beside each.", Fields: wrong}
}

func checkText(s Settings, language string, kind TextKind, t Text, name string, wrong map[string]string) {
	for part, text := range map[string]string{"subject": t.Subject, "body": t.Body} {
		at := name + "." + part
		if strings.TrimSpace(text) == "" {
			wrong[at] = "Write something here: an empty message helps nobody."
			continue
		}
		if part == "subject" && (strings.ContainsAny(text, "\r\n") || len([]rune(text)) > 4*maxSubject) {
			wrong[at] = "A subject is one short line."
			continue
		}
		// Once filled in with everything there, once with what may be missing missing.
		r, x := exampleRequest(s, language, kind)
		full := letter(s, r, "example-only", language, x)
		for _, l := range []Letter{full, {Code: full.Code, Link: full.Link, OnShelf: !full.OnShelf}} {
			if _, err := fillOne(text, l); err != nil {
				wrong[at] = textTrouble(err)
				break
			}
		}
		if part == "body" && wrong[at] == "" && needsLink(kind) && !strings.Contains(text, ".Link") {
			wrong[at] = "The patron cannot answer without their link. Put {{.Link}} on a line of its own."
		}
	}
}

// needsLink says whether a message asks for an answer.
func needsLink(k TextKind) bool {
	switch k {
	case TextReceived, TextFound, TextOffer, TextQuestion, TextRemind:
		return true
	}
	return false
}

// languageTag says whether t looks like a language tag of BCP 47.
func languageTag(t string) bool {
	parts := strings.Split(t, "-")
	if len(parts[0]) < 2 || len(parts[0]) > 3 || len(t) > 35 {
		return false
	}
	for _, p := range parts {
		if p == "" || len(p) > 8 || strings.ContainsFunc(p, func(c rune) bool {
			return !(c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9')
		}) {
			return false
		}
	}
	return true
}

// exampleRequest is an invented request in the state a message of a kind is
// sent in.
func exampleRequest(s Settings, language string, kind TextKind) (Request, Extra) {
	at := time.Date(2026, 3, 2, 10, 30, 0, 0, time.UTC)
	price := func(total, grams tariff.Decimal) tariff.Price {
		return tariff.Price{Currency: s.Tariff.Currency, Total: total, Lines: []tariff.Line{{Kind: tariff.Material, Quantity: grams, Unit: "g", Amount: total}}}
	}
	way := func(id string, says say.Saying, g, seconds float64, p tariff.Price) Way {
		return Way{ID: id, Says: says.String(), Saying: says, Grams: map[string]float64{"pla": g}, Seconds: seconds, Price: p,
			Parts: []PartWay{{SizeMM: mesh.Vec{80, 40, 22.5}, Copies: 1}}}
	}
	ways := []Way{
		way("sensible", say.Of("Layers of %s mm, a quarter filled.", say.Digits("0.2")), 23.4, 9300, price("3.40", "24")),
		way("cheaper", say.Of("Thicker layers: steps can be seen on round sides."), 17.6, 5400, price("2.80", "18")),
	}
	r := Request{Code: "K7-204", State: WithPatron, Asked: at,
		Contact: Contact{Name: "Sam Example", Surname: "Example", Language: language, UnderAge: true, Guardian: "Alex Example"},
		Quote:   &Quote{Ways: ways, Best: "sensible", Sent: at, Until: at.AddDate(0, 0, 14)}}
	x := Extra{Branch: Branch{Name: "Example Branch", Place: "ground floor, by the stairs"}, Files: []File{{Name: "lamp-foot.stl"}},
		Question: "Should the foot be 80 mm wide, or high?", Owed: "3.40"}
	switch kind {
	case TextDeclined:
		r.State, r.Reason, x.Owed = Declined, "The walls are thinner than our printers can make.", ""
	case TextReceived:
		model, archive := "lamp-cap.stl", "sketch.zip"
		x.Odd = []Oddity{{say.Of("%q in %q is locked with a password; ask for it unlocked.", model, archive)}}
	case TextFound:
		walls := say.Of("The walls are about %s mm thin in places.", say.Digits("0.4"))
		r.State, x.Found = Received, []FileFinding{{"lamp-foot.stl", findings.Finding{Message: walls.String(), Saying: walls}}}
	case TextAgreed, TextReprint:
		r.State, r.Agreement = Agreed, &Agreement{Way: ways[0], At: at}
		x.Reason = "It came off the platform after an hour."
	case TextReady, TextRemind, TextLapsed:
		r.State, r.Agreement = OnShelf, &Agreement{Way: ways[0], At: at}
		r.Shelf = &Shelved{Since: at, Until: at.AddDate(0, 0, 14)}
	}
	return r, x
}
