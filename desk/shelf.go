package desk

import (
	"context"
	"time"

	"platebook/engine/tariff"
)

// ShelfPage is what lies on the hold shelf of a branch.
type ShelfPage struct {
	Branch   Branch
	Branches []Branch
	Zone     string
	Now      time.Time
	Held     []Held    // those whose days end first come first
	Ready    []Request // all weighed, to be put on this shelf
}

// Held is one request on the shelf.
type Held struct {
	Request Request
	Name    string // privacy-safe
	Balance tariff.Decimal
	Price   string // the balance, as people write it
	Over    bool   // its days are over
}

// Slip is what is printed to lie with the print: nothing that tells who it is
// to anyone who does not know.
type Slip struct {
	Library string
	Branch  string
	Name    string // at most four letters of the surname, and an initial
	Code    Code
	Place   string
	Until   time.Time
	Zone    string
	Things  int // prints in the bag
}

// CollectForm is what is said when a print is handed over.
type CollectForm struct {
	Form   string
	Pay    tariff.Decimal // taken now; empty is nothing
	How    string         // "cash", "card", …
	Unpaid string         // reason to hand it over with something owed
}

// Shelve puts a printed and weighed request on the shelf of its branch.
func (d *Desk) Shelve(ctx context.Context, by Actor, id ID, version int64, place, form string) (Request, error) {
	return Request{}, Faultf(Broken, "This is not made yet.")
}

// CallPatron notes that the patron was told again, and how; how "message"
// writes the ready message once more.
func (d *Desk) CallPatron(ctx context.Context, by Actor, id ID, version int64, how, form string) (Request, error) {
	return Request{}, Faultf(Broken, "This is not made yet.")
}

// Collect hands a request over.
func (d *Desk) Collect(ctx context.Context, by Actor, id ID, version int64, f CollectForm) (Request, error) {
	return Request{}, Faultf(Broken, "This is not made yet.")
}

// LapseNow ends a request nobody collected.
func (d *Desk) LapseNow(ctx context.Context, by Actor, id ID, version int64, why, form string) (Request, error) {
	return Request{}, Faultf(Broken, "This is not made yet.")
}

// ShelfPage gathers the shelf of a branch; the empty branch is the first the
// actor may hand over at.
func (d *Desk) ShelfPage(ctx context.Context, by Actor, branch ID) (ShelfPage, error) {
	return ShelfPage{}, Faultf(Broken, "This is not made yet.")
}

// Slip is the slip of a request on the shelf.
func (d *Desk) Slip(ctx context.Context, by Actor, id ID) (Slip, error) {
	return Slip{}, Faultf(Broken, "This is not made yet.")
}
