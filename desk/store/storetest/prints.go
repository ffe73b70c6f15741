package storetest

import (
	"slices"
	"testing"

	"platebook/desk"
)

func testRuns(t *testing.T, s desk.Store) {
	a, b := request(t, s, nil), request(t, s, nil)
	one := desk.Run{Form: "f1", Branch: "north", Printer: "p1", State: desk.Going, Started: at(1),
		Parts: []desk.RunPart{{Request: a.ID}, {Request: b.ID}, {Request: a.ID, Plate: 1}}}
	two := desk.Run{Branch: "south", Printer: "p2", State: desk.Spoiled, Started: at(2), Parts: []desk.RunPart{{Request: a.ID}}}
	three := desk.Run{Branch: "north", Printer: "p1", State: desk.Weighed, Started: at(3)}
	write(t, s, func(tx desk.Tx) error {
		for _, r := range []*desk.Run{&two, &one, &three} {
			if err := tx.SaveRun(r); err != nil {
				return err
			}
		}
		if err := tx.SaveRun(&desk.Run{Form: "f1"}); desk.KindOf(err) != desk.NotNow {
			t.Errorf("started twice with one form: got %v, want NotNow", err)
		}
		return nil
	})
	if r := read(t, s, func(tx desk.Tx) (desk.Run, error) { return tx.RunByForm("f1") }); r.ID != one.ID {
		t.Errorf("run of a form: %s, want %s", r.ID, one.ID)
	}
	ids := func(ask func(tx desk.Tx) ([]desk.Run, error)) (all []desk.ID) {
		for _, r := range read(t, s, ask) {
			all = append(all, r.ID)
		}
		return all
	}
	check := func(what string, got []desk.ID, want ...desk.ID) {
		t.Helper()
		if !slices.Equal(got, want) {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
	list := func(f desk.RunFilter) []desk.ID {
		return ids(func(tx desk.Tx) ([]desk.Run, error) { return tx.ListRuns(f) })
	}
	of := func(id desk.ID) []desk.ID {
		return ids(func(tx desk.Tx) ([]desk.Run, error) { return tx.RunsOf(id) })
	}
	check("runs of a request, oldest first", of(a.ID), one.ID, two.ID)
	check("runs of another", of(b.ID), one.ID)
	check("newest first", list(desk.RunFilter{}), three.ID, two.ID, one.ID)
	check("at most two", list(desk.RunFilter{Most: 2}), three.ID, two.ID)
	check("of requests", list(desk.RunFilter{Requests: []desk.ID{a.ID, "none"}, Branches: []desk.ID{"north", "south"}}), two.ID, one.ID)
	check("of a state", list(desk.RunFilter{States: []desk.RunState{desk.Going, desk.Spoiled}}), two.ID, one.ID)
	check("at a branch", list(desk.RunFilter{Branches: []desk.ID{"north"}}), three.ID, one.ID)
	check("of a printer", list(desk.RunFilter{Printer: "p2"}), two.ID)
	check("since, that moment too", list(desk.RunFilter{Since: at(2)}), three.ID, two.ID)
	// A part that leaves a run is no longer of it.
	one.Parts = one.Parts[:1]
	stale := one
	write(t, s, func(tx desk.Tx) error { return tx.SaveRun(&one) })
	check("runs of one whose part was taken off", of(b.ID))
	refused(t, s, desk.Stale, func(tx desk.Tx) error { return tx.SaveRun(&stale) })
}

func testSpools(t *testing.T, s desk.Store) {
	second := desk.Spool{Name: "PLA-02", Branch: "north", Grams: 900}
	first := desk.Spool{Name: "pla-01", Branch: "north"}
	south := desk.Spool{Name: "PLA-03", Branch: "south"}
	empty := desk.Spool{Name: "PLA-00", Branch: "north", Retired: true}
	write(t, s, func(tx desk.Tx) error {
		for _, p := range []*desk.Spool{&second, &first, &south, &empty} {
			if err := tx.SaveSpool(p); err != nil {
				return err
			}
		}
		for i, g := range []float64{-10.5, -20.25, 3} {
			if err := tx.AddSpoolLine(&desk.SpoolLine{Spool: second.ID, At: at(i), Grams: g}); err != nil {
				return err
			}
		}
		return nil
	})
	names := func(branches []desk.ID, retired bool) (all []string) {
		for _, p := range read(t, s, func(tx desk.Tx) ([]desk.Spool, error) { return tx.Spools(branches, retired) }) {
			all = append(all, p.Name)
		}
		return all
	}
	if got := names(nil, false); !slices.Equal(got, []string{"pla-01", "PLA-02", "PLA-03"}) {
		t.Errorf("spools by name: %v", got)
	}
	if got := names([]desk.ID{"north"}, true); !slices.Equal(got, []string{"PLA-00", "pla-01", "PLA-02"}) {
		t.Errorf("spools of a branch, retired ones too: %v", got)
	}
	lines := func(most int) (all []float64) {
		for _, l := range read(t, s, func(tx desk.Tx) ([]desk.SpoolLine, error) { return tx.SpoolLines(second.ID, most) }) {
			all = append(all, l.Grams)
		}
		return all
	}
	if got := lines(2); !slices.Equal(got, []float64{3, -20.25}) {
		t.Errorf("newest two lines: %v", got)
	}
	if got := lines(0); len(got) != 3 {
		t.Errorf("all lines: %v", got)
	}
	stale := second
	write(t, s, func(tx desk.Tx) error { return tx.SaveSpool(&second) })
	refused(t, s, desk.Stale, func(tx desk.Tx) error { return tx.SaveSpool(&stale) })
}

func testPlaces(t *testing.T, s desk.Store) {
	write(t, s, func(tx desk.Tx) error {
		for _, name := range []string{"Zealand", "östhafen", "Anvil Hill", "oak row"} {
			b := desk.Branch{Name: name}
			if err := tx.SaveBranch(&b); err != nil {
				return err
			}
			if err := tx.SavePrinter(&desk.PrinterUnit{Name: name + " 1", Branch: b.ID}); err != nil {
				return err
			}
		}
		return nil
	})
	bs := read(t, s, desk.Tx.Branches)
	var names []string
	for _, b := range bs {
		names = append(names, b.Name)
	}
	if !slices.Equal(names, []string{"Anvil Hill", "oak row", "östhafen", "Zealand"}) {
		t.Errorf("branches by name: %v", names)
	}
	all := read(t, s, func(tx desk.Tx) ([]desk.PrinterUnit, error) { return tx.Printers(nil) })
	some := read(t, s, func(tx desk.Tx) ([]desk.PrinterUnit, error) { return tx.Printers([]desk.ID{bs[1].ID, bs[3].ID}) })
	if len(all) != 4 || len(some) != 2 || some[0].Name != "oak row 1" || some[1].Name != "Zealand 1" {
		t.Errorf("printers: %d in all, of two branches %+v", len(all), some)
	}
	b, p := bs[0], all[0]
	write(t, s, func(tx desk.Tx) error {
		stale := b
		if err := tx.SaveBranch(&b); err != nil {
			return err
		}
		if err := tx.SaveBranch(&stale); desk.KindOf(err) != desk.Stale {
			t.Errorf("a branch of an older version: got %v, want Stale", err)
		}
		old := p
		if err := tx.SavePrinter(&p); err != nil {
			return err
		}
		if err := tx.SavePrinter(&old); desk.KindOf(err) != desk.Stale {
			t.Errorf("a printer of an older version: got %v, want Stale", err)
		}
		return nil
	})
}
