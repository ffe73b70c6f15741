package mail

import (
	"bufio"
	"bytes"
	"io"
	"regexp"
	"slices"
)

// A line in the head of a letter that is no field ends the head for the library
// that reads it, and with it all that stands below: who wrote, and what is
// enclosed. Mail programs pass over such a line (one that a mailbox file left
// there, or a field broken over two lines without a space); so does tidyHead.
//
// Where the head just ends without its empty line, what follows is the text.
// The two are told apart by what stands below: a field that only heads have.

var (
	fieldLine = regexp.MustCompile(`^[!-9;-~]+[ \t]*:`) // RFC 5322 section 2.2, and 4.5 for the space
	headField = regexp.MustCompile(`(?i)^(from|to|cc|subject|date|message-id|mime-version|content-(type|transfer-encoding|disposition|language)|received|return-path|reply-to|sender|references|in-reply-to|auto-submitted|precedence|list-[a-z]+|dkim-signature|x-[a-z0-9-]+)[ \t]*:`)
)

// mostStrayLines is how many lines are passed over; where there are more, it is
// no head with a slip in it.
const mostStrayLines = 3

// tidyHead passes over stray lines in the head that r begins with. All else
// comes through as it is.
func tidyHead(r io.Reader) io.Reader {
	br := bufio.NewReaderSize(r, 1<<12)
	var head []byte
	var lines []int // where each begins
	for begun := 0; len(head) < mostHead; {
		piece, err := br.ReadSlice('\n')
		head = append(head, piece...)
		if err == bufio.ErrBufferFull {
			continue
		}
		line := head[begun:]
		lines = append(lines, begun)
		begun = len(head)
		if err != nil {
			rest := io.Reader(br)
			if err != io.EOF {
				rest = failed{err}
			}
			return io.MultiReader(bytes.NewReader(tidied(head, lines)), rest)
		}
		if len(bytes.TrimRight(line, "\r\n")) == 0 {
			return io.MultiReader(bytes.NewReader(tidied(head, lines)), br)
		}
	}
	return io.MultiReader(bytes.NewReader(head), br)
}

// tidied is a head, up to and with its empty line, without its stray lines.
func tidied(head []byte, lines []int) []byte {
	at := func(i int) []byte {
		end := len(head)
		if i+1 < len(lines) {
			end = lines[i+1]
		}
		return head[lines[i]:end]
	}
	last := -1 // the last line that only a head has
	for i := range lines {
		if headField.Match(at(i)) {
			last = i
		}
	}
	// The text begins without an empty line before it.
	text := func(at int) []byte { return slices.Concat(head[:at], []byte("\r\n"), head[at:]) }
	var out []byte
	stray, first, within := 0, 0, false // a stray line, which may go on
	for i := range lines {
		line := at(i)
		switch {
		case len(bytes.TrimRight(line, "\r\n")) == 0, fieldLine.Match(line):
			within = false
		case i > 0 && !within && (line[0] == ' ' || line[0] == '\t'):
		case i < last:
			if stray == 0 {
				first = lines[i]
			}
			if within = true; line[0] != ' ' && line[0] != '\t' {
				stray++
			}
			if stray > mostStrayLines {
				return text(first)
			}
			continue
		default:
			if stray == 0 {
				return text(lines[i])
			}
			return slices.Concat(out, []byte("\r\n"), head[lines[i]:])
		}
		out = append(out, line...)
	}
	return out
}

// failed is the rest of what could not be read on.
type failed struct{ err error }

func (f failed) Read([]byte) (int, error) { return 0, f.err }
