package mail

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"unicode/utf16"
)

// Some mail programs wrap enclosures in one part of type application/ms-tnef,
// usually named winmail.dat. The format is public (Transport Neutral
// Encapsulation Format, MS-OXTNEF; from MEMORY): a signature, a key, then
// attributes: level, identifier, length, bytes, and a sum of the bytes. An
// attachment begins with attAttachRendData; its title and its bytes follow,
// and its long name lies among properties in attAttachment.
const (
	attAttachRendData = 0x00069002
	attAttachTitle    = 0x00018010
	attAttachData     = 0x0006800F
	attAttachment     = 0x00069005

	propLongName = 0x3707
)

// unwrapTNEF takes the files out of such a wrapper. The bytes of a file come
// before or after its name, so each is kept under a name of its own first and
// called by its right one when that is known.
func (rd *reader) unwrapTNEF(w wrapper, r io.Reader) error {
	br := bufio.NewReaderSize(r, 1<<16)
	var head [6]byte
	if _, err := io.ReadFull(br, head[:]); err != nil {
		rd.odd("%q is damaged: it ends too early.", w.Name)
		return nil
	}
	current := -1 // index into Files of the attachment being read
	title, long := "", ""
	settle := func() {
		if current < 0 {
			return
		}
		name := CleanName(long)
		if name == "" {
			name = CleanName(title)
		}
		if name != "" {
			rd.let.Files[current].Name = name
		}
	}
	for n := 0; n < 10_000; n++ {
		var a struct {
			Level  uint8
			ID     uint32
			Length uint32
		}
		if err := binary.Read(br, binary.LittleEndian, &a); err != nil {
			if !errors.Is(err, io.EOF) {
				rd.odd("%q is damaged; what could be read of it was.", w.Name)
			}
			break
		}
		body := io.LimitReader(br, int64(a.Length))
		switch a.ID {
		case attAttachRendData:
			settle()
			current, title, long = -1, "", ""
		case attAttachTitle:
			b, _ := io.ReadAll(io.LimitReader(body, 1<<10))
			title = toUTF8(bytes.TrimRight(b, "\x00"))
		case attAttachment:
			b, _ := io.ReadAll(io.LimitReader(body, 1<<20))
			if s := longName(b); s != "" {
				long = s
			}
		case attAttachData:
			if current >= 0 {
				break // a second body of one attachment
			}
			had := len(rd.let.Files)
			stop, err := rd.takeOut(w, fmt.Sprintf("enclosure %d", n), body)
			if err != nil {
				return err
			}
			if len(rd.let.Files) > had {
				current = had
			}
			if stop {
				settle()
				return nil
			}
		}
		if _, err := io.Copy(io.Discard, body); err != nil {
			return err
		}
		if _, err := br.Discard(2); err != nil { // the sum
			break
		}
	}
	settle()
	return nil
}

// longName looks for the long file name among the properties of an attachment:
// a count, then for each a type, an identifier, and a value.
func longName(b []byte) string {
	le := binary.LittleEndian
	next := func(n int) []byte {
		if n < 0 || n > len(b) {
			b = nil
			return nil
		}
		v := b[:n]
		b = b[n:]
		return v
	}
	num := func() int {
		v := next(4)
		if v == nil {
			return -1
		}
		return int(int32(le.Uint32(v)))
	}
	count := num()
	for i := 0; i < count && i < 1000 && len(b) >= 4; i++ {
		kind, id := le.Uint16(b), le.Uint16(b[2:])
		next(4)
		if id >= 0x8000 { // a named property: a set, then a number or a name
			next(16)
			if k := num(); k == 0 {
				next(4)
			} else {
				n := num()
				next((n + 3) &^ 3)
			}
		}
		switch kind &^ 0x1000 {
		case 0x0002, 0x0003, 0x0004, 0x000A, 0x000B:
			if kind&0x1000 != 0 {
				return ""
			}
			next(4)
		case 0x0005, 0x0006, 0x0007, 0x0014, 0x0040:
			if kind&0x1000 != 0 {
				return ""
			}
			next(8)
		case 0x0048:
			next(16)
		case 0x001E, 0x001F, 0x0102, 0x000D:
			values := num()
			for j := 0; j < values && j < 100 && len(b) > 0; j++ {
				n := num()
				v := next(n)
				if n >= 0 {
					next(((n + 3) &^ 3) - n)
				}
				if id != propLongName || v == nil {
					continue
				}
				if kind == 0x001F {
					u := make([]uint16, len(v)/2)
					for k := range u {
						u[k] = le.Uint16(v[2*k:])
					}
					return string(bytes.TrimRight([]byte(string(utf16.Decode(u))), "\x00"))
				}
				return toUTF8(bytes.TrimRight(v, "\x00"))
			}
		default:
			return ""
		}
	}
	return ""
}
