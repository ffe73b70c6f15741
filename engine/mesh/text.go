package mesh

import (
	"bytes"
	"encoding/binary"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"
)

// nameLen is the most characters of a name that are kept.
const nameLen = 80

// cleanName makes a name from a file printable UTF-8: bytes that are no UTF-8
// are Latin-1, what cannot be printed is left out, blanks run together, and
// the rest is cut at nameLen characters.
func cleanName(b []byte) string {
	b = b[:min(len(b), 16*nameLen)]
	for cut := range min(4, len(b)) { // a character cut in two by the end
		if utf8.Valid(b[:len(b)-cut]) {
			b = b[:len(b)-cut]
			break
		}
	}
	var s string
	if utf8.Valid(b) {
		s = string(b)
	} else {
		r := make([]rune, len(b))
		for i, c := range b {
			r[i] = rune(c)
		}
		s = string(r)
	}
	var out strings.Builder
	blank, n := false, 0
	for _, r := range s {
		switch {
		case unicode.IsSpace(r):
			blank = n > 0
			continue
		case !unicode.IsPrint(r) || r == utf8.RuneError:
			continue
		}
		if blank && n < nameLen-1 {
			out.WriteByte(' ')
			n++
		}
		blank = false
		if n == nameLen {
			break
		}
		out.WriteRune(r)
		n++
	}
	return out.String()
}

// isText tells whether b looks like text in ASCII, Latin-1 or UTF-8: no NUL and
// hardly a control character.
func isText(b []byte) bool {
	odd := 0
	for _, c := range b {
		switch {
		case c == 0:
			return false
		case c < ' ' && c != '\t' && c != '\n' && c != '\r' && c != '\f' && c != '\v' && c != 0x1A, c == 0x7F:
			odd++
		}
	}
	return odd*100 <= len(b)
}

// utf16Order returns the byte order of UTF-16 text with its mark, nil for other bytes.
func utf16Order(b []byte) binary.ByteOrder {
	switch {
	case len(b) < 4:
		return nil
	case b[0] == 0xFE && b[1] == 0xFF:
		return binary.BigEndian
	case b[0] == 0xFF && b[1] == 0xFE && (b[2] != 0 || b[3] != 0):
		return binary.LittleEndian
	}
	return nil
}

func fromUTF16(b []byte, o binary.ByteOrder) []byte {
	out := make([]byte, 0, len(b)/2)
	for i := 2; i+1 < len(b); i += 2 {
		r := rune(o.Uint16(b[i:]))
		if utf16.IsSurrogate(r) && i+3 < len(b) {
			if full := utf16.DecodeRune(r, rune(o.Uint16(b[i+2:]))); full != utf8.RuneError {
				r, i = full, i+2
			}
		}
		out = utf8.AppendRune(out, r)
	}
	return out
}

// scanner walks over text word by word. Blanks are space, tab, line and page
// ends; a line ends with LF, CR or both.
type scanner struct {
	b  []byte
	at int
}

func blank(c byte) bool { return c == ' ' || c >= '\t' && c <= '\r' }

// word returns the next word, empty at the end.
func (s *scanner) word() []byte {
	b, i := s.b, s.at
	for i < len(b) && blank(b[i]) {
		i++
	}
	from := i
	for i < len(b) && !blank(b[i]) {
		i++
	}
	s.at = i
	return b[from:i]
}

// rest returns what is left of the line and stands at its end.
func (s *scanner) rest() []byte {
	from := s.at
	for s.at < len(s.b) && s.b[s.at] != '\n' && s.b[s.at] != '\r' {
		s.at++
	}
	return s.b[from:s.at]
}

// line returns the number of the line that holds byte at, from 1.
func line(b []byte, at int) int {
	n := 1
	for i, c := range b[:min(at, len(b))] {
		if c == '\n' || c == '\r' && (i+1 >= len(b) || b[i+1] != '\n') {
			n++
		}
	}
	return n
}

// is tells whether a word is the keyword k (lower case letters), in any case.
func is(w []byte, k string) bool {
	if len(w) != len(k) {
		return false
	}
	for i, c := range w {
		if c|0x20 != k[i] {
			return false
		}
	}
	return true
}

var powers = [...]float64{1, 1e1, 1e2, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9, 1e10, 1e11,
	1e12, 1e13, 1e14, 1e15, 1e16, 1e17, 1e18, 1e19, 1e20, 1e21, 1e22}

// number reads a decimal number, correctly rounded.
//
// A number of at most 19 digits whose whole digits are below 2^53 and whose
// power of ten is at most 22 is one exact division or product of two exact
// floats (Clinger 1990; MEMORY); strconv reads the others.
func number(w []byte) (float64, bool) {
	i, neg := 0, false
	if len(w) > 0 && (w[0] == '-' || w[0] == '+') {
		neg = w[0] == '-'
		i++
	}
	var digits uint64
	n, point, exp := 0, -1, 0
	for ; i < len(w); i++ {
		c := w[i]
		if d := c - '0'; d <= 9 {
			digits = digits*10 + uint64(d)
			n++
			continue
		}
		if c != '.' || point >= 0 {
			break
		}
		point = n
	}
	if n == 0 || n > 19 {
		return slowNumber(w)
	}
	if point >= 0 {
		exp = point - n
	}
	if i < len(w) {
		if w[i]|0x20 != 'e' {
			return slowNumber(w)
		}
		i++
		eneg := false
		if i < len(w) && (w[i] == '-' || w[i] == '+') {
			eneg = w[i] == '-'
			i++
		}
		if i == len(w) || len(w)-i > 4 {
			return slowNumber(w)
		}
		e := 0
		for ; i < len(w); i++ {
			d := w[i] - '0'
			if d > 9 {
				return slowNumber(w)
			}
			e = e*10 + int(d)
		}
		if eneg {
			e = -e
		}
		exp += e
	}
	if digits >= 1<<53 || exp < -22 || exp > 22 {
		if digits == 0 {
			return 0, true
		}
		return slowNumber(w)
	}
	x := float64(digits)
	if exp < 0 {
		x /= powers[-exp]
	} else {
		x *= powers[exp]
	}
	if neg {
		x = -x
	}
	return x, true
}

// slowNumber reads what number leaves over. Words like nan and inf are numbers
// here, for the caller to refuse with their place; too large is infinite.
func slowNumber(w []byte) (float64, bool) {
	if len(w) == 0 || len(w) > 400 || bytes.ContainsAny(w, "xX_pP") {
		return 0, false
	}
	s := string(w)
	x, err := strconv.ParseFloat(s, 64)
	if err == nil || math.IsInf(x, 0) {
		return x, true
	}
	// Some systems write not-a-number as nan(ind), -1.#IND, 1.#INF, 1.#QNAN.
	low := strings.ToLower(s)
	if strings.Contains(low, "nan") || strings.Contains(low, "#ind") || strings.Contains(low, "#inf") {
		return math.NaN(), true
	}
	return 0, false
}
