package store_test

import (
	"context"
	"path/filepath"
	"strings"
	"testing"

	"platebook/desk"
	"platebook/desk/store"
)

// TestLetGo: bytes go when the one put they came by is undone, and never while
// anyone else counts on them.
func TestLetGo(t *testing.T) {
	for name, files := range map[string]func(string) string{
		"a folder": func(string) string { return "" },
		"a bucket": func(string) string { return "mem://" },
	} {
		t.Run(name, func(t *testing.T) {
			o := store.Options{Folder: filepath.Join(t.TempDir(), "desk")}
			o.Files = files(o.Folder)
			s, err := store.Open(t.Context(), o)
			if err != nil {
				t.Fatal(err)
			}
			defer func() { s.Close() }()
			put := func(text string) desk.Hash {
				t.Helper()
				h, _, err := s.Shelves().Put(t.Context(), strings.NewReader(text), 1000)
				if err != nil {
					t.Fatal(err)
				}
				return h
			}
			letGo := func(h desk.Hash) {
				t.Helper()
				if err := s.Shelves().LetGo(t.Context(), h); err != nil {
					t.Error(err)
				}
			}
			there := func(h desk.Hash, want bool, when string) {
				t.Helper()
				b, err := s.Shelves().Open(t.Context(), h)
				if err == nil {
					b.Close()
				} else if desk.KindOf(err) != desk.NotFound {
					t.Fatal(err)
				}
				if got := err == nil; got != want {
					t.Errorf("%s: there is %v, want %v", when, got, want)
				}
			}
			refer := func(h desk.Hash) {
				t.Helper()
				r := desk.Request{ID: desk.NewID(), Code: desk.NewCode(), State: desk.Received, Key: h}
				if err := s.Write(t.Context(), func(tx desk.Tx) error {
					if err := tx.SaveRequest(&r); err != nil {
						return err
					}
					return tx.Refer(r.ID, h)
				}); err != nil {
					t.Fatal(err)
				}
			}
			once := put("once")
			letGo(once)
			there(once, false, "put once and let go")
			letGo(once)
			put("once")
			there(once, true, "put again after it was let go")

			twice := put("twice")
			put("twice")
			letGo(twice)
			there(twice, true, "put by two, let go by one")
			letGo(twice)
			there(twice, false, "put by two, let go by both")

			used := put("used")
			refer(used)
			letGo(used)
			there(used, true, "let go, and a row refers to it")
			put("used")
			letGo(used)
			there(used, true, "put again and let go, and a row refers to it")
			letGo(desk.HashOf([]byte("never put")))

			if o.Files != "" {
				return // gone with the process
			}
			old := put("old")
			if err := s.Close(); err != nil {
				t.Fatal(err)
			}
			if s, err = store.Open(context.Background(), o); err != nil {
				t.Fatal(err)
			}
			put("old")
			letGo(old)
			there(old, true, "there from before the start, when someone may count on it")
		})
	}
}
