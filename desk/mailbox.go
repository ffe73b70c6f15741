package desk

import (
	"encoding/json"
	"strings"
	"time"

	"platebook/engine/say"
)

// Mail is a letter that came to the library's mailbox.
type Mail struct {
	ID      ID
	Hash    Hash   // of every byte of it
	MailID  string // Message-ID (RFC 5322); may be missing
	State   MailState
	Request ID // it belongs to
	Came    time.Time
	By      string // who placed it or put it aside; empty when it went by itself
	Empty   bool   // what it said is forgotten
	Body    MailBody
}

// MailState says what became of a letter.
type MailState string

const (
	MailWaits  MailState = "waiting"   // for a person to place it
	MailPlaced MailState = "placed"    // with a request
	MailAside  MailState = "put aside" // by staff: it asks for nothing
	MailAuto   MailState = "automatic" // written by a machine, and brings no model: never answered
	MailReport MailState = "report"    // on a letter of ours
)

// MailBody is what is in a letter.
type MailBody struct {
	From       string       `json:"from"`
	Name       string       `json:"name,omitempty"`
	Answer     string       `json:"answer"` // where answers go
	InReplyTo  []string     `json:"in_reply_to,omitempty"`
	References []string     `json:"references,omitempty"`
	Subject    string       `json:"subject"`
	Text       string       `json:"text"`
	Quoted     string       `json:"quoted,omitempty"` // of earlier letters
	Files      []MailFile   `json:"files,omitempty"`
	Links      []string     `json:"links,omitempty"`     // that may lead to a file
	Forwarded  string       `json:"forwarded,omitempty"` // who wrote the letter enclosed
	ForName    string       `json:"forwarded_name,omitempty"`
	Language   string       `json:"language,omitempty"` // it seems to be in
	Machine    string       `json:"machine,omitempty"`  // why nobody wrote it
	Returned   *Returned    `json:"returned,omitempty"`
	Suggest    []Suggestion `json:"suggest,omitempty"`
	Odd        []Oddity     `json:"odd,omitempty"`   // what could not be read as it should
	Guess      ID           `json:"guess,omitempty"` // request it may belong to, where that is not sure, or a machine wrote it
	Why        string       `json:"why,omitempty"`   // why it waits, or was put aside
	Sent       time.Time    `json:"sent"`
}

// Oddity is a sentence on what could not be read of a letter, in any language.
type Oddity struct{ say.Saying }

// UnmarshalJSON takes what was kept as an English sentence too.
func (o *Oddity) UnmarshalJSON(kept []byte) error {
	var text string
	if err := json.Unmarshal(kept, &text); err == nil {
		o.Saying = say.Text(text)
		return nil
	}
	return json.Unmarshal(kept, &o.Saying)
}

// toPatron are the sentences as the patron is told them.
func toPatron(odd []Oddity, language string) []string {
	var out []string
	for _, o := range odd {
		out = append(out, o.ToPatron(language, ""))
	}
	return out
}

// MailFile is a file that came in a letter; its bytes are on the Shelves.
type MailFile struct {
	Name string `json:"name"`
	Hash Hash   `json:"hash"`
	Size int64  `json:"size"`
	In   string `json:"in,omitempty"` // the archive it came in
}

// Returned says that a letter of ours could not be delivered (RFC 3464).
type Returned struct {
	For     string    `json:"for"`
	Of      string    `json:"of"`               // Message-ID; empty where the report does not enclose our letter
	Named   []string  `json:"named,omitempty"`  // every address the report says it failed for
	Arrived time.Time `json:"arrived,omitzero"` // our letter, where it then failed
	Status  string    `json:"status,omitempty"` // RFC 3463
	Says    string    `json:"says,omitempty"`
	Final   bool      `json:"final"`
}

// Passing says that the reason may pass by itself: a temporary status, or a
// mailbox that is full (RFC 3463 sections 3.1 and 3.3). Such an address is
// written to all the same.
func (b Returned) Passing() bool {
	class, detail, _ := strings.Cut(b.Status, ".")
	return class == "4" || detail == "2.2"
}

// Suggestion is one thing a patron's words seem to ask for. It changes
// nothing: staff see it beside the words it came from.
type Suggestion struct {
	Field string `json:"field"` // "size", "largest", "scale", "colour", "copies", "material", "supports", "needed", "branch", "infill"
	Value string `json:"value"`
	Axis  string `json:"axis,omitempty"` // "tall", "wide" or "deep", for a size
	Words string `json:"words"`          // as they stand in the text
	At    int    `json:"at"`             // where they begin, bytes
}

// Posted is a letter on its way out: the outbox.
type Posted struct {
	ID      ID
	Request ID // empty for one about no request
	Message ID // of the conversation
	MailID  string
	State   PostState
	Made    time.Time
	Next    time.Time // when it is to be tried; zero when it is not
	Sent    time.Time
	Tries   int
	Trouble string // what went wrong at the last try, for staff
	Body    PostBody
}

// PostState says how far a letter is.
type PostState string

const (
	PostWaits    PostState = "waiting"
	PostSent     PostState = "sent"
	PostGivenUp  PostState = "given up"
	PostReturned PostState = "returned" // it could not be delivered
	PostSettled  PostState = "settled"  // it did not arrive, and staff have seen to it
)

// PostBody is what a letter says.
type PostBody struct {
	To         string        `json:"to"`
	Name       string        `json:"name,omitempty"`
	InReplyTo  string        `json:"in_reply_to,omitempty"`
	References []string      `json:"references,omitempty"`
	Subject    string        `json:"subject"`
	Text       string        `json:"text"`
	Language   string        `json:"language,omitempty"`
	Pictures   []PostPicture `json:"pictures,omitempty"`
	Auto       bool          `json:"auto,omitempty"` // nobody in particular wrote it
}

// PostPicture is a picture that goes with a letter.
type PostPicture struct {
	Hash Hash   `json:"hash"`
	Name string `json:"name"`
	Says string `json:"says"`
}

// MailSettings are how the library's mailbox is reached and what goes by
// itself. The zero MailSettings are a desk without mail.
type MailSettings struct {
	On       bool       `json:"on"`
	In       MailServer `json:"in"`      // IMAP
	Mailbox  string     `json:"mailbox"` // empty is INBOX
	Filed    string     `json:"filed"`   // folder letters are moved to once taken; empty leaves them
	Out      MailServer `json:"out"`     // SMTP
	From     string     `json:"from"`    // address letters are from
	FromName string     `json:"from_name"`
	Branch   ID         `json:"branch"` // looks after mailed requests that name no other
	// Verdict says that what the check found goes to the patron by itself.
	Verdict bool   `json:"verdict"`
	Roots   string `json:"roots,omitempty"` // PEM: certificates trusted beside the system's
}

// MailServer is one server.
type MailServer struct {
	Address  string `json:"address"` // host:port
	StartTLS bool   `json:"start_tls"`
	User     string `json:"user"`
	// Sealed is the password as Desk.Seal makes it: rows alone log in nowhere.
	Sealed string `json:"sealed,omitempty"`
}
