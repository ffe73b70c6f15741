package web

import (
	"io"
	"mime"
	"net/http"
	"time"
)

// isUpload says whether a form brings files.
func isUpload(r *http.Request) bool {
	t, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return err == nil && t == "multipart/form-data"
}

// patience is how long an upload or a download may stand still.
const patience = 45 * time.Second

// pageTime is how long a page may take to come, from its request to its last
// byte.
const pageTime = 2 * time.Minute

// steady lets a slow upload go on as long as something comes, however long
// that takes, and ends one that stands still.
func steady(w http.ResponseWriter, body io.ReadCloser) io.ReadCloser {
	return &steadyBody{ReadCloser: body, control: http.NewResponseController(w)}
}

type steadyBody struct {
	io.ReadCloser
	control *http.ResponseController
	until   time.Time
}

// The deadlines of sockets follow the system's clock, not the desk's. Where
// there is none to set, as in tests without a network, there is none.
func (b *steadyBody) Read(p []byte) (int, error) {
	// A system call at every small read would cost more than the reading.
	if now := time.Now(); b.until.Sub(now) < patience-time.Second {
		b.until = now.Add(patience)
		_ = b.control.SetReadDeadline(b.until)
		_ = b.control.SetWriteDeadline(b.until.Add(pageTime)) // the answer comes after
	}
	return b.ReadCloser.Read(p)
}

// download is where something long is written to: it may take as long as it
// takes, but not stand still.
func download(w http.ResponseWriter) io.Writer {
	return &steadyWriter{w: w, control: http.NewResponseController(w)}
}

type steadyWriter struct {
	w       io.Writer
	control *http.ResponseController
	until   time.Time
}

func (s *steadyWriter) Write(p []byte) (int, error) {
	if now := time.Now(); s.until.Sub(now) < patience-time.Second {
		s.until = now.Add(patience)
		_ = s.control.SetWriteDeadline(s.until)
	}
	return s.w.Write(p)
}
