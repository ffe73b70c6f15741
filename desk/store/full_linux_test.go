package store_test

import (
	"bytes"
	"path/filepath"
	"syscall"
	"testing"

	"platebook/desk"
	"platebook/desk/store"
	"platebook/internal/pg"
)

// TestDiskFull: a real file system with no room left, for rows, files and the
// log beside the database alike.
func TestDiskFull(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=3m"); err != nil {
		t.Skip("may not mount a small disk here:", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	o := store.Options{Folder: filepath.Join(dir, "desk")}
	s := openStore(t, o)
	acknowledged := fillUp(t, s, 400)
	whole(t, s, acknowledged)
	// A file too large for what is left leaves nothing behind, so that a
	// smaller thing may still be kept.
	for range 3 {
		if _, _, err := s.Shelves().Put(t.Context(), bytes.NewReader(make([]byte, 4<<20)), 8<<20); desk.KindOf(err) != desk.NoRoom {
			t.Errorf("a large file: got %v, want NoRoom", err)
		}
	}
	if left, err := filepath.Glob(filepath.Join(o.Folder, "files", "coming", "*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	if _, err := store.Backup(t.Context(), o, "test", new(bytes.Buffer)); desk.KindOf(err) != desk.NoRoom {
		t.Errorf("a backup: got %v, want NoRoom", err)
	}
	if left, err := filepath.Glob(filepath.Join(o.Folder, "backup-*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	// Room again: as when somebody tidied the disk.
	if err := syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT, "size=16m"); err != nil {
		t.Fatal(err)
	}
	if err := send(t.Context(), s, "later"); err != nil {
		t.Errorf("with room again: %v", err)
	}
	whole(t, s, append(acknowledged, "later"))
	if _, err := s.Secret(); err != nil {
		t.Error(err)
	}
}

// TestServerDiskFull: the same with the database server's disk.
func TestServerDiskFull(t *testing.T) {
	s := openStore(t, store.Options{Database: pg.Small(t, "11m")})
	if _, err := s.DB().Exec("ALTER TABLE requests ALTER reason SET STORAGE EXTERNAL"); err != nil { // no packing: it fills sooner
		t.Fatal(err)
	}
	acknowledged := fillUp(t, s, 10_000)
	t.Logf("full after %d requests", len(acknowledged))
	whole(t, s, acknowledged)
	if err := s.Read(t.Context(), func(tx desk.Tx) error { _, err := tx.Branches(); return err }); err != nil {
		t.Errorf("reading: %v", err)
	}
}
