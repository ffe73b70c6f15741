package desk

import (
	"context"
	"time"
)

// PrintingPage is what an operator of a branch prints from.
type PrintingPage struct {
	Branch   Branch
	Branches []Branch // where the actor may print
	Zone     string   // IANA
	Now      time.Time
	Printers []PrinterNow
	Waiting  []PlateWaiting // of the branch's own requests: by needed date, then by when they were agreed
	Others   []PlateWaiting // of other branches, for a printer model this branch has
	Stuck    []PlateWaiting // attempts used up: someone must decide
	ToWeigh  []RunView
	ToShelve []Request // all weighed, for the shelf of this branch or on their way to another
	Spools   []SpoolNow
}

// PrinterNow is a printer and what is on it.
type PrinterNow struct {
	Printer PrinterUnit
	Model   string   // its name
	Run     *RunView // nil when it is free
	Loaded  []Spool
}

// PlateWaiting is one plate of an agreed request that must be printed.
type PlateWaiting struct {
	Request   Request
	Plate     int // from 0
	Of        int // plates of the request
	Way       PlateWay
	Printer   string // printer model, by id
	Material  string // names, comma between
	Attempts  int    // used up
	Most      int    // attempts allowed; 0 is no limit
	LastTime  *Failure
	Condition string // what plates must agree in to share a platform, to compare
}

// RunView is a run with what it prints.
type RunView struct {
	Run     Run
	Printer PrinterUnit
	Model   string // name of the printer model
	Branch  Branch
	Zone    string // IANA
	Now     time.Time
	Parts   []RunPartView
	Spools  []Spool           // as they are now, in the order of Run.Spools
	Names   map[string]string // of materials, by id
}

// RunPartView is a part of a run with its request.
type RunPartView struct {
	RunPart
	Code     Code
	Branch   string // where it goes
	Of       int
	Way      PlateWay
	Attempts int // used up, this run not counted unless it failed
	Most     int
	State    State
	Version  int64
}

// StartForm is what an operator says to start a run.
type StartForm struct {
	Form    string
	Printer ID
	Parts   []PlateRef
	Spools  []ID
	Anyway  string // reason to start in spite of a warning that needs one
}

// PlateRef names a plate of a request.
type PlateRef struct {
	Request ID
	Plate   int
}

// Warning is something to know before a run starts.
type Warning struct {
	Kind   string // one word for programs
	Say    string
	Reason bool // starting in spite of it needs a reason
}

// FailForm is what an operator says of a failed run.
type FailForm struct {
	Form  string
	Why   string
	Blame Blame
	Grams map[string]float64 // wasted, by material id
}

// WeighForm is what the scale said.
type WeighForm struct {
	Form  string
	Grams []map[string]float64 // of each part of the run, by material id
	Sure  bool                 // weighed twice: far from what was expected, and right
}

// PrintingPage gathers the printing page of a branch; the empty branch is the
// first the actor may print at.
func (d *Desk) PrintingPage(ctx context.Context, by Actor, branch ID) (PrintingPage, error) {
	return PrintingPage{}, Faultf(Broken, "This is not made yet.")
}

// TryRun says what StartRun would warn of, and why it would refuse.
func (d *Desk) TryRun(ctx context.Context, by Actor, f StartForm) (Run, []Warning, error) {
	return Run{}, nil, Faultf(Broken, "This is not made yet.")
}

// StartRun puts plates on a printer. The warnings are those that did not keep it.
func (d *Desk) StartRun(ctx context.Context, by Actor, f StartForm) (Run, []Warning, error) {
	return Run{}, nil, Faultf(Broken, "This is not made yet.")
}

// RunView gathers what there is to see of a run.
func (d *Desk) RunView(ctx context.Context, by Actor, run ID) (RunView, error) {
	return RunView{}, Faultf(Broken, "This is not made yet.")
}

// FinishRun notes that a run came out well.
func (d *Desk) FinishRun(ctx context.Context, by Actor, run ID, version int64, form string) (Run, error) {
	return Run{}, Faultf(Broken, "This is not made yet.")
}

// FailRun notes that a run failed.
func (d *Desk) FailRun(ctx context.Context, by Actor, run ID, version int64, f FailForm) (Run, error) {
	return Run{}, Faultf(Broken, "This is not made yet.")
}

// WeighRun notes what the scale said.
func (d *Desk) WeighRun(ctx context.Context, by Actor, run ID, version int64, f WeighForm) (Run, error) {
	return Run{}, Faultf(Broken, "This is not made yet.")
}

// Reprint says that a plate that came to its end is no good after all.
func (d *Desk) Reprint(ctx context.Context, by Actor, id ID, version int64, plate int, f FailForm) (Request, error) {
	return Request{}, Faultf(Broken, "This is not made yet.")
}
