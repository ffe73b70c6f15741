package store

import (
	"cmp"
	"slices"
	"strings"

	"platebook/desk"
)

// byName sorts as people look for a name. The few places, printers and spools
// are sorted here: databases disagree on the order of letters.
func byName[T any](all []T, name func(T) (string, desk.ID)) []T {
	slices.SortFunc(all, func(a, b T) int {
		an, ai := name(a)
		bn, bi := name(b)
		return cmp.Or(strings.Compare(fold(an), fold(bn)), cmp.Compare(ai, bi))
	})
	return all
}

// SaveBranch is desk.Tx's.
func (x *tx) SaveBranch(b *desk.Branch) error {
	return branches.save(x, b, &b.ID, &b.Version, noClash)
}

// Branch is desk.Tx's.
func (x *tx) Branch(id desk.ID) (desk.Branch, error) { return branches.one(x, "WHERE id = $1", id) }

// Branches is desk.Tx's.
func (x *tx) Branches() ([]desk.Branch, error) {
	all, err := branches.list(x, "")
	return byName(all, func(b desk.Branch) (string, desk.ID) { return b.Name, b.ID }), err
}

// SavePrinter is desk.Tx's.
func (x *tx) SavePrinter(p *desk.PrinterUnit) error {
	return printers.save(x, p, &p.ID, &p.Version, noClash)
}

// Printer is desk.Tx's.
func (x *tx) Printer(id desk.ID) (desk.PrinterUnit, error) {
	return printers.one(x, "WHERE id = $1", id)
}

// Printers is desk.Tx's.
func (x *tx) Printers(branches []desk.ID) ([]desk.PrinterUnit, error) {
	w := &where{}
	among(w, "branch", branches)
	all, err := printers.list(x, w.String(), w.args...)
	return byName(all, func(p desk.PrinterUnit) (string, desk.ID) { return p.Name, p.ID }), err
}
