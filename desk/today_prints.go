package desk

import (
	"fmt"
	"slices"
	"time"
)

// operators gathers what waits for someone who prints and hands over.
func (g *todaying) operators() error {
	agreed, err := g.list(Agreed)
	if err != nil {
		return err
	}
	printing, err := g.list(Printing)
	if err != nil {
		return err
	}
	runs, err := g.tx.ListRuns(RunFilter{States: []RunState{Going, Finished}, Branches: []ID{g.at}, Most: 200})
	if err != nil {
		return err
	}
	if err := g.plates(agreed, printing); err != nil {
		return err
	}
	if err := g.runs(runs); err != nil {
		return err
	}
	if err := g.shelf(); err != nil {
		return err
	}
	return g.spools()
}

// plates lists what is to be printed, decided about and put on the shelf.
func (g *todaying) plates(agreed, printing []Request) error {
	var ids []ID
	for _, r := range slices.Concat(agreed, printing) {
		ids = append(ids, r.ID)
	}
	if len(ids) == 0 {
		return nil
	}
	all, err := g.tx.FilesOfAll(ids)
	if err != nil {
		return err
	}
	files := byRequest(all)
	of := map[ID][]Run{}
	if len(printing) > 0 {
		runs, err := g.tx.ListRuns(RunFilter{Requests: ids[len(agreed):]})
		if err != nil {
			return err
		}
		for _, run := range runs {
			for _, p := range run.Parts {
				if have := of[p.Request]; len(have) == 0 || have[len(have)-1].ID != run.ID {
					of[p.Request] = append(have, run)
				}
			}
		}
	}
	line := func(r Request, since time.Time, next string) TodayLine {
		return TodayLine{Code: r.Code, Request: r.ID, Name: ShortName(r.Contact), About: about(r, files[r.ID]), Since: since, Urgent: g.urgent(r), Next: next}
	}
	var print, decide, shelve []TodayLine
	for _, r := range agreed {
		print = append(print, line(r, r.Agreement.at(), "Print"))
	}
	waiting, known := 0, rulesKnown{}
	for _, r := range printing {
		rules, err := known.of(g.tx, r)
		if err != nil {
			return err
		}
		stands := Stands(r, of[r.ID], rules.Attempts)
		switch left, stuck := 0, 0; {
		case allDone(stands):
			shelve = append(shelve, line(r, r.Changed, "Put on the hold shelf"))
		default:
			for _, s := range stands {
				left += yes(s.State == PlateWaits)
				stuck += yes(s.State == PlateStuck)
			}
			if stuck > 0 {
				decide = append(decide, line(r, r.Changed, "Decide: try again or decline"))
			}
			if left > 0 {
				waiting++
				l := line(r, r.Changed, "Print")
				l.About += fmt.Sprintf(" (%s left)", count(left, "plate", "plates"))
				print = append(print, l)
			}
		}
	}
	g.add(TodayDecide, "To decide: attempts used up", len(decide), decide)
	slices.SortStableFunc(print, func(a, b TodayLine) int { return a.Since.Compare(b.Since) })
	g.add(TodayPrint, "Agreed, to print", g.counts[Agreed]+waiting, print)
	g.add(TodayShelve, "Weighed, for the hold shelf", len(shelve), shelve)
	return nil
}

// at is when it was agreed; no agreement was never.
func (a *Agreement) at() time.Time {
	if a == nil {
		return time.Time{}
	}
	return a.At
}

// runs lists the runs that should have ended, and those to be weighed.
func (g *todaying) runs(runs []Run) error {
	if len(runs) == 0 {
		return nil
	}
	printers, err := g.tx.Printers([]ID{g.at})
	if err != nil {
		return err
	}
	name := map[ID]string{}
	for _, p := range printers {
		name[p.ID] = p.Name
	}
	var ids []ID
	for _, run := range runs {
		for _, p := range run.Parts {
			ids = append(ids, p.Request)
		}
	}
	slices.Sort(ids)
	code := map[ID]Code{}
	rs, err := g.tx.ListRequests(RequestFilter{IDs: slices.Compact(ids), Brief: true})
	if err != nil {
		return err
	}
	for _, r := range rs {
		code[r.ID] = r.Code
	}
	var due, weigh []TodayLine
	for _, run := range runs {
		l := TodayLine{Run: run.ID, Name: name[run.Printer]}
		if len(run.Parts) > 0 {
			l.Code = code[run.Parts[0].Request]
		}
		if n := len(run.Parts); n > 1 {
			l.About = fmt.Sprintf("and %d more on the plate", n-1)
		}
		switch {
		case run.State == Finished:
			l.Since, l.Next = run.Ended, "Weigh"
			weigh = append(weigh, l)
		case !run.Expect.After(g.now.Add(15 * time.Minute)):
			l.Since, l.Next = run.Expect, "See whether it came out well"
			if run.Expect.Before(g.now) {
				l.Urgent = "should have ended"
			}
			due = append(due, l)
		}
	}
	g.add(TodayGoing, "On the printers, ending now", len(due), due)
	g.add(TodayWeigh, "To weigh", len(weigh), weigh)
	return nil
}

// shelf lists what must be called about, or taken off the shelf.
func (g *todaying) shelf() error {
	if g.counts[OnShelf] == 0 {
		return nil
	}
	held, err := g.tx.ListRequests(RequestFilter{States: []State{OnShelf}, Branches: []ID{g.at}, Soonest: true, Brief: true, Most: mostHeld})
	if err != nil {
		return err
	}
	var lines []TodayLine
	soon := g.now.AddDate(0, 0, max(g.s.Rules.RemindDays, 1))
	for _, r := range held {
		if r.Shelf == nil || r.Shelf.Until.After(soon) {
			continue
		}
		l := TodayLine{Code: r.Code, Request: r.ID, Name: ShortName(r.Contact), Since: r.Shelf.Since, Next: "Call the patron"}
		l.About = "kept until " + DayInWords(r.Shelf.Until.In(g.s.Library.Zone()), "en")
		if len(r.Shelf.Called) > 0 {
			l.Next, l.Rests = "Called: wait, or call again", true
		}
		if !r.Shelf.Until.After(g.now) {
			l.Next, l.Urgent, l.Rests = "Take it off the shelf", "its days are over", false
		}
		lines = append(lines, l)
	}
	g.add(TodayCall, "Hold shelf: days nearly over", len(lines), lines)
	return nil
}

// spools lists those that will not last.
func (g *todaying) spools() error {
	all, err := g.tx.Spools([]ID{g.at}, false)
	if err != nil {
		return err
	}
	var lines []TodayLine
	for _, sp := range all {
		if low := max(3*g.s.Rules.Reserve, sp.Full/10); sp.Grams <= low {
			l := TodayLine{Spool: sp.ID, Name: sp.Name, Next: "Put up a new one"}
			if sp.Grams <= g.s.Rules.Reserve {
				l.Urgent = "too little to print with"
			}
			l.About = fmt.Sprintf("%s, about %.0f g left", sp.Colour, max(sp.Grams, 0))
			lines = append(lines, l)
		}
	}
	g.add(TodaySpools, "Spools running low", len(lines), lines)
	return nil
}
