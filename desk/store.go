package desk

import (
	"context"
	"io"
	"time"
)

// Store keeps everything but files' bytes.
type Store interface {
	// Read runs do on one consistent view of the rows. Nothing may be written.
	Read(ctx context.Context, do func(Tx) error) error
	// Write runs do in one transaction: all of it is kept, durably, or none.
	// Where two databases disagree on who was first, do runs again, so it must
	// change nothing outside. An error of do undoes all and comes back as it is;
	// a disk or database that cannot take it comes back as a NoRoom Fault.
	Write(ctx context.Context, do func(Tx) error) error
}

// Tx is what can be asked of a store within a transaction. What is not there
// is a NotFound Fault. Saving something with a Version inserts it at version
// 1 when it has 0, and otherwise replaces the row of that version and counts
// it up, in the value given too; if the row has another version by now the
// Fault is Stale.
type Tx interface {
	Requests
	Files
	Conversation
	Accounts
	Prints
	Places
	People
	Documents
	Memory
	Mailbox
	// Enqueue puts background work beside what causes it.
	Enqueue(job Job) error
}

// Requests keeps requests.
type Requests interface {
	// SaveRequest refuses a second Form as NotNow, and a Code that another has
	// as TooMany with a Field "code": draw another then; the transaction goes on.
	SaveRequest(r *Request) error
	Request(id ID) (Request, error)
	RequestByCode(c Code) (Request, error) // of those not forgotten
	RequestByKey(h Hash) (Request, error)
	RequestByForm(form string) (Request, error)
	// ListRequests returns at most f.Most, oldest first unless f.Newest or f.Soonest.
	ListRequests(f RequestFilter) ([]Request, error)
	CountRequests(f RequestFilter) (map[State]int, error)
}

// RequestFilter says which requests; zero fields do not filter.
type RequestFilter struct {
	IDs         []ID // of these
	States      []State
	Branches    []ID
	Patron      Hash
	AskedSince  time.Time
	DueBy       time.Time // Due is set and not after
	ClosedBy    time.Time // closed, not after
	Unforgotten bool
	Text        string // part of code, patron's name, mail address or a file's name; letter case does not matter
	After       ID     // begin after this one, in the order asked for
	Newest      bool
	Soonest     bool // by Due, those without last, then oldest first; not with After
	// Brief leaves Ways and Quote unread: they are long, and lists show neither.
	Brief bool
	Most  int
}

// Files keeps what is known of files; their bytes are in a Shelf of files.
type Files interface {
	SaveFile(f *File) error // insert or replace by ID
	File(id ID) (File, error)
	FilesOf(request ID) ([]File, error) // as sent
	// FilesOfAll is FilesOf for several requests at once, without Result.
	FilesOfAll(requests []ID) ([]File, error)
	DeleteFiles(request ID) error
	// HashUsed says whether anything refers to the bytes.
	HashUsed(h Hash) (bool, error)
	// Refer notes that request uses the bytes, Unrefer ends it: pictures and
	// views, which no column of their own names.
	Refer(request ID, h ...Hash) error
	Unrefer(request ID) error
}

// Conversation keeps messages and history.
type Conversation interface {
	SaveMessage(m *Message) error // insert or replace by ID; a second Form of a request is NotNow
	Messages(request ID) ([]Message, error)
	MessageByForm(request ID, form string) (Message, error)
	DeleteMessages(request ID) error
	// LastMessages returns the newest message of each request that has one.
	LastMessages(requests []ID) (map[ID]Message, error)
	// Unanswered lists requests with a message of the patron's that is not seen;
	// who waits longest comes first. What the clock wrote since does not answer it.
	Unanswered(branches []ID) ([]ID, error)

	AddEvent(e *Event) error
	Events(request ID, afterVersion int64) ([]Event, error)
	// ScrubEvents empties Say, Before and After of every line of a request, and
	// Who of the patron's, leaving when and what.
	ScrubEvents(request ID) error
}

// Accounts keeps money.
type Accounts interface {
	AddCharge(c *Charge) error // a second Form of a request is NotNow
	Charges(request ID) ([]Charge, error)
	// ScrubCharges empties Reason and Form of a forgotten request's lines.
	ScrubCharges(request ID) error
}

// Prints keeps runs and spools.
type Prints interface {
	SaveRun(r *Run) error
	Run(id ID) (Run, error)
	RunByForm(form string) (Run, error)
	RunsOf(request ID) ([]Run, error)
	ListRuns(f RunFilter) ([]Run, error) // newest first

	SaveSpool(s *Spool) error
	Spool(id ID) (Spool, error)
	Spools(branches []ID, retired bool) ([]Spool, error)
	AddSpoolLine(l *SpoolLine) error
	SpoolLines(spool ID, most int) ([]SpoolLine, error) // newest first
}

// RunFilter says which runs; zero fields do not filter.
type RunFilter struct {
	Requests []ID // with a part of one of these
	States   []RunState
	Branches []ID
	Printer  ID
	Since    time.Time // started
	Most     int
}

// Places keeps branches and printers.
type Places interface {
	SaveBranch(b *Branch) error
	Branch(id ID) (Branch, error)
	Branches() ([]Branch, error) // by name
	SavePrinter(p *PrinterUnit) error
	Printer(id ID) (PrinterUnit, error)
	Printers(branches []ID) ([]PrinterUnit, error) // by name; nil is all
}

// People keeps accounts and the audit of log-ins.
type People interface {
	SaveStaff(s *Staff) error // a name another has is Wrong, with a Field "name"
	Staff(id ID) (Staff, error)
	StaffByName(name string) (Staff, error) // letter case does not matter
	AllStaff() ([]Staff, error)
	AddLogIn(l LogIn) error
	LogIns(since time.Time, name, from string, most int) ([]LogIn, error) // newest first; empty name or from is any
	DropLogIns(before time.Time) error                                    // the audit is not kept for ever
}

// Documents keeps settings.
type Documents interface {
	SaveSetting(s *Setting) error                        // its Version must be the newest plus one, else Stale
	Setting(k SettingKind, version int) (Setting, error) // version 0 is the newest
	SettingVersions(k SettingKind) ([]Setting, error)    // newest first
}

// Memory keeps what stays when a request is forgotten.
type Memory interface {
	AddTally(t *Tally) error // once for each ID
	Tallies(fromMonth, toMonth string) ([]Tally, error)
	AddShape(s *Shape) error
	Shapes() ([]Shape, error)
}

// Mailbox keeps letters that came and letters that go.
type Mailbox interface {
	// PlaceMail notes where a letter lies; a place already noted stays.
	PlaceMail(at MailPlace, letter Hash) error
	// FreshMail returns those of the UIDs that are not noted.
	FreshMail(mailbox string, validity uint32, uids []uint32) ([]uint32, error)
	SaveMail(l *Mail) error // insert or replace by ID
	Mail(id ID) (Mail, error)
	MailByHash(h Hash) (Mail, error)
	MailByID(mailID string) ([]Mail, error)                // of a Message-ID, oldest first; of the empty one none
	ListMail(states []MailState, most int) ([]Mail, error) // oldest first
	// PageMail lists letters that are not emptied, newest first, from the one
	// after a letter on; the empty ID begins with the newest.
	PageMail(states []MailState, after ID, most int) ([]Mail, error)
	MailOf(request ID) ([]Mail, error) // oldest first
	// HoldMail makes exactly these bytes used by the letter.
	HoldMail(letter ID, h ...Hash) error
	// ForgetOldMail empties letters that came before a time, belong to no
	// request and wait for nobody, and drops letters out about no request that
	// were made before it and are on their way no more.
	ForgetOldMail(before time.Time) error

	SavePosted(p *Posted) error // insert or replace by ID
	Posted(id ID) (Posted, error)
	PostedByMailID(id string) (Posted, error)
	DuePosted(now time.Time, most int) ([]Posted, error)       // oldest first
	ListPosted(states []PostState, most int) ([]Posted, error) // newest first
	PostedOf(request ID) ([]Posted, error)                     // oldest first
	// PostedTo lists letters to an address, whatever its letter case, that were
	// made since a time, newest first.
	PostedTo(address string, since time.Time) ([]Posted, error)

	// RequestOfLetter finds the request a Message-ID, of either direction, belongs to.
	RequestOfLetter(mailID string) (ID, error)
	// Thread lists the Message-IDs of a request's letters, oldest first, the
	// patron's last letter at the end.
	Thread(request ID) ([]string, error)
	// ForgetMail empties the letters of a request, of both directions; that
	// they were there stays, so that none is taken a second time.
	ForgetMail(request ID) error
}

// Job is background work.
type Job struct {
	Kind JobKind
	ID   ID        // of the file or the request
	At   time.Time // not before; zero is at once
	// Round tells one asking for the same work from the next: of ways it is
	// Basis.Asked. What is waiting or being done for one round is not put in
	// a second time.
	Round int64
}

// JobKind says what is to be done.
type JobKind string

const (
	CheckFile JobKind = "check-file"
	FindWays  JobKind = "find-ways"
	LookRound JobKind = "look-round" // remind, lapse, forget, sweep
)

// Shelves keeps files' bytes by their hash.
type Shelves interface {
	// Put stores what r gives, up to most bytes (else a TooMany Fault), and
	// returns its hash and size. It holds no more than a little in memory.
	Put(ctx context.Context, r io.Reader, most int64) (Hash, int64, error)
	// Open gives the bytes back for reading anywhere in them.
	Open(ctx context.Context, h Hash) (Blob, error)
	// Delete takes bytes away; none there is no error. Those put within the
	// last hour, those a row refers to, and any while a backup runs, stay:
	// NotNow, and a later sweep takes them.
	Delete(ctx context.Context, h Hash) error
	// LetGo undoes one Put of bytes that came to nothing: they go at once if
	// they were not there before it, nobody put the same ones since, no row
	// refers to them and no backup runs. Else they stay, which is no error, and
	// a sweep takes them in its time.
	LetGo(ctx context.Context, h Hash) error
	// Old lists hashes put before a time, for the sweep of what nothing uses.
	Old(ctx context.Context, before time.Time, each func(Hash) error) error
}

// Blob is open bytes.
type Blob interface {
	io.ReaderAt
	io.ReadSeekCloser
	Size() int64
}
