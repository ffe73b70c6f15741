package desk

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"time"

	"platebook/engine/printer"
	"platebook/engine/quote"
)

// Catalogue is what can be printed with: the built-in printer models,
// materials and ways with the library's own laid over them. It is the caller's
// own, but for the cautions of materials, which are shared.
func Catalogue(s Settings) (*quote.Profiles, error) {
	read := lastRead.Load()
	if read == nil || read.text != s.Profiles.TOML {
		p := quote.Builtin()
		if s.Profiles.TOML != "" {
			if err := p.Merge([]byte(s.Profiles.TOML), "profiles"); err != nil {
				return nil, fmt.Errorf("the library's profiles: %w", err)
			}
		}
		read = &readProfiles{s.Profiles.TOML, p}
		lastRead.Store(read)
	}
	p := *read.p
	p.Catalogue = &printer.Catalogue{Printers: slices.Clone(p.Printers), Materials: slices.Clone(p.Materials), Ways: slices.Clone(p.Ways)}
	return &p, nil
}

// Reading profiles takes milliseconds, and every page of staff asks for them,
// so the last ones read are kept with the text they were read from.
type readProfiles struct {
	text string
	p    *quote.Profiles
}

var lastRead atomic.Pointer[readProfiles]

// Branches lists all branches by name.
func (d *Desk) Branches(ctx context.Context) ([]Branch, error) {
	var all []Branch
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		all, err = tx.Branches()
		return err
	})
	return all, err
}

// Printers lists the printers of a branch, or all for the empty branch.
func (d *Desk) Printers(ctx context.Context, branch ID) ([]PrinterUnit, error) {
	var all []PrinterUnit
	err := d.Store.Read(ctx, func(tx Tx) error {
		var of []ID
		if branch != "" {
			of = []ID{branch}
		}
		var err error
		all, err = tx.Printers(of)
		return err
	})
	return all, err
}

const (
	mostSpans  = 6   // a day
	mostClosed = 400 // closed days ahead and behind
)

// SaveBranch makes or changes a branch. To make one, and to shut one for good,
// is for managers of all branches; the rest for its own manager too.
func (d *Desk) SaveBranch(ctx context.Context, by Actor, asked Branch) (Branch, error) {
	var b Branch
	err := d.Store.Write(ctx, func(tx Tx) error {
		b = asked
		b.Closed = slices.Clone(asked.Closed)
		var was Branch
		if b.ID != "" {
			var err error
			if was, err = tx.Branch(b.ID); err != nil {
				return err
			}
			if err := by.Require(b.ID, Manager); err != nil {
				return err
			}
			if b.Version != 0 && b.Version != was.Version {
				// The same form sent twice is one saving.
				if validBranch(&b, nil) == nil && asJSON(branchRow(b)) == asJSON(branchRow(was)) {
					b = was
					return nil
				}
				return staleRow("this branch")
			}
			b.Version = was.Version
		}
		if (b.ID == "" || was.Shut != b.Shut) && !by.Everywhere() {
			return onlyManagers()
		}
		all, err := tx.Branches()
		if err != nil {
			return err
		}
		if err := validBranch(&b, all); err != nil {
			return err
		}
		if b.ID == "" {
			b.ID, b.Version = NewID(), 0
		}
		if err := tx.SaveBranch(&b); err != nil {
			return err
		}
		return d.keepRow(tx, by, "branch", b.ID, branchRow(b))
	})
	return b, err
}

// BranchHistory lists what a branch was, newest first.
func (d *Desk) BranchHistory(ctx context.Context, by Actor, id ID) ([]Setting, error) {
	if err := by.Require(id, Manager); err != nil {
		return nil, err
	}
	return d.rowHistory(ctx, "branch", id)
}

type branchAsKept struct {
	Name   string            `json:"name"`
	Place  string            `json:"place"`
	Hours  map[string]string `json:"hours"`
	Closed []ClosedDay       `json:"closed"`
	Shut   bool              `json:"shut"`
}

func branchRow(b Branch) branchAsKept {
	row := branchAsKept{b.Name, b.Place, map[string]string{}, b.Closed, b.Shut}
	for day, spans := range b.Hours {
		row.Hours[time.Weekday(day).String()] = SayHours(spans)
	}
	return row
}

func validBranch(b *Branch, all []Branch) error {
	fields := map[string]string{}
	b.Name, b.Place = tidy(b.Name), cut(tidy(b.Place), 500)
	switch {
	case b.Name == "" || len([]rune(b.Name)) > 60:
		fields["name"] = "Write the branch's name, at most 60 characters."
	case slices.ContainsFunc(all, func(o Branch) bool { return o.ID != b.ID && strings.EqualFold(o.Name, b.Name) }):
		fields["name"] = "There is a branch of this name already."
	}
	for day := range b.Hours {
		if say := validSpans(b.Hours[day]); say != "" {
			fields[fmt.Sprintf("hours-%d", day)] = time.Weekday(day).String() + ": " + say
		}
	}
	if say := validClosed(b.Closed); say != "" {
		fields["closed"] = say
	}
	if len(fields) > 0 {
		return faultOf(fields)
	}
	slices.SortFunc(b.Closed, func(x, y ClosedDay) int { return strings.Compare(x.Date, y.Date) })
	return nil
}

func validSpans(spans []Span) string {
	if len(spans) > mostSpans {
		return fmt.Sprintf("at most %d stretches a day.", mostSpans)
	}
	end := -1
	for _, s := range spans {
		switch {
		case s.From < 0 || s.To > 24*60:
			return "times are from 00:00 to 24:00."
		case s.From >= s.To:
			return "each stretch must end after it begins. What goes past midnight is written as two, one on each day."
		case s.From < end:
			return "the stretches overlap, or are not in order."
		case s.From == end:
			return "two stretches follow each other without a gap; write them as one."
		}
		end = s.To
	}
	return ""
}

func validClosed(days []ClosedDay) string {
	if len(days) > mostClosed {
		return fmt.Sprintf("At most %d closed days can be kept. Take out those long past.", mostClosed)
	}
	seen := map[string]bool{}
	for i := range days {
		c := &days[i]
		c.Why = tidy(c.Why)
		at, err := time.Parse(time.DateOnly, c.Date)
		switch {
		case err != nil || at.Year() < 2000 || at.Year() > 2200:
			return fmt.Sprintf("%q is not a date. Write it like 2026-12-25.", cut(c.Date, 20))
		case seen[c.Date]:
			return c.Date + " is there twice."
		case len([]rune(c.Why)) > 100:
			return "The reason for " + c.Date + " is longer than 100 characters."
		}
		seen[c.Date] = true
	}
	return ""
}

// SavePrinterUnit makes or changes a printer. Operators of its branch may put
// it out of service and back; the rest is for a manager of the branch.
func (d *Desk) SavePrinterUnit(ctx context.Context, by Actor, asked PrinterUnit) (PrinterUnit, error) {
	var u PrinterUnit
	err := d.Store.Write(ctx, func(tx Tx) error {
		u = asked
		var was PrinterUnit
		if u.ID != "" {
			var err error
			if was, err = tx.Printer(u.ID); err != nil {
				return err
			}
		}
		u.Name, u.Out = tidy(u.Name), tidy(u.Out)
		if err := mayChangePrinter(by, was, u); err != nil {
			return err
		}
		if u.ID != "" {
			same := printerRow(u) == printerRow(was)
			if u.Version != 0 && u.Version != was.Version && !same {
				return staleRow("this printer")
			}
			if u.Version = was.Version; same {
				return nil
			}
		}
		if err := validPrinter(tx, was, u); err != nil {
			return err
		}
		if u.ID == "" {
			u.ID, u.Version = NewID(), 0
		}
		if err := tx.SavePrinter(&u); err != nil {
			return err
		}
		return d.keepRow(tx, by, "printer", u.ID, printerRow(u))
	})
	return u, err
}

// PrinterHistory lists what a printer was, newest first.
func (d *Desk) PrinterHistory(ctx context.Context, by Actor, id ID) ([]Setting, error) {
	var u PrinterUnit
	err := d.Store.Read(ctx, func(tx Tx) error {
		var err error
		u, err = tx.Printer(id)
		return err
	})
	if err == nil {
		err = by.Require(u.Branch, Operator)
	}
	if err != nil {
		return nil, err
	}
	return d.rowHistory(ctx, "printer", id)
}

type printerAsKept struct {
	Name    string `json:"name"`
	Branch  ID     `json:"branch"`
	Model   string `json:"model"`
	Out     string `json:"out_of_service"`
	Retired bool   `json:"retired"`
}

func printerRow(u PrinterUnit) printerAsKept {
	return printerAsKept{u.Name, u.Branch, u.Model, u.Out, u.Retired}
}

func mayChangePrinter(by Actor, was, u PrinterUnit) error {
	onlyOut := was
	onlyOut.Out, onlyOut.Version = u.Out, u.Version
	if was.ID != "" && onlyOut == u {
		return by.Require(u.Branch, Operator)
	}
	if was.ID != "" {
		if err := by.Require(was.Branch, Manager); err != nil {
			return err
		}
	}
	return by.Require(u.Branch, Manager)
}

func validPrinter(tx Tx, was, u PrinterUnit) error {
	fields := map[string]string{}
	all, err := tx.Printers(nil)
	if err != nil {
		return err
	}
	switch {
	case u.Name == "" || len([]rune(u.Name)) > 60:
		fields["name"] = "Write what staff call the printer, at most 60 characters."
	case slices.ContainsFunc(all, func(o PrinterUnit) bool { return o.ID != u.ID && !o.Retired && strings.EqualFold(o.Name, u.Name) }):
		fields["name"] = "There is a printer of this name already. Choose a name that tells them apart."
	}
	if len([]rune(u.Out)) > 200 {
		fields["out"] = "Write the reason in at most 200 characters."
	}
	if _, err := tx.Branch(u.Branch); KindOf(err) == NotFound {
		fields["branch"] = "Choose the branch the printer stands in."
	} else if err != nil {
		return err
	}
	s, err := settings(tx)
	if err != nil {
		return err
	}
	c, err := Catalogue(s)
	if err != nil {
		return err
	}
	if _, err := c.Printer(u.Model); err != nil && !(u.Retired && u.Model == was.Model) {
		fields["model"] = "Choose one of the printer models. New ones are described under Models and materials."
	}
	if was.ID != "" && (u.Retired && !was.Retired || u.Branch != was.Branch || u.Model != was.Model) {
		say, err := busy(tx, was)
		if err != nil {
			return err
		}
		if say != "" {
			fields["name"] = say
		}
	}
	return faultOf(fields)
}

// busy says what must be done before a printer is moved, changed or retired.
func busy(tx Tx, u PrinterUnit) (string, error) {
	runs, err := tx.ListRuns(RunFilter{Printer: u.ID, States: []RunState{Going}, Most: 1})
	if err != nil {
		return "", err
	}
	if len(runs) > 0 {
		return "A run is going on this printer. Finish it, or note it as failed, then change the printer.", nil
	}
	spools, err := tx.Spools([]ID{u.Branch}, false)
	if err != nil {
		return "", err
	}
	for _, s := range spools {
		if s.Loaded == u.ID {
			return fmt.Sprintf("Spool %s is in this printer. Take it out first.", s.Name), nil
		}
	}
	return "", nil
}
