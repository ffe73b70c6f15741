package tariff

import (
	"github.com/bojanz/currency"

	"platebook/engine/say"
)

// Said puts every rounding the tariff does into words, a line each, in the
// order it is done.
func (t Tariff) Said() []string { return say.Strings(t.Sayings()) }

// Sayings are what Said says, to be said in any language.
func (t Tariff) Sayings() []say.Saying {
	t = t.complete()
	digits, _ := currency.GetDigits(t.Currency)
	n := int(digits)
	var said []say.Saying
	if len(t.PerGram) > 0 || t.PerGramOther != "" {
		said = append(said, say.Of("grams of each material rounded %s", t.GramRounding.to(t.GramStep, grams)))
	}
	if t.PerHour.check() == nil && !t.PerHour.dec().IsZero() {
		said = append(said, say.Of("printing time rounded %s", t.MinuteRounding.to(t.MinuteStep, minutes)))
	}
	minor := Decimal("1")
	if n > 0 {
		minor = plain(Decimal("0."+zeros(n-1)+"1").dec(), n)
	}
	said = append(said, say.Of("every line rounded %s", t.MoneyRounding.multiple(say.Of("%s %s", minor.digits(), t.Currency))))
	switch {
	case len(t.Taxes) == 1:
		said = append(said, say.Of("the tax rounded like any other line"))
	case len(t.Taxes) > 1 && t.TaxTogether:
		said = append(said, say.Of("the taxes added together, then rounded once"))
	case len(t.Taxes) > 1:
		said = append(said, say.Of("each tax rounded by itself"))
	}
	if len(t.Taxes) > 0 && t.TaxIncluded {
		said = append(said, say.Of("prices include tax"))
	}
	if t.TotalStep.check() == nil && !t.TotalStep.dec().IsZero() {
		step := plain(t.TotalStep.dec(), max(n, t.TotalStep.decimals()))
		said = append(said, say.Of("the total rounded %s", t.TotalRounding.multiple(say.Of("%s %s", step.digits(), t.Currency))))
	}
	return said
}

// digits is a number as sentences show it.
func (d Decimal) digits() say.Digits { return say.Digits(d.Number()) }

func zeros(n int) string {
	s := ""
	for range n {
		s += "0"
	}
	return s
}

// unit is what is rounded, in the words its steps are said in.
type unit struct{ whole, tenths, hundredths, many say.Form }

var (
	grams   = unit{"whole grams", "tenths of a gram", "hundredths of a gram", "%s grams"}
	minutes = unit{"whole minutes", "tenths of a minute", "hundredths of a minute", "%s minutes"}
)

// to says the rounding to multiples of a step of some unit.
func (r Rounding) to(step Decimal, u unit) say.Saying {
	if step.check() == nil {
		switch one, tenth, hundredth := Decimal("1"), Decimal("0.1"), Decimal("0.01"); {
		case step.dec().Cmp(one.dec()) == 0:
			return r.among(say.Of(u.whole))
		case step.dec().Cmp(tenth.dec()) == 0:
			return r.among(say.Of(u.tenths))
		case step.dec().Cmp(hundredth.dec()) == 0:
			return r.among(say.Of(u.hundredths))
		}
	}
	return r.multiple(say.Of(u.many, step.digits()))
}

func (r Rounding) among(units say.Saying) say.Saying {
	switch r {
	case Nearest:
		return say.Of("to the nearest of %s, halves up", units)
	case HalfEven:
		return say.Of("to the nearest of %s, halves to the even one", units)
	case Down:
		return say.Of("down to %s", units)
	}
	return say.Of("up to %s", units)
}

func (r Rounding) multiple(of say.Saying) say.Saying {
	switch r {
	case Nearest:
		return say.Of("to the nearest %s, halves up", of)
	case HalfEven:
		return say.Of("to the nearest %s, halves to the even one", of)
	case Down:
		return say.Of("down to a multiple of %s", of)
	}
	return say.Of("up to a multiple of %s", of)
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
