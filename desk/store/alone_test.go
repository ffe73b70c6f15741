package store_test

import (
	"bytes"
	"cmp"
	"context"
	"database/sql"
	"errors"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
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
		if time.Since(began) > 3*time.Minute {
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
	case <-time.After(3 * time.Minute):
		t.Error("it does not notice")
	}
}

// TestADeskWhoseNetworkFellSilent: nothing that is sent on a connection arrives
// any more, and nothing says so, as behind a firewall that was started anew. The
// server has noticed, and another desk has the lock.
func TestADeskWhoseNetworkFellSilent(t *testing.T) {
	at := pg.Database(t)
	u, err := url.Parse(at)
	if err != nil {
		t.Fatal(err)
	}
	w := openWire(t, u.Query().Get("host"), u.Query().Get("port"), u.Host)
	s, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Database: w.through(u)})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	db, err := sql.Open("pgx", at)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	w.silence()
	cut(t, db)
	second, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Database: at})
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	select {
	case <-s.Lost():
	case <-time.After(3 * time.Minute):
		t.Error("it does not notice")
	}
}

// TestADeskThatEndsWhileItLooks: the desk closes just as the connection of its
// lock is looked after. The lock is let go before Close returns, so that the
// next desk need not wait for the server to notice.
func TestADeskThatEndsWhileItLooks(t *testing.T) {
	at := pg.Database(t)
	u, err := url.Parse(at)
	if err != nil {
		t.Fatal(err)
	}
	w := openWire(t, u.Query().Get("host"), u.Query().Get("port"), u.Host)
	s, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Database: w.through(u)})
	if err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open("pgx", at)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	w.road.Lock() // what is sent now is on its way until this is undone
	for w.onWay.Load() == 0 {
		time.Sleep(10 * time.Millisecond)
	}
	closed := make(chan error, 1)
	go func() { closed <- s.Close() }()
	select {
	case err := <-closed:
		t.Errorf("closed while the server could not be told: %v", err)
		if n := holder(t, db); n != 0 {
			t.Errorf("process %d has the lock", n)
		}
		w.road.Unlock()
		return
	case <-time.After(time.Second): // so that Close has begun
	}
	w.road.Unlock()
	if err := <-closed; err != nil {
		t.Error(err)
	}
	if n := holder(t, db); n != 0 {
		t.Errorf("after closing, process %d has the lock", n)
	}
}

// wire passes on what goes to and from a server.
type wire struct {
	address string
	road    sync.RWMutex // locked, nothing gets through, and it is all there afterwards
	onWay   atomic.Int64
	mu      sync.Mutex
	open    []net.Conn
	silent  map[net.Conn]bool
}

// through is the address of a database by the wire.
func (w *wire) through(at *url.URL) string {
	u, q := *at, at.Query()
	q.Del("host")
	q.Del("port")
	u.Host, u.RawQuery = w.address, q.Encode()
	return u.String()
}

// silence has nothing arrive any more on the connections that are open.
func (w *wire) silence() {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, c := range w.open {
		w.silent[c] = true
	}
}

func openWire(t *testing.T, host, port, server string) *wire {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	w := &wire{address: l.Addr().String(), silent: map[net.Conn]bool{}}
	dial := func() (net.Conn, error) {
		if strings.HasPrefix(host, "/") {
			return net.Dial("unix", filepath.Join(host, ".s.PGSQL."+cmp.Or(port, "5432")))
		}
		return net.Dial("tcp", server)
	}
	pass := func(from, to, client net.Conn) {
		b := make([]byte, 32<<10)
		for {
			n, err := from.Read(b)
			w.onWay.Add(1)
			w.road.RLock()
			w.road.RUnlock() //lint:ignore SA2001 what is on its way waits until the road is open
			w.onWay.Add(-1)
			w.mu.Lock()
			silent := w.silent[client]
			w.mu.Unlock()
			switch {
			case silent && err != nil:
				return // and the other side hears nothing of it
			case silent:
				continue
			case err != nil:
				to.Close()
				return
			}
			if _, err := to.Write(b[:n]); err != nil {
				return
			}
		}
	}
	go func() {
		for {
			client, err := l.Accept()
			if err != nil {
				return
			}
			behind, err := dial()
			if err != nil {
				client.Close()
				continue
			}
			w.mu.Lock()
			w.open = append(w.open, client, behind)
			w.mu.Unlock()
			go pass(client, behind, client)
			go pass(behind, client, client)
		}
	}()
	t.Cleanup(func() {
		l.Close()
		w.mu.Lock()
		defer w.mu.Unlock()
		for _, c := range w.open {
			c.Close()
		}
	})
	return w
}

// TestRestoreBesideADesk: one that was only just opened has no rows yet, so
// nothing but its lock says that it is there.
func TestRestoreBesideADesk(t *testing.T) {
	from := store.Options{Folder: t.TempDir()}
	was, err := store.Open(t.Context(), from)
	if err != nil {
		t.Fatal(err)
	}
	if err := was.Close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "backup.zip")
	z, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := store.Backup(t.Context(), from, "", z); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	at := pg.Database(t)
	s, err := store.Open(t.Context(), store.Options{Folder: t.TempDir(), Database: at})
	if err != nil {
		t.Fatal(err)
	}
	to := store.Options{Folder: filepath.Join(t.TempDir(), "restored"), Database: at, Wait: 200 * time.Millisecond}
	if _, err := store.Restore(t.Context(), path, to); desk.KindOf(err) != desk.NotNow {
		t.Errorf("beside a desk: %v", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Restore(t.Context(), path, to); err != nil {
		t.Errorf("once it is closed: %v", err)
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
	// Its rows come when the statement has taken six seconds, on any machine; five
	// are enough for all others.
	const rows = 100
	for _, q := range []string{
		`INSERT INTO logins (id, at, name, folded, from_addr, ok, why)
			SELECT 'l' || i, i, 'n', 'n', 'f', 0, 'w' FROM generate_series(1, 100) i`,
		"ALTER TABLE logins RENAME TO long",
		"CREATE VIEW logins AS SELECT long.* FROM long, (SELECT pg_sleep(6)) AS slow",
	} {
		if _, err := s.DB().ExecContext(t.Context(), q); err != nil {
			t.Fatal(err)
		}
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	o.Database = url + "&statement_timeout=5000&idle_in_transaction_session_timeout=5000"
	m, err := store.Backup(t.Context(), o, "", new(bytes.Buffer))
	if err != nil {
		t.Fatal(err)
	}
	if m.Rows["logins"] != rows {
		t.Errorf("%d rows of %d", m.Rows["logins"], rows)
	}
}
