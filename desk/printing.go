package desk

import (
	"cmp"
	"context"
	"slices"
	"strings"
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
	ToWeigh  []RunView      // the newest of many
	ToShelve []Request      // all weighed, for the shelf of this branch or on their way to another
	Spools   []SpoolNow
	// WeighOver says that more may be there to weigh than are listed.
	WeighOver bool
	More      int // requests agreed or begun, of this branch or for its printers, that are not in these lists
}

// What the page of printing lists. More than a printer prints in weeks does not
// help whoever stands before it; what is needed soonest comes first all the same.
const (
	mostPrinting = 200 // requests begun, of a branch
	mostAgreed   = 300 // requests agreed to, of a branch, looked through for those needed soonest
	mostElse     = 3   // so many times fewer of all other branches together
	mostPlates   = 120 // plates of each list
	mostToWeigh  = 40  // runs
)

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
	Model     string // its name
	Material  string // names, comma between
	Branch    string // where it is collected
	Parts     []PartWay
	Keyed     []Keyed // its settings, to be keyed in
	Attempts  int     // used up
	Most      int     // attempts allowed; 0 is no limit
	LastTime  *Failure
	Condition string // what plates must agree in to share a platform, to compare
}

// RunView is a run with what it prints.
type RunView struct {
	Run       Run
	Printer   PrinterUnit
	Model     string // name of the printer model
	Branch    Branch
	Zone      string // IANA
	Now       time.Time
	Parts     []RunPartView
	Spools    []Spool           // as they are now, in the order of Run.Spools
	Materials []string          // ids, in the order of Run.Spools
	Names     map[string]string // of materials, by id
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
	Stand    PlateStand // where the plate stands now
	Latest   bool       // whether this run is its newest
	Keeps    string     // why its weight cannot be put right by who looks, once it was weighed
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
	Of     ID   // request it is about; empty is the whole run
}

// FailForm is what an operator says of a failed run.
type FailForm struct {
	Form  string
	Why   string
	Blame Blame
	Grams map[string]float64 // wasted, by material id
	Tell  bool               // write to the patron that it is tried again
}

// WeighForm is what the scale said.
type WeighForm struct {
	Form  string
	Grams []map[string]float64 // of each part of the run, by material id
	Sure  bool                 // weighed twice: far from what was expected, and right
	Why   string               // it is weighed anew
	anew  bool                 // a part may be left as it was
}

// PrintingPage gathers the printing page of a branch; the empty branch is
// where the actor is at home.
func (d *Desk) PrintingPage(ctx context.Context, by Actor, branch ID) (PrintingPage, error) {
	var p PrintingPage
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		p = PrintingPage{Now: d.now()}
		if p.Branch, p.Branches, err = pick(tx, by, branch, Operator); err != nil {
			return err
		}
		g, err := d.gather(tx)
		if err != nil {
			return err
		}
		p.Zone = g.settings.Library.TimeZone
		if err := p.printers(tx, g); err != nil {
			return err
		}
		if p.Spools, err = spoolsNow(tx, p.Branch.ID, g); err != nil {
			return err
		}
		return p.plates(tx, g)
	})
	if err != nil {
		return PrintingPage{}, err
	}
	return p, nil
}

// gathered is what several pages look things up in.
type gathered struct {
	settings Settings
	names    names
	branches map[ID]Branch
	printers map[ID]PrinterUnit
	rules    rulesKnown
	now      time.Time
}

// rulesKnown are rules by version, as far as they were asked for.
type rulesKnown map[int]Rules

// of are the rules r was agreed under; many requests share them.
func (known rulesKnown) of(tx Tx, r Request) (Rules, error) {
	version := 0
	if r.Agreement != nil {
		version = r.Agreement.Rules
	}
	if rules, ok := known[version]; ok {
		return rules, nil
	}
	rules, err := agreedRules(tx, r)
	if err == nil {
		known[version] = rules
	}
	return rules, err
}

// runsOf are the runs of many requests, fetched at once.
func runsOf(tx Tx, requests []Request) (map[ID][]Run, error) {
	of := map[ID][]Run{}
	for some := range slices.Chunk(requests, 200) {
		ids := make([]ID, len(some))
		for i, r := range some {
			ids[i] = r.ID
		}
		runs, err := tx.ListRuns(RunFilter{Requests: ids})
		if err != nil {
			return nil, err
		}
		for _, run := range runs {
			for _, id := range run.requests() {
				of[id] = append(of[id], run)
			}
		}
	}
	return of, nil
}

func (d *Desk) gather(tx Tx) (gathered, error) {
	g := gathered{branches: map[ID]Branch{}, printers: map[ID]PrinterUnit{}, rules: rulesKnown{}, now: d.now()}
	var err error
	if g.settings, err = settings(tx); err != nil {
		return g, err
	}
	g.names = namesOf(g.settings)
	branches, err := tx.Branches()
	if err != nil {
		return g, err
	}
	for _, b := range branches {
		g.branches[b.ID] = b
	}
	printers, err := tx.Printers(nil)
	for _, p := range printers {
		g.printers[p.ID] = p
	}
	return g, err
}

// printers gathers what is on each printer of the branch, and what came off
// and is to be weighed.
func (p *PrintingPage) printers(tx Tx, g gathered) error {
	units, err := tx.Printers([]ID{p.Branch.ID})
	if err != nil {
		return err
	}
	spools, err := tx.Spools([]ID{p.Branch.ID}, false)
	if err != nil {
		return err
	}
	var runs []Run
	for _, want := range []RunFilter{{States: []RunState{Going}}, {States: []RunState{Finished}, Most: mostToWeigh}} {
		want.Branches = []ID{p.Branch.ID}
		some, err := tx.ListRuns(want)
		if err != nil {
			return err
		}
		p.WeighOver = p.WeighOver || want.Most > 0 && len(some) == want.Most
		runs = append(runs, some...)
	}
	on := map[ID]*RunView{}
	for _, run := range runs {
		v, err := runView(tx, g, run)
		if err != nil {
			return err
		}
		if run.State == Finished {
			p.ToWeigh = append(p.ToWeigh, v)
		} else {
			on[run.Printer] = &v
		}
	}
	for _, u := range units {
		if u.Retired && on[u.ID] == nil {
			continue
		}
		n := PrinterNow{Printer: u, Model: g.names.model(u.Model), Run: on[u.ID]}
		for _, s := range spools {
			if s.Loaded == u.ID {
				n.Loaded = append(n.Loaded, s)
			}
		}
		p.Printers = append(p.Printers, n)
	}
	return nil
}

// plates gathers what waits to be printed, and what waits for the shelf.
func (p *PrintingPage) plates(tx Tx, g gathered) error {
	models := map[string]bool{}
	for _, n := range p.Printers {
		models[n.Printer.Model] = true
	}
	requests, more, err := toPrint(tx, p.Branch.ID, g)
	if err != nil {
		return err
	}
	p.More = more
	requests = slices.DeleteFunc(requests, func(r Request) bool {
		return r.Agreement == nil || r.Branch != p.Branch.ID && !models[r.Agreement.Way.Printer]
	})
	runs, err := runsOf(tx, requests)
	if err != nil {
		return err
	}
	for _, r := range requests {
		mine := r.Branch == p.Branch.ID
		rules, err := g.rules.of(tx, r)
		if err != nil {
			return err
		}
		stands := Stands(r, runs[r.ID], rules.Attempts)
		if mine && r.State == Printing && allDone(stands) {
			p.ToShelve = append(p.ToShelve, r)
		}
		for _, s := range stands {
			w := plateWaiting(r, s, rules, g)
			switch {
			case s.State == PlateStuck && mine:
				p.Stuck = append(p.Stuck, w)
			case s.State == PlateWaits && mine:
				p.Waiting = append(p.Waiting, w)
			case s.State == PlateWaits:
				p.Others = append(p.Others, w)
			}
		}
	}
	for _, list := range []*[]PlateWaiting{&p.Waiting, &p.Others, &p.Stuck} {
		slices.SortStableFunc(*list, sooner)
		if n := len(*list); n > mostPlates {
			left := map[ID]bool{}
			for _, w := range (*list)[mostPlates:] {
				left[w.Request.ID] = true
			}
			for _, w := range (*list)[:mostPlates] {
				delete(left, w.Request.ID)
			}
			p.More += len(left)
			*list = (*list)[:mostPlates]
		}
	}
	return nil
}

// toPrint lists what is agreed or begun, of a branch first and then of the
// others, each those that came first, and counts what is left out.
func toPrint(tx Tx, branch ID, g gathered) (all []Request, more int, err error) {
	var others []ID
	for id := range g.branches {
		if id != branch {
			others = append(others, id)
		}
	}
	slices.Sort(others)
	for i, at := range [][]ID{{branch}, others} {
		for _, want := range []RequestFilter{{States: []State{Printing}, Most: mostPrinting}, {States: []State{Agreed}, Most: mostAgreed}} {
			if len(at) == 0 {
				continue
			}
			want.Branches, want.Brief = at, true
			if i > 0 {
				want.Most /= mostElse
			}
			some, err := tx.ListRequests(want)
			if err != nil {
				return nil, 0, err
			}
			all = append(all, some...)
			if len(some) < want.Most {
				continue
			}
			n, err := tx.CountRequests(RequestFilter{States: want.States, Branches: at})
			if err != nil {
				return nil, 0, err
			}
			more += n[want.States[0]] - len(some)
		}
	}
	return all, more, nil
}

func plateWaiting(r Request, s PlateStand, rules Rules, g gathered) PlateWaiting {
	way := r.Agreement.Way
	plate := way.Plates[s.Plate]
	var settings []Keyed
	if parts := way.onPlate(plate); len(parts) > 0 {
		settings = keyed(parts[0].Settings, r.Plan.Way, g.names)
	}
	return PlateWaiting{Keyed: settings, Request: r, Plate: s.Plate, Of: len(way.Plates), Way: plate, Printer: way.Printer, Model: g.names.model(way.Printer),
		Material: g.names.materials(way.materials(plate)), Branch: g.branches[r.Branch].Name,
		Attempts: s.Attempts, Most: rules.Attempts, LastTime: s.Last, Condition: way.condition(plate), Parts: way.onPlate(plate)}
}

// sooner is the order plates are printed in: those needed on a date first, by
// that date, then by when they were agreed.
func sooner(a, b PlateWaiting) int {
	x, y := a.Request.Wish.Needed, b.Request.Wish.Needed
	switch {
	case x != y && x == "":
		return 1
	case x != y && y == "":
		return -1
	case x != y:
		return strings.Compare(x, y)
	}
	return cmp.Or(a.Request.Agreement.At.Compare(b.Request.Agreement.At), strings.Compare(string(a.Request.ID), string(b.Request.ID)), cmp.Compare(a.Plate, b.Plate))
}

// RunView gathers what there is to see of a run.
func (d *Desk) RunView(ctx context.Context, by Actor, run ID) (RunView, error) {
	var v RunView
	err := d.Store.Read(ctx, func(tx Tx) error {
		r, err := tx.Run(run)
		if err != nil {
			return err
		}
		if err := by.Require(r.Branch, Operator); err != nil {
			return err
		}
		g, err := d.gather(tx)
		if err != nil {
			return err
		}
		if v, err = runView(tx, g, r); err != nil || r.State != Weighed {
			return err
		}
		for i := range v.Parts {
			if v.Parts[i].Keeps, err = keeps(tx, by, v.Parts[i].RunPart); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return RunView{}, err
	}
	return v, nil
}

func runView(tx Tx, g gathered, run Run) (RunView, error) {
	v := RunView{Run: run, Printer: g.printers[run.Printer], Branch: g.branches[run.Branch], Zone: g.settings.Library.TimeZone, Now: g.now, Names: map[string]string{}}
	v.Model = g.names.model(v.Printer.Model)
	for _, m := range run.materials() {
		v.Materials = append(v.Materials, m)
		v.Names[m] = g.names.material(m)
	}
	for _, u := range run.Spools {
		s, err := tx.Spool(u.Spool)
		if err != nil {
			return v, err
		}
		v.Spools = append(v.Spools, s)
	}
	for _, p := range run.Parts {
		r, err := tx.Request(p.Request)
		if err != nil {
			return v, err
		}
		pv := RunPartView{RunPart: p, Code: r.Code, Branch: g.branches[r.Branch].Name, State: r.State, Version: r.Version}
		stands, rules, err := standsOf(tx, r)
		if err != nil {
			return v, err
		}
		pv.Most = rules.Attempts
		if p.Plate >= 0 && p.Plate < len(stands) {
			way := r.Agreement.Way
			pv.Of, pv.Way, pv.Attempts, pv.Stand = len(way.Plates), way.Plates[p.Plate], stands[p.Plate].Attempts, stands[p.Plate]
			pv.Latest = stands[p.Plate].Run == run.ID
		}
		v.Parts = append(v.Parts, pv)
	}
	return v, nil
}
