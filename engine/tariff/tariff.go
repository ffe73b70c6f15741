package tariff

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/bojanz/currency"
)

// Tariff says what a print costs. Every amount is in Currency. The TOML keys
// are those of a tariff file; Read fills in what a file may leave out, and a
// Tariff made in code goes through the same checks when it prices an order.
type Tariff struct {
	ID       string `toml:"-"`
	Name     string `toml:"name"`
	Currency string `toml:"currency"` // ISO 4217 code, such as "GBP"

	SetUp    Decimal `toml:"set_up"`
	SetUpPer Per     `toml:"set_up_per"` // empty means request

	// PerGram is by material id; PerGramOther serves materials it does not
	// name, and if empty those are not offered.
	PerGram      map[string]Decimal `toml:"per_gram"`
	PerGramOther Decimal            `toml:"per_gram_other,omitempty" json:",omitempty"` // left out, not 0: those are other things
	GramStep     Decimal            `toml:"gram_step"`                                  // such as "1" or "0.1"; empty means 1
	GramRounding Rounding           `toml:"gram_rounding"`                              // empty means up

	PerHour        Decimal  `toml:"per_hour"`    // empty or 0: time is free
	MinuteStep     Decimal  `toml:"minute_step"` // empty means 1
	MinuteRounding Rounding `toml:"minute_rounding"`

	// Minimum is the least a request costs, before taxes (with them if TaxIncluded).
	Minimum Decimal `toml:"minimum"`

	// Every line is rounded to the currency's minor unit in this manner, so
	// that lines always add up to the total.
	MoneyRounding Rounding `toml:"money_rounding"` // empty means nearest
	// TotalStep rounds the total further, as where the smallest coin is 0.05.
	TotalStep     Decimal  `toml:"total_step"` // empty or 0: not done
	TotalRounding Rounding `toml:"total_rounding"`

	Taxes       []Tax `toml:"taxes"`
	TaxIncluded bool  `toml:"tax_included"` // amounts above have the taxes in them
	TaxTogether bool  `toml:"tax_together"` // taxes are added up before they are rounded
}

// Tax is a percentage of some lines of a price.
type Tax struct {
	Name    string  `toml:"name"`
	Percent Decimal `toml:"percent"`
	On      []Kind  `toml:"on,omitempty"` // which lines it is on; empty means all
}

// Per says how often the set-up is charged.
type Per string

const (
	PerRequest Per = "request" // once
	PerPrint   Per = "print"   // for each print of the request
	PerCopy    Per = "copy"    // for each copy of the part
)

// Kind says what a line of a price is for.
type Kind string

const (
	SetUp      Kind = "set_up"
	Material   Kind = "material"
	PrintTime  Kind = "time"
	UpToLeast  Kind = "minimum"  // what is missing to the minimum
	TaxLine    Kind = "tax"      // only where tax is not included
	TotalRound Kind = "rounding" // from the sum to the total; may be negative
)

var taxable = []Kind{SetUp, Material, PrintTime, UpToLeast}

// Most of each that a tariff may have.
const (
	mostMaterials = 200
	mostTaxes     = 10
)

// complete returns t with what may be left empty filled in. The result shares
// nothing with t.
func (t Tariff) complete() Tariff {
	fill(&t.SetUpPer, PerRequest)
	fill(&t.GramRounding, Up)
	fill(&t.MinuteRounding, Up)
	fill(&t.MoneyRounding, Nearest)
	fill(&t.TotalRounding, Nearest)
	for _, d := range []*Decimal{&t.SetUp, &t.PerHour, &t.Minimum, &t.TotalStep} {
		fill(d, "0")
	}
	fill(&t.GramStep, "1")
	fill(&t.MinuteStep, "1")
	t.PerGram = maps.Clone(t.PerGram)
	t.Taxes = slices.Clone(t.Taxes)
	for i := range t.Taxes {
		t.Taxes[i].On = slices.Clone(t.Taxes[i].On)
	}
	return t
}

func fill[S ~string](s *S, with S) {
	if *s == "" {
		*s = with
	}
}

// Validate reports the first thing in the tariff that cannot be right.
func (t Tariff) Validate() error {
	t = t.complete()
	if err := t.valid(); err != nil {
		if t.ID == "" {
			return fmt.Errorf("the tariff: %w", err)
		}
		return fmt.Errorf("tariff %s: %w", t.ID, err)
	}
	return nil
}

func (t *Tariff) valid() error {
	digits, known := currency.GetDigits(t.Currency)
	if t.Currency == "" || !known {
		return fmt.Errorf("currency %q is not an ISO 4217 code; write one like \"EUR\", \"GBP\" or \"JPY\"", clip(t.Currency))
	}
	for _, d := range []struct {
		key     string
		v       Decimal
		minor   bool // must be payable in the currency
		nonzero bool
	}{
		{"set_up", t.SetUp, true, false},
		{"minimum", t.Minimum, true, false},
		{"total_step", t.TotalStep, true, false},
		{"per_hour", t.PerHour, false, false},
		{"gram_step", t.GramStep, false, true},
		{"minute_step", t.MinuteStep, false, true},
	} {
		if err := d.v.check(); err != nil {
			return fmt.Errorf("%s: %w", d.key, err)
		}
		if d.nonzero && d.v.dec().IsZero() {
			return fmt.Errorf("%s cannot be 0; write \"1\" for whole ones", d.key)
		}
		if d.minor && d.v.decimals() > int(digits) {
			return fmt.Errorf("%s = \"%s\" has more decimals than %s, which has %d", d.key, d.v, t.Currency, digits)
		}
	}
	if len(t.PerGram) > mostMaterials {
		return fmt.Errorf("per_gram has %d materials; the most is %d", len(t.PerGram), mostMaterials)
	}
	for _, id := range slices.Sorted(maps.Keys(t.PerGram)) {
		if err := t.PerGram[id].check(); err != nil {
			return fmt.Errorf("per_gram.%s: %w", clip(id), err)
		}
	}
	if t.PerGramOther != "" {
		if err := t.PerGramOther.check(); err != nil {
			return fmt.Errorf("per_gram_other: %w", err)
		}
	}
	for _, r := range []struct {
		key string
		v   Rounding
	}{
		{"gram_rounding", t.GramRounding}, {"minute_rounding", t.MinuteRounding},
		{"money_rounding", t.MoneyRounding}, {"total_rounding", t.TotalRounding},
	} {
		if !slices.Contains(roundings, r.v) {
			return fmt.Errorf("%s = %q is not a way to round; there are: %s", r.key, clip(string(r.v)), list(roundings))
		}
	}
	if pers := []Per{PerRequest, PerPrint, PerCopy}; !slices.Contains(pers, t.SetUpPer) {
		return fmt.Errorf("set_up_per = %q cannot be used; there are: %s", clip(string(t.SetUpPer)), list(pers))
	}
	if len(t.Taxes) > mostTaxes {
		return fmt.Errorf("%d taxes are given; the most is %d", len(t.Taxes), mostTaxes)
	}
	for i, tax := range t.Taxes {
		if err := tax.valid(); err != nil {
			return fmt.Errorf("tax %d: %w", i+1, err)
		}
	}
	return nil
}

func (x Tax) valid() error {
	if strings.TrimSpace(x.Name) == "" {
		return fmt.Errorf("it needs a name, for the line on the quote")
	}
	if err := x.Percent.check(); err != nil {
		return fmt.Errorf("percent: %w", err)
	}
	if hundred := Decimal("100"); x.Percent.dec().Cmp(hundred.dec()) > 0 {
		return fmt.Errorf("%s is %s %%, and a tax is at most 100 %%", clip(x.Name), x.Percent)
	}
	for _, k := range x.On {
		if !slices.Contains(taxable, k) {
			return fmt.Errorf("%s cannot be on %q; there are: %s", clip(x.Name), clip(string(k)), list(taxable))
		}
	}
	return nil
}

// on reports whether the tax is on lines of kind k.
func (x Tax) on(k Kind) bool {
	return slices.Contains(taxable, k) && (len(x.On) == 0 || slices.Contains(x.On, k))
}

func list[S ~string](of []S) string {
	s := make([]string, len(of))
	for i := range of {
		s[i] = string(of[i])
	}
	return strings.Join(s, ", ")
}

// clip keeps hostile words from filling the screen.
func clip(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:60]) + "…"
	}
	return s
}
