package desk

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"
)

// SpoolNow is a spool with what waits for it.
type SpoolNow struct {
	Spool
	MaterialName string
	In           string  // name of the printer it is in
	Promised     float64 // grams that runs not weighed yet will take
	Low          bool    // what is left, less what is promised, is under the reserve
}

// SpoolForm is a spool as staff type it. An empty ID makes a new one.
type SpoolForm struct {
	Form     string
	ID       ID
	Version  int64
	Name     string
	Branch   ID
	Material string
	Colour   string
	Hex      string
	Full     float64 // grams; a new spool has as many left
	Retired  bool
}

var hexForm = regexp.MustCompile(`^#[0-9A-Fa-f]{6}$`)

// check looks at a spool as typed, among those of its branch.
func (f *SpoolForm) check(n names, others []Spool) error {
	faults := map[string]string{}
	short := func(field, what string, text *string, most int) {
		*text = strings.Join(strings.Fields(*text), " ")
		switch {
		case *text == "":
			faults[field] = "Write the " + what + "."
		case !utf8.ValidString(*text) || utf8.RuneCountInString(*text) > most:
			faults[field] = fmt.Sprintf("Write the %s in at most %d letters.", what, most)
		}
	}
	short("name", "name on its label", &f.Name, 40)
	short("colour", "colour in a word patrons know", &f.Colour, 40)
	if f.Hex = strings.TrimSpace(f.Hex); f.Hex != "" && !hexForm.MatchString(f.Hex) {
		faults["hex"] = "Write the colour for pictures as # and six digits of 0–9 and A–F, or leave it empty."
	}
	if _, err := n.Material(f.Material); err != nil {
		faults["material"] = "Choose a material of the library's."
	}
	if !(f.Full > 0 && f.Full <= mostGrams) {
		faults["full"] = fmt.Sprintf("Write the grams of a full spool, more than 0 and at most %d.", mostGrams)
	}
	if slices.ContainsFunc(others, func(s Spool) bool { return s.ID != f.ID && !s.Retired && strings.EqualFold(s.Name, f.Name) }) {
		faults["name"] = "Another spool at this branch has this name. Names on labels must tell spools apart."
	}
	if len(faults) > 0 {
		return &Fault{Kind: Wrong, Say: "Something about the spool must be mended.", Fields: faults}
	}
	return nil
}

// SaveSpool makes or changes a spool. What is left on it changes only by runs
// and by counting.
func (d *Desk) SaveSpool(ctx context.Context, by Actor, f SpoolForm) (Spool, error) {
	var out Spool
	err := d.Store.Write(ctx, func(tx Tx) error {
		if err := by.Require(f.Branch, Operator); err != nil {
			return err
		}
		if _, err := tx.Branch(f.Branch); err != nil {
			return err
		}
		s, err := settings(tx)
		if err != nil {
			return err
		}
		others, err := tx.Spools([]ID{f.Branch}, true)
		if err != nil {
			return err
		}
		if at := slices.IndexFunc(others, func(s Spool) bool { return f.Form != "" && s.Form == f.Form }); at >= 0 {
			out = others[at]
			return nil
		}
		if err := f.check(namesOf(s), others); err != nil {
			return err
		}
		var old Spool
		if f.ID != "" {
			if old, err = d.spool(tx, by, f.ID, f.Version); err != nil {
				return err
			}
			if err := f.mayChange(tx, old); err != nil {
				return err
			}
		}
		out = old
		out.Name, out.Branch, out.Material, out.Colour, out.Hex, out.Full = f.Name, f.Branch, f.Material, f.Colour, f.Hex, hundredths(f.Full)
		out.Retired, out.Form = f.Retired, f.Form
		if f.Retired || out.Branch != old.Branch {
			out.Loaded = ""
		}
		if f.ID == "" {
			out.ID, out.Grams = NewID(), hundredths(f.Full)
		}
		if err := tx.SaveSpool(&out); err != nil {
			return err
		}
		if err := d.keepRow(tx, by, "spool", out.ID, spoolRow(out)); err != nil || f.ID != "" {
			return err
		}
		empty := out
		empty.Grams = 0
		return d.move(tx, &empty, f.Full, by, "new", "")
	})
	if err != nil {
		return Spool{}, err
	}
	return out, nil
}

type spoolAsKept struct {
	Name     string  `json:"name"`
	Branch   ID      `json:"branch"`
	Material string  `json:"material"`
	Colour   string  `json:"colour"`
	Hex      string  `json:"hex"`
	Full     float64 `json:"full_g"`
	Retired  bool    `json:"retired"`
}

func spoolRow(s Spool) spoolAsKept {
	return spoolAsKept{s.Name, s.Branch, s.Material, s.Colour, s.Hex, s.Full, s.Retired}
}

// spool loads a spool that by may change.
func (d *Desk) spool(tx Tx, by Actor, id ID, version int64) (Spool, error) {
	s, err := tx.Spool(id)
	if err != nil {
		return s, err
	}
	if err := by.Require(s.Branch, Operator); err != nil {
		return s, err
	}
	if version != 0 && version != s.Version {
		return s, Faultf(Stale, "Someone changed %s while you had it open: %g g are left on it now. Look at it, then send yours again.", s.Name, s.Grams)
	}
	return s, nil
}

// mayChange holds what cannot change under a run that is not weighed yet.
func (f SpoolForm) mayChange(tx Tx, old Spool) error {
	if !f.Retired && f.Branch == old.Branch && f.Material == old.Material {
		return nil
	}
	runs, err := tx.ListRuns(RunFilter{States: []RunState{Going, Finished}, Branches: []ID{old.Branch}})
	if err != nil {
		return err
	}
	if slices.ContainsFunc(runs, func(r Run) bool { return r.uses(old.ID) }) {
		return Faultf(NotNow, "A run that is not weighed yet takes from %s, so its branch and material must stay, and it cannot be retired. Weigh the run first.", old.Name)
	}
	return nil
}

// LoadSpool puts a spool into a printer, or with no printer back on the rack.
func (d *Desk) LoadSpool(ctx context.Context, by Actor, spool ID, version int64, printer ID, form string) (Spool, error) {
	var out Spool
	err := d.Store.Write(ctx, func(tx Tx) error {
		s, err := d.spool(tx, by, spool, 0)
		if err != nil {
			return err
		}
		out = s
		if form != "" && s.Form == form {
			return nil
		}
		if out, err = d.spool(tx, by, spool, version); err != nil {
			return err
		}
		if s.Loaded != "" && s.Loaded != printer {
			going, err := tx.ListRuns(RunFilter{States: []RunState{Going}, Printer: s.Loaded})
			if err != nil {
				return err
			}
			if slices.ContainsFunc(going, func(r Run) bool { return r.uses(s.ID) }) {
				return Faultf(NotNow, "%s is being printed with. It can be taken out when that run is over.", s.Name)
			}
		}
		out.Form = form
		if printer == "" {
			out.Loaded = ""
			return tx.SaveSpool(&out)
		}
		p, err := tx.Printer(printer)
		if err != nil {
			return err
		}
		if s.Retired || p.Retired || p.Branch != s.Branch {
			return wrongField("printer", "%s cannot be put into %s: one is retired, or they are at different branches.", s.Name, p.Name)
		}
		set, err := settings(tx)
		if err != nil {
			return err
		}
		// What is being printed with stays in, unless it is this run's next spool.
		var keep []SpoolUse
		going, err := tx.ListRuns(RunFilter{States: []RunState{Going}, Printer: p.ID})
		if err != nil {
			return err
		}
		for _, run := range going {
			if !run.uses(s.ID) {
				keep = append(keep, run.Spools...)
			}
		}
		if err := d.putIn(tx, &out, p, namesOf(set), keep); err != nil {
			return err
		}
		if out.Loaded != p.ID {
			return Faultf(NotNow, "%s is printing, and has no room for another spool until that run is over.", p.Name)
		}
		return tx.SaveSpool(&out)
	})
	if err != nil {
		return Spool{}, err
	}
	return out, nil
}

// putIn loads s into p, for the caller to save. A printer holds as many spools
// as its model has tools: what must make room goes back on the rack, first one
// of the same material, but none of those in keep; if those take all the room
// s stays where it is, to be put in when one of them ends.
func (d *Desk) putIn(tx Tx, s *Spool, p PrinterUnit, n names, keep []SpoolUse) error {
	tools := 1
	if m, err := n.Printer(p.Model); err == nil {
		tools = max(1, m.Tools)
	}
	in, err := tx.Spools([]ID{p.Branch}, false)
	if err != nil {
		return err
	}
	in = slices.DeleteFunc(in, func(o Spool) bool { return o.Loaded != p.ID || o.ID == s.ID })
	rank := func(o Spool) int {
		switch {
		case slices.ContainsFunc(keep, func(u SpoolUse) bool { return u.Spool == o.ID }):
			return 2
		case o.Material == s.Material:
			return 0
		}
		return 1
	}
	slices.SortStableFunc(in, func(a, b Spool) int { return rank(a) - rank(b) })
	for ; len(in) >= tools; in = in[1:] {
		if rank(in[0]) == 2 {
			return nil
		}
		in[0].Loaded = ""
		if err := tx.SaveSpool(&in[0]); err != nil {
			return err
		}
	}
	s.Loaded = p.ID
	return nil
}

// CountSpool sets what is left on a spool to what was counted or weighed.
func (d *Desk) CountSpool(ctx context.Context, by Actor, spool ID, version int64, grams float64, why, form string) (Spool, error) {
	var out Spool
	err := d.Store.Write(ctx, func(tx Tx) error {
		s, err := d.spool(tx, by, spool, 0)
		if err != nil {
			return err
		}
		if out = s; form != "" && s.Form == form {
			return nil
		}
		if out, err = d.spool(tx, by, spool, version); err != nil {
			return err
		}
		if !sane(grams) {
			return wrongField("grams", "Write the grams left as a number from 0 to %d.", mostGrams)
		}
		if why, err = whyOf("why", why, "Say why it is set: weighed, counted by the label, …."); err != nil {
			return err
		}
		if err := d.move(tx, &out, hundredths(grams)-out.Grams, by, why, ""); err != nil {
			return err
		}
		out.Form = form
		return tx.SaveSpool(&out)
	})
	if err != nil {
		return Spool{}, err
	}
	return out, nil
}
