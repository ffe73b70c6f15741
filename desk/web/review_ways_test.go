package web

import (
	"slices"
	"strings"
	"testing"

	"platebook/desk"
	"platebook/engine/findings"
)

// As large as it goes costs many times what was asked about: it is ticked for
// whoever wished for it, or where nothing else is left to offer. What anybody
// can tick is offered to be ticked all the same (CUSTOM).
func TestTheLargestIsTickedForWhoWishedIt(t *testing.T) {
	const long = 1e6
	for _, c := range []struct {
		name   string
		change func(*desk.RequestView)
		want   string
	}{
		{"not wished", func(*desk.RequestView) {}, "sensible cheaper"},
		{"wished by the patron", func(l *desk.RequestView) { l.Request.Wish.Largest = true }, "sensible cheaper largest"},
		{"planned by staff", func(l *desk.RequestView) { l.Plan.Parts[0].Largest = true }, "sensible cheaper largest"},
		{"all else too long", func(l *desk.RequestView) {
			for i := range 2 {
				l.Request.Ways[i].Plates = []desk.PlateWay{{Seconds: long}}
			}
		}, "largest"},
		{"itself too long", func(l *desk.RequestView) {
			l.Request.Wish.Largest, l.Request.Ways[2].Plates = true, []desk.PlateWay{{Seconds: long}}
		}, "sensible cheaper"},
		{"wished by staff, all too long", func(l *desk.RequestView) {
			l.Plan.Parts[0].Largest = true
			for i := range l.Request.Ways {
				l.Request.Ways[i].Plates = []desk.PlateWay{{Seconds: long}}
			}
		}, ""},
	} {
		v := waysOf(aLook(desk.InReview, func(l *desk.RequestView) { l.Request.Ways[2].Plates = nil }, c.change))
		var ticked []string
		for _, w := range v.Ways {
			if w.Chosen {
				ticked = append(ticked, w.ID)
			}
			if w.Pick != (w.TooLong == "") {
				t.Errorf("%s: %s can be ticked: %v, too long: %q", c.name, w.ID, w.Pick, w.TooLong)
			}
		}
		if got := strings.Join(ticked, " "); got != c.want {
			t.Errorf("%s: ticked %q, want %q", c.name, got, c.want)
		}
		if (v.Offer == nil) != (c.want == "") {
			t.Errorf("%s: can be offered: %v", c.name, v.Offer != nil)
		}
	}
}

// What was found in the files is said with them; beside the ways it is said
// again only where the planned size changes it.
func TestFindingsAreSaidOnce(t *testing.T) {
	files := func(l desk.RequestView) (all []findings.Finding) {
		for _, f := range l.Files {
			if f.Result != nil && f.Check == desk.Done {
				all = append(all, f.Result.Answer.Findings...)
			}
		}
		return all
	}
	same := waysOf(aLook(desk.InReview, func(l *desk.RequestView) { l.Request.Basis.Finding = files(*l) }))
	if !same.Same || len(same.Found) > 0 {
		t.Errorf("said again: %+v", same.Found)
	}
	for name, change := range map[string]func([]findings.Finding) []findings.Finding{
		"one more": func(all []findings.Finding) []findings.Finding {
			return append(all, findings.Finding{Severity: findings.Ask, Message: "A wall is too thin at this size."})
		},
		"one less": func(all []findings.Finding) []findings.Finding { return all[1:] },
		"a worse one": func(all []findings.Finding) []findings.Finding {
			all[0].Severity = map[findings.Severity]findings.Severity{findings.Stop: findings.Note}[all[0].Severity]
			return all
		},
	} {
		v := waysOf(aLook(desk.InReview, func(l *desk.RequestView) { l.Request.Basis.Finding = change(slices.Clone(files(*l))) }))
		if v.Same || len(v.Found) == 0 {
			t.Errorf("%s: not said", name)
		}
	}
}

// From a request an operator is led to what waits for them, plate by plate.
func TestAnOperatorIsLedOn(t *testing.T) {
	of := func(state desk.State, runs ...desk.Run) string {
		l := aLook(state, func(l *desk.RequestView) {
			l.Request.ID = "r1"
			l.Request.Agreement = &desk.Agreement{Way: desk.Way{Plates: make([]desk.PlateWay, 3)}}
			l.Runs = runs
		})
		var says []string
		for _, a := range nextActs(l) {
			says = append(says, a.Say+" "+a.Path)
		}
		if l.Operates = false; nextActs(l) != nil {
			t.Errorf("%s: who does not operate is led on", state)
		}
		return strings.Join(says, "; ")
	}
	run := func(id string, plate int, state desk.RunState) desk.Run {
		return desk.Run{ID: desk.ID(id), State: state, Parts: []desk.RunPart{{Request: "r1", Plate: plate}}}
	}
	const start, runs = "/desk/printing/start?plate=r1%3A", "/desk/printing/runs/"
	for _, c := range []struct{ name, got, want string }{
		{"agreed", of(desk.Agreed), "Print plate 1 of 3 " + start + "0"},
		{"begun", of(desk.Printing, run("a", 0, desk.Going), run("b", 1, desk.Finished)), "See how plate 1 of 3 goes " + runs + "a; Weigh plate 2 of 3 " + runs + "b; Print plate 3 of 3 " + start + "2"},
		{"failed", of(desk.Printing, run("a", 0, desk.Weighed), run("b", 1, desk.Spoiled), run("c", 2, desk.Weighed)), "Print plate 2 of 3 " + start + "1"},
		{"done", of(desk.Printing, run("a", 0, desk.Weighed), run("b", 1, desk.Weighed), run("c", 2, desk.Weighed)), "Put it on the shelf /desk/shelf/r1"},
		{"on the shelf", of(desk.OnShelf), "Hand it over /desk/shelf/r1"},
		{"in review", of(desk.InReview), ""}, {"collected", of(desk.Collected), ""},
	} {
		if c.got != c.want {
			t.Errorf("%s: %q, want %q", c.name, c.got, c.want)
		}
	}
}
