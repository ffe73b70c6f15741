package store_test

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"strings"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/internal/pg"
)

// holder is the process of the server that has the desk's lock, by PostgreSQL's
// own view of locks; 0 is none.
func holder(t *testing.T, db *sql.DB) (pid int) {
	t.Helper()
	err := db.QueryRowContext(t.Context(), "SELECT pid FROM pg_locks WHERE locktype = 'advisory' AND granted AND database = (SELECT oid FROM pg_database WHERE datname = current_database())").Scan(&pid)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		t.Fatal(err)
	}
	return pid
}

// cut ends the connection that has the lock, as a server does that starts anew.
func cut(t *testing.T, db *sql.DB) {
	t.Helper()
	if _, err := db.ExecContext(t.Context(), "SELECT pg_terminate_backend($1)", holder(t, db)); err != nil {
		t.Fatal(err)
	}
}

// TestOneDeskOnADatabase: two folders, one database: the second is told, backups
// work beside the first, and the lock comes back when its connection is lost.
func TestOneDeskOnADatabase(t *testing.T) {
	url := pg.Database(t)
	o := store.Options{Folder: t.TempDir(), Database: url}
	s, err := store.Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { s.Close() }()
	db, err := sql.Open("pgx", url)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	second := store.Options{Folder: t.TempDir(), Database: url, Wait: 200 * time.Millisecond}
	refused := func(when string) {
		t.Helper()
		b, err := store.Open(t.Context(), second)
		var f *desk.Fault
		if !errors.As(err, &f) || f.Kind != desk.NotNow || !strings.Contains(f.Say, "Another desk works on this database") {
			t.Errorf("%s, a second desk: %v", when, err)
		}
		if err == nil {
			b.Close()
		}
	}
	refused("beside the first")
	if _, err := store.Backup(t.Context(), o, "", new(bytes.Buffer)); err != nil {
		t.Errorf("a backup beside it: %v", err)
	}
	was := holder(t, db)
	cut(t, db)
	for began := time.Now(); holder(t, db) == was || holder(t, db) == 0; time.Sleep(20 * time.Millisecond) {
		if time.Since(began) > time.Minute {
			t.Fatal("the lock was not taken again")
		}
	}
	refused("after the connection was lost and made again")
	select {
	case <-s.Lost():
		t.Error("it says another desk has the database")
	default:
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if n := holder(t, db); n != 0 {
		t.Errorf("after closing, process %d has the lock", n)
	}
	b, err := store.Open(t.Context(), second)
	if err != nil {
		t.Fatalf("after the first is closed: %v", err)
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
}

// TestADeskThatLostItsDatabase: while it was cut off another took the lock.
func TestADeskThatLostItsDatabase(t *testing.T) {
	url := pg.Database(t)
	s, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Database: url})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	db, err := sql.Open("pgx", url)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	// Another session that waits for the lock gets it as soon as it is free.
	other, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	var key int64
	if err := db.QueryRowContext(t.Context(), "SELECT (classid::bigint << 32) | objid::bigint FROM pg_locks WHERE locktype = 'advisory' AND granted AND database = (SELECT oid FROM pg_database WHERE datname = current_database())").Scan(&key); err != nil {
		t.Fatal(err)
	}
	got := make(chan error, 1)
	go func() {
		_, err := other.ExecContext(context.Background(), "SELECT pg_advisory_lock($1)", key)
		got <- err
	}()
	for waiting := 0; waiting == 0; time.Sleep(10 * time.Millisecond) {
		if err := db.QueryRowContext(t.Context(), "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND NOT granted").Scan(&waiting); err != nil {
			t.Fatal(err)
		}
	}
	cut(t, db)
	if err := <-got; err != nil {
		t.Fatal(err)
	}
	select {
	case <-s.Lost():
	case <-time.After(time.Minute):
		t.Error("it does not notice")
	}
}

// TestBackupOfALongTable: a table that takes longer than any statement of the
// desk may is backed up all the same.
func TestBackupOfALongTable(t *testing.T) {
	url := pg.Database(t)
	o := store.Options{Folder: t.TempDir(), Database: url}
	s, err := store.Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	const rows = 150_000
	if _, err := s.DB().ExecContext(t.Context(), `INSERT INTO logins (id, at, name, folded, from_addr, ok, why)
		SELECT 'l' || i, i, repeat('n', 60), 'n', repeat('f', 60), 0, repeat('w', 200) FROM generate_series(1, $1::int) i`, rows); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	o.Database = url + "&statement_timeout=150&idle_in_transaction_session_timeout=150"
	m, err := store.Backup(t.Context(), o, "", new(bytes.Buffer))
	if err != nil {
		t.Fatal(err)
	}
	if m.Rows["logins"] != rows {
		t.Errorf("%d rows of %d", m.Rows["logins"], rows)
	}
}
