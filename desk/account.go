package desk

import (
	"context"
	"time"

	"platebook/engine/tariff"
)

// Account is what a request owes and why.
type Account struct {
	Request  Request
	Lines    []Charge // oldest first
	Balance  tariff.Decimal
	Currency string
	Locale   string
	Said     []string // how the tariff of the agreement rounds
	Library  string
	Branch   Branch
	Zone     string
	Now      time.Time
}

// Account gathers the account of a request, for its page and its receipt.
func (d *Desk) Account(ctx context.Context, by Actor, id ID) (Account, error) {
	return Account{}, Faultf(Broken, "This is not made yet.")
}

// Pay notes a payment taken at the desk, and how: "cash", "card", ….
func (d *Desk) Pay(ctx context.Context, by Actor, id ID, form string, amount tariff.Decimal, how string) (Charge, error) {
	return Charge{}, Faultf(Broken, "This is not made yet.")
}

// PayBack notes money given back of what was paid too much.
func (d *Desk) PayBack(ctx context.Context, by Actor, id ID, form string, amount tariff.Decimal, how string) (Charge, error) {
	return Charge{}, Faultf(Broken, "This is not made yet.")
}

// Correct changes what is owed by a signed amount.
func (d *Desk) Correct(ctx context.Context, by Actor, id ID, form string, amount tariff.Decimal, reason string) (Charge, error) {
	return Charge{}, Faultf(Broken, "This is not made yet.")
}

// Waive lets the patron off an amount; a manager's to do.
func (d *Desk) Waive(ctx context.Context, by Actor, id ID, form string, amount tariff.Decimal, reason string) (Charge, error) {
	return Charge{}, Faultf(Broken, "This is not made yet.")
}
