package web

import (
	"net/http"
	"time"

	"platebook/desk"
)

// mineBlob gives a picture of a file, or the bytes of its 3D view.
func (s *Site) mineBlob(w http.ResponseWriter, r *http.Request, _ *words) error {
	f, err := s.desk.MyFile(r.Context(), r.PathValue("key"), desk.ID(r.PathValue("id")))
	if err != nil {
		return err
	}
	var h desk.Hash
	kind := "image/png"
	if f.Result != nil {
		switch r.PathValue("what") {
		case "still.png":
			h = f.Result.Still
		case "sheet.png":
			h = f.Result.Sheet
		case "part.view":
			h, kind = f.Result.View, "application/octet-stream"
		}
	}
	return s.serveBlob(w, r, h, kind)
}

// mineWayStill gives the picture of a way.
func (s *Site) mineWayStill(w http.ResponseWriter, r *http.Request, _ *words) error {
	m, err := s.desk.Mine(r.Context(), r.PathValue("key"))
	if err != nil {
		return err
	}
	if q := m.Request.Quote; q != nil {
		for _, x := range q.Ways {
			if x.ID == r.PathValue("id") {
				return s.serveBlob(w, r, x.Still, "image/png")
			}
		}
	}
	return notFound()
}

// serveBlob gives bytes from the shelves that we made ourselves. What people
// send is never served to a browser as anything but a download.
func (s *Site) serveBlob(w http.ResponseWriter, r *http.Request, h desk.Hash, kind string) error {
	if h == "" {
		return notFound()
	}
	b, err := s.desk.Shelves.Open(r.Context(), h)
	if err != nil {
		return err
	}
	defer b.Close()
	head := w.Header()
	head.Set("Content-Type", kind)
	// It would keep well, being named by its hash. But it is a patron's, and the
	// computer it is looked at on is often the library's: whoever comes next
	// must not find it there.
	head.Set("Cache-Control", "no-store")
	http.ServeContent(w, r, "", time.Time{}, b)
	return nil
}
