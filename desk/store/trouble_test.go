package store_test

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgconn"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/internal/pg"
)

// send does what a patron's form does: bytes, then a request with a file and a
// line of history in one transaction.
func send(ctx context.Context, s *store.Store, form string) error { return sendLong(ctx, s, form, 400) }

// sendLong is send with a request of so many words.
func sendLong(ctx context.Context, s *store.Store, form string, words int) error {
	h, _, err := s.Shelves().Put(ctx, strings.NewReader(form+strings.Repeat(" part", 2000)), 1<<20)
	if err != nil {
		return err
	}
	return s.Write(ctx, func(tx desk.Tx) error {
		for {
			r := desk.Request{Code: desk.NewCode(), Form: form, Reason: strings.Repeat("word ", words)}
			err := tx.SaveRequest(&r)
			if desk.KindOf(err) == desk.TooMany {
				continue
			}
			if err != nil {
				return err
			}
			if err := tx.SaveFile(&desk.File{Request: r.ID, Hash: h}); err != nil {
				return err
			}
			return tx.AddEvent(&desk.Event{Request: r.ID, Version: 1, What: "asked"})
		}
	})
}

// whole wants every form that was acknowledged to be a whole request, and
// nothing of any other.
func whole(t *testing.T, s *store.Store, acknowledged []string) {
	t.Helper()
	err := s.Read(t.Context(), func(tx desk.Tx) error {
		all, err := tx.ListRequests(desk.RequestFilter{})
		if err != nil {
			return err
		}
		if len(all) != len(acknowledged) {
			t.Errorf("%d requests, %d were acknowledged", len(all), len(acknowledged))
		}
		for _, form := range acknowledged {
			r, err := tx.RequestByForm(form)
			if err != nil {
				return fmt.Errorf("form %s: %w", form, err)
			}
			files, err1 := tx.FilesOf(r.ID)
			events, err2 := tx.Events(r.ID, 0)
			if err := errors.Join(err1, err2); err != nil {
				return err
			}
			if len(files) != 1 || len(events) != 1 {
				t.Fatalf("form %s is a request with %d files and %d lines of history", form, len(files), len(events))
			}
			if got := bytesOf(t, s, files[0].Hash); !strings.HasPrefix(got, form+" part") {
				t.Errorf("form %s has bytes %.20q", form, got)
			}
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}

const mostForms = 2000

// fillUp sends forms until one is refused, and wants that to be said plainly.
func fillUp(t *testing.T, s *store.Store, words int) (acknowledged []string) {
	t.Helper()
	for i := range mostForms {
		form := fmt.Sprint("form-", i)
		err := sendLong(t.Context(), s, form, words)
		if err == nil {
			acknowledged = append(acknowledged, form)
			continue
		}
		var f *desk.Fault
		if !errors.As(err, &f) || f.Kind != desk.NoRoom || !strings.Contains(f.Say, "Make room") {
			t.Errorf("a full disk is said like this: %v", err)
		}
		if len(acknowledged) == 0 {
			t.Error("nothing was taken before it was full")
		}
		return acknowledged
	}
	t.Fatalf("%d forms and the disk is not full", mostForms)
	return nil
}

// TestDatabaseFull: when the database may not grow, a request is refused as a
// whole, everything before is whole, reading goes on, and so does writing once
// there is room.
func TestDatabaseFull(t *testing.T) {
	s := openStore(t, store.Options{})
	var pages int
	if err := s.DB().QueryRow("PRAGMA page_count").Scan(&pages); err != nil {
		t.Fatal(err)
	}
	limit := func(n int) {
		if _, err := s.DB().Exec(fmt.Sprintf("PRAGMA max_page_count = %d", n)); err != nil {
			t.Fatal(err)
		}
	}
	limit(pages + 40)
	acknowledged := fillUp(t, s, 400)
	whole(t, s, acknowledged)
	limit(1 << 30)
	if err := send(t.Context(), s, "later"); err != nil {
		t.Errorf("with room again: %v", err)
	}
	whole(t, s, append(acknowledged, "later"))
}

// TestLockedByAnother: another process that has the database makes a request
// wait, then be refused as a whole with a sentence; then all goes on.
func TestLockedByAnother(t *testing.T) {
	o := store.Options{Folder: t.TempDir(), Wait: 50 * time.Millisecond}
	s := openStore(t, o)
	if err := send(t.Context(), s, "before"); err != nil {
		t.Fatal(err)
	}
	let := holdDatabase(t, filepath.Join(o.Folder, "platebook.db"))
	err := send(t.Context(), s, "during")
	var f *desk.Fault
	if !errors.As(err, &f) || f.Kind != desk.NoRoom || !strings.Contains(f.Say, "in use") {
		t.Errorf("locked by another: got %v", err)
	}
	whole(t, s, []string{"before"}) // readers do not wait
	let()
	if err := send(t.Context(), s, "during"); err != nil {
		t.Errorf("sent again: %v", err)
	}
	whole(t, s, []string{"before", "during"})
}

const holdEnv = "PLATEBOOK_TEST_HOLD"

// holdDatabase has another process take a database for itself.
func holdDatabase(t *testing.T, path string) (let func()) {
	t.Helper()
	cmd := exec.Command(os.Args[0], "-test.run=^TestHolder$")
	cmd.Env = append(os.Environ(), holdEnv+"="+path)
	in, err := cmd.StdinPipe()
	if err != nil {
		t.Fatal(err)
	}
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	let = sync.OnceFunc(func() {
		in.Close()
		cmd.Wait()
	})
	t.Cleanup(let)
	if _, err := io.ReadFull(out, make([]byte, len("held\n"))); err != nil {
		t.Fatal("the other process did not get the database:", err)
	}
	return let
}

// TestHolder is the other process of TestLockedByAnother.
func TestHolder(t *testing.T) {
	path := os.Getenv(holdEnv)
	if path == "" {
		t.Skip("runs as another process of TestLockedByAnother")
	}
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	c, err := db.Conn(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.ExecContext(t.Context(), "BEGIN IMMEDIATE"); err != nil {
		t.Fatal(err)
	}
	fmt.Print("held\n")
	io.Copy(io.Discard, os.Stdin)
}

// TestServerGone: a database server that crashes makes requests be refused
// with a sentence; when it is back the desk goes on by itself, with all that
// was acknowledged.
func TestServerGone(t *testing.T) {
	s := openStore(t, store.Options{Database: pg.Database(t)})
	if err := send(t.Context(), s, "before"); err != nil {
		t.Fatal(err)
	}
	again := pg.Stall(t)
	t.Cleanup(again)
	for range 3 {
		if err := send(t.Context(), s, "during"); desk.KindOf(err) != desk.NoRoom {
			t.Errorf("the server is gone: got %v, want NoRoom", err)
		}
		if err := s.Read(t.Context(), func(tx desk.Tx) error { _, err := tx.Branches(); return err }); desk.KindOf(err) != desk.NoRoom {
			t.Errorf("reading: got %v, want NoRoom", err)
		}
	}
	again()
	for i := range 20 { // each connection that died is noticed once
		if err := send(t.Context(), s, "during"); err == nil {
			break
		} else if i == 19 || desk.KindOf(err) != desk.NoRoom {
			t.Fatalf("the server is back: %v", err)
		}
	}
	whole(t, s, []string{"before", "during"})
}

// TestRivals: two writers PostgreSQL cannot put in line: one runs again, and
// nothing is lost.
func TestRivals(t *testing.T) {
	s := openStore(t, store.Options{Database: pg.Database(t)})
	a, b := aRequest(t, s), aRequest(t, s)
	var ran atomic.Int64
	var both sync.WaitGroup
	both.Add(2)
	// Each reads what the other writes (write skew: "A Critique of ANSI SQL
	// Isolation Levels", 1995, A5B), so no order of the two fits.
	write := func(see, set desk.ID) error {
		first := true
		return s.Write(context.Background(), func(tx desk.Tx) error {
			ran.Add(1)
			other, err := tx.Request(see)
			if err != nil {
				return err
			}
			if first {
				first = false
				both.Done()
				both.Wait()
			}
			mine, err := tx.Request(set)
			if err != nil {
				return err
			}
			mine.Wish.Copies = other.Wish.Copies + 1
			return tx.SaveRequest(&mine)
		})
	}
	errs := make(chan error)
	go func() { errs <- write(a.ID, b.ID) }()
	go func() { errs <- write(b.ID, a.ID) }()
	if err := errors.Join(<-errs, <-errs); err != nil {
		t.Fatal(err)
	}
	if ran.Load() < 3 {
		t.Errorf("ran %d times, want one of them again", ran.Load())
	}
	err := s.Read(t.Context(), func(tx desk.Tx) error {
		x, err1 := tx.Request(a.ID)
		y, err2 := tx.Request(b.ID)
		if x.Wish.Copies+y.Wish.Copies != 3 {
			t.Errorf("copies %d and %d: not as if one came after the other", x.Wish.Copies, y.Wish.Copies)
		}
		return errors.Join(err1, err2)
	})
	if err != nil {
		t.Error(err)
	}
}

// TestNoEnd: a writer that loses every time gives up.
func TestNoEnd(t *testing.T) {
	s := openStore(t, store.Options{})
	ran := 0
	lost := &pgconn.PgError{Code: "40001"}
	err := s.Write(t.Context(), func(tx desk.Tx) error { ran++; return lost })
	if !errors.Is(err, lost) || ran < 2 || ran > 50 {
		t.Errorf("ran %d times, then %v", ran, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	err = s.Write(ctx, func(tx desk.Tx) error { cancel(); return lost })
	if err == nil {
		t.Error("kept what nobody waits for")
	}
}

// TestJobs: a job is handed on within the transaction of its cause, and
// refused before anyone takes jobs.
func TestJobs(t *testing.T) {
	for _, name := range []string{"sqlite", "postgres"} {
		t.Run(name, func(t *testing.T) {
			o := store.Options{Folder: t.TempDir()}
			if name == "postgres" {
				o.Database = pg.Database(t)
			}
			s, err := store.Open(t.Context(), o)
			if err != nil {
				t.Fatal(err)
			}
			defer s.Close()
			job := desk.Job{Kind: desk.CheckFile, ID: "f", At: time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)}
			enqueue := func(tx desk.Tx) error { return tx.Enqueue(job) }
			if err := s.Write(t.Context(), enqueue); err == nil {
				t.Error("a job went nowhere")
			}
			if _, err := s.DB().Exec("CREATE TABLE jobs (kind TEXT)"); err != nil {
				t.Fatal(err)
			}
			s.SetEnqueue(func(ctx context.Context, tx *sql.Tx, j desk.Job) error {
				if j != job {
					t.Errorf("got job %+v", j)
				}
				_, err := tx.ExecContext(ctx, "INSERT INTO jobs VALUES ($1)", string(j.Kind))
				return err
			})
			undo := errors.New("undo")
			if err := s.Write(t.Context(), func(tx desk.Tx) error { return errors.Join(tx.Enqueue(job), undo) }); !errors.Is(err, undo) {
				t.Error(err)
			}
			if err := s.Write(t.Context(), enqueue); err != nil {
				t.Error(err)
			}
			var n int
			if err := s.DB().QueryRow("SELECT count(*) FROM jobs").Scan(&n); err != nil || n != 1 {
				t.Errorf("%d jobs, %v; want the one whose cause was kept", n, err)
			}
		})
	}
}
