package desk

import (
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// A plate of an agreed way is printed by runs. Where it stands is not kept
// anywhere: it follows from the runs since the agreement, so that the two
// cannot disagree.

// PlateState is where a plate stands.
type PlateState string

const (
	PlateWaits    PlateState = "to print"
	PlateGoing    PlateState = "printing"
	PlateFinished PlateState = "to weigh"
	PlateDone     PlateState = "weighed"
	PlateStuck    PlateState = "attempts used up"
)

// PlateStand is where one plate of a request stands.
type PlateStand struct {
	Plate    int
	State    PlateState
	Attempts int       // used up by runs that failed
	Run      ID        // the newest; empty before the first
	Began    time.Time // of it
	Last     *Failure  // of the newest run that failed
}

// Stands says where each plate of r's agreed way stands, from all its runs.
// It is nil before the agreement.
func Stands(r Request, runs []Run, attempts int) []PlateStand {
	if r.Agreement == nil {
		return nil
	}
	all := make([]PlateStand, len(r.Agreement.Way.Plates))
	for i := range all {
		all[i] = PlateStand{Plate: i, State: PlateWaits}
	}
	runs = slices.Clone(runs)
	slices.SortFunc(runs, func(a, b Run) int {
		return cmp.Or(a.Started.Compare(b.Started), strings.Compare(string(a.ID), string(b.ID)))
	})
	for _, run := range runs {
		if run.Started.Before(r.Agreement.At) {
			continue // of an agreement that was opened again
		}
		for _, p := range run.Parts {
			if p.Request != r.ID || p.Plate < 0 || p.Plate >= len(all) {
				continue
			}
			s := &all[p.Plate]
			s.Run, s.Began = run.ID, run.Started
			switch {
			case run.State == Spoiled:
				s.failed(run.Failure)
			case p.Bad != nil:
				s.failed(p.Bad)
			case run.State == Going:
				s.State = PlateGoing
			case run.State == Finished:
				s.State = PlateFinished
			case run.State == Weighed:
				s.State = PlateDone
			}
		}
	}
	for i := range all {
		if all[i].State == PlateWaits && attempts > 0 && all[i].Attempts >= attempts {
			all[i].State = PlateStuck
		}
	}
	return all
}

func (s *PlateStand) failed(why *Failure) {
	s.State, s.Last = PlateWaits, why
	s.Attempts++
}

// allDone says whether nothing of r is left to print or to weigh.
func allDone(stands []PlateStand) bool {
	for _, s := range stands {
		if s.State != PlateDone {
			return false
		}
	}
	return len(stands) > 0
}

// agreedRules are the rules in force when r was agreed: how often is tried,
// who pays for what fails, and what the final price is.
func agreedRules(tx Tx, r Request) (Rules, error) {
	var rules Rules
	if r.Agreement == nil || r.Agreement.Rules == 0 {
		return DefaultRules(), nil
	}
	err := settingOf(tx, RulesSetting, r.Agreement.Rules, &rules)
	return rules, err
}

// agreedTariff is the tariff in force when r was agreed.
func agreedTariff(tx Tx, r Request) (tariff.Tariff, error) {
	var t tariff.Tariff
	if r.Agreement == nil || r.Agreement.Tariff == 0 {
		return Default(TariffSetting).(tariff.Tariff), nil
	}
	err := settingOf(tx, TariffSetting, r.Agreement.Tariff, &t)
	return t, err
}

// settingOf reads one version of a document, version 1 or later.
func settingOf(tx Tx, k SettingKind, version int, into any) error {
	doc, err := tx.Setting(k, version)
	if err != nil {
		return err
	}
	if err := json.Unmarshal(doc.Body, into); err != nil {
		return fmt.Errorf("read setting %s, version %d: %w", k, version, err)
	}
	return nil
}

// standsOf is Stands from the store.
func standsOf(tx Tx, r Request) ([]PlateStand, Rules, error) {
	rules, err := agreedRules(tx, r)
	if err != nil || r.Agreement == nil {
		return nil, rules, err
	}
	runs, err := tx.RunsOf(r.ID)
	if err != nil {
		return nil, rules, err
	}
	return Stands(r, runs, rules.Attempts), rules, nil
}

// materials lists the ids a plate takes, in the order of the way and then by id.
func (w Way) materials(plate PlateWay) []string {
	ids := slices.Sorted(maps.Keys(plate.Grams))
	ids = slices.DeleteFunc(ids, func(id string) bool { return !(plate.Grams[id] > 0) })
	if len(ids) == 0 {
		ids = slices.Clone(w.Material)
	}
	slices.SortStableFunc(ids, func(a, b string) int { return w.place(a) - w.place(b) })
	return slices.Compact(ids)
}

// onPlate lists the parts of a way that stand on a plate.
func (w Way) onPlate(plate PlateWay) []PartWay {
	if len(plate.Copies) == 0 {
		return w.Parts
	}
	var parts []PartWay
	for _, p := range w.Parts {
		if n := plate.Copies[p.File]; n > 0 {
			p.Copies = n
			parts = append(parts, p)
		}
	}
	return parts
}

// condition is everything plates must agree in to share a platform: printer
// model, materials and how they are laid.
func (w Way) condition(plate PlateWay) string {
	var settings []string
	for _, p := range w.onPlate(plate) {
		settings = append(settings, fmt.Sprintf("%+v", p.Settings))
	}
	slices.Sort(settings)
	return w.Printer + " | " + strings.Join(w.materials(plate), "+") + " | " + strings.Join(slices.Compact(settings), " & ")
}

// names are what people call materials and printer models.
type names struct{ *quote.Profiles }

func namesOf(s Settings) names { return names{catalogueOf(s)} }

func (n names) material(id string) string {
	if m, err := n.Material(id); err == nil && m.Name != "" {
		return m.Name
	}
	return id
}

func (n names) model(id string) string {
	if p, err := n.Printer(id); err == nil && p.Name != "" {
		return p.Name
	}
	return id
}

func (n names) materials(ids []string) string {
	all := make([]string, len(ids))
	for i, id := range ids {
		all[i] = n.material(id)
	}
	return strings.Join(all, ", ")
}

// branchesOf lists the branches where by has one of the roles, by name.
func branchesOf(tx Tx, by Actor, roles ...Role) ([]Branch, error) {
	all, err := tx.Branches()
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(slices.Clone(all), func(b Branch) bool { return !by.May(b.ID, roles...) }), nil
}

// pick chooses a branch among those by may work at: the one asked for, else
// their home, else the first.
func pick(tx Tx, by Actor, asked ID, roles ...Role) (Branch, []Branch, error) {
	mine, err := branchesOf(tx, by, roles...)
	if err != nil {
		return Branch{}, nil, err
	}
	if asked != "" {
		if err := by.Require(asked, roles...); err != nil {
			return Branch{}, nil, err
		}
		b, err := tx.Branch(asked)
		return b, mine, err
	}
	if len(mine) == 0 {
		return Branch{}, nil, Faultf(NotYours, "Your account may not do this at any branch. Ask a manager to widen it.")
	}
	if by.ID != "" {
		if me, err := tx.Staff(by.ID); err == nil {
			if i := slices.IndexFunc(mine, func(b Branch) bool { return b.ID == me.Home }); i >= 0 {
				return mine[i], mine, nil
			}
		}
	}
	return mine[0], mine, nil
}
