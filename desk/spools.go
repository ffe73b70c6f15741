package desk

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// SpoolsPage is the watch on filament at a branch.
type SpoolsPage struct {
	Branch    Branch
	Branches  []Branch
	Zone      string
	Materials []Named    // that the library has
	Colours   []string   // of spools at the branch
	Spools    []SpoolNow // low ones first
	Demands   []Demand   // of the plates that wait, by material and wished colour
	Printers  []PrinterNow
	Reserve   float64
}

// Named is an id and what people call it.
type Named struct{ ID, Name string }

// Demand is what waiting plates will take of a material in a colour.
type Demand struct {
	Material string // name
	Colour   string // as wished; empty is any
	Plates   int
	Grams    float64
	Left     float64 // on spools of it that are here, less what is promised
	Short    bool    // Left, less the reserve, is not enough
}

// SpoolFilter chooses among the spools; empty fields do not.
type SpoolFilter struct {
	Material string // id
	Colour   string
	Retired  bool // those too
}

// SpoolView is one spool and its lines, newest first.
type SpoolView struct {
	SpoolNow
	At        Branch
	Zone      string
	Lines     []SpoolLineView
	Printers  []PrinterUnit // that it can be put into
	Branches  []Branch
	Materials []Named
	Was       []SpoolWas // what it was called and where it was, newest first
}

// SpoolWas is what a spool was made to be, when and by whom.
type SpoolWas struct {
	At  time.Time
	Who string
	Say string
}

// SpoolLineView is a line with the codes of what the run printed.
type SpoolLineView struct {
	SpoolLine
	Left  float64 // after it
	Codes []Code
}

func materialsOf(n names) []Named {
	var all []Named
	for _, m := range n.Materials {
		all = append(all, Named{m.ID, n.material(m.ID)})
	}
	return all
}

// spoolsNow lists a branch's spools that are in use, low ones first.
func spoolsNow(tx Tx, branch ID, g gathered) ([]SpoolNow, error) {
	return spoolsNowOf(tx, branch, g, false)
}

func spoolsNowOf(tx Tx, branch ID, g gathered, retired bool) ([]SpoolNow, error) {
	spools, err := tx.Spools([]ID{branch}, retired)
	if err != nil {
		return nil, err
	}
	taken, err := promised(tx, []ID{branch})
	if err != nil {
		return nil, err
	}
	var all []SpoolNow
	for _, s := range spools {
		all = append(all, spoolNow(s, taken[s.ID], g))
	}
	slices.SortStableFunc(all, func(a, b SpoolNow) int {
		rank := func(s SpoolNow) int {
			switch {
			case s.Retired:
				return 2
			case s.Low:
				return 0
			}
			return 1
		}
		return cmp.Or(rank(a)-rank(b), strings.Compare(a.Name, b.Name))
	})
	return all, nil
}

func spoolNow(s Spool, taken float64, g gathered) SpoolNow {
	return SpoolNow{Spool: s, MaterialName: g.names.material(s.Material), In: g.printers[s.Loaded].Name, Promised: taken,
		Low: !s.Retired && s.Grams-taken < max(g.settings.Rules.Reserve, s.Full/10)}
}

// SpoolsPage gathers the spools of a branch.
func (d *Desk) SpoolsPage(ctx context.Context, by Actor, branch ID, f SpoolFilter) (SpoolsPage, error) {
	var p SpoolsPage
	err := d.Store.Read(ctx, func(tx Tx) error {
		p = SpoolsPage{}
		var err error
		if p.Branch, p.Branches, err = pick(tx, by, branch, Operator); err != nil {
			return err
		}
		g, err := d.gather(tx)
		if err != nil {
			return err
		}
		p.Zone, p.Reserve, p.Materials = g.settings.Library.TimeZone, g.settings.Rules.Reserve, materialsOf(g.names)
		all, err := spoolsNowOf(tx, p.Branch.ID, g, f.Retired)
		if err != nil {
			return err
		}
		for _, s := range all {
			if !slices.ContainsFunc(p.Colours, func(c string) bool { return strings.EqualFold(c, s.Colour) }) {
				p.Colours = append(p.Colours, s.Colour)
			}
			if (f.Material == "" || f.Material == s.Material) && (f.Colour == "" || strings.EqualFold(f.Colour, s.Colour)) {
				p.Spools = append(p.Spools, s)
			}
		}
		slices.Sort(p.Colours)
		var work PrintingPage
		work.Branch = p.Branch
		if err := work.printers(tx, g); err != nil {
			return err
		}
		p.Printers = work.Printers
		if err := work.plates(tx, g); err != nil {
			return err
		}
		p.Demands = demands(work.Waiting, all, g)
		return nil
	})
	if err != nil {
		return SpoolsPage{}, err
	}
	return p, nil
}

// demands adds up what waiting plates will take. A wish for a colour is about
// the first material only.
func demands(plates []PlateWaiting, spools []SpoolNow, g gathered) []Demand {
	type key struct{ material, colour string }
	sum := map[key]Demand{}
	for _, w := range plates {
		for i, m := range w.Request.Agreement.Way.materials(w.Way) {
			k := key{material: m}
			if i == 0 {
				k.colour = strings.ToLower(strings.TrimSpace(w.Request.Wish.Colour))
			}
			v := sum[k]
			v.Material, v.Colour = g.names.material(m), k.colour
			v.Plates++
			v.Grams += w.Way.Grams[m]
			sum[k] = v
		}
	}
	var out []Demand
	for _, k := range slices.SortedFunc(maps.Keys(sum), func(a, b key) int {
		return cmp.Or(strings.Compare(a.material, b.material), strings.Compare(a.colour, b.colour))
	}) {
		v := sum[k]
		for _, s := range spools {
			if !s.Retired && s.Material == k.material && (k.colour == "" || strings.EqualFold(s.Colour, k.colour)) {
				v.Left += max(0, s.Grams-s.Promised)
			}
		}
		v.Short = v.Left-g.settings.Rules.Reserve < v.Grams
		out = append(out, v)
	}
	return out
}

// SpoolView gathers a spool and its newest lines.
func (d *Desk) SpoolView(ctx context.Context, by Actor, spool ID) (SpoolView, error) {
	var v SpoolView
	err := d.Store.Read(ctx, func(tx Tx) error {
		s, err := d.spool(tx, by, spool, 0)
		if err != nil {
			return err
		}
		g, err := d.gather(tx)
		if err != nil {
			return err
		}
		taken, err := promised(tx, []ID{s.Branch})
		if err != nil {
			return err
		}
		v = SpoolView{SpoolNow: spoolNow(s, taken[s.ID], g), At: g.branches[s.Branch], Zone: g.settings.Library.TimeZone, Materials: materialsOf(g.names)}
		if v.Branches, err = branchesOf(tx, by, Operator); err != nil {
			return err
		}
		units, err := tx.Printers([]ID{s.Branch})
		if err != nil {
			return err
		}
		v.Printers = slices.DeleteFunc(units, func(p PrinterUnit) bool { return p.Retired })
		lines, err := tx.SpoolLines(spool, 200)
		if err != nil {
			return err
		}
		if v.Was, err = spoolWas(tx, spool, g); err != nil {
			return err
		}
		left := s.Grams
		for _, l := range lines {
			lv := SpoolLineView{SpoolLine: l, Left: left}
			left = hundredths(left - l.Grams)
			if l.Run != "" {
				run, err := tx.Run(l.Run)
				if err != nil {
					return err
				}
				for _, id := range run.requests() {
					r, err := tx.Request(id)
					if err != nil {
						return err
					}
					lv.Codes = append(lv.Codes, r.Code)
				}
			}
			v.Lines = append(v.Lines, lv)
		}
		return nil
	})
	if err != nil {
		return SpoolView{}, err
	}
	return v, nil
}

// spoolWas puts the kept rows of a spool into sentences.
func spoolWas(tx Tx, spool ID, g gathered) ([]SpoolWas, error) {
	rows, err := tx.SettingVersions(rowKind("spool", spool))
	if err != nil {
		return nil, err
	}
	var all []SpoolWas
	for _, row := range rows {
		var r spoolAsKept
		if err := json.Unmarshal(row.Body, &r); err != nil {
			return nil, fmt.Errorf("read the history of spool %s: %w", spool, err)
		}
		say := fmt.Sprintf("%s: %s, %s, %g g when new, at %s", r.Name, g.names.material(r.Material), r.Colour, r.Full, g.branches[r.Branch].Name)
		if r.Retired {
			say += "; retired"
		}
		all = append(all, SpoolWas{row.Since, row.By, say + "."})
	}
	return all, nil
}
