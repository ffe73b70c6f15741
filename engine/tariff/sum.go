package tariff

import (
	"errors"
	"fmt"
	"strings"

	"github.com/bojanz/currency"
	"github.com/cockroachdb/apd/v3"
)

// Accounts. A Decimal that is not a number counts as 0 in none of these: what
// comes from outside goes through Amount first, what comes from here is one.

// Sum adds up decimals, written with as many decimal places as the longest
// has. An error means that one is not a number.
func Sum(all ...Decimal) (Decimal, error) {
	total, places := new(apd.Decimal), 0
	for _, d := range all {
		v, err := d.number()
		if err != nil {
			return "", err
		}
		_, part, _ := strings.Cut(string(d), ".")
		places = max(places, len(part))
		if _, err := exact.Add(total, total, v); err != nil {
			return "", err
		}
	}
	return plain(total, places), nil
}

// Cmp is below 0 if d is less than e, 0 if they are the same amount, above 0
// if d is more. What is not a number is less than any number.
func (d Decimal) Cmp(e Decimal) int {
	v, errD := d.number()
	w, errE := e.number()
	switch {
	case errD != nil && errE != nil:
		return 0
	case errD != nil:
		return -1
	case errE != nil:
		return 1
	}
	return v.Cmp(w)
}

// Neg is d with the other sign.
func (d Decimal) Neg() Decimal {
	if d.Cmp("0") == 0 {
		return d
	}
	if less, ok := strings.CutPrefix(string(d), "-"); ok {
		return Decimal(less)
	}
	return "-" + d
}

// Amount reads money as people type it: "3.3", "3,30", " 3 ". It has exactly
// as many decimal places as the currency then. Thousands are not set apart.
func Amount(text, code string) (Decimal, error) {
	digits, known := currency.GetDigits(code)
	if !known {
		return "", fmt.Errorf("currency %q is not known", clip(code))
	}
	d := Decimal(strings.Replace(strings.TrimSpace(text), ",", ".", 1))
	if d == "" {
		return "", errors.New("an amount is missing")
	}
	if err := d.form(); err != nil {
		return "", err
	}
	if err := Decimal(strings.TrimPrefix(string(d), "-")).check(); err != nil {
		return "", err
	}
	if d.decimals() > int(digits) {
		return "", fmt.Errorf("%s is not an amount in %s, which has %d decimal places", clip(string(d)), code, digits)
	}
	v, err := d.number()
	if err != nil {
		return "", err
	}
	return plain(v, int(digits)), nil
}

func (d Decimal) number() (*apd.Decimal, error) {
	if d == "" {
		d = "0"
	}
	if err := d.form(); err != nil {
		return nil, err
	}
	v, _, err := exact.NewFromString(string(d))
	return v, err
}
