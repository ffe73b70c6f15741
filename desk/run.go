package desk

import "time"

// Run is one stint of one printer: a plate of parts, from start to finish.
type Run struct {
	ID      ID
	Version int64
	Form    string
	Branch  ID // where the printer stands
	Printer ID // the PrinterUnit
	State   RunState
	Parts   []RunPart
	Spools  []SpoolUse
	Started time.Time
	Expect  time.Time // when it should end
	Ended   time.Time
	By      string // who started it
	Last    string // form that last changed it, so that a retry changes nothing
	Failure *Failure
}

// RunState is where a run stands.
type RunState string

const (
	Going    RunState = "printing"
	Finished RunState = "finished" // came out well, not yet weighed
	Weighed  RunState = "weighed"
	Spoiled  RunState = "failed"
)

// RunPart is one plate of one request on a run. Most runs have one.
type RunPart struct {
	Request ID                 `json:"request"`
	Plate   int                `json:"plate"` // index into the agreed way's Plates
	Attempt int                `json:"attempt"`
	Expect  map[string]float64 `json:"expect_g"`            // by material id
	Weighed map[string]float64 `json:"weighed_g,omitempty"` // everything used: parts, supports, base, purge
	Bad     *Failure           `json:"bad,omitempty"`       // why this part must be printed again although the run came to its end
}

// SpoolUse is what a run takes from a spool.
type SpoolUse struct {
	Spool    ID      `json:"spool"`
	Material string  `json:"material"`
	Expect   float64 `json:"expect_g"`
	Taken    float64 `json:"taken_g"` // once known
}

// Blame says whose a failed run is, which may settle who pays for it.
type Blame string

const (
	MachineBlame Blame = "machine" // printer, material, power
	DesignBlame  Blame = "design"  // the model could not be printed as sent
	PeopleBlame  Blame = "people"  // set up wrongly
)

// Failure is why a run failed.
type Failure struct {
	Why   string  `json:"why"`
	Blame Blame   `json:"blame"`
	Grams float64 `json:"grams"` // wasted
	By    string  `json:"by"`
}

// Spool is one reel of filament.
type Spool struct {
	ID       ID
	Version  int64
	Name     string // on its label: "PLA-07"
	Branch   ID
	Material string  // id
	Colour   string  // a word patrons know: "red"
	Hex      string  // #RRGGBB, for pictures
	Grams    float64 // left
	Full     float64 // when new
	Loaded   ID      // PrinterUnit it is in; empty on the rack
	Retired  bool
	Form     string // form that last changed it, so that a retry changes nothing
}

// SpoolLine is one change of what is left on a spool.
type SpoolLine struct {
	ID    ID
	Spool ID
	At    time.Time
	Who   string
	Grams float64 // negative when used
	Why   string
	Run   ID
}

// Branch is a library building.
type Branch struct {
	ID      ID
	Version int64
	Name    string
	Place   string    // how to find it, for messages
	Hours   [7][]Span // by time.Weekday; none is closed
	Closed  []ClosedDay
	Shut    bool // takes no requests any more
}

// Span is from and to in minutes after midnight, branch-local.
type Span struct {
	From int `json:"from"`
	To   int `json:"to"`
}

// ClosedDay is a date the branch is closed.
type ClosedDay struct {
	Date string `json:"date"` // 2006-01-02
	Why  string `json:"why,omitempty"`
}

// PrinterUnit is one printer on a table in a branch.
type PrinterUnit struct {
	ID      ID
	Version int64
	Name    string // what staff call it
	Branch  ID
	Model   string // printer model id
	Out     string // why it is out of service; empty when it prints
	Retired bool
}
