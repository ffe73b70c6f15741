package store_test

import (
	"bytes"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/internal/pg"
)

// TestOneDesk: a folder is one desk's at a time.
func TestOneDesk(t *testing.T) {
	o := store.Options{Folder: filepath.Join(t.TempDir(), "new", "folder")}
	s, err := store.Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := store.Open(t.Context(), o); desk.KindOf(err) != desk.NotNow {
		t.Errorf("opened twice: got %v, want NotNow", err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if s, err = store.Open(t.Context(), o); err != nil {
		t.Fatalf("after closing: %v", err)
	}
	if info, err := os.Stat(o.Folder); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o700 {
		t.Errorf("the folder is %v, %v, want 0700", info.Mode(), err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// TestCannotOpen: what cannot be opened says so in a sentence and leaves the
// folder free.
func TestCannotOpen(t *testing.T) {
	file := filepath.Join(t.TempDir(), "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	broken := t.TempDir()
	if err := os.WriteFile(filepath.Join(broken, "platebook.db"), bytes.Repeat([]byte("no database "), 1000), 0o600); err != nil {
		t.Fatal(err)
	}
	for what, c := range map[string]struct {
		o    store.Options
		want desk.Kind
	}{
		"no folder":            {store.Options{}, desk.Wrong},
		"a file":               {store.Options{Folder: file}, desk.NoRoom},
		"a file within":        {store.Options{Folder: filepath.Join(file, "x")}, desk.NoRoom},
		"no database":          {store.Options{Folder: broken}, desk.NoRoom},
		"no address":           {store.Options{Folder: t.TempDir(), Database: "postgres://%zz"}, desk.Wrong},
		"nobody there":         {store.Options{Folder: t.TempDir(), Database: "postgres://x@127.0.0.1:1/x"}, desk.NoRoom},
		"no such bucket":       {store.Options{Folder: t.TempDir(), Files: "shelf://x"}, desk.NoRoom},
		"a bucket in the file": {store.Options{Folder: t.TempDir(), Files: "file://" + file}, desk.NoRoom},
	} {
		s, err := store.Open(t.Context(), c.o)
		if desk.KindOf(err) != c.want {
			t.Errorf("%s: got %v, want %s", what, err, c.want)
		}
		if err == nil {
			s.Close()
		}
	}
}

// TestNewer: data of a newer program is left alone.
func TestNewer(t *testing.T) {
	for name, o := range map[string]store.Options{"sqlite": {Folder: t.TempDir()}, "postgres": {Folder: t.TempDir(), Database: "x"}} {
		t.Run(name, func(t *testing.T) {
			if o.Database != "" {
				o.Database = pg.Database(t)
			}
			s, err := store.Open(t.Context(), o)
			if err != nil {
				t.Fatal(err)
			}
			_, err = s.DB().Exec("INSERT INTO platebook_migrations (version_id, is_applied) VALUES (9999, TRUE)")
			if err != nil {
				t.Fatal(err)
			}
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			if _, err := store.Open(t.Context(), o); desk.KindOf(err) != desk.Wrong {
				t.Errorf("opened: got %v, want Wrong", err)
			}
			if _, err := store.Backup(t.Context(), o, "", new(bytes.Buffer)); desk.KindOf(err) != desk.Wrong {
				t.Errorf("backed up: got %v, want Wrong", err)
			}
		})
	}
}

// TestSecret: it is made once, whoever asks first, and stays.
func TestSecret(t *testing.T) {
	o := store.Options{Folder: t.TempDir()}
	s, err := store.Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	got := make([][]byte, 8)
	var wg sync.WaitGroup
	for i := range got {
		wg.Add(1)
		go func() {
			defer wg.Done()
			var err error
			if got[i], err = s.Secret(); err != nil {
				t.Error(err)
			}
		}()
	}
	wg.Wait()
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	s = openStore(t, o)
	again, err := s.Secret()
	if err != nil {
		t.Fatal(err)
	}
	for _, g := range got {
		if len(g) != 32 || !bytes.Equal(g, again) || bytes.Equal(g, make([]byte, 32)) {
			t.Errorf("secrets %x and %x", g, again)
		}
	}
	if other, err := openStore(t, store.Options{}).Secret(); err != nil || bytes.Equal(other, again) {
		t.Errorf("two desks have one secret, %v", err)
	}
	if err := os.WriteFile(filepath.Join(o.Folder, "secret"), again[:31], 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Secret(); err == nil {
		t.Error("a secret cut short was taken")
	}
}

// TestSessions: log-ins are found until they end or run out, and by their
// token only.
func TestSessions(t *testing.T) {
	for _, name := range []string{"sqlite", "postgres"} {
		t.Run(name, func(t *testing.T) {
			now := time.Date(2031, 3, 7, 9, 0, 0, 0, time.UTC)
			o := store.Options{Now: func() time.Time { return now }}
			if name == "postgres" {
				o.Database = pg.Database(t)
			}
			s := openStore(t, o)
			v := s.Sessions()
			find := func(token, want string) {
				t.Helper()
				b, found, err := v.Find(token)
				if err != nil || found != (want != "") || string(b) != want {
					t.Errorf("session %q: %q, %v, %v, want %q", token, b, found, err, want)
				}
			}
			find("a", "")
			for _, c := range []struct {
				token, data string
				minutes     int
			}{{"a", "one", 10}, {"a", "two\x00\xff", 20}, {"b", "three", 5}} {
				if err := v.Commit(c.token, []byte(c.data), now.Add(time.Duration(c.minutes)*time.Minute)); err != nil {
					t.Fatal(err)
				}
			}
			find("a", "two\x00\xff")
			find("b", "three")
			find("' OR 1=1 --", "")
			now = now.Add(6 * time.Minute)
			find("b", "")
			for range 2 { // ending one that is not there is as good
				if err := v.Delete("a"); err != nil {
					t.Fatal(err)
				}
			}
			find("a", "")
			// The rows give no token away, and what ran out goes by itself.
			now = now.Add(2 * time.Hour)
			if err := v.Commit("c", []byte("x"), now.Add(time.Minute)); err != nil {
				t.Fatal(err)
			}
			var n, tokens int
			if err := s.DB().QueryRow("SELECT count(*), count(CASE WHEN token IN ('a', 'b', 'c') THEN 1 END) FROM sessions").Scan(&n, &tokens); err != nil || n != 1 || tokens != 0 {
				t.Errorf("%d rows, %d of them with a bare token, %v; want 1 and 0", n, tokens, err)
			}
		})
	}
}
