package web

import (
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"platebook/desk"
)

// printingRoutes are printing: what is on the printers, what waits, starting,
// finishing, weighing; and spools.
func (s *Site) printingRoutes() {
	s.staff("GET /desk/printing", s.printing)
	s.staff("GET /desk/printing/now", s.printersNow)
	s.staff("GET /desk/printing/start", s.startAsk)
	s.staff("POST /desk/printing/start", s.startDo)
	s.staff("GET /desk/printing/runs/{run}", s.run)
	s.staff("POST /desk/printing/runs/{run}/finish", s.runFinish)
	s.staff("POST /desk/printing/runs/{run}/weigh", s.runWeigh)
	s.staff("POST /desk/printing/runs/{run}/anew", s.runWeighAnew)
	s.staff("POST /desk/printing/runs/{run}/fail", s.runFail)
	s.staff("GET /desk/printing/bad/{request}/{plate}", s.badAsk)
	s.staff("POST /desk/printing/bad/{request}/{plate}", s.badDo)
	s.staff("GET /desk/printing/work/{request}/{plate}", s.workSlip)
	s.staff("GET /desk/printing/files/{file}", s.printFile)
	s.spoolRoutes()
}

type printingView struct {
	Branch   string
	BranchID desk.ID
	Choose   *Field // of another branch; nil where there is only one
	Printers []printerView
	ToWeigh  []runLine
	ToShelve int
	Plates   []plateLines
	Any      bool // a plate to start is there
	More     int  // requests that are not listed
	Weighs   bool // more may be there to weigh
}

// printerView is one printer of the page.
type printerView struct {
	ID      desk.ID
	Name    string
	Model   string
	Out     string
	Loaded  string
	On      *runLine
	StartAt string // where a run on it is started
}

// runLine is a run in short.
type runLine struct {
	ID       desk.ID
	Printer  string
	Codes    []desk.Code
	What     string // "Plate 1 of 2 of K7-204"
	Progress string // in words
	Percent  int
	Late     bool
	Went     bool // it is still printing
	By       string
}

// plateLines are plates that wait, under a heading.
type plateLines struct {
	Title  string
	Note   string
	Plates []plateLine
	Ticked bool // can be ticked to start a run
}

type plateLine struct {
	Ref      string // request:plate
	Code     desk.Code
	Which    string // "plate 1 of 2"
	Material string
	Wish     string // colour
	Time     string
	Grams    string
	Needed   string
	Late     bool // needed before today
	Model    string
	Tried    string // attempts used up
	Work     string // address of the work slip
	Branch   string
}

var printingPage = newPage[printingView](forStaff, "printing.html")

func (s *Site) printing(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	p, err := s.desk.PrintingPage(r.Context(), who, desk.ID(r.FormValue("branch")))
	if err != nil {
		return err
	}
	return show(s, w, r, http.StatusOK, printingPage, printingOf(p))
}

// printersNow renews the printers of the page as time goes on.
func (s *Site) printersNow(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	p, err := s.desk.PrintingPage(r.Context(), who, desk.ID(r.FormValue("branch")))
	if err != nil {
		return err
	}
	return part(s, w, r, http.StatusOK, printingPage, "printers", printingOf(p))
}

// branchField lets someone who works at several branches choose one.
func branchField(at desk.Branch, all []desk.Branch) *Field {
	if len(all) < 2 {
		return nil
	}
	f := &Field{Name: "branch", Label: "Branch", Type: "select", Value: string(at.ID)}
	for _, b := range all {
		f.Choices = append(f.Choices, Choice{Value: string(b.ID), Label: b.Name})
	}
	return f
}

func printingOf(p desk.PrintingPage) printingView {
	v := printingView{Branch: p.Branch.Name, BranchID: p.Branch.ID, Choose: branchField(p.Branch, p.Branches), ToShelve: len(p.ToShelve), More: p.More, Weighs: p.WeighOver}
	for _, n := range p.Printers {
		pv := printerView{ID: n.Printer.ID, Name: n.Printer.Name, Model: n.Model, Out: n.Printer.Out}
		var loaded []string
		for _, sp := range n.Loaded {
			loaded = append(loaded, fmt.Sprintf("%s, %s, %s left", sp.Name, sp.Colour, grams(sp.Grams)))
		}
		pv.Loaded = strings.Join(loaded, "; ")
		if n.Run != nil {
			line := lineOf(*n.Run)
			pv.On = &line
		}
		v.Printers = append(v.Printers, pv)
	}
	for _, run := range p.ToWeigh {
		v.ToWeigh = append(v.ToWeigh, lineOf(run))
	}
	groups := []plateLines{
		{Title: "Waiting to be printed", Ticked: true},
		{Title: "Of other branches", Note: "Agreed there, for a printer model this branch has. What is printed here must travel.", Ticked: true},
		{Title: "Attempts used up", Note: "Someone must decide: a manager can have it tried once more, or the request is declined.", Ticked: true},
	}
	for i, list := range [][]desk.PlateWaiting{p.Waiting, p.Others, p.Stuck} {
		for _, wait := range list {
			line := plateOf(wait, local(p.Now, p.Zone))
			if wait.Request.Branch == p.Branch.ID {
				line.Branch = ""
			}
			groups[i].Plates = append(groups[i].Plates, line)
			v.Any = true
		}
		if len(groups[i].Plates) > 0 {
			v.Plates = append(v.Plates, groups[i])
		}
	}
	return v
}

func plateOf(p desk.PlateWaiting, now time.Time) plateLine {
	sum := 0.0
	for _, g := range p.Way.Grams {
		sum += g
	}
	l := plateLine{Ref: refOf(p.Request.ID, p.Plate), Code: p.Request.Code, Which: which(p.Plate, p.Of), Material: p.Material, Wish: p.Request.Wish.Colour,
		Time: lasting(p.Way.Seconds), Grams: grams(sum), Model: p.Model, Work: workPath(p.Request.ID, p.Plate), Branch: p.Branch}
	if at, err := time.Parse(time.DateOnly, p.Request.Wish.Needed); err == nil {
		l.Needed = at.Format("Mon 2 Jan 2006")
		l.Late = p.Request.Wish.Needed < now.Format(time.DateOnly)
	}
	if p.Attempts > 0 {
		l.Tried = "Failed " + timesWord(p.Attempts)
		if p.Most > 0 {
			l.Tried += fmt.Sprintf("; %d attempts are allowed", p.Most)
		}
	}
	return l
}

func timesWord(n int) string {
	switch n {
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

func which(plate, of int) string {
	if of <= 1 {
		return "one plate"
	}
	return fmt.Sprintf("plate %d of %d", plate+1, of)
}

func workPath(request desk.ID, plate int) string {
	return fmt.Sprintf("/desk/printing/work/%s/%d", url.PathEscape(string(request)), plate)
}

func refOf(request desk.ID, plate int) string { return fmt.Sprintf("%s:%d", request, plate) }

// refsOf reads what was ticked. What is no plate is left out; the desk says
// what it misses.
func refsOf(texts []string) (refs []desk.PlateRef) {
	for _, t := range texts[:min(len(texts), 100)] {
		id, plate, ok := strings.Cut(t, ":")
		if n, err := strconv.Atoi(plate); ok && err == nil {
			refs = append(refs, desk.PlateRef{Request: desk.ID(id), Plate: n})
		}
	}
	return refs
}

// lineOf puts a run and how far it is into words, by the clock alone.
func lineOf(v desk.RunView) runLine {
	l := runLine{ID: v.Run.ID, Printer: v.Printer.Name, By: v.Run.By, Went: v.Run.State == desk.Going}
	var what []string
	for _, p := range v.Parts {
		what = append(what, fmt.Sprintf("%s, %s", p.Code, which(p.Plate, p.Of)))
		l.Codes = append(l.Codes, p.Code)
	}
	l.What = strings.Join(what, "; ")
	total, gone := v.Run.Expect.Sub(v.Run.Started).Seconds(), v.Now.Sub(v.Run.Started).Seconds()
	end := local(v.Run.Expect, v.Zone)
	when := "at " + clock(end)
	if end.Format(time.DateOnly) != local(v.Now, v.Zone).Format(time.DateOnly) {
		when = end.Format("on Monday 2 January at 15:04")
	}
	switch {
	case !l.Went:
		l.Progress = "Came off on " + moment(local(v.Run.Ended, v.Zone)) + "."
	case gone >= total:
		l.Percent, l.Late = 100, true
		l.Progress = fmt.Sprintf("Should have ended %s, %s ago.", when, lasting(gone-total))
	default:
		if total > 0 {
			l.Percent = int(100 * max(0, gone) / total)
		}
		l.Progress = fmt.Sprintf("%s to go: it should end %s. Started at %s by %s.", lasting(total-gone), when, clock(local(v.Run.Started, v.Zone)), v.Run.By)
	}
	return l
}
