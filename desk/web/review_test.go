package web

import (
	"strings"
	"time"

	"platebook/desk"
	"platebook/engine/quote"
)

// aLook is a request as staff look at it, with a hostile patron.
func aLook(state desk.State, change ...func(*desk.RequestView)) desk.RequestView {
	m := aRequest(state)
	r := m.Request
	r.Wish.Suggest = []desk.Suggestion{{Field: "size", Value: "80 mm", Axis: "tall", Words: "about 8 cm tall"}}
	r.Ways = []desk.Way{aWay("sensible", "3.40", 80), aWay("cheaper", "2.10", 80), aWay("largest", "7.90", 140)}
	for i := range r.Ways {
		r.Ways[i].Printer = "millrace-200"
	}
	r.Ways[2].Plates = []desk.PlateWay{{Seconds: 40_000}}
	r.Basis = desk.Basis{State: desk.Done, Picture: "p", Without: []string{"Finer: it would take 14 hours."}, Finding: m.Files[0].Result.Answer.Findings}
	l := desk.RequestView{Request: r, Branch: m.Branch, Branches: []desk.Branch{{ID: "b2", Name: "Alder Street"}}, Files: m.Files, Messages: m.Messages, Charges: m.Account, Balance: "3.00",
		Settings: m.Settings, Profiles: quote.Builtin(), Link: "https://print.larkmere.example/my/abc", Key: "abc", Reviews: true, Operates: true, Now: aNow.Add(5 * time.Hour),
		Spools: []desk.Spool{{Material: "pla", Colour: "green", Grams: 620}, {Material: "petg", Colour: "clear", Grams: 90}}}
	l.Files[0].Result.Answer.Format = "stl"
	l.Files[1].Result.Answer.Format = "3mf"
	l.Files[1].Result.Answer.ColourParts = make([]quote.Colour, 2)
	for _, q := range l.Settings.Rules.Questions {
		l.Asked = append(l.Asked, desk.Asked{Question: q})
	}
	l.Asked[0].Answer = &desk.Judgement{Fine: true, By: "Rowan", At: aNow}
	l.Asked[1].Answer = &desk.Judgement{Why: hostile, By: "Rowan", At: aNow}
	l.Missing = []string{"2 questions of the checklist are not answered yet."}
	l.Plan = desk.Plan{Printer: "millrace-200", Way: "standard", Materials: []string{"pla"}, Parts: []desk.PartPlan{{File: "f1", Copies: 2, LongestMM: 80}}}
	l.Events = []desk.Event{
		{At: aNow, Who: "patron", Kind: desk.ByPatron, What: "asked", Say: "Asked for a print, with 4 files.", After: "received"},
		{At: aNow, Who: "Rowan", Kind: desk.ByStaff, What: "taken", Say: "Took it into review.", Before: "received", After: "in review"},
		{At: aNow, Who: "Rowan", Kind: desk.ByStaff, What: "contact", Say: "Changed how the patron is reached.", Before: `{"name":"Rowan","email":"a@example.org"}`, After: `{"name":"Rowan","email":"rowan@example.org","phone":"555 0199"}`},
	}
	l.Alike = []desk.FileAlike{{File: m.Files[0], Alike: []desk.Resemblance{{Code: "T4-119", Reason: hostile, At: aNow, Says: "Most likely the same shape as in T4-119 (1 % apart)."}}}}
	l.Posted = []desk.Posted{{ID: "p1", Message: "m0", State: desk.PostGivenUp, Trouble: "No such mailbox."}}
	l.Messages[0].ID, l.Messages[0].Seen = "m0", aNow
	switch state {
	case desk.Printing, desk.OnShelf, desk.Collected:
		l.Runs = []desk.Run{{ID: "run1", State: desk.Spoiled, Started: aNow, By: "Otto", Failure: &desk.Failure{Why: "It came off the platform."}}, {ID: "run2", State: desk.Going, Started: aNow, By: "Otto"}}
	}
	for _, c := range change {
		c(&l)
	}
	return l
}

func init() {
	page := func(l desk.RequestView) requestView { return (&Site{}).requestOf(l, desk.Actor{}) }
	example(requestPage, "in review", page(aLook(desk.InReview)))
	example(requestPage, "received", page(aLook(desk.Received, func(l *desk.RequestView) {
		l.Request.Ways, l.Request.Basis, l.Alike, l.Runs = nil, desk.Basis{State: desk.Checking, Doing: "Trying ways: 3 of 9"}, nil, nil
		l.Messages = l.Messages[:2]
		l.Request.Contact.Name, l.Request.Contact.Email = strings.Repeat("Longname", 8), strings.Repeat("long-", 9)+"name@"+strings.Repeat("longer-", 5)+"name.example"
	})))
	example(requestPage, "with the patron", page(aLook(desk.WithPatron, func(l *desk.RequestView) { l.Request.Contact.Undelivered = "No such mailbox." })))
	example(requestPage, "printing", page(aLook(desk.Printing)))
	example(requestPage, "declined", page(aLook(desk.Declined)))
	example(requestPage, "on the shelf, for an operator", page(aLook(desk.OnShelf, func(l *desk.RequestView) { l.Reviews = false })))
	stale := page(aLook(desk.InReview))
	stale.Open = "decline"
	stale.refused(&desk.Fault{Kind: desk.Stale, Say: "Someone changed this request while you had it open.", Fields: map[string]string{"reason": "Write the reason."},
		Since: []desk.Event{{At: aNow, Who: "Una", Say: "Moved it from Millbrook to Alder Street."}}}, "Europe/London")
	example(requestPage, "changed meanwhile", stale)

	today := desk.Today{Branch: aBranch(), Branches: []desk.Branch{aBranch(), {ID: "b2", Name: "Alder Street"}}, Zone: "Europe/London", Now: aNow}
	example(todayPage, "nothing", todayOf(today))
	today.Groups = []desk.TodayGroup{
		{Kind: desk.TodayLetters, Title: "Patrons who wrote", Count: 1, Lines: []desk.TodayLine{{Code: "K7-204", Name: "Ada Ø.", About: "lamp-foot.stl", Since: aNow.Add(-26 * time.Hour), Next: "Answer"}}},
		{Kind: desk.TodayNew, Title: "New requests", Count: 42, Lines: []desk.TodayLine{
			{Code: "B2-011", Name: "Robin F.", About: "3 × bracket-for-the-atlas-shelf-second-try.3mf and 2 more (being checked)", Since: aNow.Add(-3 * time.Hour), Urgent: "needed by Friday 6 March", Next: "Take it into review"},
			{Code: "C5-340", Name: hostile, About: hostile, Since: aNow.Add(-30 * time.Second), Next: "Take it into review"}}},
		{Kind: desk.TodayReview, Title: "In review", Count: 2, Lines: []desk.TodayLine{{Code: "D3-777", Name: "Sam E.", About: "hook.stl", Since: aNow.Add(-20 * time.Minute), Next: "Send the offer"},
			{Code: "E8-020", Name: "Alex E.", About: "gear.stl", Since: aNow.AddDate(0, 0, -4), Rests: true, Next: "Waits for the patron’s answer"}}},
		{Kind: desk.TodayGoing, Title: "On the printers, ending now", Count: 1, Lines: []desk.TodayLine{{Code: "F2-001", Run: "r", Name: "Heron", Since: aNow.Add(-10 * time.Minute), Urgent: "should have ended", Next: "See whether it came out well"}}},
		{Kind: desk.TodaySpools, Title: "Spools running low", Count: 1, Lines: []desk.TodayLine{{Spool: "s", Name: "R-01", About: "red, about 12 g left", Urgent: "too little to print with", Next: "Put up a new one"}}},
	}
	example(todayPage, "a full day", todayOf(today))

	example(findPage, "asked nothing", findOf("", nil))
	example(findPage, "found nothing", findOf(hostile, nil))
	example(findPage, "found some", findOf("ada", []desk.Found{
		{ID: "1", Code: "K7-204", State: desk.InReview, Branch: "Millbrook", Name: "Ada Ø.", About: "lamp-foot.stl and 1 more"},
		{ID: "2", Code: "B2-011", State: desk.Declined, Branch: "Millbrook", About: "hook.stl"}}))
	example(findPage, "found elsewhere", findOf("T4 119", []desk.Found{{Code: "T4-119", State: desk.OnShelf, Branch: "Alder Street", Elsewhere: true, Exact: true}}))
}
