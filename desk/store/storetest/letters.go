package storetest

import (
	"slices"
	"testing"

	"platebook/desk"
)

func testLetters(t *testing.T, s desk.Store) {
	r := request(t, s, nil)
	h := func(name string) desk.Hash { return desk.HashOf([]byte(name)) }
	waits := desk.Mail{Hash: h("w"), MailID: "<w@example.org>", State: desk.MailWaits, Came: at(2)}
	placed := desk.Mail{Hash: h("p"), MailID: "<p@example.org>", State: desk.MailPlaced, Request: r.ID, Came: at(1)}
	aside := desk.Mail{Hash: h("a"), MailID: "<a@example.org>", State: desk.MailAside, Came: at(0)}
	sent := desk.Posted{Request: r.ID, MailID: "<s@example.org>", Made: at(3)}
	due := desk.Posted{Request: r.ID, MailID: "<d@example.org>", Made: at(4), Next: at(5)}
	loose := desk.Posted{MailID: "<l@example.org>", Made: at(6), Next: at(4)}
	write(t, s, func(tx desk.Tx) error {
		for _, l := range []*desk.Mail{&waits, &placed, &aside} {
			if err := tx.SaveMail(l); err != nil {
				return err
			}
		}
		for _, p := range []*desk.Posted{&sent, &due, &loose} {
			if err := tx.SavePosted(p); err != nil {
				return err
			}
		}
		if err := tx.HoldMail(waits.ID, h("file"), h("old")); err != nil {
			return err
		}
		if err := tx.HoldMail(waits.ID, h("file")); err != nil {
			return err
		}
		for _, uid := range []uint32{3, 5, 5, 4_294_967_295} {
			if err := tx.PlaceMail(desk.MailPlace{Mailbox: "INBOX", Validity: 4_000_000_000, UID: uid}, waits.Hash); err != nil {
				return err
			}
		}
		return nil
	})
	fresh := read(t, s, func(tx desk.Tx) ([]uint32, error) {
		return tx.FreshMail("INBOX", 4_000_000_000, []uint32{2, 3, 4, 5, 4_294_967_295})
	})
	if !slices.Equal(fresh, []uint32{2, 4}) {
		t.Errorf("fresh letters: %v, want 2 and 4", fresh)
	}
	if fresh := read(t, s, func(tx desk.Tx) ([]uint32, error) { return tx.FreshMail("INBOX", 1, []uint32{3}) }); len(fresh) != 1 {
		t.Error("a letter of another validity is not fresh")
	}
	for name, want := range map[string]bool{"file": true, "old": false} {
		if got := read(t, s, func(tx desk.Tx) (bool, error) { return tx.HashUsed(h(name)) }); got != want {
			t.Errorf("bytes %s held: %v", name, got)
		}
	}
	letters := func(what string, got []desk.Mail, want ...desk.ID) {
		t.Helper()
		var ids []desk.ID
		for _, l := range got {
			ids = append(ids, l.ID)
		}
		if !slices.Equal(ids, want) {
			t.Errorf("%s: %v, want %v", what, ids, want)
		}
	}
	letters("all, oldest first", read(t, s, func(tx desk.Tx) ([]desk.Mail, error) { return tx.ListMail(nil, 0) }), aside.ID, placed.ID, waits.ID)
	letters("waiting", read(t, s, func(tx desk.Tx) ([]desk.Mail, error) { return tx.ListMail([]desk.MailState{desk.MailWaits}, 9) }), waits.ID)
	for id, want := range map[string]int{waits.MailID: 1, "<none@example.org>": 0, "": 0} {
		if got := read(t, s, func(tx desk.Tx) ([]desk.Mail, error) { return tx.MailByID(id) }); len(got) != want || want == 1 && got[0].ID != waits.ID {
			t.Errorf("letters called %q: %v", id, got)
		}
	}
	if l := read(t, s, func(tx desk.Tx) (desk.Mail, error) { return tx.MailByHash(h("p")) }); l.ID != placed.ID {
		t.Errorf("letter of a hash: %s", l.ID)
	}
	posted := func(what string, got []desk.Posted, want ...desk.ID) {
		t.Helper()
		var ids []desk.ID
		for _, p := range got {
			ids = append(ids, p.ID)
		}
		if !slices.Equal(ids, want) {
			t.Errorf("%s: %v, want %v", what, ids, want)
		}
	}
	posted("due, oldest first", read(t, s, func(tx desk.Tx) ([]desk.Posted, error) { return tx.DuePosted(at(5), 9) }), loose.ID, due.ID)
	posted("due earlier", read(t, s, func(tx desk.Tx) ([]desk.Posted, error) { return tx.DuePosted(at(4), 9) }), loose.ID)
	posted("newest first", read(t, s, func(tx desk.Tx) ([]desk.Posted, error) { return tx.ListPosted(nil, 2) }), loose.ID, due.ID)
	posted("of a request", read(t, s, func(tx desk.Tx) ([]desk.Posted, error) { return tx.PostedOf(r.ID) }), sent.ID, due.ID)
	to := desk.Posted{MailID: "<to@example.org>", Made: at(7), Body: desk.PostBody{To: "Wren_&%@Example.org", Text: "wren@else.example"}}
	write(t, s, func(tx desk.Tx) error { return tx.SavePosted(&to) })
	for _, c := range []struct {
		address string
		since   int
		want    []desk.ID
	}{{"wren_&%@example.ORG", 7, []desk.ID{to.ID}}, {"wren_&%@example.org", 8, nil}, {"wrenx&%@example.org", 0, nil}, {"wren@else.example", 0, nil}, {"", 0, nil}} {
		posted("to "+c.address, read(t, s, func(tx desk.Tx) ([]desk.Posted, error) { return tx.PostedTo(c.address, at(c.since)) }), c.want...)
	}
	write(t, s, func(tx desk.Tx) error { to.State = desk.PostSent; to.Made = at(0); return tx.SavePosted(&to) })
	page := func(after desk.ID, most int, states ...desk.MailState) []desk.Mail {
		return read(t, s, func(tx desk.Tx) ([]desk.Mail, error) { return tx.PageMail(states, after, most) })
	}
	letters("newest first", page("", 2), waits.ID, placed.ID)
	letters("and on", page(placed.ID, 2), aside.ID)
	letters("put aside", page("", 2, desk.MailAside, desk.MailAuto), aside.ID)
	posted("of none", read(t, s, func(tx desk.Tx) ([]desk.Posted, error) { return tx.PostedOf("") }))
	for _, id := range []string{sent.MailID, placed.MailID} {
		if got := read(t, s, func(tx desk.Tx) (desk.ID, error) { return tx.RequestOfLetter(id) }); got != r.ID {
			t.Errorf("request of %s: %q", id, got)
		}
	}
	if got := read(t, s, func(tx desk.Tx) ([]string, error) { return tx.Thread(r.ID) }); !slices.Equal(got, []string{sent.MailID, due.MailID, placed.MailID}) {
		t.Errorf("thread: %v", got)
	}
	write(t, s, func(tx desk.Tx) error { return tx.ForgetMail(r.ID) })
	if l := read(t, s, func(tx desk.Tx) (desk.Mail, error) { return tx.Mail(placed.ID) }); l.MailID != "" || !l.Empty {
		t.Errorf("a forgotten letter still says %+v", l)
	}
	if left := read(t, s, func(tx desk.Tx) ([]desk.Posted, error) { return tx.PostedOf(r.ID) }); len(left) != 0 {
		t.Errorf("%d letters to a forgotten patron are left", len(left))
	}
	letters("forgotten ones are not listed", page("", 9), waits.ID, aside.ID)
	write(t, s, func(tx desk.Tx) error { return tx.HoldMail(aside.ID, h("aside")) })
	write(t, s, func(tx desk.Tx) error { return tx.ForgetOldMail(at(9)) })
	for name, want := range map[string]bool{"file": true, "aside": false} {
		if got := read(t, s, func(tx desk.Tx) (bool, error) { return tx.HashUsed(h(name)) }); got != want {
			t.Errorf("bytes %s held after their time: %v", name, got)
		}
	}
	for id, empty := range map[desk.ID]bool{aside.ID: true, waits.ID: false} {
		if l := read(t, s, func(tx desk.Tx) (desk.Mail, error) { return tx.Mail(id) }); l.Empty != empty {
			t.Errorf("after its time the letter %s is empty: %v, want %v", id, l.Empty, empty)
		}
	}
}
