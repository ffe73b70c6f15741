package desk

import (
	"time"

	"platebook/engine/tariff"
)

// ChargeKind says what a line of a request's account is.
type ChargeKind string

const (
	PriceCharge ChargeKind = "price"      // what the print costs, by the tariff agreed
	Correction  ChargeKind = "correction" // either way, with a reason
	Waiver      ChargeKind = "waiver"     // let off, with a reason
	Payment     ChargeKind = "payment"    // taken at the desk, noted here
	Repayment   ChargeKind = "repayment"  // given back
)

// Charge is one line of a request's account. Lines are never changed; a
// mistake is mended by a further line.
type Charge struct {
	ID      ID
	Request ID
	Form    string
	Kind    ChargeKind
	// Amount is signed: what the patron owes is above zero, what was paid or
	// let off below. The balance is the sum.
	Amount   tariff.Decimal
	Currency string
	Reason   string
	Who      string
	At       time.Time
	Price    *tariff.Price // of a PriceCharge, its lines
}
