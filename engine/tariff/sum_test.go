package tariff

import (
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// Every row was worked by hand.
func TestSum(t *testing.T) {
	for _, c := range []struct {
		all  []Decimal
		want Decimal
	}{
		{nil, "0"},
		{[]Decimal{""}, "0"},
		{[]Decimal{"0.10", "0.20"}, "0.30"},
		{[]Decimal{"3.30", "-3.30"}, "0.00"},
		{[]Decimal{"3.30", "-3.31"}, "-0.01"},
		{[]Decimal{"10", "0.5"}, "10.5"},
		{[]Decimal{"999999999999.99", "0.01"}, "1000000000000.00"},
	} {
		if got, err := Sum(c.all...); err != nil || got != c.want {
			t.Errorf("Sum(%q) = %q, %v; want %q", c.all, got, err, c.want)
		}
	}
	for _, bad := range []Decimal{"x", "1e3", "NaN", "--1", "1.", "."} {
		if got, err := Sum("1", bad); err == nil {
			t.Errorf("Sum(1, %q) = %q, want an error", bad, got)
		}
	}
}

// Held against math/big's rationals.
func TestSumAgainstRationals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := new(big.Rat)
		var all []Decimal
		for _, n := range rapid.SliceOf(rapid.Int64Range(-1e12, 1e12)).Draw(t, "cents") {
			d := Decimal(big.NewRat(n, 100).FloatString(2))
			all = append(all, d)
			want.Add(want, big.NewRat(n, 100))
			if d.Neg().Neg() != d {
				t.Fatalf("--%s is %s", d, d.Neg().Neg())
			}
		}
		got, err := Sum(all...)
		if err != nil {
			t.Fatal(err)
		}
		if r, ok := new(big.Rat).SetString(string(got)); !ok || r.Cmp(want) != 0 {
			t.Fatalf("sum of %q is %s, want %s", all, got, want)
		}
		if len(all) > 1 {
			a, _ := new(big.Rat).SetString(string(all[0]))
			b, _ := new(big.Rat).SetString(string(all[1]))
			if all[0].Cmp(all[1]) != a.Cmp(b) {
				t.Fatalf("%s against %s: %d", all[0], all[1], all[0].Cmp(all[1]))
			}
		}
	})
}

// Decimal places of currencies: ISO 4217 (EUR 2, JPY 0, KWD 3).
func TestAmount(t *testing.T) {
	for _, c := range []struct{ text, code, want string }{
		{"3.3", "EUR", "3.30"}, {" 3,30 ", "EUR", "3.30"}, {"3", "EUR", "3.00"}, {"-0.5", "EUR", "-0.50"},
		{"-0", "EUR", "0.00"}, {"3.300", "EUR", "3.30"}, {"007", "JPY", "7"}, {"1.234", "KWD", "1.234"},
		{"3.305", "EUR", ""}, {"3.5", "JPY", ""}, {"", "EUR", ""}, {"1,000.00", "EUR", ""}, {"1e3", "EUR", ""},
		{"NaN", "EUR", ""}, {"٣", "EUR", ""}, {"3", "???", ""}, {"9999999999999", "EUR", ""}, {"--3", "EUR", ""}, {"3 0", "EUR", ""},
	} {
		got, err := Amount(c.text, c.code)
		if string(got) != c.want || (err == nil) != (c.want != "") {
			t.Errorf("Amount(%q, %s) = %q, %v; want %q", c.text, c.code, got, err, c.want)
		}
	}
}
