package web

import (
	"fmt"
	"net/url"
	"strings"
	"time"

	"platebook/desk"
	"platebook/engine/findings"
	"platebook/engine/mesh"
)

// requestView is a request, as staff of its branch decide from it.
type requestView struct {
	Path    string
	Code    desk.Code
	State   desk.State
	Version int64

	Title   string // of what was refused
	Refused string
	Since   []Told // what others did meanwhile
	Errors  []Missed
	Open    string // the form that was sent and came back
	place   func(field string) string

	Head    []Fact
	Next    string   // what is to be done next, in a sentence
	Missing []string // why no offer can be sent yet
	CanTake bool
	Acts    []pastRun // where an operator does that
	Ended   string    // why it ended

	Files   []deskFile
	Wish    []Fact
	Note    []string // in the patron's own words
	Hints   []Fact   // what those words seem to ask for
	Alike   []alikeView
	Checks  []checkView
	Plan    *planForm
	Ways    *waysView
	Letters []deskLetter
	Aside   string // since when the patron waits for an answer
	Write   *writeForm

	Agree    *agreeDesk
	TakeBack *Field
	Decline  *declineForm
	Move     *Field
	Contact  *contactForm
	CameBack bool // a letter to the patron's address, and nobody has seen to it
	Account  []Fact
	Money    string // where the account is
	Runs     []pastRun
	History  []historyLine
	Link     string // the patron's
}

// deskFile is a file with what its check found.
type deskFile struct {
	ID, Path, Name string
	Facts          []Fact
	Working        string // what its check is at
	Say            string
	Still, Sheet   bool
	Mesh           bool
	Again          bool // the check can be asked for again
	Version        int64
	Act            string // of the page's forms
	Groups         []findingGroup
}

type alikeView struct {
	File  string
	Lines []alikeLine
}

type alikeLine struct {
	Says, Reason string
	Code         desk.Code
	At           time.Time
}

// checkView is one question of the checklist.
type checkView struct {
	ID, Text, Help string
	Answer         string // "Fine", "Not fine", or empty
	Fine           bool
	By             string
	At             time.Time
	Said           string
	Why            *Field // nil where nothing can be answered
}

type pastRun struct {
	Path, Say string
}

var requestPage = newPage[requestView](forStaff, "staff_request.html")

// requestOf gathers the page.
func (s *Site) requestOf(l desk.RequestView, who desk.Actor) requestView {
	r, zone := l.Request, l.Settings.Library.TimeZone
	v := requestView{Path: requestPath(r.Code), Code: r.Code, State: r.State, Version: r.Version, Link: l.Link,
		Head: headFacts(l), CanTake: l.Reviews && r.State == desk.Received, Files: deskFiles(l), Alike: alikeOf(l),
		Letters: deskLetters(l), Account: deskAccount(l), Runs: runLines(l), History: historyOf(l.Events, zone)}
	v.Wish, v.Note, v.Hints = wishOnDesk(l)
	v.Next, v.Acts = nextStep(l), nextActs(l)
	if r.State.Over() {
		v.Ended = r.Reason
	}
	if l.Operates && r.Agreement != nil || len(l.Charges) > 0 {
		v.Money = "/desk/shelf/" + string(r.ID) + "/account"
	}
	v.Checks = checksOf(l, zone)
	v.Ways = waysOf(l)
	if since := l.Unanswered(); !since.IsZero() && l.Reviews {
		v.Aside = waits(since, l.Now)
	}
	if l.Reviews && r.Forgotten.IsZero() {
		v.reviewForms(l)
	}
	if r.State == desk.WithPatron && r.Quote != nil && l.Now.Before(r.Quote.Until) && (l.Reviews || l.Operates) {
		v.Agree = agreeDeskOf(l)
	}
	return v
}

// reviewForms adds what only a reviewer does.
func (v *requestView) reviewForms(l desk.RequestView) {
	r := l.Request
	v.Write = writeOf(l)
	v.Contact = contactOf(l)
	v.CameBack = r.Contact.Undelivered != ""
	if r.State == desk.InReview {
		v.Missing = l.Missing
		v.Plan = planOf(l)
	}
	switch r.State {
	case desk.WithPatron, desk.Agreed, desk.Printing:
		v.TakeBack = &Field{Name: "take-back-why", Label: "Why", Hint: "The patron is told this, in your words.", Rows: 3}
	}
	if r.State.MayFollow(desk.Declined) {
		v.Decline = declineOf(l)
	}
	if !r.State.Over() && r.State != desk.OnShelf && len(l.Branches) > 0 {
		f := Field{Name: "move-branch", Label: "Branch", Hint: "Its staff look after it from then on, and the patron collects there.", Type: "select"}
		for _, b := range l.Branches {
			f.Choices = append(f.Choices, Choice{Value: string(b.ID), Label: b.Name})
		}
		v.Move = &f
	}
}

func headFacts(l desk.RequestView) []Fact {
	r, zone := l.Request, l.Settings.Library.TimeZone
	c := r.Contact
	name := c.Name
	if c.UnderAge {
		name += ", under " + itoa(l.Settings.Rules.Age)
		if c.Guardian != "" {
			name += "; guardian: " + c.Guardian
		}
	}
	all := []Fact{{"Patron", or(name, "not said")}}
	var reach []string
	for _, x := range []string{c.Email, c.Phone} {
		if x != "" {
			reach = append(reach, x)
		}
	}
	all = append(all, Fact{"Reached by", or(strings.Join(reach, ", "), "nothing: at the desk only")})
	if c.Undelivered != "" {
		say := c.Undelivered + " No letters go there until you have seen to it."
		if c.Passing {
			say = c.Undelivered + " That may pass: letters still go there."
		}
		all = append(all, Fact{"Mail came back", say})
	}
	if c.Card != "" {
		all = append(all, Fact{"Library card", c.Card})
	}
	if c.Language != "" {
		all = append(all, Fact{"Language", languageName(c.Language)})
	}
	all = append(all, Fact{"Branch", l.Branch.Name})
	if r.Wish.Needed != "" {
		all = append(all, Fact{"Needed by", dayOf(r.Wish.Needed)})
	}
	all = append(all, Fact{"Asked", moment(local(r.Asked, zone)) + ", " + cameBy(r.Source)})
	if !r.State.Over() {
		since := r.Changed
		if r.State == desk.Received {
			since = r.Asked
		}
		if say := waits(since, l.Now); say != "" {
			all = append(all, Fact{"Waiting", say})
		}
	}
	if r.State == desk.WithPatron && r.Quote != nil {
		all = append(all, Fact{"Offer stands until", day(local(r.Quote.Until, zone))})
	}
	if r.Shelf != nil && r.State == desk.OnShelf {
		all = append(all, Fact{"Kept until", day(local(r.Shelf.Until, zone))})
	}
	return all
}

func cameBy(s string) string {
	switch s {
	case "page":
		return "on the library’s pages"
	case "desk":
		return "at the desk"
	case "mail":
		return "by mail"
	}
	return "for the demonstration"
}

// dayOf says a date of a form as a day.
func dayOf(date string) string {
	t, err := time.Parse(time.DateOnly, date)
	if err != nil {
		return date
	}
	return day(t)
}

// nextStep says what is to be done next, and whose turn it is.
func nextStep(l desk.RequestView) string {
	r := l.Request
	switch r.State {
	case desk.Received:
		return "Nobody has looked at it yet. Take it into review, so that colleagues know it is yours."
	case desk.InReview:
		if len(l.Missing) > 0 {
			return l.Missing[0]
		}
		return "All is settled: choose the ways and send the offer."
	case desk.WithPatron:
		if r.Quote != nil && !l.Now.Before(r.Quote.Until) {
			return "The offer is over. It lapses by itself, or take it back and send a fresh one."
		}
		return "It is the patron’s turn: they choose a way and agree."
	case desk.Agreed:
		return "It waits for a printer."
	case desk.Printing:
		return "It is being printed, weighed and put on the shelf."
	case desk.OnShelf:
		return "It waits on the hold shelf for the patron."
	}
	return ""
}

// nextActs lead an operator from a request to where it is printed, weighed,
// shelved or handed over: each plate that waits for them, the first to be
// started of all.
func nextActs(l desk.RequestView) (all []pastRun) {
	r := l.Request
	shelf := heldPath(r.ID)
	switch {
	case !l.Operates:
		return nil
	case r.State == desk.OnShelf:
		return []pastRun{{shelf, "Hand it over"}}
	case r.State != desk.Agreed && r.State != desk.Printing:
		return nil
	}
	stands := desk.Stands(r, l.Runs, 0)
	done, starts := 0, false
	for _, p := range stands {
		plate, run := which(p.Plate, len(stands)), "/desk/printing/runs/"+url.PathEscape(string(p.Run))
		if len(stands) == 1 {
			plate = "it"
		}
		switch {
		case p.State == desk.PlateDone:
			done++
		case p.State == desk.PlateGoing:
			all = append(all, pastRun{run, "See how " + plate + " goes"})
		case p.State == desk.PlateFinished:
			all = append(all, pastRun{run, "Weigh " + plate})
		case p.State == desk.PlateWaits && !starts:
			starts = true
			all = append(all, pastRun{"/desk/printing/start?plate=" + url.QueryEscape(refOf(r.ID, p.Plate)), "Print " + plate})
		}
	}
	if done > 0 && done == len(stands) {
		return []pastRun{{shelf, "Put it on the shelf"}}
	}
	return all
}

func deskFiles(l desk.RequestView) []deskFile {
	zone := l.Settings.Library.TimeZone
	var all []deskFile
	for _, f := range l.Files {
		path := requestPath(l.Request.Code)
		v := deskFile{ID: string(f.ID), Path: path + "/file/" + string(f.ID), Act: path, Version: l.Request.Version, Name: f.Name,
			Facts: []Fact{{"Sent", moment(local(f.Sent, zone)) + ", " + byteSize(f.Size)}}}
		switch f.Check {
		case desk.Waiting:
			v.Working = "Waits to be checked."
		case desk.Checking:
			v.Working = or(f.Doing, "Being checked") + " …"
		case desk.Failed:
			v.Say, v.Again = "The check failed by a mistake of ours: "+or(f.Doing, "nothing more is known")+". The file is kept.", l.Reviews || l.Operates
		case desk.NoModel:
			v.Say = "Not a model: kept beside, not checked."
		}
		if c := f.Result; c != nil && f.Check == desk.Done {
			v.Still, v.Sheet, v.Mesh = c.Still != "", c.Sheet != "", c.View != ""
			a := c.Answer
			if a.SizeMM != (mesh.Vec{}) {
				v.Facts = append(v.Facts, Fact{"Size as sent", size(a.SizeMM)})
			}
			if a.VolumeMM3 > 0 {
				v.Facts = append(v.Facts, Fact{"Volume", fmt.Sprintf("%.1f cm³, %s", a.VolumeMM3/1000, many(a.Bodies, "body", "bodies"))})
			}
			if a.UnitReason != "" {
				v.Facts = append(v.Facts, Fact{"Unit", a.UnitReason})
			}
			if n := len(a.ColourParts); n > 1 {
				v.Facts = append(v.Facts, Fact{"Colour parts", itoa(n)})
			}
			for _, h := range a.Healed {
				v.Facts = append(v.Facts, Fact{"Healed", h})
			}
			v.Groups = groupsOf(a.Findings)
			if len(v.Groups) == 0 {
				v.Say = "The check found nothing against printing it."
			}
		}
		all = append(all, v)
	}
	return all
}

// groupsOf sets findings under their severity, numbered as in the pictures.
func groupsOf(found []findings.Finding) []findingGroup {
	number := map[int]int{}
	for i, f := range found {
		if len(f.Places) > 0 {
			number[i] = len(number) + 1
		}
	}
	var all []findingGroup
	for _, g := range []struct {
		severity findings.Severity
		title    string
	}{{findings.Stop, "Stops the print"}, {findings.Ask, "Ask the patron"}, {findings.Note, "Worth knowing"}} {
		group := findingGroup{Title: g.title}
		for i, f := range found {
			if f.Severity == g.severity {
				group.Findings = append(group.Findings, findingView{Severity: string(f.Severity), Number: number[i], Say: f.Message})
			}
		}
		if len(group.Findings) > 0 {
			all = append(all, group)
		}
	}
	return all
}

func wishOnDesk(l desk.RequestView) (facts []Fact, note []string, hints []Fact) {
	w := l.Request.Wish
	size := "as the file has it"
	switch {
	case w.Largest:
		size = "as large as it goes"
	case w.SizeMM > 0:
		size = mm(w.SizeMM) + " along the longest side"
	}
	facts = []Fact{{"Size", size}, {"Copies", itoa(max(w.Copies, 1))}, {"Colour", or(w.Colour, "any")}}
	if w.Purpose != "" {
		facts = append(facts, Fact{"For", w.Purpose})
	}
	if w.Rights {
		facts = append(facts, Fact{"Rights", "declares to have the right to have it made"})
	} else {
		facts = append(facts, Fact{"Rights", "not declared yet"})
	}
	for _, h := range w.Suggest {
		hints = append(hints, Fact{stateWord(desk.State(h.Field)), strings.TrimSpace(h.Value+" "+h.Axis) + " (“" + h.Words + "”)"})
	}
	return facts, paragraphs(w.Note), hints
}

func alikeOf(l desk.RequestView) []alikeView {
	var all []alikeView
	for _, f := range l.Alike {
		v := alikeView{File: f.File.Name}
		for _, a := range f.Alike {
			v.Lines = append(v.Lines, alikeLine{a.Says, a.Reason, a.Code, local(a.At, l.Settings.Library.TimeZone)})
		}
		all = append(all, v)
	}
	return all
}

func checksOf(l desk.RequestView, zone string) []checkView {
	var all []checkView
	for _, q := range l.Asked {
		v := checkView{ID: q.ID, Text: q.Text, Help: q.Help}
		if a := q.Answer; a != nil {
			v.Answer, v.Fine, v.By, v.At, v.Said = "Not fine", a.Fine, a.By, local(a.At, zone), a.Why
			if a.Fine {
				v.Answer = "Fine"
			}
		}
		if l.Reviews && l.Request.State == desk.InReview {
			v.Why = &Field{Name: "judge-" + q.ID + "-why", Label: "Why", Optional: true}
		}
		all = append(all, v)
	}
	return all
}

func deskAccount(l desk.RequestView) []Fact {
	if len(l.Charges) == 0 {
		return nil
	}
	locale := l.Settings.Library.Locale
	var all []Fact
	for _, c := range l.Charges {
		say := money(c.Amount, c.Currency, locale)
		if c.Reason != "" {
			say += " (" + c.Reason + ")"
		}
		all = append(all, Fact{stateWord(desk.State(c.Kind)), say})
	}
	return append(all, Fact{"To pay", money(l.Balance, l.Charges[0].Currency, locale)})
}

func runLines(l desk.RequestView) []pastRun {
	zone := l.Settings.Library.TimeZone
	var all []pastRun
	for _, run := range l.Runs {
		say := string(run.State) + ", begun " + moment(local(run.Started, zone)) + " by " + run.By
		if run.Failure != nil {
			say += ": " + run.Failure.Why
		}
		all = append(all, pastRun{"/desk/printing/runs/" + string(run.ID), stateWord(desk.State(say))})
	}
	return all
}
