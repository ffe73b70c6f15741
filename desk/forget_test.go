package desk_test

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/desk/work"
	"platebook/engine/tariff"
)

type tariffT = tariff.Tariff

// marks are words found nowhere else, one for each place a person could be
// told by.
type marks struct{ words []string }

func (m *marks) word(what string) string {
	w := fmt.Sprintf("zq%03d%sqz", len(m.words), what)
	m.words = append(m.words, w)
	return w
}

// fill puts a mark into every empty text of a struct, at any depth, so that a
// field somebody adds is marked too.
func (m *marks) fill(v reflect.Value, path string) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			return
		}
		for i := range v.NumField() {
			m.fill(v.Field(i), path+v.Type().Field(i).Name)
		}
	case reflect.String:
		switch v.Type() {
		case reflect.TypeFor[string](), reflect.TypeFor[desk.Hash]():
			if v.CanSet() && v.String() == "" {
				v.SetString(m.word(path))
			}
		}
	}
}

// After a request is forgotten no byte of the folder holds a mark: not the
// database with its log, not the files, not the pictures. The same folder held
// every one of them before, so the search can find them.
func TestNothingOfAForgottenRequestIsLeft(t *testing.T) {
	ctx := t.Context()
	folder := t.TempDir()
	at := time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC)
	now := func() time.Time { return at }
	s, err := store.Open(ctx, store.Options{Folder: folder, Now: now})
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	check(err)
	d := &desk.Desk{Store: s, Shelves: s.Shelves(), Now: now, Secret: []byte("a secret of tests, thirty-two by."), Program: "test"}
	w, err := work.New(ctx, d, s.DB(), work.Options{Dialect: s.Dialect()})
	check(err)
	s.SetEnqueue(w.Enqueue)
	branch := desk.Branch{Name: "Alder"}
	check(s.Write(ctx, func(tx desk.Tx) error { return tx.SaveBranch(&branch) }))

	var m marks
	bytesOf := func(what string) (desk.Hash, int64) {
		h, n, err := s.Shelves().Put(ctx, strings.NewReader(m.word(what)), 1000)
		check(err)
		return h, n
	}
	model, size := bytesOf("model")
	picture, _ := bytesOf("picture")
	contact := desk.Contact{Name: m.word("name"), Surname: m.word("surname"), Email: strings.ToLower(m.word("mail")) + "@example.org", Phone: m.word("phone"),
		Card: m.word("card"), Language: "en", UnderAge: true, Guardian: m.word("guardian")}
	got, err := d.Submit(ctx, desk.Submission{Form: "form", Source: "page", Branch: branch.ID, Contact: contact, Accept: true,
		Wish:  desk.Wish{Copies: 1, Colour: m.word("colour"), Purpose: m.word("purpose"), Note: m.word("note"), Rights: true},
		Files: []desk.Upload{{Name: m.word("file") + ".stl", Hash: model, Size: size}}}, desk.APatron())
	check(err)
	id := got.Request.ID
	_, err = d.PatronWrites(ctx, got.Key, "write", m.word("message"))
	check(err)
	reviewer := desk.Actor{Kind: desk.ByStaff, ID: desk.NewID(), Name: "Rita", Grants: []desk.Grant{{Role: desk.Manager}}}
	check(s.Write(ctx, func(tx desk.Tx) error {
		r, err := tx.Request(id)
		check(err)
		way := desk.Way{ID: "sensible"}
		m.fill(reflect.ValueOf(&way).Elem(), "way")
		r.Plan.Parts = []desk.PartPlan{{Copies: 1, Unit: m.word("unit")}}
		r.Ways = []desk.Way{way}
		r.Quote = &desk.Quote{Ways: r.Ways, Until: at.AddDate(0, 0, 14), Sent: at}
		m.fill(reflect.ValueOf(r.Quote).Elem(), "quote")
		r.Agreement = &desk.Agreement{Way: way}
		m.fill(reflect.ValueOf(r.Agreement).Elem(), "agreement")
		r.Checklist = []desk.Judgement{{Fine: true, Why: m.word("why")}}
		r.Basis = desk.Basis{State: desk.Done, Without: []string{m.word("without")}, Instead: []string{m.word("instead")}, Trouble: m.word("trouble")}
		r.Reason = m.word("reason")
		r.Shelf = &desk.Shelved{Place: m.word("place")}
		m.fill(reflect.ValueOf(&r.Wish).Elem(), "wish")
		m.fill(reflect.ValueOf(&r.Contact).Elem(), "contact")
		check(tx.SaveRequest(&r))
		files, err := tx.FilesOf(id)
		check(err)
		c := &desk.Checked{Shape: m.word("shape")}
		m.fill(reflect.ValueOf(&c.Answer).Elem(), "answer")
		files[0].Check, files[0].Result, files[0].Doing = desk.Done, c, m.word("doing")
		check(tx.SaveFile(&files[0]))
		check(tx.Refer(id, picture))
		check(tx.SaveMessage(&desk.Message{Request: id, From: desk.ByStaff, Who: "Rita", Subject: m.word("subject"), Text: m.word("text"), At: at}))
		check(tx.AddEvent(&desk.Event{Request: id, Version: r.Version, At: at, Kind: desk.ByStaff, Who: "Rita", What: "changed",
			Say: m.word("say"), Before: m.word("before"), After: m.word("after")}))
		check(tx.AddEvent(&desk.Event{Request: id, Version: r.Version, At: at, Kind: desk.ByPatron, Who: m.word("who"), What: "asked"}))
		return tx.AddCharge(&desk.Charge{Request: id, Form: m.word("chargeform"), Kind: desk.Correction, Amount: "1.00", Currency: "EUR", Reason: m.word("chargereason"), Who: "Rita", At: at})
	}))
	// Rewritten a few times, so that old pages lie about.
	for range 20 {
		contact.Phone = m.word("phone")
		_, err := d.EditContact(ctx, reviewer, id, 0, contact)
		check(err)
	}
	var key string
	check(s.Read(ctx, func(tx desk.Tx) error {
		r, err := tx.Request(id)
		key = r.KeySeed
		return err
	}))
	m.words = append(m.words, key)

	found := leftIn(t, folder, m.words)
	for _, word := range m.words {
		if !slices.Contains(found, word) {
			t.Errorf("%s is nowhere before: the search does not find what is there", word)
		}
	}
	at = at.AddDate(0, 0, 2)
	check(d.ForgetMe(ctx, got.Key, "forget"))
	check(d.LookRound(ctx))
	if found := leftIn(t, folder, m.words); len(found) > 0 {
		t.Errorf("left after it is forgotten: %v", found)
	}
	// And again once the database is closed, which carries over its log.
	check(s.Close())
	if found := leftIn(t, folder, m.words); len(found) > 0 {
		t.Errorf("left after closing: %v", found)
	}
}

// leftIn lists the words found in any file of a folder, in the bytes or the
// names, as they are or in letters' other case, as JSON or as hexadecimal.
func leftIn(t *testing.T, folder string, words []string) (found []string) {
	t.Helper()
	var all []byte
	if err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		all = append(append(all, path...), b...)
		return err
	}); err != nil {
		t.Fatal(err)
	}
	lower := bytes.ToLower(all)
	for _, w := range words {
		quoted, err := json.Marshal(w)
		if err != nil {
			t.Fatal(err)
		}
		for _, as := range [][]byte{[]byte(w), bytes.Trim(quoted, `"`), []byte(hex.EncodeToString([]byte(w)))} {
			if bytes.Contains(lower, bytes.ToLower(as)) {
				found = append(found, w)
				break
			}
		}
	}
	return found
}
