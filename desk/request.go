package desk

import (
	"time"

	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/quote"
	"platebook/engine/say"
	"platebook/engine/tariff"
)

// Request is what a patron asked for. Version grows with every change; a
// change made on an older version is refused as Stale.
type Request struct {
	ID      ID
	Version int64
	Code    Code
	State   State
	Branch  ID     // where the patron wants to collect it; staff of it look after it
	Source  string // "page", "desk", "mail" or "demo"
	Form    string // the form or message that made it, so that a retry makes no second one
	Key     Hash   // of the secret in the patron's link
	KeySeed string // what, with the service's own secret, makes the link again
	Patron  Hash   // of the patron's mail address, for counting; no address can be made from it

	Contact   Contact
	Wish      Wish
	Plan      Plan
	Basis     Basis // what stands against Plan: found, being found, or why not
	Ways      []Way // found for Plan, not all need be offered
	Quote     *Quote
	Agreement *Agreement
	Checklist []Judgement
	Reason    string // why it was declined, withdrawn or lapsed, as the patron is told
	Shelf     *Shelved

	Asked     time.Time
	Changed   time.Time
	Due       time.Time // when the clock must look again; zero is never
	Reminded  time.Time
	Closed    time.Time // when it came to an end
	Forgotten time.Time
}

// Contact is how to reach the patron; all of it goes when the request is forgotten.
type Contact struct {
	Name     string `json:"name"`
	Surname  string `json:"surname"` // for the slip; staff may mend it
	Email    string `json:"email"`
	Phone    string `json:"phone,omitempty"`
	Card     string `json:"card,omitempty"` // library card
	Language string `json:"language"`       // BCP 47: "en", "fr"
	// UnderAge says the patron is under the age the library sets; then a
	// guardian stands for them.
	UnderAge bool   `json:"under_age,omitempty"`
	Guardian string `json:"guardian,omitempty"`
	// Undelivered says why a letter to Email came back; empty when none did, or
	// staff have seen to it.
	Undelivered string `json:"undelivered,omitempty"`
	// Passing says that the reason may pass, or that the report on it may be
	// anybody's: Email is written to all the same.
	Passing bool `json:"passing,omitempty"`
}

// Wish is what the patron said, in their words and in ours.
type Wish struct {
	SizeMM  float64 `json:"size_mm,omitempty"` // longest side; 0 as the file has it
	Largest bool    `json:"largest,omitempty"` // as big as it goes
	Colour  string  `json:"colour,omitempty"`
	Copies  int     `json:"copies"`
	Purpose string  `json:"purpose,omitempty"` // what it is for
	Needed  string  `json:"needed,omitempty"`  // date, 2006-01-02
	Note    string  `json:"note,omitempty"`
	Rights  bool    `json:"rights"` // declares to have the right to have it made
	// Suggest is what Note seems to ask for.
	Suggest []Suggestion `json:"suggest,omitempty"`
	Terms   int          `json:"terms"` // version of the agreement text seen when asking
}

// File is something a patron sent.
type File struct {
	ID      ID
	Request ID
	Name    string // as sent, cleaned for showing
	Hash    Hash
	Size    int64
	Sent    time.Time
	Check   CheckState
	Doing   string // what the check is at, while it is at it
	Result  *Checked
}

// CheckState is how far a file's check is.
type CheckState string

const (
	Waiting  CheckState = "waiting"
	Checking CheckState = "checking"
	Done     CheckState = "done"
	Failed   CheckState = "failed" // by a mistake of ours; the file is kept
	NoModel  CheckState = "other"  // not a model: kept beside, not checked
)

// Checked is what the check of a file found.
type Checked struct {
	Answer  quote.Answer `json:"answer"` // figures are left to the ways
	Program string       `json:"program"`
	Sheet   Hash         `json:"sheet,omitempty"` // PNG from six sides
	Still   Hash         `json:"still,omitempty"` // PNG from the usual view
	View    Hash         `json:"view,omitempty"`  // for the 3D view
	Shape   string       `json:"shape,omitempty"` // likeness.Print as text
	At      time.Time    `json:"at"`
}

// Plan is what ways are sought for: what staff settled from the wish.
type Plan struct {
	Parts     []PartPlan `json:"parts"`
	Printer   string     `json:"printer"`   // printer model, by id
	Materials []string   `json:"materials"` // by colour part, by id
	Support   string     `json:"support,omitempty"`
	Way       string     `json:"way"` // the library's way to start from, by id
	OneColour bool       `json:"one_colour,omitempty"`
}

// PartPlan is one part to print.
type PartPlan struct {
	File      ID       `json:"file"`
	Colours   []ID     `json:"colours,omitempty"`    // further files, as colour parts of the same print
	Unit      string   `json:"unit,omitempty"`       // overrides that of the file
	Scale     float64  `json:"scale,omitempty"`      // 0 means 1
	TargetMM  mesh.Vec `json:"target_mm"`            // 0 leaves an axis free
	LongestMM float64  `json:"longest_mm,omitempty"` // wanted length of the longest side, whichever it is
	Largest   bool     `json:"largest,omitempty"`
	AsSent    bool     `json:"as_sent,omitempty"` // keep the file's own pose
	Copies    int      `json:"copies"`
}

// Basis is how far the finding of ways is.
type Basis struct {
	State   CheckState         `json:"state,omitempty"`
	Doing   string             `json:"doing,omitempty"`
	Without []string           `json:"without,omitempty"`  // ways not found, and why
	Instead []string           `json:"instead,omitempty"`  // what would do, where nothing does
	Trouble string             `json:"trouble,omitempty"`  // why no way was found
	Finding []findings.Finding `json:"findings,omitempty"` // at the size planned
	Picture Hash               `json:"picture,omitempty"`  // PNG: the ways side by side, at one scale
	Tariff  int                `json:"tariff,omitempty"`   // versions the ways were priced by
	Rules   int                `json:"rules,omitempty"`
	Asked   int64              `json:"asked,omitempty"` // counts the times ways were asked for; an answer to an older asking is dropped
	At      time.Time          `json:"at"`
}

// Way is one complete way to print a request.
type Way struct {
	ID           string             `json:"id"`   // sensible, cheaper, finer, largest or soluble
	Says         string             `json:"says"` // what it is, in a sentence, in English
	Saying       say.Saying         `json:"saying,omitzero"`
	Printer      string             `json:"printer"`
	Material     []string           `json:"materials"` // ids
	Parts        []PartWay          `json:"parts"`
	Plates       []PlateWay         `json:"plates"` // the runs it takes
	Grams        map[string]float64 `json:"grams"`  // by material id, everything
	Seconds      float64            `json:"seconds"`
	Price        tariff.Price       `json:"price"`
	PriceSaid    []string           `json:"price_said,omitempty"`
	PriceSayings []say.Saying       `json:"price_sayings,omitempty"`
	Still        Hash               `json:"still,omitempty"` // PNG
}

// SaysIn is what the way is, said to the patron in the language of a tag.
func (w Way) SaysIn(tag string) string { return w.Saying.ToPatron(tag, w.Says) }

// PriceSaidIn is how the price was rounded, a line each, in the language of a tag.
func (w Way) PriceSaidIn(tag string) []string { return say.All(w.PriceSayings, tag, w.PriceSaid) }

// PartWay is how one part is printed in a way.
type PartWay struct {
	File     ID             `json:"file"`
	SizeMM   mesh.Vec       `json:"size_mm"`
	Scale    float64        `json:"scale"`
	Pose     string         `json:"pose,omitempty"`
	SpinDeg  float64        `json:"spin_deg,omitempty"`
	Copies   int            `json:"copies"`
	Settings quote.Settings `json:"settings"`
}

// PlateWay is one plate of a way.
type PlateWay struct {
	Seconds float64            `json:"seconds"`
	Grams   map[string]float64 `json:"grams"`
	Copies  map[ID]int         `json:"copies"` // by file
}

// Quote is what the patron was offered.
type Quote struct {
	Ways    []Way     `json:"ways"`
	Best    string    `json:"best"` // the way staff recommend, by id
	Sent    time.Time `json:"sent"`
	Until   time.Time `json:"until"`
	By      string    `json:"by"`
	Program string    `json:"program"`
	Tariff  int       `json:"tariff"` // versions of the settings in force
	Rules   int       `json:"rules"`
}

// Agreement is what the patron accepted.
type Agreement struct {
	Form     string    `json:"form,omitempty"` // that it was sent with, so that a retry changes nothing
	Way      Way       `json:"way"`
	At       time.Time `json:"at"`
	By       string    `json:"by"` // "patron", or the staff who noted it at the desk
	Guardian string    `json:"guardian,omitempty"`
	Terms    int       `json:"terms"`
	Tariff   int       `json:"tariff"`
	Rules    int       `json:"rules"`
}

// Judgement is one policy question answered by staff.
type Judgement struct {
	Question string    `json:"question"` // id, as in Rules.Questions
	Text     string    `json:"text"`     // as it stood when answered
	Fine     bool      `json:"fine"`
	Why      string    `json:"why,omitempty"`
	By       string    `json:"by"`
	At       time.Time `json:"at"`
}

// Shelved is a finished print waiting for its patron.
type Shelved struct {
	Since  time.Time   `json:"since"`
	Until  time.Time   `json:"until"`
	Branch ID          `json:"branch"`
	Place  string      `json:"place,omitempty"` // where on the shelf
	Called []time.Time `json:"called,omitempty"`
	Form   string      `json:"form,omitempty"` // form that last changed it, so that a retry changes nothing
}

// Event is one line of a request's history.
type Event struct {
	ID      ID
	Request ID
	Version int64 // of the request after it
	At      time.Time
	Kind    ActorKind
	Who     string
	What    string // one word for programs: "asked", "agreed", "weighed", …
	Say     string // a sentence for people
	Before  string // what changed, as JSON or plain text; may be empty
	After   string
}

// Message is one of the conversation.
type Message struct {
	ID      ID
	Request ID
	Form    string // so that a retry says it once
	From    ActorKind
	Who     string
	Subject string
	Text    string
	At      time.Time
	Seen    time.Time // when the other side first saw it
}

// Tally is what stays of a request for ever: counts, nothing of the person.
type Tally struct {
	ID       ID
	Month    string // 2006-01, when it closed
	Branch   ID
	State    State
	Material string // ids, comma between
	Copies   int
	Runs     int
	Failed   int // of those
	Grams    float64
	Seconds  float64
	Paid     string // decimal
	Currency string
}

// Shape is what is remembered of a declined model.
type Shape struct {
	ID     ID
	Shape  string // likeness.Print as text; no part can be made from it
	Code   Code
	Reason string
	At     time.Time
}
