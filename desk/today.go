package desk

import (
	"cmp"
	"context"
	"slices"
	"time"
)

// Today is what waits for a person at a branch, in the order of a request's way
// through the desk. What waits for a patron, a printer or the clock is not in
// it, or comes last.
type Today struct {
	Branch   Branch
	Branches []Branch // the actor may look at
	Zone     string   // IANA
	Now      time.Time
	Groups   []TodayGroup // those with something in them
}

// TodayKind is what sort of work waits.
type TodayKind string

const (
	TodayMail    TodayKind = "mail"    // came by mail and belongs to nothing yet
	TodayUnsent  TodayKind = "unsent"  // could not be sent, or came back
	TodayNew     TodayKind = "new"     // came in, nobody has it
	TodayLetters TodayKind = "letters" // the patron wrote and nobody answered
	TodayReview  TodayKind = "review"
	TodayDecide  TodayKind = "decide" // cannot be printed as agreed
	TodayPrint   TodayKind = "print"  // agreed
	TodayGoing   TodayKind = "going"  // on a printer, and due
	TodayWeigh   TodayKind = "weigh"
	TodayShelve  TodayKind = "shelve"
	TodayCall    TodayKind = "call" // on the hold shelf, its days nearly over
	TodaySpools  TodayKind = "spools"
)

// TodayGroup is one sort of work.
type TodayGroup struct {
	Kind  TodayKind
	Title string
	Count int // all there are; Lines may be fewer
	Lines []TodayLine
}

// TodayLine is one thing that waits.
type TodayLine struct {
	Code    Code // empty for a spool
	Request ID
	Run     ID
	Spool   ID
	Mail    ID
	Name    string // the patron's, short; or the printer's, or the spool's
	About   string
	Since   time.Time // waits since; zero is not said
	Urgent  string    // why it cannot wait, in a few words; empty when it can
	Rests   bool      // waits for someone else first: comes last
	Next    string    // the one next step
}

// mostToday is how many lines of a group are listed.
const mostToday = 30

// Today gathers the page of a branch; the empty branch is the actor's own, or
// the first they reach. It asks the store a fixed number of questions, however
// much waits, and one for each version of the rules things were agreed under.
func (d *Desk) Today(ctx context.Context, by Actor, branch ID) (Today, error) {
	var t Today
	err := d.Store.Read(ctx, func(tx Tx) error {
		t = Today{Now: d.now()}
		var err error
		if t.Branch, t.Branches, err = pick(tx, by, branch, Roles()...); err != nil {
			return err
		}
		g := todaying{tx: tx, now: t.Now, at: t.Branch.ID}
		if g.s, err = settings(tx); err != nil {
			return err
		}
		t.Zone = g.s.Library.TimeZone
		if g.counts, err = tx.CountRequests(RequestFilter{Branches: []ID{g.at}, States: g.states(by)}); err != nil {
			return err
		}
		if mailHand(by) == nil {
			if err := g.mail(by); err != nil {
				return err
			}
		}
		if by.May(g.at, Reviewer) {
			if err := g.reviewers(); err != nil {
				return err
			}
		}
		if by.May(g.at, Operator) {
			if err := g.operators(); err != nil {
				return err
			}
		}
		t.Groups = g.groups
		return nil
	})
	return t, err
}

// todaying gathers one branch's groups.
type todaying struct {
	tx     Tx
	s      Settings
	now    time.Time
	at     ID
	counts map[State]int
	groups []TodayGroup
}

func (g *todaying) states(by Actor) []State {
	var all []State
	if by.May(g.at, Reviewer) {
		all = append(all, Received, InReview)
	}
	if by.May(g.at, Operator) {
		all = append(all, Agreed, Printing, OnShelf)
	}
	return all
}

func (g *todaying) add(kind TodayKind, title string, count int, lines []TodayLine) {
	if count == 0 && len(lines) == 0 {
		return
	}
	slices.SortStableFunc(lines, func(a, b TodayLine) int {
		return cmp.Or(yes(a.Rests)-yes(b.Rests), yes(b.Urgent != "")-yes(a.Urgent != ""))
	})
	g.groups = append(g.groups, TodayGroup{kind, title, max(count, len(lines)), lines[:min(len(lines), mostToday)]})
}

func yes(b bool) int {
	if b {
		return 1
	}
	return 0
}

// list lists the branch's requests in some states, those that came first first.
func (g *todaying) list(states ...State) ([]Request, error) {
	n := 0
	for _, s := range states {
		n += g.counts[s]
	}
	if n == 0 {
		return nil, nil
	}
	return g.tx.ListRequests(RequestFilter{States: states, Branches: []ID{g.at}, Most: mostToday, Brief: !slices.Contains(states, InReview)})
}

// mail gathers letters that belong to no request yet, which are of no branch,
// and letters of ours that did not arrive.
func (g *todaying) mail(by Actor) error {
	if !g.s.Mail.On {
		return nil
	}
	waiting, err := g.tx.ListMail([]MailState{MailWaits}, 100)
	if err != nil {
		return err
	}
	var lines []TodayLine
	for _, l := range waiting {
		name := l.Body.Name
		if name == "" {
			name = l.Body.From
		}
		about := l.Body.Subject
		if about == "" {
			about = l.Body.Why
		}
		lines = append(lines, TodayLine{Mail: l.ID, Name: name, About: about, Since: l.Came, Next: "Place the letter"})
	}
	g.add(TodayMail, "Letters to place", len(lines), lines)
	lost, err := didNotArrive(g.tx, by, g.at, 100)
	if err != nil {
		return err
	}
	lines = nil
	for _, p := range lost {
		lines = append(lines, TodayLine{Mail: p.ID, Name: p.Body.To, About: p.Body.Subject, Since: p.Made, Next: "See why"})
	}
	g.add(TodayUnsent, "Letters that did not arrive", len(lines), lines)
	return nil
}

// reviewers gathers what waits for someone who decides.
func (g *todaying) reviewers() error {
	fresh, err := g.list(Received)
	if err != nil {
		return err
	}
	reviewed, err := g.list(InReview)
	if err != nil {
		return err
	}
	wrote, err := g.tx.Unanswered([]ID{g.at})
	if err != nil {
		return err
	}
	var letters []Request
	if len(wrote) > 0 {
		if letters, err = g.tx.ListRequests(RequestFilter{IDs: wrote[:min(len(wrote), mostToday)], Unforgotten: true, Brief: true}); err != nil {
			return err
		}
		slices.SortStableFunc(letters, func(a, b Request) int { return slices.Index(wrote, a.ID) - slices.Index(wrote, b.ID) })
	}
	var ids []ID
	for _, r := range slices.Concat(fresh, reviewed, letters) {
		ids = append(ids, r.ID)
	}
	files, last := map[ID][]File{}, map[ID]Message{}
	if len(ids) > 0 {
		all, err := g.tx.FilesOfAll(ids)
		if err != nil {
			return err
		}
		files = byRequest(all)
		if last, err = g.tx.LastMessages(ids); err != nil {
			return err
		}
	}
	var lines []TodayLine
	for _, r := range letters {
		lines = append(lines, TodayLine{Code: r.Code, Request: r.ID, Name: ShortName(r.Contact), About: about(r, files[r.ID]), Since: last[r.ID].At, Next: "Answer"})
	}
	g.add(TodayLetters, "Patrons who wrote", len(wrote), lines)
	lines = nil
	for _, r := range fresh {
		l := TodayLine{Code: r.Code, Request: r.ID, Name: ShortName(r.Contact), About: about(r, files[r.ID]), Since: r.Asked, Urgent: g.urgent(r), Next: "Take it into review"}
		checking(&l, files[r.ID])
		lines = append(lines, l)
	}
	g.add(TodayNew, "New requests", g.counts[Received], lines)
	lines = nil
	for _, r := range reviewed {
		lines = append(lines, g.reviewLine(r, files[r.ID], last[r.ID], slices.Contains(wrote, r.ID)))
	}
	g.add(TodayReview, "In review", g.counts[InReview], lines)
	return nil
}

// checking says when files are still being checked, or a check failed.
func checking(l *TodayLine, files []File) {
	for _, f := range files {
		switch {
		case f.Check == Failed:
			l.Next = "Check again"
			l.About += " (the check of " + f.Name + " failed)"
			return
		case f.Check.open():
			l.About += " (being checked)"
			return
		}
	}
}

func (g *todaying) reviewLine(r Request, files []File, last Message, wrote bool) TodayLine {
	l := TodayLine{Code: r.Code, Request: r.ID, Name: ShortName(r.Contact), About: about(r, files), Since: r.Changed, Urgent: g.urgent(r)}
	switch {
	case last.From == ByStaff && !wrote:
		l.Next, l.Since, l.Rests = "Waits for the patron’s answer", last.At, true
	case r.Basis.State == Waiting || r.Basis.State == Checking:
		l.Next, l.Rests = "Ways are being found", true
	case r.Basis.State == Failed:
		l.Next = "Find ways again"
	case len(r.Ways) == 0:
		l.Next = "Settle the plan"
	case len(missing(r, g.s)) > 0:
		l.Next = "Go through the checklist"
	default:
		l.Next = "Send the offer"
	}
	checking(&l, files)
	return l
}

// urgent says so when the patron's date is over, or nearly.
func (g *todaying) urgent(r Request) string {
	now := g.now.In(g.s.Library.Zone())
	day, err := time.Parse(time.DateOnly, r.Wish.Needed)
	switch today := now.Format(time.DateOnly); {
	case r.Wish.Needed == "" || err != nil:
		return ""
	case r.Wish.Needed < today:
		return "was needed by " + day.Format("2 January")
	case r.Wish.Needed == today:
		return "needed today"
	case r.Wish.Needed <= now.AddDate(0, 0, 3).Format(time.DateOnly):
		return "needed by " + day.Format("Monday 2 January")
	}
	return ""
}
