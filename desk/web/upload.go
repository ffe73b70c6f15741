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

// patience is how long an upload may stand still.
const patience = 45 * time.Second

// steady lets a slow upload go on as long as something comes, however long
// that takes, and ends one that stands still.
func (s *Site) steady(w http.ResponseWriter, body io.ReadCloser) io.ReadCloser {
	return &steadyBody{ReadCloser: body, control: http.NewResponseController(w)}
}

type steadyBody struct {
	io.ReadCloser
	control *http.ResponseController
	until   time.Time
}

func (b *steadyBody) Read(p []byte) (int, error) {
	// A system call at every small read would cost more than the reading.
	if now := time.Now(); b.until.Sub(now) < patience-time.Second {
		b.until = now.Add(patience)
		_ = b.control.SetReadDeadline(b.until) // without a deadline to set, there is none
	}
	return b.ReadCloser.Read(p)
}

// Server is an http.Server with time limits fit for the open network: headers
// must come soon, idle connections are closed, and pages are written within
// two minutes. How long a form may take is for the Site, which knows its kind.
func Server(address string, h http.Handler) *http.Server {
	return &http.Server{
		Addr:              address,
		Handler:           h,
		ReadHeaderTimeout: 10 * time.Second,
		IdleTimeout:       2 * time.Minute,
		MaxHeaderBytes:    32 << 10,
	}
}
