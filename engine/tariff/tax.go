package tariff

import (
	"github.com/cockroachdb/apd/v3"

	"platebook/engine/say"
)

// Taxes. A tax of p % is on the sum of the lines it names: what is added is
// p/100 of that sum. Where tax is included, a line of amount a that carries
// taxes of P % in all holds a/(1 + P/100) net, and each of its taxes is p/100 of
// that: a·p/(100+P). Lines carrying different taxes have different P, so the
// shares are kept as fractions with one common denominator until the one
// rounding each of them gets.

// fraction is num/den, exact.
type fraction struct{ num, den *apd.Decimal }

func (f *fraction) add(num, den *apd.Decimal) error {
	e := apd.MakeErrDecimal(exact)
	if f.den.Cmp(den) == 0 {
		e.Add(f.num, f.num, num)
		return e.Err()
	}
	cross := new(apd.Decimal)
	e.Mul(cross, num, f.den)
	e.Mul(f.num, f.num, den)
	e.Add(f.num, f.num, cross)
	e.Mul(f.den, f.den, den)
	return e.Err()
}

// shares returns each tax's exact amount, and on what it is.
func (s *sum) shares() (amounts []fraction, bases []*apd.Decimal, err error) {
	e := apd.MakeErrDecimal(exact)
	for _, tax := range s.t.Taxes {
		f, base := fraction{new(apd.Decimal), apd.New(1, 0)}, new(apd.Decimal)
		for _, k := range taxable {
			on := s.by[k]
			if on == nil || !tax.on(k) {
				continue
			}
			e.Add(base, base, on)
			den, num := apd.New(100, 0), new(apd.Decimal)
			if s.t.TaxIncluded {
				for _, other := range s.t.Taxes {
					if other.on(k) {
						e.Add(den, den, other.Percent.dec())
					}
				}
			}
			e.Mul(num, on, tax.Percent.dec())
			if err := f.add(num, den); err != nil {
				return nil, nil, err
			}
		}
		amounts, bases = append(amounts, f), append(bases, base)
	}
	return amounts, bases, e.Err()
}

func (s *sum) taxes(Order) error {
	before := new(apd.Decimal).Set(s.total)
	amounts, bases, err := s.shares()
	if err != nil {
		return err
	}
	tax := new(apd.Decimal)
	put := func(l Line, f fraction) error {
		amount, err := s.t.MoneyRounding.round(f.num, f.den, s.minor)
		if err != nil {
			return err
		}
		if _, err := exact.Add(tax, tax, amount); err != nil {
			return err
		}
		l.Kind = TaxLine
		if s.t.TaxIncluded {
			l.Saying = say.Of("Included: %s", l.Saying)
			l.Amount, l.Label = plain(amount, s.n), l.Saying.String()
			s.p.Included = append(s.p.Included, l)
			return nil
		}
		return s.put(l, amount)
	}
	if s.t.TaxTogether && len(amounts) > 1 {
		all := fraction{new(apd.Decimal), apd.New(1, 0)}
		var names []say.Saying
		for i, f := range amounts {
			if err := all.add(f.num, f.den); err != nil {
				return err
			}
			names = append(names, s.t.Taxes[i].said())
		}
		if err := put(Line{Saying: say.List(names...)}, all); err != nil {
			return err
		}
	} else {
		for i, f := range amounts {
			on := plain(bases[i], s.n)
			label := say.Of("%s on %s", s.t.Taxes[i].said(), on.digits())
			if err := put(Line{Saying: label, Quantity: s.t.Taxes[i].Percent, Unit: "%", Rate: on}, f); err != nil {
				return err
			}
		}
	}
	net := before
	if s.t.TaxIncluded {
		if _, err := exact.Sub(net, net, tax); err != nil {
			return err
		}
	}
	s.p.Net, s.p.Tax = plain(net, s.n), plain(tax, s.n)
	return nil
}

func (x Tax) said() say.Saying { return say.Of("%s %s %%", clip(x.Name), x.Percent.digits()) }

// roundTotal brings the total to a multiple of the step of its own.
func (s *sum) roundTotal(Order) error {
	step := s.t.TotalStep.dec()
	if step.IsZero() {
		return nil
	}
	to, err := s.t.TotalRounding.round(s.total, apd.New(1, 0), step)
	if err != nil {
		return err
	}
	difference := new(apd.Decimal)
	if _, err := exact.Sub(difference, to, s.total); err != nil || difference.IsZero() {
		return err
	}
	return s.put(Line{Kind: TotalRound, Saying: say.Of("Rounding to %s", s.money(s.t.TotalStep).digits())}, difference)
}
