package web

import (
	"fmt"
	"math"
	"net/http"
	"net/url"
	"time"

	"platebook/desk"
)

// todayView is what waits for a person at a branch.
type todayView struct {
	Branch  string
	Choose  *Field // another branch; nil where there is but one
	Groups  []todayGroup
	Here    string // the page itself
	Refresh string // where htmx looks again
	At      time.Time
	// Troubles are what is wrong with the mail now.
	Troubles []string
}

type todayGroup struct {
	ID    string
	Title string
	Count int
	More  int // that are not listed
	Lines []todayLine
}

type todayLine struct {
	ID     string // of the link, so that it keeps the focus when the page looks again
	Path   string
	Code   desk.Code
	Name   string
	About  string
	Waits  string
	Urgent string
	Rests  bool
	Next   string
}

var todayPage = newPage[todayView](forStaff, "staff_today.html")

func (s *Site) today(w http.ResponseWriter, r *http.Request, who desk.Actor) error {
	t, err := s.desk.Today(r.Context(), who, desk.ID(r.FormValue("branch")))
	if err != nil {
		return err
	}
	v := todayOf(t)
	v.Troubles = s.mailTroubles()
	if byHTMX(r) {
		return part(s, w, r, http.StatusOK, todayPage, "waiting", v)
	}
	return show(s, w, r, http.StatusOK, todayPage, v)
}

func todayOf(t desk.Today) todayView {
	v := todayView{Branch: t.Branch.Name, At: local(t.Now, t.Zone), Here: "/desk?branch=" + url.QueryEscape(string(t.Branch.ID))}
	v.Refresh = v.Here
	if len(t.Branches) > 1 {
		f := Field{Name: "branch", Label: "Branch", Value: string(t.Branch.ID), Type: "select"}
		for _, b := range t.Branches {
			f.Choices = append(f.Choices, Choice{Value: string(b.ID), Label: b.Name})
		}
		v.Choose = &f
	}
	for _, g := range t.Groups {
		group := todayGroup{ID: string(g.Kind), Title: g.Title, Count: g.Count, More: g.Count - len(g.Lines)}
		for _, l := range g.Lines {
			group.Lines = append(group.Lines, todayLine{ID: "next-" + string(g.Kind) + "-" + or(string(l.Run), string(l.Spool), string(l.Request), string(l.Mail), string(l.Code)), Path: todayPath(g.Kind, l, t.Branch.ID), Code: l.Code, Name: l.Name, About: l.About,
				Waits: waits(l.Since, t.Now), Urgent: l.Urgent, Rests: l.Rests, Next: l.Next})
		}
		v.Groups = append(v.Groups, group)
	}
	return v
}

// todayPath is where the one next step of a line is done.
func todayPath(kind desk.TodayKind, l desk.TodayLine, branch desk.ID) string {
	at := "?branch=" + url.QueryEscape(string(branch))
	switch kind {
	case desk.TodayMail:
		return "/desk/letters/" + url.PathEscape(string(l.Mail))
	case desk.TodayUnsent:
		return "/desk/letters"
	case desk.TodayLetters:
		return requestPath(l.Code) + "#letters"
	case desk.TodayPrint:
		return "/desk/printing" + at + "#waiting"
	case desk.TodayGoing, desk.TodayWeigh:
		return "/desk/printing/runs/" + url.PathEscape(string(l.Run))
	case desk.TodayShelve, desk.TodayCall:
		return "/desk/shelf/" + url.PathEscape(string(l.Request))
	case desk.TodaySpools:
		return "/desk/printing" + at + "#spools"
	}
	return requestPath(l.Code)
}

// requestPath is the page of a request.
func requestPath(c desk.Code) string { return "/desk/r/" + url.PathEscape(string(c)) }

// waits says how long something has waited: "20 min", "5 h", "3 days".
func waits(since, now time.Time) string {
	d := now.Sub(since)
	switch {
	case since.IsZero():
		return ""
	case d < time.Minute:
		return "just now"
	case d < time.Hour:
		return fmt.Sprintf("%d min", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h", int(d.Hours()))
	case d < 60*24*time.Hour:
		return fmt.Sprintf("%d days", int(d.Hours()/24))
	}
	return fmt.Sprintf("%d months", int(math.Round(d.Hours()/24/30.4)))
}
