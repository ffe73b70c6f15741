package web

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"mime"
	"net/http"
	"path"
	"slices"
	"strings"
	"time"
)

//go:embed all:dist
var dist embed.FS

// assets are the bundle: files under names that carry a hash of what is in
// them, so that a browser may keep each for ever.
type assets struct {
	names    map[string]string // desk.js → desk-ABCD.js
	files    map[string][]byte // by path: /a/desk-ABCD.js
	licences string
}

// openAssets reads the bundle. Without one (a clone where make build has not
// run) pages work, unstyled.
func openAssets() (*assets, error) {
	a := &assets{names: map[string]string{}, files: map[string][]byte{}}
	list, err := dist.ReadFile("dist/names.json")
	if errors.Is(err, fs.ErrNotExist) {
		return a, nil
	}
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(list, &a.names); err != nil {
		return nil, fmt.Errorf("the bundle's names: %w", err)
	}
	entries, err := dist.ReadDir("dist")
	if err != nil {
		return nil, err
	}
	for _, e := range entries {
		name := e.Name()
		text, err := dist.ReadFile("dist/" + name)
		if err != nil {
			return nil, err
		}
		switch {
		case name == "licences.txt":
			a.licences = string(text)
		case strings.HasPrefix(name, "."), name == "names.json":
		default:
			a.files["/a/"+name] = text
		}
	}
	return a, nil
}

// fonts are where the fonts are that every page needs, so that browsers fetch
// them without waiting for the stylesheet.
func (a *assets) fonts() []string {
	var at []string
	for _, name := range slices.Sorted(maps.Keys(a.names)) {
		if strings.HasSuffix(a.names[name], ".woff2") {
			at = append(at, a.url(name))
		}
	}
	return at
}

// url is where a page finds a part of the bundle by its plain name.
func (a *assets) url(name string) string { return "/a/" + a.names[name] }

func (a *assets) built() bool { return len(a.names) > 0 }

func (a *assets) has(path string) bool {
	_, ok := a.files[path]
	return ok
}

// types are those of the bundle's files; the system's table of types differs
// between machines.
var types = map[string]string{
	".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8",
	".woff2": "font/woff2", ".svg": "image/svg+xml",
}

func (a *assets) serve(w http.ResponseWriter, r *http.Request) error {
	text, ok := a.files[r.URL.Path]
	if !ok || strings.HasSuffix(r.URL.Path, ".gz") {
		return notFound()
	}
	ext := path.Ext(r.URL.Path)
	kind, ok := types[ext]
	if !ok {
		kind = mime.TypeByExtension(ext)
	}
	h := w.Header()
	h.Set("Content-Type", kind)
	h.Set("Cache-Control", "public, max-age=31536000, immutable")
	// The name carries the hash of the content, so it is its tag as well.
	tag := path.Base(r.URL.Path)
	if packed, ok := a.files[r.URL.Path+".gz"]; ok {
		h.Set("Vary", "Accept-Encoding")
		if strings.Contains(r.Header.Get("Accept-Encoding"), "gzip") && r.Header.Get("Range") == "" {
			h.Set("Content-Encoding", "gzip")
			text, tag = packed, tag+".gz"
		}
	}
	h.Set("ETag", `"`+tag+`"`)
	http.ServeContent(w, r, "", time.Time{}, bytes.NewReader(text))
	return nil
}
