package mail

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"path"
	"strings"

	"platebook/desk"
)

// isWrapper says whether a file is one that others come wrapped in. A 3MF is
// a ZIP too, and is not taken apart.
func isWrapper(e Enclosure) bool {
	ext := strings.ToLower(path.Ext(e.Name))
	switch {
	case e.Type == "application/ms-tnef" || e.Type == "application/vnd.ms-tnef" || strings.EqualFold(e.Name, "winmail.dat"):
		return true
	case ext == ".zip":
		return true
	case ext == "" && (e.Type == "application/zip" || e.Type == "application/x-zip-compressed"):
		return true
	}
	return false
}

// unpack takes files out of archives and wrappers. One that cannot be opened
// is kept as it is: staff may know what to do with it.
func (rd *reader) unpack() error {
	for len(rd.wrappers) > 0 { // opening one may add others
		w := rd.wrappers[0]
		rd.wrappers = rd.wrappers[1:]
		before, beside := len(rd.let.Files), len(rd.wrappers)
		b, err := rd.open(w.Hash)
		if err != nil {
			return err
		}
		err = rd.unpackOne(w, b)
		b.Close()
		if err != nil {
			return err
		}
		if len(rd.let.Files) == before && len(rd.wrappers) == beside {
			rd.let.Files = append(rd.let.Files, w.Enclosure)
		}
	}
	return nil
}

// wrapper is an enclosure to be opened, and how deep it lies in others.
type wrapper struct {
	Enclosure
	depth int
}

func (rd *reader) unpackOne(w wrapper, b desk.Blob) error {
	var head [4]byte
	if _, err := b.ReadAt(head[:], 0); err != nil && err != io.EOF {
		return err
	}
	if bytes.HasPrefix(head[:], []byte("PK")) {
		return rd.unzip(w, b)
	}
	if head == [4]byte{0x78, 0x9f, 0x3e, 0x22} {
		return rd.unwrapTNEF(w, io.NewSectionReader(b, 0, b.Size()))
	}
	rd.odd("%q is not what its name says and could not be opened; it is kept as it is.", w.Name)
	return nil
}

// unzip takes the files out of an archive; archives among them are opened too, up
// to a depth, and all count together.
func (rd *reader) unzip(w wrapper, b desk.Blob) error {
	z, err := zip.NewReader(b, b.Size())
	if err != nil {
		rd.odd("%q could not be opened: %s. It is kept as it is.", w.Name, why(err))
		return nil
	}
	for i, f := range z.File {
		if i >= 10_000 {
			rd.odd("%q holds more than 10 000 entries; the rest was not looked at.", w.Name)
			return nil
		}
		name := CleanName(f.Name)
		if f.FileInfo().IsDir() || name == "" || strings.HasPrefix(name, ".") || strings.HasPrefix(f.Name, "__MACOSX/") {
			continue // what an operating system adds for itself is no file of the patron's
		}
		if f.Flags&1 != 0 {
			rd.odd("%q in %q is locked with a password; ask for it unlocked.", name, w.Name)
			continue
		}
		rc, err := f.Open()
		if err != nil {
			rd.odd("%q in %q could not be opened: %s.", name, w.Name, why(err))
			continue
		}
		stop, err := rd.takeOut(w, name, rc)
		rc.Close()
		if stop || err != nil {
			return err
		}
	}
	return nil
}

// takeOut keeps one file of a wrapper, counting what is really unpacked and
// not what the wrapper says it will be.
func (rd *reader) takeOut(w wrapper, name string, r io.Reader) (stop bool, err error) {
	if len(rd.let.Files)+len(rd.wrappers) >= rd.lim.Files {
		rd.odd("%q holds more files than the %d a letter may bring; the rest was left in it.", w.Name, rd.lim.Files)
		return true, nil
	}
	left := rd.lim.Unpacked - rd.unpacked
	if left <= 0 {
		rd.odd("%q becomes too large when unpacked; the rest was left in it.", w.Name)
		return true, nil
	}
	src := &source{r: &capped{r: r, left: left}}
	hash, size, err := rd.keep(name, src)
	switch {
	case err == nil:
	case src.err == errTooLarge:
		rd.unpacked = rd.lim.Unpacked
		rd.odd("%q becomes too large when unpacked; %q and what follows was left in it.", w.Name, name)
		return true, nil
	case desk.KindOf(err) == desk.TooMany:
		// As much as a file may hold was unpacked for nothing.
		rd.unpacked += capRead(src)
		rd.odd("%q in %q was left out: it is larger than a file may be here.", name, w.Name)
		return false, nil
	case src.err != nil:
		rd.unpacked += capRead(src)
		rd.odd("%q in %q is damaged: %s.", name, w.Name, why(src.err))
		return false, nil
	default:
		return true, err
	}
	rd.unpacked += size
	switch enc := (Enclosure{Name: name, Hash: hash, Size: size, In: w.Name}); {
	case size == 0:
	case isWrapper(enc) && w.depth+1 < rd.lim.Depth:
		rd.wrappers = append(rd.wrappers, wrapper{enc, w.depth + 1})
	default:
		rd.let.Files = append(rd.let.Files, enc)
	}
	return false, nil
}

var errTooLarge = fmt.Errorf("it unpacks to more than is allowed")

// capped gives at most left bytes, then an error.
type capped struct {
	r    io.Reader
	left int64
	read int64
}

func (c *capped) Read(p []byte) (int, error) {
	if c.left <= 0 {
		// A file that ends right at the limit is not too large.
		var one [1]byte
		if n, err := c.r.Read(one[:]); n == 0 {
			return 0, err
		}
		return 0, errTooLarge
	}
	n, err := c.r.Read(p[:min(int64(len(p)), c.left)])
	c.left -= int64(n)
	c.read += int64(n)
	return n, err
}

func capRead(s *source) int64 {
	if c, ok := s.r.(*capped); ok {
		return c.read
	}
	return 0
}
