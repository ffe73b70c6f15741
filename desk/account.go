package desk

import (
	"context"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

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
	Zone     string // IANA
	Now      time.Time
	Waives   bool // whether the actor may waive
	Acts     bool // whether the actor may take payments
	Weighed  []ID // the runs its plates were weighed after, by plate; empty of one that is not
}

// Write writes an amount of the account as people do.
func (a Account) Write(d tariff.Decimal) string {
	return tariff.Price{Currency: a.Currency}.Format(d, a.Locale)
}

// Account gathers the account of a request, for its page and its receipt.
func (d *Desk) Account(ctx context.Context, by Actor, id ID) (Account, error) {
	var a Account
	err := d.Store.Read(ctx, func(tx Tx) error {
		r, err := tx.Request(id)
		if err != nil {
			return err
		}
		if err := by.Require(r.Branch, Operator, Reviewer); err != nil {
			return err
		}
		a, err = d.account(tx, r)
		a.Waives, a.Acts = by.May(r.Branch, Manager), by.May(r.Branch, Operator)
		return err
	})
	if err != nil {
		return Account{}, err
	}
	return a, nil
}

func (d *Desk) account(tx Tx, r Request) (Account, error) {
	a := Account{Request: r, Now: d.now()}
	s, err := settings(tx)
	if err != nil {
		return a, err
	}
	a.Library, a.Locale, a.Zone = s.Library.Name, s.Library.Locale, s.Library.TimeZone
	if a.Branch, err = tx.Branch(r.Branch); err != nil && KindOf(err) != NotFound {
		return a, err
	}
	if a.Lines, err = tx.Charges(r.ID); err != nil {
		return a, err
	}
	stands, _, err := standsOf(tx, r)
	if err != nil {
		return a, err
	}
	for _, s := range stands {
		run := ID("")
		if s.State == PlateDone {
			run = s.Run
		}
		a.Weighed = append(a.Weighed, run)
	}
	if a.Balance, err = balance(a.Lines); err != nil {
		return a, err
	}
	t, err := agreedTariff(tx, r)
	if err != nil {
		return a, err
	}
	a.Said = t.Said()
	a.Currency = t.Currency
	if r.Agreement != nil && r.Agreement.Way.Price.Currency != "" {
		a.Currency = r.Agreement.Way.Price.Currency
	}
	if len(a.Lines) > 0 {
		a.Currency = a.Lines[0].Currency
	}
	// The balance of nothing has no decimal places of its own.
	if zero, err := tariff.Amount(string(a.Balance.Number()), a.Currency); err == nil {
		a.Balance = zero
	}
	return a, nil
}

// charge adds a line to an account by hand, once for each form.
func (d *Desk) charge(ctx context.Context, by Actor, id ID, form string, roles []Role, do func(Account) (Charge, error)) (Charge, error) {
	var out Charge
	err := d.Store.Write(ctx, func(tx Tx) error {
		r, err := tx.Request(id)
		if err != nil {
			return err
		}
		if err := by.Require(r.Branch, roles...); err != nil {
			return err
		}
		a, err := d.account(tx, r)
		if err != nil {
			return err
		}
		for _, c := range a.Lines {
			if form != "" && c.Form == form {
				out = c
				return nil
			}
		}
		if !r.Forgotten.IsZero() {
			return Faultf(NotNow, "This request is forgotten, so its account is closed.")
		}
		if out, err = do(a); err != nil {
			return err
		}
		out.Request, out.Form, out.Currency = id, form, a.Currency
		return d.charged(tx, r, by, &out, a.Locale)
	})
	if err != nil {
		return Charge{}, err
	}
	return out, nil
}

// charged books a line by hand and counts the request up, so that whoever has
// it open sees that something happened.
func (d *Desk) charged(tx Tx, r Request, by Actor, c *Charge, locale string) error {
	if c.Form == "" {
		c.Form = string(NewID())
	}
	r.Changed = d.now()
	if err := tx.SaveRequest(&r); err != nil {
		return err
	}
	if err := d.book(tx, r, by, *c, locale); err != nil {
		return err
	}
	all, err := tx.Charges(r.ID)
	if err != nil {
		return err
	}
	for _, kept := range all {
		if kept.Form == c.Form {
			*c = kept
		}
	}
	return nil
}

// money reads an amount as typed in the account's currency.
func (a Account) money(field string, text tariff.Decimal) (tariff.Decimal, error) {
	v, err := tariff.Amount(string(text), a.Currency)
	if err != nil {
		say := fmt.Sprintf("Write the amount in %s with digits and a decimal point, such as %s.", a.Currency, a.example())
		return "", &Fault{Kind: Wrong, Say: say, Err: err, Fields: map[string]string{field: say}}
	}
	return v, nil
}

func (a Account) example() tariff.Decimal {
	v, err := tariff.Amount("3", a.Currency)
	if err != nil {
		return "3"
	}
	return v
}

func wrongField(field, format string, args ...any) error {
	say := fmt.Sprintf(format, args...)
	return &Fault{Kind: Wrong, Say: say, Fields: map[string]string{field: say}}
}

// whyOf looks at a reason that must be given.
func whyOf(field, text, missing string) (string, error) {
	text = strings.Join(strings.Fields(text), " ")
	if text == "" {
		return "", wrongField(field, "%s", missing)
	}
	if !utf8.ValidString(text) || utf8.RuneCountInString(text) > mostReason {
		return "", wrongField(field, "Say it in at most %d letters.", mostReason)
	}
	return text, nil
}

// Pay notes a payment taken at the desk, and how: "cash", "card", ….
func (d *Desk) Pay(ctx context.Context, by Actor, id ID, form string, amount tariff.Decimal, how string) (Charge, error) {
	return d.charge(ctx, by, id, form, []Role{Operator}, func(a Account) (Charge, error) { return a.pay(amount, how) })
}

// takes says whether an amount typed beside something else is any.
func (a Account) takes(amount tariff.Decimal) (bool, error) {
	if strings.TrimSpace(string(amount)) == "" {
		return false, nil
	}
	v, err := a.money("pay", amount)
	return v.Cmp("0") != 0, err
}

func (a Account) pay(amount tariff.Decimal, how string) (Charge, error) {
	v, err := a.money("pay", amount)
	if err != nil {
		return Charge{}, err
	}
	how, err = whyOf("how", how, "Say how it was paid, such as cash or card.")
	switch {
	case err != nil:
		return Charge{}, err
	case v.Cmp("0") <= 0:
		return Charge{}, wrongField("pay", "Write what was paid, more than 0.")
	case a.Balance.Cmp("0") <= 0:
		return Charge{}, Faultf(NotNow, "Nothing is owed on this request now, so no payment can be noted. Look at its account: someone may have noted it already.")
	case v.Cmp(a.Balance) > 0:
		return Charge{}, wrongField("pay", "%s is more than the %s that is owed. Give change, and note what was kept.", a.Write(v), a.Write(a.Balance))
	}
	return Charge{Kind: Payment, Amount: v.Neg(), Reason: how}, nil
}

// PayBack notes money given back of what was paid too much.
func (d *Desk) PayBack(ctx context.Context, by Actor, id ID, form string, amount tariff.Decimal, how string) (Charge, error) {
	return d.charge(ctx, by, id, form, []Role{Operator}, func(a Account) (Charge, error) {
		v, err := a.money("back", amount)
		if err != nil {
			return Charge{}, err
		}
		how, err := whyOf("how-back", how, "Say how it was given back, such as cash or card.")
		switch {
		case err != nil:
			return Charge{}, err
		case v.Cmp("0") <= 0:
			return Charge{}, wrongField("back", "Write what was given back, more than 0.")
		case v.Cmp(a.Balance.Neg()) > 0:
			return Charge{}, wrongField("back", "Only what was paid too much can be given back: the balance is %s.", a.Write(a.Balance))
		}
		return Charge{Kind: Repayment, Amount: v, Reason: how}, nil
	})
}

// mostCorrection bounds what one line by hand can be. More is a slip.
const mostCorrection = tariff.Decimal("1000000")

// Correct changes what is owed by a signed amount, with a reason. Less is a
// manager's to say, as a waiver is: it lets the patron off, and what was paid
// could be handed back on the strength of it. What a plate printed again comes to
// needs nobody: settle books the difference.
func (d *Desk) Correct(ctx context.Context, by Actor, id ID, form string, amount tariff.Decimal, reason string) (Charge, error) {
	return d.charge(ctx, by, id, form, []Role{Operator}, func(a Account) (Charge, error) {
		v, err := a.money("correction", amount)
		if err != nil {
			return Charge{}, err
		}
		reason, err := whyOf("correction-why", reason, "Say why it is corrected.")
		switch {
		case err != nil:
			return Charge{}, err
		case v.Cmp("0") == 0:
			return Charge{}, wrongField("correction", "Write by how much more is owed; a manager may write less, with a minus.")
		case v.Cmp(mostCorrection) > 0 || v.Neg().Cmp(mostCorrection) > 0:
			return Charge{}, wrongField("correction", "That is too much for one correction.")
		case v.Cmp("0") < 0 && !by.May(a.Request.Branch, Manager):
			return Charge{}, wrongField("correction", "Less than is owed now is a manager's to say, as a waiver is. Ask a manager of the branch to book it.")
		case a.Request.Agreement == nil:
			return Charge{}, Faultf(NotNow, "Nothing was agreed on this request, so there is nothing to correct.")
		}
		return Charge{Kind: Correction, Amount: v, Reason: reason}, nil
	})
}

// Waive lets the patron off an amount that is owed; a manager's to do.
func (d *Desk) Waive(ctx context.Context, by Actor, id ID, form string, amount tariff.Decimal, reason string) (Charge, error) {
	return d.charge(ctx, by, id, form, nil, func(a Account) (Charge, error) {
		v, err := a.money("waiver", amount)
		if err != nil {
			return Charge{}, err
		}
		reason, err := whyOf("waiver-why", reason, "Say why it is waived.")
		switch {
		case err != nil:
			return Charge{}, err
		case v.Cmp("0") <= 0:
			return Charge{}, wrongField("waiver", "Write what is waived, more than 0.")
		case v.Cmp(a.Balance) > 0:
			return Charge{}, wrongField("waiver", "Only what is owed can be waived: the balance is %s.", a.Write(a.Balance))
		}
		return Charge{Kind: Waiver, Amount: v.Neg(), Reason: reason}, nil
	})
}
