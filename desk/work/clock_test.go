package work

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
)

// A request lives through reminding, lapsing and forgetting on either database,
// by jobs of the clock, and then no row of any table holds a word of it.
func TestALifeByTheClock(t *testing.T) { onBoth(t, aLifeByTheClock) }

func aLifeByTheClock(t *testing.T, where store.Options) {
	b := newBench(t, Options{}, where)
	r := b.send(t, desk.Wish{Note: "zq-note", Purpose: "zq-purpose"}, map[string][]byte{"zq-file.stl": block(10, 10, 4)})
	_, files := b.request(t, r.ID)
	b.do(t, desk.Job{Kind: desk.CheckFile, ID: files[0].ID})
	b.do(t, desk.Job{Kind: desk.FindWays, ID: r.ID})
	staff := desk.Actor{Kind: desk.ByStaff, ID: desk.NewID(), Name: "Ivo", Grants: []desk.Grant{{Role: desk.Manager}}}
	r, _ = b.request(t, r.ID)
	r, err := b.Take(t.Context(), staff, r.ID, r.Version)
	must(t, err)
	for _, q := range desk.DefaultRules().Questions {
		r, err = b.Judge(t.Context(), staff, r.ID, r.Version, q.ID, true, "")
		must(t, err)
	}
	r, err = b.SendOffer(t.Context(), staff, r.ID, r.Version, desk.OfferForm{Form: "offer", Ways: []string{"sensible"}, Subject: "zq-subject", Text: "zq-text"})
	must(t, err)
	words := []string{"zq-", "Ada Reed", "ada@example.org"}
	if found := rowsWith(t, b, words); len(found) < 4 {
		t.Fatalf("only %v hold a word of it: the search does not find what is there", found)
	}
	round := func() desk.Request {
		t.Helper()
		must(t, Do(t.Context(), b.Desk, desk.Job{Kind: desk.LookRound}))
		r, _ := b.request(t, r.ID)
		return r
	}
	b.at = r.Quote.Until.AddDate(0, 0, -3)
	if got := round(); got.Reminded != b.at || got.State != desk.WithPatron {
		t.Errorf("reminded %v, it is %s", got.Reminded, got.State)
	}
	b.at = r.Quote.Until.Add(time.Second)
	if got := round(); got.State != desk.Lapsed {
		t.Errorf("it is %s", got.State)
	}
	b.at = b.at.AddDate(0, 0, 30)
	if got := round(); got.Forgotten != b.at {
		t.Errorf("forgotten %v", got.Forgotten)
	}
	if found := rowsWith(t, b, words); len(found) > 0 {
		t.Errorf("after it is forgotten, these hold a word of it: %v", found)
	}
	if _, err := b.Shelves.Open(t.Context(), files[0].Hash); desk.KindOf(err) != desk.NotFound {
		t.Errorf("the file is still there: %v", err)
	}
}

// rowsWith lists the columns of all tables, River's too, that hold any of the words.
func rowsWith(t *testing.T, b *bench, words []string) (found []string) {
	t.Helper()
	ctx, db := t.Context(), b.store.DB()
	list := "SELECT name FROM sqlite_master WHERE type = 'table'"
	if b.store.Dialect() == "postgres" {
		list = "SELECT table_name FROM information_schema.tables WHERE table_schema = 'public'"
	}
	var tables []string
	names, err := db.QueryContext(ctx, list)
	must(t, err)
	for names.Next() {
		var n string
		must(t, names.Scan(&n))
		tables = append(tables, n)
	}
	must(t, names.Err())
	must(t, names.Close())
	if len(tables) < 15 {
		t.Fatalf("only the tables %v", tables)
	}
	for _, table := range tables {
		rows, err := db.QueryContext(ctx, `SELECT * FROM "`+table+`"`)
		must(t, err)
		columns, err := rows.Columns()
		must(t, err)
		for rows.Next() {
			values, into := make([]any, len(columns)), make([]any, len(columns))
			for i := range values {
				into[i] = &values[i]
			}
			must(t, rows.Scan(into...))
			for i, v := range values {
				if text, ok := v.([]byte); ok {
					v = string(text)
				}
				for _, w := range words {
					if strings.Contains(strings.ToLower(fmt.Sprint(v)), strings.ToLower(w)) {
						found = append(found, table+"."+columns[i])
					}
				}
			}
		}
		must(t, rows.Err())
		must(t, rows.Close())
	}
	return found
}
