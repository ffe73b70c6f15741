package web

import (
	"strings"
	"time"

	"platebook/desk"
	"platebook/engine/findings"
	"platebook/engine/mesh"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

var aNow = time.Date(2026, 3, 4, 9, 15, 0, 0, time.UTC)

func anHour(from, to int) []desk.Span { return []desk.Span{{From: from * 60, To: to * 60}} }

// aBranch is open now.
func aBranch() desk.Branch {
	return desk.Branch{ID: "b1", Name: "Millbrook", Place: "3 Weir Lane", Hours: [7][]desk.Span{3: {{From: 9 * 60, To: 12*60 + 30}, {From: 14 * 60, To: 18 * 60}}, 4: anHour(9, 18)}}
}

func someSettings() desk.Settings {
	set := desk.Settings{Versions: map[desk.SettingKind]int{desk.TermsSetting: 3}, Rules: desk.DefaultRules(),
		Library: desk.Library{Name: "Larkmere Libraries", Locale: "en-GB", TimeZone: "Europe/London", Languages: []string{"en", "fr"}},
		Tariff: tariff.Tariff{Currency: "GBP", SetUp: "1.00", PerGram: map[string]tariff.Decimal{"pla": "0.10", "petg": "0.12"}, Minimum: "2",
			Taxes: []tariff.Tax{{Name: "VAT", Percent: "20"}}, TaxIncluded: true},
		Terms: desk.Terms{Text: map[string]string{"en": "We print what you have the right to have made.\n\nStaff decide what is printed, and you may appeal."}}}
	return set
}

func aWay(id, total string, mm float64) desk.Way {
	return desk.Way{ID: id, Says: "The library's usual way.", Material: []string{"pla"}, Seconds: 3*3600 + 12*60, Grams: map[string]float64{"pla": 23.4},
		Parts:     []desk.PartWay{{File: "f1", SizeMM: [3]float64{mm, mm * 0.775, 3.4}, Copies: 2, Settings: quote.Settings{LayerHeightMM: 0.2}}},
		Plates:    []desk.PlateWay{{Seconds: 6000}, {Seconds: 5520}},
		PriceSaid: []string{"grams of each material rounded up to whole grams"},
		Price: tariff.Price{Currency: "GBP", Total: tariff.Decimal(total), Lines: []tariff.Line{
			{Kind: tariff.SetUp, Label: "Set-up", Amount: "1.00"}, {Kind: tariff.Material, Label: "PLA, 24 g at 0.10", Amount: "2.40"}}},
		Still: "still"}
}

// aRequest is one in a state, with a hostile patron.
func aRequest(state desk.State) desk.MyRequest {
	r := desk.Request{ID: "r1", Version: 7, Code: "K7-204", State: state, Branch: "b1", Source: "mail", Asked: aNow, Reason: "",
		Contact: desk.Contact{Name: hostile, Email: "rowan@example.org", Language: "en", UnderAge: true},
		Wish:    desk.Wish{SizeMM: 80, Colour: "green", Copies: 2, Needed: "2026-04-01", Purpose: hostile, Note: hostile + strings.Repeat("unbroken", 12)}}
	m := desk.MyRequest{Request: r, Branch: aBranch(), Settings: someSettings(), Now: aNow, Balance: "3.40", Plates: 2, Printed: 1}
	m.Files = []desk.File{
		{ID: "f1", Name: hostile + ".stl", Size: 2_100_000, Sent: aNow, Check: desk.Done, Result: &desk.Checked{Still: "s", Sheet: "t", View: "v",
			Answer: quote.Answer{SizeMM: [3]float64{80, 62, 3.4}, Unit: "mm", UnitReason: "read as millimetres, by its size", Findings: []findings.Finding{
				{ID: "thin", Severity: findings.Ask, Message: "A wall of 0.3 mm " + hostile, Places: []mesh.Vec{{1, 2, 3}}},
				{ID: "open", Severity: findings.Stop, Message: "It is not closed."}, {ID: "flat", Severity: findings.Note, Message: "The top is flat."}}}}},
		{ID: "f2", Name: "lid.3mf", Size: 900, Sent: aNow, Check: desk.Done, Result: &desk.Checked{}},
		{ID: "f3", Name: "hinge.stl", Size: 900, Sent: aNow, Check: desk.Checking},
		{ID: "f4", Name: "pin.stl", Size: 900, Sent: aNow, Check: desk.Failed},
	}
	m.Messages = []desk.Message{
		{From: desk.ByClock, Who: "Larkmere Libraries", Subject: "Your request K7-204", Text: "We have it.\n\nHere is your link.", At: aNow},
		{From: desk.ByPatron, Text: hostile + "\nsecond line", At: aNow}, {From: desk.ByStaff, Who: "Rowan", Text: "Which size?", At: aNow}}
	if state == desk.WithPatron {
		m.Request.Quote = &desk.Quote{Ways: []desk.Way{aWay("sensible", "3.40", 80), aWay("cheaper", "2.10", 80), aWay("largest", "7.90", 140)}, Best: "sensible", Until: aNow.AddDate(0, 0, 14)}
		m.Open = true
	}
	switch state {
	case desk.Agreed, desk.Printing, desk.OnShelf, desk.Collected:
		m.Request.Agreement = &desk.Agreement{Way: aWay("sensible", "3.40", 80), At: aNow, Guardian: hostile}
		m.Expect = aNow.Add(2 * time.Hour)
	}
	switch state {
	case desk.OnShelf, desk.Collected:
		m.Request.Shelf = &desk.Shelved{Until: aNow.AddDate(0, 0, 14), Place: "B 12"}
		m.Account = []desk.Charge{{Kind: desk.PriceCharge, Amount: "3.40", Currency: "GBP"}, {Kind: desk.Correction, Amount: "-0.40", Currency: "GBP", Reason: hostile}}
	case desk.Declined:
		m.Request.Reason = hostile
	}
	if state.Over() {
		m.Request.Due, m.Request.Closed = aNow.AddDate(0, 0, 30), aNow
	}
	return m
}

// hostile is what someone may type anywhere.
const hostile = `"><script>alert(1)</script><img src=x onerror=alert(2)>{{.}}'`

func init() {
	site := &Site{desk: &desk.Desk{Secret: []byte("a secret of tests")}}
	set := someSettings()
	facts := desk.AskFacts{Settings: set, Branches: []desk.Branch{aBranch(), {ID: "b2", Name: "Quay"}}, Colours: []string{"green", "red"}, Today: aNow}
	for _, t := range tongues {
		w := welcomeView{W: t, Others: others(set.Library, t, "/"), Costs: costs(set, t), Can: []Fact{{t.CanFiles, "STL"}}, Ask: "/ask",
			Branches: []branchToday{{"Millbrook", "3 Weir Lane", hoursOn(aBranch(), aNow, t)}, {"Quay", hostile, t.ClosedToday}}}
		example(welcomePage, "open "+t.Lang, w)

		in := sent{Values: map[string][]string{"form": {"ABCDEFGHIJKLMNOPQRST"}}}
		example(askPage, "empty "+t.Lang, site.askView(facts, in, nil, nil, t))
		for _, name := range []string{"length", "colour", "copies", "needed", "purpose", "note", "name", "email", "phone", "card", "language", "branch", "guardian", "age", "size", "unit"} {
			in.Set(name, hostile)
		}
		in.files = []desk.Upload{{Name: desk.CleanName(hostile + ".stl"), Hash: "h1", Size: 5e6}, {Name: "lid.stl", Hash: "h2", Size: 700}}
		f := &desk.Fault{Kind: desk.Wrong, Say: "Some answers need mending.", Fields: map[string]string{"files": "No.", "size": "No.", "copies": "No.", "name": "No.",
			"email": "No.", "branch": "No.", "age": "No.", "guardian": "No.", "rights": "No.", "terms": "No.", "needed": "No."}}
		example(askPage, "wrong "+t.Lang, site.askView(facts, in, f, f.Fields, t))

		for _, state := range desk.States() {
			if t != tongues[0] && state != desk.WithPatron && state != desk.OnShelf {
				continue // one language shows how it looks
			}
			v := site.mineView(aRequest(state), "thekey", t)
			if v.New = state == desk.Received; v.New {
				v.SentYou = sprintf(t.SentYou, strings.Repeat("long", 20)+"@example.org")
			}
			example(minePage, string(state)+" "+t.Lang, v)
		}
		again := site.mineView(aRequest(desk.InReview), "thekey", t)
		again.Again, again.Say, again.Write.Error = sprintf(t.AgainSay, t.moment(aNow)), "No.", "No."
		again.Errors = missed(again.Write)
		example(minePage, "again "+t.Lang, again)

		m := aRequest(desk.WithPatron)
		example(agreePage, "guardian "+t.Lang, agreePageOf(m, "/my/thekey", "sensible", nil, t))
		m.Request.Contact.UnderAge = false
		a := agreePageOf(m, "/my/thekey", "largest", map[string][]string{"guardian": {hostile}}, t)
		a.mark(map[string]string{"cautions": "No.", "rights": "No.", "age": "No.", "guardian": "No.", "accept": "No."}, t)
		a.Since = changes([]desk.Event{{At: aNow, Kind: desk.ByPatron, Say: "Wrote."}, {At: aNow, Kind: desk.ByStaff, After: string(desk.WithPatron)}}, "UTC", t)
		example(agreePage, "wrong "+t.Lang, a)

		example(leavePage, "withdraw "+t.Lang, withdrawView(m, "thekey", t))
		example(leavePage, "forget "+t.Lang, forgetView(m, "thekey", t))
		example(leavePage, "forget printing "+t.Lang, forgetView(aRequest(desk.Printing), "thekey", t))
		example(gonePage, "gone "+t.Lang, goneView{t})
	}
}
