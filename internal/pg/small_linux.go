package pg

import (
	"fmt"
	"os"
	"syscall"
	"testing"
)

// Small makes an empty database on a disk of its own of a size ("24m") and
// returns its URL. Where no disk may be mounted the test is skipped.
func Small(t testing.TB, size string) string {
	t.Helper()
	Database(t) // so that the server runs, or the test is skipped
	dir, err := os.MkdirTemp("/tmp", "pgsmall")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.Remove(dir) })
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "mode=0700,size="+size); err != nil {
		t.Skip("may not mount a small disk here:", err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	if err := os.Chown(dir, int(server.who.Uid), int(server.who.Gid)); err != nil {
		t.Fatal(err)
	}
	name := fmt.Sprintf("small%d", count.Add(1))
	server.do(t, fmt.Sprintf("CREATE TABLESPACE %s LOCATION '%s'", name, dir))
	t.Cleanup(func() { server.do(t, "DROP TABLESPACE "+name) })
	server.do(t, fmt.Sprintf("CREATE DATABASE %s TABLESPACE %s", name, name))
	t.Cleanup(func() { server.do(t, "DROP DATABASE "+name+" WITH (FORCE)") })
	return server.url(name)
}
