package store_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
	"testing/iotest"
	"time"

	"platebook/desk"
	"platebook/desk/store"
)

// buckets are the kinds of places files may lie in.
func buckets(t *testing.T, test func(t *testing.T, s *store.Store, clock *time.Time)) {
	for _, name := range []string{"folder", "file", "mem"} {
		t.Run(name, func(t *testing.T) {
			now := time.Now()
			o := store.Options{Folder: t.TempDir(), Now: func() time.Time { return now }}
			switch name {
			case "file":
				o.Files = "file://" + filepath.ToSlash(t.TempDir())
			case "mem":
				o.Files = "mem://"
			}
			test(t, openStore(t, o), &now)
		})
	}
}

// TestShelves: bytes go by their SHA-256. The hash of "abc" is the first
// example of FIPS 180-4 (NIST's SHA256 examples).
func TestShelves(t *testing.T) {
	buckets(t, func(t *testing.T, s *store.Store, _ *time.Time) {
		v := s.Shelves()
		h, n, err := v.Put(t.Context(), strings.NewReader("abc"), 3)
		if err != nil || n != 3 || h != "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad" {
			t.Fatal(h, n, err)
		}
		if again, _, err := v.Put(t.Context(), strings.NewReader("abc"), 3); again != h || err != nil {
			t.Errorf("put again: %s, %v", again, err)
		}
		empty, n, err := v.Put(t.Context(), strings.NewReader(""), 10)
		if err != nil || n != 0 || bytesOf(t, s, empty) != "" {
			t.Errorf("nothing at all: %d bytes, %v", n, err)
		}
		if _, _, err := v.Put(t.Context(), strings.NewReader("abcd"), 3); desk.KindOf(err) != desk.TooMany {
			t.Errorf("one byte too many: got %v, want TooMany", err)
		}
		broken := errors.New("the patron's phone lost its network")
		if _, _, err := v.Put(t.Context(), io.MultiReader(strings.NewReader("ab"), iotest.ErrReader(broken)), 9); !errors.Is(err, broken) {
			t.Errorf("cut off: got %v", err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		if _, _, err := v.Put(ctx, strings.NewReader("late"), 9); err == nil {
			t.Error("put for somebody who no longer waits")
		}
		var all []desk.Hash
		if err := v.Old(t.Context(), time.Now().Add(time.Hour), func(h desk.Hash) error { all = append(all, h); return nil }); err != nil || len(all) != 2 {
			t.Errorf("on the shelves after all that: %v, %v", all, err)
		}
		for _, bad := range []desk.Hash{"", "x", "../../secret", desk.Hash(strings.ToUpper(string(h))), h[:63] + "/", h + "0", desk.HashOf([]byte("never put"))} {
			if _, err := v.Open(t.Context(), bad); desk.KindOf(err) != desk.NotFound {
				t.Errorf("open %q: got %v, want NotFound", bad, err)
			}
		}
	})
}

// TestBlobs: bytes can be read anywhere in them, over the edges of what is
// fetched at once, as the io interfaces ask.
func TestBlobs(t *testing.T) {
	want := make([]byte, 3<<20+77)
	for i := range want {
		want[i] = byte(i>>12) ^ byte(i*7)
	}
	buckets(t, func(t *testing.T, s *store.Store, _ *time.Time) {
		h, _, err := s.Shelves().Put(t.Context(), bytes.NewReader(want), 1<<30)
		if err != nil {
			t.Fatal(err)
		}
		b, err := s.Shelves().Open(t.Context(), h)
		if err != nil {
			t.Fatal(err)
		}
		if b.Size() != int64(len(want)) {
			t.Errorf("size %d, want %d", b.Size(), len(want))
		}
		few, _, err := s.Shelves().Put(t.Context(), bytes.NewReader(want[:4099]), 1<<30)
		if err != nil {
			t.Fatal(err)
		}
		small, err := s.Shelves().Open(t.Context(), few)
		if err != nil {
			t.Fatal(err)
		}
		if err := errors.Join(iotest.TestReader(small, want[:4099]), small.Close()); err != nil {
			t.Error(err)
		}
		var wg sync.WaitGroup
		for i := range 8 {
			wg.Add(1)
			go func() {
				defer wg.Done()
				p := make([]byte, 1000)
				for at := i * 131; at < len(want); at += 400_001 {
					n, err := b.ReadAt(p, int64(at))
					if k := min(1000, len(want)-at); n != k || !bytes.Equal(p[:n], want[at:at+k]) || (n < 1000) != (err == io.EOF) {
						t.Errorf("at %d: %d bytes, %v", at, n, err)
					}
				}
			}()
		}
		wg.Wait()
		if _, err := b.ReadAt(make([]byte, 1), -1); err == nil {
			t.Error("read before the beginning")
		}
		if _, err := b.Seek(-1, io.SeekStart); err == nil {
			t.Error("sought before the beginning")
		}
		if err := b.Close(); err != nil {
			t.Error(err)
		}
		if _, err := b.ReadAt(make([]byte, 1), 0); err == nil {
			t.Error("read after closing")
		}
	})
}

// TestDelete: bytes stay while they are young or used; put again they are
// young again; what is not there is gone already.
func TestDelete(t *testing.T) {
	buckets(t, func(t *testing.T, s *store.Store, clock *time.Time) {
		v := s.Shelves()
		put := func(text string) desk.Hash {
			h, _, err := v.Put(t.Context(), strings.NewReader(text), 100)
			if err != nil {
				t.Fatal(err)
			}
			return h
		}
		used, unused := put("used"), put("unused")
		if err := v.Delete(t.Context(), unused); desk.KindOf(err) != desk.NotNow {
			t.Errorf("just put: got %v, want NotNow", err)
		}
		r := aRequest(t, s)
		if err := s.Write(t.Context(), func(tx desk.Tx) error { return tx.SaveFile(&desk.File{Request: r.ID, Hash: used}) }); err != nil {
			t.Fatal(err)
		}
		*clock = clock.Add(90 * time.Minute)
		if err := v.Delete(t.Context(), used); desk.KindOf(err) != desk.NotNow {
			t.Errorf("used: got %v, want NotNow", err)
		}
		if !strings.HasPrefix(t.Name(), "TestDelete/mem") { // its bytes are dated by the machine's clock
			put("unused")
			if err := v.Delete(t.Context(), unused); desk.KindOf(err) != desk.NotNow {
				t.Errorf("put again: got %v, want NotNow", err)
			}
			var old []desk.Hash
			if err := v.Old(t.Context(), *clock, func(h desk.Hash) error { old = append(old, h); return nil }); err != nil || len(old) != 1 || old[0] != used {
				t.Errorf("put before now: %v, %v, want only what was not put again", old, err)
			}
			*clock = clock.Add(90 * time.Minute)
		}
		for range 2 { // the second finds nothing, which is as good
			if err := v.Delete(t.Context(), unused); err != nil {
				t.Error(err)
			}
		}
		if _, err := v.Open(t.Context(), unused); desk.KindOf(err) != desk.NotFound {
			t.Errorf("deleted: got %v, want NotFound", err)
		}
		if bytesOf(t, s, used) != "used" {
			t.Error("what is used was deleted")
		}
		stop := errors.New("stop")
		if err := v.Old(t.Context(), clock.Add(time.Hour), func(desk.Hash) error { return stop }); err != stop {
			t.Errorf("Old goes on after an error, or changes it: %v", err)
		}
	})
}

// TestSweepAgainstPut: bytes put again while a sweep takes unused ones away
// are there afterwards, each time.
func TestSweepAgainstPut(t *testing.T) {
	now := time.Now()
	var mu sync.Mutex
	o := store.Options{Folder: t.TempDir(), Now: func() time.Time { mu.Lock(); defer mu.Unlock(); return now }}
	s := openStore(t, o)
	v := s.Shelves()
	for i := range 50 {
		text := fmt.Sprint("part ", i)
		h, _, err := v.Put(t.Context(), strings.NewReader(text), 100)
		if err != nil {
			t.Fatal(err)
		}
		mu.Lock()
		now = now.Add(2 * time.Hour)
		mu.Unlock()
		var wg sync.WaitGroup
		wg.Add(1)
		go func() {
			defer wg.Done()
			if err := v.Delete(context.Background(), h); err != nil && desk.KindOf(err) != desk.NotNow {
				t.Error(err)
			}
		}()
		if _, _, err := v.Put(t.Context(), strings.NewReader(text), 100); err != nil {
			t.Fatal(err)
		}
		wg.Wait()
		if bytesOf(t, s, h) != text {
			t.Fatal("bytes that were put are gone")
		}
	}
}

// TestPutMemory: a large file takes little memory on its way in and out.
func TestPutMemory(t *testing.T) {
	s := openStore(t, store.Options{})
	const size = 64 << 20
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	h, n, err := s.Shelves().Put(t.Context(), io.LimitReader(zeros{}, size), size)
	if err != nil || n != size {
		t.Fatal(n, err)
	}
	b, err := s.Shelves().Open(t.Context(), h)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if _, err := io.Copy(io.Discard, b); err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	if took := after.TotalAlloc - before.TotalAlloc; took > size/8 {
		t.Errorf("%d MiB in and out took %d MiB of memory in all", size>>20, took>>20)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// TestLeftovers: what a killed desk left half sent is gone after the next
// start, and nobody else may read the files.
func TestLeftovers(t *testing.T) {
	o := store.Options{Folder: t.TempDir()}
	s, err := store.Open(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	h, _, err := s.Shelves().Put(t.Context(), strings.NewReader("whole"), 100)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	half := filepath.Join(o.Folder, "files", "coming", "half.tmp")
	if err := errors.Join(os.MkdirAll(filepath.Dir(half), 0o700), os.WriteFile(half, []byte("ha"), 0o600)); err != nil {
		t.Fatal(err)
	}
	s = openStore(t, o)
	if _, err := os.Stat(half); !errors.Is(err, os.ErrNotExist) {
		t.Error("half a file is still there")
	}
	if bytesOf(t, s, h) != "whole" {
		t.Error("a whole file is not")
	}
	if runtime.GOOS == "windows" {
		return // has other ways to say who may read
	}
	err = filepath.WalkDir(o.Folder, func(path string, d os.DirEntry, err error) error {
		if err != nil || path == o.Folder {
			return err
		}
		info, err := d.Info()
		if err == nil && info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: others may use it: %v", path, info.Mode())
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
}
