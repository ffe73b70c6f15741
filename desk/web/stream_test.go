package web

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"
)

// moving notes the deadlines it is given.
type moving struct {
	http.ResponseWriter
	read, write []time.Time
}

func (m *moving) SetReadDeadline(t time.Time) error  { m.read = append(m.read, t); return nil }
func (m *moving) SetWriteDeadline(t time.Time) error { m.write = append(m.write, t); return nil }

// An upload may take as long as it moves: reading puts the deadline off, and
// never by more than patience, so that one standing still ends.
func TestUploadsMayBeSlow(t *testing.T) {
	m := &moving{ResponseWriter: httptest.NewRecorder()}
	body := steady(m, io.NopCloser(bytes.NewReader(make([]byte, 1<<20))))
	before := time.Now()
	if _, err := io.Copy(io.Discard, body); err != nil {
		t.Fatal(err)
	}
	if len(m.read) == 0 || len(m.write) == 0 {
		t.Fatal("no deadline was set")
	}
	if d := m.read[0].Sub(before); d < patience-time.Second || d > patience+time.Minute {
		t.Errorf("an upload may stand still for %v", d)
	}
	if !m.write[0].After(m.read[0]) {
		t.Error("no time is left for the answer")
	}
	if len(m.read) > 20 {
		t.Errorf("%d deadlines for one quick megabyte", len(m.read))
	}
}

// What is asked for with a body that never comes must not be waited for without
// end; a download without one takes as long as it takes.
func TestBodiesNobodyAskedFor(t *testing.T) {
	s := aSite(t)
	h := s.bounded(http.HandlerFunc(func(http.ResponseWriter, *http.Request) {}))
	for _, c := range []struct {
		name string
		body io.Reader
		want int
	}{{"a body", bytes.NewReader([]byte("x")), 1}, {"none", nil, 0}} {
		m := &moving{ResponseWriter: httptest.NewRecorder()}
		h.ServeHTTP(m, httptest.NewRequest(http.MethodGet, "/", c.body))
		if len(m.read) != c.want {
			t.Errorf("%s: %d deadlines for reading, want %d", c.name, len(m.read), c.want)
		}
	}
}

// Forms with files have their own bound. A form where none are asked for may not
// bring any: a log-in of half a gigabyte would be written to the disk to find the
// name in it.
func TestUploadsAreBounded(t *testing.T) {
	s := aSite(t, func(o *Options) { o.Limits.Form, o.Limits.Upload = 1000, 100_000 })
	for _, path := range []string{"/probe/files", "/probe/form"} {
		s.open("POST "+path, func(_ http.ResponseWriter, r *http.Request) error {
			_, err := io.Copy(io.Discard, r.Body)
			return err
		})
	}
	s.filed["POST /probe/files"] = true
	v := s.visitor(t)
	for _, c := range []struct {
		path       string
		size, want int
	}{
		{"/probe/files", 50_000, 200}, {"/probe/files", 150_000, 429}, {"/probe/form", 300, 200}, {"/probe/form", 50_000, 429},
	} {
		var b bytes.Buffer
		m := multipart.NewWriter(&b)
		f, err := m.CreateFormFile("file", "part.stl")
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(make([]byte, c.size)); err != nil {
			t.Fatal(err)
		}
		if err := m.Close(); err != nil {
			t.Fatal(err)
		}
		r, err := v.Post(v.url+c.path, m.FormDataContentType(), &b)
		if a, _ := answer(t, r, err); a.StatusCode != c.want {
			t.Errorf("%s, %d bytes: %d, want %d", c.path, c.size, a.StatusCode, c.want)
		}
	}
}
