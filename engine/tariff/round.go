package tariff

import "github.com/cockroachdb/apd/v3"

// Rounding says which multiple of a step an amount becomes. Amounts that are
// rounded are never negative, except the total after a step of its own.
type Rounding string

const (
	Up       Rounding = "up"        // the next multiple that is not less
	Down     Rounding = "down"      // the last multiple that is not more
	Nearest  Rounding = "nearest"   // the nearest multiple, halves upwards
	HalfEven Rounding = "half-even" // the nearest multiple, halves to the even one
)

var roundings = []Rounding{Up, Down, Nearest, HalfEven}

// round returns the multiple of step that num/den rounds to. num ≥ 0, den > 0,
// step > 0. The quotient itself is never formed: num is divided by den·step
// into a whole number and a remainder, and the remainder decides, exactly.
func (r Rounding) round(num, den, step *apd.Decimal) (*apd.Decimal, error) {
	e := apd.MakeErrDecimal(exact)
	unit, count, rest, twice := new(apd.Decimal), new(apd.Decimal), new(apd.Decimal), new(apd.Decimal)
	e.Mul(unit, den, step)
	e.QuoInteger(count, num, unit)
	e.Mul(rest, count, unit)
	e.Sub(rest, num, rest)
	e.Add(twice, rest, rest)
	one := apd.New(1, 0)
	more := false
	switch half := twice.Cmp(unit); r {
	case Up:
		more = !rest.IsZero()
	case Nearest:
		more = half >= 0
	case HalfEven:
		odd := new(apd.Decimal)
		e.Rem(odd, count, apd.New(2, 0))
		more = half > 0 || (half == 0 && !odd.IsZero())
	}
	if more {
		e.Add(count, count, one)
	}
	e.Mul(count, count, step)
	return count, e.Err()
}
