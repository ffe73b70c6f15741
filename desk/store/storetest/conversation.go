package storetest

import (
	"slices"
	"testing"

	"platebook/desk"
	"platebook/engine/tariff"
)

func testFiles(t *testing.T, s desk.Store) {
	r, other := request(t, s, nil), request(t, s, nil)
	h := func(name string) desk.Hash { return desk.HashOf([]byte(name)) }
	used := func(name string) bool {
		return read(t, s, func(tx desk.Tx) (bool, error) { return tx.HashUsed(h(name)) })
	}
	second := desk.File{Request: r.ID, Name: "second", Hash: h("2"), Sent: at(2), Result: &desk.Checked{Program: "x"}}
	first := desk.File{Request: r.ID, Name: "first", Hash: h("1"), Sent: at(1)}
	twin := desk.File{Request: other.ID, Name: "twin", Hash: h("1"), Sent: at(3)}
	write(t, s, func(tx desk.Tx) error {
		for _, f := range []*desk.File{&second, &first, &twin} {
			if err := tx.SaveFile(f); err != nil {
				return err
			}
		}
		return tx.Refer(r.ID, h("still"), h("view"), h("still"))
	})
	of := read(t, s, func(tx desk.Tx) ([]desk.File, error) { return tx.FilesOf(r.ID) })
	if len(of) != 2 || of[0].Name != "first" || of[1].Name != "second" || of[1].Result == nil {
		t.Errorf("files as sent: %+v", of)
	}
	all := read(t, s, func(tx desk.Tx) ([]desk.File, error) { return tx.FilesOfAll([]desk.ID{r.ID, other.ID}) })
	if len(all) != 3 || all[2].Name != "twin" || all[1].Result != nil {
		t.Errorf("files of two requests, without results: %+v", all)
	}
	if none := read(t, s, func(tx desk.Tx) ([]desk.File, error) { return tx.FilesOfAll(nil) }); len(none) != 0 {
		t.Errorf("files of no requests: %v", none)
	}
	first.Doing = "looking"
	write(t, s, func(tx desk.Tx) error { return tx.SaveFile(&first) })
	if got := read(t, s, func(tx desk.Tx) (desk.File, error) { return tx.File(first.ID) }); got.Doing != "looking" {
		t.Errorf("a file saved again says %q", got.Doing)
	}
	for _, name := range []string{"1", "2", "still", "view"} {
		if !used(name) {
			t.Errorf("bytes %s are not used", name)
		}
	}
	write(t, s, func(tx desk.Tx) error { return tx.DeleteFiles(r.ID) })
	if !used("1") || used("2") || !used("still") {
		t.Error("with a request's files gone: bytes of another's are not used, or its own still, or pictures no longer")
	}
	write(t, s, func(tx desk.Tx) error { return tx.Unrefer(r.ID) })
	if used("still") || used("view") {
		t.Error("pictures are used after all referring ended")
	}
	refused(t, s, desk.Broken, func(tx desk.Tx) error { return tx.SaveFile(&desk.File{Request: "none"}) })
}

func testMessages(t *testing.T, s desk.Store) {
	r, other := request(t, s, nil), request(t, s, nil)
	second := desk.Message{Request: r.ID, Form: "b", Text: "second", At: at(2)}
	first := desk.Message{Request: r.ID, Form: "a", Text: "first", At: at(1)}
	write(t, s, func(tx desk.Tx) error {
		for _, m := range []*desk.Message{&second, &first,
			{Request: r.ID, Text: "third", At: at(3)}, {Request: r.ID, Text: "fourth", At: at(4)}, // no form: as many as one likes
			{Request: other.ID, Form: "a", Text: "other's", At: at(1)}} {
			if err := tx.SaveMessage(m); err != nil {
				return err
			}
		}
		return nil
	})
	// The transaction goes on after a form that was there.
	write(t, s, func(tx desk.Tx) error {
		err := tx.SaveMessage(&desk.Message{Request: r.ID, Form: "a", Text: "again", At: at(9)})
		if desk.KindOf(err) != desk.NotNow {
			t.Errorf("a second form of a request: got %v, want NotNow", err)
		}
		first.Seen = at(5)
		return tx.SaveMessage(&first)
	})
	var texts []string
	for _, m := range read(t, s, func(tx desk.Tx) ([]desk.Message, error) { return tx.Messages(r.ID) }) {
		texts = append(texts, m.Text)
	}
	if !slices.Equal(texts, []string{"first", "second", "third", "fourth"}) {
		t.Errorf("messages: %v", texts)
	}
	if m := read(t, s, func(tx desk.Tx) (desk.Message, error) { return tx.MessageByForm(r.ID, "a") }); m.ID != first.ID || !m.Seen.Equal(at(5)) {
		t.Errorf("message of a form: %+v", m)
	}
	last := read(t, s, func(tx desk.Tx) (map[desk.ID]desk.Message, error) {
		return tx.LastMessages([]desk.ID{r.ID, other.ID, "none"})
	})
	if len(last) != 2 || last[r.ID].Text != "fourth" || last[other.ID].Text != "other's" {
		t.Errorf("last messages: %+v", last)
	}
	write(t, s, func(tx desk.Tx) error { return tx.DeleteMessages(r.ID) })
	if n := len(read(t, s, func(tx desk.Tx) ([]desk.Message, error) { return tx.Messages(r.ID) })); n != 0 {
		t.Errorf("%d messages after all were deleted", n)
	}
	if n := len(read(t, s, func(tx desk.Tx) ([]desk.Message, error) { return tx.Messages(other.ID) })); n != 1 {
		t.Errorf("another's messages: %d, want 1", n)
	}
}

// testUnanswered: who wrote and was not seen waits, longest first; what the
// clock writes is no answer.
func testUnanswered(t *testing.T, s desk.Store) {
	north := func(r *desk.Request) { r.Branch = "north" }
	late, early, seen, answered, south := request(t, s, north), request(t, s, north), request(t, s, north), request(t, s, north), request(t, s, nil)
	write(t, s, func(tx desk.Tx) error {
		for _, m := range []desk.Message{
			{Request: late.ID, From: desk.ByPatron, At: at(5)},
			{Request: early.ID, From: desk.ByPatron, At: at(2)},
			{Request: early.ID, From: desk.ByPatron, At: at(9)},
			{Request: early.ID, From: desk.ByClock, At: at(10)},
			{Request: seen.ID, From: desk.ByPatron, At: at(1), Seen: at(2)},
			{Request: answered.ID, From: desk.ByPatron, At: at(1), Seen: at(3)},
			{Request: answered.ID, From: desk.ByStaff, At: at(3)},
			{Request: south.ID, From: desk.ByPatron, At: at(0)},
		} {
			if err := tx.SaveMessage(&m); err != nil {
				return err
			}
		}
		return nil
	})
	got := read(t, s, func(tx desk.Tx) ([]desk.ID, error) { return tx.Unanswered([]desk.ID{"north"}) })
	if !slices.Equal(got, []desk.ID{early.ID, late.ID}) {
		t.Errorf("unanswered at north: %v, want %v", got, []desk.ID{early.ID, late.ID})
	}
	if got := read(t, s, func(tx desk.Tx) ([]desk.ID, error) { return tx.Unanswered(nil) }); !slices.Equal(got, []desk.ID{south.ID, early.ID, late.ID}) {
		t.Errorf("unanswered anywhere: %v", got)
	}
}

func testEvents(t *testing.T, s desk.Store) {
	r, other := request(t, s, nil), request(t, s, nil)
	write(t, s, func(tx desk.Tx) error {
		for i, e := range []desk.Event{
			{Request: r.ID, Version: 2, Kind: desk.ByStaff, Who: "Reviewer", What: "took", Say: "c", Before: "b", After: "a"},
			{Request: r.ID, Version: 1, Kind: desk.ByPatron, Who: "Zoë", What: "asked", Say: "a"},
			{Request: r.ID, Version: 3, Kind: desk.ByClock, Who: "the clock", What: "reminded", Say: "d"},
			{Request: other.ID, Version: 3, Kind: desk.ByPatron, Who: "Ann", What: "asked", Say: "z"},
		} {
			e.At = at(i)
			if err := tx.AddEvent(&e); err != nil {
				return err
			}
		}
		return nil
	})
	what := func(after int64) (all []string) {
		for _, e := range read(t, s, func(tx desk.Tx) ([]desk.Event, error) { return tx.Events(r.ID, after) }) {
			all = append(all, e.What)
		}
		return all
	}
	if got := what(0); !slices.Equal(got, []string{"asked", "took", "reminded"}) {
		t.Errorf("history: %v", got)
	}
	if got := what(1); !slices.Equal(got, []string{"took", "reminded"}) {
		t.Errorf("history since version 1: %v", got)
	}
	if got := what(3); len(got) != 0 {
		t.Errorf("history since the last version: %v", got)
	}
	write(t, s, func(tx desk.Tx) error { return tx.ScrubEvents(r.ID) })
	for _, e := range read(t, s, func(tx desk.Tx) ([]desk.Event, error) { return tx.Events(r.ID, 0) }) {
		if e.Say+e.Before+e.After != "" || e.What == "" || e.At.IsZero() || (e.Who == "") != (e.Kind == desk.ByPatron) {
			t.Errorf("a scrubbed line still says too much or no longer enough: %+v", e)
		}
	}
	if e := read(t, s, func(tx desk.Tx) ([]desk.Event, error) { return tx.Events(other.ID, 0) }); e[0].Say != "z" || e[0].Who != "Ann" {
		t.Errorf("another's history was scrubbed: %+v", e)
	}
}

func testCharges(t *testing.T, s desk.Store) {
	r, other := request(t, s, nil), request(t, s, nil)
	write(t, s, func(tx desk.Tx) error {
		for _, c := range []desk.Charge{
			{Request: r.ID, Form: "pay", Kind: desk.Payment, Amount: "-2.50", At: at(2)},
			{Request: r.ID, Kind: desk.PriceCharge, Amount: "2.50", At: at(1), Price: &tariff.Price{}},
			{Request: r.ID, Kind: desk.Correction, Amount: "0", At: at(3), Reason: "why"},
			{Request: other.ID, Form: "pay", Kind: desk.Payment, Amount: "-1", At: at(2), Reason: "kept"},
		} {
			if err := tx.AddCharge(&c); err != nil {
				return err
			}
		}
		if err := tx.AddCharge(&desk.Charge{Request: r.ID, Form: "pay", Kind: desk.Payment, Amount: "-2.50", At: at(4)}); desk.KindOf(err) != desk.NotNow {
			t.Errorf("paid twice with one form: got %v, want NotNow", err)
		}
		return nil
	})
	amounts := func(id desk.ID) (all []tariff.Decimal) {
		for _, c := range read(t, s, func(tx desk.Tx) ([]desk.Charge, error) { return tx.Charges(id) }) {
			all = append(all, c.Amount)
		}
		return all
	}
	if got := amounts(r.ID); !slices.Equal(got, []tariff.Decimal{"2.50", "-2.50", "0"}) {
		t.Errorf("account: %v", got)
	}
	write(t, s, func(tx desk.Tx) error { return tx.ScrubCharges(r.ID) })
	for _, c := range read(t, s, func(tx desk.Tx) ([]desk.Charge, error) { return tx.Charges(r.ID) }) {
		if c.Reason != "" || c.Form != "" || c.Amount == "" {
			t.Errorf("a scrubbed line still says too much or no longer enough: %+v", c)
		}
	}
	if c := read(t, s, func(tx desk.Tx) ([]desk.Charge, error) { return tx.Charges(other.ID) }); c[0].Reason != "kept" || c[0].Form != "pay" {
		t.Errorf("another's account was scrubbed: %+v", c)
	}
}
