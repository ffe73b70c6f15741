package desk_test

import (
	"math/big"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"platebook/desk"
	"platebook/engine/tariff"
)

// Rows marked REFERENCES are worked examples: 1.00 + 23 g × 0.10 = 3.30; with
// taxes of 5 % and 6 %, each rounded alone 3.67, taken together 3.66. The
// others were worked by hand, the working beside them.
func TestWhatIsOwed(t *testing.T) {
	taxes := func(together bool) func(*desk.Rules, *tariff.Tariff) {
		return func(_ *desk.Rules, tf *tariff.Tariff) {
			tf.Taxes, tf.TaxTogether = []tariff.Tax{{Name: "Five", Percent: "5"}, {Name: "Six", Percent: "6"}}, together
		}
	}
	final := func(f desk.FinalPrice) func(*desk.Rules, *tariff.Tariff) {
		return func(r *desk.Rules, _ *tariff.Tariff) { r.FinalPrice = f }
	}
	for _, c := range []struct {
		name            string
		change          func(*desk.Rules, *tariff.Tariff)
		quoted, weighed float64
		want            string
		why             string
	}{
		{"REFERENCES: 1.00 + 23 × 0.10", final(desk.AsWeighed), 25, 23, "3.30", "as weighed"},
		{"REFERENCES: taxes alone", taxes(false), 23, 23, "3.67", "as weighed and as quoted"},
		{"REFERENCES: taxes together", taxes(true), 23, 23, "3.66", "as weighed and as quoted"},
		{"weighed more, charged as weighed", final(desk.AsWeighed), 23, 25, "3.50", "as weighed"},        // 1.00 + 25 × 0.10
		{"weighed less, charged as quoted", final(desk.AsQuoted), 23, 20, "3.30", "as quoted"},           // 1.00 + 23 × 0.10
		{"weighed more, charged as quoted", final(desk.AsQuoted), 23, 30, "3.30", "as quoted"},           //
		{"weighed less, the lower", final(desk.TheLower), 23, 20, "3.00", "lower than quoted"},           // 1.00 + 20 × 0.10
		{"weighed more, the lower", final(desk.TheLower), 23, 30, "3.30", "as quoted, lower"},            //
		{"a hundredth over a gram", final(desk.AsWeighed), 23, 22.01, "3.30", "as weighed"},              // 23 g, rounded up
		{"a thousandth over is not kept", final(desk.AsWeighed), 23, 22.001, "3.20", "as weighed"},       // scales show hundredths: 22.00 g
		{"the minimum", func(r *desk.Rules, t *tariff.Tariff) { t.Minimum = "5" }, 23, 23, "5.00", "as"}, // 3.30 up to 5.00
	} {
		m := newRoom(t, c.change)
		r := m.weighed(c.quoted, c.weighed)
		if b := m.balance(r.ID); b != c.want {
			t.Errorf("%s: %s, want %s", c.name, b, c.want)
		}
		a, err := m.Account(m.ctx, m.operator(), r.ID)
		if err != nil || len(a.Lines) != 1 || a.Lines[0].Price == nil || !strings.Contains(a.Lines[0].Reason, c.why) {
			t.Errorf("%s: account %+v, %v", c.name, a.Lines, err)
			continue
		}
		if got, err := tariff.Sum(amounts(a.Lines[0].Price.Lines)...); err != nil || got.Cmp(a.Lines[0].Amount) != 0 {
			t.Errorf("%s: lines add up to %s, charged %s", c.name, got, a.Lines[0].Amount)
		}
		if len(a.Said) == 0 {
			t.Errorf("%s: how it is rounded is not said", c.name)
		}
	}
}

func amounts(lines []tariff.Line) (all []tariff.Decimal) {
	for _, l := range lines {
		all = append(all, l.Amount)
	}
	return all
}

// What was agreed counts, whatever tariff and rules came after.
func TestTheTariffOfTheAgreement(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 23))
	dearer := desk.DefaultRules()
	dearer.FinalPrice, dearer.Attempts, dearer.PatronPays = desk.AsWeighed, 1, []desk.Blame{desk.MachineBlame}
	m.setting(desk.RulesSetting, dearer)
	m.setting(desk.TariffSetting, tariff.Tariff{ID: "dear", Currency: "EUR", SetUp: "9.00", PerGram: map[string]tariff.Decimal{pla: "9.00"}, GramStep: "1", MinuteStep: "1"})
	if _, err := m.FailRun(m.ctx, m.operator(), m.start(platesOf(r)...).ID, 0, desk.FailForm{Form: m.form(), Why: "x", Blame: desk.MachineBlame, Grams: map[string]float64{pla: 5}}); err != nil {
		t.Fatal(err)
	}
	m.weigh(m.start(platesOf(r)...), 30)
	if b := m.balance(r.ID); b != "3.30" {
		t.Errorf("%s, want 3.30 as agreed", b)
	}
}

// Several plates are priced as one request once the last is weighed.
func TestPlatesArePricedTogether(t *testing.T) {
	m := newRoom(t)
	r := m.agreed(hours(1, 10), hours(1, 10), hours(1, 10))
	refs := platesOf(r)
	m.weigh(m.start(refs[0]), 9.4)
	m.weigh(m.start(refs[2]), 9.4)
	if b := m.balance(r.ID); b != "0.00" {
		t.Errorf("%s booked before all plates are weighed", b)
	}
	_, err := m.Shelve(m.ctx, m.operator(), r.ID, 0, "", m.form())
	faultIs(t, "shelving before all plates are weighed", err, desk.NotNow)
	m.weigh(m.start(refs[1]), 9.4)
	if b := m.balance(r.ID); b != "3.90" { // 28.2 g, 29 rounded up once; three times alone they would be 30
		t.Errorf("%s, want 3.90", b)
	}
}

// Two materials, each at its own rate.
func TestTwoMaterials(t *testing.T) {
	m := newRoom(t)
	r := m.agreedWith(func(r *desk.Request) {
		r.Agreement.Way.Printer, r.Agreement.Way.Material = m.twin.Model, []string{pla, pva}
	}, plate(3600, map[string]float64{pla: 20, pva: 5}))
	_, _, err := m.StartRun(m.ctx, m.operator(), desk.StartForm{Form: m.form(), Printer: m.twin.ID, Parts: platesOf(r), Spools: []desk.ID{m.red.ID}})
	faultIs(t, "without a spool for the supports", err, desk.Wrong)
	run, _, err := m.StartRun(m.ctx, m.operator(), desk.StartForm{Form: m.form(), Printer: m.twin.ID, Parts: platesOf(r), Spools: []desk.ID{m.pva.ID, m.red.ID}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.WeighRun(m.ctx, m.operator(), run.ID, 0, desk.WeighForm{Form: m.form(), Grams: []map[string]float64{{pla: 19, pva: 4}}}); err != nil {
		t.Fatal(err)
	}
	if b := m.balance(r.ID); b != "4.10" { // 1.00 + 19 × 0.10 + 4 × 0.30
		t.Errorf("%s, want 4.10", b)
	}
	m.read(func(tx desk.Tx) error {
		a, err := tx.Spool(m.red.ID)
		if err != nil {
			return err
		}
		b, err := tx.Spool(m.pva.ID)
		if a.Grams != 981 || b.Grams != 496 || a.Loaded != m.twin.ID || b.Loaded != m.twin.ID {
			t.Errorf("%g g and %g g left, in %q and %q", a.Grams, b.Grams, a.Loaded, b.Loaded)
		}
		return err
	})
	m.reelsAgree()
}

// Who pays for what fails, by the rules: the material, with its taxes.
func TestWhoPaysForFailures(t *testing.T) {
	for _, c := range []struct {
		name  string
		pays  []desk.Blame
		blame desk.Blame
		taxes []tariff.Tax
		want  string
	}{
		{"nobody", nil, desk.DesignBlame, nil, "0.00"},
		{"the design, patrons pay for it", []desk.Blame{desk.DesignBlame}, desk.DesignBlame, nil, "0.80"}, // 7.5 g, 8 rounded up
		{"the machine, patrons pay for designs", []desk.Blame{desk.DesignBlame}, desk.MachineBlame, nil, "0.00"},
		{"people, patrons pay for designs", []desk.Blame{desk.DesignBlame}, desk.PeopleBlame, nil, "0.00"},
		{"with tax", []desk.Blame{desk.DesignBlame}, desk.DesignBlame, []tariff.Tax{{Name: "Tax", Percent: "10"}}, "0.88"},
	} {
		m := newRoom(t, func(r *desk.Rules, tf *tariff.Tariff) { r.PatronPays, tf.Taxes, tf.Minimum = c.pays, c.taxes, "2.00" })
		r := m.agreed(hours(1, 20))
		if _, err := m.FailRun(m.ctx, m.operator(), m.start(platesOf(r)...).ID, 0, desk.FailForm{Form: m.form(), Why: "x", Blame: c.blame, Grams: map[string]float64{pla: 7.5}}); err != nil {
			t.Fatal(err)
		}
		if b := m.balance(r.ID); b != c.want {
			t.Errorf("%s: %s, want %s", c.name, b, c.want)
		}
	}
}

func TestMoneyByHand(t *testing.T) {
	m := newRoom(t)
	r := m.shelved(23, 23) // 3.30 owed
	type call func(desk.ID, string, tariff.Decimal, string) error
	pay := call(func(id desk.ID, form string, a tariff.Decimal, why string) error {
		_, err := m.Pay(m.ctx, m.operator(), id, form, a, why)
		return err
	})
	back := call(func(id desk.ID, form string, a tariff.Decimal, why string) error {
		_, err := m.PayBack(m.ctx, m.operator(), id, form, a, why)
		return err
	})
	correct := call(func(id desk.ID, form string, a tariff.Decimal, why string) error {
		_, err := m.Correct(m.ctx, m.operator(), id, form, a, why)
		return err
	})
	lower := call(func(id desk.ID, form string, a tariff.Decimal, why string) error {
		_, err := m.Correct(m.ctx, m.manager(), id, form, a, why)
		return err
	})
	waive := call(func(id desk.ID, form string, a tariff.Decimal, why string) error {
		_, err := m.Waive(m.ctx, m.manager(), id, form, a, why)
		return err
	})
	for _, c := range []struct {
		name   string
		call   call
		amount tariff.Decimal
		why    string
		kind   desk.Kind
		left   string
	}{
		{"more than is owed", pay, "3.31", "cash", desk.Wrong, "3.30"},
		{"nothing", pay, "0", "cash", desk.Wrong, "3.30"},
		{"less than nothing", pay, "-1", "cash", desk.Wrong, "3.30"},
		{"no amount", pay, "", "cash", desk.Wrong, "3.30"},
		{"words", pay, "three", "cash", desk.Wrong, "3.30"},
		{"not a number", pay, "NaN", "cash", desk.Wrong, "3.30"},
		{"tenths of a cent", pay, "1.001", "cash", desk.Wrong, "3.30"},
		{"without saying how", pay, "1.00", " ", desk.Wrong, "3.30"},
		{"a part", pay, "1,30", "cash", "", "2.00"},
		{"a correction without a reason", correct, "-0.50", "", desk.Wrong, "2.00"},
		{"a correction of nothing", correct, "0.00", "x", desk.Wrong, "2.00"},
		{"a correction down by an operator", correct, "-0.50", "a scratch on it", desk.Wrong, "2.00"},
		{"a correction down by a manager", lower, "-0.50", "a scratch on it", "", "1.50"},
		{"a correction up", correct, "0.25", "the bag", "", "1.75"},
		{"a correction far too large", correct, "1000001", "x", desk.Wrong, "1.75"},
		{"a waiver without a reason", waive, "0.75", "", desk.Wrong, "1.75"},
		{"a waiver of more than is owed", waive, "1.76", "x", desk.Wrong, "1.75"},
		{"a waiver", waive, "0.75", "kindness", "", "1.00"},
		{"giving back what was not paid too much", back, "0.10", "cash", desk.Wrong, "1.00"},
		{"the rest", pay, "1.00", "card", "", "0.00"},
		{"paying twice", pay, "1.00", "card", desk.NotNow, "0.00"},
		{"a correction below nothing by an operator", correct, "-0.40", "weighed anew", desk.Wrong, "0.00"},
		{"a correction below nothing by a manager", lower, "-0.40", "weighed anew", "", "-0.40"},
		{"giving back too much", back, "0.41", "cash", desk.Wrong, "-0.40"},
		{"giving back", back, "0.40", "cash", "", "0.00"},
	} {
		faultIs(t, c.name, c.call(r.ID, m.form(), c.amount, c.why), c.kind)
		if b := m.balance(r.ID); b != c.left {
			t.Errorf("%s: %s left, want %s", c.name, b, c.left)
		}
	}
	if !m.told(r.ID, "charged", "kindness") || !m.told(r.ID, "charged", "a scratch on it") {
		t.Error("reasons are not in the history")
	}
	never := m.agreedWith(func(r *desk.Request) { r.Agreement, r.State = nil, desk.InReview })
	faultIs(t, "paying for what was never agreed", pay(never.ID, m.form(), "1.00", "cash"), desk.NotNow)
	faultIs(t, "correcting what was never agreed", correct(never.ID, m.form(), "1.00", "x"), desk.NotNow)
}

// Whatever an operator does, what the patron owes and what the till took
// together never go down: only a manager lets anyone off.
func TestAnOperatorLetsNobodyOff(t *testing.T) {
	fewer(t, "20")
	m := newRoom(t)
	rapid.Check(t, func(rt *rapid.T) {
		r := m.shelved(23, 23)
		owed, till := big.NewRat(330, 100), new(big.Rat)
		for range rapid.IntRange(1, 6).Draw(rt, "lines") {
			amount := big.NewRat(rapid.Int64Range(-400, 400).Draw(rt, "cents"), 100)
			d := tariff.Decimal(amount.FloatString(2))
			var err error
			switch rapid.IntRange(0, 3).Draw(rt, "kind") {
			case 0:
				if _, err = m.Pay(m.ctx, m.operator(), r.ID, m.form(), d, "cash"); err == nil {
					till.Add(till, amount)
				}
			case 1:
				if _, err = m.PayBack(m.ctx, m.operator(), r.ID, m.form(), d, "cash"); err == nil {
					till.Sub(till, amount)
				}
			case 2:
				if _, err = m.Correct(m.ctx, m.operator(), r.ID, m.form(), d, "x"); err == nil && amount.Sign() < 0 {
					rt.Fatal("an operator let somebody off")
				}
			case 3:
				if _, err = m.Waive(m.ctx, m.operator(), r.ID, m.form(), d, "x"); err == nil {
					rt.Fatal("an operator waived")
				}
			}
			now, ok := new(big.Rat).SetString(string(m.balance(r.ID)))
			if !ok {
				rt.Fatalf("the balance is %q", m.balance(r.ID))
			}
			if now.Add(now, till).Cmp(owed) < 0 {
				rt.Fatalf("%s is owed or in the till, of %s before", now.FloatString(2), owed.FloatString(2))
			}
			owed = now
		}
	})
}

// The balance is the sum of what was done, by rationals, in whatever order.
func TestBalanceAgainstRationals(t *testing.T) {
	fewer(t, "20")
	m := newRoom(t)
	rapid.Check(t, func(rt *rapid.T) {
		r := m.shelved(23, 23)
		want := big.NewRat(330, 100)
		for range rapid.IntRange(1, 6).Draw(rt, "lines") {
			cents := rapid.Int64Range(-200, 400).Draw(rt, "cents")
			amount := big.NewRat(cents, 100)
			d := tariff.Decimal(amount.FloatString(2))
			var err error
			switch rapid.IntRange(0, 3).Draw(rt, "kind") {
			case 0:
				_, err = m.Pay(m.ctx, m.operator(), r.ID, m.form(), d, "cash")
				amount.Neg(amount)
			case 1:
				_, err = m.Waive(m.ctx, m.manager(), r.ID, m.form(), d, "x")
				amount.Neg(amount)
			case 2:
				_, err = m.Correct(m.ctx, m.manager(), r.ID, m.form(), d, "x")
			case 3:
				_, err = m.PayBack(m.ctx, m.operator(), r.ID, m.form(), d, "cash")
			}
			if err == nil {
				want.Add(want, amount)
			} else if k := desk.KindOf(err); k != desk.Wrong && k != desk.NotNow {
				rt.Fatal(err)
			}
		}
		if b := m.balance(r.ID); b != want.FloatString(2) {
			rt.Fatalf("balance %s, by rationals %s", b, want.FloatString(2))
		}
	})
}

func TestHandingOver(t *testing.T) {
	m := newRoom(t)
	collect := func(f desk.CollectForm) (desk.Request, error) {
		r := m.shelved(23, 23)
		f.Form = m.form()
		got, err := m.Collect(m.ctx, m.operator(), r.ID, r.Version, f)
		if err != nil {
			if s := m.request(r.ID); s.State != desk.OnShelf || m.balance(r.ID) != "3.30" {
				t.Errorf("%+v was refused, and it is %s with %s owed", f, s.State, m.balance(r.ID))
			}
		}
		return got, err
	}
	_, err := collect(desk.CollectForm{})
	faultIs(t, "with something owed", err, desk.Wrong)
	_, err = collect(desk.CollectForm{Pay: "3.00", How: "cash"})
	faultIs(t, "with too little paid", err, desk.Wrong)
	_, err = collect(desk.CollectForm{Pay: "5", How: "cash"})
	faultIs(t, "with too much paid", err, desk.Wrong)
	r, err := collect(desk.CollectForm{Pay: "3.30", How: "cash"})
	if err != nil || r.State != desk.Collected || m.balance(r.ID) != "0.00" || r.Closed.IsZero() || r.Due.IsZero() {
		t.Errorf("paid: %+v, %v", r.State, err)
	}
	r, err = collect(desk.CollectForm{Pay: "3.00", How: "cash", Unpaid: "no change in the till"})
	if err != nil || r.State != desk.Collected || !m.told(r.ID, "collected", "€0.30 owed: no change in the till") {
		t.Errorf("with a reason: %+v, %v: %+v", r.State, err, m.events(r.ID))
	}
	m.read(func(tx desk.Tx) error {
		all, err := tx.Tallies("0000-00", "9999-99")
		if len(all) != 2 || all[0].Paid != "3.30" || all[1].Paid != "3.00" {
			t.Errorf("counted: %+v", all)
		}
		return err
	})
}

func TestShelfAndCalls(t *testing.T) {
	m := newRoom(t)
	r := m.weighed(23, 23)
	_, err := m.Shelve(m.ctx, m.operator(), r.ID, r.Version, strings.Repeat("x", 61), m.form())
	faultIs(t, "a place of 61 letters", err, desk.Wrong)
	r, err = m.Shelve(m.ctx, m.operator(), r.ID, r.Version, "B3", m.form())
	if err != nil {
		t.Fatal(err)
	}
	// Pickup 14 days: to the end of the fourteenth day after.
	if want := time.Date(2026, 3, 16, 23, 59, 59, 999_999_000, time.UTC); !r.Shelf.Until.Equal(want) {
		t.Errorf("it waits until %s, want %s", r.Shelf.Until, want)
	}
	for _, how := range []string{"by telephone", desk.ByMessage} {
		if r, err = m.CallPatron(m.ctx, m.operator(), r.ID, r.Version, how, m.form()); err != nil {
			t.Fatal(err)
		}
	}
	m.read(func(tx desk.Tx) error {
		all, err := tx.Messages(r.ID)
		if len(all) != 2 || len(r.Shelf.Called) != 2 || !strings.Contains(all[0].Text, "3.30") {
			t.Errorf("%d messages, %d calls: %+v", len(all), len(r.Shelf.Called), all)
		}
		return err
	})
	p, err := m.ShelfPage(m.ctx, m.operator(), "", false)
	if err != nil || len(p.Held) != 1 || p.Held[0].Name != "EXAM S." || p.Held[0].Owed != "€3.30" || p.Held[0].Over {
		t.Errorf("shelf: %+v, %v", p.Held, err)
	}
	op := staffOf("Al", desk.Operator, m.alder.ID)
	_, err = m.LapseNow(m.ctx, op, r.ID, r.Version, "never came", m.form())
	faultIs(t, "lapsing before its days are over", err, desk.NotYours)
	m.at = r.Shelf.Until.Add(time.Second)
	if r, err = m.LapseNow(m.ctx, op, r.ID, r.Version, "Never came.", m.form()); err != nil || r.State != desk.Lapsed || r.Reason != "Never came." {
		t.Errorf("lapsing after: %v, %s, %q", err, r.State, r.Reason)
	}
	for _, text := range []string{string(r.Code), strings.ToLower(strings.Replace(string(r.Code), "-", " ", 1))} {
		if got, err := m.Scanned(m.ctx, op, text); err != nil || got.ID != r.ID {
			t.Errorf("scanning %q: %v", text, err)
		}
	}
	_, err = m.Scanned(m.ctx, op, "hello")
	faultIs(t, "scanning something else", err, desk.Wrong)
	_, err = m.Scanned(m.ctx, op, "Z9-999")
	faultIs(t, "scanning a code there is not", err, desk.NotFound)
	_, err = m.Scanned(m.ctx, staffOf("x", desk.Operator, m.birch.ID), string(r.Code))
	faultIs(t, "scanning another branch's", err, desk.NotYours)
}

// A slip tells who it is only to someone who knows.
func TestSlipTellsNothing(t *testing.T) {
	m := newRoom(t)
	r := m.shelved(23, 23)
	s, err := m.Slip(m.ctx, m.operator(), r.ID)
	if err != nil {
		t.Fatal(err)
	}
	if s.Name != "EXAM S." || s.Code != r.Code || s.Branch != "Alder" || s.Place != "B3" || !s.Until.Equal(r.Shelf.Until) || s.Things != 1 {
		t.Errorf("slip: %+v", s)
	}
}

// A library that changes its currency is still paid in the old one for what was
// agreed in it, and says so in its letters.
func TestOwedInTheCurrencyAgreed(t *testing.T) {
	m := newRoom(t)
	r := m.weighed(23, 23)
	m.setting(desk.TariffSetting, tariff.Tariff{ID: "plain", Currency: "GBP", PerGramOther: "0.20", GramStep: "1", MinuteStep: "1"})
	m.setting(desk.TextsSetting, desk.Texts{"en": {desk.TextReady: {Subject: "{{.Code}}", Body: "To pay: {{.Owed}}. {{.Link}}"}}})
	if _, err := m.Shelve(m.ctx, m.operator(), r.ID, r.Version, "B3", m.form()); err != nil {
		t.Fatal(err)
	}
	m.read(func(tx desk.Tx) error {
		all, err := tx.Messages(r.ID)
		if len(all) != 1 || !strings.Contains(all[0].Text, "To pay: €3.30.") {
			t.Errorf("the letter says %+v, want €3.30", all)
		}
		return err
	})
}
