package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Kinds of warnings before a run starts.
const (
	WarnRunsOut   = "runs out" // the spools hold less than the run needs
	WarnReserve   = "reserve"  // what would be left is under the library's reserve
	WarnChange    = "change"   // a spool ends on the way, and the next goes on
	WarnClosing   = "closing"  // ends after the branch closes
	WarnLongest   = "longest"  // longer than the library's longest print
	WarnColour    = "colour"   // not what the patron wished
	WarnElsewhere = "branch"   // must travel to another branch
	WarnTogether  = "together" // several plates on one platform
	WarnAttempts  = "attempts" // all attempts are used up
	WarnTaken     = "taken"    // the spool is in another printer
)

// mostParts and mostSpools bound what one run can hold.
const (
	mostParts  = 40
	mostSpools = 8
)

// TryRun says what StartRun would warn of, or why it would refuse.
func (d *Desk) TryRun(ctx context.Context, by Actor, f StartForm) (Run, []Warning, error) {
	var b *starting
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		b, err = d.begin(tx, by, f)
		return err
	})
	if err != nil {
		return Run{}, nil, err
	}
	return b.run, b.warnings, nil
}

// StartRun puts plates on a printer: the run is written down, its spools are
// put in, its requests are printing. A warning that needs a reason and was
// given none is a Wrong fault on "anyway"; the other warnings come back with
// the run.
func (d *Desk) StartRun(ctx context.Context, by Actor, f StartForm) (Run, []Warning, error) {
	var b *starting
	err := d.Store.Write(ctx, func(tx Tx) error {
		if f.Form != "" {
			run, err := tx.RunByForm(f.Form)
			if KindOf(err) != NotFound {
				b = &starting{run: run}
				return err
			}
		}
		var err error
		if b, err = d.begin(tx, by, f); err != nil {
			return err
		}
		var need []string
		for _, w := range b.warnings {
			if w.Reason {
				need = append(need, w.Say)
			}
		}
		if len(need) > 0 && strings.TrimSpace(f.Anyway) == "" {
			say := strings.Join(need, " ")
			return &Fault{Kind: Wrong, Say: say + " Change what can be changed, or say why it is to start all the same.",
				Fields: map[string]string{"anyway": "Say why it is to start all the same: " + say}}
		}
		return d.start(tx, by, b, f)
	})
	if err != nil {
		return Run{}, nil, err
	}
	return b.run, b.warnings, nil
}

// starting is a run about to start.
type starting struct {
	run      Run
	printer  PrinterUnit
	branch   Branch
	requests []Request // each once
	spools   []Spool   // in the order of run.Spools
	warnings []Warning
	manager  bool
	seconds  float64
	names    names
	settings Settings
}

// begin checks everything about a run before it starts.
func (d *Desk) begin(tx Tx, by Actor, f StartForm) (*starting, error) {
	if f.Printer == "" {
		return nil, wrongField("printer", "Choose a printer that is free.")
	}
	p, err := tx.Printer(f.Printer)
	if err != nil {
		return nil, err
	}
	if err := by.Require(p.Branch, Operator); err != nil {
		return nil, err
	}
	b := &starting{printer: p, manager: by.May(p.Branch, Manager)}
	if b.settings, err = settings(tx); err != nil {
		return nil, err
	}
	b.names = namesOf(b.settings)
	if b.branch, err = tx.Branch(p.Branch); err != nil {
		return nil, err
	}
	if p.Retired || p.Out != "" {
		return nil, &Fault{Kind: NotNow, Say: fmt.Sprintf("%s is out of service%s. Choose another printer.", p.Name, because(p.Out)), Fields: map[string]string{"printer": "Out of service."}}
	}
	busy, err := tx.ListRuns(RunFilter{States: []RunState{Going}, Printer: p.ID})
	if err != nil {
		return nil, err
	}
	if len(busy) > 0 {
		return nil, &Fault{Kind: Stale, Say: fmt.Sprintf("%s started something on %s at %s. Finish that run first, or choose another printer; nothing you chose is lost.",
			busy[0].By, p.Name, busy[0].Started.In(b.settings.Library.Zone()).Format("15:04"))}
	}
	b.run = Run{ID: NewID(), Form: f.Form, Branch: p.Branch, Printer: p.ID, State: Going, Started: d.now(), By: by.Name}
	if utf8.RuneCountInString(f.Anyway) > mostReason {
		return nil, &Fault{Kind: Wrong, Say: "The reason is too long.", Fields: map[string]string{"anyway": fmt.Sprintf("Say it in at most %d letters.", mostReason)}}
	}
	for _, step := range []func(Tx, StartForm) error{b.parts, b.reels, b.time} {
		if err := step(tx, f); err != nil {
			return nil, err
		}
	}
	return b, nil
}

func because(why string) string {
	if why = strings.TrimSpace(why); why == "" {
		return ""
	}
	return " (" + why + ")"
}

func (b *starting) warn(kind string, reason bool, format string, a ...any) {
	b.warnings = append(b.warnings, Warning{Kind: kind, Say: fmt.Sprintf(format, a...), Reason: reason})
}

// warnOf is warn of one request: what it says is none of another patron's.
func (b *starting) warnOf(r Request, kind string, reason bool, format string, a ...any) {
	b.warn(kind, reason, format, a...)
	b.warnings[len(b.warnings)-1].Of = r.ID
}

// parts puts the plates on the run.
func (b *starting) parts(tx Tx, f StartForm) error {
	wrong := func(say string) error {
		return &Fault{Kind: Wrong, Say: say, Fields: map[string]string{"plate": say}}
	}
	if len(f.Parts) == 0 {
		return wrong("Choose at least one plate to print.")
	}
	if len(f.Parts) > mostParts {
		return wrong(fmt.Sprintf("At most %d plates fit on one run.", mostParts))
	}
	condition := ""
	seen := map[PlateRef]bool{}
	for _, ref := range f.Parts {
		if seen[ref] {
			return wrong("The same plate is chosen twice.")
		}
		seen[ref] = true
		r, err := tx.Request(ref.Request)
		if err != nil {
			return err
		}
		if r.Agreement == nil || (r.State != Agreed && r.State != Printing) {
			return Faultf(NotNow, "%s is %s, so it cannot be printed now. Reload the page to see what can.", r.Code, r.State)
		}
		stands, rules, err := standsOf(tx, r)
		if err != nil {
			return err
		}
		if ref.Plate < 0 || ref.Plate >= len(stands) {
			return wrong(fmt.Sprintf("%s has no plate %d.", r.Code, ref.Plate+1))
		}
		way, s := r.Agreement.Way, stands[ref.Plate]
		// Where a plate stands follows from the order of its runs. A clock that
		// was set back must not turn that round.
		b.run.Started = after(b.run.Started, r.Agreement.At)
		if s.Run != "" {
			b.run.Started = after(b.run.Started, s.Began.Add(time.Microsecond))
		}
		switch s.State {
		case PlateGoing, PlateFinished, PlateDone:
			since, err := tx.Events(r.ID, max(0, r.Version-1))
			if err != nil {
				return err
			}
			return &Fault{Kind: Stale, Since: since, Say: fmt.Sprintf("Plate %d of %s is %s already. Take it off this run; nothing else you chose is lost.", ref.Plate+1, r.Code, s.State)}
		case PlateStuck:
			if !b.manager {
				return Faultf(NotYours, "All attempts at plate %d of %s are used up. A manager of the branch decides whether it is tried once more, or whether the request is declined.", ref.Plate+1, r.Code)
			}
			b.warnOf(r, WarnAttempts, true, "Plate %d of %s has failed %s; the rules it was agreed under allow %d.", ref.Plate+1, r.Code, times(s.Attempts), rules.Attempts)
		}
		if way.Printer != b.printer.Model {
			return wrong(fmt.Sprintf("%s was quoted for a %s, and %s is a %s. Choose a printer of that model.",
				r.Code, b.names.model(way.Printer), b.printer.Name, b.names.model(b.printer.Model)))
		}
		plate := way.Plates[ref.Plate]
		if c := way.condition(plate); condition == "" {
			condition = c
		} else if c != condition {
			return wrong("These plates cannot share a platform: they differ in material, or in how it is laid. Print them one after another.")
		}
		b.seconds += plate.Seconds
		expect := map[string]float64{}
		for _, id := range way.materials(plate) {
			expect[id] = plate.Grams[id]
		}
		b.run.Parts = append(b.run.Parts, RunPart{Request: r.ID, Plate: ref.Plate, Attempt: s.Attempts + 1, Expect: expect})
		if !slices.ContainsFunc(b.requests, func(x Request) bool { return x.ID == r.ID }) {
			b.requests = append(b.requests, r)
			if r.Branch != b.branch.ID {
				to, err := tx.Branch(r.Branch)
				if err != nil {
					return err
				}
				b.warnOf(r, WarnElsewhere, false, "%s is collected at %s: it must travel there.", r.Code, to.Name)
			}
		}
	}
	if len(f.Parts) > 1 {
		b.warn(WarnTogether, false, "Whether %d plates fit on one platform together is for you to see; the time is that of each, added up.", len(f.Parts))
	}
	return nil
}

func times(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// reels puts the spools on the run.
func (b *starting) reels(tx Tx, f StartForm) error {
	wrong := func(format string, a ...any) error {
		say := fmt.Sprintf(format, a...)
		return &Fault{Kind: Wrong, Say: say, Fields: map[string]string{"spool": say}}
	}
	if len(f.Spools) > mostSpools {
		return wrong("At most %d spools can be named for one run.", mostSpools)
	}
	need := map[string]float64{}
	for _, p := range b.run.Parts {
		for id, g := range p.Expect {
			need[id] += g
		}
	}
	first, err := tx.Request(b.run.Parts[0].Request)
	if err != nil {
		return err
	}
	order := first.Agreement.Way.materials(first.Agreement.Way.Plates[b.run.Parts[0].Plate])
	taken, err := promised(tx, []ID{b.branch.ID})
	if err != nil {
		return err
	}
	of := map[string][]int{} // by material, indices into b.spools
	for i, id := range f.Spools {
		if slices.Contains(f.Spools[:i], id) {
			return wrong("The same spool is chosen twice.")
		}
		s, err := tx.Spool(id)
		if err != nil {
			return err
		}
		switch {
		case s.Branch != b.branch.ID:
			return wrong("%s is at another branch. Choose a spool that is here, or move it first.", s.Name)
		case s.Retired:
			return wrong("%s is retired. Choose another spool.", s.Name)
		case !slices.Contains(order, s.Material):
			return wrong("%s is %s, which this run does not take: it takes %s.", s.Name, b.names.material(s.Material), b.names.materials(order))
		}
		if s.Loaded != "" && s.Loaded != b.printer.ID {
			other, err := tx.Printer(s.Loaded)
			if err != nil {
				return err
			}
			going, err := tx.ListRuns(RunFilter{States: []RunState{Going}, Printer: other.ID})
			if err != nil {
				return err
			}
			if slices.ContainsFunc(going, func(r Run) bool { return r.uses(s.ID) }) {
				return wrong("%s is in %s, which is printing with it. Choose another spool.", s.Name, other.Name)
			}
			b.warn(WarnTaken, false, "%s is noted to be in %s: it is taken out there and put into %s.", s.Name, other.Name, b.printer.Name)
		}
		of[s.Material] = append(of[s.Material], len(b.spools))
		b.spools = append(b.spools, s)
		b.colour(s, order)
	}
	for _, m := range order {
		if len(of[m]) == 0 {
			return wrongField("spool-"+m, "Choose a spool of %s: the run needs %.0f g.", b.names.material(m), need[m])
		}
		rest, left := need[m], 0.0
		for k, i := range of[m] {
			s := b.spools[i]
			have := max(0, s.Grams-taken[s.ID])
			left += have
			expect := min(rest, have)
			if k == len(of[m])-1 {
				expect = rest
			} else if rest > have {
				b.warn(WarnChange, false, "%s ends after about %.0f g: put in %s then.", s.Name, have, b.spools[of[m][k+1]].Name)
			}
			rest -= expect
			b.run.Spools = append(b.run.Spools, SpoolUse{Spool: s.ID, Material: m, Expect: hundredths(expect)})
		}
		name := b.spoolNames(of[m])
		switch {
		case left < need[m]:
			b.warn(WarnRunsOut, true, "%s would run out: the run needs %.0f g, and %.0f g are left%s.", name, need[m], left, b.promises(of[m], taken))
		case left-need[m] < b.settings.Rules.Reserve:
			b.warn(WarnReserve, false, "%s would be left with %.0f g, under the reserve of %.0f g.", name, left-need[m], b.settings.Rules.Reserve)
		}
	}
	byUse := map[ID]Spool{}
	for _, s := range b.spools {
		byUse[s.ID] = s
	}
	for i, u := range b.run.Spools {
		b.spools[i] = byUse[u.Spool]
	}
	return nil
}

func (b *starting) spoolNames(of []int) string {
	var all []string
	for _, i := range of {
		all = append(all, b.spools[i].Name)
	}
	return strings.Join(all, " and ")
}

func (b *starting) promises(of []int, taken map[ID]float64) string {
	sum := 0.0
	for _, i := range of {
		sum += taken[b.spools[i].ID]
	}
	if sum < 0.5 {
		return ""
	}
	return fmt.Sprintf(", with %.0f g promised to what is printing or not weighed yet", sum)
}

// colour warns of a colour nobody wished for. Only the first material has the
// colour of the wish; others are supports or colour parts.
func (b *starting) colour(s Spool, order []string) {
	if s.Material != order[0] {
		return
	}
	for _, r := range b.requests {
		if wish := strings.TrimSpace(r.Wish.Colour); wish != "" && !strings.EqualFold(wish, strings.TrimSpace(s.Colour)) {
			b.warnOf(r, WarnColour, false, "%s is wished in %s, and %s is %s.", r.Code, wish, s.Name, s.Colour)
		}
	}
}

// time says when the run should end, and whether that is too late.
func (b *starting) time(tx Tx, f StartForm) error {
	b.run.Expect = b.run.Started.Add(time.Duration(b.seconds * float64(time.Second))).Truncate(time.Microsecond)
	zone := b.settings.Library.Zone()
	end := b.run.Expect.In(zone)
	if longest := b.settings.Rules.Longest.Seconds(); longest > 0 && b.seconds > longest {
		b.warn(WarnLongest, true, "It takes %s, longer than the longest print here, %s.", spell(b.seconds), spell(longest))
	}
	closes, known := closing(b.branch, b.run.Started, zone)
	switch {
	case !known:
	case closes.IsZero():
		b.warn(WarnClosing, true, "%s is closed now: nobody would be near when it ends at %s.", b.branch.Name, end.Format("15:04 on 2 January"))
	case b.run.Expect.After(closes):
		b.warn(WarnClosing, true, "It should end at %s, after %s closes at %s.", end.Format("15:04 on 2 January"), b.branch.Name, closes.In(zone).Format("15:04"))
	}
	return nil
}

// spell says seconds as people do.
func spell(seconds float64) string {
	m := int(seconds/60 + 0.5)
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

// closing is when the branch closes for the day t is in, zero if it is closed
// from t on. known is false where no hours were ever set.
func closing(b Branch, t time.Time, zone *time.Location) (closes time.Time, known bool) {
	for _, spans := range b.Hours {
		known = known || len(spans) > 0
	}
	for _, o := range OpeningsOn(b, t, zone) {
		if o.To.After(t) {
			closes = o.To
		}
	}
	return closes, known
}

// start writes a run down that was checked.
func (d *Desk) start(tx Tx, by Actor, b *starting, f StartForm) error {
	if err := tx.SaveRun(&b.run); err != nil {
		return err
	}
	for i := range b.spools {
		s := b.spools[i]
		if err := d.putIn(tx, &s, b.printer, b.names, b.run.Spools); err != nil {
			return err
		}
		if s.Loaded != b.spools[i].Loaded {
			if err := tx.SaveSpool(&s); err != nil {
				return err
			}
		}
	}
	for _, r := range b.requests {
		var plates []string
		attempt := 0
		for _, p := range b.run.Parts {
			if p.Request == r.ID {
				plates = append(plates, fmt.Sprint(p.Plate+1))
				attempt = max(attempt, p.Attempt)
			}
		}
		say := fmt.Sprintf("Started printing plate %s of %d on %s at %s", strings.Join(plates, ", "), len(r.Agreement.Way.Plates), b.printer.Name, b.branch.Name)
		if attempt > 1 {
			say += fmt.Sprintf(", attempt %d", attempt)
		}
		say += "."
		if why := strings.TrimSpace(f.Anyway); why != "" {
			var all []string
			for _, w := range b.warnings {
				if w.Reason && (w.Of == "" || w.Of == r.ID) {
					all = append(all, w.Say)
				}
			}
			say += fmt.Sprintf(" In spite of this: %s Reason given: %s", strings.Join(all, " "), why)
		}
		if _, err := d.change(tx, r.ID, 0, by, func(r *Request) (Event, error) {
			r.State = Printing
			return Event{What: "printing", Say: say}, nil
		}); err != nil {
			return err
		}
	}
	return nil
}

// uses says whether a spool is on the run.
func (r Run) uses(spool ID) bool {
	return slices.ContainsFunc(r.Spools, func(u SpoolUse) bool { return u.Spool == spool })
}
