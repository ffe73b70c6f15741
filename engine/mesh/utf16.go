package mesh

import (
	"bufio"
	"io"

	"golang.org/x/text/encoding/unicode"
)

// Parts of a package are XML in UTF-8 or UTF-16 (ECMA-376 part 2, 8.1.4), and
// XML 1.0 appendix F tells which by the first bytes: the byte order mark, or
// else the way "<" is written. UTF-16 becomes UTF-8 as it is read, so that all
// behind it, the quick path too, knows one encoding only.

// unpacked counts the bytes that come out of the archive, of one part and of all.
type unpacked struct {
	io.ReadCloser
	n     int64
	total *int64
}

func (u *unpacked) Read(b []byte) (int, error) {
	k, err := u.ReadCloser.Read(b)
	u.n += int64(k)
	*u.total += int64(k)
	return k, err
}

// inUTF8 returns r as UTF-8, without a byte order mark if it was UTF-16. What
// is no proper UTF-16 becomes U+FFFD.
func inUTF8(r io.Reader) io.Reader {
	b := bufio.NewReaderSize(r, 16) // larger reads pass it by
	head, _ := b.Peek(4)            // an error comes again at the first read
	order, wide := wideXML(head)
	if !wide {
		return b
	}
	return unicode.UTF16(order, unicode.UseBOM).NewDecoder().Reader(b)
}

// wideXML tells whether XML that begins so is UTF-16, and of which byte order.
func wideXML(head []byte) (order unicode.Endianness, wide bool) {
	if len(head) < 4 {
		return order, false
	}
	switch {
	case head[0] == 0xFE && head[1] == 0xFF, head[0] == 0 && head[1] == '<' && head[2] == 0 && head[3] != 0:
		return unicode.BigEndian, true
	case head[0] == 0xFF && head[1] == 0xFE && (head[2] != 0 || head[3] != 0), head[0] == '<' && head[1] == 0 && head[2] != 0 && head[3] == 0:
		return unicode.LittleEndian, true
	}
	return order, false
}
