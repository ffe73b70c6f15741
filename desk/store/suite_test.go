package store_test

import (
	"context"
	"database/sql"
	"os"
	"testing"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/desk/store/storetest"
	"platebook/internal/pg"
)

func TestMain(m *testing.M) { os.Exit(pg.Main(m)) }

func accept(context.Context, *sql.Tx, desk.Job) error { return nil }

func openStore(t testing.TB, o store.Options) *store.Store {
	t.Helper()
	if o.Folder == "" {
		o.Folder = t.TempDir()
	}
	o.Enqueue = accept
	s, err := store.Open(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

func TestSQLite(t *testing.T) {
	storetest.Run(t, func(t *testing.T) desk.Store { return openStore(t, store.Options{}) })
}

func TestPostgres(t *testing.T) {
	storetest.Run(t, func(t *testing.T) desk.Store { return openStore(t, store.Options{Database: pg.Database(t)}) })
}
