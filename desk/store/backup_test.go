package store_test

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/desk/store/storetest"
	"platebook/internal/pg"
)

// put shelves text and keeps a file of it with a request.
func put(t testing.TB, s *store.Store, request desk.ID, text string) desk.Hash {
	t.Helper()
	h, _, err := s.Shelves().Put(t.Context(), strings.NewReader(text), 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Write(t.Context(), func(tx desk.Tx) error {
		return tx.SaveFile(&desk.File{Request: request, Name: "part.stl", Hash: h, Size: int64(len(text))})
	}); err != nil {
		t.Fatal(err)
	}
	return h
}

func aRequest(t testing.TB, s *store.Store) desk.Request {
	t.Helper()
	r := desk.Request{Code: desk.NewCode(), State: desk.Received}
	if err := s.Write(t.Context(), func(tx desk.Tx) error { return tx.SaveRequest(&r) }); err != nil {
		t.Fatal(err)
	}
	return r
}

func backupOf(t testing.TB, o store.Options) (string, store.Manifest) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "backup.zip")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	m, err := store.Backup(t.Context(), o, "test", f)
	if err := errors.Join(err, f.Close()); err != nil {
		t.Fatal(err)
	}
	return path, m
}

// TestBackup: what is restored is what was backed up, to the last field and
// byte, between either database, while the desk is open.
func TestBackup(t *testing.T) {
	for _, c := range []struct{ from, to string }{
		{"sqlite", "sqlite"}, {"sqlite", "postgres"}, {"postgres", "sqlite"}, {"postgres", "postgres"},
	} {
		t.Run(c.from+" to "+c.to, func(t *testing.T) {
			from := store.Options{Folder: filepath.Join(t.TempDir(), "it's [a] 50% folder?")}
			to := store.Options{Folder: filepath.Join(t.TempDir(), "new")}
			if c.from == "postgres" {
				from.Database = pg.Database(t)
			}
			if c.to == "postgres" {
				to.Database = pg.Database(t)
			}
			s := openStore(t, from)
			storetest.Everything(t, s)
			r := aRequest(t, s)
			h := put(t, s, r.ID, "solid part")
			view, _, err := s.Shelves().Put(t.Context(), strings.NewReader("a view"), 100)
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Write(t.Context(), func(tx desk.Tx) error { return tx.Refer(r.ID, view) }); err != nil {
				t.Fatal(err)
			}
			secret, err := s.Secret()
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Sessions().Commit("token", []byte("in"), time.Now().Add(time.Hour)); err != nil {
				t.Fatal(err)
			}
			zipped, m := backupOf(t, from)
			if m.Files != 2 || m.Bytes != int64(len("solid part")+len("a view")) || m.Rows["requests"] != 2 || m.Dialect != c.from || len(m.Missing) != 0 {
				t.Errorf("manifest: %+v", m)
			}
			want := storetest.Dump(t, s)
			got, err := store.Restore(t.Context(), zipped, to)
			if err != nil {
				t.Fatal(err)
			}
			if d := cmp.Diff(m, got); d != "" {
				t.Errorf("Restore says otherwise than Backup (- backup, + restore):\n%s", d)
			}
			n := openStore(t, to)
			if d := cmp.Diff(want, storetest.Dump(t, n)); d != "" {
				t.Errorf("restored rows differ (- before, + after):\n%s", d)
			}
			for _, c := range []struct {
				h    desk.Hash
				want string
			}{{h, "solid part"}, {view, "a view"}} {
				if got := bytesOf(t, n, c.h); got != c.want {
					t.Errorf("restored bytes %q, want %q", got, c.want)
				}
			}
			if again, err := n.Secret(); err != nil || !bytes.Equal(secret, again) {
				t.Errorf("restored secret differs: %v", err)
			}
			if _, found, err := n.Sessions().Find("token"); found || err != nil {
				t.Errorf("a log-in came along: %v, %v", found, err)
			}
			// It goes on from there.
			r.Reason = "after"
			if err := n.Write(t.Context(), func(tx desk.Tx) error { return tx.SaveRequest(&r) }); err != nil {
				t.Error(err)
			}
			left, err := filepath.Glob(filepath.Join(to.Folder, "*"))
			if err != nil {
				t.Fatal(err)
			}
			for _, l := range left {
				if base := filepath.Base(l); base == "coming" || strings.HasPrefix(base, "backup-") {
					t.Errorf("left behind: %s", base)
				}
			}
		})
	}
}

func bytesOf(t testing.TB, s *store.Store, h desk.Hash) string {
	t.Helper()
	b, err := s.Shelves().Open(t.Context(), h)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	text, err := io.ReadAll(b)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// TestBackupWhileWriting: a backup made while patrons send and a sweep sweeps
// holds one moment: every request with all its history, every file it names.
func TestBackupWhileWriting(t *testing.T) {
	o := store.Options{Folder: t.TempDir()}
	s := openStore(t, o)
	ctx, stop := context.WithCancel(t.Context())
	var wg sync.WaitGroup
	begun := make(chan struct{})
	for w := range 4 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := 0; ctx.Err() == nil; i++ {
				if w == 0 && i == 10 {
					close(begun)
				}
				h, _, err := s.Shelves().Put(t.Context(), strings.NewReader(fmt.Sprint("part ", w, i)), 100)
				if err != nil {
					t.Error(err)
					return
				}
				err = s.Write(t.Context(), func(tx desk.Tx) error {
					r := desk.Request{Code: desk.NewCode(), Form: fmt.Sprint(w, "-", i)}
					if err := tx.SaveRequest(&r); err != nil {
						return err
					}
					return errors.Join(tx.SaveFile(&desk.File{Request: r.ID, Hash: h}), tx.AddEvent(&desk.Event{Request: r.ID, Version: 1, What: "asked"}))
				})
				if err != nil && desk.KindOf(err) != desk.TooMany { // a code that was taken
					t.Error(err)
					return
				}
			}
		}()
	}
	<-begun
	zipped, m := backupOf(t, o)
	stop()
	wg.Wait()
	to := store.Options{Folder: filepath.Join(t.TempDir(), "new")}
	if _, err := store.Restore(t.Context(), zipped, to); err != nil {
		t.Fatal(err)
	}
	n := openStore(t, to)
	err := n.Read(t.Context(), func(tx desk.Tx) error {
		all, err := tx.ListRequests(desk.RequestFilter{})
		if err != nil {
			return err
		}
		if len(all) != m.Rows["requests"] || len(all) < 10 || len(m.Missing) > 0 {
			t.Errorf("%d requests, manifest %+v", len(all), m)
		}
		for _, r := range all {
			files, err1 := tx.FilesOf(r.ID)
			events, err2 := tx.Events(r.ID, 0)
			if err := errors.Join(err1, err2); err != nil {
				return err
			}
			if len(files) != 1 || len(events) != 1 {
				t.Fatalf("a request with %d files and %d lines of history", len(files), len(events))
			}
			bytesOf(t, n, files[0].Hash)
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// slow gives a backup's reader to whoever waits for it.
type slow struct{ each func() }

func (w slow) Write(p []byte) (int, error) { w.each(); return len(p), nil }

// TestBackupHolds: while a backup runs no file is taken away; once it is over,
// or its disk is full, they go.
func TestBackupHolds(t *testing.T) {
	now := time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)
	o := store.Options{Folder: t.TempDir(), Now: func() time.Time { return now }}
	s := openStore(t, o)
	h, _, err := s.Shelves().Put(t.Context(), strings.NewReader("unused"), 100)
	if err != nil {
		t.Fatal(err)
	}
	now = now.Add(2 * time.Hour)
	during := 0
	if _, err := store.Backup(t.Context(), o, "test", slow{func() {
		during++
		if err := s.Shelves().Delete(t.Context(), h); desk.KindOf(err) != desk.NotNow {
			t.Errorf("taken away while a backup runs: %v", err)
		}
	}}); err != nil || during == 0 {
		t.Fatal(during, err)
	}
	full := errors.New("disk full")
	if _, err := store.Backup(t.Context(), o, "test", failing{full}); !errors.Is(err, full) {
		t.Errorf("a backup to a full disk: got %v", err)
	}
	if err := s.Shelves().Delete(t.Context(), h); err != nil {
		t.Errorf("after a backup: %v", err)
	}
	if left, _ := filepath.Glob(filepath.Join(o.Folder, "backup-*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

type failing struct{ err error }

func (w failing) Write([]byte) (int, error) { return 0, w.err }

// TestBackupMissing: a file that is gone or damaged on the disk is named, and
// the rest is kept and can be restored.
func TestBackupMissing(t *testing.T) {
	o := store.Options{Folder: t.TempDir()}
	s := openStore(t, o)
	r := aRequest(t, s)
	gone, torn, whole := put(t, s, r.ID, "gone"), put(t, s, r.ID, "torn"), put(t, s, r.ID, "whole")
	path := func(h desk.Hash) string { return filepath.Join(o.Folder, "files", "sha256", string(h[:2]), string(h)) }
	if err := errors.Join(os.Remove(path(gone)), os.WriteFile(path(torn), []byte("to"), 0o600)); err != nil {
		t.Fatal(err)
	}
	zipped, m := backupOf(t, o)
	missing := map[desk.Hash]bool{}
	for _, h := range m.Missing {
		missing[h] = true
	}
	if len(m.Missing) != 2 || !missing[gone] || !missing[torn] || m.Files != 1 {
		t.Errorf("manifest: %+v", m)
	}
	to := store.Options{Folder: filepath.Join(t.TempDir(), "new")}
	if _, err := store.Restore(t.Context(), zipped, to); err != nil {
		t.Fatal(err)
	}
	if got := bytesOf(t, openStore(t, to), whole); got != "whole" {
		t.Errorf("restored bytes %q", got)
	}
}

// TestRestoreChecks: a backup that is damaged anywhere is refused, and nothing
// is put anywhere.
func TestRestoreChecks(t *testing.T) {
	o := store.Options{Folder: t.TempDir()}
	s := openStore(t, o)
	storetest.Everything(t, s)
	put(t, s, aRequest(t, s).ID, strings.Repeat("solid part ", 100))
	if _, err := s.Secret(); err != nil {
		t.Fatal(err)
	}
	zipped, _ := backupOf(t, o)
	good, err := os.ReadFile(zipped)
	if err != nil {
		t.Fatal(err)
	}
	refuse := func(what string, b []byte, want desk.Kind) {
		t.Helper()
		dir := t.TempDir()
		path, folder := filepath.Join(dir, "bad.zip"), filepath.Join(dir, "new")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := store.Restore(t.Context(), path, store.Options{Folder: folder}); desk.KindOf(err) != want {
			t.Errorf("%s: got %v, want %s", what, err, want)
		}
		if _, err := os.Stat(folder); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("%s: something was put in place", what)
		}
	}
	z, err := zip.NewReader(bytes.NewReader(good), int64(len(good)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		at, err := f.DataOffset()
		if err != nil {
			t.Fatal(err)
		}
		bad := bytes.Clone(good)
		bad[at+int64(f.CompressedSize64)/2] ^= 0x10
		refuse("a bit of "+f.Name, bad, desk.Wrong)
	}
	refuse("cut short", good[:len(good)*2/3], desk.Wrong)
	refuse("no zip", []byte("hello"), desk.Wrong)
	refuse("empty", nil, desk.Wrong)
	// Entries changed whole, with checksums that fit.
	remake := func(change func(name string, b []byte) (string, []byte)) []byte {
		var out bytes.Buffer
		w := zip.NewWriter(&out)
		for _, f := range z.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			b, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			name, b := change(f.Name, b)
			if name == "" {
				continue
			}
			e, err := w.Create(name)
			if err != nil {
				t.Fatal(err)
			}
			e.Write(b)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		return out.Bytes()
	}
	for _, f := range z.File {
		refuse("without "+f.Name, remake(func(name string, b []byte) (string, []byte) {
			if name == f.Name {
				return "", nil
			}
			return name, b
		}), desk.Wrong)
		refuse("another "+f.Name, remake(func(name string, b []byte) (string, []byte) {
			if name == f.Name {
				b = bytes.Replace(bytes.Repeat(b, 2), []byte(`"format": 1`), []byte(`"format": 0`), 1)
			}
			return name, b
		}), desk.Wrong)
	}
	refuse("of a newer program", remake(func(name string, b []byte) (string, []byte) {
		return name, bytes.Replace(b, []byte(`"format": 1`), []byte(`"format": 9`), 1)
	}), desk.Wrong)
	// A folder, database or bucket with something in it stays as it is.
	full := t.TempDir()
	if err := os.WriteFile(filepath.Join(full, "x"), []byte("mine"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Restore(t.Context(), zipped, store.Options{Folder: full}); desk.KindOf(err) != desk.NotNow {
		t.Errorf("over a full folder: got %v, want NotNow", err)
	}
	if _, err := store.Restore(t.Context(), zipped, store.Options{Folder: o.Folder}); desk.KindOf(err) != desk.NotNow {
		t.Errorf("over the desk itself: got %v, want NotNow", err)
	}
	// Names that would lead out of the folder lead nowhere.
	escape := remake(func(name string, b []byte) (string, []byte) { return name, b })
	dir := t.TempDir()
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, name := range []string{"../escaped", "/escaped", "files/../../escaped"} {
		if _, err := w.Create(name); err != nil {
			t.Fatal(err)
		}
	}
	zr, err := zip.NewReader(bytes.NewReader(escape), int64(len(escape)))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range zr.File {
		if err := w.Copy(f); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "b.zip"), out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.Restore(t.Context(), filepath.Join(dir, "b.zip"), store.Options{Folder: filepath.Join(dir, "in", "new")}); err != nil {
		t.Errorf("a backup with more in it: %v", err)
	}
	if _, err := os.Stat(filepath.Join(dir, "in", "escaped")); err == nil {
		t.Error("a name led out of the folder")
	}
}

// TestRestoreElsewhere: a database or bucket that holds a desk is not touched;
// an empty one is filled.
func TestRestoreElsewhere(t *testing.T) {
	o := store.Options{Folder: t.TempDir()}
	s := openStore(t, o)
	h := put(t, s, aRequest(t, s).ID, "part")
	zipped, _ := backupOf(t, o)

	bucket := "file://" + t.TempDir()
	to := store.Options{Folder: filepath.Join(t.TempDir(), "new"), Files: bucket}
	if _, err := store.Restore(t.Context(), zipped, to); err != nil {
		t.Fatal(err)
	}
	if got := bytesOf(t, openStore(t, to), h); got != "part" {
		t.Errorf("from a bucket: %q", got)
	}
	to.Folder = filepath.Join(t.TempDir(), "new")
	if _, err := store.Restore(t.Context(), zipped, to); desk.KindOf(err) != desk.NotNow {
		t.Errorf("into a bucket with files: got %v, want NotNow", err)
	}

	url := pg.Database(t)
	taken := openStore(t, store.Options{Database: url})
	aRequest(t, taken)
	before := storetest.Dump(t, taken)
	to = store.Options{Folder: filepath.Join(t.TempDir(), "new"), Database: url}
	if _, err := store.Restore(t.Context(), zipped, to); desk.KindOf(err) != desk.NotNow {
		t.Errorf("over a database with a desk: got %v, want NotNow", err)
	}
	if before != storetest.Dump(t, taken) {
		t.Error("the desk that was there changed")
	}
}
