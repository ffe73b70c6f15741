package desk_test

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"platebook/desk"
	"platebook/engine/findings"
	"platebook/engine/quote"
)

// yes is an agreement to the offer as it stands.
func (c *counter) yes(r desk.Request, change ...func(*desk.AgreeForm)) desk.AgreeForm {
	f := desk.AgreeForm{Form: c.form(), Version: r.Version, Way: "cheaper", Terms: c.terms, Accept: true, Cautions: true}
	for _, do := range change {
		do(&f)
	}
	return f
}

func TestAgree(t *testing.T) {
	c := newCounter(t)
	got := c.offered()
	f := c.yes(got.Request)
	r, err := c.Agree(t.Context(), got.Key, f)
	if err != nil {
		t.Fatal(err)
	}
	a := r.Agreement
	// The tariff and rules are those the quote was made by: it stands until its day.
	if r.State != desk.Agreed || a == nil || a.Way.ID != "cheaper" || a.Way.Price.Total != "2.40" || a.Tariff != 4 || a.Rules != 5 || a.Terms != c.terms || a.By != "patron" || !r.Due.IsZero() {
		t.Errorf("agreed %+v, %+v", r, a)
	}
	again, err := c.Agree(t.Context(), got.Key, f)
	if err != nil || again.Version != r.Version {
		t.Errorf("again: version %d, want %d; %v", again.Version, r.Version, err)
	}
	_, err = c.Agree(t.Context(), got.Key, c.yes(r, func(f *desk.AgreeForm) { f.Way = "sensible" }))
	faultOf(t, err, desk.NotNow)
	if now := c.request(r.ID); now.Agreement.Way.ID != "cheaper" || now.Version != r.Version {
		t.Errorf("changed by what was refused: %+v", now.Agreement)
	}
	m, err := c.Mine(t.Context(), got.Key)
	if err != nil || len(m.Messages) != 2 {
		t.Errorf("messages %+v, %v", m.Messages, err)
	}
	// Nothing is owed yet.
	if len(m.Account) != 0 || m.Balance.Cmp("0") != 0 {
		t.Errorf("account %+v", m.Account)
	}
}

// Of many that agree at once, each to the way it likes, one is heard.
func TestAgreeAtOnce(t *testing.T) {
	c := newCounter(t)
	got := c.offered()
	var wg sync.WaitGroup
	heard := make([]bool, 8)
	for i := range heard {
		f := c.yes(got.Request, func(f *desk.AgreeForm) { f.Way = []string{"sensible", "cheaper"}[i%2] })
		wg.Go(func() {
			_, err := c.Agree(context.Background(), got.Key, f)
			heard[i] = err == nil
		})
	}
	wg.Wait()
	n := 0
	for i, ok := range heard {
		if ok {
			n++
			if r := c.request(got.Request.ID); r.Agreement.Way.ID != []string{"sensible", "cheaper"}[i%2] {
				t.Errorf("agreed to %s", r.Agreement.Way.ID)
			}
		}
	}
	if n != 1 {
		t.Errorf("%d were heard, want 1", n)
	}
}

func TestAgreeRefused(t *testing.T) {
	c := newCounter(t)
	got := c.offered()
	for _, x := range []struct {
		name, field string
		spoil       func(*desk.AgreeForm)
	}{
		{"no way", "way", func(f *desk.AgreeForm) { f.Way = "" }},
		{"a way not offered", "way", func(f *desk.AgreeForm) { f.Way = "finer" }},
		{"terms not accepted", "accept", func(f *desk.AgreeForm) { f.Accept = false }},
		{"cautions not read", "cautions", func(f *desk.AgreeForm) { f.Cautions = false }},
		{"under age, no guardian", "guardian", func(f *desk.AgreeForm) { f.Age = "under" }},
		{"a guardian without a name", "guardian", func(f *desk.AgreeForm) { f.Age, f.Guardian = "under", " \u202e " }},
	} {
		_, err := c.Agree(t.Context(), got.Key, c.yes(got.Request, x.spoil))
		if f := faultOf(t, err, desk.Wrong); len(f.Fields) != 1 || f.Fields[x.field] == "" {
			t.Errorf("%s: %v, want a sentence at %s", x.name, f.Fields, x.field)
		}
	}
	// The terms as shown are not those that hold now.
	old := c.yes(got.Request)
	c.terms = c.setting(desk.TermsSetting, desk.Terms{Text: map[string]string{"en": "Other terms."}})
	_, err := c.Agree(t.Context(), got.Key, old)
	faultOf(t, err, desk.Stale)

	// Someone changed the request since: what staff note among themselves is
	// not told, only how it stands.
	c.change(got.Request.ID, func(*desk.Request) {})
	_, err = c.Agree(t.Context(), got.Key, c.yes(got.Request))
	f := faultOf(t, err, desk.Stale)
	if len(f.Since) != 1 || f.Since[0].Say != "" || f.Since[0].Who != "" || f.Since[0].After != string(desk.WithPatron) {
		t.Errorf("told since: %+v", f.Since)
	}
	if r := c.request(got.Request.ID); r.State != desk.WithPatron || r.Agreement != nil || r.Contact.UnderAge || r.Contact.Guardian != "" {
		t.Errorf("changed by what was refused: %+v", r)
	}

	c.pass(14 * 24 * time.Hour) // to the moment it ends
	r := c.request(got.Request.ID)
	_, err = c.Agree(t.Context(), got.Key, c.yes(r))
	if f := faultOf(t, err, desk.NotNow); !strings.Contains(f.Say, "18 March 2026") {
		t.Errorf("an offer that is over: %q", f.Say)
	}
	_, err = c.Agree(t.Context(), got.Key+"x", c.yes(r))
	faultOf(t, err, desk.NotFound)
	fresh := c.submit(func(s *desk.Submission) { s.Contact.Email = "linden@example.org" })
	_, err = c.Agree(t.Context(), fresh.Key, c.yes(fresh.Request))
	faultOf(t, err, desk.NotNow)
}

// By mail nobody was asked for age and rights before.
func TestAgreeAfterMail(t *testing.T) {
	c := newCounter(t)
	got := c.offered(func(s *desk.Submission) { s.Source, s.Wish.Rights, s.Accept = "mail", false, false })
	_, err := c.Agree(t.Context(), got.Key, c.yes(got.Request))
	if f := faultOf(t, err, desk.Wrong); f.Fields["rights"] == "" || f.Fields["age"] == "" || len(f.Fields) != 2 {
		t.Errorf("%v", f.Fields)
	}
	r, err := c.Agree(t.Context(), got.Key, c.yes(got.Request, func(f *desk.AgreeForm) { f.Rights, f.Age, f.Guardian = true, "under", "Hazel Ash" }))
	if err != nil || !r.Wish.Rights || !r.Contact.UnderAge || r.Agreement.Guardian != "Hazel Ash" {
		t.Errorf("%+v, %v", r, err)
	}
}

// One who said to be under age when asking cannot grow up while agreeing.
func TestAgreeUnderAge(t *testing.T) {
	c := newCounter(t)
	got := c.offered(func(s *desk.Submission) { s.Age, s.Contact.Guardian = "under", "Hazel Ash" })
	r, err := c.Agree(t.Context(), got.Key, c.yes(got.Request, func(f *desk.AgreeForm) { f.Age = "over" }))
	if err != nil || !r.Contact.UnderAge || r.Agreement.Guardian != "Hazel Ash" {
		t.Errorf("%+v, %v", r.Agreement, err)
	}
}

func TestAgreeAtDesk(t *testing.T) {
	c := newCounter(t)
	got := c.offered()
	staff := func(role desk.Role, branch desk.ID) desk.Actor {
		return desk.Actor{Kind: desk.ByStaff, Name: "Linden", Grants: []desk.Grant{{Role: role, Branch: branch}}}
	}
	for _, who := range []desk.Actor{{}, desk.APatron(), desk.Clockwork(), staff(desk.Manager, "elsewhere")} {
		_, err := c.AgreeAtDesk(t.Context(), who, got.Request.ID, c.yes(got.Request))
		faultOf(t, err, desk.NotYours)
	}
	r, err := c.AgreeAtDesk(t.Context(), staff(desk.Operator, c.branch.ID), got.Request.ID, c.yes(got.Request))
	if err != nil || r.Agreement.By != "Linden" {
		t.Errorf("%+v, %v", r.Agreement, err)
	}
}

func TestWithdraw(t *testing.T) {
	c := newCounter(t)
	for _, state := range desk.States() {
		got := c.offered(func(s *desk.Submission) { s.Source = "demo" })
		r := c.change(got.Request.ID, func(r *desk.Request) { r.State = state })
		form := c.form()
		_, err := c.Withdraw(t.Context(), got.Key, form, r.Version-1, "")
		switch {
		case state == desk.Withdrawn:
			if err != nil {
				t.Errorf("again: %v", err)
			}
			continue
		case !state.MayFollow(desk.Withdrawn):
			faultOf(t, err, desk.NotNow)
			continue
		}
		faultOf(t, err, desk.Stale)
		w, err := c.Withdraw(t.Context(), got.Key, form, r.Version, "Found one.\r\n")
		if err != nil || w.State != desk.Withdrawn || w.Reason != "Found one." || w.Closed.IsZero() {
			t.Errorf("%s: %+v, %v", state, w, err)
		}
		again, err := c.Withdraw(t.Context(), got.Key, form, r.Version, "Found one.")
		if err != nil || again.Version != w.Version {
			t.Errorf("again: %+v, %v", again, err)
		}
	}
}

func TestLinks(t *testing.T) {
	c := newCounter(t)
	one := c.submit()
	two := c.submit(func(s *desk.Submission) { s.Contact.Email = "linden@example.org" })
	if one.Key == two.Key {
		t.Fatal("two requests with one link")
	}
	m, err := c.Mine(t.Context(), two.Key)
	if err != nil {
		t.Fatal(err)
	}
	_, err = c.MyFile(t.Context(), one.Key, m.Files[0].ID) // another patron's
	faultOf(t, err, desk.NotFound)
	if _, err := c.MyFile(t.Context(), two.Key, m.Files[0].ID); err != nil {
		t.Error(err)
	}
	if err := c.ForgetMe(t.Context(), two.Key, c.form()); err != nil {
		t.Fatal(err)
	}
	// Never was, was and is forgotten, and a mere part: one and the same.
	_, never := c.Mine(t.Context(), strings.Repeat("A", 43))
	want := faultOf(t, never, desk.NotFound).Say
	for _, key := range []string{two.Key, two.Key[:20], "", "\x00", strings.Repeat("é", 5000), string(two.Request.Code), string(two.Request.ID), string(two.Request.Key)} {
		_, err := c.Mine(t.Context(), key)
		if f := faultOf(t, err, desk.NotFound); f.Say != want {
			t.Errorf("%.20q: %q", key, f.Say)
		}
	}
	for name, err := range map[string]error{
		"agree":    second(c.Agree(t.Context(), two.Key, c.yes(two.Request))),
		"withdraw": second(c.Withdraw(t.Context(), two.Key, c.form(), 0, "")),
		"write":    second(c.PatronWrites(t.Context(), two.Key, c.form(), "Hello?")),
		"add":      second(c.AddFile(t.Context(), two.Key, c.form(), c.put("b.stl", "b"))),
		"take out": c.TakeOut(t.Context(), two.Key, io.Discard),
	} {
		if desk.KindOf(err) != desk.NotFound {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func TestPatronWrites(t *testing.T) {
	c := newCounter(t)
	got := c.submit()
	form := c.form()
	for range 2 {
		m, err := c.PatronWrites(t.Context(), got.Key, form, "Which way up?\r\n\x00\u202e<b>")
		if err != nil || m.Text != "Which way up?\n<b>" || m.From != desk.ByPatron {
			t.Fatalf("%+v, %v", m, err)
		}
	}
	// Staff who act on what they saw before see it first.
	if r := c.request(got.Request.ID); r.Version != got.Request.Version+1 {
		t.Errorf("version %d", r.Version)
	}
	c.read(func(tx desk.Tx) error {
		ids, err := tx.Unanswered(nil)
		if !slices.Contains(ids, got.Request.ID) {
			t.Errorf("unanswered: %v", ids)
		}
		return err
	})
	_, err := c.PatronWrites(t.Context(), got.Key, c.form(), " \n ")
	if f := faultOf(t, err, desk.Wrong); f.Fields["text"] == "" {
		t.Error("nothing at the field")
	}
	for range 19 {
		if _, err := c.PatronWrites(t.Context(), got.Key, c.form(), "Hello?"); err != nil {
			t.Fatal(err)
		}
	}
	_, err = c.PatronWrites(t.Context(), got.Key, c.form(), "Hello?")
	faultOf(t, err, desk.TooMany)
	c.pass(25 * time.Hour)
	long, err := c.PatronWrites(t.Context(), got.Key, c.form(), strings.Repeat("x", 1<<20))
	if err != nil || len(long.Text) > 4000 {
		t.Errorf("%d bytes kept, %v", len(long.Text), err)
	}
}

func TestMineMarksSeen(t *testing.T) {
	c := newCounter(t)
	got := c.submit()
	for range 2 {
		if _, err := c.Mine(t.Context(), got.Key); err != nil {
			t.Fatal(err)
		}
		c.pass(time.Hour)
	}
	m, err := c.Mine(t.Context(), got.Key)
	if err != nil || !m.Messages[0].Seen.Equal(got.Request.Asked) {
		t.Errorf("seen %v, %v", m.Messages[0].Seen, err)
	}
	if r := c.request(got.Request.ID); r.Version != 1 {
		t.Errorf("looking made version %d", r.Version)
	}
}

func TestAddFile(t *testing.T) {
	c := newCounter(t, func(r *desk.Rules) { r.MaxFiles = 1 })
	got := c.offered()
	form, up := c.form(), c.put(`..\mended.stl`, "solid mended")
	for range 2 {
		f, err := c.AddFile(t.Context(), got.Key, form, up)
		if err != nil || f.Name != "mended.stl" || f.Check != desk.Waiting {
			t.Fatalf("%+v, %v", f, err)
		}
	}
	r := c.request(got.Request.ID)
	m, err := c.Mine(t.Context(), got.Key)
	if err != nil || r.State != desk.InReview || r.Quote != nil || len(m.Files) != 2 {
		t.Errorf("%+v, %d files, %v", r, len(m.Files), err)
	}
	if n := len(c.jobs); n != 2 {
		t.Errorf("%d checks asked for", n)
	}
	for name, up := range map[string]desk.Upload{"the same": c.put("b.stl", "solid mended"), "too many": c.put("c.stl", "another"), "nothing": {}, "wrong": c.put("b.gcode", "G1")} {
		_, err := c.AddFile(t.Context(), got.Key, c.form(), up)
		if f := faultOf(t, err, desk.Wrong); f.Fields["files"] == "" {
			t.Errorf("%s: nothing at the field", name)
		}
	}
	for _, state := range []desk.State{desk.Agreed, desk.Printing, desk.OnShelf, desk.Collected, desk.Declined} {
		c.change(r.ID, func(r *desk.Request) { r.State = state })
		_, err := c.AddFile(t.Context(), got.Key, c.form(), c.put("d.stl", "more"))
		faultOf(t, err, desk.NotNow)
	}
}

func TestForgetMe(t *testing.T) {
	c := newCounter(t)
	for _, state := range desk.States() {
		got := c.offered(func(s *desk.Submission) { s.Source = "demo" })
		c.change(got.Request.ID, func(r *desk.Request) { r.State, r.Closed = state, c.now() })
		form := c.form()
		err := c.ForgetMe(t.Context(), got.Key, form)
		if state == desk.Printing || state == desk.OnShelf {
			faultOf(t, err, desk.NotNow)
			if r := c.request(got.Request.ID); r.Contact.Name == "" || !r.Forgotten.IsZero() {
				t.Errorf("%s: forgotten in part: %+v", state, r)
			}
			continue
		}
		if err != nil {
			t.Fatalf("%s: %v", state, err)
		}
		r := c.request(got.Request.ID)
		if r.Forgotten.IsZero() || r.Contact != (desk.Contact{}) || !r.State.Over() {
			t.Errorf("%s: %+v", state, r)
		}
		if err := c.ForgetMe(t.Context(), got.Key, form); err != nil { // sent twice
			t.Errorf("%s, again: %v", state, err)
		}
	}
}

// shortLine is a writer that takes only so much.
type shortLine struct{ left int }

func (w *shortLine) Write(p []byte) (int, error) {
	if w.left -= len(p); w.left < 0 {
		return 0, errors.New("the line broke")
	}
	return len(p), nil
}

func TestTakeOut(t *testing.T) {
	c := newCounter(t)
	got := c.offered(func(s *desk.Submission) {
		s.Wish.Note, s.Contact.Phone = "a marked note", "0123 456"
		s.Files = append(s.Files, c.put("cup.stl", "another of the same name"))
	})
	if _, err := c.PatronWrites(t.Context(), got.Key, c.form(), "a marked letter"); err != nil {
		t.Fatal(err)
	}
	m, err := c.Mine(t.Context(), got.Key)
	if err != nil {
		t.Fatal(err)
	}
	f := m.Files[0]
	f.Check, f.Result = desk.Done, &desk.Checked{Still: c.put("", "a picture").Hash, Answer: quote.Answer{Findings: []findings.Finding{{Message: "a marked finding"}}}}
	c.write(func(tx desk.Tx) error {
		if err := tx.SaveFile(&f); err != nil {
			return err
		}
		if err := tx.SaveMail(&desk.Mail{ID: desk.NewID(), Hash: "m1", State: desk.MailPlaced, Request: got.Request.ID, Came: c.now(), Body: desk.MailBody{
			From: "rowan@example.org", Text: "a mail that came", Files: []desk.MailFile{{Name: "../sketch.png", Hash: c.put("", "a sketch").Hash, Size: 8}}}}); err != nil {
			return err
		}
		return tx.SavePosted(&desk.Posted{ID: desk.NewID(), Request: got.Request.ID, State: desk.PostSent, Made: c.now(), Body: desk.PostBody{To: "rowan@example.org", Text: "a mail that went"}})
	})

	var b bytes.Buffer
	if err := c.TakeOut(t.Context(), got.Key, &b); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	in := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		in[f.Name] = string(text)
	}
	want := map[string]string{"files/01 cup.stl": "solid cup", "files/02 cup.stl": "another of the same name", "pictures/01.png": "a picture", "letters/01-01 sketch.png": "a sketch"}
	for name, text := range want {
		if in[name] != text {
			t.Errorf("%s holds %q", name, in[name])
		}
	}
	text := in["request.json"]
	// What a person reads first says the main things, and what else there is.
	for _, say := range []string{"Request " + string(got.Request.Code), "Name: Rowan Ash", "E-mail: rowan@example.org", "Telephone: 0123 456", "Anything else: a marked note", "a marked letter", "files/02 cup.stl", "letters/01-01 sketch.png", "pictures: "} {
		if !strings.Contains(in["read-me.txt"], say) {
			t.Errorf("the copy's plain words lack %q:\n%s", say, in["read-me.txt"])
		}
	}
	if !json.Valid([]byte(text)) || len(in) != 6 {
		t.Errorf("holds %d files", len(in))
	}
	for _, mark := range []string{"Rowan Ash", "rowan@example.org", "0123 456", "a marked note", "a marked letter", "a marked finding", "sensible", string(got.Request.Code), "A note among staff.", "a mail that came", "a mail that went"} {
		if !strings.Contains(text, mark) {
			t.Errorf("the copy lacks %q", mark)
		}
	}
	// The way in is not given away with it, but for the link in the message.
	for _, secret := range []string{got.Request.KeySeed, string(got.Request.Key), string(got.Request.Patron)} {
		if strings.Contains(text, secret) {
			t.Errorf("the copy holds a secret")
		}
	}
	if err := c.TakeOut(t.Context(), got.Key, &shortLine{100}); err == nil {
		t.Error("a broken line is no error")
	}
}
