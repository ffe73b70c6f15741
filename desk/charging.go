package desk

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"platebook/engine/tariff"
)

// What the program itself books on an account, at the moment the rows it
// follows from are written. Everything is by the tariff and the rules in force
// when the patron agreed.

// booked is the beginning of the Form of what settle books.
const booked = "price "

// settle books what r costs once all its plates are weighed. If a price was
// booked before (a plate was printed again, or the agreement was opened and
// made anew), only what differs is booked, as a correction.
func (d *Desk) settle(tx Tx, r Request, by Actor) error {
	if r.Agreement == nil || r.State != Printing && r.State != OnShelf {
		return nil
	}
	runs, err := tx.RunsOf(r.ID)
	if err != nil {
		return err
	}
	rules, err := agreedRules(tx, r)
	if err != nil {
		return err
	}
	if !allDone(Stands(r, runs, rules.Attempts)) {
		return nil
	}
	s, err := settings(tx)
	if err != nil {
		return err
	}
	t, err := agreedTariff(tx, r)
	if err != nil {
		return err
	}
	price, why, err := finalPrice(rules.FinalPrice, t, r.Agreement.Way, weighedOf(r, runs), namesOf(s))
	if err != nil {
		return err
	}
	before, err := tx.Charges(r.ID)
	if err != nil {
		return err
	}
	var amounts []tariff.Decimal
	n := 0
	for _, c := range before {
		if strings.HasPrefix(c.Form, booked) {
			amounts = append(amounts, c.Amount)
			n++
		}
	}
	c := Charge{Request: r.ID, Form: fmt.Sprint(booked, n), Kind: PriceCharge, Amount: price.Total, Currency: price.Currency, Reason: why, Price: &price}
	if n > 0 {
		was, err := tariff.Sum(amounts...)
		if err != nil {
			return err
		}
		if c.Amount, err = tariff.Sum(price.Total, was.Neg()); err != nil {
			return err
		}
		if c.Amount.Cmp("0") == 0 {
			return nil
		}
		c.Kind, c.Reason = Correction, fmt.Sprintf("weighed anew; the price is now %s, %s", price.Format(price.Total, s.Library.Locale), why)
	}
	return d.book(tx, r, by, c, s.Library.Locale)
}

// weighedOf is what the plates of r's agreement took, by material, in the runs
// that count.
func weighedOf(r Request, runs []Run) map[string]float64 {
	grams := map[string]float64{}
	stands := Stands(r, runs, 0)
	for _, run := range runs {
		for _, p := range run.Parts {
			if p.Request == r.ID && p.Plate >= 0 && p.Plate < len(stands) && stands[p.Plate].Run == run.ID && p.Bad == nil && run.State == Weighed {
				for m, g := range p.Weighed {
					grams[m] = hundredths(grams[m] + g)
				}
			}
		}
	}
	return grams
}

// order is what a tariff prices of a way that took so many grams.
func (w Way) order(grams map[string]float64, n names) tariff.Order {
	o := tariff.Order{Prints: max(1, len(w.Plates)), Seconds: w.Seconds}
	for _, p := range w.Parts {
		o.Copies += max(0, p.Copies)
	}
	o.Copies = max(1, o.Copies)
	ids := slices.Sorted(maps.Keys(grams))
	// In the order of the way, as the quote has them.
	slices.SortStableFunc(ids, func(a, b string) int { return w.place(a) - w.place(b) })
	for _, id := range ids {
		if grams[id] > 0 {
			o.Items = append(o.Items, tariff.Item{Material: id, Name: n.material(id), Grams: grams[id]})
		}
	}
	return o
}

func (w Way) place(material string) int {
	if i := slices.Index(w.Material, material); i >= 0 {
		return i
	}
	return len(w.Material)
}

// finalPrice is what is charged for a way that took so many grams, and why it
// is that: "as quoted", "as weighed", or the lower of the two. Printing time
// is that of the quote.
func finalPrice(rule FinalPrice, t tariff.Tariff, w Way, grams map[string]float64, n names) (tariff.Price, string, error) {
	took := weights(grams, n)
	if rule == AsQuoted {
		return w.Price, "as quoted; it took " + took, nil
	}
	weighed, err := t.Price(w.order(grams, n))
	if err != nil {
		return tariff.Price{}, "", &Fault{Kind: Broken, Say: "The tariff of the agreement cannot price what was weighed. Nothing was noted; tell whoever looks after the program.", Err: err}
	}
	if rule == AsWeighed {
		return weighed, "as weighed: " + took, nil
	}
	if w.Price.Currency != weighed.Currency || w.Price.Total.Cmp(weighed.Total) > 0 {
		return weighed, "as weighed, lower than quoted: " + took, nil
	}
	if w.Price.Total.Cmp(weighed.Total) == 0 {
		return weighed, "as weighed and as quoted: " + took, nil
	}
	return w.Price, "as quoted, lower than weighed; it took " + took, nil
}

// chargeWaste books the material of a failed attempt, with its taxes, if by
// the rules of the agreement the patron pays for failures of this kind.
func (d *Desk) chargeWaste(tx Tx, r Request, by Actor, form string, f Failure, grams map[string]float64) error {
	if r.Agreement == nil || r.State.Over() {
		return nil
	}
	rules, err := agreedRules(tx, r)
	if err != nil || !slices.Contains(rules.PatronPays, f.Blame) {
		return err
	}
	s, err := settings(tx)
	if err != nil {
		return err
	}
	t, err := agreedTariff(tx, r)
	if err != nil {
		return err
	}
	// The material alone: set-up, time and minimum are of the print.
	t.SetUp, t.PerHour, t.Minimum = "0", "0", "0"
	n := namesOf(s)
	o := r.Agreement.Way.order(grams, n)
	if len(o.Items) == 0 {
		return nil
	}
	price, err := t.Price(o)
	if err != nil {
		return &Fault{Kind: Broken, Say: "The tariff of the agreement cannot price what was wasted. Nothing was noted; tell whoever looks after the program.", Err: err}
	}
	if price.Total.Cmp("0") == 0 {
		return nil
	}
	return d.book(tx, r, by, Charge{Request: r.ID, Form: form, Kind: PriceCharge, Amount: price.Total, Currency: price.Currency,
		Reason: fmt.Sprintf("material of a failed attempt, by the %s: %s (%s)", blameWord(f.Blame), weights(grams, n), stop(f.Why)), Price: &price}, s.Library.Locale)
}

// book adds a line to the account of r, and to its history.
func (d *Desk) book(tx Tx, r Request, by Actor, c Charge, locale string) error {
	c.ID, c.Who, c.At = NewID(), by.Name, d.now()
	if err := tx.AddCharge(&c); err != nil {
		return err
	}
	before, err := tx.Charges(r.ID)
	if err != nil {
		return err
	}
	now, err := balance(before)
	if err != nil {
		return err
	}
	write := func(a tariff.Decimal) string { return tariff.Price{Currency: c.Currency}.Format(a, locale) }
	say := fmt.Sprintf("%s: %s", chargeWords[c.Kind], write(c.Amount))
	if c.Kind == Payment || c.Kind == Waiver {
		say = fmt.Sprintf("%s: %s", chargeWords[c.Kind], write(c.Amount.Neg()))
	}
	if c.Reason != "" {
		say += ", " + stop(c.Reason)
	}
	return d.note(tx, r, by, Event{What: "charged", Say: fmt.Sprintf("%s. The balance is %s.", say, write(now))})
}

var chargeWords = map[ChargeKind]string{
	PriceCharge: "Charged", Correction: "Corrected", Waiver: "Waived", Payment: "Paid", Repayment: "Paid back",
}

// balance is what is owed: the sum of all lines.
func balance(lines []Charge) (tariff.Decimal, error) {
	all := make([]tariff.Decimal, len(lines))
	for i, c := range lines {
		all[i] = c.Amount
	}
	return tariff.Sum(all...)
}
