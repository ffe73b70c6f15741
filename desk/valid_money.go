package desk

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"platebook/engine/printer"
	"platebook/engine/tariff"
)

// open are the states in which prices stand between the library and a patron.
var open = []State{WithPatron, Agreed, Printing, OnShelf}

var tariffID = regexp.MustCompile(`^[a-z0-9][a-z0-9-]{0,39}$`)

// validTariff checks the tariff, fills in what may be left out, and refuses to
// change the currency under open requests unless that is what is meant.
func validTariff(tx Tx, t tariff.Tariff, s Settings, newCurrency bool) (tariff.Tariff, error) {
	t.Name, t.Currency = tidy(t.Name), strings.ToUpper(strings.TrimSpace(t.Currency))
	if !tariffID.MatchString(t.ID) {
		t.ID = "library"
	}
	if t.Name == "" || utf8.RuneCountInString(t.Name) > 100 {
		return t, fieldFault("name", "Write the tariff's name, at most 100 characters.")
	}
	full, err := complete(t)
	if err != nil {
		return t, tariffFault(err)
	}
	c, err := Catalogue(s)
	if err != nil {
		return t, err
	}
	for _, id := range slices.Sorted(maps.Keys(full.PerGram)) {
		if _, err := c.Material(id); err != nil {
			return t, fieldFault("per_gram", "No material is called "+cut(id, 60)+" any more. Take its rate out.")
		}
	}
	if len(full.PerGram) == 0 && full.PerGramOther == "" {
		return t, fieldFault("per_gram", "Give a rate for at least one material: one without a rate is not offered.")
	}
	if full.Currency != s.Tariff.Currency && !newCurrency {
		n, err := tx.CountRequests(RequestFilter{States: open})
		if err != nil {
			return t, err
		}
		sum := 0
		for _, k := range n {
			sum += k
		}
		if sum > 0 {
			return t, &Fault{Kind: Wrong,
				Say:    Faultf(Wrong, "%d open requests have prices in %s. They stay in it; say so below if the currency is really to change for new ones.", sum, s.Tariff.Currency).Say,
				Fields: map[string]string{"currency": "Requests are open in " + s.Tariff.Currency + "."}}
		}
	}
	return full, nil
}

// complete fills in what a tariff may leave out, by the engine's own reading.
func complete(t tariff.Tariff) (tariff.Tariff, error) {
	file, err := t.Show()
	if err != nil {
		return t, err
	}
	var c tariff.Catalogue
	if err := c.Merge(file, "tariff"); err != nil {
		return t, err
	}
	return c.Tariff(t.ID)
}

// tariffFault finds the field the engine's sentence is about.
func tariffFault(err error) error {
	say := err.Error()
	if _, rest, ok := strings.Cut(say, ": "); ok && strings.HasPrefix(say, "tariff ") {
		say = rest
	}
	key, _, _ := strings.Cut(say, " ")
	key, _, _ = strings.Cut(strings.TrimSuffix(key, ":"), ".")
	if key == "tax" {
		key = "taxes"
	}
	if !slices.Contains([]string{"currency", "set_up", "set_up_per", "minimum", "total_step", "per_hour", "gram_step", "minute_step", "per_gram",
		"per_gram_other", "gram_rounding", "minute_rounding", "money_rounding", "total_rounding", "taxes"}, key) {
		key = "name"
	}
	return &Fault{Kind: Wrong, Say: "The tariff cannot be used: " + say + ".", Fields: map[string]string{key: say + "."}}
}

// validProfiles checks the library's own profiles, and that nothing in use is
// gone with them.
func validProfiles(tx Tx, p Profiles, s Settings) (Profiles, error) {
	p.TOML = strings.ReplaceAll(p.TOML, "\r\n", "\n")
	if strings.TrimSpace(p.TOML) == "" {
		p.TOML = ""
	}
	// Tariffs and rules have pages of their own, so here they are refused.
	c := printer.Builtin()
	if err := c.Merge([]byte(p.TOML), "profiles"); err != nil {
		return p, fieldFault("toml", strings.TrimPrefix(err.Error(), "profiles: ")+".")
	}
	fault := func(what, id, user string) error {
		return fieldFault("toml", "The "+what+" "+id+" is not described any more, but "+user+" needs it. Keep its table, or change that first.")
	}
	hasPrinter := func(id string) bool { _, err := c.Printer(id); return err == nil }
	hasMaterial := func(id string) bool { _, err := c.Material(id); return err == nil }
	hasWay := func(id string) bool { _, err := c.Way(id); return err == nil }
	u := s.Rules.Usual
	switch {
	case u.Printer != "" && !hasPrinter(u.Printer):
		return p, fault("printer model", u.Printer, "the rules' usual printer")
	case u.Material != "" && !hasMaterial(u.Material):
		return p, fault("material", u.Material, "the rules' usual material")
	case u.Way != "" && !hasWay(u.Way):
		return p, fault("way", u.Way, "the rules' usual way")
	}
	units, err := tx.Printers(nil)
	if err != nil {
		return p, err
	}
	for _, u := range units {
		if !u.Retired && !hasPrinter(u.Model) {
			return p, fault("printer model", u.Model, "printer "+u.Name)
		}
	}
	spools, err := tx.Spools(nil, false)
	if err != nil {
		return p, err
	}
	for _, sp := range spools {
		if !hasMaterial(sp.Material) {
			return p, fault("material", sp.Material, "spool "+sp.Name)
		}
	}
	return p, inPlans(tx, s, fault, hasPrinter, hasMaterial, hasWay)
}

// inPlans looks for what is gone in the plans of requests that are not over.
// It is asked only when something is gone at all.
func inPlans(tx Tx, s Settings, fault func(what, id, user string) error, hasPrinter, hasMaterial, hasWay func(string) bool) error {
	was, err := Catalogue(s)
	if err != nil {
		return nil // what stands now cannot be read: anything is better
	}
	gone := slices.ContainsFunc(was.Printers, func(p printer.Printer) bool { return !hasPrinter(p.ID) }) ||
		slices.ContainsFunc(was.Materials, func(m printer.Material) bool { return !hasMaterial(m.ID) }) ||
		slices.ContainsFunc(was.Ways, func(w printer.Way) bool { return !hasWay(w.ID) })
	if !gone {
		return nil
	}
	going, err := tx.ListRequests(RequestFilter{States: append([]State{Received, InReview}, open...), Brief: true})
	if err != nil {
		return err
	}
	for _, r := range going {
		user := "request " + string(r.Code)
		if id := r.Plan.Printer; id != "" && !hasPrinter(id) {
			return fault("printer model", id, user)
		}
		if id := r.Plan.Way; id != "" && !hasWay(id) {
			return fault("way", id, user)
		}
		for _, id := range append([]string{r.Plan.Support}, r.Plan.Materials...) {
			if id != "" && !hasMaterial(id) {
				return fault("material", id, user)
			}
		}
	}
	return nil
}
