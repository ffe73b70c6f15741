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
	put   []desk.Hash // what is on the shelves by this sending
	much  bool        // the address sent more than it may in an hour
}

// Most of a form with files. A field is what a person types; there are not
// many of them.
const (
	mostField  = 64 << 10
	mostFields = 200
	mostNames  = 20 // files named without being stored
)

// readSent reads a form with files part by part, in whatever order they come.
// A file goes from the line to the shelves and is never held as a whole; one
// that the rules will not have is not stored at all. Most is how many files
// are taken; what comes after is not stored, and named so that the person sees
// it. Nor is what comes once the address has had its bytes of the hour: the rest
// of the form is read all the same, so that nothing typed is lost.
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
			if err := s.readFile(r, &in, p, name, rules, most); err != nil {
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

func (s *Site) readFile(r *http.Request, in *sent, p *multipart.Part, name string, rules desk.Rules, most int) error {
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
	if !rules.Takes(up.Name) || len(in.put) >= most || in.much {
		if len(in.files) < most+mostNames {
			in.files = append(in.files, up)
		}
		return nil // the reader skips what is left of the part
	}
	var err error
	limit := rules.MaxFile
	if limit <= 0 {
		limit = s.limits.Upload
	}
	from := &source{r: p, may: func(n int) bool { return s.taken.allowN(visitOf(r.Context()).from, n) }}
	up.Hash, up.Size, err = s.desk.Shelves.Put(r.Context(), from, limit)
	if up.Hash != "" {
		in.put = append(in.put, up.Hash)
	}
	switch {
	case errors.Is(from.err, errMuch):
		in.much, up.Hash = true, ""
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

// letGo lets go of what a sending put on the shelves and nobody will use. What
// a request refers to by now stays.
func (s *Site) letGo(r *http.Request, in sent) {
	ctx := context.WithoutCancel(r.Context()) // the browser may have gone
	for _, h := range in.put {
		if err := s.desk.Shelves.LetGo(ctx, h); err != nil {
			s.log.Warn("a file stays until the sweep", "request", visitOf(ctx).id, "err", err)
		}
	}
}

// source remembers how reading ended, so that a line that broke is told from a
// disk that did, and ends when no more may come.
type source struct {
	r   io.Reader
	may func(bytes int) bool
	err error
}

// errMuch ends a file of which no more may come.
var errMuch = errors.New("the bytes of an hour are used up")

func (s *source) Read(p []byte) (int, error) {
	n, err := s.r.Read(p)
	if n > 0 && !s.may(n) {
		n, err = 0, errMuch
	}
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
