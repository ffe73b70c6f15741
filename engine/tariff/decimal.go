package tariff

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/cockroachdb/apd/v3"
)

// Decimal is an exact decimal number as it is written: "0.10". The empty
// Decimal is 0. It is text, so that it can be compared, copied and stored
// without a digit lost; arithmetic happens in this package.
type Decimal string

// Most digits before and after the decimal point of a Decimal in a tariff.
const mostDigits = 12

// Number returns the number in plain digits.
func (d Decimal) Number() string {
	if d == "" {
		return "0"
	}
	return string(d)
}

// MarshalText writes the number in plain digits.
func (d Decimal) MarshalText() ([]byte, error) { return []byte(d.Number()), nil }

// UnmarshalText takes plain digits with an optional decimal point and sign.
func (d *Decimal) UnmarshalText(text []byte) error {
	v := Decimal(text)
	if err := v.form(); err != nil {
		return err
	}
	*d = v
	return nil
}

// form reports whether d is plain digits, of any length that can be held.
func (d Decimal) form() error {
	whole, part, point := strings.Cut(strings.TrimPrefix(string(d), "-"), ".")
	if whole == "" || (point && part == "") || !digitsOnly(whole) || !digitsOnly(part) || len(d) > 400 {
		return fmt.Errorf("%q is not an amount; write digits with a decimal point, like \"0.10\"", clip(string(d)))
	}
	return nil
}

// check reports whether d can stand in a tariff: not negative, not absurd.
func (d Decimal) check() error {
	if err := d.form(); err != nil {
		return err
	}
	if strings.HasPrefix(string(d), "-") {
		return fmt.Errorf("%q is negative; write an amount of 0 or more", clip(string(d)))
	}
	whole, part, _ := strings.Cut(string(d), ".")
	if len(whole) > mostDigits || len(part) > mostDigits {
		return fmt.Errorf("%q has too many digits; write at most %d before the point and %d after it", clip(string(d)), mostDigits, mostDigits)
	}
	return nil
}

func digitsOnly(s string) bool { return strings.Trim(s, "0123456789") == "" }

// decimals counts the digits after the point that are not trailing zeros.
func (d Decimal) decimals() int {
	_, part, _ := strings.Cut(string(d), ".")
	return len(strings.TrimRight(part, "0"))
}

// dec is d as a number; d has been checked.
func (d Decimal) dec() *apd.Decimal {
	v, _, err := exact.NewFromString(d.Number())
	if err != nil {
		return new(apd.Decimal)
	}
	return v
}

// exact is the context all arithmetic runs in: enough digits for any checked
// tariff and any finite float64, and an error should a digit ever be lost.
var exact = func() *apd.Context {
	c := apd.BaseContext.WithPrecision(2000)
	c.Traps = apd.DefaultTraps | apd.Inexact
	return c
}()

// fromFloat turns a measured float64 into the shortest decimal that reads back as
// the same float64: 23.1 is 23.1, not 23.10000000000000142. From there on no
// digit is lost.
func fromFloat(x float64) (*apd.Decimal, error) {
	v, _, err := exact.NewFromString(strconv.FormatFloat(x, 'f', -1, 64))
	return v, err
}

// plain writes v in digits with exactly n decimals; v has no more than that.
func plain(v *apd.Decimal, n int) Decimal {
	s := v.Text('f')
	negative := strings.HasPrefix(s, "-") && !v.IsZero()
	whole, part, _ := strings.Cut(strings.TrimPrefix(s, "-"), ".")
	for len(part) < n {
		part += "0"
	}
	// What is cut off is zeros.
	if part = part[:n]; part != "" {
		whole += "." + part
	}
	if negative {
		whole = "-" + whole
	}
	return Decimal(whole)
}
