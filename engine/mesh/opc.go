package mesh

import (
	"archive/zip"
	"compress/flate"
	"encoding/xml"
	"errors"
	"io"
	"net/url"
	"path"
	"slices"
	"strings"

	"platebook/engine/say"
)

// A 3MF file is a package of the Open Packaging Conventions (ECMA-376 part 2):
// a ZIP whose entries are parts, found by relationships and not by fixed names.
// Part names are compared without regard to case.

const (
	relModel            = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
	seems3MF   say.Form = "a 3MF file"
	askWhole   say.Form = "it may have been damaged on its way, so ask for it to be sent again"
	unpackFile say.Form = "unpack it and take its models one by one"
)

type opc struct {
	parts    map[string]*zip.File // by name in lower case, no leading slash
	twice    map[string]bool
	lim      Limits
	size     int64 // of the whole file
	expanded int64 // bytes unpacked so far
}

func (f *file) openPackage() (*opc, error) {
	z, err := zip.NewReader(f.src, f.size)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) {
		if f.ext == ".3mf" {
			return nil, unreadable(seems3MF+" cut short or damaged", askWhole, "its list of contents cannot be read")
		}
		return nil, unreadable("a ZIP archive cut short or damaged", askWhole, "its list of contents cannot be read")
	}
	if len(z.File) > f.lim.Entries {
		return nil, unreadable("a ZIP archive", askModel, "its %d entries are more than the %d taken here", len(z.File), f.lim.Entries)
	}
	p := &opc{parts: map[string]*zip.File{}, twice: map[string]bool{}, lim: f.lim, size: f.size}
	for _, e := range z.File {
		if strings.HasSuffix(e.Name, "/") {
			continue
		}
		name := partName("", e.Name)
		if _, ok := p.parts[name]; ok {
			p.twice[name] = true
		}
		p.parts[name] = e
	}
	return p, nil
}

// partName returns the part a reference in folder means, as a key of parts.
// No reference leads out of the package, whatever dots it holds.
func partName(folder, ref string) string {
	ref = strings.ReplaceAll(ref, `\`, "/")
	if s, err := url.PathUnescape(ref); err == nil {
		ref = s
	}
	if !strings.HasPrefix(ref, "/") {
		ref = folder + "/" + ref
	}
	return strings.ToLower(strings.TrimPrefix(path.Clean("/"+ref), "/"))
}

// open returns a reader of one part that keeps to the limits.
func (p *opc) open(name string) (*partReader, error) {
	e := p.parts[name]
	if e == nil {
		return nil, unreadable(seems3MF, askAgain, "the part %q it refers to is not in it", cleanName([]byte(name)))
	}
	if p.twice[name] {
		return nil, unreadable(seems3MF, askAgain, "it holds the part %q twice, so which one is meant cannot be told", cleanName([]byte(name)))
	}
	if e.Flags&1 != 0 {
		return nil, unreadable(seems3MF, "ask for it without a password", "it is locked with a password")
	}
	r, err := e.Open()
	if err != nil {
		return nil, unreadable(seems3MF, askWhole, "the part %q cannot be unpacked", cleanName([]byte(name)))
	}
	raw := &unpacked{ReadCloser: r, total: &p.expanded}
	return &partReader{p: p, r: raw, text: inUTF8(raw), packed: min(int64(e.CompressedSize64&(1<<62-1)), p.size), buf: make([]byte, 0, 64<<10)}, nil
}

// partReader unpacks a part through a buffer of its own, so that the XML
// decoder and the quick reading of long lists can take turns at it.
type partReader struct {
	p      *opc
	r      *unpacked
	text   io.Reader // r in UTF-8
	packed int64
	got    int64 // bytes of text read of this part
	token  int64 // got when the present token began
	buf    []byte
	at     int // next byte in buf
	err    error
}

// longestToken bounds one XML token, which the decoder holds in memory.
const longestToken = 4 << 20

// fill drops what is read and unpacks more; false when there is no more.
func (r *partReader) fill() bool {
	if r.err != nil {
		return false
	}
	n := copy(r.buf[:cap(r.buf)], r.buf[r.at:])
	r.buf, r.at = r.buf[:n], 0
	if n == cap(r.buf) {
		return false
	}
	for range 100 {
		k, err := r.text.Read(r.buf[n:cap(r.buf)])
		r.buf = r.buf[:n+k]
		r.got += int64(k)
		switch {
		case r.p.expanded > r.p.lim.Expanded:
			err = unreadable(seems3MF, askSmall, "it unpacks to more than the %s taken here", megabytes(r.p.lim.Expanded))
		case r.r.n > ratioFloor && r.r.n/r.p.lim.Ratio > r.packed:
			err = unreadable(seems3MF, "do not use it unless you know where it comes from", "it unpacks to more than %d times its size, as files made to do harm do", r.p.lim.Ratio)
		case r.got-r.token > longestToken+int64(cap(r.buf)):
			err = unreadable(seems3MF, askAgain, "one piece of it is longer than any model needs")
		}
		if err != nil {
			r.err = err
		}
		if k > 0 {
			return true
		}
		if err != nil {
			return false
		}
	}
	r.err = io.ErrNoProgress
	return false
}

func (r *partReader) ReadByte() (byte, error) {
	if r.at == len(r.buf) && !r.fill() {
		return 0, r.err
	}
	b := r.buf[r.at]
	r.at++
	return b, nil
}

// Read serves the decoder's interface; ReadByte does the work.
func (r *partReader) Read(b []byte) (int, error) {
	if r.at == len(r.buf) && !r.fill() {
		return 0, r.err
	}
	n := copy(b, r.buf[r.at:])
	r.at += n
	return n, nil
}

// said turns an error of unpacking or of XML into a sentence.
func (r *partReader) said(name string, err error) error {
	var u *Unreadable
	if errors.As(err, &u) {
		return u
	}
	if errors.As(r.err, &u) {
		return u
	}
	var bad flate.CorruptInputError
	switch {
	case errors.Is(err, zip.ErrChecksum), errors.Is(r.err, zip.ErrChecksum), errors.As(r.err, &bad),
		errors.Is(r.err, io.ErrUnexpectedEOF), errors.Is(r.err, zip.ErrFormat):
		return unreadable(seems3MF+" cut short or damaged", askWhole, "the part %q cannot be unpacked", cleanName([]byte(name)))
	}
	for n := range r.p.parts {
		if strings.Contains(n, "keystore") {
			return unreadable(seems3MF, "ask for it without encryption", "the part %q is encrypted", cleanName([]byte(name)))
		}
	}
	return unreadable(seems3MF, askAgain, "its part %q is not proper XML (%v)", cleanName([]byte(name)), notXML(err))
}

// notXML says what is wrong with the XML: in our words, if they are ours.
func notXML(err error) any {
	if s, ok := err.(say.Sayer); ok {
		return s
	}
	return cleanName([]byte(err.Error()))
}

// drain unpacks what is left, so that damage anywhere in the part is found.
func (r *partReader) drain() error {
	for r.at = len(r.buf); r.fill(); r.at = len(r.buf) {
		r.token = r.got
	}
	if r.err != io.EOF {
		return r.err
	}
	return nil
}

func (r *partReader) decoder() *xml.Decoder {
	d := xml.NewDecoder(r)
	d.CharsetReader = func(label string, in io.Reader) (io.Reader, error) {
		switch strings.ToLower(label) {
		case "us-ascii", "ascii", "utf8":
			return in, nil
		case "utf-16", "utf-16le", "utf-16be", "iso-10646-ucs-2":
			// Either it was, and is UTF-8 by now, or a program wrote UTF-8 and
			// forgot to say so: read in bytes it got as far as this.
			return in, nil
		}
		return nil, say.Errorf("it is written in %s, not in UTF-8", cleanName([]byte(label)))
	}
	return d
}

// startPart finds the model part by relationship. If none is named but there
// is exactly one model part, that is it, and odd says so.
func (p *opc) startPart() (name string, odd say.Saying, err error) {
	const rels = "_rels/.rels"
	if p.parts[rels] != nil {
		r, err := p.open(rels)
		if err != nil {
			return "", odd, err
		}
		defer r.r.Close()
		d := r.decoder()
		for depth := 0; ; {
			r.token = r.got
			t, err := d.RawToken()
			if err == io.EOF && r.err == io.EOF {
				break
			}
			if err != nil {
				return "", odd, r.said(rels, err)
			}
			switch t := t.(type) {
			case xml.Directive:
				return "", odd, r.said(rels, errDTD)
			case xml.EndElement:
				depth--
			case xml.StartElement:
				if depth++; depth > p.lim.Depth {
					return "", odd, r.said(rels, errDeep)
				}
				if t.Name.Local != "Relationship" {
					continue
				}
				var target, kind, mode string
				for _, a := range t.Attr {
					switch a.Name.Local {
					case "Target":
						target = a.Value
					case "Type":
						kind = a.Value
					case "TargetMode":
						mode = a.Value
					}
				}
				if kind == relModel && !strings.EqualFold(mode, "External") {
					return partName("", target), odd, nil
				}
			}
		}
	}
	var models []string
	for n := range p.parts {
		if path.Ext(n) == ".model" {
			models = append(models, n)
		}
	}
	if len(models) == 1 {
		return models[0], say.Of("The package does not say which part is the model; its only model part was read."), nil
	}
	return "", odd, p.archive()
}

// archive says what a ZIP that is no 3MF seems to be.
func (p *opc) archive() error {
	has := func(prefix string) bool {
		for n := range p.parts {
			if strings.HasPrefix(n, prefix) {
				return true
			}
		}
		return false
	}
	switch {
	case len(p.parts) == 0:
		return unlike("an empty ZIP archive", askModel)
	case has("word/"), has("xl/"), has("ppt/"), p.parts["mimetype"] != nil && p.parts["content.xml"] != nil:
		return unlike("an office document, not a model", askModel)
	}
	var models []string
	for n, e := range p.parts {
		switch path.Ext(n) {
		case ".stl", ".3mf", ".obj":
			if !strings.HasPrefix(n, "__macosx/") {
				models = append(models, cleanName([]byte(path.Base(strings.ReplaceAll(e.Name, `\`, "/")))))
			}
		}
	}
	slices.Sort(models)
	switch n := len(models); {
	case n == 1:
		return &Unreadable{Seems: say.Of("a ZIP archive with one model in it, %s", models[0]), Do: say.Of("unpack it and take the model out")}
	case n > 1:
		list := say.Named(strings.Join(models[:min(n, 3)], ", "))
		if n > 3 {
			list = say.Of("%s and %d more", list, n-3)
		}
		return &Unreadable{Seems: say.Of("a ZIP archive with %d models in it (%s)", n, list), Do: say.Of(unpackFile)}
	case p.parts["[content_types].xml"] != nil:
		return unreadable("a package of documents", askModel, "no part of it is a 3MF model")
	}
	return unlike("a ZIP archive with no model in it that we read", askModel)
}

var (
	errDTD  = unreadable(seems3MF, "do not use it unless you know where it comes from", "it holds a document type definition, which 3MF forbids because it can do harm")
	errDeep = unreadable(seems3MF, askAgain, "its elements are nested deeper than any model needs")
)
