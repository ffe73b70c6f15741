package tariff

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/bojanz/currency"
	"github.com/cockroachdb/apd/v3"

	"platebook/engine/say"
)

// Order is what is to be priced: everything one request takes.
type Order struct {
	Items   []Item  // grams by material, of all copies together
	Prints  int     // how many prints make up the request; at least 1
	Copies  int     // how many copies of the part; at least 1
	Seconds float64 // printing time of all prints together
}

// Item is one material's share. Items of the same material are added up
// before their grams are rounded.
type Item struct {
	Material string // id, as in Tariff.PerGram
	Name     string // what the line calls it; the id if empty
	Grams    float64
}

// Price is what an order costs, line by line. The lines add up to the total.
type Price struct {
	Currency string  `json:"currency"`
	Total    Decimal `json:"total"`
	Net      Decimal `json:"net"` // without tax, and before the total is rounded
	Tax      Decimal `json:"tax"` // all taxes, in or on top
	Lines    []Line  `json:"lines"`
	// Included are taxes that are in the lines already; they add nothing.
	Included []Line `json:"included_tax,omitempty"`
}

// Line is one line of a price. Quantity × Rate, rounded, is Amount, except
// where there is no quantity.
type Line struct {
	Kind     Kind    `json:"kind"`
	Label    string  `json:"label"` // says the whole line but the amount, in English
	Quantity Decimal `json:"quantity,omitempty"`
	Unit     string  `json:"unit,omitempty"` // of the quantity: g, h, %, …; the rate is per unit
	Rate     Decimal `json:"rate,omitempty"`
	Amount   Decimal `json:"amount"`
	// Saying is the label, to be said in other languages.
	Saying say.Saying `json:"saying,omitzero"`
}

// Limits of an order; beyond them a figure is a mistake.
const (
	mostItems   = 1000
	mostPrints  = 1_000_000
	mostGrams   = 1e9
	mostSeconds = 1e9
)

// sum is a price in the making.
type sum struct {
	t     Tariff
	n     int          // decimals of the currency
	minor *apd.Decimal // its smallest unit
	p     Price
	by    map[Kind]*apd.Decimal
	total *apd.Decimal
}

// Price prices the order, or says in a sentence why it cannot.
func (t Tariff) Price(o Order) (Price, error) {
	if err := t.Validate(); err != nil {
		return Price{}, err
	}
	if err := o.check(); err != nil {
		return Price{}, err
	}
	t = t.complete()
	digits, _ := currency.GetDigits(t.Currency)
	s := &sum{t: t, n: int(digits), minor: apd.New(1, -int32(digits)), by: map[Kind]*apd.Decimal{}, total: new(apd.Decimal)}
	s.p.Currency, s.p.Lines = t.Currency, []Line{}
	for _, step := range []func(Order) error{s.setUp, s.materials, s.time, s.minimum, s.taxes, s.roundTotal} {
		if err := step(o); err != nil {
			return Price{}, err
		}
	}
	s.p.Total = plain(s.total, s.n)
	return s.p, nil
}

func (o Order) check() error {
	if o.Prints < 1 || o.Copies < 1 || o.Prints > mostPrints || o.Copies > mostPrints {
		return fmt.Errorf("%d prints of %d copies cannot be priced: give at least 1 of each and at most %d", o.Prints, o.Copies, mostPrints)
	}
	if len(o.Items) > mostItems {
		return fmt.Errorf("%d materials cannot be priced together; the most is %d", len(o.Items), mostItems)
	}
	for _, i := range o.Items {
		if !(i.Grams >= 0 && i.Grams <= mostGrams) {
			return fmt.Errorf("%g g of %s cannot be priced: the mass must be a number of grams, 0 or more", i.Grams, clip(i.Material))
		}
	}
	if !(o.Seconds >= 0 && o.Seconds <= mostSeconds) {
		return fmt.Errorf("a printing time of %g s cannot be priced: it must be 0 or more", o.Seconds)
	}
	return nil
}

// add puts down a line of the given exact amount num/den, rounded to money.
func (s *sum) add(l Line, num, den *apd.Decimal) error {
	amount, err := s.t.MoneyRounding.round(num, den, s.minor)
	if err != nil {
		return err
	}
	return s.put(l, amount)
}

// put puts down a line whose amount is money already.
func (s *sum) put(l Line, amount *apd.Decimal) error {
	l.Amount, l.Label = plain(amount, s.n), l.Saying.String()
	s.p.Lines = append(s.p.Lines, l)
	if s.by[l.Kind] == nil {
		s.by[l.Kind] = new(apd.Decimal)
	}
	e := apd.MakeErrDecimal(exact)
	e.Add(s.by[l.Kind], s.by[l.Kind], amount)
	e.Add(s.total, s.total, amount)
	return e.Err()
}

func (s *sum) setUp(o Order) error {
	fee := s.t.SetUp.dec()
	if fee.IsZero() {
		return nil
	}
	times, label := 1, say.Of("Set-up")
	switch s.t.SetUpPer {
	case PerPrint:
		times = o.Prints
	case PerCopy:
		times = o.Copies
	}
	unit := string(s.t.SetUpPer)
	switch rate := s.money(s.t.SetUp).digits(); {
	case times > 1 && s.t.SetUpPer == PerPrint:
		label = say.Of("Set-up of %d prints at %s", times, rate)
	case times > 1:
		label = say.Of("Set-up of %d copies at %s", times, rate)
	}
	amount := new(apd.Decimal)
	if _, err := exact.Mul(amount, fee, apd.New(int64(times), 0)); err != nil {
		return err
	}
	return s.put(Line{Kind: SetUp, Saying: label, Quantity: Decimal(fmt.Sprint(times)), Unit: unit, Rate: s.money(s.t.SetUp)}, amount)
}

// money writes a rate with at least the currency's decimals.
func (s *sum) money(d Decimal) Decimal { return plain(d.dec(), max(s.n, d.decimals())) }

func (s *sum) materials(o Order) error {
	type share struct {
		id, name string
		grams    *apd.Decimal
	}
	var shares []share
	for _, i := range o.Items {
		g, err := fromFloat(i.Grams)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(shares, func(s share) bool { return s.id == i.Material })
		if at < 0 {
			name := i.Name
			if name == "" {
				name = i.Material
			}
			shares = append(shares, share{i.Material, name, g})
			continue
		}
		if _, err := exact.Add(shares[at].grams, shares[at].grams, g); err != nil {
			return err
		}
	}
	for _, h := range shares {
		rate, offered := s.t.PerGram[h.id]
		if !offered {
			rate = s.t.PerGramOther
		}
		if rate == "" && !offered {
			return fmt.Errorf("the tariff %s has no rate for %s; it has: %s", s.t.called(), clip(h.id), s.t.offered())
		}
		grams, err := s.t.GramRounding.round(h.grams, apd.New(1, 0), s.t.GramStep.dec())
		if err != nil {
			return err
		}
		q := plain(grams, s.t.GramStep.decimals())
		amount := new(apd.Decimal)
		if _, err := exact.Mul(amount, grams, rate.dec()); err != nil {
			return err
		}
		l := Line{Kind: Material, Quantity: q, Unit: "g", Rate: s.money(rate)}
		l.Saying = say.Of("%s g of %s at %s", q.digits(), clip(h.name), l.Rate.digits())
		if err := s.add(l, amount, apd.New(1, 0)); err != nil {
			return err
		}
	}
	return nil
}

func (t *Tariff) called() string {
	if t.Name != "" {
		return clip(t.Name)
	}
	return clip(t.ID)
}

func (t *Tariff) offered() string {
	if len(t.PerGram) == 0 {
		return "none"
	}
	return strings.Join(slices.Sorted(maps.Keys(t.PerGram)), ", ")
}

func (s *sum) time(o Order) error {
	if s.t.PerHour.dec().IsZero() {
		return nil
	}
	seconds, err := fromFloat(o.Seconds)
	if err != nil {
		return err
	}
	minutes, err := s.t.MinuteRounding.round(seconds, apd.New(60, 0), s.t.MinuteStep.dec())
	if err != nil {
		return err
	}
	q := plain(minutes, s.t.MinuteStep.decimals())
	amount := new(apd.Decimal)
	if _, err := exact.Mul(amount, minutes, s.t.PerHour.dec()); err != nil {
		return err
	}
	l := Line{Kind: PrintTime, Quantity: q, Unit: "min", Rate: s.money(s.t.PerHour)}
	l.Saying = say.Of("%s min of printing at %s an hour", q.digits(), l.Rate.digits())
	return s.add(l, amount, apd.New(60, 0))
}

func (s *sum) minimum(Order) error {
	missing := new(apd.Decimal)
	if _, err := exact.Sub(missing, s.t.Minimum.dec(), s.total); err != nil {
		return err
	}
	if missing.Sign() <= 0 {
		return nil
	}
	return s.put(Line{Kind: UpToLeast, Saying: say.Of("Up to the minimum of %s", s.money(s.t.Minimum).digits())}, missing)
}
