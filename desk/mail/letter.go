package mail

import (
	"io"
	"time"

	"platebook/desk"
	"platebook/engine/say"
)

// Letter is one message as read. Addresses and identifiers are without angle
// brackets; text is UTF-8 without control characters but line ends.
type Letter struct {
	ID         string   // Message-ID; may be missing, and may be repeated by another letter
	InReplyTo  []string // identifiers, RFC 5322 section 3.6.4
	References []string // oldest first
	From       Address  // of the first author; empty when none could be read
	ReplyTo    Address  // where answers should go; From unless the letter says otherwise
	To         []Address
	Subject    string
	Sent       time.Time // as the letter says; zero when it does not
	// Text is what was written, without what it quotes of earlier letters.
	Text   string
	Quoted string // the rest, as it stood
	Files  []Enclosure
	Links  []string // web addresses in Text that may lead to a file
	// Forwarded is who wrote the first letter enclosed in this one, if any.
	Forwarded *Address
	// Machine says why this was written by no person and must not be answered
	// (RFC 3834); empty for letters of people.
	Machine string
	Bounce  *Bounce      // a report that a letter of ours was not delivered
	Odd     []say.Saying // what could not be read as it should, a sentence each
}

// Address is one mailbox of a header field.
type Address struct{ Name, Mail string }

// Enclosure is a file enclosed in a letter, on the shelves already.
type Enclosure struct {
	Name string // as given, without folders and control characters
	Type string // media type as given
	Hash desk.Hash
	Size int64
	In   string // the archive or wrapper it came in; empty if none
}

// Bounce is what a delivery status notification says (RFC 3464).
type Bounce struct {
	For     string    // the address it could not be delivered to
	Of      string    // Message-ID of our letter, if it is told
	Named   []string  // every mail address it failed for good, as written to and as it was in the end
	Arrived time.Time // our letter, at the server that reports; zero if it is not told
	Status  string    // RFC 3463, such as 5.1.1
	Says    string    // the other side's words
	// Final says that it will not be tried again.
	Final bool
}

// Keep takes the bytes of an enclosure to the shelves. An error that is a
// TooMany Fault leaves that file out and is said; any other ends the reading.
type Keep func(name string, r io.Reader) (desk.Hash, int64, error)

// Limits bound what one letter may hold.
type Limits struct {
	Text     int64 // bytes of text parts together, after decoding
	Files    int   // enclosures, those in archives included
	Parts    int   // MIME parts
	Depth    int   // letters or archives within one another
	Unpacked int64 // bytes of all files unpacked from archives and wrappers
}

// UsualLimits are wide enough for any letter a person writes.
func UsualLimits() Limits {
	return Limits{Text: 1 << 20, Files: 40, Parts: 200, Depth: 4, Unpacked: 1 << 30}
}
