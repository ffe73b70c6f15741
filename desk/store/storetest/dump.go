package storetest

import (
	"encoding/json"
	"testing"
	"time"

	"platebook/desk"
)

// Everything keeps one of everything a store can keep, with every field set.
func Everything(t *testing.T, s desk.Store) { testFields(t, s) }

// Dump writes down all that a store keeps.
func Dump(t testing.TB, s desk.Store) string {
	t.Helper()
	all := map[string]any{}
	err := s.Read(t.Context(), func(tx desk.Tx) error {
		keep := func(name string) func(v any, err error) {
			return func(v any, err error) {
				if err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				all[name] = v
			}
		}
		requests, err := tx.ListRequests(desk.RequestFilter{})
		keep("requests")(requests, err)
		for _, r := range requests {
			id := string(r.ID)
			keep("files of " + id)(anyOf(tx.FilesOf(r.ID)))
			keep("messages of " + id)(anyOf(tx.Messages(r.ID)))
			keep("events of " + id)(anyOf(tx.Events(r.ID, -1)))
			keep("charges of " + id)(anyOf(tx.Charges(r.ID)))
			keep("runs of " + id)(anyOf(tx.RunsOf(r.ID)))
			keep("found " + id)(anyOf(tx.ListRequests(desk.RequestFilter{Text: r.Contact.Email, IDs: []desk.ID{r.ID}})))
		}
		keep("runs")(anyOf(tx.ListRuns(desk.RunFilter{})))
		spools, err := tx.Spools(nil, true)
		keep("spools")(spools, err)
		for _, p := range spools {
			keep("lines of " + string(p.ID))(anyOf(tx.SpoolLines(p.ID, 0)))
		}
		keep("branches")(anyOf(tx.Branches()))
		keep("printers")(anyOf(tx.Printers(nil)))
		keep("staff")(anyOf(tx.AllStaff()))
		keep("log-ins")(anyOf(tx.LogIns(time.Time{}, "", "", 0)))
		for _, k := range append(desk.SettingKinds(), filled[desk.Setting](9).Kind) {
			keep("settings " + string(k))(anyOf(tx.SettingVersions(k)))
		}
		keep("tallies")(anyOf(tx.Tallies("", "")))
		keep("shapes")(anyOf(tx.Shapes()))
		keep("letters")(anyOf(tx.ListMail(nil, 0)))
		keep("posted")(anyOf(tx.ListPosted(nil, 0)))
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	b, err := json.MarshalIndent(all, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func anyOf[T any](v T, err error) (any, error) { return v, err }
