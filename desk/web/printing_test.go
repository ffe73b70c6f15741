package web

import (
	"testing"
	"time"

	"platebook/desk"
	"platebook/engine/mesh"
	"platebook/engine/quote"
	"platebook/engine/tariff"
)

// The examples are a morning at an invented branch.
var (
	exampleNow    = time.Date(2026, 3, 4, 9, 15, 0, 0, time.UTC)
	exampleBranch = desk.Branch{ID: "branch-1", Name: "Old Harbour"}
	exampleOther  = desk.Branch{ID: "branch-2", Name: "Millfield"}
	exampleMill   = desk.PrinterUnit{ID: "printer-1", Name: "Heron", Branch: "branch-1", Model: "millrace-200"}
	exampleTwin   = desk.PrinterUnit{ID: "printer-2", Name: "Otter", Branch: "branch-1", Model: "millrace-300-twin"}
	exampleNames  = map[string]string{"pla": "PLA", "pva": "PVA, soluble"}
	exampleFail   = &desk.Failure{Why: "It came off the platform after an hour.", Blame: desk.MachineBlame, Grams: 7.5, By: "Rowan"}
	exampleKeyed  = []desk.Keyed{{Name: "Layer height", Value: "0.2 mm"}, {Name: "Infill", Value: "20 %, laid as grid"}, {Name: "Shells", Value: "2"},
		{Name: "Solid layers", Value: "4 on top, 4 below"}, {Name: "Supports", Value: "breakaway, where it leans more than 45° from the vertical"}, {Name: "Base", Value: "brim, 5 mm wide"}}
)

func exampleRequest(code desk.Code, change func(*desk.Request)) desk.Request {
	plates := []desk.PlateWay{{Seconds: 3 * 3600, Grams: map[string]float64{"pla": 42.3}}, {Seconds: 5400, Grams: map[string]float64{"pla": 17.6, "pva": 4.1}}}
	r := desk.Request{ID: "request-" + desk.ID(code), Version: 7, Code: code, State: desk.Agreed, Branch: exampleBranch.ID,
		Contact: desk.Contact{Name: "Robin Featherstone", Surname: "Featherstone"},
		Agreement: &desk.Agreement{At: exampleNow.Add(-48 * time.Hour), Way: desk.Way{ID: "sensible", Printer: "millrace-200", Material: []string{"pla", "pva"}, Plates: plates,
			Parts: []desk.PartWay{{File: "file-1", Copies: 1, Settings: quote.Settings{LayerHeightMM: 0.2}}}}}}
	if change != nil {
		change(&r)
	}
	return r
}

func examplePlate(r desk.Request, plate int) desk.PlateWaiting {
	return desk.PlateWaiting{Request: r, Plate: plate, Of: 2, Way: r.Agreement.Way.Plates[plate], Printer: "millrace-200", Model: "Millrace 200", Material: "PLA", Branch: "Old Harbour", Most: 2, Keyed: exampleKeyed}
}

func exampleRun(state desk.RunState, began time.Duration) desk.RunView {
	run := desk.Run{ID: "run-1", Version: 2, Branch: "branch-1", Printer: exampleMill.ID, State: state, By: "Rowan", Started: exampleNow.Add(-began), Expect: exampleNow.Add(3*time.Hour - began),
		Parts: []desk.RunPart{{Request: "request-K7-204", Plate: 0, Attempt: 1, Expect: map[string]float64{"pla": 42.3}},
			{Request: "request-M3-118", Plate: 1, Attempt: 2, Expect: map[string]float64{"pla": 17.6, "pva": 4.1}}},
		Spools: []desk.SpoolUse{{Spool: "spool-1", Material: "pla", Expect: 59.9}, {Spool: "spool-2", Material: "pva", Expect: 4.1}}}
	v := desk.RunView{Run: run, Printer: exampleMill, Model: "Millrace 200", Branch: exampleBranch, Zone: "UTC", Now: exampleNow, Materials: []string{"pla", "pva"}, Names: exampleNames,
		Spools: []desk.Spool{{ID: "spool-1", Name: "PLA-07", Colour: "red", Grams: 412.35}, {ID: "spool-2", Name: "PVA-01", Colour: "natural", Grams: 38}}}
	for i, p := range run.Parts {
		code := []desk.Code{"K7-204", "M3-118"}[i]
		v.Parts = append(v.Parts, desk.RunPartView{RunPart: p, Code: code, Branch: []string{"Old Harbour", "Millfield"}[i], Of: 2, Most: 2, Version: 7, State: desk.Printing, Latest: true,
			Stand: desk.PlateStand{Plate: p.Plate, State: desk.PlateGoing, Run: "run-1"}})
	}
	return v
}

func init() {
	needed := func(date string) func(*desk.Request) {
		return func(r *desk.Request) { r.Wish.Needed, r.Wish.Colour = date, "red" }
	}
	going, late, off := exampleRun(desk.Going, 70*time.Minute), exampleRun(desk.Going, 200*time.Minute), exampleRun(desk.Finished, 200*time.Minute)
	late.Run.ID = "run-2"
	off.Run.Ended = exampleNow.Add(-10 * time.Minute)
	a, b, c := exampleRequest("R2-311", needed("2026-03-02")), exampleRequest("T5-902", needed("2026-03-20")), exampleRequest("B4-400", nil)
	tried := examplePlate(b, 1)
	tried.Attempts, tried.LastTime = 1, exampleFail
	stuck := examplePlate(c, 0)
	stuck.Attempts = 2
	example(printingPage, "a morning", printingOf(desk.PrintingPage{Branch: exampleBranch, Branches: []desk.Branch{exampleBranch, exampleOther}, Zone: "UTC", Now: exampleNow,
		Printers: []desk.PrinterNow{
			{Printer: exampleMill, Model: "Millrace 200", Run: &going, Loaded: []desk.Spool{{Name: "PLA-07", Colour: "red", Grams: 412.35}}},
			{Printer: desk.PrinterUnit{ID: exampleTwin.ID, Name: exampleTwin.Name, Out: "the second nozzle drips"}, Model: "Millrace 300 Twin", Run: &late},
			{Printer: desk.PrinterUnit{ID: "printer-3", Name: "Wren"}, Model: "Fernhill 150"},
			{Printer: desk.PrinterUnit{ID: "printer-4", Name: "Swift", Out: "waits for a new nozzle"}, Model: "Fernhill 150"}},
		Waiting: []desk.PlateWaiting{examplePlate(a, 0), examplePlate(a, 1), tried}, Others: []desk.PlateWaiting{examplePlate(c, 1)}, Stuck: []desk.PlateWaiting{stuck},
		ToWeigh: []desk.RunView{off}, ToShelve: []desk.Request{a}, More: 214, WeighOver: true}))
	example(printingPage, "nothing to do", printingOf(desk.PrintingPage{Branch: exampleBranch, Branches: []desk.Branch{exampleBranch}, Zone: "UTC", Now: exampleNow,
		Printers: []desk.PrinterNow{{Printer: exampleMill, Model: "Millrace 200"}}}))

	spools := []desk.SpoolNow{{Spool: desk.Spool{ID: "spool-1", Name: "PLA-07", Material: "pla", Colour: "red", Hex: "#B03020", Grams: 61.2, Full: 1000, Loaded: exampleMill.ID}, MaterialName: "PLA", In: "Heron", Promised: 42.3, Low: true},
		{Spool: desk.Spool{ID: "spool-3", Name: "PLA-09", Material: "pla", Colour: "blue", Grams: 812, Full: 1000}, MaterialName: "PLA"},
		{Spool: desk.Spool{ID: "spool-4", Name: "PLA-02", Material: "pla", Colour: "green", Grams: 0, Full: 1000, Retired: true}, MaterialName: "PLA"}}
	start := desk.StartPage{Form: desk.StartForm{Printer: exampleMill.ID, Spools: []desk.ID{"spool-1", "spool-3"}}, Plates: []desk.PlateWaiting{examplePlate(a, 0), tried},
		Printers: []desk.PrinterNow{{Printer: exampleMill, Model: "Millrace 200"}, {Printer: desk.PrinterUnit{ID: "printer-5", Name: "Lark", Branch: exampleOther.ID}, Run: &going}},
		Reels:    []desk.ReelChoice{{Material: "pla", Name: "PLA", Grams: 59.9, Spools: spools[:2]}, {Material: "pva", Name: "PVA, soluble", Grams: 4.1}},
		Branches: map[desk.ID]string{"branch-1": "Old Harbour", "branch-2": "Millfield"}, Zone: "UTC", Now: exampleNow,
		Run: desk.Run{Started: exampleNow, Expect: exampleNow.Add(10 * time.Hour)},
		Warnings: []desk.Warning{{Kind: desk.WarnClosing, Reason: true, Say: "It should end at 19:15 on 4 March, after Old Harbour closes at 18:00."},
			{Kind: desk.WarnColour, Say: "T5-902 is wished in green, and PLA-07 is red."}}}
	example(startPage, "with warnings", startViewOf(start))
	start.Run, start.Warnings = desk.Run{}, nil
	start.Trouble = &desk.Fault{Kind: desk.Stale, Say: "Ash started something on Heron at 09:10. Finish that run first, or choose another printer; nothing you chose is lost."}
	example(startPage, "printer taken", startViewOf(start))
	start.Trouble = &desk.Fault{Kind: desk.Wrong, Say: "Choose a spool of PVA, soluble: the run needs 4 g.", Fields: map[string]string{"spool-pva": "Choose a spool of PVA, soluble: the run needs 4 g.", "plate": "These plates cannot share a platform."}}
	example(startPage, "to mend", startViewOf(start))

	example(runPage, "printing", runViewOf(going))
	mend := runViewOf(off)
	for i := range mend.Grams {
		mend.Grams[i].Fields[0].Value, mend.Grams[i].Fields[0].Error = "423", "423 g of PLA is far from the 42.3 g expected."
	}
	mend.Sure = &Field{Name: "sure", Label: "I looked at the scale again, and it is right", Error: "Look at the scale again. If it is right, say so and send once more."}
	mend.Errors = missed(mend.Grams[0].Fields[0], mend.Grams[1].Fields[0], *mend.Sure)
	mend.Open = true
	example(runPage, "weight far off", mend)
	weighed := exampleRun(desk.Weighed, 200*time.Minute)
	weighed.Run.Ended = exampleNow
	for i := range weighed.Parts {
		weighed.Parts[i].Weighed, weighed.Parts[i].Stand.State = map[string]float64{"pla": 41.9}, desk.PlateDone
	}
	weighed.Parts[1].Bad, weighed.Parts[1].Latest, weighed.Parts[1].Keeps = exampleFail, false, "Plate 1 of T5-902 turned out bad, and its weight stays as noted."
	done := runViewOf(weighed)
	done.Crossed = &Crossed{Say: "Someone changed this run while you had it open: it is weighed now.", Since: []Told{{At: exampleNow, Who: "Ash", Say: "Weighed plate 1: 41.9 g of PLA."}}, Typed: []Fact{{"K7-204, PLA", "42"}}}
	example(runPage, "weighed meanwhile", done)
	slip := runViewOf(weighed)
	slip.OpenTo, slip.AnewWhy.Error, slip.Anew[0].Fields[0].Value = "anew", "Say why it is weighed anew.", "1234"
	slip.Errors = missed(slip.AnewWhy)
	example(runPage, "weighed wrongly", slip)
	failed := exampleRun(desk.Spoiled, 70*time.Minute)
	failed.Run.Failure, failed.Run.Ended = exampleFail, exampleNow
	for i := range failed.Parts {
		failed.Parts[i].Stand.State = []desk.PlateState{desk.PlateWaits, desk.PlateStuck}[i]
	}
	example(runPage, "failed", runViewOf(failed))
	example(badPage, "to mend", badView{Code: "K7-204", Which: "plate 1 of 2", Action: "/desk/printing/bad/r/0", Version: 7, Errors: []Missed{{Target: "f-why", Say: "Say in a few words why."}},
		Why: Field{Name: "why", Label: "What is wrong with it", Error: "Say in a few words why."}, Blame: Field{Name: "blame", Label: "Whose failure it was", Choices: blames},
		Tell: Field{Name: "tell", Label: "Write to the patron that it is tried again", Value: "yes"}})

	example(workPage, "two parts", workOf(desk.WorkSlip{Library: "Larkmere Libraries", Branch: "Old Harbour", Code: "K7-204", Plate: 1, Of: 2, Attempt: 2, Most: 2, LastTime: exampleFail,
		Model: "Millrace 200", Colour: "red", Needed: "2026-03-20", Seconds: 5400, Settings: exampleKeyed,
		Reels: []desk.Reel{{Material: "PLA", Grams: 17.6, Metres: 5.9, NozzleC: 205, PlateC: 60, Cautions: []string{"Softens in a hot car."}}, {Material: "PVA, soluble", Grams: 4.1}},
		Parts: []desk.WorkPart{
			{Files: []desk.File{{ID: "file-1", Name: "lamp foot.stl", Size: 812345}, {ID: "file-2", Name: "lamp foot rim.stl", Size: 1234}}, Copies: 2, SizeMM: mesh.Vec{80, 80, 22.5}, Scale: 1.25, Unit: "inch",
				Pose: "Turned so that its largest flat face lies on the platform.", SpinDeg: 45},
			{Files: []desk.File{{ID: "file-3", Name: "<b>clip</b>.stl", Size: 99}}, Copies: 1, SizeMM: mesh.Vec{12, 4, 3}, AsSent: true, Keyed: exampleKeyed[:1]}},
		Findings: []string{"It stands on a small foot: 14 mm² for a height of 80 mm."}}))

	watch := desk.SpoolsPage{Branch: exampleBranch, Branches: []desk.Branch{exampleBranch, exampleOther}, Zone: "UTC", Materials: []desk.Named{{ID: "pla", Name: "PLA"}, {ID: "pva", Name: "PVA, soluble"}},
		Colours: []string{"blue", "green", "red"}, Spools: spools,
		Demands: []desk.Demand{{Material: "PLA", Plates: 2, Grams: 59.9, Left: 812}, {Material: "PLA", Colour: "red", Plates: 1, Grams: 42.3, Left: 18.9, Short: true}}}
	example(spoolsPage, "one low", spoolsOf(watch, desk.SpoolFilter{Material: "pla", Retired: true}))
	one := desk.SpoolView{SpoolNow: spools[0], At: exampleBranch, Zone: "UTC", Printers: []desk.PrinterUnit{exampleMill, exampleTwin}, Branches: watch.Branches, Materials: watch.Materials,
		Was: []desk.SpoolWas{{At: exampleNow, Who: "Ash", Say: "PLA-07: PLA, red, 1000 g when new, at Old Harbour."}},
		Lines: []desk.SpoolLineView{{SpoolLine: desk.SpoolLine{At: exampleNow, Who: "Rowan", Grams: -42.3, Why: "weighed", Run: "run-1"}, Left: 61.2, Codes: []desk.Code{"K7-204", "M3-118"}},
			{SpoolLine: desk.SpoolLine{At: exampleNow.Add(-time.Hour), Who: "Ash", Grams: 3.5, Why: "weighed the reel"}, Left: 103.5}}}
	example(spoolPage, "one", spoolOf(one))
	wrong := spoolOf(one)
	wrong.Open, wrong.Count.Value, wrong.Why.Value = "count", "much", ""
	wrong.refuse(map[string]string{"grams": "Write the grams left as a number from 0 to 20000.", "why": "Say why it is set."}, nil)
	example(spoolPage, "count to mend", wrong)
	fresh := spoolView{New: true, Title: "A new spool", Action: "/desk/printing/spools/new"}
	fresh.asked(desk.SpoolForm{Full: 1000}, watch.Branches, watch.Materials)
	example(spoolPage, "new", fresh)

	shelved := exampleRequest("K7-204", func(r *desk.Request) {
		r.State = desk.OnShelf
		r.Shelf = &desk.Shelved{Since: exampleNow.AddDate(0, 0, -10), Until: exampleNow.AddDate(0, 0, 4), Branch: "branch-1", Place: "B3", Called: []time.Time{exampleNow.AddDate(0, 0, -1)}}
	})
	over := exampleRequest("M3-118", func(r *desk.Request) {
		r.State, r.Contact = desk.OnShelf, desk.Contact{Name: "محمد الأحمد", Surname: "الأحمد"}
		r.Shelf = &desk.Shelved{Since: exampleNow.AddDate(0, 0, -20), Until: exampleNow.AddDate(0, 0, -6)}
	})
	example(shelfPage, "two", shelfOf(desk.ShelfPage{Branch: exampleBranch, Branches: []desk.Branch{exampleBranch, exampleOther}, Zone: "UTC", Now: exampleNow,
		Held:  []desk.Held{{Request: over, Name: "الأح م.", Balance: "0.00", Over: true}, {Request: shelved, Name: "FEAT R.", Balance: "7.40", Owed: "£7.40"}},
		Ready: []desk.ReadyToHold{{Request: exampleRequest("T5-902", nil), Name: "FEAT R.", From: "Millfield"}}, Over: true, HeldMore: 31}))
	price := tariff.Price{Currency: "GBP", Total: "7.40", Lines: []tariff.Line{{Kind: tariff.SetUp, Label: "Set-up", Amount: "1.00"}, {Kind: tariff.Material, Label: "61 g of PLA at 0.10", Amount: "6.10"}, {Kind: tariff.TaxLine, Label: "Tax 5 % on 7.10", Amount: "0.30"}}}
	account := desk.Account{Request: shelved, Currency: "GBP", Locale: "en-GB", Library: "Larkmere Libraries", Branch: exampleBranch, Zone: "UTC", Now: exampleNow, Balance: "5.40", Acts: true, Waives: true,
		Said: []string{"grams of each material rounded up to whole grams", "every line rounded to the nearest 0.01 GBP, halves up"},
		Lines: []desk.Charge{{Kind: desk.PriceCharge, Amount: "7.40", Currency: "GBP", Reason: "as weighed: 60.8 g of PLA", Who: "Rowan", At: exampleNow.AddDate(0, 0, -11), Price: &price},
			{Kind: desk.Payment, Amount: "-2.00", Currency: "GBP", Reason: "cash", Who: "Ash", At: exampleNow.AddDate(0, 0, -1)}}}
	example(heldPage, "to hand over", heldOf(account))
	example(accountPage, "owed", accountOf(account))
	example(receiptPage, "owed", receiptOf(account))
	short := heldOf(account)
	short.Pay.Value, short.Unpaid.Error = "5.00", "£0.40 is still owed. Note what was paid, or say why it is handed over all the same."
	short.Errors = missed(short.Unpaid)
	example(heldPage, "paid too little", short)
	place := account
	place.Request = exampleRequest("T5-902", func(r *desk.Request) { r.State = desk.Printing })
	example(heldPage, "to put there", heldOf(place))
	account.Balance = "-0.40"
	example(accountPage, "the library owes", accountOf(account))
	account.Balance, account.Waives = "5.40", false
	lower := accountOf(account)
	lower.Open, lower.Correct.Value, lower.Why.Value = "correct", "-0.40", "weighed with its brim"
	lower.Correct.Error = "Less than is owed now is a manager's to say, as a waiver is. Ask a manager of the branch to book it."
	lower.Errors = missed(lower.Correct)
	example(accountPage, "an operator lowers it", lower)
	account.Balance, account.Acts = "0.00", false
	example(receiptPage, "settled", receiptOf(account))
	example(slipPage, "Latin", slipView{Library: "Larkmere Libraries", Branch: "Old Harbour", Name: "FEAT R.", Code: "K7-204", Place: "B3", Until: shelved.Shelf.Until, Bars: "/desk/shelf/x/barcode.svg", Things: 3})
	example(slipPage, "Arabic", slipView{Library: "Larkmere Libraries", Branch: "Old Harbour", Name: "الأح م.", Code: "M3-118", Until: over.Shelf.Until, Bars: "/desk/shelf/x/barcode.svg", Things: 1})
}

// What was collected lies nowhere and waits for nobody.
func TestWhatIsCollectedLiesNowhere(t *testing.T) {
	for _, c := range []struct {
		state desk.State
		lies  bool
	}{{desk.OnShelf, true}, {desk.Collected, false}, {desk.Lapsed, false}} {
		r := exampleRequest("K7-204", func(r *desk.Request) {
			r.State = c.state
			r.Shelf = &desk.Shelved{Since: exampleNow, Until: exampleNow.AddDate(0, 0, 4), Place: "B3"}
		})
		v := heldOf(desk.Account{Request: r, Currency: "GBP", Branch: exampleBranch, Zone: "UTC", Now: exampleNow, Balance: "0.00"})
		lies := false
		for _, f := range v.Facts {
			lies = lies || f.Say == "B3" || f.Name == "Waits until"
		}
		if lies != c.lies {
			t.Errorf("%s: it says where it lies or until when: %v, want %v", c.state, lies, c.lies)
		}
	}
}
