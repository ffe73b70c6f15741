package visit

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"

	"golang.org/x/net/html"
)

// Form is a form of a page, filled in as the page had it.
type Form struct {
	url.Values
	Action    string
	Multipart bool
	// Choices are the values that a field of fixed choices offers.
	Choices map[string][]string
	// Buttons are what its named buttons send: name=value, by what they say.
	Buttons map[string][2]string
}

// File is one to send with a form.
type File struct {
	Field, Name string
	Size        int64
	// Open gives the bytes, anew at each sending.
	Open func() io.Reader
}

// Form finds the first form whose action ends so, the query apart.
func (p *Page) Form(action string) (*Form, error) {
	var found *Form
	p.each(func(n *html.Node) {
		if n.Data != "form" || found != nil || !strings.EqualFold(attr(n, "method"), "post") {
			return
		}
		to := attr(n, "action")
		if to == "" {
			to = p.Path
		}
		if path, _, _ := strings.Cut(to, "?"); strings.HasSuffix(path, action) {
			found = read(n, to)
		}
	})
	if found == nil {
		return nil, fmt.Errorf("%s has no form %s", p.Path, action)
	}
	return found, nil
}

// read fills in a form as its page does (HTML, 4.10.21.4, constructing the
// entry list).
func read(n *html.Node, action string) *Form {
	f := &Form{Values: url.Values{}, Action: action, Multipart: attr(n, "enctype") == "multipart/form-data",
		Choices: map[string][]string{}, Buttons: map[string][2]string{}}
	for c := range n.Descendants() {
		name := attr(c, "name")
		if c.Type != html.ElementNode || has(c, "disabled") {
			continue
		}
		switch {
		case c.Data == "button":
			if to := attr(c, "formaction"); to != "" {
				f.Buttons[text(c)] = [2]string{"formaction", to}
			} else if name != "" {
				f.Buttons[text(c)] = [2]string{name, attr(c, "value")}
			}
		case name == "":
		case c.Data == "textarea":
			f.Add(name, text(c))
		case c.Data == "select":
			f.choose(c, name)
		case c.Data == "input":
			f.input(c, name)
		}
	}
	return f
}

func (f *Form) input(n *html.Node, name string) {
	switch strings.ToLower(attr(n, "type")) {
	case "file", "submit", "button", "image", "reset":
	case "checkbox", "radio":
		value := attr(n, "value")
		if value == "" {
			value = "on"
		}
		f.Choices[name] = append(f.Choices[name], value)
		if has(n, "checked") {
			f.Add(name, value)
		}
	default:
		f.Add(name, attr(n, "value"))
	}
}

func (f *Form) choose(n *html.Node, name string) {
	first, chosen := "", false
	for o := range n.Descendants() {
		if o.Type != html.ElementNode || o.Data != "option" {
			continue
		}
		value := attr(o, "value")
		if !has(o, "value") {
			value = text(o)
		}
		f.Choices[name] = append(f.Choices[name], value)
		if len(f.Choices[name]) == 1 {
			first = value
		}
		if has(o, "selected") {
			f.Add(name, value)
			chosen = true
		}
	}
	if !chosen && len(f.Choices[name]) > 0 {
		f.Add(name, first)
	}
}

// Press has the form sent by the button that says so.
func (f *Form) Press(says string) error {
	b, ok := f.Buttons[says]
	if !ok {
		return fmt.Errorf("the form %s has no button %q, only %v", f.Action, says, f.Buttons)
	}
	if b[0] == "formaction" {
		f.Action = b[1]
	} else {
		f.Set(b[0], b[1])
	}
	return nil
}

// Send sends a form with files and goes where it leads.
func (v *Visitor) Send(ctx context.Context, f *Form, files ...File) (*Page, error) {
	if !f.Multipart {
		if len(files) > 0 {
			return nil, errors.New("this form takes no files")
		}
		return v.do(ctx, http.MethodPost, f.Action, strings.NewReader(f.Encode()), "application/x-www-form-urlencoded")
	}
	r, w := io.Pipe()
	m := multipart.NewWriter(w)
	go func() { w.CloseWithError(f.write(m, files)) }()
	defer r.Close() // a desk that answers early leaves the rest
	return v.do(ctx, http.MethodPost, f.Action, r, m.FormDataContentType())
}

func (f *Form) write(m *multipart.Writer, files []File) error {
	for name, values := range f.Values {
		for _, v := range values {
			if err := m.WriteField(name, v); err != nil {
				return err
			}
		}
	}
	for _, file := range files {
		w, err := m.CreateFormFile(file.Field, file.Name)
		if err != nil {
			return err
		}
		if _, err := io.Copy(w, file.Open()); err != nil {
			return err
		}
	}
	return m.Close()
}
