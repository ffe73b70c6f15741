package desk

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"
	"time"
)

// StartPage is what an operator sees before a run starts: what was chosen,
// what can be chosen, and what is to be known.
type StartPage struct {
	Form     StartForm // as asked for, what was left open filled in
	Plates   []PlateWaiting
	Printers []PrinterNow // of the right model, where the actor may print
	Reels    []ReelChoice // a choice of spools for each material
	Branches map[ID]string
	Run      Run // as it would start
	Warnings []Warning
	Trouble  *Fault // why it cannot start as it stands; nil when it can
	Zone     string
	Now      time.Time
}

// ReelChoice is the choice of spools of one material, the best first.
type ReelChoice struct {
	Material string // id
	Name     string
	Grams    float64 // needed
	Spools   []SpoolNow
}

// StartPage gathers what there is to choose for a run of some plates.
func (d *Desk) StartPage(ctx context.Context, by Actor, f StartForm) (StartPage, error) {
	var p StartPage
	err := d.Store.Read(ctx, func(tx Tx) error {
		p = StartPage{Form: f, Now: d.now(), Branches: map[ID]string{}}
		if len(f.Parts) == 0 || len(f.Parts) > mostParts {
			return Faultf(Wrong, "Choose between 1 and %d plates on the printing page, then start a run of them.", mostParts)
		}
		mine, err := branchesOf(tx, by, Operator)
		if err != nil {
			return err
		}
		if len(mine) == 0 {
			return by.Require("", Operator)
		}
		g, err := d.gather(tx)
		if err != nil {
			return err
		}
		p.Zone = g.settings.Library.TimeZone
		if err := p.plates(tx, by, g); err != nil {
			return err
		}
		if err := p.printers(tx, mine, g); err != nil {
			return err
		}
		if err := p.reels(tx, g); err != nil {
			return err
		}
		if p.Form.Printer == "" {
			p.Trouble = Faultf(NotNow, "No printer of this model is free now where you work. Come back when one is, or choose other plates.")
			return nil
		}
		b, err := d.begin(tx, by, p.Form)
		if err == nil {
			p.Run, p.Warnings = b.run, b.warnings
			return nil
		}
		if !errors.As(err, &p.Trouble) || p.Trouble.Kind == Broken || p.Trouble.Kind == NoRoom {
			return err
		}
		return nil
	})
	if err != nil {
		return StartPage{}, err
	}
	return p, nil
}

func (p *StartPage) plates(tx Tx, by Actor, g gathered) error {
	for _, ref := range p.Form.Parts {
		r, err := tx.Request(ref.Request)
		if err != nil {
			return err
		}
		if err := mayPrint(tx, by, r); err != nil {
			return err
		}
		stands, rules, err := standsOf(tx, r)
		if err != nil {
			return err
		}
		if ref.Plate < 0 || ref.Plate >= len(stands) {
			return Faultf(NotFound, "%s has no plate %d.", r.Code, ref.Plate+1)
		}
		p.Plates = append(p.Plates, plateWaiting(r, stands[ref.Plate], rules, g))
	}
	return nil
}

// printers gathers those of the model of the first plate, and takes the first
// that is free unless one was asked for.
func (p *StartPage) printers(tx Tx, mine []Branch, g gathered) error {
	ids := make([]ID, len(mine))
	for i, b := range mine {
		ids[i], p.Branches[b.ID] = b.ID, b.Name
	}
	units, err := tx.Printers(ids)
	if err != nil {
		return err
	}
	runs, err := tx.ListRuns(RunFilter{States: []RunState{Going}, Branches: ids})
	if err != nil {
		return err
	}
	home := p.Plates[0].Request.Branch
	slices.SortStableFunc(units, func(a, b PrinterUnit) int {
		far := func(u PrinterUnit) int {
			if u.Branch == home {
				return 0
			}
			return 1
		}
		return far(a) - far(b)
	})
	for _, u := range units {
		if u.Retired || u.Model != p.Plates[0].Printer {
			continue
		}
		n := PrinterNow{Printer: u, Model: g.names.model(u.Model)}
		for _, run := range runs {
			if run.Printer == u.ID {
				v := RunView{Run: run, Printer: u, Zone: p.Zone, Now: p.Now}
				n.Run = &v
			}
		}
		if p.Form.Printer == "" && u.Out == "" && n.Run == nil {
			p.Form.Printer = u.ID
		}
		p.Printers = append(p.Printers, n)
	}
	return nil
}

// reels gathers the spools at the printer's branch for each material, the best
// first: of the colour wished, with enough on it, in the printer already, and
// of those the one with least left.
func (p *StartPage) reels(tx Tx, g gathered) error {
	unit, known := g.printers[p.Form.Printer]
	need := map[string]float64{}
	way := p.Plates[0].Request.Agreement.Way
	order := way.materials(p.Plates[0].Way)
	for _, w := range p.Plates {
		for _, m := range w.Request.Agreement.Way.materials(w.Way) {
			need[m] += w.Way.Grams[m]
		}
	}
	var spools []SpoolNow
	if known {
		var err error
		if spools, err = spoolsNow(tx, unit.Branch, g); err != nil {
			return err
		}
	}
	colour := strings.TrimSpace(p.Plates[0].Request.Wish.Colour)
	fill := len(p.Form.Spools) == 0
	for i, m := range order {
		c := ReelChoice{Material: m, Name: g.names.material(m), Grams: need[m]}
		for _, s := range spools {
			if s.Material == m {
				c.Spools = append(c.Spools, s)
			}
		}
		rank := func(s SpoolNow) (n int) {
			if i == 0 && colour != "" && !strings.EqualFold(colour, s.Colour) {
				n += 8
			}
			if s.Grams-s.Promised < need[m] {
				n += 4
			}
			if s.Loaded != "" && s.Loaded != unit.ID {
				n += 2
			}
			if s.Loaded != unit.ID {
				n++
			}
			return n
		}
		slices.SortStableFunc(c.Spools, func(a, b SpoolNow) int { return cmp.Or(rank(a)-rank(b), cmp.Compare(a.Grams, b.Grams)) })
		if fill && len(c.Spools) > 0 {
			p.Form.Spools = append(p.Form.Spools, c.Spools[0].ID)
		}
		p.Reels = append(p.Reels, c)
	}
	return nil
}
