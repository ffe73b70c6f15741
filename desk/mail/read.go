package mail

import (
	"archive/zip"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"mime"
	"path"
	"regexp"
	"slices"
	"strings"

	"github.com/emersion/go-message"
	_ "github.com/emersion/go-message/charset" // names of RFC 2045 charsets to UTF-8
	"golang.org/x/text/encoding/charmap"

	"platebook/desk"
	"platebook/engine/say"
)

// Read reads one letter. Enclosures go to keep as they come past, so a letter
// of any size is read in little memory. Archives and wrappers are kept as they
// are and opened afterwards, by open.
//
// What is odd in the letter is said in Odd and costs no more than that part.
// The error is that of r or of keep, or says that this is no letter at all.
func Read(r io.Reader, keep Keep, open func(desk.Hash) (desk.Blob, error), lim Limits) (*Letter, error) {
	rd := &reader{let: &Letter{}, keep: keep, open: open, lim: lim}
	src := &source{r: &heads{r: tidyHead(r)}}
	rd.src = src
	e, err := message.Read(src)
	if e == nil {
		if src.err != nil {
			return nil, src.err
		}
		return nil, fmt.Errorf("this is no letter: %w", err)
	}
	if e.Header.Len() == 0 {
		return nil, fmt.Errorf("this is no letter: it has no header")
	}
	rd.head(e.Header)
	if err := rd.entity(e, 0, ""); err != nil {
		return nil, err
	}
	// What the connection said counts, even where a part's reader took it for
	// the end of a part: a letter cut short is not the letter.
	if src.err != nil {
		return nil, src.err
	}
	if err := rd.unpack(); err != nil {
		return nil, err
	}
	rd.settleText()
	return rd.let, nil
}

// source remembers an error of the underlying reader.
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

// mostHead is how large the head of one part may be: as large as the library
// lets that of a whole letter be.
const mostHead = 1 << 20

// heads fails on a part whose head is too large. The library reads heads of
// parts whole, however large they are. Where a part begins is seen from the two
// hyphens of RFC 2046 section 5.1.1, and its head ends with an empty line; a
// line of text that begins so counts too, and does no harm.
type heads struct {
	r      io.Reader
	begun  []byte // the first two bytes of the line
	length int    // of the line so far
	within bool   // a head
	size   int    // of the head so far
}

func (h *heads) Read(p []byte) (int, error) {
	n, err := h.r.Read(p)
	for b := p[:n]; len(b) > 0; {
		line, rest, whole := bytes.Cut(b, []byte("\n"))
		h.begun = append(h.begun, line[:min(len(line), 2-len(h.begun))]...)
		h.length += len(line)
		if h.within {
			if h.size += len(line) + 1; h.size > mostHead {
				return 0, errors.New("the head of one of its parts is too large")
			}
		}
		if whole {
			if h.length == 0 || h.length == 1 && h.begun[0] == '\r' {
				h.within = false
			} else if !h.within && string(h.begun) == "--" {
				h.within, h.size = true, 0
			}
			h.begun, h.length = h.begun[:0], 0
		}
		b = rest
	}
	return n, err
}

type reader struct {
	let      *Letter
	keep     Keep
	open     func(desk.Hash) (desk.Blob, error)
	lim      Limits
	src      *source // of the whole letter
	parts    int
	text     int64
	texts    []writing
	html     []string
	external []string // web addresses of parts that are not enclosed
	wrappers []wrapper
	unpacked int64
}

func (rd *reader) odd(form say.Form, with ...any) {
	if len(rd.let.Odd) < 20 {
		rd.let.Odd = append(rd.let.Odd, say.Of(form, with...))
	}
}

// entity reads one MIME entity (RFC 2045) and what is in it. Within is the kind
// of multipart it is a part of.
func (rd *reader) entity(e *message.Entity, depth int, within string) error {
	if rd.parts++; rd.parts > rd.lim.Parts {
		if rd.parts == rd.lim.Parts+1 {
			rd.odd("The letter has more than %d parts; the rest was not read.", rd.lim.Parts)
		}
		return nil
	}
	e, kind, params := typeOf(e, within)
	disp, dispParams, _ := e.Header.ContentDisposition()
	name := fileName(e.Header, params, dispParams)

	switch {
	case strings.HasPrefix(kind, "multipart/"):
		return rd.multipart(e, kind, params, depth)
	case kind == "message/rfc822" || kind == "message/global":
		return rd.enclosedLetter(e, name, depth)
	case kind == "message/partial":
		return rd.piece(params)
	case kind == "message/external-body":
		return rd.elsewhere(params)
	case kind == "message/disposition-notification" || kind == "application/pgp-encrypted":
		return nil // for programs: RFC 8098 section 3, RFC 3156 section 4
	case within == "multipart/signed" && strings.HasSuffix(kind, "-signature"):
		return nil // it is no file of the patron's: RFC 1847 section 2.1
	case within == "multipart/appledouble" && kind == "application/applefile":
		return nil // how one system shows the file beside it: RFC 1740
	case kind == "application/pkcs7-mime" || kind == "application/x-pkcs7-mime":
		rd.odd(sealedLetter)
	case rd.let.Bounce != nil && (kind == "message/delivery-status" || kind == "message/global-delivery-status"):
		return rd.deliveryStatus(e)
	case kind == "text/rfc822-headers":
		return rd.returnedHeaders(e)
	case disp != "attachment" && name == "" && strings.HasPrefix(kind, "text/"):
		if within == "multipart/alternative" && kind != "text/plain" && kind != "text/html" {
			return nil // the same as stands in those (RFC 2046 section 5.1.4)
		}
		return rd.textPart(e, kind)
	}
	return rd.file(e, name, kind)
}

// typeOf is the media type of an entity. One whose field holds comments, which
// the library does not know there, is read anew with the field mended.
func typeOf(e *message.Entity, within string) (_ *message.Entity, kind string, params map[string]string) {
	field := e.Header.Get("Content-Type")
	if strings.TrimSpace(field) == "" {
		if within == "multipart/digest" {
			return e, "message/rfc822", nil // RFC 2046 section 5.1.5
		}
		return e, "text/plain", nil // RFC 2045 section 5.2
	}
	kind, params, err := e.Header.ContentType()
	if err == nil && kind != "" {
		return e, strings.ToLower(kind), params
	}
	if kind, params, err = mime.ParseMediaType(strings.TrimSpace(withoutComments(field))); err == nil {
		h := e.Header.Copy()
		h.Set("Content-Type", mime.FormatMediaType(kind, params))
		h.Del("Content-Transfer-Encoding") // it is decoded already
		if again, err := message.New(h, e.Body); again != nil && (err == nil || message.IsUnknownCharset(err)) {
			return again, kind, params
		}
	}
	return e, "application/octet-stream", nil
}

// sealedLetter is said of letters that are encrypted, or signed in such a way that
// nothing of them can be read without the means (RFC 8551 section 3, RFC 3156).
const sealedLetter say.Form = "The letter is encrypted or sealed and cannot be read here. Ask for it to be sent as a plain letter."

// piece says that a letter is but part of one (RFC 2046 section 5.2.2): pieces
// are not put together here.
func (rd *reader) piece(params map[string]string) error {
	if n, of := params["number"], params["total"]; n != "" && of != "" {
		rd.odd("This is piece %s of %s of a letter that was sent in several. Ask for the file in one letter, or on a stick at the desk.", CleanName(n), CleanName(of))
	} else {
		rd.odd("This is a piece of a letter that was sent in several. Ask for the file in one letter, or on a stick at the desk.")
	}
	return nil
}

// elsewhere notes a part that is only named (RFC 2046 section 5.2.3). It is not
// fetched; where it lies on the web, it is one of the letter's links.
func (rd *reader) elsewhere(params map[string]string) error {
	if address := webLink(params["url"]); strings.EqualFold(params["access-type"], "url") && address != "" { // RFC 2017
		rd.external = append(rd.external, address)
		return nil
	}
	if name := CleanName(params["name"]); name != "" {
		rd.odd("%q is not enclosed: the letter only says where it lay on its sender’s side. Ask for the file itself.", name)
	} else {
		rd.odd("A file is not enclosed: the letter only says where it lay on its sender’s side. Ask for the file itself.")
	}
	return nil
}

func (rd *reader) multipart(e *message.Entity, kind string, params map[string]string, depth int) error {
	if depth >= 20 {
		rd.odd("Parts of the letter lie too deep within one another; the innermost were not read.")
		return nil
	}
	mr := e.MultipartReader()
	if mr == nil || params["boundary"] == "" {
		rd.odd("Part of the letter does not say where it ends; it was not read.")
		return nil
	}
	if depth == 0 && kind == "multipart/report" { // RFC 6522: only machines write such
		switch strings.ToLower(params["report-type"]) {
		case "delivery-status":
			if rd.let.Bounce == nil {
				rd.let.Bounce = &Bounce{}
				rd.machine("it reports on the delivery of another letter")
			}
		case "disposition-notification": // RFC 8098
			rd.machine("it tells that a letter of ours was opened, or what became of it")
		default:
			rd.machine("it is the report of a program")
		}
	}
	if kind == "multipart/encrypted" {
		rd.odd(sealedLetter)
	}
	if kind == "multipart/alternative" {
		defer rd.choose(len(rd.texts))
	}
	for stray := 0; ; {
		p, err := mr.NextPart()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if p == nil {
			if stray == 0 {
				rd.odd("The letter seems to be cut off, or its parts are not marked as they should be; what could be read was.")
			}
			// A missing last boundary ends a multipart too. Of a part whose head
			// cannot be read the library passes one line at each call; the part
			// after it may be the model.
			if stray++; rd.src.err != nil || strings.HasSuffix(err.Error(), "EOF") || stray > mostStray {
				return nil
			}
			continue
		}
		if err := rd.entity(p, depth+1, kind); err != nil {
			return err
		}
		if rd.parts > rd.lim.Parts {
			return nil
		}
	}
}

// mostStray is how many lines are passed in search of a part that can be read:
// more than the largest letters have.
const mostStray = 2_000_000

// enclosedLetter reads a letter sent on as it was (RFC 2046 section 5.2.1).
func (rd *reader) enclosedLetter(e *message.Entity, name string, depth int) error {
	if rd.let.Bounce != nil {
		return rd.returnedHeaders(e)
	}
	if depth >= rd.lim.Depth {
		rd.odd("A letter lies too deep within others; it is kept as a file.")
		if name == "" {
			name = "letter.eml"
		}
		return rd.file(e, name, "message/rfc822")
	}
	in, err := message.Read(tidyHead(e.Body))
	if in == nil {
		rd.odd("An enclosed letter could not be read: %s.", why(err))
		return nil
	}
	var h head
	h.read(in.Header)
	if rd.let.Forwarded == nil && h.from.Mail != "" {
		rd.let.Forwarded = &h.from
	}
	if h.subject != "" || h.from.Mail != "" {
		rd.addText(fmt.Sprintf("— %s, %s:", orDash(h.from.Mail), orDash(h.subject)), false)
	}
	return rd.entity(in, depth+1, "")
}

// textPart takes what was written.
func (rd *reader) textPart(e *message.Entity, kind string) error {
	left := rd.lim.Text - rd.text
	b, err := io.ReadAll(io.LimitReader(e.Body, left+1))
	if err != nil {
		rd.odd("Part of the text could not be read to its end: %s.", why(err))
	}
	if int64(len(b)) > left {
		b = b[:left]
		rd.odd("The letter has more text than is read here; the rest was left out.")
		if _, err := io.Copy(io.Discard, e.Body); err != nil {
			rd.odd("Part of the text could not be read to its end: %s.", why(err))
		}
	}
	rd.text += int64(len(b))
	rd.addText(toUTF8(b), kind == "text/html")
	return nil
}

// writing is one text of a letter, in the order they stand.
type writing struct {
	text string
	html bool
}

func (rd *reader) addText(s string, html bool) {
	if html {
		rd.html = append(rd.html, s) // links are looked for in every one
	}
	rd.texts = append(rd.texts, writing{s, html})
}

// choose leaves of texts that say the same (RFC 2046 section 5.1.4), which are
// those from one on, the plain ones, if there are any.
func (rd *reader) choose(from int) {
	same := rd.texts[from:]
	if slices.ContainsFunc(same, func(w writing) bool { return !w.html && strings.TrimSpace(w.text) != "" }) {
		rd.texts = rd.texts[:from+len(slices.DeleteFunc(same, func(w writing) bool { return w.html }))]
	}
}

// file takes an enclosure to the shelves.
func (rd *reader) file(e *message.Entity, name, kind string) error {
	if name == "" {
		name = "unnamed" + ending(kind)
	}
	if len(rd.let.Files)+len(rd.wrappers) >= rd.lim.Files {
		rd.odd("The letter encloses more than %d files; %q was left out.", rd.lim.Files, name)
		return nil
	}
	body := &source{r: e.Body}
	hash, size, err := rd.keep(name, body)
	if err != nil {
		if desk.KindOf(err) == desk.TooMany {
			rd.odd("%q was left out: it is larger than a file may be here.", name)
			return nil
		}
		if body.err != nil { // a broken encoding, not broken shelves
			rd.odd("%q could not be read to its end: %s.", name, why(body.err))
			return nil
		}
		return err
	}
	if size == 0 {
		rd.odd("%q is empty.", name)
		return nil
	}
	enc := Enclosure{Name: name, Type: kind, Hash: hash, Size: size}
	if isWrapper(enc) {
		rd.wrappers = append(rd.wrappers, wrapper{Enclosure: enc})
	} else {
		rd.let.Files = append(rd.let.Files, enc)
	}
	return nil
}

// fileName is the name given to a part: RFC 2183, RFC 2231, or the older way.
func fileName(h message.Header, params, disp map[string]string) string {
	name := cmp.Or(extended(h.Get("Content-Disposition"), "filename"), disp["filename"], extended(h.Get("Content-Type"), "name"), params["name"],
		looseName(h.Get("Content-Disposition")), looseName(h.Get("Content-Type")))
	if s, err := words.DecodeHeader(name); err == nil {
		name = s // RFC 2047 forbids encoded words there; programs write them all the same
	}
	return CleanName(name)
}

var nameWithin = regexp.MustCompile(`(?is);\s*(?:file)?name\s*=\s*(.+?)\s*(?:;\s*[a-z0-9*-]+\s*=|;?\s*$)`)

// looseName is the name in a field that is not as RFC 2045 section 5.1 has it:
// with spaces and no quotes, or with quotes within quotes. Programs write such.
func looseName(field string) string {
	m := nameWithin.FindStringSubmatch(field)
	if m == nil || len(field) > 10_000 {
		return ""
	}
	if q, ok := strings.CutPrefix(m[1], `"`); ok {
		return strings.ReplaceAll(strings.TrimSuffix(q, `"`), `\"`, `"`)
	}
	return m[1]
}

// CleanName makes of a name from outside one that can be shown and written:
// without folders, control characters, or characters that turn the direction
// of writing, and no longer than 120 characters.
func CleanName(name string) string {
	name = oneLine(name)
	name = strings.ReplaceAll(name, "\\", "/")
	name = path.Base("/" + name)
	if name == "/" || name == "." || name == ".." {
		return ""
	}
	r := []rune(name)
	if len(r) > 120 { // the ending says what it is
		ext := []rune(path.Ext(name))
		if len(ext) > 10 {
			ext = nil
		}
		r = append(r[:120-len(ext)], ext...)
	}
	return strings.TrimSpace(string(r))
}

func toUTF8(b []byte) string {
	if s := string(b); strings.ToValidUTF8(s, "") == s {
		return s
	}
	s, err := charmap.Windows1252.NewDecoder().Bytes(b)
	if err != nil {
		return strings.ToValidUTF8(string(b), "\ufffd")
	}
	return string(bytes.ToValidUTF8(s, []byte("\ufffd")))
}

// why says in the middle of a sentence, in any language, what is wrong with bytes
// that could not be read.
func why(err error) say.Saying {
	switch {
	case err == nil:
		return say.Of("it is empty")
	case errors.Is(err, io.ErrUnexpectedEOF), errors.Is(err, io.EOF):
		return say.Of("it ends too early")
	case errors.Is(err, zip.ErrFormat):
		return say.Of("it is no archive of the kind its name says")
	case errors.Is(err, zip.ErrChecksum):
		return say.Of("it was changed on its way")
	case errors.Is(err, zip.ErrAlgorithm):
		return say.Of("it is packed in a way that is not known here")
	}
	return say.Of("it is not written as it should be")
}

// reason puts a parser's error into the middle of a sentence for staff.
func reason(err error) string {
	if err == nil {
		return "it is empty"
	}
	s := oneLine(err.Error())
	if len(s) > 120 {
		s = strings.ToValidUTF8(s[:120], "")
	}
	return s
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

func ending(kind string) string {
	switch kind {
	case "model/stl", "application/sla":
		return ".stl"
	case "model/3mf":
		return ".3mf"
	case "model/obj":
		return ".obj"
	case "application/zip", "application/x-zip-compressed":
		return ".zip"
	case "image/png":
		return ".png"
	case "image/jpeg":
		return ".jpg"
	case "application/ms-tnef":
		return ".dat"
	}
	return ""
}
