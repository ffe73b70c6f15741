package tariff

import (
	"fmt"

	"github.com/bojanz/currency"
)

// Said puts every rounding the tariff does into words, a line each, in the
// order it is done.
func (t Tariff) Said() []string {
	t = t.complete()
	digits, _ := currency.GetDigits(t.Currency)
	n := int(digits)
	var said []string
	if len(t.PerGram) > 0 || t.PerGramOther != "" {
		said = append(said, "grams of each material rounded "+t.GramRounding.to(t.GramStep, "gram"))
	}
	if t.PerHour.check() == nil && !t.PerHour.dec().IsZero() {
		said = append(said, "printing time rounded "+t.MinuteRounding.to(t.MinuteStep, "minute"))
	}
	minor := Decimal("1")
	if n > 0 {
		minor = plain(Decimal("0."+zeros(n-1)+"1").dec(), n)
	}
	said = append(said, fmt.Sprintf("every line rounded %s", t.MoneyRounding.multiple(string(minor)+" "+t.Currency)))
	switch {
	case len(t.Taxes) == 1:
		said = append(said, "the tax rounded like any other line")
	case len(t.Taxes) > 1 && t.TaxTogether:
		said = append(said, "the taxes added together, then rounded once")
	case len(t.Taxes) > 1:
		said = append(said, "each tax rounded by itself")
	}
	if len(t.Taxes) > 0 && t.TaxIncluded {
		said = append(said, "prices include tax")
	}
	if t.TotalStep.check() == nil && !t.TotalStep.dec().IsZero() {
		step := plain(t.TotalStep.dec(), max(n, t.TotalStep.decimals()))
		said = append(said, "the total rounded "+t.TotalRounding.multiple(string(step)+" "+t.Currency))
	}
	return said
}

func zeros(n int) string {
	s := ""
	for range n {
		s += "0"
	}
	return s
}

// to says the rounding to multiples of a step of some unit.
func (r Rounding) to(step Decimal, unit string) string {
	if step.check() == nil {
		switch one, tenth, hundredth := Decimal("1"), Decimal("0.1"), Decimal("0.01"); {
		case step.dec().Cmp(one.dec()) == 0:
			return r.whole("whole " + unit + "s")
		case step.dec().Cmp(tenth.dec()) == 0:
			return r.whole("tenths of a " + unit)
		case step.dec().Cmp(hundredth.dec()) == 0:
			return r.whole("hundredths of a " + unit)
		}
	}
	return r.multiple(step.Number() + " " + unit + "s")
}

func (r Rounding) whole(units string) string {
	switch r {
	case Nearest:
		return "to the nearest of " + units + ", halves up"
	case HalfEven:
		return "to the nearest of " + units + ", halves to the even one"
	}
	return string(r) + " to " + units
}

func (r Rounding) multiple(of string) string {
	switch r {
	case Nearest:
		return "to the nearest " + of + ", halves up"
	case HalfEven:
		return "to the nearest " + of + ", halves to the even one"
	}
	return string(r) + " to a multiple of " + of
}

// Format writes an amount of the price as people of a locale do: "en-GB",
// "de", "ja". A locale that is not known is written as in English.
func (p Price) Format(d Decimal, locale string) string {
	a, err := currency.NewAmount(d.Number(), p.Currency)
	if err != nil {
		return d.Number() + " " + p.Currency
	}
	return currency.NewFormatter(currency.NewLocale(locale)).Format(a)
}
