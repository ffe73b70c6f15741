package tariff

import (
	"encoding/json"
	"math"
	"math/big"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

func larkmere(t testing.TB) Tariff {
	t.Helper()
	l, err := Builtin().Tariff("larkmere")
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// plainTariff is 1.00 set-up and 0.10 a gram, whole grams upwards.
func plainTariff(change func(*Tariff)) Tariff {
	t := Tariff{ID: "plain", Currency: "EUR", SetUp: "1.00", PerGram: map[string]Decimal{"pla": "0.10", "pva": "0.305"}}
	if change != nil {
		change(&t)
	}
	return t
}

func order(grams float64) Order {
	return Order{Items: []Item{{Material: "pla", Grams: grams}}, Prints: 1, Copies: 1}
}

// Rows marked REFERENCES are worked in the project's references, "Rounding";
// the others were worked by hand and the working stands beside them.
func TestPrice(t *testing.T) {
	taxes := []Tax{{Name: "Five", Percent: "5"}, {Name: "Six", Percent: "6"}}
	for _, c := range []struct {
		name    string
		tariff  Tariff
		order   Order
		amounts string // of the lines, in order
		total   string
		net     string
		tax     string
	}{
		{"REFERENCES: 1.00 + 23 × 0.10", plainTariff(nil), order(23), "1.00 2.30", "3.30", "3.30", "0.00"},
		{"REFERENCES: taxes alone", plainTariff(func(t *Tariff) { t.Taxes = taxes }), order(23),
			"1.00 2.30 0.17 0.20", "3.67", "3.30", "0.37"}, // 0.165 → 0.17, 0.198 → 0.20
		{"REFERENCES: taxes together", plainTariff(func(t *Tariff) { t.Taxes, t.TaxTogether = taxes, true }), order(23),
			"1.00 2.30 0.36", "3.66", "3.30", "0.36"}, // 0.363 → 0.36
		{"22.01 g is 23 upwards", plainTariff(nil), order(22.01), "1.00 2.30", "3.30", "3.30", "0.00"},
		{"22.5 g nearest, half up", plainTariff(func(t *Tariff) { t.GramRounding = Nearest }), order(22.5), "1.00 2.30", "3.30", "3.30", "0.00"},
		{"22.5 g half to even", plainTariff(func(t *Tariff) { t.GramRounding = HalfEven }), order(22.5), "1.00 2.20", "3.20", "3.20", "0.00"},
		{"23.5 g half to even", plainTariff(func(t *Tariff) { t.GramRounding = HalfEven }), order(23.5), "1.00 2.40", "3.40", "3.40", "0.00"},
		{"22.99 g downwards", plainTariff(func(t *Tariff) { t.GramRounding = Down }), order(22.99), "1.00 2.20", "3.20", "3.20", "0.00"},
		{"22.31 g to tenths upwards", plainTariff(func(t *Tariff) { t.GramStep = "0.1" }), order(22.31),
			"1.00 2.24", "3.24", "3.24", "0.00"}, // 22.4 × 0.10
		{"0.1 + 0.2 g is 0.3 g, not a little more", plainTariff(func(t *Tariff) { t.GramStep = "0.1" }),
			Order{Items: []Item{{Material: "pla", Grams: 0.1}, {Material: "pla", Grams: 0.2}}, Prints: 1, Copies: 1},
			"1.00 0.03", "1.03", "1.03", "0.00"},
		{"two materials", plainTariff(nil),
			Order{Items: []Item{{Material: "pla", Grams: 23}, {Material: "pva", Grams: 4.2}}, Prints: 1, Copies: 1},
			"1.00 2.30 1.53", "4.83", "4.83", "0.00"}, // 5 × 0.305 = 1.525 → 1.53
		{"money half to even", plainTariff(func(t *Tariff) { t.MoneyRounding = HalfEven }),
			Order{Items: []Item{{Material: "pva", Grams: 5}}, Prints: 1, Copies: 1}, "1.00 1.52", "2.52", "2.52", "0.00"},
		{"a material not named", plainTariff(func(t *Tariff) { t.PerGramOther = "0.2" }),
			Order{Items: []Item{{Material: "abs", Grams: 3}}, Prints: 1, Copies: 1}, "1.00 0.60", "1.60", "1.60", "0.00"},
		{"set-up for each print", plainTariff(func(t *Tariff) { t.SetUpPer = PerPrint }),
			Order{Items: []Item{{Material: "pla", Grams: 23}}, Prints: 3, Copies: 12}, "3.00 2.30", "5.30", "5.30", "0.00"},
		{"set-up for each copy", plainTariff(func(t *Tariff) { t.SetUpPer = PerCopy }),
			Order{Items: []Item{{Material: "pla", Grams: 23}}, Prints: 3, Copies: 12}, "12.00 2.30", "14.30", "14.30", "0.00"},
		{"minimum", plainTariff(func(t *Tariff) { t.Minimum = "5" }), order(23), "1.00 2.30 1.70", "5.00", "5.00", "0.00"},
		{"minimum just reached", plainTariff(func(t *Tariff) { t.Minimum = "3.30" }), order(23), "1.00 2.30", "3.30", "3.30", "0.00"},
		{"minimum, then tax", plainTariff(func(t *Tariff) { t.Minimum, t.Taxes = "5", taxes[:1] }), order(23),
			"1.00 2.30 1.70 0.25", "5.25", "5.00", "0.25"},
		{"by the hour", plainTariff(func(t *Tariff) { t.PerHour = "1.25" }),
			Order{Items: []Item{{Material: "pla", Grams: 23}}, Prints: 1, Copies: 1, Seconds: 6001},
			"1.00 2.30 2.10", "5.40", "5.40", "0.00"}, // 101 min × 1.25 / 60 = 2.104…
		{"by begun half hours", plainTariff(func(t *Tariff) { t.PerHour, t.MinuteStep = "1.25", "30" }),
			Order{Items: []Item{{Material: "pla", Grams: 23}}, Prints: 1, Copies: 1, Seconds: 6001},
			"1.00 2.30 2.50", "5.80", "5.80", "0.00"}, // 120 min
		{"smallest coin 0.05", plainTariff(func(t *Tariff) { t.TotalStep = "0.05" }),
			Order{Items: []Item{{Material: "pva", Grams: 4}}, Prints: 1, Copies: 1},
			"1.00 1.22 -0.02", "2.20", "2.22", "0.00"},
		{"smallest coin 0.05, upwards", plainTariff(func(t *Tariff) { t.TotalStep, t.TotalRounding = "0.05", Up }),
			Order{Items: []Item{{Material: "pva", Grams: 4}}, Prints: 1, Copies: 1},
			"1.00 1.22 0.03", "2.25", "2.22", "0.00"},
		{"tax on material only", plainTariff(func(t *Tariff) { t.Taxes = []Tax{{"Five", "5", []Kind{Material}}} }), order(23),
			"1.00 2.30 0.12", "3.42", "3.30", "0.12"}, // 0.115 → 0.12
		{"tax included", plainTariff(func(t *Tariff) { t.Taxes, t.TaxIncluded = []Tax{{Name: "Twenty", Percent: "20"}}, true }), order(23),
			"1.00 2.30", "3.30", "2.75", "0.55"}, // 3.30 / 1.2
		{"taxes included, together", plainTariff(func(t *Tariff) { t.Taxes, t.TaxIncluded, t.TaxTogether = taxes, true, true }), order(23),
			"1.00 2.30", "3.30", "2.97", "0.33"}, // 3.30 × 11/111 = 0.327…
		{"yen have no decimals", Tariff{Currency: "JPY", SetUp: "100", PerGram: map[string]Decimal{"pla": "12.5"}}, order(23),
			"100 288", "388", "388", "0"}, // 287.5 → 288
		{"dinars have three", Tariff{Currency: "KWD", SetUp: "0.25", PerGram: map[string]Decimal{"pla": "0.0315"}}, order(23),
			"0.250 0.725", "0.975", "0.975", "0.000"}, // 0.7245 → 0.725
		{"nothing costs nothing", Tariff{Currency: "EUR"}, Order{Prints: 1, Copies: 1}, "", "0.00", "0.00", "0.00"},
	} {
		p, err := c.tariff.Price(c.order)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		var amounts []string
		for _, l := range p.Lines {
			amounts = append(amounts, l.Amount.Number())
		}
		got := []string{strings.Join(amounts, " "), p.Total.Number(), p.Net.Number(), p.Tax.Number()}
		if d := cmp.Diff([]string{c.amounts, c.total, c.net, c.tax}, got); d != "" {
			t.Errorf("%s:\n%s", c.name, d)
		}
	}
}

// Minor units of ISO 4217 (MEMORY): no decimals, two, three, four. For a few
// currencies, such as IQD, the library follows what CLDR says is in use.
func TestMinorUnits(t *testing.T) {
	for zero, codes := range map[string]string{
		"0": "JPY KRW VND CLP XAF XPF ISK", "0.00": "EUR GBP USD CAD AUD CHF SEK INR BRL MXN ZAR PLN",
		"0.000": "KWD BHD OMR JOD TND LYD", "0.0000": "CLF",
	} {
		for _, code := range strings.Fields(codes) {
			p, err := Tariff{Currency: code}.Price(Order{Prints: 1, Copies: 1})
			if err != nil || p.Total.Number() != zero {
				t.Errorf("%s: total %s, error %v; want %s", code, p.Total, err, zero)
			}
		}
	}
}

func TestSaid(t *testing.T) {
	tf := plainTariff(func(t *Tariff) {
		t.Taxes, t.TaxTogether = []Tax{{Name: "A", Percent: "5"}, {Name: "B", Percent: "6"}}, true
		t.PerHour, t.MinuteStep, t.TotalStep, t.GramStep, t.GramRounding = "1", "15", "0.05", "0.1", Nearest
	})
	want := []string{
		"grams of each material rounded to the nearest of tenths of a gram, halves up",
		"printing time rounded up to a multiple of 15 minutes",
		"every line rounded to the nearest 0.01 EUR, halves up",
		"the taxes added together, then rounded once",
		"the total rounded to the nearest 0.05 EUR, halves up",
	}
	if d := cmp.Diff(want, tf.Said()); d != "" {
		t.Error(d)
	}
	if got := larkmere(t).Said()[0]; got != "grams of each material rounded up to whole grams" {
		t.Error(got)
	}
}

func TestJSON(t *testing.T) {
	p, err := larkmere(t).Price(order(22.4))
	if err != nil {
		t.Fatal(err)
	}
	got, err := json.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	want := `{"currency":"GBP","total":"3.30","net":"3.30","tax":"0.00","lines":[` +
		`{"kind":"set_up","label":"Set-up","quantity":"1","unit":"request","rate":"1.00","amount":"1.00","saying":{"form":"Set-up"}},` +
		`{"kind":"material","label":"23 g of pla at 0.10","quantity":"23","unit":"g","rate":"0.10","amount":"2.30","saying":{"form":"%s g of %s at %s","with":[{"number":"23"},{"name":"pla"},{"number":"0.10"}]}}]}`
	if d := cmp.Diff(want, string(got)); d != "" {
		t.Error(d)
	}
}

// What people of a locale write, from the Unicode CLDR (MEMORY).
func TestFormat(t *testing.T) {
	for _, c := range []struct{ currency, amount, locale, want string }{
		{"GBP", "1234.5", "en-GB", "£1,234.50"},
		{"EUR", "1234.50", "de", "1.234,50 €"},
		{"JPY", "388", "ja", "\u00a5388"},
		{"EUR", "3.30", "xx-nowhere", "€3.30"},
	} {
		got := Price{Currency: c.currency}.Format(Decimal(c.amount), c.locale)
		got = strings.NewReplacer("\u00a0", " ", "\uffe5", "\u00a5").Replace(got)
		if got != c.want {
			t.Errorf("%s %s in %s: %q, want %q", c.amount, c.currency, c.locale, got, c.want)
		}
	}
}

func TestRefused(t *testing.T) {
	for _, c := range []struct {
		name   string
		tariff Tariff
		order  Order
		say    string
	}{
		{"NaN", plainTariff(nil), order(math.NaN()), "must be a number of grams"},
		{"negative", plainTariff(nil), order(-1), "must be a number of grams"},
		{"infinite", plainTariff(nil), order(math.Inf(1)), "must be a number of grams"},
		{"NaN seconds", plainTariff(nil), Order{Prints: 1, Copies: 1, Seconds: math.NaN()}, "must be 0 or more"},
		{"no prints", plainTariff(nil), Order{Copies: 1}, "at least 1"},
		{"material", plainTariff(nil), Order{Items: []Item{{Material: "gold", Grams: 1}}, Prints: 1, Copies: 1}, "no rate for gold; it has: pla, pva"},
		{"currency", Tariff{Currency: "XQX"}, order(1), "not an ISO 4217 code"},
		{"no currency", Tariff{}, order(1), "not an ISO 4217 code"},
		{"not a number", plainTariff(func(t *Tariff) { t.SetUp = "1,00" }), order(1), "write digits with a decimal point"},
		{"exponent", plainTariff(func(t *Tariff) { t.SetUp = "1e5" }), order(1), "write digits with a decimal point"},
		{"negative fee", plainTariff(func(t *Tariff) { t.SetUp = "-1" }), order(1), "negative"},
		{"half a penny", plainTariff(func(t *Tariff) { t.SetUp = "1.005" }), order(1), "more decimals than EUR"},
		{"step of none", plainTariff(func(t *Tariff) { t.GramStep = "0" }), order(1), "cannot be 0"},
		{"rounding", plainTariff(func(t *Tariff) { t.GramRounding = "sideways" }), order(1), "up, down, nearest, half-even"},
		{"per", plainTariff(func(t *Tariff) { t.SetUpPer = "week" }), order(1), "request, print, copy"},
		{"tax", plainTariff(func(t *Tariff) { t.Taxes = []Tax{{Name: "All", Percent: "101"}} }), order(1), "at most 100"},
		{"tax on tax", plainTariff(func(t *Tariff) { t.Taxes = []Tax{{"A", "5", []Kind{TaxLine}}} }), order(1), "cannot be on"},
		{"long", plainTariff(func(t *Tariff) { t.SetUp = Decimal(strings.Repeat("9", 5000)) }), order(1), "not an amount"},
	} {
		_, err := c.tariff.Price(c.order)
		if err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%s: error %v; want one saying %q", c.name, err, c.say)
		}
	}
}

// A second pricing, written with math/big's rationals from the rules in the
// tariff's documentation and nothing of this package's arithmetic.
func rational(t Tariff, o Order, digits int) *big.Rat {
	rat := func(d Decimal) *big.Rat {
		if d == "" {
			return new(big.Rat)
		}
		r, ok := new(big.Rat).SetString(string(d))
		if !ok {
			panic("not a number: " + d)
		}
		return r
	}
	round := func(x, step *big.Rat, how Rounding) *big.Rat {
		q := new(big.Rat).Quo(x, step)
		floor := new(big.Int).Div(q.Num(), q.Denom()) // Euclidean: down for positive and negative
		rest := new(big.Rat).Sub(q, new(big.Rat).SetInt(floor))
		half := rest.Cmp(big.NewRat(1, 2))
		switch {
		case how == Up && rest.Sign() > 0, how == Nearest && half >= 0,
			how == HalfEven && (half > 0 || half == 0 && floor.Bit(0) == 1):
			floor.Add(floor, big.NewInt(1))
		}
		return new(big.Rat).Mul(new(big.Rat).SetInt(floor), step)
	}
	minor := new(big.Rat).SetFrac(big.NewInt(1), new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(digits)), nil))
	by := map[Kind]*big.Rat{SetUp: rat(t.SetUp), Material: new(big.Rat), PrintTime: new(big.Rat), UpToLeast: new(big.Rat)}
	switch t.SetUpPer {
	case PerPrint:
		by[SetUp].Mul(by[SetUp], big.NewRat(int64(o.Prints), 1))
	case PerCopy:
		by[SetUp].Mul(by[SetUp], big.NewRat(int64(o.Copies), 1))
	}
	for _, i := range o.Items {
		// Test orders have grams that are whole thousandths.
		g := round(big.NewRat(int64(math.Round(i.Grams*1000)), 1000), rat(t.GramStep), t.GramRounding)
		by[Material].Add(by[Material], round(g.Mul(g, rat(t.PerGram[i.Material])), minor, t.MoneyRounding))
	}
	if rat(t.PerHour).Sign() > 0 {
		m := round(big.NewRat(int64(o.Seconds), 60), rat(t.MinuteStep), t.MinuteRounding)
		m.Mul(m, rat(t.PerHour))
		by[PrintTime] = round(m.Quo(m, big.NewRat(60, 1)), minor, t.MoneyRounding)
	}
	sum := new(big.Rat)
	for _, k := range taxable {
		sum.Add(sum, by[k])
	}
	if least := rat(t.Minimum); sum.Cmp(least) < 0 {
		by[UpToLeast].Sub(least, sum)
		sum = least
	}
	if !t.TaxIncluded {
		together := new(big.Rat)
		for _, tax := range t.Taxes {
			base := new(big.Rat)
			for _, k := range taxable {
				if len(tax.On) == 0 || slices.Contains(tax.On, k) {
					base.Add(base, by[k])
				}
			}
			base.Mul(base, rat(tax.Percent)).Quo(base, big.NewRat(100, 1))
			if !t.TaxTogether {
				base = round(base, minor, t.MoneyRounding)
			}
			together.Add(together, base)
		}
		sum = new(big.Rat).Add(sum, round(together, minor, t.MoneyRounding))
	}
	if step := rat(t.TotalStep); step.Sign() > 0 {
		sum = round(sum, step, t.TotalRounding)
	}
	return sum
}

func draw(t *rapid.T) (Tariff, Order, int) {
	currencies := []string{"EUR", "JPY", "KWD"}
	i := rapid.IntRange(0, 2).Draw(t, "currency")
	digits := []int{2, 0, 3}[i]
	decimal := func(name string, most, places int) Decimal {
		v := big.NewRat(int64(rapid.IntRange(0, most).Draw(t, name)), int64(math.Pow10(places)))
		return Decimal(v.FloatString(places))
	}
	how := func(name string) Rounding { return rapid.SampledFrom(roundings).Draw(t, name) }
	tf := Tariff{
		ID: "drawn", Currency: currencies[i], SetUp: decimal("set-up", 500, digits),
		SetUpPer: rapid.SampledFrom([]Per{PerRequest, PerPrint, PerCopy}).Draw(t, "per"),
		PerGram:  map[string]Decimal{"pla": decimal("pla", 5000, 4), "pva": decimal("pva", 50000, 4)},
		GramStep: rapid.SampledFrom([]Decimal{"1", "0.1", "0.25", "5"}).Draw(t, "gram step"), GramRounding: how("grams"),
		PerHour: decimal("hour", 300, 2), MinuteStep: rapid.SampledFrom([]Decimal{"1", "15", "60"}).Draw(t, "minute step"), MinuteRounding: how("minutes"),
		Minimum: decimal("minimum", 900, digits), MoneyRounding: how("money"), TotalRounding: how("total"),
		TotalStep:   rapid.SampledFrom([]Decimal{"0", "1", "5"}).Draw(t, "total step"),
		TaxIncluded: rapid.Bool().Draw(t, "included"), TaxTogether: rapid.Bool().Draw(t, "together"),
	}
	for range rapid.IntRange(0, 3).Draw(t, "taxes") {
		tf.Taxes = append(tf.Taxes, Tax{Name: "Tax", Percent: decimal("percent", 25000, 3), On: rapid.SliceOfNDistinct(rapid.SampledFrom(taxable), 0, 3, rapid.ID).Draw(t, "on")})
	}
	o := Order{Prints: rapid.IntRange(1, 5).Draw(t, "prints"), Copies: rapid.IntRange(1, 9).Draw(t, "copies"), Seconds: float64(rapid.IntRange(0, 90_000).Draw(t, "seconds"))}
	for _, m := range []string{"pla", "pva"} {
		if rapid.Bool().Draw(t, m) {
			o.Items = append(o.Items, Item{Material: m, Grams: float64(rapid.IntRange(0, 300_000).Draw(t, "grams")) / 1000})
		}
	}
	return tf, o, digits
}

func total(t *rapid.T, tf Tariff, o Order) *big.Rat {
	p, err := tf.Price(o)
	if err != nil {
		t.Fatal(err)
	}
	r, _ := new(big.Rat).SetString(p.Total.Number())
	sum := new(big.Rat)
	for _, l := range p.Lines {
		a, ok := new(big.Rat).SetString(l.Amount.Number())
		if !ok {
			t.Fatalf("%s is no amount", l.Amount)
		}
		sum.Add(sum, a)
	}
	if sum.Cmp(r) != 0 {
		t.Fatalf("lines add up to %s, total is %s", sum.FloatString(6), p.Total)
	}
	return r
}

func TestAgainstRationals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tf, o, digits := draw(t)
		got, want := total(t, tf, o), rational(tf, o, digits)
		if got.Cmp(want) != 0 {
			t.Fatalf("total %s, by rationals %s", got.FloatString(6), want.FloatString(6))
		}
	})
}

// More grams never cost less, nor does more time, where taxes are on all
// lines. A tax on the minimum alone can make more grams cheaper: they take the
// place of what it is on.
func TestMonotone(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tf, o, _ := draw(t)
		for i := range tf.Taxes {
			tf.Taxes[i].On = nil
		}
		before := total(t, tf, o)
		more := o
		more.Items = slices.Clone(o.Items)
		for i := range more.Items {
			more.Items[i].Grams += float64(rapid.IntRange(0, 20_000).Draw(t, "more grams")) / 1000
		}
		more.Seconds += float64(rapid.IntRange(0, 9000).Draw(t, "more seconds"))
		if after := total(t, tf, more); after.Cmp(before) < 0 {
			t.Fatalf("%s became %s", before.FloatString(6), after.FloatString(6))
		}
	})
}

// Included taxes: net and tax make up what the lines add up to, and each tax
// alone is within half a minor unit of p/(100+Σp) of it when all are on all.
func TestIncluded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		tf, o, _ := draw(t)
		tf.TaxIncluded, tf.TotalStep = true, "0"
		p, err := tf.Price(o)
		if err != nil {
			t.Fatal(err)
		}
		sum := new(big.Rat)
		for _, d := range []Decimal{p.Net, p.Tax} {
			r, _ := new(big.Rat).SetString(d.Number())
			sum.Add(sum, r)
		}
		if want, _ := new(big.Rat).SetString(p.Total.Number()); sum.Cmp(want) != 0 {
			t.Fatalf("net %s and tax %s do not make %s", p.Net, p.Tax, p.Total)
		}
	})
}

// Any float64 the engine may hand over is priced without losing a digit.
func TestAnyGrams(t *testing.T) {
	tf := plainTariff(nil)
	for _, g := range []float64{0, math.SmallestNonzeroFloat64, 1e-300, math.Nextafter(23, 24), 1e9, math.Pi} {
		p, err := tf.Price(order(g))
		if err != nil {
			t.Errorf("%g g: %v", g, err)
			continue
		}
		if want := math.Ceil(g); p.Lines[1].Quantity.Number() != strings.TrimSuffix(big.NewFloat(want).Text('f', 0), ".") {
			t.Errorf("%g g is charged as %s", g, p.Lines[1].Quantity)
		}
	}
}
