package demo

import (
	"bytes"
	"embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"mime"
	"mime/quotedprintable"
	"net/http"
	"net/mail"
	"slices"
	"strings"
	"time"

	"github.com/emersion/go-message"
	_ "github.com/emersion/go-message/charset" // letters come in any charset
)

//go:embed post.html post.css
var postFiles embed.FS

var postPage = template.Must(template.ParseFS(postFiles, "post.html"))

// PostPath is where the post office's page is.
const PostPath = "/larkmere/post"

// postView is what the page shows.
type postView struct {
	Parts []string
	Sent  []letterView
	Done  bool
	Wrong string
	Text  string
}

type letterView struct {
	When, To, Subject, Text string
}

// Handler serves the post office's page, where a visitor writes to the desk as
// a patron would, and reads what the desk answers. It is for the demonstration
// only: nobody is asked to log in.
func (o *Office) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET "+PostPath+".css", func(w http.ResponseWriter, r *http.Request) {
		css, err := postFiles.ReadFile("post.css")
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
			return
		}
		w.Header().Set("Content-Type", "text/css; charset=utf-8")
		w.Write(css)
	})
	mux.HandleFunc("GET "+PostPath, func(w http.ResponseWriter, r *http.Request) {
		o.show(w, postView{Done: r.URL.Query().Has("sent"), Text: "Hello, could you print this for me? Two of them please, about 6 cm long, in red if you have it. I can pick them up any day after work.\n\nThank you!"})
	})
	mux.HandleFunc("POST "+PostPath, o.take)
	return http.NewCrossOriginProtection().Handler(mux)
}

func (o *Office) show(w http.ResponseWriter, v postView) {
	for _, p := range Parts() {
		v.Parts = append(v.Parts, p.File)
	}
	for _, s := range o.Out() {
		v.Sent = append(v.Sent, read(s))
	}
	h := w.Header()
	h.Set("Content-Security-Policy", "default-src 'none'; style-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'")
	h.Set("X-Content-Type-Options", "nosniff")
	h.Set("Referrer-Policy", "no-referrer")
	h.Set("Cache-Control", "no-store")
	h.Set("Content-Type", "text/html; charset=utf-8")
	var b bytes.Buffer
	if err := postPage.Execute(&b, v); err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	if v.Wrong != "" {
		w.WriteHeader(http.StatusUnprocessableEntity)
	}
	b.WriteTo(w)
}

// take posts what a visitor wrote.
func (o *Office) take(w http.ResponseWriter, r *http.Request) {
	r.Body = http.MaxBytesReader(w, r.Body, 1<<16)
	if err := r.ParseForm(); err != nil {
		o.show(w, postView{Wrong: "That was too much for one letter. Write less."})
		return
	}
	text, file := r.PostForm.Get("text"), r.PostForm.Get("part")
	parts := Parts()
	i := slices.IndexFunc(parts, func(p Part) bool { return p.File == file })
	if strings.TrimSpace(text) == "" || file != "" && i < 0 {
		o.show(w, postView{Wrong: "Write something, and choose one of the files or none.", Text: text})
		return
	}
	from := mail.Address{Name: r.PostForm.Get("name"), Address: "visitor@patrons.example"}
	var part *Part
	if i >= 0 {
		part = &parts[i]
	}
	raw, err := compose(from, r.PostForm.Get("subject"), text, part, time.Now())
	if err == nil {
		err = o.Deliver(raw)
	}
	if err != nil {
		o.show(w, postView{Wrong: "The letter could not be posted: " + err.Error(), Text: text})
		return
	}
	http.Redirect(w, r, PostPath+"?sent", http.StatusSeeOther)
}

// compose writes a letter as a patron's mail program would (RFC 5322, RFC 2045).
func compose(from mail.Address, subject, text string, part *Part, at time.Time) ([]byte, error) {
	var b bytes.Buffer
	line := func(format string, a ...any) { fmt.Fprintf(&b, format+"\r\n", a...) }
	one := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	from.Name = one(from.Name)
	line("From: %s", from.String())
	line("To: Larkmere Libraries <%s>", deskAddress)
	line("Subject: %s", mime.QEncoding.Encode("utf-8", one(subject)))
	line("Date: %s", at.Format(time.RFC1123Z))
	line("Message-ID: <%d@patrons.example>", at.UnixNano())
	line("MIME-Version: 1.0")
	const boundary = "=_larkmere"
	line("Content-Type: multipart/mixed; boundary=\"%s\"", boundary)
	line("")
	line("--%s", boundary)
	line("Content-Type: text/plain; charset=utf-8")
	line("Content-Transfer-Encoding: quoted-printable")
	line("")
	q := quotedprintable.NewWriter(&b)
	if _, err := io.WriteString(q, strings.ReplaceAll(strings.ReplaceAll(text, "\r\n", "\n"), "\n", "\r\n")); err != nil {
		return nil, err
	}
	if err := q.Close(); err != nil {
		return nil, err
	}
	line("")
	if part != nil {
		line("--%s", boundary)
		line("Content-Type: application/octet-stream")
		line("Content-Disposition: attachment; filename=%q", part.File)
		line("Content-Transfer-Encoding: base64")
		line("")
		var file bytes.Buffer
		if err := part.Write(&file); err != nil {
			return nil, err
		}
		text := base64.StdEncoding.EncodeToString(file.Bytes())
		for len(text) > 76 {
			line("%s", text[:76])
			text = text[76:]
		}
		line("%s", text)
	}
	line("--%s--", boundary)
	return b.Bytes(), nil
}

// FirstLetter is the letter that comes in by itself when the demonstration opens.
func FirstLetter(at time.Time) ([]byte, error) {
	parts := Parts()
	return compose(mail.Address{Name: "Wren Hollis", Address: "wren.hollis@patrons.example"}, "could you print this?",
		"Hello,\n\nmy son broke the last one. Could you print two of these please, 5 cm long, in blue? I need them by Friday.\n\nThank you,\nWren", &parts[0], at)
}

// read gives the plain text of a letter the desk sent.
func read(s Sent) letterView {
	v := letterView{When: s.At.Format("15:04:05"), To: s.To}
	e, err := message.Read(bytes.NewReader(s.Raw))
	if e == nil {
		v.Text = fmt.Sprint(err)
		return v
	}
	if subject, err := e.Header.Text("Subject"); err == nil {
		v.Subject = subject
	}
	err = e.Walk(func(_ []int, part *message.Entity, err error) error {
		if err != nil || v.Text != "" {
			return err
		}
		if kind, _, _ := part.Header.ContentType(); kind == "text/plain" {
			b, err := io.ReadAll(io.LimitReader(part.Body, 1<<16))
			v.Text = string(b)
			return err
		}
		return nil
	})
	if err != nil && v.Text == "" {
		v.Text = err.Error()
	}
	return v
}
