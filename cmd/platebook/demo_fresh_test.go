package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/desk/work"
)

// A demonstration that is open is not emptied from under those who look round
// in it, also when the new one was to listen elsewhere.
func TestFreshLeavesAnOpenDemonstrationAlone(t *testing.T) {
	c := demoCommand{Folder: t.TempDir(), Fresh: true, known: work.NewKnown(work.Options{})}
	if err := c.write(setting{Service: "Larkmere Libraries", Whole: true}); err != nil {
		t.Fatal(err)
	}
	st, err := store.Open(t.Context(), store.Options{Folder: c.Folder})
	if err != nil {
		t.Fatal(err)
	}
	defer st.Close()
	stopped, stop := context.WithCancel(t.Context())
	stop() // should it begin all the same, it ends at once
	var out, errs bytes.Buffer
	_, err = c.set(stopped, &streams{out: &out, err: &errs}, "http://127.0.0.1:1")
	if desk.KindOf(err) != desk.NotNow {
		t.Errorf("an open demonstration was to be made anew: %v", err)
	}
	if _, err := os.Stat(filepath.Join(c.Folder, "platebook.db")); err != nil {
		t.Errorf("its database is gone: %v", err)
	}
}
