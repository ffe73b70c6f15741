package desk_test

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
)

// TestTakeUp: rows that owe a check or ways, and a queue that has nothing of
// it: a round puts both in. What is done or over is left alone.
func TestTakeUp(t *testing.T) {
	now := time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)
	var got []string
	s, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Now: func() time.Time { return now },
		Enqueue: func(_ context.Context, _ *sql.Tx, j desk.Job) error {
			got = append(got, string(j.Kind)+" "+string(j.ID))
			if j.Kind == desk.FindWays && j.Round != 3 {
				t.Errorf("ways are sought for round %d, want that of the plan, 3", j.Round)
			}
			return nil
		}})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	d := &desk.Desk{Store: s, Shelves: s.Shelves(), Now: func() time.Time { return now }, Secret: make([]byte, 32)}
	for i, c := range []struct {
		name  string
		state desk.State
		file  desk.CheckState
		ways  desk.CheckState
	}{
		{"waits", desk.Received, desk.Waiting, ""},
		{"checking", desk.InReview, desk.Checking, ""},
		{"seeking", desk.InReview, desk.Done, desk.Waiting},
		{"done", desk.InReview, desk.Done, desk.Done},
		{"failed", desk.InReview, desk.Failed, desk.Failed},
		{"beside", desk.Received, desk.NoModel, ""},
		{"over", desk.Withdrawn, desk.Waiting, desk.Waiting},
	} {
		err := s.Write(t.Context(), func(tx desk.Tx) error {
			r := desk.Request{ID: desk.ID(c.name), Code: desk.Code(fmt.Sprintf("K7-%03d", i)), State: c.state, Basis: desk.Basis{State: c.ways, Asked: 3}}
			if c.state.Over() {
				r.Closed = now
			}
			if err := tx.SaveRequest(&r); err != nil {
				return err
			}
			return tx.SaveFile(&desk.File{ID: desk.ID(c.name + "'s file"), Request: r.ID, Check: c.file})
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := d.LookRound(t.Context()); err != nil {
		t.Fatal(err)
	}
	slices.Sort(got)
	if want := "check-file checking's file, check-file waits's file, find-ways seeking"; strings.Join(got, ", ") != want {
		t.Errorf("put in: %q, want %q", strings.Join(got, ", "), want)
	}
}
