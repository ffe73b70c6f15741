package web

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"net/url"
	"strings"

	"platebook/desk"
)

// sent is a form with files as it came in: its small fields, and its files,
// which are on the shelves already or were refused.
type sent struct {
	url.Values
	files []desk.Upload
}

// Most of a form with files. A field is what a person types; there are not
// many of them.
const (
	mostField  = 64 << 10
	mostFields = 200
)

// readSent reads a form with files part by part, in whatever order they come.
// A file goes from the line to the shelves and is never held as a whole; one
// that the rules will not have is not stored at all. Most is how many files
// are taken; what comes after is let go, and named so that the person sees it.
func (s *Site) readSent(r *http.Request, rules desk.Rules, most int) (sent, error) {
	in := sent{Values: url.Values{}}
	if !isUpload(r) { // a form without files, as from a test or an old browser
		if err := r.ParseForm(); err != nil {
			return in, brokenForm(err)
		}
		in.Values = r.PostForm
		return in, nil
	}
	parts, err := r.MultipartReader()
	if err != nil {
		return in, brokenForm(err)
	}
	for fields := 0; ; {
		p, err := parts.NextPart()
		if err == io.EOF {
			return in, nil
		} else if err != nil {
			return in, brokenForm(err)
		}
		// A part with a file name is a file, even an empty one: a browser
		// sends that for a file field nothing was chosen in.
		if name, ok := fileNameOf(p); ok {
			if err := s.readFile(r.Context(), &in, p, name, rules, most); err != nil {
				return in, err
			}
			continue
		}
		if fields++; fields > mostFields {
			return in, desk.Faultf(desk.TooMany, "This form has more fields than any of ours. Open the page again and send it once more.")
		}
		text, err := io.ReadAll(io.LimitReader(p, mostField+1))
		if err != nil {
			return in, brokenForm(err)
		}
		if len(text) > mostField {
			text = text[:mostField]
		}
		in.Add(p.FormName(), string(text))
	}
}

// fileNameOf is the name a part's file was sent under, if the part is a file.
// Browsers write it as it is, in UTF-8 (RFC 7578, 4.2); others may use the
// extended form of RFC 2231, which comes out the same.
func fileNameOf(p *multipart.Part) (string, bool) {
	name := p.FileName()
	if name != "" {
		return name, true
	}
	return "", strings.Contains(strings.ToLower(p.Header.Get("Content-Disposition")), "filename")
}

func (s *Site) readFile(ctx context.Context, in *sent, p *multipart.Part, name string, rules desk.Rules, most int) error {
	up := desk.Upload{Name: desk.CleanName(name)}
	if name == "" {
		// Nothing chosen: let go of it, unless bytes came without a name.
		n, err := io.Copy(io.Discard, io.LimitReader(p, 1))
		if err != nil {
			return brokenForm(err)
		}
		if n == 0 {
			return nil
		}
		in.files = append(in.files, up)
		return nil
	}
	if !rules.Takes(up.Name) || len(in.files) >= most+20 {
		if len(in.files) < most+20 {
			in.files = append(in.files, up)
		}
		return nil // the reader skips what is left of the part
	}
	var err error
	limit := rules.MaxFile
	if limit <= 0 {
		limit = s.limits.Upload
	}
	from := &source{r: p}
	up.Hash, up.Size, err = s.desk.Shelves.Put(ctx, from, limit)
	switch {
	case from.err != nil:
		return brokenForm(from.err)
	case desk.KindOf(err) == desk.TooMany:
		up.Hash, up.Size = "", limit+1
	case err != nil:
		return err
	case up.Size == 0:
		up.Hash = ""
	}
	in.files = append(in.files, up)
	return nil
}

// source remembers how reading ended, so that a line that broke is told from a
// disk that did.
type source struct {
	r   io.Reader
	err error
}

func (s *source) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	if err != nil && err != io.EOF {
		s.err = err
	}
	return n, err
}

// errBroken is in the cause of a fault whose form did not arrive as a whole,
// errApart of one whose form carries no token of ours: said in the page's
// language by inWords.
var (
	errBroken = errors.New("form did not arrive whole")
	errApart  = errors.New("form without a sound token")
)

// brokenForm is what a form is that did not arrive as a whole.
func brokenForm(err error) error {
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return err // shown as too large
	}
	return &desk.Fault{Kind: desk.Wrong, Say: english.FormBroken, Err: fmt.Errorf("%w: %w", errBroken, err)}
}
